"""The future of a lifetime drawn anew, given all that has happened.

Drawn anew is what has a clock of its own: what is left of the time until a device or its plug
fails, of an absence, of a visit, of the charge in cells, each given how long it has lasted; and all
that comes after. Every stream of draws goes over to one of the branch.

Kept as it is: the building, swing, what strikes links, what several share (circuits, zones, models,
batches), scripts, cells in the cold or measured, spare parts, visits of crews that are on their
way. All copies of a lifetime then share that part of their luck, which costs precision and moves no
mean: given what is kept, each of them has the law that the lifetime itself had.
"""

from resilience.lifetime.fast.play import is_played
from resilience.lifetime.state.cells import death_ms
from resilience.lifetime.state.compiled import (
    at_risk_ms,
    away_beyond_ms,
    beyond,
    jit,
    jit_inline,
    stream,
    uniform,
)
from resilience.lifetime.state.queues import schedule
from resilience.lifetime.state.world import ELEMENT_OF, Cells, Element, World

LAST_OF_CYCLE = 3  # draw of a cycle that says for how long something is away


@jit
def redraw(world: World, branch: int) -> None:
    """Draw the future anew from the time of the last step on, for a branch of some number."""
    now, rules = world.now[0], world.rules[0]
    for row in range(world.devices.size):
        device = world.devices[row]
        device.repair_start = stream(branch, now.lifetime, device.repair_start)
    for row in range(world.silences.size):
        silence = world.silences[row]
        silence.response_start = stream(branch, now.lifetime, silence.response_start)
    for row in range(world.cells.size):
        _redraw_cells(world, world.cells[row], branch)
    for slot in range(rules.device_slots):
        row = world.lists[ELEMENT_OF, slot]
        element = world.elements[row]
        if element.cells < 0 and element.is_shared == 0 and element.is_scripted == 0:
            element.start = stream(branch, now.lifetime, element.start)
            _redraw_element(world, row)
    _redraw_visits(world)


@jit_inline
def _redraw_element(world: World, row: int) -> None:
    """Draw what is left of the time until something strikes, or comes back by itself."""
    now, element = world.now[0], world.elements[row]
    since_ms = max(element.since, 0)
    age_ms = now.time_ms - since_ms
    if element.away == 0:
        if is_played(world, row):
            law = (element.strike_shape, element.strike_scale, element.strike_slope)
            weak = (element.weak_share, element.weak_ms)
            lived_ms = age_ms + (element.lived_ms if element.cycle == 0 else 0.0)
            left_ms = at_risk_ms(element.start, element.cycle, law, weak, lived_ms)
            schedule(world, element.slot, now.time_ms + left_ms)
    elif element.is_mended == 0:
        law = (element.last_shape, element.last_scale, element.last_slope)
        u = uniform(element.start, 4 * element.cycle + LAST_OF_CYCLE)
        schedule(world, element.slot, since_ms + away_beyond_ms(law, age_ms, u))


@jit_inline
def _redraw_cells(world: World, cells: Cells, branch: int) -> None:
    """Draw how much a set of cells held, given what was had of it; and the sets that follow.

    The factor of a delivery is shared with other devices and stays.
    """
    now, element = world.now[0], world.elements[cells.element]
    cells.start = stream(branch, now.lifetime, cells.start)
    is_measured = cells.sets == 1 and cells.is_measured == 1
    if element.away == 1 or cells.course >= 0 or cells.drain == 0 or is_measured:
        return
    used = cells.full - cells.left
    used_now = used + cells.drain * (now.time_ms - cells.drain_since)
    u = uniform(cells.batch_start, cells.sets - 1)
    average = cells.charge * _factor(cells, u)
    u = uniform(cells.start, cells.sets - 1)
    least = (used_now + 1) / average
    shape, scale, slope = cells.spread_shape, cells.spread_scale, cells.spread_slope
    cells.full = max(used_now + 1, int(average * beyond(shape, scale, slope, least, u)))
    cells.left = cells.full - used
    schedule(world, element.slot, death_ms(world, cells))


@jit_inline
def _factor(cells: Cells, u: float) -> float:
    """Factor that a delivery of cells has in common."""
    return float(beyond(cells.batch_shape, cells.batch_scale, cells.batch_slope, 0.0, u))


@jit_inline
def _has_visit(world: World, element: Element) -> bool:
    """Whether an absence ends with a visit that is under way from its beginning on."""
    if element.is_mended == 0:
        return False
    row = world.places[element.targets_first]
    return world.rules[0].takes_calls == 0 or world.devices[row].is_gateway == 1


@jit
def _redraw_visits(world: World) -> None:
    """Draw what is left of every visit, by the law of the failure that opened it: the first."""
    here = world.now[0].latest
    while here >= 0:
        element = world.elements[here]
        if _has_visit(world, element) and _opened(world, here):
            _redraw_visit(world, element)
        here = element.earlier
    here = world.now[0].latest
    while here >= 0:
        element = world.elements[here]
        if _has_visit(world, element):
            target = world.places[element.targets_first]
            schedule(world, element.slot, world.devices[target].visit_end_ms)
        here = element.earlier


@jit
def _opened(world: World, row: int) -> bool:
    """Whether no other absence on the same device began before this one."""
    element = world.elements[row]
    target = world.places[element.targets_first]
    here = world.now[0].latest
    while here >= 0:
        other = world.elements[here]
        is_earlier = other.since < element.since or (other.since == element.since and here < row)
        if is_earlier and other.is_mended == 1 and world.places[other.targets_first] == target:
            return False
        here = other.earlier
    return True


@jit_inline
def _redraw_visit(world: World, element: Element) -> None:
    """Draw what is left of one visit."""
    device = world.devices[world.places[element.targets_first]]
    law = (element.last_shape, element.last_scale, element.last_slope)
    u = uniform(device.repair_start, device.visits - 1)
    age_ms = world.now[0].time_ms - element.since
    device.visit_end_ms = element.since + away_beyond_ms(law, age_ms, u)
