"""Ways to a gateway, held to what networkx finds by leaving devices out, and to a closed answer."""

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import networkx
import numpy as np
import pytest
from scipy.stats import norm

from resilience.building.files.folder import read_site
from resilience.building.site import GivenLink, Kind
from resilience.connectivity.air import Air
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.buildings import strengths_in_buildings
from resilience.connectivity.luck.prospect import prospect
from resilience.connectivity.luck.routes import routes

SEED = 11
SITES = Path(__file__).parent.parent.parent / "sites"


def graph_of(table, usable) -> networkx.DiGraph:
    """Links from what forwards to whoever hears it."""
    graph = networkx.DiGraph()
    graph.add_nodes_from(table.ids)
    for row in np.flatnonzero(usable):
        for here, there in (table.ends[row], table.ends[row][::-1]):
            device = table.devices[here]
            if device.kind is Kind.GATEWAY or device.model.forwards:
                graph.add_edge(table.ids[here], table.ids[there])
    return graph


def reached(graph, table) -> set[str]:
    """Sensors that some gateway has a path to."""
    gateways = [one.id for one in table.devices if one.kind is Kind.GATEWAY and one.id in graph]
    found = set().union(*(networkx.descendants(graph, one) for one in gateways))
    return {one.id for one in table.devices if one.kind is Kind.SENSOR} & found


@pytest.fixture(scope="module", params=range(3))
def table(request, small_site):
    """Fifteen devices scattered over 160 by 60 m, three of which only measure; seeds 0 to 2."""
    luck = np.random.default_rng(request.param)
    ids = ["g1", "g2", "r1", "r2", *(f"s{n}" for n in range(1, 12))]
    devices = [
        small_site.device(
            id, *luck.uniform((0, 0), (160, 60)), forwards=id not in {"s1", "s2", "s3"}
        )
        for id in ids
    ]
    return link_table(small_site(), small_site.layout("a", *devices))


def test_sensors_with_a_way_are_those_that_networkx_reaches(table):
    found = routes(table, SEED, 40)
    assert found.as_drawn == reached(graph_of(table, table.usable), table)
    ready, air = prospect(table), Air.of(table.radio, table.routing)
    times, n_all = dict.fromkeys(found.in_buildings, 0), 0
    for building in range(40):
        strengths = ready.strengths_cdbm(SEED, building)
        heard = strengths + table.shift_cdb()
        usable = air.spare_cdb(strengths, heard, table.floor_cdbm()) >= 0
        here = reached(graph_of(table, usable), table)
        n_all += len(here) == len(times)
        for sensor in here:
            times[sensor] += 1
    assert found.in_buildings == times
    assert found.n_all == n_all
    assert any(0 < n < 40 for n in times.values())  # luck decides here


def test_sensors_behind_a_device_are_those_that_are_lost_without_it(table):
    graph = graph_of(table, table.usable)
    everyone = reached(graph, table)
    lost = {}
    for id in table.ids:
        fewer = graph.copy()
        fewer.remove_node(id)
        missed = everyone - reached(fewer, table) - {id}
        if missed:
            lost[id] = missed
    found = routes(table, SEED, 1).behind
    assert {id: set(behind) for id, behind in found.items()} == lost
    sizes = [len(behind) for behind in found.values()]
    assert sizes
    assert all(more >= fewer for more, fewer in pairwise(sizes))


def test_the_only_gateway_is_no_news(small_site):
    site = small_site.linked("g1~s1=1 s1~s2=1 s2~s3=1")
    table = link_table(site, site.layouts[0])
    assert routes(table, SEED, 1).behind == {"s1": ("s2", "s3"), "s2": ("s3",)}


def test_a_measured_link_near_its_limit_is_there_as_often_as_its_spread_says(small_site):
    """A normal strength with margin m and spread s is enough with chance Phi(m / s)."""
    device = small_site.device
    site = small_site(small_site.layout("a", device("g1"), device("s1")), radio={"predict": False})
    (layout,) = site.layouts
    air = Air.of(site.radio, site.routing)
    needed_dbm = max(air.least_cdbm, 100 * device("g1").model.receive_floor_dbm) / 100
    given = replace(layout, links=(GivenLink("g1", "s1", None, needed_dbm + 1.5),))
    found = routes(link_table(site, given), SEED, 2000)
    share = float(norm.cdf(1.5 / site.radio.survey_spread_db))
    error = math.sqrt(share * (1 - share) / 2000)
    assert abs(found.in_buildings["s1"] / 2000 - share) < 4 * error


def test_buildings_drawn_at_once_are_those_drawn_one_by_one(table):
    """NumPy differs in the last bit, so that one strength in thousands may round the other way."""
    ready = prospect(table)
    many = strengths_in_buildings(SEED, 50, ready.lots)
    one_by_one = np.array([ready.strengths_cdbm(SEED, building) for building in range(50)])
    assert np.abs(many - one_by_one).max() <= 1
    assert (many == one_by_one).mean() > 0.999


def test_constructions_in_the_way_are_drawn_as_one_by_one():
    site = read_site(SITES / "seed-library")
    ready = prospect(link_table(site, site.layouts[0]))
    assert len(ready.lots.construction_keys) > 1
    many = strengths_in_buildings(SEED, 10, ready.lots)
    one_by_one = np.array([ready.strengths_cdbm(SEED, building) for building in range(10)])
    assert np.abs(many - one_by_one).max() <= 1
    assert (many == one_by_one).mean() > 0.999
