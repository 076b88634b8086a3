"""Both engines tell the same story of crowded sites, at the edges of what may be stated.

The plays of ``test_properties`` are small, so that a history can be audited in full, and four
differences that an independent engine found had gone past them. They end after 120 ms, so that no
key ever grew too large for the compiled engine. Two gateways at most, of which one can stand by,
leave no standby that takes over from another in one step. A switch-over of 25 ms at most beside
strikes at whole tens hardly ever lies before the hand-over, where the time at which it was due is
negative. And only sensors had batteries, so that nobody asked what a gateway pays for forwarding.
Each of the first three made anew in the reference changes none of 400 such plays.

Here devices, links and elements are in the tens, gateways are many, most of them stand by and are
struck often, absences have several targets and share their milliseconds, settings come from the
edges of their ranges as often as from between, and every other lifetime is as long as the compiled
engine takes. The last test makes each of the four differences anew and has to find it.
"""

import os
from collections import Counter
from dataclasses import dataclass, replace
from random import Random

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from resilience import draws
from resilience.assumptions.catalogue import section
from resilience.building.site import Kind
from resilience.connectivity.air import Air
from resilience.connectivity.reception import (
    FULL,
    HIGH_CDBM,
    LOW_CDBM,
    ReceptionCurve,
    prr_units,
)
from resilience.connectivity.swing import N_LEVELS
from resilience.hazards.causes import Effect
from resilience.hazards.elements import (
    HOLDS_DEVICES,
    Cells,
    Course,
    Drawn,
    Element,
    Mended,
    Reach,
    Scripted,
)
from resilience.hazards.laws import NEVER, Law
from resilience.hazards.table import HazardTable
from resilience.lifetime.casting.worlds import LONGEST_MS, fits
from resilience.lifetime.engines import COMPILED, player
from resilience.lifetime.mesh import DrawnPath, GivenPath, Luck, Mesh, MeshDevice, MeshLink, Rules
from resilience.lifetime.reference import simulator
from resilience.lifetime.reference.routing import Gateways
from resilience.lifetime.reference.simulator import simulate
from resilience.lifetime.state.queues import SLOT_BITS
from resilience.lifetime.state.world import NEVER as NEVER_KEY
from resilience.units import ms_from_h

SHORT_MS = 120
EVEN = ReceptionCurve(np.linspace(0, FULL, HIGH_CDBM - LOW_CDBM + 1).astype(np.int64))
LEVELS_CDB = ((0,), (0,), (-300, 300), (-900, -200, 200, 900), (-400, 0, 0, 0))
GATEWAYS_TOO = 8  # times as often as another device


@dataclass(frozen=True)
class Play:
    """Everything that one lifetime is made of."""

    mesh: Mesh
    hazards: HazardTable
    rules: Rules
    luck: Luck

    def told(self):
        return simulate(self.mesh, self.hazards, self.rules, self.luck)


