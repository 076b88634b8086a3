"""Repair visits, planned rounds, parts, and the cells of batteries."""

from resilience.draws import MOST_NA_MS
from resilience.lifetime.state.compiled import (
    after_work_ms,
    jit,
    jit_inline,
    quantile,
    residual,
    uniform,
    whole_ms,
)
from resilience.lifetime.state.queues import schedule, scheduled_ms
from resilience.lifetime.state.world import (
    DRAINS,
    ENDED,
    NEVER,
    STRUCK,
    Cells,
    Device,
    Element,
    Ints,
    World,
)


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
    if cells.sets == 0 and cells.is_measured == 1:
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
        if now.step == 1 and cells.age_ms > 0 and cells.is_measured == 0:
            is_joined = device.routed == 1 or device.is_gateway == 1
            _age(cells, device.size - device.is_sensor if is_joined else 0)
        is_wasting = element.away == 0 and device.is_absent == 0
        cells.drain = _load_na(world, device, cells) + cells.wastes if is_wasting else 0
        if device.renewed == now.step:
            put_in(cells)
            cells.fresh_ms = now.time_ms
            now.n_cells += 1
        if element.away == 0:
            dies_ms = death_ms(world, cells)
            if dies_ms < scheduled_ms(world, element.slot):
                schedule(world, element.slot, dies_ms)


@jit
def end_once(world: World, row: int) -> None:
    """Let a failure end in this step, though somebody else may have ended it already."""
    now, element = world.now[0], world.elements[row]
    for i in range(now.n_ended):
        if world.lists[ENDED, i] == row:
            return
    world.lists[ENDED, now.n_ended] = row
    now.n_ended += 1
    element.cycle += 1


@jit_inline
def _served_row(world: World, cells: Cells) -> int:
    """Device whose cells a round may renew; -1 for a gateway and for what is not of this layout."""
    row = world.places[world.elements[cells.element].targets_first]
    device = world.devices[row]
    return -1 if device.is_gateway == 1 or device.is_absent == 1 else row


@jit_inline
def _is_due(world: World, cells: Cells) -> bool:
    """Whether a round renews these cells."""
    rules, time_ms = world.rules[0], world.now[0].time_ms
    left = cells.left - cells.drain * (time_ms - cells.drain_since)
    return left < cells.full // 1000 * rules.below or time_ms - cells.fresh_ms >= rules.older_ms


@jit_inline
def _end_service(world: World) -> None:
    """Count a service that ends in this step; a battery that was flat before it is so no more."""
    now = world.now[0]
    cells = world.cells[now.serving]
    if world.elements[cells.element].away == 1:
        end_once(world, cells.element)
        schedule(world, world.elements[cells.element].slot, NEVER)
    now.worked_ms += world.rules[0].service_ms
    now.serving = -1


@jit_inline
def _begin_service(world: World) -> None:
    """Take the device that the round looks at off the mesh."""
    now, ends_ms = world.now[0], world.now[0].time_ms + world.rules[0].service_ms
    service = world.cells[now.round_row].service
    world.lists[STRUCK, now.n_struck] = service
    now.n_struck += 1
    schedule(world, world.elements[service].slot, ends_ms)
    schedule(world, world.rules[0].round_slot, ends_ms)
    now.n_rounds += now.has_served == 0
    now.serving, now.has_served = now.round_row, 1
    now.round_row += 1


@jit
def turn_round(world: World) -> None:
    """Begin a round, or let it go on with the next device."""
    now, rules = world.now[0], world.rules[0]
    if now.serving >= 0:
        _end_service(world)
    elif now.round_row < 0:
        now.round_row = now.has_served = 0
    n = world.cells.size
    while now.round_row < n and _served_row(world, world.cells[now.round_row]) < 0:
        now.round_row += 1
    open_ms = after_work_ms(
        now.time_ms, 0, rules.begins_from_ms, rules.begins_to_ms, rules.begins_on
    )
    if now.round_row < n and open_ms > now.time_ms:
        schedule(world, rules.round_slot, open_ms)
        return
    while now.round_row < n:
        cells = world.cells[now.round_row]
        if _served_row(world, cells) >= 0 and _is_due(world, cells):
            _begin_service(world)
            return
        now.round_row += 1
    now.round_row = -1
    schedule(world, rules.round_slot, (now.time_ms // rules.every_ms + 1) * rules.every_ms)


@jit
def order_parts(world: World, kind: int, n_waiting: int) -> None:
    """Order parts so that there is one for each call that waits beside what is kept."""
    now, rules, stock = world.now[0], world.rules[0], world.stocks[kind]
    while stock.here + stock.n_coming < stock.kept + n_waiting:
        u = uniform(stock.start, stock.ordered)
        lasts = quantile(rules.delivery_shape, rules.delivery_scale, rules.delivery_slope, u)
        arrives_ms = now.time_ms + whole_ms(lasts)
        world.coming[kind, stock.n_coming] = arrives_ms
        stock.n_coming += 1
        stock.ordered += 1
        slot = rules.stock_slot + kind
        if arrives_ms < scheduled_ms(world, slot):
            schedule(world, slot, arrives_ms)


@jit
def turn_delivery(world: World, kind: int) -> None:
    """Put on the shelf what arrives in this step."""
    stock, next_ms, i = world.stocks[kind], NEVER, 0
    while i < stock.n_coming:
        if world.coming[kind, i] <= world.now[0].time_ms:
            stock.here += 1
            stock.n_coming -= 1
            world.coming[kind, i] = world.coming[kind, stock.n_coming]
        else:
            next_ms = min(next_ms, world.coming[kind, i])
            i += 1
    schedule(world, world.rules[0].stock_slot + kind, next_ms)
