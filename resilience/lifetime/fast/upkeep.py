"""Who is called for a silent device, and which crew sees to it; as the reference tells it."""

from resilience.lifetime.fast.accounts import write
from resilience.lifetime.fast.blame import end_early
from resilience.lifetime.state.books import (
    LOG_CALL,
    LOG_CLOSED,
    LOG_LEFT,
    LOG_MENDED,
    LOG_OVER,
    NO_CALL,
    SEEN_TO,
    SENT,
    SPARE_CELLS,
    SPARE_DEVICES,
    WAITING,
)
from resilience.lifetime.state.cells import end_once, order_parts
from resilience.lifetime.state.compiled import (
    after_work_ms,
    jit,
    jit_inline,
    quantile,
    uniform,
    whole_ms,
)
from resilience.lifetime.state.queues import next_strike_ms, schedule, scheduled_ms
from resilience.lifetime.state.tree import touch
from resilience.lifetime.state.world import (
    CALLS,
    NEVER,
    STARTED,
    TOUCHED,
    Device,
    Element,
    World,
)


@jit
def turn_visit(world: World, row: int) -> None:
    """Begin the work of a visit, or end it: what it mends ends in this step."""
    now, rules, device = world.now[0], world.rules[0], world.devices[row]
    if device.visit_end_ms > now.time_ms:
        world.lists[STARTED, now.n_started] = row
        now.n_started += 1
        schedule(world, rules.visit_slot + row, device.visit_end_ms)
        return
    schedule(world, rules.visit_slot + row, NEVER)
    silence, n_dead = world.silences[row], now.n_dead
    has_mended, has_resurveyed = _mend(world, row), False
    if rules.resurveys == 1 and now.in_outage == 0:
        has_resurveyed = _resurvey(world, row)
    _leave(world, row)
    now.n_visits += 1
    now.n_resurveys += has_resurveyed
    now.n_fruitless += not has_mended and not has_resurveyed
    now.worked_ms += silence.worked_ms
    now.n_sent -= 1
    silence.call = NO_CALL
    write(world, LOG_OVER, row, now.n_dead - n_dead, 0)


@jit_inline
def _mend(world: World, row: int) -> bool:
    """End what a visit mends: the failures of its device, or those noted as its work began."""
    now, here, has_mended = world.now[0], world.now[0].latest, False
    while here >= 0:
        element = world.elements[here]
        target = world.places[element.targets_first]
        is_noted = element.noted_by == row
        if world.rules[0].mends_site == 0:
            is_noted = element.is_mended == 1 and target == row and _can_end(world, element, row)
        if is_noted:
            element.noted_by = -1
        if is_noted and not _is_dead(world, target):
            has_mended = True
            end_once(world, here)
            if element.cells < 0:
                schedule(world, element.slot, next_strike_ms(world, element, now.time_ms))
            write(world, LOG_MENDED, row, here, 0)
        here = element.earlier
    return has_mended


@jit_inline
def _is_dead(world: World, row: int) -> bool:
    """Whether the part that a visit puts into a device is dead."""
    if world.rules[0].dead_share == 0.0:
        return False
    silence, step = world.silences[row], world.now[0].step
    if silence.tried != step:
        silence.tried = step
        silence.is_dead = uniform(silence.part_start, silence.parts) < world.rules[0].dead_share
        silence.parts += 1
        world.now[0].n_dead += silence.is_dead
    return silence.is_dead == 1


@jit
def _resurvey(world: World, row: int) -> bool:
    """End the lasting changes that orphans are put down to which a visit sees to."""
    has_resurveyed = False
    for other in range(world.silences.size):
        account = world.accounts[other]
        if world.silences[other].seen_to_by != row or account.spell_since < 0:
            continue
        holder = account.holder
        if holder >= 0 and world.elements[holder].is_lasting == 1:
            has_resurveyed = True
            world.silences[other].resurveyed = world.now[0].step
            write(world, LOG_MENDED, row, holder, 0)
            end_early(world, holder)
    return has_resurveyed


@jit_inline
def _leave(world: World, row: int) -> None:
    """Let go of every device that a visit has seen to."""
    for other in range(world.silences.size):
        silence = world.silences[other]
        if silence.seen_to_by == row:
            silence.seen_to_by, silence.left = -1, world.now[0].step
            silence.brought = -1
            touch(world, other)


@jit_inline
def note_failure(world: World, element: Element) -> bool:
    """Count a failure that waits for a call; False where it has a visit at once."""
    row = world.places[element.targets_first]
    if world.rules[0].takes_calls == 0 or world.devices[row].is_gateway:
        return False
    silence = world.silences[row]
    silence.n_failures += 1
    silence.failed = world.now[0].step
    element.noted_by = -1
    touch(world, row)
    return True