class Crowd:
    """One crowded site, made up from a number."""

    def __init__(self, number: int) -> None:
        self._random = Random(number)
        # As long as an engine takes, or so short that much falls on the same milliseconds.
        self._ms = self._one_of(1, LONGEST_MS // SHORT_MS)

    def _one_of(self, *values):
        return self._random.choice(values)

    def _is(self, chance: float) -> bool:
        return self._random.random() < chance

    def play(self) -> Play:
        mesh = self._mesh()
        hazards = HazardTable(self._elements(mesh), self._all_cells(mesh))
        seed = self._one_of(0, 2**64 - 1, self._random.getrandbits(64))
        return Play(mesh, hazards, self._rules(mesh.air), Luck(seed, self._one_of(0, 1, 999)))

    def _mesh(self) -> Mesh:
        numbers = {"g": self._one_of(1, 2, 3, 5), "r": self._one_of(0, 3, 8)}
        numbers["s"] = self._random.randint(3, 20)
        kinds = {"g": Kind.GATEWAY, "r": Kind.REPEATER, "s": Kind.SENSOR}
        devices = tuple(
            MeshDevice(
                f"{letter}{n:02}",
                kinds[letter],
                forwards=letter != "s" or self._is(0.8),
                standby=letter == "g" and self._is(0.6),
            )
            for letter, most in numbers.items()
            for n in range(most)
        )
        air = self._air()
        return Mesh(devices, self._links(devices, air), frozenset(self._some(devices)), air)

    def _some(self, devices: tuple[MeshDevice, ...]) -> list[str]:
        return [device.id for device in devices if self._is(0.3)]

    def _air(self) -> Air:
        levels_cdb = self._one_of(*LEVELS_CDB)
        levels = np.repeat(np.array(levels_cdb), N_LEVELS // len(levels_cdb))
        holds_ms = self._ms * self._one_of(1, 3, 10, 25, 1000)
        return Air(EVEN, prr_units(self._one_of(0.01, 0.30)), self._is(0.5), levels, holds_ms)

    def _links(self, devices: tuple[MeshDevice, ...], air: Air) -> tuple[MeshLink, ...]:
        share = self._one_of(2, 4, 8) / len(devices)
        ids = [device.id for device in devices]
        relays = {device.id for device in devices if device.forwards}
        return tuple(
            MeshLink(f"{a}~{b}", a, b, self._path(air))
            for n, a in enumerate(ids)
            for b in ids[n + 1 :]
            if not relays.isdisjoint((a, b)) and self._is(share)
        )

    def _path(self, air: Air) -> GivenPath | DrawnPath:
        if self._is(0.3):
            return GivenPath(self._one_of(128, 128, 171, 320))
        spare_cdb = self._random.randint(-air.best_cdb, self._one_of(300, 900, 6000))
        least = air.least_cdbm + spare_cdb
        heard_cdbm = (least + self._random.randint(0, 500), least + self._random.randint(0, 500))
        return DrawnPath(air, spare_cdb, heard_cdbm, heard_cdbm)

    def _law(self) -> Law:
        shape = self._one_of(draws.WEIBULL, draws.WEIBULL, draws.FIXED)
        return Law(shape, float(self._ms * self._one_of(1, 10, 10, 30, 70)), 1.0)

    def _elements(self, mesh: Mesh) -> tuple[Element, ...]:
        gateways = [device.id for device in mesh.devices if device.kind is Kind.GATEWAY]
        devices = [device.id for device in mesh.devices] + GATEWAYS_TOO * gateways
        links = [link.id for link in mesh.links]
        found = {}
        for _ in range(self._random.randint(0, 40)):
            effect = self._one_of(*4 * [Effect.DOWN], *Effect)
            among = devices if effect in HOLDS_DEVICES else links
            if among:
                element = self._element(effect, among)
                found[element.name] = element
        if self._is(0.5):
            found |= {element.name: element for element in self._shifts(gateways)}
        return tuple(sorted(found.values(), key=lambda one: one.name))

    def _element(self, effect: Effect, among: list[str]) -> Element:
        cause, amount = f"{self._one_of(*'abcd')} {effect}", self._one_of(150, 200, 700, 1000)
        first = self._one_of(*among)
        reach = self._reach() if self._is(0.5) else None
        if effect in HOLDS_DEVICES and self._is(0.4):
            share = self._one_of(0.0, 0.0, 0.5) if reach is None else 0.0
            reach = None if reach is None else replace(reach, spread_ms=0)
            repair = self._one_of(self._law(), NEVER)
            clock = Mended(self._law(), repair, share, 5.0 * self._ms, reach)
            return Element(cause, first, effect, (first,), amount, clock)
        clock = self._script() if self._is(0.6) else Drawn(self._law(), self._law(), reach)
        others = self._random.sample(among, min(len(among), self._one_of(0, 0, 1, 5)))
        return Element(cause, first, effect, (first, *sorted({*others} - {first})), amount, clock)

    def _reach(self) -> Reach:
        """Few events for many elements, some of which they pass by, reach late or in turn."""
        return Reach(
            ("event", self._one_of("x", "y"), "shared"),
            self._one_of(0.0, 0.3, 0.9, 1.0),
            self._ms * self._one_of(0, 0, 1, 10, 40),
            self._ms * self._one_of(0, 0, 10, 100),
        )

    def _shifts(self, gateways: list[str]) -> list[Element]:
        """Gateways that relieve each other to the millisecond; some shifts are nobody's."""
        edges = sorted(self._random.sample(range(13), 7))
        on_duty = [self._one_of(*gateways, "") for _ in edges[1:]]
        found = []
        for gateway in gateways:
            away: list[tuple[int, int]] = []
            for who, start, end in zip(on_duty, edges, edges[1:], strict=False):
                if who != gateway:
                    joins = away and away[-1][1] == start
                    away[-1:] = [(away[-1][0], end)] if joins else [*away[-1:], (start, end)]
            clock = Scripted(tuple((10 * self._ms * a, 10 * self._ms * b) for a, b in away))
            found.append(Element("shift", gateway, Effect.DOWN, (gateway,), clock=clock))
        return found

    def _script(self) -> Scripted:
        """Absences that begin and end with those of others, to the millisecond."""
        width = self._one_of(1, 10)
        edges = sorted(self._random.sample(range(140 // width), 2 * self._random.randint(1, 4)))
        times_ms = [self._ms * width * edge for edge in edges]
        return Scripted(tuple(zip(times_ms[::2], times_ms[1::2], strict=True)))

    def _all_cells(self, mesh: Mesh) -> tuple[Cells, ...]:
        share = self._one_of(0.0, 0.5, 1.0)
        return tuple(self._cells(device.id) for device in mesh.devices if self._is(share))

    def _cells(self, device: str) -> Cells:
        scale = self._one_of(1, 1000)  # what the cold keeps is counted in whole thousandths
        currents = self._one_of((5, 3, 12), (1, 7, 0), (0, 0, 0))
        leaf_na, forwarding_na, searching_na = (scale * one_na for one_na in currents)
        charge = float(scale * self._ms * self._one_of(1, 100, 300, 900))
        spread = Law(draws.WEIBULL, 1.0, self._one_of(4.0, 80.0))
        plain = Cells(
            *(device, charge, spread, leaf_na, forwarding_na, searching_na),
            repair=self._one_of(self._law(), NEVER),
            self_na=scale * self._one_of(0, 0, 1, 4),
            course=self._one_of(Course(), self._course()),
        )
        batch = self._one_of("", "b1", "b2")
        return replace(plain, batch=batch, batch_spread=spread) if batch else plain

    def _course(self) -> Course:
        """Twelve months of which one keeps nothing and others up to all but a twentieth."""
        kept = [self._one_of(0, 100, 500, 950) for _ in range(11)]
        month_ms = self._ms * self._one_of(1, 10, 25)
        return Course((*kept, 0), self._random.randrange(12 * month_ms), month_ms)

    def _rules(self, air: Air) -> Rules:
        looks_always = (0,) if air.best_cdb == air.worst_cdb else ()
        rejoins = sorted(self._one_of(0, 1, 10, 40, 500) for _ in range(2))
        return Rules(
            horizon_ms=self._ms * SHORT_MS,
            hysteresis=self._one_of(0, 0, 64, 192, 100_000),
            backups=self._one_of(0, 1, 2, 40),
            rejoin_short_ms=self._ms * rejoins[0],
            rejoin_long_ms=self._ms * rejoins[1],
            reformation_ms=self._ms * self._one_of(0, 0, 1, 10, 15, 30, 500),
            standby_switch_ms=self._ms * self._one_of(0, 1, 10, 25, 90, 4000),
            count_site_outages=self._is(0.5),
            look_around_ms=self._ms * self._one_of(*looks_always, 1, 10, 40, 1000),
        )


IS_SOAK = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
sized = settings(
    derandomize=not IS_SOAK,
    max_examples=2000 if IS_SOAK else 150,
    phases=[Phase.generate],  # a number has no smaller case
    deadline=None,
)
numbers = st.integers(0, 2**32 - 1)


@sized
@given(numbers)
def test_both_engines_tell_the_same_story_of_a_crowded_site(number):
    play = Crowd(number).play()
    assert fits(play.mesh, play.hazards, play.rules)
    compiled = player(COMPILED, play.mesh, play.hazards, play.rules)
    told = play.told()
    assert compiled.lifetime(play.luck) == told
    assert compiled.record(play.luck) == told.record


def test_the_longest_horizon_that_a_site_may_state_fits_into_the_compiled_engine():
    """The catalogue's most, of 8766 h a year; times and slots share 62 bits of a key."""
    years = next(one.most for one in section("") if one.name == "horizon_years")
    assert ms_from_h(years * 8766) <= LONGEST_MS
    assert LONGEST_MS << SLOT_BITS <= NEVER_KEY < 2**63


def _gateway_forwards_nothing(simulation, cells, sensors_behind):
    is_gateway = cells.device in simulation._mesh.gateways
    return LOAD_NA(simulation, cells, Counter() if is_gateway else sensors_behind)


def _switch_over_is_lost_before_the_hand_over(gateways, now, up):
    since_ms = gateways._without_primary_since
    if since_ms is not None and since_ms < 0:
        gateways._without_primary_since = now
    return SETTLE(gateways, now, up)


def _switch_over_is_lost_with_the_standby_that_served(gateways, now, up):
    if gateways.serving and not gateways.serving & up:
        gateways._without_primary_since = now
    return SETTLE(gateways, now, up)


def _world_stops_after_69_years(simulation):
    horizon_ms = min(simulation._rules.horizon_ms, 1 << 41)
    simulation._rules = replace(simulation._rules, horizon_ms=horizon_ms)
    return RUN(simulation)


LOAD_NA, RUN, SETTLE = simulator._Simulation._load_na, simulator._Simulation.run, Gateways.settle


@pytest.mark.parametrize(
    ("owner", "name", "mistaken"),
    [
        (simulator._Simulation, "_load_na", _gateway_forwards_nothing),
        (simulator._Simulation, "run", _world_stops_after_69_years),
        (Gateways, "settle", _switch_over_is_lost_before_the_hand_over),
        (Gateways, "settle", _switch_over_is_lost_with_the_standby_that_served),
    ],
)
def test_each_difference_between_engines_that_was_missed_would_show(
    monkeypatch, owner, name, mistaken
):
    """Each is made anew in the specification, which then has to tell some lifetime otherwise."""
    for number in range(150):
        play = Crowd(number).play()
        told = play.told()
        with monkeypatch.context() as patched:
            patched.setattr(owner, name, mistaken)
            if play.told() != told:
                return
    pytest.fail("no play tells the difference")
