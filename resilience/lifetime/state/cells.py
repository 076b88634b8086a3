"""Repair visits and the cells of batteries."""

from resilience.draws import MOST_NA_MS
from resilience.lifetime.state.compiled import (
    jit,
    jit_inline,
    quantile,
    residual,
    uniform,
    whole_ms,
)
from resilience.lifetime.state.queues import schedule, scheduled_ms
from resilience.lifetime.state.world import DRAINS, NEVER, Cells, Device, Element, Ints, World


@jit
def charge_na_ms(cells: Cells, n: int) -> int:
    """Usable charge of the n-th set of cells."""
    u = uniform(cells.start, n)
    factor = quantile(cells.spread_shape, cells.spread_scale, cells.spread_slope, u)
    u = uniform(cells.batch_start, n)
    shared = quantile(cells.batch_shape, cells.batch_scale, cells.batch_slope, u)
    return max(1, int(cells.charge * factor * shared))


@jit
def put_in(cells: Cells) -> None:
    """Put in the next set of cells."""
    cells.full = cells.left = charge_na_ms(cells, cells.sets)
    if cells.sets == 0 and cells.left_share < 1.0:
        cells.left = max(1, int(cells.full * cells.left_share))
    cells.sets += 1


@jit
def _age(cells: Cells, n_behind: int) -> None:
    """Take from the first set what its age has, with so many sensors behind its device."""
    drain_na = cells.leaf + cells.wastes + cells.forwarding * n_behind
    used = int(min(float(drain_na) * cells.age_ms, MOST_NA_MS))
    if used > 0:
        u = uniform(cells.batch_start, 0)
        shared = quantile(cells.batch_shape, cells.batch_scale, cells.batch_slope, u)
        usual = cells.charge * shared
        spread = (cells.spread_shape, cells.spread_scale, cells.spread_slope)
        of_usual = residual(spread, uniform(cells.start, 0), used / usual)
        cells.left = max(1, int(usual * of_usual))
        cells.full = cells.left + used


@jit_inline
def _reaches_ms(cells: Cells, kept: int) -> int:
    """First millisecond at which no more than this is left."""
    return cells.drain_since - (-(cells.left - kept) // cells.drain)


@jit_inline
def death_ms(world: World, cells: Cells) -> int:
    """First millisecond at which the charge is used up, if nothing changes."""
    if cells.drain == 0:
        return NEVER
    if cells.course < 0:
        return _reaches_ms(cells, 0)
    return _cold_death_ms(cells, world.courses[cells.course])


@jit
def _cold_death_ms(cells: Cells, kept: Ints) -> int:
    """Let months pass, from the first that can be the last, until one keeps what is left."""
    thousandth = cells.full // 1000
    most = 0
    for month in range(kept.size):
        most = max(most, kept[month])
    start_ms = max(cells.drain_since + 1, _reaches_ms(cells, thousandth * most))
    while True:
        month = (start_ms + cells.course_ms) // cells.month_ms
        end_ms = (month + 1) * cells.month_ms - cells.course_ms
        dies_ms = max(start_ms, _reaches_ms(cells, thousandth * kept[month % 12]))
        if dies_ms < end_ms:
            return dies_ms
        start_ms = end_ms


@jit
def visit_end_ms(world: World, device: Device, element: Element) -> int:
    """End of the visit that mends a device: the one on its way, or a new one."""
    now = world.now[0]
    if device.visit_end_ms <= now.time_ms:
        u = uniform(device.repair_start, device.visits)
        lasts = quantile(element.last_shape, element.last_scale, element.last_slope, u)
        device.visits += 1
        device.visit_end_ms = now.time_ms + whole_ms(lasts)
        if device.visit_end_ms < world.rules[0].horizon_ms:
            now.n_visits += 1
            if device.is_gateway == 0:
                now.worked_ms += device.visit_end_ms - now.time_ms
    return device.visit_end_ms


@jit
def may_drain(world: World, row: int) -> None:
    """Remember that a device's drain may have changed in this step."""
    device, now = world.devices[row], world.now[0]
    if device.cells >= 0 and device.drains != now.step:
        device.drains = now.step
        world.lists[DRAINS, now.n_drains] = row
        now.n_drains += 1


@jit_inline
def _load_na(world: World, device: Device, cells: Cells) -> int:
    """What a device draws in the state it is in; a gateway never searches but in an outage."""
    if device.down > 0:
        return 0
    if device.routed == 0 and (device.is_gateway == 0 or world.now[0].in_outage == 1):
        return cells.searching
    return cells.leaf + cells.forwarding * (device.size - device.is_sensor)


@jit_inline
def run_down(world: World, cells: Cells) -> None:
    """Take what was drawn up to now."""
    now = world.now[0]
    lasted_ms = now.time_ms - cells.drain_since
    cells.drain_since = now.time_ms
    if cells.drain > 0:
        cells.left -= cells.drain * lasted_ms
        cells.drained += cells.drain * lasted_ms
        cells.drained_ms += lasted_ms


@jit
def settle_cells(world: World) -> None:
    """Let cells go on at another drain, put in new ones, and bring deaths forward."""
    now = world.now[0]
    for i in range(now.n_drains):
        device = world.devices[world.lists[DRAINS, i]]
        cells = world.cells[device.cells]
        run_down(world, cells)
        element = world.elements[cells.element]
        if now.step == 1 and cells.age_ms > 0:
            is_joined = device.routed == 1 or device.is_gateway == 1
            _age(cells, device.size - device.is_sensor if is_joined else 0)
        is_wasting = element.away == 0 and device.is_absent == 0
        cells.drain = _load_na(world, device, cells) + cells.wastes if is_wasting else 0
        if device.renewed == now.step:
            put_in(cells)
            now.n_cells += 1
        if element.away == 0:
            dies_ms = death_ms(world, cells)
            if dies_ms < scheduled_ms(world, element.slot):
                schedule(world, element.slot, dies_ms)
