"""Minimal cut sets, against every set of devices tried one by one on networkx's graphs."""

from itertools import combinations

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.building.site import Kind
from resilience.lifetime.mesh import GivenPath, Mesh, MeshDevice, MeshLink
from resilience.montecarlo.splitting.cuts import MOST_LOSSES, Loss, minimal_cuts

KINDS = {"g": Kind.GATEWAY, "r": Kind.REPEATER, "s": Kind.SENSOR}


def _mesh(graph: networkx.Graph, leaves: frozenset[str]) -> Mesh:
    links = sorted(tuple(sorted(edge)) for edge in graph.edges)
    return Mesh(
        tuple(MeshDevice(id, KINDS[id[0]], id not in leaves) for id in sorted(graph)),
        tuple(MeshLink(f"{a}~{b}", a, b, GivenPath(128)) for a, b in links),
        frozenset(),
    )


def _lost(graph: networkx.Graph, leaves: frozenset[str], down: set[str], loss: Loss) -> int:
    """Sensors lost, by a walk that ends in leaves."""
    gateways = [id for id in graph if id[0] == "g" and id not in down]
    if not gateways and not loss.counts_outages:
        return 0
    directed = networkx.DiGraph(
        (a, b)
        for one, other in graph.edges
        for a, b in ((one, other), (other, one))
        if a not in leaves and not down & {a, b}
    )
    reached = {
        id for g in gateways if g in directed for id in networkx.descendants(directed, g)
    } | set(gateways)
    lost = [id for id in graph if id[0] == "s" and id not in reached]
    return sum(loss.counts_down or id not in down for id in lost)


@st.composite
def _graphs(draw: st.DrawFn) -> tuple[networkx.Graph, frozenset[str]]:
    ids = [*("g1", "g2")[: draw(st.integers(1, 2))], "r1", "r2", "r3", "s1", "s2", "s3", "s4"]
    graph = networkx.Graph()
    graph.add_nodes_from(ids)
    pairs = list(combinations(ids, 2))
    graph.add_edges_from(draw(st.sets(st.sampled_from(pairs), min_size=8, max_size=16)))
    leaves = frozenset(draw(st.sets(st.sampled_from(ids[-4:]))))
    return graph, leaves


@settings(derandomize=True, max_examples=60, deadline=None)
@given(_graphs(), st.integers(0, 2), st.booleans(), st.booleans())
def test_no_smallest_cut_is_overlooked_and_none_is_made_up(drawn, max_count, outages, is_spared):
    graph, leaves = drawn
    loss = Loss(max_count, False, outages)
    fallible = set(graph) - ({"r1"} if is_spared else set())
    cuts = {
        frozenset(one)
        for size in range(1, MOST_LOSSES + 1)
        for one in combinations(sorted(fallible), size)
        if _lost(graph, leaves, set(one), loss) > max_count
    }
    if _lost(graph, leaves, set(), loss) > max_count:
        return  # too many are lost from the beginning, and there is nothing to be near to
    minimal = {one for one in cuts if not any(other < one for other in cuts)}
    least = min(map(len, minimal), default=0)
    wanted = {one for one in minimal if len(one) <= least + 1}
    assert minimal_cuts(_mesh(graph, leaves), fallible, loss) == wanted


def test_a_ring_is_cut_at_any_two_places_with_enough_between_them():
    """g r1 s1 r2 s2 r3 back to g: two losses that leave both sensors between them lose both."""
    graph = networkx.cycle_graph(["g", "r1", "s1", "r2", "s2", "r3"])
    found = minimal_cuts(_mesh(graph, frozenset()), {"r1", "r2", "r3"}, Loss(1, False, False))
    assert found == {frozenset({"r1", "r3"})}


@pytest.mark.parametrize(("counts_outages", "wanted"), [(False, set()), (True, {frozenset("g")})])
def test_the_only_gateway_is_a_cut_where_outages_count(counts_outages, wanted):
    mesh = _mesh(networkx.Graph([("g", "s1"), ("g", "s2")]), frozenset())
    assert minimal_cuts(mesh, {"g"}, Loss(1, False, counts_outages)) == wanted
