"""Layouts from sensors alone, against the least that enumeration finds."""

import os
from dataclasses import replace
from itertools import combinations, product

import networkx
import numpy as np
import pytest

from resilience.building.service.places import CandidatePlace
from resilience.building.service.policy import Policy
from resilience.building.site import Kind, Place
from resilience.building.upkeep import NO_PRICES, Prices
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.routes import spares_in_buildings
from resilience.errors import UsageError
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.study import studies
from resilience.policy.bounds import watch_of
from resilience.policy.judgement import Verdict
from resilience.policy.judging import Judging
from resilience.remedies.outset.allowed import allowed_of
from resilience.remedies.outset.groups import Groups, sorts_of
from resilience.remedies.outset.search import EFFORT, UNREACHABLE, from_sensors

IS_SOAK = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
N_CALM, N_FAILING = (60, 20) if IS_SOAK else (4, 2)
NO_LIMIT_S = 1e9
PATIENT = replace(EFFORT, n_lifetimes=4096, seconds=NO_LIMIT_S, n_words=16)
ALWAYS = Policy(longer_than_h=1.0, kept_with_probability=0.5, max_orphans=0)
OFF = (
    *("battery", "early_failure", "gateway_outage", "gateway_hardware", "mains_outage"),
    *("circuit_outage", "link_blockage"),
)
# Paths lose so much with distance that hardly anything is heard over more than seven metres.
SURE = {
    "radio.distance_power": 60.0,
    "radio.shadowing_undrawn_db": 0.0,
    "radio.swing_db": 0.0,
    "radio.direction_difference_db": 0.0,
    "radio.device_spread_db": 0.0,
    "radio.distance_power_spread": 0.0,
}
FAILING = {"hazards.hardware.mttf_h": 6000.0, "hazards.hardware.shape": 1.0}


def _site(small_site, places, hardware=False, **stated):
    """A floor whose paths are as predicted, and where at most sensors and repeaters fail."""
    devices = [small_site.device(id, *map(float, at)) for id, at in places.items()]
    site = small_site(small_site.layout("a", *devices), horizon_years=0.3)
    for hazard in OFF if hardware else (*OFF, "hardware"):
        site = site.with_setting(f"hazards.{hazard}", False)
    for key, value in (SURE | stated).items():
        site = site.with_setting(key, value)
    return site


def _spots(points, kind=Kind.REPEATER, letter="P"):
    return tuple(
        CandidatePlace(f"{letter}{n}", Place("L1", float(x), float(y), 2.0), kind)
        for n, (x, y) in enumerate(points)
    )


def _made_up(small_site, rng, n_spots=6, **stated):
    """Five sensors, two places for a gateway and some for repeaters."""
    sensors = {f"s{n}": (rng.uniform(3, 16), rng.uniform(-3, 3)) for n in range(5)}
    site = _site(small_site, {"g1": (0.0, 0.0), **sensors}, **stated)
    xs, ys = rng.uniform(2, 16, n_spots), rng.uniform(-3, 3, n_spots)
    spots = _spots(zip(xs, ys, strict=True)) + _spots([(20.0, 0.0)], Kind.GATEWAY, "Q")
    return site, allowed_of(site, site.layouts[0], spots)


def _layouts(allowed):
    """All layouts that there are, by the devices that hang in them."""
    gateways, repeaters = (
        [part for n in range(len(ones) + 1) for part in combinations(ones, n)]
        for ones in (allowed.gateways, allowed.repeaters)
    )
    return [(*some, *more) for some, more in product(gateways, repeaters) if some]


def _least_connected(site, allowed):
    """The least number of devices with which networkx finds a way for every sensor as drawn."""
    sensors = [one.id for one in allowed.bare.sensors]
    table = link_table(site, allowed.made("all", allowed.could))
    pairs = [(table.ids[a], table.ids[b]) for a, b in table.ends[table.usable]]
    found = [
        len(some)
        for some in _layouts(allowed)
        if _connects(pairs, sensors, [one.id for one in some])
    ]
    return min(found, default=None)


def _connects(pairs, sensors, ids):
    whole = networkx.Graph(pairs)
    whole.add_nodes_from([*sensors, *ids])
    graph = whole.subgraph([*sensors, *ids])
    gateways = [id for id in ids if id[0] in "gQ"]
    return all(any(networkx.has_path(graph, id, one) for one in gateways) for id in sensors)


def test_paths_are_as_predicted_in_every_building(small_site):
    site, allowed = _made_up(small_site, np.random.default_rng(0))
    table = link_table(site, allowed.made("all", allowed.could))
    spares = spares_in_buildings(table, 1, 20)
    assert (spares == spares[0]).all()
    assert ((spares[0] >= 0) == table.usable).all()


def test_where_nothing_fails_the_least_number_of_devices_is_that_of_enumeration(small_site):
    numbers = set()
    for seed in range(N_CALM):
        site, allowed = _made_up(small_site, np.random.default_rng(seed))
        least = _least_connected(site, allowed)
        found = from_sensors(site, site.layouts[0], allowed, ALWAYS, effort=PATIENT)
        if least is None:
            assert (found.proposals, found.stopped_because) == ((), UNREACHABLE)
        else:
            assert found.proposals[0].cost == least
            assert found.is_least
        numbers.add(least)
    assert len(numbers) > 1  # not all alike