@jit_inline
def note_mended(world: World, element: Element, row: int) -> None:
    """Count a failure less, and a device that is new."""
    now, device = world.now[0], world.devices[row]
    if element.cells < 0 and device.replaced != now.step:
        device.replaced = now.step
        now.n_gateways += device.is_gateway
        now.n_replaced += 1 - device.is_gateway
    if world.rules[0].takes_calls == 1:
        element.noted_by = -1
        world.silences[row].n_failures -= 1
        touch(world, row)


@jit
def settle_calls(world: World) -> None:
    """Listen to every device that the step touched, take calls, and let crews set out."""
    now = world.now[0]
    for i in range(now.n_touched):
        row = world.lists[TOUCHED, i]
        device = world.devices[row]
        if device.is_gateway == 0 and device.is_absent == 0:
            _listen(world, row)
            _take_call(world, row)
    for row in range(world.devices.size if now.n_started > 0 else 0):
        for i in range(now.n_started):
            if world.lists[STARTED, i] == row:
                _take_stock(world, row)
    row = 0
    while row >= 0 and now.n_waiting > 0 and _can_send(world):
        row = _longest_waiting(world)
        if row >= 0:
            _send(world, row)
    for kind in range(world.stocks.size):
        if world.stocks[kind].kept >= 0:
            n_waiting = 0
            for i in range(now.n_waiting):
                n_waiting += _needed(world, world.lists[CALLS, i]) == kind
            order_parts(world, kind, n_waiting)


@jit
def _listen(world: World, row: int) -> None:
    """Begin or end the silence of a device."""
    now, rules = world.now[0], world.rules[0]
    device, silence = world.devices[row], world.silences[row]
    is_silent, is_cut_off = silence.n_failures > 0, False
    if rules.alarm_ms > 0:
        is_served = rules.has_rounds == 1 and _is_served(world, device)
        is_silent = device.down > is_served or device.mute > 0
        is_cut_off = rules.hears_orphans == 1 and device.is_sensor == 1 and device.routed == 0
        is_cut_off = is_cut_off and not is_served
    if not is_silent and not is_cut_off:
        silence.since = -1
        if silence.call == WAITING:
            _close(world, row, -1)
    elif silence.left == now.step:
        is_left = silence.n_failures > 0 or silence.resurveyed == now.step
        silence.since = now.time_ms if is_left else SEEN_TO
    elif not is_silent and now.in_outage == 1:  # cut off with the whole site
        silence.since = min(silence.since, -1)
    elif silence.since == -1 or (silence.since == SEEN_TO and silence.failed == now.step):
        silence.since = now.time_ms


@jit_inline
def _is_served(world: World, device: Device) -> bool:
    """Whether a planned round has taken a device off the mesh."""
    if device.cells < 0:
        return False
    return world.elements[world.cells[device.cells].service].away == 1


@jit
def _take_call(world: World, row: int) -> None:
    """Open a call for a device that has been silent for long, unless there is one."""
    now, rules, silence = world.now[0], world.rules[0], world.silences[row]
    alarm_ms = NEVER
    if silence.since >= 0 and silence.call == NO_CALL and silence.seen_to_by < 0:
        alarm_ms = silence.since + rules.alarm_ms
        if alarm_ms <= now.time_ms:
            alarm_ms = NEVER
            silence.call, silence.called_ms = WAITING, now.time_ms
            world.lists[CALLS, now.n_waiting] = row
            now.n_waiting += 1
            write(world, LOG_CALL, row, silence.since, 0)
    if scheduled_ms(world, rules.alarm_slot + row) != alarm_ms:
        schedule(world, rules.alarm_slot + row, alarm_ms)


@jit
def _close(world: World, row: int, seen_to_by: int) -> None:
    """Strike a call off the list that nobody has set out for."""
    _drop(world, row)
    world.silences[row].call = NO_CALL
    write(world, LOG_CLOSED, row, seen_to_by, 0)


@jit
def _drop(world: World, row: int) -> None:
    """Take a device off the list of those that wait, whose order does not matter."""
    now = world.now[0]
    now.n_waiting -= 1
    for i in range(now.n_waiting):
        if world.lists[CALLS, i] == row:
            world.lists[CALLS, i] = world.lists[CALLS, now.n_waiting]


@jit_inline
def _can_send(world: World) -> bool:
    """Whether a crew is free; who is on its way to the site will see to all of it."""
    now, rules = world.now[0], world.rules[0]
    if rules.mends_site and now.work_starts_ms > now.time_ms:
        return False
    return rules.crews == 0 or now.n_sent < rules.crews


