"""Rows of what strikes several at once: who shares a circuit, a zone or a model."""

from dataclasses import fields, replace

import pytest

from resilience.building.settings import (
    Circuit,
    CircuitOutage,
    CommonCause,
    DeviceMute,
    Duration,
    GatewayOutage,
    Hardware,
    Hazards,
    MainsOutage,
    Removed,
    SoftwareRelease,
    ZoneLoss,
    ZoneWater,
    ZoneWorks,
)
from resilience.building.site import Device
from resilience.connectivity.links import link_table
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Drawn, Mended, Reach
from resilience.hazards.laws import NEVER
from resilience.hazards.table import hazard_table

H = 3_600_000  # ms
NONE = dict.fromkeys(field.name for field in fields(Hazards))
TWO_H = Duration("fixed", mean_h=2.0)
SUPPLY = NONE | {"mains_outage": MainsOutage(1.0, TWO_H), "circuit_outage": CircuitOutage(0.75)}


@pytest.fixture(scope="module")
def wing(small_site):
    """A gateway and two repeaters on mains, two sensors on cells, all on one level in a row.

    Repeater r1 and sensor s1 are in zone east.
    """

    def built(hazards, circuits=(), **changed):
        devices = [
            small_site.device(id, x, 0.0)
            for id, x in (("g1", 0.0), ("r1", 4.0), ("r2", 8.0), ("s1", 12.0), ("s2", 16.0))
        ]
        zoned = [
            replace(one, zone="east" if one.id in ("r1", "s1") else "", **changed.get(one.id, {}))
            for one in devices
        ]
        site = small_site(small_site.layout("a", *zoned), hazards=hazards)
        return replace(site, circuits=tuple(sorted(dict(circuits).items())))

    return built


def rows(site, cause):
    table = hazard_table(site, link_table(site, site.layouts[0]))
    return {row.id: row for row in table.elements if row.cause == cause}


def years_at_risk(row):
    return row.clock.strikes.scale / (8766 * H)


def test_all_on_mains_on_a_level_go_with_its_circuit_and_the_gateway_does_not(wing):
    """Of one loss a year three quarters are the circuit's, a quarter is each device's own."""
    site = wing(SUPPLY)
    (circuit,) = rows(site, "circuit_outage").values()
    assert (circuit.id, circuit.targets, circuit.effect) == ("L1", ("r1", "r2"), Effect.DOWN)
    assert years_at_risk(circuit) == pytest.approx(1 / 0.75)
    own = rows(site, "mains_outage")
    assert {id: years_at_risk(row) for id, row in own.items()} == pytest.approx(
        {"r1": 4.0, "r2": 4.0}
    )


def test_a_named_circuit_takes_those_who_name_it_and_the_rest_share_that_of_the_level(wing):
    site = wing(SUPPLY, r1={"circuit": "C1"}, g1={"circuit": "C1"})
    found = {id: row.targets for id, row in rows(site, "circuit_outage").items()}
    assert found == {"C1": ("g1", "r1"), "L1": ("r2",)}


def test_what_a_gateway_owes_to_a_circuit_is_taken_out_of_its_outages(wing):
    """Six outages a year, of which a named circuit brings three quarters of one."""
    hazards = SUPPLY | {"gateway_outage": GatewayOutage(6.0, TWO_H)}
    for circuit, per_year in (("", 6.0), ("C1", 5.25)):
        site = wing(hazards, g1={"circuit": circuit})
        (row,) = rows(site, "gateway_outage").values()
        assert years_at_risk(row) == pytest.approx(1 / per_year)


