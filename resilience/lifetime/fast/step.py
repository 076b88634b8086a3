"""One step: all that happens in one millisecond, gathered and settled."""

from resilience.lifetime.fast.accounts import (
    find_holder_again,
    has_returned,
    settle_count,
    settle_sensor,
    write,
)
from resilience.lifetime.fast.service import settle_gateways, silence_ms
from resilience.lifetime.fast.upkeep import (
    note_failure,
    note_mended,
    settle_calls,
    turn_visit,
)
from resilience.lifetime.state.books import (
    LOG_END,
    LOG_FADED,
    LOG_PARENT,
    LOG_STRIKE,
)
from resilience.lifetime.state.cells import (
    death_ms,
    may_drain,
    settle_cells,
    turn_delivery,
    turn_round,
    visit_end_ms,
)
from resilience.lifetime.state.compiled import jit, jit_inline, jit_once
from resilience.lifetime.state.links import (
    cost_at,
    cost_now,
    level_before_cdb,
    loss_now,
    next_closing_ms,
    next_opening_ms,
)
from resilience.lifetime.state.queues import (
    SLOT_BITS,
    SLOT_MASK,
    next_strike_ms,
    return_ms,
    schedule,
    turn,
)
from resilience.lifetime.state.routes import attach_all, is_waiting, look_around, offers
from resilience.lifetime.state.tree import (
    detach,
    detach_subtree,
    mark,
    time_anew,
    touch,
    was_routed,
)
from resilience.lifetime.state.world import (
    ASKED,
    ELEMENT_OF,
    ENDED,
    IS_CUT,
    IS_DOWN,
    NEVER,
    STRUCK,
    TIMED,
    TOUCHED,
    Element,
    World,
)


@jit_once
def begin_step(world: World, time_ms: int) -> None:
    """Begin a step in which nothing has changed yet."""
    now = world.now[0]
    now.step += 1
    now.time_ms = time_ms
    now.n_touched = now.n_timed = now.n_asked = now.n_struck = now.n_ended = 0
    now.n_drains = now.n_detached = now.n_new = now.n_started = 0
    now.gateway_turned = 0
    now.looks_around = world.rules[0].look_around_ms == 0
    now.first_island = now.n_islands


@jit_once
def gather(world: World) -> None:
    """Take all that happens in this millisecond out of the calendar."""
    now, rules, calendar = world.now[0], world.rules[0], world.calendar
    while calendar[1] >> SLOT_BITS == now.time_ms:
        slot = calendar[1] & SLOT_MASK
        if slot < rules.device_slots:
            _take_element(world, world.lists[ELEMENT_OF, slot])
        elif slot == rules.look_slot:
            now.looks_around = 1
            schedule(world, slot, now.time_ms + rules.look_around_ms)
        else:
            schedule(world, slot, NEVER)
            if slot == rules.gateway_slot:
                now.gateway_turned = 1
            elif slot < rules.gateway_slot:
                row = slot - rules.device_slots
                world.lists[ASKED, now.n_asked] = row
                now.n_asked += 1
                time_anew(world, row)
            elif slot >= rules.alarm_slot:
                touch(world, slot - rules.alarm_slot)
            elif slot >= rules.visit_slot:
                turn_visit(world, slot - rules.visit_slot)
            elif slot >= rules.stock_slot:
                turn_delivery(world, slot - rules.stock_slot)
            elif slot == rules.round_slot:
                turn_round(world)


@jit_inline
def _take_element(world: World, row: int) -> None:
    """Note what an element does now, and put what it does next into the calendar."""
    now, element = world.now[0], world.elements[row]
    next_ms = NEVER
    if element.away:
        world.lists[ENDED, now.n_ended] = row
        now.n_ended += 1
        element.cycle += 1
        if element.cells < 0:
            next_ms = next_strike_ms(world, element, now.time_ms)
    elif element.cells >= 0 and death_ms(world, world.cells[element.cells]) > now.time_ms:
        next_ms = death_ms(world, world.cells[element.cells])  # the end has moved away
    else:
        world.lists[STRUCK, now.n_struck] = row
        now.n_struck += 1
        if element.is_mended == 0:
            next_ms = return_ms(world, element, now.time_ms)
    schedule(world, element.slot, next_ms)


