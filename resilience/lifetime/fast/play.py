"""Lifetime after lifetime, building after building, without leaving compiled code."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.connectivity.luck.strengths import Lots
from resilience.lifetime.fast.accounts import close, reset_crowds
from resilience.lifetime.fast.service import turn_outage
from resilience.lifetime.fast.step import begin_step, gather, settle
from resilience.lifetime.fast.sums import Sums, add_up, close_building
from resilience.lifetime.fast.wiring import take_building, wire
from resilience.lifetime.state.cells import put_in
from resilience.lifetime.state.compiled import (
    jit_entry,
    jit_inline,
    jit_once,
    phase_ms,
    stream,
    world_at,
)
from resilience.lifetime.state.queues import SLOT_BITS, next_strike_ms, schedule
from resilience.lifetime.state.world import ELEMENT_OF, NEVER, World

Ints = NDArray[np.int64]


class Row(NamedTuple):
    """Lifetimes in a row, and what the luck of their buildings works on.

    Parameters
    ----------
    seed, first, n : int
        Seed of the study, number of the first lifetime, and how many. [-]
    lots : Lots
        What is drawn for in every building. [-]
    strengths_cdbm : Ints
        Shape (links, 2), overwritten; of no links where the building is given. [cdBm]
    """

    seed: np.uint64
    first: int
    n: int
    lots: Lots
    strengths_cdbm: Ints


@jit_once
def _reset_now(world: World, seed: np.uint64, lifetime: int) -> None:
    """Begin a lifetime in which nothing has happened yet."""
    now = world.now[0]
    for depth in range(now.deepest + 1):
        world.depths[depth, :] = 0
    now.seed, now.lifetime = seed, lifetime
    now.epoch += 1
    now.step = now.time_ms = now.in_outage = now.paused_ms = now.outage_ms = now.outages = 0
    now.outage_since = now.back_since = now.no_primary_since = now.latest = -1
    now.is_switched = now.n_orphans = now.count_since = now.n_visits = now.n_cells = 0
    now.n_islands = now.n_logged = now.n_spells = now.deepest = 0
    now.n_dead = now.n_resurveys = now.n_replaced = now.n_gateways = now.n_rounds = (
        now.has_served
    ) = 0
    now.round_row = now.serving = -1
    now.n_fruitless = now.worked_ms = now.n_waiting = now.n_sent = now.work_starts_ms = 0
    reset_crowds(world)


@jit_once
def _reset_devices(world: World) -> None:
    """Put every device up, without a route and without a past."""
    now = world.now[0]
    for row in range(world.devices.size):
        device, account = world.devices[row], world.accounts[row]
        device.parent = device.branch = device.child = device.next = device.prev = -1
        device.routed = device.cost = device.mute = 0
        device.costed = device.costed_before = device.rejoined = device.offered = 0
        device.down = device.is_absent
        device.size = device.is_sensor
        device.saved = device.cleared = device.detached = device.touched = device.timed = 0
        device.replaced = 0
        device.drains = device.renewed = device.visit_end_ms = device.visits = device.island = 0
        device.repair_start = stream(now.seed, now.lifetime, device.repair_key)
        account.down_since = account.dark_since = account.cut_off_since = -1
        account.depth = account.spell_since = account.holder = -1
        account.silent_since = account.silent_until = account.had_route = 0
        account.orphan_ms = account.dark_ms = account.down_ms = account.cut_off_ms = 0
        account.not_reached_ms = account.interrupted_ms = account.reparentings = 0
        account.counts_as = 0
    for row in range(world.silences.size):
        silence = world.silences[row]
        silence.response_start = stream(now.seed, now.lifetime, silence.response_key)
        silence.part_start = stream(now.seed, now.lifetime, silence.part_key)
        silence.since = silence.seen_to_by = silence.brought = -1
        silence.resurveyed = silence.parts = silence.tried = 0
        silence.call = silence.left = silence.n_failures = silence.failed = 0
    for kind in range(world.stocks.size):
        stock = world.stocks[kind]
        stock.start = stream(now.seed, now.lifetime, stock.key)
        stock.here = max(stock.kept, 0)
        stock.n_coming = stock.ordered = 0
    for row in range(world.cells.size):
        cells = world.cells[row]
        cells.start = stream(now.seed, now.lifetime, cells.key)
        cells.batch_start = stream(now.seed, now.lifetime, cells.batch_key)
        cells.sets, cells.fresh_ms = 0, -cells.age_ms
        put_in(cells)
        cells.drain = cells.drain_since = cells.drained = cells.drained_ms = 0


@jit_once
def _reset_links(world: World) -> None:
    """Begin the swing of every link anew."""
    now, rules = world.now[0], world.rules[0]
    if rules.has_common:
        now.mesh_start = stream(now.seed, now.lifetime, rules.mesh_key)
        now.mesh_phase_ms = phase_ms(now.mesh_start, rules.holds_ms)
        for row in range(world.devices.size):
            device = world.devices[row]
            device.swing_start = stream(now.seed, now.lifetime, device.swing_key)
            device.swing_phase_ms = phase_ms(device.swing_start, rules.holds_ms)
    for row in range(world.links.size):
        link = world.links[row]
        if link.exists:
            link.held_until = link.struck_until = link.sought = -1
            if rules.swings:
                link.start = stream(now.seed, now.lifetime, link.key)
                link.phase_ms = phase_ms(link.start, rules.holds_ms)


@jit_inline
def is_played(world: World, row: int) -> bool:
    """Whether what an element holds is of this layout."""
    element = world.elements[row]
    for i in range(element.targets_first, element.targets_beyond):
        if world.devices[world.places[i]].is_absent == 0:
            return True
    return False


@jit_once
def _fill_calendar(world: World) -> None:
    """Put what comes first of everything that holds devices into the calendar."""
    now, rules = world.now[0], world.rules[0]
    world.calendar[:] = NEVER
    for slot in range(rules.device_slots):
        row = world.lists[ELEMENT_OF, slot]
        element = world.elements[row]
        element.start = stream(now.seed, now.lifetime, element.key)
        element.away = element.cycle = element.strikes = element.event_ms = 0
        element.since = element.later = element.earlier = element.held = -1
        if element.cells < 0 and is_played(world, row):
            schedule(world, slot, next_strike_ms(world, element, 0))
    schedule(world, rules.gateway_slot, 0)
    if rules.look_around_ms > 0:
        schedule(world, rules.look_slot, rules.look_around_ms)
    if rules.has_rounds == 1:
        schedule(world, rules.round_slot, rules.every_ms)


@jit_once
def begin_lifetime(world: World, seed: np.uint64, lifetime: int) -> None:
    """Begin a lifetime: nothing has happened, and the calendar tells what comes first."""
    _reset_now(world, seed, lifetime)
    _reset_devices(world)
    _reset_links(world)
    _fill_calendar(world)


@jit_once
def play_step(world: World) -> None:
    """Play the step that comes next; the calendar is not empty."""
    begin_step(world, world.calendar[1] >> SLOT_BITS)
    gather(world)
    settle(world)


@jit_once
def end_lifetime(world: World) -> None:
    """Close all accounts at the horizon."""
    begin_step(world, world.rules[0].horizon_ms)
    close(world)
    if world.now[0].in_outage:
        turn_outage(world, False)


@jit_once
def _play(world: World, seed: np.uint64, lifetime: int) -> None:
    """Play one lifetime."""
    begin_lifetime(world, seed, lifetime)
    while world.calendar[1] < NEVER:
        play_step(world)
    end_lifetime(world)


@jit_entry
def play(table: Ints, sums: Sums, row: Row) -> None:
    """Play lifetimes in a row and add them up; the first of several begins a building.

    ``table`` is that of the world, from ``table_of``.
    """
    world = world_at(table)
    for i in range(row.n):
        lifetime = row.first + i
        if i % LIFETIMES_PER_BUILDING == 0:
            number = lifetime // LIFETIMES_PER_BUILDING
            take_building(world, row.lots, row.strengths_cdbm, row.seed, number)
            wire(world)
        _play(world, row.seed, lifetime)
        add_up(world, sums, i)
        if (i + 1) % LIFETIMES_PER_BUILDING == 0:
            close_building(sums)
