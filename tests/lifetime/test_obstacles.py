"""Doors that shut and vans that come: every link through them changes at once, in both engines."""

import math
from collections import Counter
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.assumptions.constructions import Construction
from resilience.building.settings import Blockage, Duration, Hazards, Obstacles
from resilience.building.structure import Change, Door, Obstacle, Wall
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.prospect import prospect
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Drawn, Element
from resilience.hazards.laws import exponential
from resilience.hazards.table import HazardTable, hazard_table
from resilience.lifetime.engines import COMPILED, REFERENCE, player, tallier
from resilience.lifetime.mesh import Luck, Rules, mesh_of
from resilience.lifetime.playing import Stage
from resilience.lifetime.pruning import pruned
from resilience.lifetime.tally import COLUMNS, tallied
from resilience.lifetime.tracing import trace
from resilience.units import MS_PER_H

SEED = 20260701
PER_YEAR, LASTS_H = 876.6, 5.0  # shut every 10 h on the mean, for 5 h
SHUTS = Change(60.0, PER_YEAR, Duration("exponential", mean_h=LASTS_H))
SURE = {
    "environment": "quiet",
    "direction_difference_db": 0.0,
    "distance_power_spread": 0.0,
    "shadowing_drawn_db": 0.0,
    "swing_db": 0.0,
}
SHELL, LEAF = Construction(loss_db=55.0, spread_db=0.0), Construction(loss_db=1.0, spread_db=0.0)
PLACES = {"g1": (2.0, 0.0), "s1": (1.0, 1.5), "s2": (8.0, 0.05), "s3": (8.0, -0.05)}
OFF = dict.fromkeys(field.name for field in fields(Hazards))


@pytest.fixture(scope="module")
def halves(small_site):
    """Builder of a site: a gateway and s1 before a wall at x = 5, s2 and s3 behind its one door.

    No building differs from the next, and only the door changes.
    """

    def made(change=SHUTS, horizon_years=1.0, obstacles=(), **hazards):
        wall = Wall("W1", "L1", 5.0, -50.0, 5.0, 50.0, "shell")
        building = replace(
            small_site.open_plan,
            walls=(wall,),
            doors=(Door("D1", "W1", 49.0, 2.0, 2.9, "leaf", change),),
            obstacles=tuple(obstacles),
            constructions=(
                *small_site.open_plan.constructions,
                ("shell", SHELL),
                ("leaf", LEAF),
            ),
        )
        devices = (small_site.device(id, *place) for id, place in PLACES.items())
        return small_site(
            small_site.layout("a", *devices),
            building=building,
            horizon_years=horizon_years,
            radio=SURE,
            hazards=OFF | {"obstacles": Obstacles(0.5)} | hazards,
        )

    return made


def stage(site, engine=COMPILED):
    return Stage(site, site.layouts[0], SEED, False, engine)


def orphan_shares(site, n_lifetimes):
    """Share of its time for which a sensor behind the door is an orphan, by lifetime."""
    played = stage(site).tally(0, n_lifetimes)
    orphan_ms = played.rows[:, COLUMNS.index("orphan_ms")]
    return orphan_ms / 2 / (site.horizon_years * 8766 * MS_PER_H)  # s2 and s3 alike


def agree(samples, expected):
    """Four standard errors of the mean over lifetimes, both ways."""
    error = np.std(samples, ddof=1) / math.sqrt(len(samples))
    assert error > 0, "nothing varied, so nothing was tested"
    assert abs(np.mean(samples) - expected) < 4 * error


