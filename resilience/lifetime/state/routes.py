"""Who attaches to whom, and who moves at a look-around; the law is told in the reference."""

from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.links import cost_now
from resilience.lifetime.state.queues import pop, push
from resilience.lifetime.state.tree import (
    Device,
    hang,
    mark,
    path_cost,
    save,
    shift,
    time_anew,
    touch,
    unhang,
)
from resilience.lifetime.state.world import DETACHED, NEW, SHIFTED, World

ID_MASK = (1 << 16) - 1


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
    low, high = world.devices[row].first, world.devices[row].beyond
    while low < high:
        middle = (low + high) >> 1
        if world.neighbours[middle].device < parent:
            low = middle + 1
        else:
            high = middle
    return world.neighbours[low].link


@jit
def _ask_all(world: World, row: int) -> None:
    """Queue a detached device for the best of its neighbours that have a route."""
    least, best = -1, -1
    for k in range(world.devices[row].first, world.devices[row].beyond):
        parent, link = world.neighbours[k].device, world.neighbours[k].link
        if not offers(world.devices[parent]):
            continue
        if best >= 0 and world.links[link].least_cost >= least:
            continue
        cost = cost_now(world, link)
        if cost >= 0 and (best < 0 or cost < least):
            through = path_cost(world, parent) + cost
            if best < 0 or through < least:  # neighbours stand in order of id
                least, best = through, parent
    if best >= 0:
        push(world, least, row, best)


@jit
def _offer_all(world: World, row: int) -> None:
    """Queue every waiting neighbour for a device that has just got a route."""
    for k in range(world.devices[row].first, world.devices[row].beyond):
        other = world.neighbours[k].device
        if is_waiting(world.devices[other]):
            cost = cost_now(world, world.neighbours[k].link)
            if cost >= 0:
                push(world, path_cost(world, row) + cost, other, row)
            else:
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


@jit_inline
def _consider(world: World, k: int, row: int, parent: int, limit: int) -> int:
    """Cost of a device through its k-th neighbour; the limit where it is no less."""
    other, link = world.devices[parent], world.neighbours[k].link
    if not offers(other) or other.cost + world.links[link].least_cost >= limit:
        return limit
    cost = cost_now(world, link)
    return limit if cost < 0 else min(limit, other.cost + cost)


@jit
def _look_round(world: World, row: int) -> None:
    """Queue the best move of a device, if there is one worth it."""
    limit, best = world.devices[row].cost - world.rules[0].hysteresis, -1
    for k in range(world.devices[row].first, world.devices[row].beyond):
        parent = world.neighbours[k].device
        through = _consider(world, k, row, parent, limit)
        if through < limit:
            limit, best = through, parent
    if best >= 0:
        push(world, limit, row, best)


@jit
def _invite_neighbours(world: World, row: int) -> None:
    """Queue the moves of neighbours to a device that has become cheaper."""
    device, hysteresis = world.devices[row], world.rules[0].hysteresis
    if not offers(device):
        return
    for k in range(device.first, device.beyond):
        other = world.devices[world.neighbours[k].device]
        if other.routed and other.is_gateway == 0 and other.cost - hysteresis > device.cost:
            limit = other.cost - hysteresis
            through = _consider(world, k, world.neighbours[k].device, row, limit)
            if through < limit:
                push(world, through, world.neighbours[k].device, row)


@jit
def look_around(world: World) -> None:
    """Move, again and again, the device with the least (new cost, id, parent id)."""
    now, hysteresis = world.now[0], world.rules[0].hysteresis
    now.n_queued = 0
    dearest = 0
    for row in range(world.devices.size):
        if world.devices[row].routed:
            dearest = max(dearest, path_cost(world, row))
    if dearest <= hysteresis:
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
