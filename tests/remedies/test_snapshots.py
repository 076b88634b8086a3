"""States drawn and looked at 64 at once, against networkx and against enumeration."""

import itertools
import math
from dataclasses import replace

import networkx
import numpy as np
import pytest

from resilience.building.site import Kind
from resilience.connectivity.links import link_table
from resilience.hazards.laws import NEVER, exponential, weibull
from resilience.remedies.groundwork.chances import States, mean_of, states_of, words
from resilience.remedies.groundwork.snapshots import (
    counted,
    gateways_up,
    spread,
    taken,
    ways_of,
)
from resilience.remedies.reinforcing.screening import Screen

BRIDGE = "g1~r1=0.99 g1~r2=0.99 r1~r2=0.99 r1~s1=0.99 r2~s1=0.99"
UP_H, DOWN_H = 300.0, 60.0
N_WORDS = 512


def _reached(states: States) -> np.ndarray:
    present = np.ones(len(states.up), np.bool_)
    return spread(states, ways_of(states), gateways_up(states, present))


def _bits(rows: np.ndarray) -> np.ndarray:
    return np.unpackbits(np.ascontiguousarray(rows).view(np.uint8), axis=1).astype(bool)


@pytest.mark.parametrize("seed", range(4))
def test_what_is_reached_is_what_networkx_reaches(small_site, seed):
    rng = np.random.default_rng(seed)
    ids = ["g1", "g2", "r1", *(f"s{n}" for n in range(7))]
    pairs = [p for p in itertools.combinations(ids, 2) if not {"g1", "g2"} >= set(p)]
    picked = [pairs[n] for n in rng.choice(len(pairs), 16, replace=False)]
    site = small_site.linked(
        " ".join(f"{a}~{b}=0.9" for a, b in [*picked, ("g1", "s0"), ("g2", "s1")])
    )
    table = link_table(site, site.layouts[0])
    up = rng.integers(0, 2**63, (len(table.ids), 2), dtype=np.uint64)
    is_open = rng.integers(0, 2**63, (len(table.ends), 2), dtype=np.uint64)
    states = States(table, up, is_open)
    found, up_bits, open_bits = _bits(_reached(states)), _bits(up), _bits(is_open)
    gateways = [n for n, one in enumerate(table.devices) if one.kind is Kind.GATEWAY]
    for state in range(128):
        graph = networkx.Graph()
        graph.add_nodes_from(np.flatnonzero(up_bits[:, state]).tolist())
        graph.add_edges_from(
            (a, b)
            for (a, b), here in zip(table.ends.tolist(), open_bits[:, state], strict=True)
            if here and a in graph and b in graph
        )
        expected = set().union(
            *(networkx.node_connected_component(graph, one) for one in gateways if one in graph)
        )
        assert set(np.flatnonzero(found[:, state]).tolist()) == expected


def test_bits_are_one_as_often_as_they_should_be():
    shares = np.array([[0.0], [1.0], [0.5], [0.013], [0.0004]])
    n = 2000
    found = words(3, n, "abcde", shares)
    for row, (share,) in zip(found, shares, strict=True):
        error = 4.5 * math.sqrt(share * (1 - share) / (64 * n))
        assert abs(counted(row) / (64 * n) - share) <= error


def test_the_mean_of_a_law_is_its_mean():
    assert math.isclose(mean_of(exponential(7.0)), 7 * 3_600_000)
    assert math.isclose(mean_of(weibull(11.0, 1.7)), 11 * 3_600_000)
    assert mean_of(NEVER) == math.inf


@pytest.fixture(scope="module")
def bridge(small_site):
    """A sensor behind a bridge of two repeaters; devices fail and are mended, nothing else is."""
    site = small_site.linked(BRIDGE)
    for hazard in (
        *("battery", "link_blockage", "early_failure", "mains_outage", "circuit_outage"),
        *("gateway_outage", "gateway_hardware"),
    ):
        site = site.with_setting(f"hazards.{hazard}", False)
    for key, value in (
        ("radio.swing_db", 0.0),
        ("hazards.hardware.mttf_h", UP_H),
        ("hazards.hardware.shape", 1.0),
        ("upkeep.repair.mean_h", DOWN_H),
    ):
        site = site.with_setting(key, value)
    # The building's luck is left out, so that only devices decide.
    return replace(site, radio=replace(site.radio, survey_spread_db=0.0))


def test_losses_of_a_small_graph_are_those_of_enumeration(bridge):
    """By all states of the two repeaters: the sensor is lost while both are away."""
    down = DOWN_H / (UP_H + DOWN_H)
    expected = (1 - down) * down**2
    screen = Screen(bridge, bridge.layouts[0], [], 7, False, N_WORDS)
    n = 64 * N_WORDS
    error = 4.5 * math.sqrt(expected * (1 - expected) / n)
    assert abs(screen.hours / 8766 - expected) <= error


def test_states_that_are_packed_anew_lose_as_many(bridge):
    table = link_table(bridge, bridge.layouts[0])
    states = states_of(bridge, table, {}, 5, 64)
    sensor = table.ids.index("s1")
    lost = states.up[sensor] & ~_reached(states)[sensor]
    few, weight = taken(states, lost, 10**6)
    assert weight == 1
    assert few.up.shape[1] < states.up.shape[1]
    assert counted(few.up[sensor] & ~_reached(few)[sensor]) == counted(lost) > 0


def test_of_too_many_states_each_stands_for_several(bridge):
    table = link_table(bridge, bridge.layouts[0])
    states = states_of(bridge, table, {}, 5, 64)
    everywhere = np.full(64, 2**64 - 1, np.uint64)
    few, weight = taken(states, everywhere, 1024)
    assert few.up.shape[1] * weight == 64
    shares = counted(few.up) / few.up.size, counted(states.up) / states.up.size
    assert abs(shares[0] - shares[1]) < 64 * 0.02
