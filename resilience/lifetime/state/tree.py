"""The routing tree: who hangs on whom, and what a path costs now and cost before the step."""

from resilience.lifetime.state.cells import may_drain
from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.links import cost_before, cost_now
from resilience.lifetime.state.world import (
    CHAIN,
    DETACHED,
    NEVER,
    SHIFTED,
    STACK,
    TIMED,
    TOUCHED,
    Device,
    World,
)


@jit
def touch(world: World, row: int) -> None:
    """Remember that the accounts of a device have to be settled in this step."""
    device, now = world.devices[row], world.now[0]
    if device.touched != now.step:
        device.touched = now.step
        world.lists[TOUCHED, now.n_touched] = row
        now.n_touched += 1


@jit
def time_anew(world: World, row: int) -> None:
    """Remember that a device's place in the calendar has to be found anew in this step."""
    device, now = world.devices[row], world.now[0]
    if device.timed != now.step:
        device.timed = now.step
        world.lists[TIMED, now.n_timed] = row
        now.n_timed += 1


@jit
def mark(world: World, row: int) -> None:
    """Remember that all of a device has to be settled in this step."""
    touch(world, row)
    time_anew(world, row)
    may_drain(world, row)


@jit_inline
def save(world: World, device: Device) -> None:
    """Remember what a device was before the step, before the first of it changes."""
    step = world.now[0].step
    if device.saved != step:
        device.saved = step
        device.parent_before = device.parent
        device.branch_before = device.branch
        device.routed_before = device.routed


@jit_inline
def parent_before(world: World, device: Device) -> int:
    """Parent of a device before the step."""
    return device.parent_before if device.saved == world.now[0].step else device.parent


@jit_inline
def was_routed(world: World, device: Device) -> bool:
    """Whether a device had a route before the step."""
    return (device.routed_before if device.saved == world.now[0].step else device.routed) == 1


@jit
def path_cost(world: World, row: int) -> int:
    """Cost of the path of a device with a route, every link at the cost of this moment."""
    step, n, here = world.now[0].step, 0, row
    while world.devices[here].costed != step and world.devices[here].is_gateway == 0:
        world.lists[CHAIN, n] = here
        n += 1
        here = world.devices[here].parent
    cost = 0 if world.devices[here].is_gateway else world.devices[here].cost
    while n > 0:
        n -= 1
        device = world.devices[world.lists[CHAIN, n]]
        cost += cost_now(world, device.branch)
        device.cost, device.costed = cost, step
    return cost


@jit
def path_cost_before(world: World, row: int) -> int:
    """Cost of the path that a device had a millisecond before the step."""
    step, n, here = world.now[0].step, 0, row
    while world.devices[here].costed_before != step and world.devices[here].is_gateway == 0:
        world.lists[CHAIN, n] = here
        n += 1
        here = parent_before(world, world.devices[here])
    cost = 0 if world.devices[here].is_gateway else world.devices[here].cost_before
    while n > 0:
        n -= 1
        device = world.devices[world.lists[CHAIN, n]]
        branch = device.branch_before if device.saved == step else device.branch
        cost += cost_before(world, branch, NEVER)
        device.cost_before, device.costed_before = cost, step
    return cost


@jit
def _resize(world: World, row: int, by: int) -> None:
    """Add to the subtree sizes from a device up."""
    while row >= 0:
        device = world.devices[row]
        device.size += by
        may_drain(world, row)
        row = device.parent


@jit
def hang(world: World, row: int, parent: int, branch: int) -> None:
    """Put a device under a parent."""
    device, above = world.devices[row], world.devices[parent]
    device.parent, device.branch, device.prev, device.next = parent, branch, -1, above.child
    if above.child >= 0:
        world.devices[above.child].prev = row
    above.child = row
    _resize(world, parent, device.size)


@jit
def unhang(world: World, row: int) -> None:
    """Take a device from under its parent."""
    device = world.devices[row]
    save(world, device)
    if device.parent < 0:
        return
    if device.prev >= 0:
        world.devices[device.prev].next = device.next
    else:
        world.devices[device.parent].child = device.next
    if device.next >= 0:
        world.devices[device.next].prev = device.prev
    _resize(world, device.parent, -device.size)
    device.parent = device.branch = -1


@jit
def _clear(world: World, row: int) -> None:
    """Forget the parent of one device whose subtree is being taken apart."""
    device = world.devices[row]
    save(world, device)
    mark(world, row)
    device.cleared = world.now[0].step
    device.parent = device.branch = device.child = device.next = device.prev = -1
    device.routed = 0
    device.size = device.is_sensor


@jit
def forget_all(world: World) -> None:
    """Forget every parent: the site is cut off."""
    for row in range(world.devices.size):
        device = world.devices[row]
        if device.is_gateway:
            save(world, device)
            device.routed, device.child, device.size = 0, -1, 0
        elif device.routed:
            _clear(world, row)


@jit
def detach(world: World, row: int) -> None:
    """Count an up device without an intact path among the detached of this step."""
    device, now = world.devices[row], world.now[0]
    if device.detached != now.step:
        device.detached = now.step
        world.lists[DETACHED, now.n_detached] = row
        now.n_detached += 1


@jit
def detach_subtree(world: World, root: int) -> None:
    """Forget the parents of a device and of all that hang on it."""
    if world.devices[root].cleared == world.now[0].step:
        return
    unhang(world, root)
    world.lists[STACK, 0] = root
    n = 1
    while n > 0:
        n -= 1
        row = world.lists[STACK, n]
        child = world.devices[row].child
        while child >= 0:
            world.lists[STACK, n] = child
            n += 1
            child = world.devices[child].next
        _clear(world, row)
        if world.devices[row].down == 0:
            detach(world, row)


@jit
def stop_serving(world: World, row: int) -> None:
    """Detach everything that hangs on a gateway that serves no longer."""
    gateway = world.devices[row]
    while gateway.child >= 0:
        detach_subtree(world, gateway.child)
    save(world, gateway)
    gateway.routed = 0


@jit
def shift(world: World, root: int, by: int) -> int:
    """Let the costs of a subtree follow; list its devices and return how many they are."""
    world.lists[SHIFTED, 0] = root
    n, i = 1, 0
    while i < n:
        device = world.devices[world.lists[SHIFTED, i]]
        i += 1
        device.cost += by
        child = device.child
        while child >= 0:
            world.lists[SHIFTED, n] = child
            n += 1
            child = world.devices[child].next
    return n
