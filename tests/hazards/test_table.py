"""The hazard table of a small site: who gets a row, and that the row says what the site says."""

import math
from collections import Counter
from dataclasses import fields, replace

import numpy as np
import pytest

from resilience import draws
from resilience.building.settings import (
    Battery,
    Blockage,
    Duration,
    EarlyFailure,
    Hardware,
    Hazards,
    MainsOutage,
)
from resilience.building.site import GivenLink, Kind
from resilience.building.structure import Change, Door, Obstacle, Wall
from resilience.connectivity.links import link_table
from resilience.errors import KeyCollisionError
from resilience.hazards import elements
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Drawn, Mended, Scripted
from resilience.hazards.fates import DeviceFate, Fate
from resilience.hazards.laws import NEVER
from resilience.hazards.table import hazard_table
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.playing import Stage

H = 3_600_000  # ms
NONE = dict.fromkeys(field.name for field in fields(Hazards))


def table_of(site):
    return hazard_table(site, link_table(site, site.layouts[0]))


def rows(site, cause):
    return {row.id: row for row in table_of(site).elements if row.cause == cause}


def lasts_of(row):
    return row.clock.repair if isinstance(row.clock, Mended) else row.clock.lasts


@pytest.fixture(scope="module")
def annexe(small_site):
    """A gateway, a repeater and two sensors within reach of each other."""
    devices = [
        small_site.device(id, x, 0.0)
        for id, x in (("g1", 0.0), ("r1", 4.0), ("s1", 8.0), ("s2", 9.0))
    ]
    return small_site(small_site.layout("a", *devices))


def test_every_device_and_link_has_the_rows_of_its_kind(annexe):
    """By hand: 3 devices that are not gateways, 1 of them on mains, 1 gateway, 6 pairs, 2 sensors
    on cells."""
    table = table_of(annexe)
    assert Counter(row.cause for row in table.elements) == {
        "hardware": 3,
        "gateway_hardware": 1,
        "gateway_outage": 1,
        "mains_outage": 1,
        "circuit_outage": 1,
        "link_blockage": 6,
    }
    assert [cells.device for cells in table.cells] == ["s1", "s2"]
    assert list(table.elements) == sorted(table.elements, key=lambda row: (row.cause, row.id))


def test_gateways_have_failures_of_their_own_and_no_others(annexe):
    assert set(rows(annexe, "hardware")) == {"r1", "s1", "s2"}
    assert set(rows(annexe, "gateway_hardware")) == set(rows(annexe, "gateway_outage")) == {"g1"}


def test_what_is_on_mains_loses_its_supply_and_nothing_else_does(annexe):
    """The repeater is on mains, the sensors on cells; a gateway's supply is part of its outages."""
    assert set(rows(annexe, "mains_outage")) == {"r1"}


@pytest.mark.parametrize(
    "cause", ["hardware", "gateway_hardware", "gateway_outage", "mains_outage", "link_blockage"]
)
def test_a_row_holds_down_its_own_device_or_weakens_its_own_link(annexe, cause):
    for id, row in rows(annexe, cause).items():
        assert row.targets == (id,)
        assert row.effect is (Effect.LOSS if cause == "link_blockage" else Effect.DOWN)
        assert not isinstance(row.clock, Scripted)


def test_rates_and_losses_are_those_of_the_catalogue(annexe):
    """8766 h / 0.025, 0.05, 6, 0.7 and (busy) 20 a year; 10 dB: defaults of the catalogue.

    Of the 0.7 losses of mains 0.7 are its circuit's.
    """
    for cause, per_year in (
        ("hardware", 0.025),
        ("gateway_hardware", 0.05),
        ("gateway_outage", 6.0),
        ("mains_outage", 0.7 * 0.3),
        ("circuit_outage", 0.7 * 0.7),
        ("link_blockage", 20.0),
    ):
        for row in rows(annexe, cause).values():
            assert (row.clock.strikes.shape, row.clock.strikes.slope) == (draws.WEIBULL, 1.0)
            assert row.clock.strikes.scale == pytest.approx(8766 * H / per_year, rel=1e-12)
    assert {row.amount for row in rows(annexe, "link_blockage").values()} == {1000}


