"""Who attaches to whom, and who moves at a look-around; the law is told in the reference."""

from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.links import cost_now, cost_within, level_cost
from resilience.lifetime.state.queues import ID_MASK, pop, push
from resilience.lifetime.state.tree import (
    hang,
    mark,
    path_cost,
    save,
    shift,
    time_anew,
    touch,
    unhang,
)
from resilience.lifetime.state.world import DETACHED, NEVER, NEW, SHIFTED, TOLD_COSTS, Device, World


@jit_inline
def is_waiting(device: Device) -> bool:
    """Whether a device is up and without a route."""
    return device.routed == 0 and device.down == 0 and device.is_gateway == 0


@jit_inline
def offers(device: Device) -> bool:
    """Whether a device can be a parent."""
    return device.routed == 1 and device.is_relay == 1


@jit
def _branch_between(world: World, row: int, parent: int) -> int:
    """Link from a device to its neighbour."""
    k = world.devices[row].first
    while world.neighbours[k].device != parent:
        k += 1
    return world.neighbours[k].link


@jit_inline
def is_beyond(world: World, k: int, cheapest: int, least: int) -> bool:
    """Whether no neighbour from the k-th on can be reached at a cost."""
    if world.devices[world.neighbours[k].device].is_gateway:
        return False  # they stand first, and ask nothing themselves
    return min(world.neighbours[k].least_cost, TOLD_COSTS - 1) + cheapest > least


@jit_inline
def _offer(world: World, cost: int, row: int, parent: int) -> None:
    """Queue a waiting device for a parent."""
    device = world.devices[row]
    device.offered, device.offer = world.now[0].step, cost
    push(world, cost, row, parent)


@jit
def _ask_all(world: World, row: int) -> None:
    """Queue a detached device for the best of its neighbours that have a route."""
    least, best = NEVER, -1
    for k in range(world.devices[row].first, world.devices[row].beyond):
        if is_beyond(world, k, world.now[0].shortest, least):
            break
        parent, link = world.neighbours[k].device, world.neighbours[k].link
        other = world.devices[parent]
        if not offers(other) or other.nearest + world.neighbours[k].least_cost > least:
            continue
        if 0 <= level_cost(world, world.links[link]) <= least - other.nearest:
            path = path_cost(world, parent)
            cost = cost_within(world, link, least - path)
            if cost >= 0 and (path + cost < least or parent < best):
                least, best = path + cost, parent
    if best >= 0:
        _offer(world, least, row, best)


@jit
def _offer_all(world: World, row: int) -> None:
    """Queue every waiting neighbour for a device that has just got a route, where that is less."""
    step, here = world.now[0].step, path_cost(world, row)
    for k in range(world.devices[row].first, world.devices[row].beyond):
        other = world.neighbours[k].device
        device = world.devices[other]
        if not is_waiting(device):
            continue
        has_offer = device.offered == step
        most = device.offer - here if has_offer else NEVER
        if world.neighbours[k].least_cost > most:
            continue
        cost = cost_within(world, world.neighbours[k].link, most)
        if cost >= 0:
            _offer(world, here + cost, other, row)
        elif not has_offer:
            time_anew(world, other)  # the link may open later


@jit
def attach_all(world: World) -> None:
    """Attach, again and again, the detached device with the least (path cost, id, parent id).

    ``lists[NEW]`` holds gateways that serve from this step on.
    """
    now = world.now[0]
    now.n_queued = 0
    for i in range(now.n_detached):
        row = world.lists[DETACHED, i]
        if is_waiting(world.devices[row]):
            _ask_all(world, row)
    for i in range(now.n_new):
        _offer_all(world, world.lists[NEW, i])
    while now.n_queued > 0:
        key = pop(world)
        row, parent = (key >> 16) & ID_MASK, key & ID_MASK
        device = world.devices[row]
        if device.routed:
            continue
        save(world, device)
        mark(world, row)
        device.routed, device.cost, device.costed = 1, key >> 32, now.step
        hang(world, row, parent, _branch_between(world, row, parent))
        if device.is_relay:
            _offer_all(world, row)


@jit
def _look_round(world: World, row: int) -> None:
    """Queue the best move of a device, if there is one worth it."""
    least, best = world.devices[row].cost - world.rules[0].hysteresis - 1, -1
    cheapest = world.now[0].cheapest
    for k in range(world.devices[row].first, world.devices[row].beyond):
        if is_beyond(world, k, cheapest, least):
            break
        parent = world.neighbours[k].device
        other = world.devices[parent]
        if offers(other) and other.cost + world.neighbours[k].least_cost <= least:
            cost = cost_within(world, world.neighbours[k].link, least - other.cost)
            if cost >= 0 and (other.cost + cost < least or best < 0 or parent < best):
                least, best = other.cost + cost, parent
    if best >= 0:
        push(world, least, row, best)


@jit
def _invite_neighbours(world: World, row: int) -> None:
    """Queue the moves of neighbours to a device that has become cheaper."""
    device, hysteresis = world.devices[row], world.rules[0].hysteresis
    most = world.now[0].dearest - hysteresis - 1 - device.cost
    if not offers(device):
        return
    for k in range(device.first, device.beyond):
        if is_beyond(world, k, 0, most):
            break
        other = world.devices[world.neighbours[k].device]
        most_here = other.cost - hysteresis - 1 - device.cost
        if other.routed and other.is_gateway == 0 and world.neighbours[k].least_cost <= most_here:
            cost = cost_within(world, world.neighbours[k].link, most_here)
            if cost >= 0:
                push(world, device.cost + cost, world.neighbours[k].device, row)


@jit
def look_around(world: World) -> None:
    """Move, again and again, the device with the least (new cost, id, parent id)."""
    now, hysteresis = world.now[0], world.rules[0].hysteresis
    now.n_queued, now.dearest, now.cheapest = 0, 0, NEVER
    for row in range(world.devices.size):
        device = world.devices[row]
        if device.routed and device.is_gateway == 0:
            cost = path_cost(world, row)
            now.dearest, now.cheapest = max(now.dearest, cost), min(now.cheapest, cost)
    if now.dearest <= hysteresis:
        return
    for row in range(world.devices.size):
        device = world.devices[row]
        if device.routed and device.is_gateway == 0 and device.cost > hysteresis:
            _look_round(world, row)
    while now.n_queued > 0:
        key = pop(world)
        new_cost, row, parent = key >> 32, (key >> 16) & ID_MASK, key & ID_MASK
        gain = world.devices[row].cost - new_cost
        if gain <= hysteresis:
            continue
        branch = _branch_between(world, row, parent)
        if world.devices[parent].cost + cost_now(world, branch) != new_cost:
            continue  # the parent has become cheaper since; a newer entry says so
        unhang(world, row)
        hang(world, row, parent, branch)
        time_anew(world, row)
        for i in range(shift(world, row, -gain)):
            touch(world, world.lists[SHIFTED, i])
            _invite_neighbours(world, world.lists[SHIFTED, i])
