"""The replay of measured meshes, on made-up states whose outcome can be told by hand."""

import gzip
import math
from itertools import combinations

import networkx
import numpy as np
import pytest

GATEWAY, NEAR, FAR = 0, 1, 2
CHAIN = ((GATEWAY, NEAR), (NEAR, FAR))
TRIANGLE = ((GATEWAY, NEAR), (GATEWAY, FAR), (NEAR, FAR))
HEAD = "hour,a,b,rssi_dbm,prr,sent\n"


@pytest.fixture
def trace_of(field_replay):
    """A trace of three devices, one hour a row, with nothing but costs to come."""

    def build(pairs, hours):
        states = np.ones((len(hours), len(pairs)))
        return field_replay.Trace(("g", "s1", "s2"), pairs, np.array(hours), states, -60 * states)

    return build


@pytest.fixture
def played(field_replay, trace_of):
    """Figures of given costs, hour after hour."""

    def play(pairs, costs, *, hysteresis=192, look_around_h=1):
        trace = trace_of(pairs, range(len(costs)))
        rules = field_replay.Rules(hysteresis, look_around_h)
        return field_replay.replay(trace, np.array(costs), rules)

    return play


def test_the_leaf_of_a_chain_is_an_orphan_while_its_relay_is_cut_off(played):
    """Hours 1 and 2 without the first link: both are orphans, one spell each; hops 1 and 2."""
    found = played(CHAIN, [[128, 128], [0, 128], [0, 128], [128, 128]])
    assert (found.sensor_h, found.orphan_h, found.n_spells) == (8, 4, 2)
    assert found.orphan_share == 0.5
    assert found.spells_per_year == pytest.approx(2 / (8 / 8766))
    assert found.mean_hops == 1.5
    assert found.n_changes == 0


def test_time_before_the_first_route_does_not_count(played):
    found = played(CHAIN, [[128, 0], [128, 0], [128, 128], [128, 0]])
    assert (found.sensor_h, found.orphan_h, found.n_spells) == (4 + 2, 1, 1)


def test_a_device_that_loses_its_parent_takes_the_next_best_at_once(played):
    found = played(TRIANGLE, [[128, 128, 128], [128, 0, 128]], look_around_h=100)
    assert (found.orphan_h, found.n_changes) == (0, 1)
    assert found.hop_h == 1 + 1 + 1 + 2
    assert found.changes_per_day == pytest.approx(1 / 4 * 24)


@pytest.mark.parametrize(("cost", "n_changes"), [(448, 0), (449, 1)])
def test_a_device_moves_for_more_than_the_hysteresis_alone(played, cost, n_changes):
    """By the relay 256; 192 more is 448, and equality stays."""
    found = played(TRIANGLE, [[128, 128, 128], [128, cost, 128]])
    assert found.n_changes == n_changes


def test_between_two_looks_nobody_moves_for_a_gain(played):
    """Looks at 0 and 3: the better way is there from hour 1, and is taken in hour 3."""
    costs = [[128, 128, 128]] + 4 * [[128, 1000, 128]]
    found = played(TRIANGLE, costs, look_around_h=3)
    assert found.n_changes == 1
    assert found.hop_h == 5 + 3 * 1 + 2 * 2


def test_a_look_that_falls_into_a_gap_is_made_up_for_after_it(field_replay, trace_of):
    costs = np.array([[128, 128, 128], [128, 1000, 128], [128, 1000, 128]])
    trace = trace_of(TRIANGLE, [0, 23, 30])
    assert field_replay.replay(trace, costs, field_replay.Rules(192, 24)).hop_h == 2 + 2 + 3


def test_a_new_cost_runs_down_the_tree_before_anybody_compares(played):
    """Both links of the way by the relay grow: 600 against 256 directly is seen at once."""
    found = played(TRIANGLE, [[128, 800, 128], [300, 256, 300]])
    assert found.n_changes == 1


def random_costs(rng, n_devices):
    pairs = tuple(combinations(range(n_devices), 2))
    usable = rng.random(len(pairs)) < 0.3
    return pairs, np.where(usable, rng.integers(128, 1000, len(pairs)), 0)


@pytest.mark.parametrize("hysteresis", [0, 192])
def test_paths_are_the_shortest_but_for_the_hysteresis(field_replay, hysteresis):
    """networkx finds the shortest paths by another program; no single move may save more."""
    rng = np.random.default_rng(5)
    tree = field_replay.Tree(12)
    for _ in range(60):
        pairs, row = random_costs(rng, 12)
        graph = networkx.Graph()
        graph.add_node(0)
        graph.add_weighted_edges_from(
            (*pair, cost) for pair, cost in zip(pairs, row, strict=True) if cost
        )
        trace = field_replay.Trace(tuple("g1234567890x"), pairs, np.arange(1), None, None)
        tree.step(field_replay.cost_matrix(trace, row), hysteresis)
        least = networkx.single_source_dijkstra_path_length(graph, 0)
        assert {n for n in range(1, 12) if tree.parent[n] >= 0} == set(least) - {0}
        own = {n: chain_cost(tree, graph, n) for n in least}
        if hysteresis == 0:
            assert own == least
        for one, other in graph.subgraph(least).to_directed().edges:
            assert one == 0 or own[one] - own[other] - graph.edges[one, other]["weight"] <= (
                hysteresis
            )