@pytest.mark.parametrize("distribution", ["exponential", "fixed"])
def test_whoever_hangs_behind_a_door_is_an_orphan_while_it_is_shut(halves, distribution):
    """Alternating renewal: in the long run d / (8766 / r + d) of the time (Ross, Stochastic
    Processes, theorem 3.4.4), whatever the shapes; the mean of a year is short of it by
    lam m2 / (2 (1 + lam d)^2 T), m2 the second moment of the time shut.

    The term follows by expanding the transform of the process at 0 and is about 1e-4.
    """
    change = replace(SHUTS, lasts=Duration(distribution, mean_h=LASTS_H))
    rate = PER_YEAR / 8766
    share = LASTS_H / (1 / rate + LASTS_H)
    assert share == pytest.approx(1 / 3)
    second_moment = LASTS_H**2 * (2 if distribution == "exponential" else 1)
    transient = rate * second_moment / (2 * (1 + rate * LASTS_H) ** 2 * 8766)
    agree(orphan_shares(halves(change), 200), share - transient)


def test_whoever_hangs_before_the_door_is_never_an_orphan(halves):
    record = stage(halves(horizon_years=0.2)).play(0).record
    assert record.orphan_ms["s1"] == 0
    assert min(record.orphan_ms["s2"], record.orphan_ms["s3"]) > 0


def test_both_engines_tell_the_same_of_a_door(halves):
    site = halves(horizon_years=0.1, link_blockage=Blockage(300.0, 0.5, 20.0, 30.0, SHUTS.lasts))
    reference = stage(site, REFERENCE)
    for number in range(6):
        assert stage(site).play(number) == reference.play(number)
    found, expected = stage(site).tally(0, 6), reference.tally(0, 6)
    assert found.rows.tolist() == expected.rows.tolist()
    assert (+found.blame_ms, +found.began) == (+expected.blame_ms, +expected.began)


def test_all_links_through_a_door_change_in_one_step(halves):
    """One absence, and both sensors behind it lose and find their parent in its milliseconds."""
    history = stage(halves(horizon_years=0.1)).play(0).history
    first = history.absences[0]
    assert first.element.name == ("obstacle", "D1")
    assert {"g1~s2", "g1~s3", "s1~s2", "s1~s3"} == set(first.element.targets)
    for time_ms, ends in ((first.start_ms, ("g1", None)), (first.end_ms, (None, "g1"))):
        moves = [one for one in history.parents if one.time_ms == time_ms]
        assert [(one.device, one.old, one.new) for one in moves] == [
            ("s2", *ends),
            ("s3", *ends),
        ]


def test_the_door_is_blamed_for_what_it_cuts_off(halves):
    lifetime = stage(halves(horizon_years=0.1)).play(0)
    record = lifetime.record
    assert record.blame_ms == {("obstacle", "D1"): sum(record.orphan_ms.values())}
    assert record.began == {("obstacle", "D1"): 2 * len(lifetime.history.absences)}
    assert record.strikes == {}, "it holds no device"


def test_a_van_in_the_doorway_cuts_off_like_the_door_and_is_blamed(halves):
    van = Obstacle("V1", "vehicle", "L1", 6.5, 0.0, 1.0, 4.0, 0.0, 2.8, 0.0, SHUTS)
    still = replace(SHUTS, per_year=0.0)
    site = halves(still, 0.1, obstacles=(van,))
    record = stage(site).play(0).record
    assert record.orphan_ms["s1"] == 0
    assert record.blame_ms == {("obstacle", "V1"): sum(record.orphan_ms.values())}
    assert record.blame_ms["obstacle", "V1"] > 0


def test_what_adds_too_little_changes_nothing_and_is_left_out(halves):
    """A link of more than 40 dB to spare behind 0.5 dB costs the same to the last digit."""
    site = halves(replace(SHUTS, adds_db=0.5), horizon_years=0.1)
    table = link_table(site, site.layouts[0])
    hazards = hazard_table(site, table)
    mesh = mesh_of(table, table.calm_cdbm())
    assert [one.name for one in hazards.elements] == [("obstacle", "D1")]
    assert pruned(mesh, hazards).elements == ()
    rules = Rules.of(site.routing, 0.1, False)
    for engine in (REFERENCE, COMPILED):
        told = [
            player(engine, mesh, rows, rules).lifetime(Luck(SEED, 0))
            for rows in (hazards, pruned(mesh, hazards))
        ]
        assert len(told[0].history.absences) > 20
        assert told[1].history.absences == ()
        assert told[0].record == told[1].record