@jit_inline
def _longest_waiting(world: World) -> int:
    """Device whose call, of those that wait for no part, was opened first, then by id; or -1."""
    found, first_ms = -1, NEVER
    for i in range(world.now[0].n_waiting):
        row = world.lists[CALLS, i]
        part = _needed(world, row)
        if part >= 0 and world.stocks[part].here == 0:
            continue
        called_ms = world.silences[row].called_ms
        if called_ms < first_ms or (called_ms == first_ms and row < found):
            found, first_ms = row, called_ms
    return found


@jit
def _needed(world: World, row: int) -> int:
    """Kind of the part that a visit to a device takes from the shelf; -1 for none."""
    silence, device = world.silences[row], world.devices[row]
    if world.stocks.size == 0 or silence.n_failures == 0:
        return -1
    n_flat = 0
    if device.cells >= 0:
        n_flat = world.elements[world.cells[device.cells].element].away
    part = SPARE_CELLS if silence.n_failures == n_flat else SPARE_DEVICES
    return part if world.stocks[part].kept >= 0 else -1


@jit
def _take_part(world: World, row: int) -> bool:
    """Take the part that a device needs; False if there is none."""
    part, silence = _needed(world, row), world.silences[row]
    if part < 0 or silence.brought >= 0:
        return True
    if world.stocks[part].here == 0:
        return False
    world.stocks[part].here -= 1
    silence.brought = part
    return True


@jit_inline
def _can_end(world: World, element: Element, row: int) -> bool:
    """Whether the visit to a device has what it takes to end a failure of it."""
    if world.stocks.size == 0:
        return True
    brought = world.silences[row].brought
    if element.cells >= 0:
        return world.stocks[SPARE_CELLS].kept < 0 or brought >= 0
    return world.stocks[SPARE_DEVICES].kept < 0 or brought == SPARE_DEVICES


@jit_inline
def _travel_ms(world: World, row: int) -> int:
    """Time that the crew of a device's next visit takes to get there."""
    rules = world.rules[0]
    if rules.has_response == 0:
        return 0
    u = uniform(world.silences[row].response_start, world.devices[row].visits)
    return whole_ms(quantile(rules.response_shape, rules.response_scale, rules.response_slope, u))


@jit
def _send(world: World, row: int) -> None:
    """Send a crew to a device."""
    now, rules = world.now[0], world.rules[0]
    device, silence = world.devices[row], world.silences[row]
    _drop(world, row)
    travel_ms = _travel_ms(world, row)
    u = uniform(device.repair_start, device.visits)
    work_ms = whole_ms(quantile(rules.repair_shape, rules.repair_scale, rules.repair_slope, u))
    device.visits += 1
    now.n_sent += 1
    silence.call, silence.seen_to_by, silence.worked_ms = SENT, row, travel_ms + work_ms
    _take_part(world, row)
    write(world, LOG_LEFT, row, 0, 0)
    device.visit_end_ms = _done_ms(world, now.time_ms, travel_ms + work_ms)
    arrives_ms = _done_ms(world, now.time_ms, travel_ms) if travel_ms > 0 else now.time_ms
    starts_ms = _done_ms(world, arrives_ms, 0)
    if rules.mends_site == 1 and starts_ms > now.time_ms:
        now.work_starts_ms = starts_ms
        schedule(world, rules.visit_slot + row, starts_ms)
        return
    schedule(world, rules.visit_slot + row, device.visit_end_ms)
    if rules.mends_site == 1:
        _take_stock(world, row)


@jit_inline
def _done_ms(world: World, time_ms: int, work_ms: int) -> int:
    """Moment at which some work is done."""
    rules = world.rules[0]
    return after_work_ms(time_ms, work_ms, rules.opens_ms, rules.closes_ms, rules.days)


@jit
def _take_stock(world: World, row: int) -> None:
    """Note what is down as the work on the site begins; calls that wait are seen to as well."""
    _take_part(world, row)
    for other in range(world.silences.size):
        silence = world.silences[other]
        is_new = silence.n_failures > 0 and silence.seen_to_by < 0
        if (silence.call == WAITING or is_new) and _take_part(world, other):
            if silence.call == WAITING:
                _close(world, other, row)
            silence.seen_to_by = row
        if silence.seen_to_by == row:
            schedule(world, world.rules[0].alarm_slot + other, NEVER)
    here = world.now[0].latest
    while here >= 0:
        element = world.elements[here]
        if element.is_mended:
            target = world.places[element.targets_first]
            is_ours = world.silences[target].seen_to_by == row
            if is_ours and _can_end(world, element, target):
                element.noted_by = row
        here = element.earlier
