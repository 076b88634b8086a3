"""The calendar of what comes next, and the heap of what to attach or move next."""

from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.world import NEVER, World

SLOT_BITS = 20
SLOT_MASK = (1 << SLOT_BITS) - 1
ID_MASK = (1 << 16) - 1


@jit
def schedule(world: World, slot: int, time_ms: int) -> None:
    """Put the next event of a slot into the calendar, a tree whose root is the earliest."""
    calendar = world.calendar
    key = NEVER
    if time_ms < world.rules[0].horizon_ms:
        key = (time_ms << SLOT_BITS) | slot
    here = (calendar.shape[0] >> 1) + slot
    calendar[here] = key
    while here > 1:
        here >>= 1
        earlier = min(calendar[2 * here], calendar[2 * here + 1])
        if calendar[here] == earlier:
            break
        calendar[here] = earlier


@jit_inline
def scheduled_ms(world: World, slot: int) -> int:
    """Time of the next event of a slot."""
    key = world.calendar[(world.calendar.shape[0] >> 1) + slot]
    return key >> SLOT_BITS if key < NEVER else NEVER


@jit
def push(world: World, cost: int, device: int, parent: int) -> None:
    """Queue a device for a parent, the least (cost, device, parent) first.

    What a full heap drops is told in ``now``; the lifetime is then played again with a larger one.
    """
    now, heap = world.now[0], world.heap
    key = (cost << 32) | (device << 16) | parent
    here = now.n_queued
    if here == heap.shape[0]:
        now.heap_is_full = 1
        return
    now.n_queued = here + 1
    while here > 0:
        above = (here - 1) >> 1
        if heap[above] <= key:
            break
        heap[here] = heap[above]
        here = above
    heap[here] = key


@jit
def pop(world: World) -> int:
    """Take the least off the queue."""
    now, heap = world.now[0], world.heap
    least = heap[0]
    n = now.n_queued - 1
    now.n_queued = n
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
    return int(least)
