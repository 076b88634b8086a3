"""What lifetimes add up to while they are played."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from resilience.lifetime.fast.accounts import most_beyond
from resilience.lifetime.state.books import CROWDS, Account
from resilience.lifetime.state.compiled import jit, jit_inline
from resilience.lifetime.state.world import ELEMENT_OF, Cells, World
from resilience.lifetime.tally import COLUMNS

Ints = NDArray[np.int64]

PLACE = {name: place for place, name in enumerate(COLUMNS)}
(
    ORPHAN, DARK, DOWN, CUT_OFF, NOT_REACHED, INTERRUPTED, SITE_OUTAGE, ROUTED, DEPTH, DEEPEST,
    MOST, MOVES, UNREACHED, VISITS, CELLS, FRUITLESS, WORKED, RESURVEYS, REPLACED, GATEWAYS, ROUNDS,
) = (
    PLACE[name] for name in (
        "orphan_ms", "dark_ms", "down_ms", "cut_off_ms", "not_reached_ms", "interrupted_ms",
        "site_outage_ms", "routed_ms", "depth_ms", "deepest", "most_orphans", "reparentings",
        "unreached", "visits", "cells", "fruitless", "worked_ms", "resurveys", "devices",
        "gateways", "rounds",
    )
)  # fmt: skip

BEYOND = PLACE["most_orphans_beyond_0"]

# A square of up to 84 bits is kept as three sums of whole numbers that never overflow:
# (high 2^22 + low)^2 = high^2 2^44 + 2 high low 2^22 + low^2.
HALF_BITS = 22
HALF_MASK = (1 << HALF_BITS) - 1
TOTAL, HIGH, CROSS, LOW, PAIR, SUM_COLUMNS = range(6)
FIGURES = 4  # of a sensor: orphan, dark, down, not reached, in the order of SENSOR_FIGURES

(
    LOST_IN_HEAP, BLAME_LAYOUT, BLAME_RADIO, EARLY_LAYOUT, EARLY_RADIO, BEGAN_LAYOUT, BEGAN_RADIO,
    EXTRA_COLUMNS,
) = range(8)  # fmt: skip
N_LIFETIMES, DRAIN_TOTAL, DRAIN_LEAST, DRAIN_MOST, DRAIN_COLUMNS = range(5)


class Sums(NamedTuple):
    """Room for what lifetimes come to.

    Parameters
    ----------
    rows : Ints
        Shape (lifetimes, COLUMNS). [ms or -]
    sensors : Ints
        Shape (FIGURES, devices, SUM_COLUMNS). [ms, ms^2]
    drains : Ints
        Mean draws of lifetimes, shape (batteries, DRAIN_COLUMNS). [nA or -]
    extra : Ints
        Shape (EXTRA_COLUMNS,). [ms or -]
    """

    rows: Ints
    sensors: Ints
    drains: Ints
    extra: Ints

    @classmethod
    def of(cls, n: int, n_devices: int, n_batteries: int) -> "Sums":
        """Return room for some lifetimes of so many devices, some of them on cells."""
        return cls(
            np.zeros((n, len(COLUMNS)), np.int64),
            np.zeros((FIGURES, n_devices, SUM_COLUMNS), np.int64),
            np.zeros((n_batteries, DRAIN_COLUMNS), np.int64),
            np.zeros(EXTRA_COLUMNS, np.int64),
        )


@jit_inline
def _figure(account: Account, figure: int) -> int:
    """One of the figures of a sensor."""
    if figure == 0:
        return account.orphan_ms
    if figure == 1:
        return account.dark_ms
    return account.down_ms if figure == 2 else account.not_reached_ms


@jit
def add_up(world: World, sums: Sums, i: int) -> None:
    """Write the row of a lifetime that has just ended and add it to the sums of its sensors."""
    now, row = world.now[0], sums.rows[i]
    row[:] = 0
    for place in range(world.devices.size):
        account = world.accounts[place]
        row[MOVES] += account.reparentings
        if world.devices[place].is_sensor:
            row[ORPHAN] += account.orphan_ms
            row[DARK] += account.dark_ms
            row[DOWN] += account.down_ms
            row[NOT_REACHED] += account.not_reached_ms
            row[CUT_OFF] += account.cut_off_ms
            row[INTERRUPTED] += account.interrupted_ms
            row[UNREACHED] += account.had_route == 0
            for figure in range(FIGURES):
                sums.sensors[figure, place, PAIR] += _figure(account, figure)
    for depth in range(1, now.deepest + 1):
        for place in range(world.devices.size):
            row[ROUTED] += world.depths[depth, place]
            row[DEPTH] += depth * world.depths[depth, place]
    for slot in range(world.rules[0].device_slots):
        _count_strikes(world, row, slot)
    for n in range(world.counts.size):
        if world.counts[n].count_ms > 0:
            row[MOST] = n
    for kind in range(CROWDS):
        for place in range(world.durations.size):
            at = BEYOND + kind * world.durations.size + place
            row[at] = most_beyond(world, kind, world.durations[place])
    row[SITE_OUTAGE], row[DEEPEST] = now.outage_ms, now.deepest
    row[VISITS], row[CELLS] = now.n_visits, now.n_cells
    row[FRUITLESS], row[WORKED] = now.n_fruitless, now.worked_ms
    row[RESURVEYS], row[ROUNDS] = now.n_resurveys, now.n_rounds
    row[REPLACED], row[GATEWAYS] = now.n_replaced, now.n_gateways
    for place in range(world.cells.size):
        _add_drain(world.cells[place], sums.drains[place])
    _add_extra(world, sums.extra)


@jit_inline
def _add_drain(cells: Cells, sums: Ints) -> None:
    """Add what a device on cells drew on average, if it was ever up."""
    if cells.drained_ms == 0:
        return
    drain_na = cells.drained // cells.drained_ms
    is_first = sums[N_LIFETIMES] == 0
    sums[N_LIFETIMES] += 1
    sums[DRAIN_TOTAL] += drain_na
    sums[DRAIN_LEAST] = drain_na if is_first else min(sums[DRAIN_LEAST], drain_na)
    sums[DRAIN_MOST] = max(sums[DRAIN_MOST], drain_na)


@jit_inline
def _count_strikes(world: World, row: Ints, slot: int) -> None:
    element = world.elements[world.lists[ELEMENT_OF, slot]]
    element.struck += element.strikes
    if element.column >= 0:
        row[element.column] += element.strikes


@jit_inline
def _add_extra(world: World, extra: Ints) -> None:
    """Add what no element and no sensor stands for."""
    now = world.now[0]
    extra[LOST_IN_HEAP] |= now.heap_is_full
    extra[BLAME_LAYOUT] += now.layout_ms
    extra[BLAME_RADIO] += now.radio_draw_ms
    extra[EARLY_LAYOUT] += now.early_layout_ms
    extra[EARLY_RADIO] += now.early_radio_draw_ms
    extra[BEGAN_LAYOUT] += now.layout_began
    extra[BEGAN_RADIO] += now.radio_draw_began
    now.layout_ms = now.radio_draw_ms = now.layout_began = now.radio_draw_began = 0
    now.early_layout_ms = now.early_radio_draw_ms = 0


@jit
def close_building(sums: Sums) -> None:
    """Add what the lifetimes of one building came to, and its square."""
    for figure in range(sums.sensors.shape[0]):
        for device in range(sums.sensors.shape[1]):
            row = sums.sensors[figure, device]
            high, low = row[PAIR] >> HALF_BITS, row[PAIR] & HALF_MASK
            row[TOTAL] += row[PAIR]
            row[HIGH] += high * high
            row[CROSS] += high * low
            row[LOW] += low * low
            row[PAIR] = 0