def test_durations_go_through_the_stated_median_and_90_percent_point(annexe):
    """A lognormal law: its quantiles at 0.5 and 0.9 are what was stated."""
    stated_h = {
        "hardware": (120, 480),
        "gateway_hardware": (48, 120),
        "gateway_outage": (1.5, 12),
        "mains_outage": (2, 8),
        "circuit_outage": (2, 8),
        "link_blockage": (2, 6),
    }
    for cause, (median_h, p90_h) in stated_h.items():
        for row in rows(annexe, cause).values():
            assert lasts_of(row).drawn_ms(0.5) == pytest.approx(median_h * H, rel=1e-9)
            assert lasts_of(row).drawn_ms(0.9) == pytest.approx(p90_h * H, rel=1e-9)


def test_only_what_was_mended_is_as_good_as_new(annexe):
    for row in table_of(annexe).elements:
        is_hardware = row.cause in ("hardware", "gateway_hardware")
        assert isinstance(row.clock, Mended) == is_hardware


def test_a_stated_shape_and_mean_life_make_a_weibull_law(small_site):
    """The mean of a Weibull law is scale x Gamma(1 + 1/slope), textbook."""
    site = small_site.linked("g1~s1=0.9", hazards={"hardware": Hardware(10_000.0, 2.0)})
    (row,) = rows(site, "hardware").values()
    assert row.clock.strikes.slope == 2.0
    assert row.clock.strikes.scale * math.sqrt(math.pi) / 2 == pytest.approx(
        10_000 * H
    )  # Gamma(3/2)


@pytest.mark.parametrize(
    "cause", ["hardware", "gateway_hardware", "gateway_outage", "link_blockage"]
)
def test_a_hazard_that_is_off_has_no_rows(small_site, cause):
    off = {"hardware": None, "early_failure": None} if cause == "hardware" else {cause: None}
    site = small_site.linked("g1~s1=0.9", hazards=off)
    assert rows(site, cause) == {}
    assert table_of(site).elements


def test_batteries_that_are_off_leave_no_cells(small_site):
    assert table_of(small_site.linked("g1~s1=0.9", hazards={"battery": None})).cells == ()
    assert table_of(small_site.linked("g1~s1=0.9", hazards=NONE)).elements == ()


def test_blockages_weaken_links_of_which_only_a_ratio_is_known(small_site):
    """Documented default: 10 dB for as long as it lasts."""
    blockage = rows(small_site.linked("g1~s1=0.9"), "link_blockage")["g1~s1"]
    assert (blockage.effect, blockage.amount) == (Effect.LOSS, 1000)


def test_a_stated_blockage_is_the_one_that_strikes(small_site):
    blockage = Blockage(2.0, 0.5, 20.0, 7.25, Duration("fixed", mean_h=3.0))
    devices = (small_site.device("g1", 0.0, 0.0), small_site.device("s1", 5.0, 0.0))
    site = small_site(small_site.layout("a", *devices), hazards={"link_blockage": blockage})
    (row,) = rows(site, "link_blockage").values()
    assert row.amount == 725
    assert row.clock.strikes.scale == pytest.approx(4383 * H)
    assert {row.clock.lasts.drawn_ms(u) for u in (0.0, 0.3, 0.999)} == {3 * H}


def test_early_failures_strike_alone_where_wear_is_off(small_site):
    """All devices weak with a mean of 100 h: mean time to the strike within four errors."""
    hazards = NONE | {"early_failure": EarlyFailure(1.0, 100.0)}
    (row,) = rows(small_site.linked("g1~s1=0.9", hazards=hazards), "hardware").values()
    assert row.clock.strikes == NEVER
    times_h = [Fate.of(row, 3, n).at_risk_ms(row.clock, 0) / H for n in range(4000)]
    assert abs(sum(times_h) / 4000 - 100) < 4 * 100 / math.sqrt(4000)


