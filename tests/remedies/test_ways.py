"""Dominators and cut sets against every single removal, and every pair of removals, one by one."""

import random
from dataclasses import replace
from itertools import combinations

import networkx
import numpy as np
import pytest

from resilience.connectivity.links import link_table
from resilience.remedies.fragile import together
from resilience.remedies.fragile.bottlenecks import Point, bottlenecks
from resilience.remedies.fragile.together import cuts
from resilience.remedies.fragile.ways import Ways, next_hops

SEEDS = range(12)


def made_up(small_site, seed: int):
    """A site of given links between 2 gateways or 1, repeaters and sensors, and its table."""
    luck = random.Random(seed)
    ids = ["g1", "r1", "r2", "r3", "s1", "s2", "s3", "s4"] + ["g2"] * (seed % 3 == 0)
    pairs = [pair for pair in combinations(sorted(ids), 2) if luck.random() < 0.33]
    pairs += [("g1", "r1"), ("r1", "s1")]
    site = small_site.linked(" ".join(f"{a}~{b}=0.9" for a, b in sorted(set(pairs))))
    return site, link_table(site, site.layouts[0])


def reached(table, without=(), without_links=()) -> set[str]:
    """Sensors with a way to a gateway, by a breadth-first search that knows nothing of ours."""
    graph = networkx.Graph()
    for link in table.links:
        ends = {link.a, link.b}
        if link.id not in without_links and not ends & set(without) and table.is_usable(link):
            graph.add_edge(link.a, link.b)
    gateways = [id for id in table.ids if id[0] == "g" and id in graph]
    found = set().union(*(networkx.node_connected_component(graph, id) for id in gateways), set())
    return {id for id in found if id[0] == "s"}


def named(table, rows) -> set[str]:
    return {table.ids[row] for row in rows}


@pytest.mark.parametrize("seed", SEEDS)
def test_dominators_are_what_cuts_sensors_off_when_it_is_taken_away(small_site, seed):
    _, table = made_up(small_site, seed)
    behind = Ways(table, table.usable).sensors_behind()
    everybody = reached(table)
    assert {table.ids[row] for row in behind.reached} == everybody
    told = {
        table.ids[row]: {table.ids[one] for one in some} for row, some in behind.devices.items()
    }
    for id in table.ids:
        assert told.get(id, set()) == everybody - reached(table, [id]) - {id}, id
    told = {
        table.link_ids[row]: {table.ids[one] for one in some} for row, some in behind.links.items()
    }
    for id in table.link_ids:
        assert told.get(id, set()) == everybody - reached(table, (), [id]), id


@pytest.mark.parametrize("seed", SEEDS)
def test_pairs_cut_off_what_neither_of_the_two_does(small_site, seed):
    _, table = made_up(small_site, seed)
    gateways = [id for id in table.ids if id[0] == "g"]
    spared = gateways if len(gateways) == 1 else []
    everybody, expected = reached(table), {}
    for one, other in combinations([id for id in table.ids if id not in spared], 2):
        alone = reached(table, [one]) & reached(table, [other])
        only = alone - reached(table, [one, other])
        if only:
            expected[one, other] = only
    found = cuts(table)
    assert {(one.first, one.second): set(one.only_together) for one in found.pairs} == expected
    for sensor, least in found.least.items():
        assert sensor in everybody - reached(table, least)
        assert not any(
            sensor not in reached(table, fewer)
            for n in range(1, len(least))
            for fewer in combinations([id for id in table.ids if id not in (sensor, *spared)], n)
        )


def test_the_neighbour_towards_the_gateway_is_the_one_of_the_cheapest_way(small_site):
    site = small_site.linked("g1~r1=0.9 r1~s1=0.9 g1~s1=0.4 s1~s2=0.9")
    assert next_hops(link_table(site, site.layouts[0])) == {"r1": "g1", "s1": "r1", "s2": "s1"}


def test_a_single_point_counts_buildings_in_which_it_is_one(small_site):
    """Measured links keep a spread of some dB, so a weak one is there in some buildings only."""
    site = small_site.linked("g1~s1=0.9 g1~s2=0.45 s1~s2=0.9")
    table = link_table(site, site.layouts[0])
    found = bottlenecks(site, table, 7)
    point = {(one.kind, one.id): one for one in found.points}
    assert point[Point.DEVICE, "g1"].building_share.mean == 1.0
    through = point[Point.DEVICE, "s1"]
    assert through.as_drawn == ()
    assert 0.05 < through.building_share.mean < 0.95
    share = through.building_share
    assert share.low < share.mean < share.high
    assert [one.sensor for one in found.lonely] == []


def test_a_circuit_is_a_single_point_though_none_of_its_devices_is(small_site):
    site = small_site.linked("g1~r1=0.9 g1~r2=0.9 r1~s1=0.9 r2~s1=0.9")
    layout = site.layouts[0]
    devices = tuple(
        replace(one, battery=None, circuit="C7") if one.id[0] == "r" else one
        for one in layout.devices
    )
    site = replace(site, layouts=(replace(layout, devices=devices),))
    found = bottlenecks(site, link_table(site, site.layouts[0]), 7)
    drawn = {(one.kind.value, one.id): one.as_drawn for one in found.points if one.as_drawn}
    assert drawn == {("device", "g1"): ("s1",), ("circuit", "C7"): ("s1",)}


def test_a_sensor_that_hears_one_device_only_is_told_with_it(small_site):
    site = small_site.linked("g1~r1=0.99 r1~s1=0.99 r1~s2=0.99 g1~s2=0.99")
    found = bottlenecks(site, link_table(site, site.layouts[0]), 7)
    assert [(one.sensor, one.parent) for one in found.lonely] == [("s1", "r1")]
    assert np.isclose(found.lonely[0].building_share.mean, 1.0)


def test_of_so_many_devices_and_links_pairs_are_not_looked_for(small_site, monkeypatch):
    _, table = made_up(small_site, 1)
    monkeypatch.setattr(together, "MOST_WORK", 10)
    assert not cuts(table).is_known
