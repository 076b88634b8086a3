"""One possible building: strengths taken over, and what each device hears in it."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.strengths import Lots
from resilience.lifetime.state.compiled import draw_strengths, jit, jit_inline
from resilience.lifetime.state.links import cost_at
from resilience.lifetime.state.queues import ID_MASK, pop, push
from resilience.lifetime.state.world import (
    IS_COST,
    N_BELOW,
    NEVER,
    ORDERED,
    TOLD_COSTS,
    Link,
    World,
)

Ints = NDArray[np.int64]


@jit
def take_building(world: World, lots: Lots, strengths_cdbm: Ints, seed: Any, number: int) -> None:
    """Draw a building and take over the strengths of its links, where any are drawn."""
    if strengths_cdbm.shape[0] == 0:
        return
    draw_strengths(seed, number, lots, strengths_cdbm)
    least_cdbm = world.rules[0].least_cdbm
    for row in range(world.links.size):
        link = world.links[row]
        there, back = strengths_cdbm[row, 0], strengths_cdbm[row, 1]
        link.heard_there_cdbm = there + link.shift_there_cdb
        link.heard_back_cdbm = back + link.shift_back_cdb
        heard = min(link.heard_there_cdbm, link.heard_back_cdbm) - least_cdbm
        over = min(there - link.floor_there_cdbm, back - link.floor_back_cdbm)
        link.spare_cdb = min(heard, over)


@jit
def wire(world: World) -> None:
    """List the links of every device that are usable at the best moment, the cheapest first."""
    devices, n = world.devices, _order(world)
    for row in range(devices.size):
        devices[row].beyond = 0
    for i in range(n):
        link = world.links[world.lists[ORDERED, i]]
        devices[link.a].beyond += 1
        devices[link.b].beyond += 1
    first = 0
    for row in range(devices.size):
        devices[row].first, first = first, first + devices[row].beyond
        devices[row].beyond = devices[row].first
    for i in range(n):
        row = world.lists[ORDERED, i]
        _list_neighbour(world, world.links[row].a, world.links[row].b, row)
        _list_neighbour(world, world.links[row].b, world.links[row].a, row)
    _find_nearest(world)


@jit
def _order(world: World) -> int:
    """Order the links that exist, those of gateways first, by counting; return their number."""
    world.lists[N_BELOW, : TOLD_COSTS + 1] = 0
    for row in range(world.links.size):
        link = world.links[row]
        _weigh(world, link)
        if link.exists:
            world.lists[N_BELOW, _rank(world, link) + 1] += 1
    n = 0
    for rank in range(TOLD_COSTS + 1):
        n += world.lists[N_BELOW, rank]
        world.lists[N_BELOW, rank] = n
    for row in range(world.links.size):
        link = world.links[row]
        if link.exists:
            rank = _rank(world, link)
            world.lists[ORDERED, world.lists[N_BELOW, rank]] = row
            world.lists[N_BELOW, rank] += 1
    return n


@jit_inline
def _rank(world: World, link: Link) -> int:
    """Where a link stands among neighbours, from 0."""
    if world.devices[link.a].is_gateway or world.devices[link.b].is_gateway:
        return 0
    return min(link.least_cost, TOLD_COSTS - 1)


@jit
def _weigh(world: World, link: Link) -> None:
    """Find whether a link exists, whether anything can close it, and its least cost."""
    rules, a, b = world.rules[0], world.devices[link.a], world.devices[link.b]
    least_cost = cost_at(world, link, rules.best_cdb)
    link.exists = least_cost >= 0 and (a.is_relay == 1 or b.is_relay == 1)
    link.least_cost = least_cost
    if a.is_absent or b.is_absent:
        link.exists = 0
    link.worst_loss_cdb = 0
    for i in range(link.burdens_first, link.burdens_beyond):
        element = world.elements[world.places[i]]
        if element.effect != IS_COST:
            link.worst_loss_cdb += world.weights[i]
    link.is_firm = link.spare_cdb + rules.worst_cdb >= link.worst_loss_cdb


@jit
def _list_neighbour(world: World, row: int, other: int, link: int) -> None:
    device = world.devices[row]
    neighbour = world.neighbours[device.beyond]
    neighbour.device, neighbour.link = other, link
    neighbour.least_cost = world.links[link].least_cost
    device.beyond += 1


@jit
def _find_nearest(world: World) -> None:
    """Find the least that a path can ever cost: through links at their best moment, all up."""
    now = world.now[0]
    now.shortest, now.n_queued = NEVER, 0
    for row in range(world.devices.size):
        world.devices[row].nearest = NEVER
        if world.devices[row].is_gateway:
            _come_nearer(world, row, 0)
    while now.n_queued > 0:
        key = pop(world)
        cost, row = key >> 32, (key >> 16) & ID_MASK
        device = world.devices[row]
        if device.nearest < cost:
            continue
        if device.is_gateway == 0:
            now.shortest = min(now.shortest, cost)
        if device.is_relay:
            for k in range(device.first, device.beyond):
                neighbour = world.neighbours[k]
                _come_nearer(world, neighbour.device, cost + neighbour.least_cost)


@jit_inline
def _come_nearer(world: World, row: int, cost: int) -> None:
    """Queue a device that a path reaches at less than any before."""
    if cost < world.devices[row].nearest:
        world.devices[row].nearest = cost
        push(world, cost, row, row)