def chain_cost(tree, graph, device):
    """Cost of a device's own chain; a loop would end in a missing edge or never."""
    cost = 0
    for _ in range(len(tree.parent)):
        if device == 0:
            return cost
        parent = int(tree.parent[device])
        cost += graph.edges[device, parent]["weight"]
        device = parent
    raise AssertionError("a loop of parents")


def test_costs_are_expected_transmissions_there_and_back(field_replay):
    """0.5 each way: 4 transmissions of 128; below 0.30 either way, or unknown, is no link."""
    there = np.array([1.0, 0.5, 0.9, 0.3, math.nan])
    back = np.array([1.0, 0.5, 0.29, 0.3, 0.9])
    assert field_replay.link_costs(there, back, 0.30).tolist() == [128, 512, 0, 1422, 0]


@pytest.fixture
def written(tmp_path):
    """A packed table of made-up rows."""

    def write(rows):
        path = tmp_path / "mesh.csv.gz"
        path.write_bytes(gzip.compress((HEAD + rows).encode()))
        return path

    return write


def test_a_table_is_read_with_the_gateway_first_and_both_directions_in_one(field_replay, written):
    """An answered share of 0.64 is 0.8 each way; hour 3 is told twice, 0.75 and 0.53 on average."""
    path = written("0,A,B,-70,0.64,100\n3,A,B,-70,0.75,100\n3,B,A,-74,0.53,9\n3,C,A,-80,1,5\n")
    trace = field_replay.read_trace(path, "B", acknowledged=True)
    assert trace.devices == ("B", "A", "C")
    assert trace.pairs == ((0, 1), (1, 2))
    assert trace.hours.tolist() == [0, 3]
    assert trace.prr_share[:, 0].tolist() == pytest.approx([0.8, 0.8])
    assert trace.rssi_dbm[1].tolist() == [-72, -80]
    assert trace.seen.tolist() == [[True, False], [True, True]]
    assert field_replay.read_trace(path, "B", acknowledged=False).prr_share[0, 0] == 0.64


def test_unseen_link_hours_are_hidden_from_whatever_is_simulated(field_replay, written):
    path = written("0,A,G,-70,0.64,100\n1,B,G,-70,0.64,100\n")
    trace = field_replay.read_trace(path, "G", acknowledged=True)
    simulated = np.full((2, 2), 130)
    assert field_replay.hidden(simulated, trace).tolist() == [[130, 0], [0, 130]]
    assert field_replay.measured(trace, field_replay.Rules(192, 24)).tolist() == [
        [200, 0],
        [0, 200],
    ]


def test_what_was_last_seen_of_a_link_is_believed_for_some_hours(field_replay, trace_of):
    """Seen in hours 1 and 4: nothing is known before, nor more than two hours after, hour 9."""
    trace = trace_of(CHAIN, [0, 1, 2, 4, 6, 9])
    trace.prr_share[[0, 2, 4, 5], 0] = math.nan
    costs = np.arange(100, 112).reshape(6, 2)
    found = field_replay.carried(costs, trace, 2)
    assert found[:, 0].tolist() == [0, 102, 102, 106, 106, 0]
    assert found[:, 1].tolist() == costs[:, 1].tolist()
    assert (field_replay.carried(costs, trace, 0) == field_replay.hidden(costs, trace)).all()


def test_a_thinned_mesh_keeps_the_gateway_and_the_links_among_those_kept(field_replay, written):
    rows = "".join(f"0,{a},{b},-70,0.{6 + n},9\n" for n, (a, b) in enumerate(("GA", "GB", "AB")))
    trace = field_replay.read_trace(written(rows), "G", acknowledged=False)
    kept = [field_replay.thinned(trace, 2, np.random.default_rng(seed)) for seed in range(20)]
    assert {(one.devices, one.pairs, float(one.prr_share[0, 0])) for one in kept} == {
        (("G", "A"), ((0, 1),), 0.6),
        (("G", "B"), ((0, 1),), 0.7),
    }


def test_figures_of_layouts_add_up(field_replay):
    one = field_replay.Figures(10, 2, 1, 3, 12)
    two = field_replay.Figures(30, 0, 0, 1, 30)
    assert one + two == field_replay.Figures(40, 2, 1, 4, 42)
    assert field_replay.Figures().orphan_share == 0