def test_a_circuit_strikes_lasts_and_is_bridged_as_it_states(wing):
    """Three losses of 5 h a year are more than a plug has in all, so the plug has none left."""
    one = Circuit(backup_h=1.5, per_year=3.0, lasts=Duration("fixed", mean_h=5.0))
    site = wing(SUPPLY, {"L1": one})
    (circuit,) = rows(site, "circuit_outage").values()
    assert years_at_risk(circuit) == pytest.approx(1 / 3)
    assert circuit.clock.lasts.drawn_ms(0.5) == 5 * H
    assert circuit.clock.reach == Reach(circuit.luck, after_ms=3 * H // 2)
    assert rows(site, "mains_outage") == {}


@pytest.mark.parametrize(
    ("off", "circuits", "plugs"),
    [("circuit_outage", [], ["r1", "r2"]), ("mains_outage", [], [])],
)
def test_either_part_of_the_losses_of_mains_can_be_off(wing, off, circuits, plugs):
    site = wing(SUPPLY | {off: None})
    assert list(rows(site, "circuit_outage")) == circuits
    assert list(rows(site, "mains_outage")) == plugs


def test_a_circuit_with_a_rate_of_its_own_strikes_though_losses_of_mains_are_off(wing):
    site = wing(SUPPLY | {"mains_outage": None}, {"L1": Circuit(0.0, 2.0, TWO_H)})
    assert list(rows(site, "circuit_outage")) == ["L1"]


def test_works_and_water_reach_a_share_of_each_zone_by_its_own_events(wing):
    """Devices of a zone share the events and nothing else; where no zone is named it is L1."""
    hazards = {"zone_works": ZoneWorks(0.1, 0.3, TWO_H), "zone_water": ZoneWater(0.03, 0.2)}
    site = wing(NONE | hazards)
    zones = {"g1": "L1", "r1": "east", "r2": "L1", "s1": "east", "s2": "L1"}
    for cause, share, kind in (("zone_works", 0.3, Drawn), ("zone_water", 0.2, Mended)):
        found = rows(site, cause)
        assert {id: row.clock.reach for id, row in found.items()} == {
            id: Reach(("zone", zone, cause), share) for id, zone in zones.items()
        }
        assert {type(row.clock) for row in found.values()} == {kind}
        assert len({row.luck for row in found.values()}) == len(zones)


def test_water_is_mended_as_upkeep_says_and_never_where_that_is_off(wing):
    site = wing(NONE | {"zone_water": ZoneWater(0.03, 0.2)})
    site = replace(site, upkeep=replace(site.upkeep, repair=None))
    found = rows(site, "zone_water")
    assert found["s1"].clock.repair == NEVER
    assert found["g1"].clock.repair != NEVER


@pytest.mark.parametrize("cause", ["zone_interference", "zone_heat", "lasting_change"])
def test_a_loss_in_a_zone_strikes_every_link_with_an_end_in_it(wing, cause):
    """By hand: of the 10 pairs of five devices 7 touch east, 9 touch the rest of L1; 6 dB."""
    found = rows(wing(NONE | {cause: ZoneLoss(0.5, 6.0, TWO_H)}), cause)
    assert {id: (len(row.targets), row.amount) for id, row in found.items()} == {
        "east": (7, 600),
        "L1": (9, 600),
    }
    assert {row.effect for row in found.values()} == {Effect.LOSS}
    assert found["east"].luck == ("zone", "east", cause)


def test_a_release_reaches_the_devices_of_a_model_but_no_gateway(wing):
    release = SoftwareRelease(0.1, 0.5, 48.0, TWO_H)
    site = wing(NONE | {"software_release": release}, s2={"model_name": "probe"})
    found = rows(site, "software_release")
    assert {id: row.clock.reach.luck[1] for id, row in found.items()} == {
        "r1": "standard",
        "r2": "standard",
        "s1": "standard",
        "s2": "probe",
    }
    assert {(row.clock.reach.share, row.clock.reach.spread_ms) for row in found.values()} == {
        (0.5, 48 * H)
    }


def test_common_failures_are_taken_out_of_those_of_each_device(wing):
    """Beta 0.2 of failures each 1,000 h: one in 5,000 h for all, one in 1,250 h for each."""
    hazards = {"hardware": Hardware(1000.0, 1.0), "common_cause": CommonCause(0.2)}
    site = wing(NONE | hazards)
    assert (
        set(rows(site, "common_cause")) == set(rows(site, "hardware")) == {"r1", "r2", "s1", "s2"}
    )
    for cause, mean_h in (("common_cause", 5000.0), ("hardware", 1250.0)):
        for row in rows(site, cause).values():
            assert row.clock.strikes.scale == pytest.approx(mean_h * H)


@pytest.mark.parametrize(("beta", "common", "own"), [(0.0, 0, 4), (1.0, 4, 4)])
def test_none_or_all_of_the_failures_may_be_common(wing, beta, common, own):
    site = wing(NONE | {"hardware": Hardware(1000.0, 1.0), "common_cause": CommonCause(beta)})
    assert len(rows(site, "common_cause")) == common
    assert len(rows(site, "hardware")) == own
    if beta == 1.0:  # once in a hundred million years
        assert min(years_at_risk(row) for row in rows(site, "hardware").values()) > 1e7


def test_people_take_away_what_they_reach_more_often(wing, small_site):
    """Devices of small sites hang 2 m high: within 2.5 m of the floor, above 1.8 m."""
    for reach_m, per_year in ((2.5, 0.06), (1.8, 0.015)):
        found = rows(wing(NONE | {"removed": Removed(0.06, 0.015, reach_m)}), "removed")
        assert set(found) == {"r1", "r2", "s1", "s2"}
        for row in found.values():
            assert 1 / years_at_risk(row) == pytest.approx(per_year)
    unplaced = small_site.linked("g1~s1=0.9", hazards=NONE | {"removed": Removed(0.06, 0, 2.5)})
    assert set(rows(unplaced, "removed")) == {"s1"}


def test_sensors_fall_silent_and_go_on_relaying(wing):
    found = rows(wing(NONE | {"device_mute": DeviceMute(0.01)}), "device_mute")
    assert {id: row.effect for id, row in found.items()} == {
        "s1": Effect.MUTE,
        "s2": Effect.MUTE,
    }


def test_what_has_no_place_shares_one_zone_and_one_circuit(small_site):
    """Given links only, so nobody knows where anything hangs."""
    site = small_site.linked("g1~r1=0.9 r1~s1=0.9 r1~r2=0.9", hazards=SUPPLY)
    assert {id: row.targets for id, row in rows(site, "circuit_outage").items()} == {
        "site": ("r1", "r2")
    }
    assert {one.zone_id for one in site.layouts[0].devices if isinstance(one, Device)} == {"site"}