def test_only_the_weak_share_fails_early(small_site):
    """A share of 0.02 by the catalogue, within four standard errors of 20,000 devices."""
    hazards = NONE | {"early_failure": EarlyFailure(0.02, 100.0)}
    (row,) = rows(small_site.linked("g1~s1=0.9", hazards=hazards), "hardware").values()
    never_ms = NEVER.drawn_ms(0.5)
    n_weak = sum(Fate.of(row, 3, n).at_risk_ms(row.clock, 0) < never_ms for n in range(20_000))
    assert abs(n_weak - 400) < 4 * math.sqrt(20_000 * 0.02 * 0.98)


def test_wear_strikes_alone_where_early_failures_are_off(small_site):
    site = small_site.linked("g1~s1=0.9", hazards={"early_failure": None})
    (row,) = rows(site, "hardware").values()
    assert row.clock.weak_share == 0


def test_nothing_is_mended_where_repair_is_off(small_site):
    site = small_site.linked("g1~s1=0.9", upkeep={"repair": None, "gateway_repair": None})
    assert [lasts_of(row) for row in rows(site, "hardware").values()] == [NEVER]
    assert [lasts_of(row) for row in rows(site, "gateway_hardware").values()] == [NEVER]
    assert [cells.repair for cells in table_of(site).cells] == [NEVER]
    assert all(lasts_of(row) != NEVER for row in rows(site, "gateway_outage").values())


def test_cells_hold_the_usable_share_and_drain_as_the_data_sheet_says(annexe):
    """By hand: 3000 mAh x 0.83; 30, 3 and 60 uA; one mAh is 3.6e12 nA ms.

    15 mAh go by themselves in 8766 h, which is 1.711 uA.
    """
    cells = table_of(annexe).cells[0]
    assert cells.mean_charge_na_ms == pytest.approx(2490 * 3.6e12)
    assert cells.self_na == 1711
    assert (cells.leaf_na, cells.forwarding_na, cells.searching_na) == (30_000, 3_000, 60_000)
    assert cells.repair.drawn_ms(0.5) == pytest.approx(120 * H, rel=1e-9)


def test_charges_scatter_by_the_stated_coefficient_of_variation(small_site):
    """Mean 1 and coefficient of variation 0.12, each within four standard errors."""
    site = small_site.linked("g1~s1=0.9", hazards={"battery": Battery(0.12)})
    (cells,) = table_of(site).cells
    n = 4000
    charges = [DeviceFate.of("s1", 3, lifetime).charge_na_ms(cells, 0) for lifetime in range(n)]
    shares = np.array(charges) / cells.mean_charge_na_ms
    for values, expected in ((shares, 1.0), ((shares - 1) ** 2, 0.12**2)):
        assert abs(values.mean() - expected) < 4 * values.std(ddof=1) / math.sqrt(n)


def luck(table):
    """What the first lifetimes hold for every row, cells and repairs: numbers by name."""
    drawn = {
        row.name: [
            (fate.at_risk_ms(row.clock, n), draws.away_ms(fate.start, n, lasts_of(row).numbers))
            for lifetime in range(3)
            for fate in [Fate.of(row, 5, lifetime)]
            for n in range(3)
        ]
        for row in table.elements
    }
    for cells in table.cells:
        fate = DeviceFate.of(cells.device, 5, 0)
        drawn["cells", cells.device] = [
            (fate.charge_na_ms(cells, n), fate.repair_ms(cells.repair, n)) for n in range(3)
        ]
    return drawn


def test_another_device_changes_nobody_elses_luck(annexe, small_site):
    """The promise of common random numbers: one stream for each part (Law, textbook)."""
    layout = annexe.layouts[0]
    newcomer = small_site.device("r0", 2.0, 2.0)
    larger = replace(
        layout, devices=tuple(sorted((*layout.devices, newcomer), key=lambda one: one.id))
    )
    before = luck(table_of(annexe))
    after = luck(table_of(replace(annexe, layouts=(larger,))))
    assert {name: after[name] for name in before} == before
    assert len(after) == len(before) + 6  # hardware, its supply, a blockage of each of its 4 links


