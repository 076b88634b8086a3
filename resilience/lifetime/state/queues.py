"""The calendar of what comes next, and the heap of what to attach or move next."""

from resilience.lifetime.state.columns import (
    HEAP_IS_FULL,
    N_QUEUED,
    NEVER,
)
from resilience.lifetime.state.compiled import (
    jit,
)

SLOT_BITS = 20
SLOT_MASK = (1 << SLOT_BITS) - 1


@jit
def schedule(calendar, slot, time_ms, horizon_ms):
    """Put the next event of a slot into the calendar, a tree whose root is the earliest."""
    half = calendar.shape[0] >> 1
    key = NEVER
    if time_ms < horizon_ms:
        key = (time_ms << SLOT_BITS) | slot
    here = half + slot
    calendar[here] = key
    while here > 1:
        here >>= 1
        earlier = min(calendar[2 * here], calendar[2 * here + 1])
        if calendar[here] == earlier:
            break
        calendar[here] = earlier


@jit
def scheduled_ms(calendar, slot):
    """Time of the next event of a slot."""
    key = calendar[(calendar.shape[0] >> 1) + slot]
    return key >> SLOT_BITS if key < NEVER else NEVER


@jit
def push(heap, now, cost, device, parent):
    """Queue a device for a parent, the least (cost, device, parent) first.

    What a full heap drops is told in ``now``; the lifetime is then played again with a larger one.
    """
    key = (cost << 32) | (device << 16) | parent
    here = now[N_QUEUED]
    if here == heap.shape[0]:
        now[HEAP_IS_FULL] = 1
        return
    now[N_QUEUED] = here + 1
    while here > 0:
        above = (here - 1) >> 1
        if heap[above] <= key:
            break
        heap[here] = heap[above]
        here = above
    heap[here] = key


@jit
def pop(heap, now):
    """Take the least off the queue."""
    least = heap[0]
    n = now[N_QUEUED] - 1
    now[N_QUEUED] = n
    key = heap[n]
    here = 0
    while True:
        below = 2 * here + 1
        if below >= n:
            break
        if below + 1 < n and heap[below + 1] < heap[below]:
            below += 1
        if heap[below] >= key:
            break
        heap[here] = heap[below]
        here = below
    heap[here] = key
    return least
