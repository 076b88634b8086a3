"""One possible building: strengths taken over, and what each device hears in it."""

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.strengths import Lots
from resilience.lifetime.state.compiled import draw_strengths, jit
from resilience.lifetime.state.links import cost_at
from resilience.lifetime.state.world import IS_COST, Link, World

Ints = NDArray[np.int64]


@jit
def take_building(world: World, lots: Lots, strengths_cdbm: Ints, seed: int, number: int) -> None:
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
    """List the links of every device that are usable at the best moment."""
    devices = world.devices
    for row in range(devices.size):
        devices[row].beyond = 0
    for row in range(world.links.size):
        link = world.links[row]
        _weigh(world, link)
        if link.exists:
            devices[link.a].beyond += 1
            devices[link.b].beyond += 1
    first = 0
    for row in range(devices.size):
        devices[row].first, first = first, first + devices[row].beyond
        devices[row].beyond = devices[row].first
    for row in range(world.links.size):  # in order of (a, b), so each list is in order as well
        link = world.links[row]
        if link.exists:
            _list_neighbour(world, link.a, link.b, row)
            _list_neighbour(world, link.b, link.a, row)


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
            link.worst_loss_cdb += element.amount
    link.is_firm = link.spare_cdb + rules.worst_cdb >= link.worst_loss_cdb


@jit
def _list_neighbour(world: World, row: int, other: int, link: int) -> None:
    device = world.devices[row]
    neighbour = world.neighbours[device.beyond]
    neighbour.device, neighbour.link = other, link
    device.beyond += 1