def test_losses_of_a_door_and_a_van_count_together(halves):
    """Each of 25 dB leaves the link in use, both together close it: independent, so with p q."""
    change = replace(SHUTS, adds_db=25.0)
    van = Obstacle("V1", "vehicle", "L1", 6.5, 0.0, 1.0, 4.0, 0.0, 2.8, 0.0, change)
    alone = halves(change)
    assert orphan_shares(alone, 2).max() == 0
    share = LASTS_H / (8766 / PER_YEAR + LASTS_H)
    agree(orphan_shares(halves(change, obstacles=(van,)), 200), share**2)


def test_the_audit_form_names_only_links_that_the_building_has(halves, small_site):
    """Device s4 whispers: it hears the others through the door, and nobody hears it."""
    layout = halves().layouts[0]
    far = (*layout.devices, small_site.device("s4", 20.0, 0.0, transmit_dbm=-60.0))
    site = halves(horizon_years=0.02)
    site = replace(site, layouts=(replace(layout, devices=far),))
    form = trace(site, "a", 0, SEED).to_json()
    present = {link["id"] for link in form["links"]}
    struck = {target for absence in form["absences"] for target in absence["target"]}
    assert struck
    assert struck <= present
    (door,) = hazard_table(site, link_table(site, site.layouts[0])).elements
    assert "g1~s4" in door.targets
    assert "g1~s4" not in present


IDS = ("g1", "g2", "r1", "s1", "s2", "s3", "s4", "s5")


@settings(max_examples=25, derandomize=True, deadline=None)
@given(data=st.data(), seed=st.integers(0, 999), mute=st.booleans())
def test_what_strikes_many_links_strikes_only_those_that_a_building_has(
    small_site, data, seed, mute
):
    """A building draw leaves some of the links out; the compiled engine plays all from one list."""
    place = st.tuples(st.integers(0, 12), st.integers(0, 4))
    places = data.draw(st.lists(place, min_size=len(IDS), max_size=len(IDS), unique=True))
    devices = [
        small_site.device(id, 5.0 * x, 5.0 * y, forwards=not (mute and id in ("s1", "s2")))
        for id, (x, y) in zip(IDS, places, strict=True)
    ]
    layout = small_site.layout("a", *devices)
    site = small_site(layout, horizon_years=0.03)
    table = link_table(site, layout)
    ids = [link.id for link in table.links]
    targets = [data.draw(st.sets(st.sampled_from(ids), min_size=1)) for _ in range(3)]
    hazards = HazardTable(
        tuple(
            Element(
                "obstacle",
                f"D{k}",
                Effect.LOSS,
                tuple(sorted(struck)),
                data.draw(st.sampled_from((300, 1000, 3000))),
                Drawn(exponential(15.0), exponential(8.0)),
            )
            for k, struck in enumerate(targets)
        ),
        (),
    )
    rules, ready = Rules.of(site.routing, 0.03, False), prospect(table)
    together = tallier(ready, mesh_of(table, table.calm_cdbm()), hazards, rules)
    assert together is not None
    found = together.tally(seed, 0, 6)
    records = []
    for number in range(6):
        mesh = mesh_of(table, ready.strengths_cdbm(seed, number // 2))
        rows = pruned(mesh, hazards)
        records.append(player(REFERENCE, mesh, rows, rules).record(Luck(seed, number)))
        assert player(COMPILED, mesh, rows, rules).record(Luck(seed, number)) == records[-1]
    expected = tallied(0, records)
    assert found.rows.tolist() == expected.rows.tolist()
    assert Counter(found.blame_ms) == Counter(expected.blame_ms)
    assert Counter(found.began) == Counter(expected.began)