def test_where_devices_fail_the_cost_is_that_of_enumeration(small_site):
    """It lies between the cheapest not shown to break and the cheapest shown to keep it."""
    policy = Policy(longer_than_h=24.0, kept_with_probability=0.7, max_orphans=2)
    costs = []
    for seed in range(N_FAILING):
        rng = np.random.default_rng(seed)
        site, allowed = _made_up(small_site, rng, n_spots=4, hardware=True, **FAILING)
        judged = _all_judged(site, allowed, policy)
        found = from_sensors(site, site.layouts[0], allowed, policy, effort=PATIENT)
        kept = [len(some) for some, one in judged if one is Verdict.KEPT]
        if found.proposals:
            costs.append(found.proposals[0].cost)
            least = min(len(some) for some, one in judged if one is not Verdict.BROKEN)
            assert least <= costs[-1] <= min(kept, default=np.inf)
        else:
            assert not kept
    assert costs


def _all_judged(site, allowed, policy):
    """Every layout with what lifetimes of their own show of it, at a level for all together."""
    every = _layouts(allowed)
    layouts = tuple(allowed.made(f"{n}", some) for n, some in enumerate(every))
    how = {"count_site_outages": True, "watch": watch_of(policy)}
    undertaking = Undertaking(replace(site, layouts=layouts), layouts, 99, **how)
    judging = Judging(policy)
    played = studies(undertaking, Budget(512, NO_LIMIT_S), judging)
    return [
        (some, judging.verdict(one, len(every))) for some, one in zip(every, played, strict=True)
    ]


def test_beside_a_gateway_that_could_be_heard_by_one_device_two_are_proposed(small_site):
    """Common practice: two devices in the reach of every gateway."""
    places = {"g1": (0, 0), "s1": (10, 0), "s2": (9, 3), "s3": (9, -3)}
    site = _site(small_site, places, hardware=True, **FAILING)
    spots = _spots([(5, 0), (5, 1), (4.5, -1.5), (10, 2), (13, 0)])
    allowed = allowed_of(site, site.layouts[0], spots)
    policy = Policy(longer_than_h=24.0, kept_with_probability=0.8, max_orphans=2)
    found = from_sensors(site, site.layouts[0], allowed, policy, effort=PATIENT)
    assert found.proposals
    for one in found.proposals:
        assert len({"P0", "P1", "P2"} & {device.id for device in one.added}) >= 2
    (alone,) = [one for one in found.searched if one.n_repeaters == 1]
    assert alone.least_broken > 0.2  # one in reach is not enough


def test_groups_come_in_order_of_cost_and_each_once(small_site):
    _, allowed = _made_up(small_site, np.random.default_rng(0))
    sorts = sorts_of(allowed, Prices("EUR", device=84, cells=6, gateway=400))
    assert [(one.kind, one.cost) for one in sorts] == [(Kind.GATEWAY, 400), (Kind.REPEATER, 90)]
    keys = list(Groups(sorts, 5))
    every = [(g, r) for g, r in product(range(1, 3), range(5)) if g + r <= 5]
    assert sorted(keys) == sorted(every)
    costs = [400 * g + 90 * r for g, r in keys]
    assert costs == sorted(costs)
    assert {one.cost for one in sorts_of(allowed, NO_PRICES)} == {1.0}


def test_sensors_that_nothing_reaches_are_named(small_site):
    site = _site(small_site, {"g1": (0, 0), "s1": (3, 0), "s2": (900, 0)})
    allowed = allowed_of(site, site.layouts[0], _spots([(5, 0)]))
    found = from_sensors(site, site.layouts[0], allowed, ALWAYS, effort=PATIENT)
    assert found.out_of_reach == ("s2",)
    assert (found.proposals, found.stopped_because) == ((), UNREACHABLE)
    one_lost = replace(ALWAYS, max_orphans=1)
    found = from_sensors(site, site.layouts[0], allowed, one_lost, effort=PATIENT)
    assert [one.id for one in found.proposals[0].added] == ["g1"]


@pytest.mark.parametrize(
    ("named", "told"),
    [
        ("P00", "neither a place nor a gateway; did you mean P0"),
        ("F0", "F0 is outside the outline"),
    ],
)
def test_a_gateway_place_that_is_none_is_refused_with_a_way_out(small_site, named, told):
    site = _site(small_site, {"g1": (0, 0), "s1": (3, 0)})
    outlined = replace(site.building, outline=((-5, -20), (80, -20), (80, 20), (-5, 20)))
    site = replace(site, building=outlined)
    spots = _spots([(5, 0)]) + _spots([(500, 0)], Kind.GATEWAY, "F")
    with pytest.raises(UsageError, match=told):
        allowed_of(site, site.layouts[0], spots, (named,))


def test_a_place_for_a_repeater_may_be_named_for_the_gateway(small_site):
    site = _site(small_site, {"g1": (0, 0), "s1": (3, 0)})
    allowed = allowed_of(site, site.layouts[0], _spots([(5, 0), (6, 0)]), ("P1",))
    assert [(one.id, one.kind) for one in allowed.gateways] == [("P1", Kind.GATEWAY)]
    assert [one.id for one in allowed.repeaters] == ["P0"]


def test_without_time_nothing_is_proposed(small_site):
    site, allowed = _made_up(small_site, np.random.default_rng(0))
    hasty = replace(PATIENT, seconds=0.0)
    found = from_sensors(site, site.layouts[0], allowed, ALWAYS, effort=hasty)
    assert (found.proposals, found.judged) == ((), ())
