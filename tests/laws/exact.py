"""Orphans and depths of small graphs by listing every state, without the engine.

Parts fail and are mended independently, each up with the same probability p. A figure is then a
polynomial in p, told by its counts: entry k sums the figure over all states with k parts up.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

import networkx
import numpy as np
from dd.autoref import BDD
from scipy import integrate

Counts = np.ndarray


@dataclass(frozen=True)
class Figures:
    """Counts of each figure, by number of parts that are up."""

    orphans: Counts
    none_orphaned: Counts
    connected: Counts
    depth: Counts


def graph_of(name: str) -> networkx.Graph:
    """A named graph whose gateway is ``g`` and whose other nodes are sensors."""
    graph, gateway = {
        "path of 5": (networkx.path_graph(6), 0),
        "star of 5": (networkx.star_graph(5), 0),
        "cycle of 6": (networkx.cycle_graph(6), 0),
        "3x3 from a corner": (networkx.grid_2d_graph(3, 3), (0, 0)),
        "3x3 from its centre": (networkx.grid_2d_graph(3, 3), (1, 1)),
        "Petersen": (networkx.petersen_graph(), 0),
        "bridge": (networkx.Graph(["sa", "sb", "ab", "at", "bt"]), "s"),
        "K4": (networkx.complete_graph(4), 0),
        "K5": (networkx.complete_graph(5), 0),
    }[name]
    others = [node for node in graph if node != gateway]
    names = {gateway: "g"} | {node: f"s{n}" for n, node in enumerate(others)}
    return networkx.relabel_nodes(graph, names)


def _depths(neighbours: dict[str, set[str]], up: set[str]) -> dict[str, int]:
    """Hops from the gateway through nodes that are up, ring by ring."""
    found, ring, n_hops = {"g": 0}, {"g"}, 0
    while ring:
        n_hops += 1
        ring = {other for node in ring for other in neighbours[node] & up} - found.keys()
        found.update(dict.fromkeys(ring, n_hops))
    return found


def _subsets(parts: Iterable) -> Iterator[tuple]:
    parts = list(parts)
    for k in range(len(parts) + 1):
        yield from combinations(parts, k)


def _summed(n_parts: int, states: Iterable[tuple[int, int, dict[str, int]]]) -> Figures:
    """Add up states given as (parts up, nodes up without the gateway, depths)."""
    sums = {name: np.zeros(n_parts + 1) for name in Figures.__annotations__}
    for k, n_up, depths in states:
        n_orphans = n_up - (len(depths) - 1)
        sums["orphans"][k] += n_orphans
        sums["none_orphaned"][k] += n_orphans == 0
        sums["connected"][k] += len(depths) - 1
        sums["depth"][k] += sum(depths.values())
    return Figures(**sums)


def with_failing_nodes(graph: networkx.Graph) -> Figures:
    """Every node but the gateway fails; links are perfect."""
    nodes = [node for node in graph if node != "g"]
    near = {node: set(graph.adj[node]) for node in graph}
    return _summed(len(nodes), ((len(up), len(up), _depths(near, {*up})) for up in _subsets(nodes)))


def with_failing_links(graph: networkx.Graph) -> Figures:
    """Every link fails; nodes are perfect."""
    states = []
    for up in _subsets(graph.edges):
        near: dict[str, set[str]] = {node: set() for node in graph}
        for a, b in up:
            near[a].add(b)
            near[b].add(a)
        states.append((len(up), len(graph) - 1, _depths(near, set(graph))))
    return _summed(graph.number_of_edges(), states)


def value(counts: Counts, p: float) -> float:
    """Figure at a given probability of being up."""
    n = len(counts) - 1
    return math.fsum(count * p**k * (1 - p) ** (n - k) for k, count in enumerate(counts))


def availability(t_h: float, up_h: float, down_h: float) -> float:
    """Two states, up at 0, constant rates (Trivedi; Birolini; Barlow and Proschan)."""
    fails, mends = 1 / up_h, 1 / down_h
    return (mends + fails * math.exp(-(fails + mends) * t_h)) / (fails + mends)


def mean_availability(horizon_h: float, up_h: float, down_h: float) -> float:
    """Mean of it over the horizon, in closed form."""
    fails, mends = 1 / up_h, 1 / down_h
    both = fails + mends
    return mends / both + fails / (both**2 * horizon_h) * -math.expm1(-both * horizon_h)


def time_average(
    figure: Callable[[float], float], horizon_h: float, up_h: float, down_h: float
) -> float:
    """Mean over the horizon of a figure of p, while p follows the availability from 1 on."""
    total, _ = integrate.quad(
        lambda t_h: figure(availability(t_h, up_h, down_h)), 0, horizon_h, epsabs=1e-10
    )
    return total / horizon_h


def two_terminal(graph: networkx.Graph, source: str, target: str) -> Callable[[float], float]:
    """Probability that failing links leave a way, by a binary decision diagram of all paths."""
    names = {frozenset(edge): f"e{n}" for n, edge in enumerate(graph.edges)}
    diagram = BDD()
    diagram.declare(*names.values())
    ways = diagram.false
    for path in networkx.all_simple_edge_paths(graph, source, target):
        way = diagram.true
        for edge in path:
            way &= diagram.var(names[frozenset(edge)])
        ways |= way

    def probability(p: float) -> float:
        known: dict[int, float] = {}

        def of(node) -> float:
            if node in (diagram.true, diagram.false):
                return float(node == diagram.true)
            if int(node) not in known:
                high, low = of(node.high), of(node.low)
                # In this library the branches of a complemented edge are those of its node.
                mixed = p * high + (1 - p) * low
                known[int(node)] = 1 - mixed if node.negated else mixed
            return known[int(node)]

        return of(ways)

    return probability


def consecutive(n: int, k: int, p: float) -> float:
    """No k of n in a row are down: R(m) = R(m-1) - p q^k R(m-k-1) (Chiang and Niu 1981)."""
    q = 1 - p
    reliability = [1.0] * k + [1 - q**k]
    for m in range(k + 1, n + 1):
        reliability.append(reliability[m - 1] - p * q**k * reliability[m - k - 1])
    return reliability[n]