@jit
def _sort(world: World, row: int, n: int) -> None:
    """Sort the first n numbers of a list; they are few."""
    listed = world.lists[row]
    for i in range(1, n):
        value = listed[i]
        k = i
        while k > 0 and listed[k - 1] > value:
            listed[k] = listed[k - 1]
            k -= 1
        listed[k] = value


@jit
def _hold(world: World, element: Element) -> None:
    """Let an absence that has begun take hold of devices, or one that has ended let them go."""
    now, by = world.now[0], 2 * element.away - 1
    for i in range(element.targets_first, element.targets_beyond):
        row = world.places[i]
        device = world.devices[row]
        touch(world, row)  # down already, it may be by a planned round that nobody is called for
        if element.effect != IS_DOWN:
            device.mute += by
            continue
        device.down += by
        if device.is_gateway:
            now.gateway_turned = 1
        if element.away == 1 and device.down == 1:
            mark(world, row)
            if device.routed and device.is_gateway == 0:
                detach_subtree(world, row)
        elif element.away == 0 and device.down == 0:
            mark(world, row)
            if device.is_gateway == 0:
                detach(world, row)


@jit_once
def _strike_all(world: World) -> None:
    now = world.now[0]
    for i in range(now.n_struck):
        row = world.lists[STRUCK, i]
        element = world.elements[row]
        element.away, element.since = 1, now.time_ms
        element.strikes += 1
        element.earlier, element.later = now.latest, -1
        if now.latest >= 0:
            world.elements[now.latest].later = row
        now.latest = row
        write(world, LOG_STRIKE, row, 0, 0)
        _hold(world, element)
        if element.is_mended and not note_failure(world, element):
            device = world.devices[world.places[element.targets_first]]
            schedule(world, element.slot, visit_end_ms(world, device, element))
        if element.cells >= 0:  # flat cells lose nothing more, though their device was down before
            may_drain(world, world.places[element.targets_first])


@jit_once
def _end_all(world: World) -> None:
    now = world.now[0]
    for i in range(now.n_ended):
        row = world.lists[ENDED, i]
        element = world.elements[row]
        element.away, element.since = 0, now.time_ms
        if element.later >= 0:
            world.elements[element.later].earlier = element.earlier
        else:
            now.latest = element.earlier
        if element.earlier >= 0:
            world.elements[element.earlier].later = element.later
        write(world, LOG_END, row, 0, 0)
        _hold(world, element)
        if element.is_mended:
            target = world.places[element.targets_first]
            world.devices[target].renewed = now.step
            may_drain(world, target)
            note_mended(world, element, target)
        elif element.is_service:
            target = world.places[element.targets_first]
            world.devices[target].renewed = now.step
            may_drain(world, target)


@jit_once
def _tell_faded(world: World) -> None:
    """Log the branches that their level alone has just closed."""
    now = world.now[0]
    for i in range(now.n_asked):
        device = world.devices[world.lists[ASKED, i]]
        if device.down > 0 or not was_routed(world, device):
            continue
        is_saved = device.saved == now.step
        parent = device.parent_before if is_saved else device.parent
        branch = device.branch_before if is_saved else device.branch
        if world.devices[parent].down == 0 and cost_now(world, branch) < 0:
            link = world.links[branch]
            before_cdb = level_before_cdb(world, link)
            if cost_at(world, link, before_cdb - loss_now(world, link)) >= 0:
                write(world, LOG_FADED, branch, 0, 0)


