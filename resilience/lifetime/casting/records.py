"""One lifetime played on a world, and from its log back to a record and a history."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from resilience.connectivity.luck.strengths import WEIGHTS, Lots
from resilience.draws import MASK
from resilience.hazards.elements import HOLDS_DEVICES, Mended
from resilience.hazards.fates import Fate
from resilience.lifetime.casting.worlds import Cast
from resilience.lifetime.fast.play import Row, play
from resilience.lifetime.fast.sums import (
    BEGAN_LAYOUT,
    BEGAN_RADIO,
    BLAME_LAYOUT,
    BLAME_RADIO,
    DRAIN_COLUMNS,
    DRAIN_TOTAL,
    EARLY_LAYOUT,
    EARLY_RADIO,
    EXTRA_COLUMNS,
    N_LIFETIMES,
    Sums,
)
from resilience.lifetime.mesh import Luck
from resilience.lifetime.record import (
    LAYOUT,
    RADIO_DRAW,
    Absence,
    Call,
    Held,
    History,
    Holder,
    Lifetime,
    ParentChange,
    Record,
    Spell,
    joined_held,
)
from resilience.lifetime.state import books
from resilience.lifetime.state import world as w
from resilience.lifetime.state.compiled import rows, table_of

Lines = list[tuple[int, int, int, int, int, int]]
NO_KEYS = np.zeros(0, np.uint64)
NOTHING = np.zeros(0)
NO_LOTS = Lots(
    decorrelation_m=1.0,
    power_spread=0.0,
    shared_keys=np.zeros(2, np.uint64),
    points_m=np.zeros((0, 3)),
    ends=np.zeros((0, 2), np.int64),
    weights=np.zeros((0, WEIGHTS)),
    own_keys=NO_KEYS,
    half_keys=NO_KEYS,
    crossing_start=np.zeros(1, np.int64),
    crossing_of=np.zeros(0, np.int64),
    crossing_loss_db=NOTHING,
    construction_keys=NO_KEYS,
    construction_spread_db=NOTHING,
    waves=np.zeros((0, 4)),
    field=NOTHING,
    offsets_db=NOTHING,
)
# Figures of a record about upkeep, and what the engine calls them.
UPKEEP = {
    "visits": "n_visits",
    "cells": "n_cells",
    "fruitless": "n_fruitless",
    "worked_ms": "worked_ms",
    "resurveys": "n_resurveys",
    "devices": "n_replaced",
    "gateways": "n_gateways",
    "rounds": "n_rounds",
}
NO_STRENGTHS = np.zeros((0, 2), np.int64)


class Recorder:
    """Plays lifetimes in one possible building and tells each of them.

    Parameters
    ----------
    cast : Cast
        The world, and the names of its rows. [-]
    """

    def __init__(self, cast: Cast) -> None:
        self._cast = cast
        self._drains = np.zeros((0, DRAIN_COLUMNS), np.int64)
        self._extra = np.zeros(EXTRA_COLUMNS, np.int64)

    def record(self, luck: Luck) -> Record:
        """Play one lifetime and return its record."""
        self._play(luck, 0)
        return self._record()

    def lifetime(self, luck: Luck, with_links: bool = True) -> Lifetime:
        """Play one lifetime and return its record and its history."""
        self._play(luck, 4096)
        return Lifetime(self._record(), self._history(luck, with_links))

    def _play(self, luck: Luck, n_lines: int) -> None:
        """Play until everything is large enough to hold the lifetime."""
        world, seed = self._cast.world, luck.seed & MASK
        if world.log.size != n_lines:
            self._resize(log=rows("log", n_lines))
        while True:
            world = self._cast.world
            n_devices = len(self._cast.devices)
            sums = Sums.of(1, n_devices, world.cells.size)
            for name in w.OVER_LIFETIMES:
                world.elements[name] = 0
            world.now["heap_is_full"] = 0
            play(
                table_of(world), sums, Row(np.uint64(seed), luck.lifetime, 1, NO_LOTS, NO_STRENGTHS)
            )
            self._drains, self._extra, now = sums.drains, sums.extra, world.now[:][0]
            if now["heap_is_full"]:
                self._resize(heap=np.zeros(2 * len(world.heap), np.int64))
            elif now["n_spells"] > world.spells.size:
                self._resize(spells=rows("spells", 2 * int(now["n_spells"])))
            elif n_lines and now["n_logged"] > world.log.size:
                self._resize(log=rows("log", int(now["n_logged"])))
            else:
                return

    def _resize(self, **arrays: Any) -> None:
        self._cast = self._cast.with_world(self._cast.world._replace(**arrays))

    def _record(self) -> Record:
        cast, world = self._cast, self._cast.world
        devices, accounts, now = world.devices, world.accounts, world.now[:][0]
        sensors = [(row, id) for row, id in enumerate(cast.devices) if devices["is_sensor"][row]]
        moves = accounts["reparentings"].tolist()
        longest_ms = np.split(world.counts["longest_ms"], books.CROWDS)
        orphans, dark, silent = (tuple(times[:-1].tolist()) for times in longest_ms)

        def times(name: str) -> dict[str, int]:
            return {id: int(accounts[name][row]) for row, id in sensors}

        return Record(
            orphan_ms=times("orphan_ms"),
            dark_ms=times("dark_ms"),
            down_ms=times("down_ms"),
            interrupted_ms=times("interrupted_ms"),
            not_reached_ms=times("not_reached_ms"),
            cut_off_ms=times("cut_off_ms"),
            depth_ms=self._depths(sensors),
            count_ms={n: ms for n, ms in enumerate(world.counts["count_ms"].tolist()) if ms},
            longest_above_ms=orphans,
            longest_dark_ms=dark,
            longest_silent_ms=silent,
            reparentings={id: n for id, n in zip(cast.devices, moves, strict=True) if n},
            spells=self._spells(),
            blame_ms=self._by_holder("blame_ms", BLAME_LAYOUT, BLAME_RADIO),
            began=self._by_holder("began", BEGAN_LAYOUT, BEGAN_RADIO),
            early_blame_ms=self._by_holder("early_blame_ms", EARLY_LAYOUT, EARLY_RADIO),
            site_outage_ms=int(now["outage_ms"]),
            struck=self._struck(),
            unreached=tuple(id for row, id in sensors if not accounts["had_route"][row]),
            drain_na=self._drain_na(),
            site_outages=int(now["outages"]),
            **{name: int(now[column]) for name, column in UPKEEP.items()},
        )

    def _by_holder(self, name: str, layout: int, radio_draw: int) -> dict[Holder, int]:
        values = self._cast.world.elements[name]
        held = {self._cast.elements[row]: int(values[row]) for row in values.nonzero()[0]}
        held[LAYOUT], held[RADIO_DRAW] = int(self._extra[layout]), int(self._extra[radio_draw])
        return {holder: value for holder, value in held.items() if value}

    def _struck(self) -> dict[Holder, int]:
        struck = self._cast.world.elements["struck"]
        return {
            element.name: int(struck[row])
            for row, element in self._cast.played.items()
            if element.effect in HOLDS_DEVICES and struck[row]
        }

    def _drain_na(self) -> dict[str, int]:
        cells = self._cast.world.devices["cells"].tolist()
        return {
            id: int(self._drains[row, DRAIN_TOTAL])
            for id, row in zip(self._cast.devices, cells, strict=True)
            if row >= 0 and self._drains[row, N_LIFETIMES]
        }

    def _depths(self, sensors: list[tuple[int, str]]) -> dict[str, dict[int, int]]:
        depths = self._cast.world.depths
        return {
            id: {int(depth): int(depths[depth, row]) for depth in depths[:, row].nonzero()[0]}
            for row, id in sensors
        }

    def _spells(self) -> tuple[Spell, ...]:
        world, devices = self._cast.world, self._cast.devices
        told = world.spells[: int(world.now["n_spells"][0])].tolist()
        spells = [
            Spell(devices[sensor], start_ms, end_ms, orphan_ms, bool(is_cut))
            for sensor, start_ms, end_ms, orphan_ms, is_cut in told
        ]
        return tuple(sorted(spells, key=lambda spell: (spell.sensor, spell.start_ms)))

    def _history(self, luck: Luck, with_links: bool) -> History:
        world, devices = self._cast.world, self._cast.devices
        lines: Lines = world.log[: int(world.now["n_logged"][0])].tolist()

        def id_of(row: int) -> str | None:
            return None if row < 0 else devices[row]

        def told(code: int) -> list[tuple[int, int, int, int]]:
            return [
                (at, one, two, three)
                for at, is_code, one, two, three, _ in lines
                if is_code == code
            ]

        changes = [
            ParentChange(at, devices[row], id_of(old), id_of(new))
            for at, row, old, new in told(books.LOG_PARENT)
        ]
        first: dict[str, str | None] = {
            id: None for row, id in enumerate(devices) if not world.devices["is_gateway"][row]
        }
        first.update((one.device, one.new) for one in changes if one.time_ms == 0)
        later = [one for one in changes if one.time_ms > 0]
        return History(
            first,
            tuple(
                sorted(
                    self._absences(lines, luck, with_links),
                    key=lambda one: (one.start_ms, one.element.name),
                )
            ),
            tuple(sorted(later, key=lambda one: (one.time_ms, one.device))),
            tuple((since, at) for at, since, *_ in told(books.LOG_OUTAGE)),
            tuple(sorted((at, self._cast.links[row]) for at, row, *_ in told(books.LOG_FADED))),
            self._calls(lines),
            joined_held(self._held(lines)),
        )

    def _held(self, lines: Lines) -> Iterator[Held]:
        """Yield orphan time as logged, with what it is put down to."""
        others = {w.LAYOUT: LAYOUT, w.RADIO_DRAW: RADIO_DRAW}
        for _, code, row, holder, start_ms, end_ms in lines:
            if code in {books.LOG_HELD, books.LOG_HELD_EARLY}:
                held_by = others[holder] if holder < 0 else self._cast.elements[holder]
                is_early = code == books.LOG_HELD_EARLY
                yield Held(self._cast.devices[row], held_by, start_ms, end_ms, is_early)

    def _calls(self, lines: Lines) -> tuple[Call, ...]:
        """Calls, from their opening to the end of the visit; a device has one at a time."""
        devices, elements = self._cast.devices, self._cast.elements
        found: list[Call] = []
        open_: dict[int, Call] = {}
        mended: dict[int, list[Holder]] = {}
        for time_ms, code, row, other, *_ in lines:
            if code == books.LOG_CALL:
                open_[row] = Call(devices[row], other, time_ms)
            elif code == books.LOG_LEFT:
                open_[row] = replace(open_[row], left_ms=time_ms)
            elif code == books.LOG_MENDED:
                mended.setdefault(row, []).append(elements[other])
            elif code == books.LOG_OVER:
                names = tuple(sorted(set(mended.pop(row, ()))))
                over = replace(open_.pop(row), closed_ms=time_ms, mended=names, n_dead=other)
                found.append(over)
            elif code == books.LOG_CLOSED:
                by = devices[other] if other >= 0 else ""
                found.append(replace(open_.pop(row), closed_ms=time_ms, seen_to_by=by))
        told = [*found, *open_.values()]
        return tuple(sorted(told, key=lambda call: (call.opened_ms, call.device)))

    def _absences(self, lines: Lines, luck: Luck, with_links: bool) -> list[Absence]:
        """Absences as logged, and those of links, which run on their draws alone."""
        played, horizon_ms = self._cast.played, int(self._cast.world.rules["horizon_ms"][0])
        found, struck = [], {}
        ended: dict[int, list[int]] = {}  # what strikes links, by visits
        for time_ms, code, row, other, *_ in lines:
            if code == books.LOG_STRIKE:
                struck[row] = time_ms
            elif code == books.LOG_END:
                found.append(Absence(played[row], struck.pop(row), time_ms))
            elif code == books.LOG_MENDED:
                ended.setdefault(other, []).append(time_ms)
        found.extend(Absence(played[row], start_ms, None) for row, start_ms in struck.items())
        for row, element in played.items() if with_links else ():
            clock = element.clock
            if element.effect not in HOLDS_DEVICES and not isinstance(clock, Mended):
                fate = Fate.of(element, luck.seed, luck.lifetime)
                for start_ms, end_ms in fate.absences_ms(clock, horizon_ms):
                    within = (
                        at
                        for at in ended.get(row, ())
                        if start_ms < at and (end_ms is None or at < end_ms)
                    )
                    found.append(Absence(element, start_ms, next(within, end_ms)))
        return found
