"""Which gateways serve, and how long those are silent who must move; as the reference tells it."""

from resilience.lifetime.fast.accounts import write
from resilience.lifetime.state.books import LOG_OUTAGE
from resilience.lifetime.state.cells import may_drain
from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.links import cost_before
from resilience.lifetime.state.queues import schedule
from resilience.lifetime.state.routes import is_beyond
from resilience.lifetime.state.tree import (
    forget_all,
    mark,
    parent_before,
    path_cost_before,
    save,
    stop_serving,
    was_routed,
)
from resilience.lifetime.state.world import (
    NEVER,
    NEW,
    Device,
    World,
)


@jit
def settle_gateways(world: World) -> None:
    """Settle outage and service; list those that begin to serve in ``lists[NEW]``."""
    now, rules = world.now[0], world.rules[0]
    has_primary, has_any = False, False
    for row in range(world.devices.size):
        device = world.devices[row]
        if device.is_gateway and device.down == 0:
            has_any = True
            has_primary |= device.is_standby == 0
    if has_primary:
        now.no_primary_since, now.is_switched = -1, 0
    elif now.no_primary_since < 0:
        now.no_primary_since = now.time_ms
    look_again_ms = _settle_outage(world, has_any)
    if not now.in_outage:
        switched_ms = now.no_primary_since + rules.standby_switch_ms
        if not has_primary and now.time_ms >= switched_ms:
            now.is_switched = 1
        if not has_primary and now.is_switched == 0:
            look_again_ms = switched_ms
        _turn_service(world)
    schedule(world, rules.gateway_slot, look_again_ms)


@jit_inline
def _turn_service(world: World) -> None:
    """Let gateways begin and stop to serve."""
    now = world.now[0]
    for row in range(world.devices.size):
        device = world.devices[row]
        if device.is_gateway == 0:
            continue
        serves = device.down == 0 and (device.is_standby == 0 or now.is_switched == 1)
        if serves and device.routed == 0:
            save(world, device)
            device.routed = 1
            world.lists[NEW, now.n_new] = row
            now.n_new += 1
        elif not serves and device.routed:
            stop_serving(world, row)


@jit
def _settle_outage(world: World, has_any: bool) -> int:
    """Begin or end a site outage; return when to look again."""
    now = world.now[0]
    if not has_any:
        now.back_since = -1
        if now.in_outage == 0:
            turn_outage(world, True)
            forget_all(world)
        return NEVER
    if now.in_outage == 0:
        return NEVER
    if now.back_since < 0:
        now.back_since = now.time_ms
    formed_ms = now.back_since + world.rules[0].reformation_ms
    if now.time_ms < formed_ms:
        return formed_ms
    now.back_since = -1
    turn_outage(world, False)
    if now.no_primary_since >= 0:  # once it is over, every up gateway serves
        now.is_switched = 1
    return NEVER


@jit
def turn_outage(world: World, begins: bool) -> None:
    """Begin or end a site outage: all of every device is touched."""
    now = world.now[0]
    for row in range(world.devices.size):
        if world.devices[row].is_gateway:
            may_drain(world, row)
        else:
            mark(world, row)
    if begins:
        now.outage_since = now.time_ms
        now.in_outage = 1
        now.outages += 1
    else:
        lasted_ms = now.time_ms - now.outage_since
        now.outage_ms += lasted_ms
        if world.rules[0].counts_outages == 0:
            now.paused_ms += lasted_ms
        now.in_outage = 0
        write(world, LOG_OUTAGE, now.outage_since, 0, 0)


@jit
def _cost_through(world: World, device: Device, k: int, most: int) -> int:
    """Cost before the step through a neighbour; -1 if dearer, none, or through the parent."""
    row = world.neighbours[k].device
    other = world.devices[row]
    if other.is_relay == 0 or not was_routed(world, other) or row == parent_before(world, device):
        return -1
    if other.nearest + world.neighbours[k].least_cost > most:
        return -1
    path = path_cost_before(world, row)
    cost = cost_before(world, world.neighbours[k].link, most - path)
    return cost if cost < 0 else cost + path


@jit
def _was_behind(world: World, other: int, row: int) -> bool:
    """Whether a device had its route through another one before the step."""
    while world.devices[other].is_gateway == 0:
        if other == row:
            return True
        other = parent_before(world, world.devices[other])
    return False


@jit
def _rejoin_ms(world: World, row: int) -> int:
    """Silence of one device that has another parent than before the step."""
    device, step = world.devices[row], world.now[0].step
    if device.rejoined != step:
        device.rejoined, device.rejoin_ms = step, _found_rejoin_ms(world, row)
    return device.rejoin_ms


@jit
def _found_rejoin_ms(world: World, row: int) -> int:
    """Find whether the new parent was among the neighbours that a device kept ready."""
    device, rules = world.devices[row], world.rules[0]
    chosen = -1
    if parent_before(world, device) >= 0 and not _was_behind_now(world, row):
        for k in range(device.first, device.beyond):
            if world.neighbours[k].device == device.parent:
                chosen = _cost_through(world, device, k, NEVER)
    if chosen < 0:
        return rules.rejoin_long_ms
    n_better = 0
    for k in range(device.first, device.beyond):
        if n_better == rules.backups or is_beyond(world, k, world.now[0].shortest, chosen):
            break
        other = world.neighbours[k].device
        cost = _cost_through(world, device, k, chosen)
        is_better = cost >= 0 and (cost < chosen or (cost == chosen and other < device.parent))
        if is_better and not _was_behind(world, other, row):
            n_better += 1
    return rules.rejoin_short_ms if n_better < rules.backups else rules.rejoin_long_ms


@jit_inline
def _was_behind_now(world: World, row: int) -> bool:
    """Whether the new parent of a device had its route through it before the step."""
    parent = world.devices[row].parent
    return was_routed(world, world.devices[parent]) and _was_behind(world, parent, row)


@jit
def silence_ms(world: World, row: int) -> int:
    """Silence of a sensor that the step detached and attached again; 0 where it had no route."""
    if not was_routed(world, world.devices[row]):
        return 0
    longest_ms, here = 0, row
    while world.devices[here].is_gateway == 0:
        device = world.devices[here]
        if device.parent != parent_before(world, device):
            longest_ms = max(longest_ms, _rejoin_ms(world, here))
        here = device.parent
    return longest_ms