@jit_once
def _settle_routes(world: World) -> None:
    """Close branches, attach what has no route, and look around."""
    now = world.now[0]
    for i in range(now.n_asked):
        row = world.lists[ASKED, i]
        device = world.devices[row]
        if device.routed and cost_now(world, device.branch) < 0:
            detach_subtree(world, row)
        elif is_waiting(device):
            detach(world, row)
    if now.n_detached + now.n_new > 0:
        attach_all(world)
    if now.looks_around:
        look_around(world)


@jit_once
def _settle_accounts(world: World) -> None:
    """Bring what the step touched up to date."""
    now = world.now[0]
    n_before = now.n_orphans
    for i in range(now.n_touched):
        row = world.lists[TOUCHED, i]
        device = world.devices[row]
        if device.is_gateway == 0 and device.saved == now.step:
            old, new = device.parent_before, device.parent
            if old != new:
                write(world, LOG_PARENT, row, old, new)
                if old >= 0 and new >= 0:
                    world.accounts[row].reparentings += 1
        if device.is_sensor:
            silent_ms = 0
            if device.detached == now.step and device.routed:
                silent_ms = silence_ms(world, row)
            settle_sensor(world, row, silent_ms)
    settle_count(world, n_before)


@jit_once
def _settle_blame(world: World, has_outage_ended: bool) -> None:
    """Find the holders of open spells anew where the present one has returned."""
    now = world.now[0]
    if has_outage_ended:
        for row in range(world.accounts.size):
            if has_returned(world, world.accounts[row]):
                find_holder_again(world, row)
        return
    for i in range(now.n_ended):
        element = world.elements[world.lists[ENDED, i]]
        while element.held >= 0:
            find_holder_again(world, element.held)
    for i in range(now.n_asked):
        row = world.lists[ASKED, i]
        if has_returned(world, world.accounts[row]):
            find_holder_again(world, row)


@jit
def _next_turn_ms(world: World, row: int) -> int:
    """When a device has to be looked at again, whatever becomes of the rest."""
    device, account = world.devices[row], world.accounts[row]
    if world.now[0].in_outage or device.down > 0 or device.is_gateway:
        return NEVER
    if device.routed:
        return next_closing_ms(world, device.branch)
    soonest_ms = NEVER
    if account.spell_since >= 0 and account.holder >= 0:
        soonest_ms = account.holder_until
    for k in range(device.first, device.beyond):
        if offers(world.devices[world.neighbours[k].device]):
            soonest_ms = next_opening_ms(world, world.neighbours[k].link, soonest_ms)
    return soonest_ms


@jit_once
def _settle_calendar(world: World) -> None:
    """Put into the calendar when each device has to be looked at again."""
    now, rules = world.now[0], world.rules[0]
    for i in range(now.n_timed):
        row = world.lists[TIMED, i]
        schedule(world, rules.device_slots + row, _next_turn_ms(world, row))
    if rules.look_around_ms == 0:  # all that changes on a link may move somebody
        soonest_ms = NEVER
        for row in range(world.elements.size):
            element = world.elements[row]
            if element.slot < 0 and element.effect >= IS_CUT:
                turn(world, element, now.time_ms)
                soonest_ms = min(soonest_ms, element.next)
        schedule(world, rules.link_slot, soonest_ms)


@jit_once
def settle(world: World) -> None:
    """Settle one step: strikes, ends, service, routes, accounts, blame, upkeep, calendar."""
    now = world.now[0]
    if now.n_struck + now.n_ended > 1:
        _sort(world, STRUCK, now.n_struck)
        _sort(world, ENDED, now.n_ended)
    _strike_all(world)
    _end_all(world)
    was_in_outage = now.in_outage
    if now.gateway_turned:
        settle_gateways(world)
    if world.log.size > 0:
        _tell_faded(world)
    if now.in_outage == 0:
        _settle_routes(world)
    if now.step == 1:
        for row in range(world.devices.size):
            mark(world, row)
    _settle_accounts(world)
    if now.in_outage == 0:
        _settle_blame(world, was_in_outage == 1)
    settle_cells(world)
    if world.rules[0].takes_calls == 1:
        settle_calls(world)
    _settle_calendar(world)
