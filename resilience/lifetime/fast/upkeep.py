"""Who is called for a silent device, and which crew sees to it; as the reference tells it."""

from resilience.lifetime.fast.accounts import write
from resilience.lifetime.state.books import (
    LOG_CALL,
    LOG_CLOSED,
    LOG_LEFT,
    LOG_MENDED,
    LOG_OVER,
    NO_CALL,
    SEEN_TO,
    SENT,
    WAITING,
)
from resilience.lifetime.state.compiled import (
    after_work_ms,
    jit,
    jit_inline,
    jit_once,
    quantile,
    uniform,
    whole_ms,
)
from resilience.lifetime.state.links import next_strike_ms
from resilience.lifetime.state.queues import schedule, scheduled_ms
from resilience.lifetime.state.tree import touch
from resilience.lifetime.state.world import (
    CALLS,
    ENDED,
    NEVER,
    STARTED,
    TOUCHED,
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
    silence, n_ended = world.silences[row], now.n_ended
    _mend(world, row)
    _leave(world, row)
    now.n_visits += 1
    now.n_fruitless += now.n_ended == n_ended
    now.worked_ms += silence.worked_ms
    now.n_sent -= 1
    silence.call = NO_CALL
    write(world, LOG_OVER, row, 0, 0)


@jit_inline
def _mend(world: World, row: int) -> None:
    """End what a visit mends: the failures of its device, or those noted as its work began."""
    now, here = world.now[0], world.now[0].latest
    while here >= 0:
        element = world.elements[here]
        is_noted = element.noted_by == row
        if world.rules[0].mends_site == 0:
            is_noted = element.is_mended == 1 and world.places[element.targets_first] == row
        if is_noted:
            element.noted_by = -1
            world.lists[ENDED, now.n_ended] = here
            now.n_ended += 1
            element.cycle += 1
            if element.cells < 0:
                schedule(world, element.slot, next_strike_ms(world, element, now.time_ms))
            write(world, LOG_MENDED, row, here, 0)
        here = element.earlier


@jit_inline
def _leave(world: World, row: int) -> None:
    """Let go of every device that a visit has seen to."""
    for other in range(world.silences.size):
        silence = world.silences[other]
        if silence.seen_to_by == row:
            silence.seen_to_by, silence.left = -1, world.now[0].step
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
def note_mended(world: World, row: int) -> None:
    """Count a failure less."""
    if world.rules[0].takes_calls == 1:
        world.silences[row].n_failures -= 1
        touch(world, row)


@jit_once
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
    while now.n_waiting > 0 and _can_send(world):
        _send(world)


@jit
def _listen(world: World, row: int) -> None:
    """Begin or end the silence of a device."""
    now, rules = world.now[0], world.rules[0]
    device, silence = world.devices[row], world.silences[row]
    is_silent, is_cut_off = silence.n_failures > 0, False
    if rules.alarm_ms > 0:
        is_silent = device.down > 0 or device.mute > 0
        is_cut_off = rules.hears_orphans == 1 and device.is_sensor == 1 and device.routed == 0
    if not is_silent and not is_cut_off:
        silence.since = -1
        if silence.call == WAITING:
            _close(world, row, -1)
    elif silence.left == now.step:
        silence.since = now.time_ms if silence.n_failures > 0 else SEEN_TO
    elif not is_silent and now.in_outage == 1:  # cut off with the whole site
        silence.since = min(silence.since, -1)
    elif silence.since == -1 or (silence.since == SEEN_TO and silence.failed == now.step):
        silence.since = now.time_ms


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
    """Device whose call was opened first; of several the first by id."""
    found, first_ms = -1, NEVER
    for i in range(world.now[0].n_waiting):
        row = world.lists[CALLS, i]
        called_ms = world.silences[row].called_ms
        if called_ms < first_ms or (called_ms == first_ms and row < found):
            found, first_ms = row, called_ms
    return found


@jit_inline
def _travel_ms(world: World, row: int) -> int:
    """Time that the crew of a device's next visit takes to get there."""
    rules = world.rules[0]
    if rules.has_response == 0:
        return 0
    u = uniform(world.silences[row].response_start, world.devices[row].visits)
    return whole_ms(quantile(rules.response_shape, rules.response_scale, rules.response_slope, u))


@jit
def _send(world: World) -> None:
    """Send a crew to who has waited longest."""
    now, rules = world.now[0], world.rules[0]
    row = _longest_waiting(world)
    device, silence = world.devices[row], world.silences[row]
    _drop(world, row)
    travel_ms = _travel_ms(world, row)
    u = uniform(device.repair_start, device.visits)
    work_ms = whole_ms(quantile(rules.repair_shape, rules.repair_scale, rules.repair_slope, u))
    device.visits += 1
    now.n_sent += 1
    silence.call, silence.seen_to_by, silence.worked_ms = SENT, row, travel_ms + work_ms
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
    for other in range(world.silences.size):
        silence = world.silences[other]
        if silence.call == WAITING:
            _close(world, other, row)
            silence.seen_to_by = row
        elif silence.n_failures > 0 and silence.seen_to_by < 0:
            silence.seen_to_by = row
        if silence.seen_to_by == row:
            schedule(world, world.rules[0].alarm_slot + other, NEVER)
    here = world.now[0].latest
    while here >= 0:
        element = world.elements[here]
        if element.is_mended:
            target = world.places[element.targets_first]
            if world.silences[target].seen_to_by == row:
                element.noted_by = row
        here = element.earlier
