"""When elements strike and end, the calendar of what comes next, and the heap of what to move."""

from resilience.lifetime.state.compiled import (
    at_risk_ms,
    away_ms,
    delay_ms,
    jit,
    jit_inline,
    opened_ms,
    stream,
)
from resilience.lifetime.state.world import NEVER, Element, World

SLOT_BITS = 20
SLOT_MASK = (1 << SLOT_BITS) - 1
ID_MASK = (1 << 16) - 1


@jit_inline
def _later_ms(world: World, element: Element, time_ms: int, at_risk_ms: int) -> int:
    """Moment by which an element has been at risk so much longer: in its windows, if it has any."""
    first, beyond = element.script_first, element.script_beyond
    if first == beyond:
        return time_ms + at_risk_ms
    return opened_ms(world.script, first, beyond, time_ms, at_risk_ms)


@jit
def _next_shared_ms(world: World, element: Element, time_ms: int) -> int:
    """Time of the next strike by one of the events that an element shares with others."""
    now = world.now[0]
    events = stream(now.seed, now.lifetime, element.event_key)
    strikes = (element.strike_shape, element.strike_scale, element.strike_slope)
    lasts = (element.last_shape, element.last_scale, element.last_slope)
    while element.event_ms < world.rules[0].horizon_ms:
        n = element.cycle
        rests_ms = at_risk_ms(events, n, strikes, (0.0, 1.0), 0.0)
        start_ms = _later_ms(world, element, element.event_ms, rests_ms)
        end_ms = start_ms
        if element.is_mended == 0:
            end_ms += away_ms(events, n, lasts)
        late_ms = delay_ms(
            element.start, n, element.event_share, element.after_ms, element.spread_ms
        )
        element.event_ms = end_ms
        strike_ms = start_ms + late_ms
        if late_ms >= 0 and strike_ms > time_ms and (element.is_mended or strike_ms < end_ms):
            return strike_ms
        element.cycle += 1
    return NEVER


@jit_inline
def next_strike_ms(world: World, element: Element, time_ms: int) -> int:
    """Time of the next strike of an element that is at risk from now on."""
    if element.is_shared:
        return _next_shared_ms(world, element, time_ms)
    if element.is_scripted:
        place = element.script_first + element.cycle
        return world.script[place, 0] if place < element.script_beyond else NEVER
    law = (element.strike_shape, element.strike_scale, element.strike_slope)
    lived_ms = 0.0
    if element.cycle == 0:
        if element.is_found_down:
            return 0
        lived_ms = element.lived_ms
    weak = (element.weak_share, element.weak_ms)
    later_ms = at_risk_ms(element.start, element.cycle, law, weak, lived_ms)
    return _later_ms(world, element, time_ms, later_ms)


@jit_inline
def return_ms(world: World, element: Element, time_ms: int) -> int:
    """Time of the return of an element that is away from now on and comes back by itself."""
    if element.is_shared:
        return element.event_ms
    if element.is_scripted:
        return world.script[element.script_first + element.cycle, 1]
    law = (element.last_shape, element.last_scale, element.last_slope)
    return time_ms + away_ms(element.start, element.cycle, law)


@jit
def turn(world: World, element: Element, time_ms: int) -> None:
    """Turn the clock of what holds links to a time."""
    now = world.now[0]
    if element.epoch != now.epoch:
        element.epoch = now.epoch
        element.start = stream(now.seed, now.lifetime, element.key)
        element.away = element.cycle = element.event_ms = 0
        element.since = -1
        element.next = next_strike_ms(world, element, 0)
    while element.next <= time_ms:
        element.since = element.next
        if element.away:
            element.away = 0
            element.cycle += 1
            element.next = next_strike_ms(world, element, element.since)
        else:
            element.away = 1
            element.next = return_ms(world, element, element.since)


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