def test_the_order_of_devices_changes_nobodys_luck(annexe):
    layout = annexe.layouts[0]
    turned = replace(annexe, layouts=(replace(layout, devices=layout.devices[::-1]),))
    assert table_of(turned).elements == table_of(annexe).elements
    assert luck(table_of(turned)) == luck(table_of(annexe))


def test_no_two_rows_share_their_luck(annexe):
    drawn = list(luck(table_of(annexe)).values())
    assert len({tuple(numbers) for numbers in drawn}) == len(drawn)


def test_rows_that_would_share_their_luck_are_refused(annexe, monkeypatch):
    """A 64-bit hash never collides in a test, so a hash that always does stands in for it."""
    monkeypatch.setattr(elements, "element_key", lambda *_: 7)
    with pytest.raises(KeyCollisionError, match="share a draw key"):
        table_of(annexe)


def test_a_stage_plays_the_rows_of_its_own_layout(annexe):
    _, hazards = Stage(annexe, annexe.layouts[0], 1, False).building(0)
    assert set(hazards.elements) <= set(table_of(annexe).elements)
    assert {row.id for row in hazards.elements if row.cause == "hardware"} == {
        device.id for device in annexe.layouts[0].devices if device.kind is not Kind.GATEWAY
    }


SHUTS = Change(25.0, 52.0, Duration("fixed", mean_h=12.0))
COMES = Change(7.25, 250.0, Duration("exponential", mean_h=2.0))
NEVER_MOVES = Change(9.0, 0.0, Duration("exponential", mean_h=2.0))


@pytest.fixture(scope="module")
def halves(small_site):
    """Two rooms with a door in the wall at x = 5, and a van before the last sensor at x = 20.

    Device s1 stands before the wall with the gateway; s2, s3 behind it, s3 behind the van as well.
    The wall has the id of the van, and the van that of the gateway.
    """
    wall = Wall("g1", "L1", 5.0, -20.0, 5.0, 20.0, "stud_wall")
    doors = (
        Door("D1", "g1", 19.5, 1.0, 2.8, "wooden_door", SHUTS),
        Door("D2", "g1", 2.0, 1.0, 2.8, "wooden_door"),
    )
    van = Obstacle("g1", "vehicle", "L1", 20.0, 0.0, 2.0, 4.0, 0.0, 2.6, 0.0, COMES)
    idle = replace(van, id="V2", x_m=400.0)
    stands = replace(van, id="V3", change=NEVER_MOVES)
    building = replace(
        small_site.open_plan,
        walls=(*small_site.open_plan.walls, wall),
        doors=doors,
        obstacles=(van, idle, stands),
    )
    places = {"g1": (0.0, 0.0), "s1": (2.0, 4.0), "s2": (10.0, 0.0), "s3": (25.0, 0.0)}
    layout = small_site.layout(
        "a", *(small_site.device(id, *place, transmit_dbm=20.0) for id, place in places.items())
    )
    return small_site(layout, building=building)


def test_every_link_through_a_door_or_an_obstacle_changes_with_it(halves):
    """By the places: straight lines along y = 0 pass the door, those to s3 the van; s1 neither."""
    found = rows(halves, "obstacle")
    assert {id: row.targets for id, row in found.items()} == {
        "D1": ("g1~s2", "g1~s3"),
        "g1": ("g1~s3", "s1~s3", "s2~s3"),
    }
    assert {row.effect for row in found.values()} == {Effect.LOSS}


def test_a_change_adds_strikes_and_lasts_as_stated(halves):
    """25 dB and 7.25 dB; 8766 h / 52 and 250 a year; 12 h, and exponential with mean 2 h."""
    door, van = (rows(halves, "obstacle")[id] for id in ("D1", "g1"))
    assert (door.amount, van.amount) == (2500, 725)
    for row, per_year in ((door, 52.0), (van, 250.0)):
        assert (row.clock.strikes.shape, row.clock.strikes.slope) == (draws.WEIBULL, 1.0)
        assert row.clock.strikes.scale == pytest.approx(8766 * H / per_year, rel=1e-12)
        assert isinstance(row.clock, Drawn)
    assert {door.clock.lasts.drawn_ms(u) for u in (0.0, 0.5, 0.999)} == {12 * H}
    assert van.clock.lasts.drawn_ms(1 - 1 / math.e) == pytest.approx(2 * H, rel=1e-9)


