"""What an orphan spell is put down to, and how a visit ends that; told in the reference."""

from resilience.lifetime.state.books import Account
from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.links import cost_now, level_cdb, next_level_ms, swung_since_ms
from resilience.lifetime.state.queues import next_strike_ms, turn
from resilience.lifetime.state.tree import time_anew
from resilience.lifetime.state.world import (
    ASKED,
    IS_COST,
    IS_CUT,
    IS_DOWN,
    IS_SWING,
    ISLAND_HOLDER,
    ISLAND_STRUCK,
    ISLAND_UNTIL,
    LAYOUT,
    NEVER,
    RADIO_DRAW,
    STACK,
    Element,
    Link,
    World,
)


@jit
def _mark_island(world: World, sensor: int) -> int:
    """List every up device that a sensor reaches over usable links; return how many they are."""
    now = world.now[0]
    now.n_islands += 1
    world.devices[sensor].island = now.n_islands
    world.lists[STACK, 0] = sensor
    n, i = 1, 0
    while i < n:
        device = world.devices[world.lists[STACK, i]]
        i += 1
        for k in range(device.first, device.beyond):
            other = world.devices[world.neighbours[k].device]
            if other.island == now.n_islands or other.down > 0:
                continue
            if cost_now(world, world.neighbours[k].link) >= 0:
                other.island = now.n_islands
                world.lists[STACK, n] = world.neighbours[k].device
                n += 1
    return n


@jit_inline
def _holds_neighbour(world: World, element: Element, island: int) -> bool:
    """Whether an absence holds down a device that is joined to an island by any link."""
    if element.effect != IS_DOWN:
        return False
    for i in range(element.targets_first, element.targets_beyond):
        device = world.devices[world.places[i]]
        for k in range(device.first, device.beyond):
            if world.devices[world.neighbours[k].device].island == island:
                return True
    return False


@jit_inline
def _is_later(row: int, since_ms: int, best: int, best_ms: int) -> bool:
    """Whether an absence comes before another for blame: rows stand in order of (cause, id)."""
    return since_ms > best_ms or (since_ms == best_ms and row > best)


@jit
def _is_swung_out(world: World, link: Link) -> bool:
    """Whether the level of the moment alone closes a link that is usable when calm."""
    level = level_cdb(world, link)
    return link.spare_cdb >= 0 and link.spare_cdb + level < 0


@jit
def _latest_on_link(world: World, link: Link, best: int, best_ms: int) -> tuple[int, int]:
    """Latest absence that by itself closes a link, or the one it is told if that is later."""
    time_ms = world.now[0].time_ms
    level = level_cdb(world, link)
    for i in range(link.burdens_first, link.burdens_beyond):
        row = world.places[i]
        element = world.elements[row]
        turn(world, element, time_ms)
        if element.away == 0 or element.effect == IS_COST:
            continue
        closes = element.effect == IS_CUT or link.spare_cdb + level < world.weights[i]
        if closes and _is_later(row, element.since, best, best_ms):
            best, best_ms = row, element.since
    if _is_swung_out(world, link):
        since_ms = swung_since_ms(world, link, best_ms)
        if _is_later(link.swing, since_ms, best, best_ms):
            best, best_ms = link.swing, since_ms
    return best, best_ms


@jit
def _latest_on_border(world: World, n_members: int) -> tuple[int, int]:
    """Element and start of the latest absence on the border of the island just marked."""
    now = world.now[0]
    best, best_ms = now.latest, -1
    while best >= 0 and not _holds_neighbour(world, world.elements[best], now.n_islands):
        best = world.elements[best].earlier
    if best >= 0:
        best_ms = world.elements[best].since
    for i in range(n_members):
        device = world.devices[world.lists[STACK, i]]
        for k in range(device.first, device.beyond):
            link = world.links[world.neighbours[k].link]
            if link.is_firm == 0:
                best, best_ms = _latest_on_link(world, link, best, best_ms)
    return best, best_ms


@jit
def _return_ms(world: World, holder: int) -> int:
    """When an absence will be over, where that is known beforehand."""
    element = world.elements[holder]
    if element.slot >= 0:
        return NEVER  # it is told when it ends
    if element.effect == IS_SWING:
        link = world.links[world.places[element.targets_first]]
        return next_level_ms(world, link, -link.spare_cdb, 1, NEVER)
    return element.next


@jit
def find_holder(world: World, sensor: int) -> None:
    """Find what holds a sensor's spell from now on.

    All that share an island in one step share the holder: it is found once.
    """
    now, account = world.now[0], world.accounts[sensor]
    if world.devices[sensor].island <= now.first_island:
        n_members = _mark_island(world, sensor)
        holder, struck_ms = _latest_on_border(world, n_members)
        place = now.n_islands - now.first_island - 1
        world.lists[ISLAND_HOLDER, place] = holder
        world.lists[ISLAND_STRUCK, place] = struck_ms
        world.lists[ISLAND_UNTIL, place] = _return_ms(world, holder) if holder >= 0 else NEVER
    place = world.devices[sensor].island - now.first_island - 1
    holder = world.lists[ISLAND_HOLDER, place]
    if holder < 0:
        account.holder = RADIO_DRAW if world.devices[sensor].at_mean else LAYOUT
        account.holder_until = NEVER
        return
    account.holder = holder
    account.holder_struck = world.lists[ISLAND_STRUCK, place]
    account.holder_until = world.lists[ISLAND_UNTIL, place]
    _list_held(world, account, sensor)


@jit_inline
def _list_held(world: World, account: Account, sensor: int) -> None:
    """Put a spell among those that an element holds, where its end has to be told to them."""
    element = world.elements[account.holder]
    if element.slot < 0:
        return
    account.next_held, account.prev_held = element.held, -1
    if element.held >= 0:
        world.accounts[element.held].prev_held = sensor
    element.held = sensor


@jit_inline
def let_go(world: World, account: Account) -> None:
    """Take a sensor's spell from the element that holds it."""
    element = world.elements[account.holder]
    if element.slot < 0:
        return
    if account.prev_held >= 0:
        world.accounts[account.prev_held].next_held = account.next_held
    else:
        element.held = account.next_held
    if account.next_held >= 0:
        world.accounts[account.next_held].prev_held = account.prev_held


@jit
def end_early(world: World, row: int) -> None:
    """End what strikes links before its time; its clock runs on as if it had not."""
    now, element = world.now[0], world.elements[row]
    turn(world, element, now.time_ms)
    if element.away == 1:
        end_ms = element.next
        element.away, element.since = 0, now.time_ms
        element.cycle += 1
        element.next = next_strike_ms(world, element, end_ms)
    for i in range(element.targets_first, element.targets_beyond):
        world.links[world.places[i]].struck_until = -1
    for other in range(world.devices.size):
        device, account = world.devices[other], world.accounts[other]
        if account.spell_since >= 0 and account.holder == row:
            account.holder_until = now.time_ms
        if device.is_gateway == 0 and device.down == 0 and device.timed != now.step:
            if device.routed == 0:
                world.lists[ASKED, now.n_asked] = other
                now.n_asked += 1
            time_anew(world, other)