def test_a_measured_link_between_two_places_changes_with_the_door_it_passes(halves):
    layout = replace(halves.layouts[0], links=(GivenLink("g1", "s2", None, -60.0),))
    measured = replace(halves, layouts=(layout,))
    assert rows(measured, "obstacle")["D1"].targets == ("g1~s2", "g1~s3")


def test_obstacles_that_are_off_have_no_rows(halves):
    off = halves.with_setting("hazards.obstacles", False)
    assert rows(off, "obstacle") == {}
    assert rows(off, "link_blockage")


def blockages_per_year(site):
    return {
        id: 8766 * H / row.clock.strikes.scale for id, row in rows(site, "link_blockage").items()
    }


def test_what_is_drawn_is_taken_out_of_the_general_rate_down_to_half(halves):
    """20 a year count doors and vehicles as well (common practice: halve them where drawn).

    A van that comes twice a year takes 2 of them.
    """
    found = blockages_per_year(halves)
    assert found.pop("g1~s1") == pytest.approx(20.0)
    assert found.pop("s1~s2") == pytest.approx(20.0)
    assert list(found.values()) == pytest.approx([10.0] * 4)
    seldom = replace(COMES, per_year=2.0)
    van = replace(halves.building.obstacles[0], change=seldom)
    rare = replace(halves, building=replace(halves.building, obstacles=(van,)))
    assert blockages_per_year(rare)["s2~s3"] == pytest.approx(18.0)


def test_the_general_rate_stays_where_the_share_is_one_or_obstacles_are_off(halves):
    for key, value in (("obstacles.blockage_share", 1.0), ("obstacles", False)):
        site = halves.with_setting(f"hazards.{key}", value)
        assert list(blockages_per_year(site).values()) == pytest.approx([20.0] * 6)


def test_a_door_has_the_same_luck_in_every_layout_and_none_of_a_devices(halves, small_site):
    """The van bears the id of the gateway: the keys differ, whatever hangs where."""
    layout = halves.layouts[0]
    fewer = replace(layout, devices=tuple(one for one in layout.devices if one.id != "s2"))
    drawn, other = luck(table_of(halves)), luck(table_of(replace(halves, layouts=(fewer,))))
    assert other["obstacle", "D1"] == drawn["obstacle", "D1"]
    assert len({tuple(numbers) for numbers in drawn.values()}) == len(drawn)


def test_a_sensor_behind_a_repeater_on_mains_is_cut_off_as_often_as_the_supply_is_away(small_site):
    """Away for d / (8766 / r + d) of the time in the long run: 12 a year of 20 h are 0.02665.

    The transient from a beginning with the supply on is half an hour in 4 years. Both engines,
    four standard errors over lifetimes.
    """
    outage = MainsOutage(12.0, Duration("exponential", mean_h=20.0))
    site = small_site.linked(
        "g1~r1=1 r1~s1=1",
        horizon_years=4.0,
        hazards=NONE | {"mains_outage": outage},
        radio={"swing_db": 0.0},
    )
    away_share = 20 / (8766 / 12 + 20)
    for engine in (REFERENCE, COMPILED):
        stage = Stage(site, site.layouts[0], 7, True, engine)
        records = [stage.play(lifetime).record for lifetime in range(40)]
        assert {cause for record in records for cause, _ in record.blame_ms} == {"mains_outage"}
        shares = np.array([record.orphan_ms["s1"] / (4 * 8766 * H) for record in records])
        error = shares.std(ddof=1) / math.sqrt(len(shares))
        assert abs(shares.mean() - away_share) < 4 * error
