"""How often a promise is broken, against renewal arguments and Markov chains without the engine.

A promise is broken by an excess that lasts strictly longer than D, within the horizon.
"""

import math
from functools import cache
from itertools import combinations, pairwise

import networkx
import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import expm_multiply

from resilience.hazards.laws import exponential
from resilience.lifetime.record import Watch
from resilience.units import MS_PER_H

UP_H, DOWN_H, LONGER_THAN_H, HORIZON_H = 40.0, 6.0, 10.0, 300.0


@cache
def one_unbroken() -> float:
    """Probability that no absence of an alternating renewal outlasts D and is told by the horizon.

    R(t) = exp(-a (t - D)) + int_D^t a exp(-a (t - s)) Q(s) ds with Q(s) = int_0^D m exp(-m y)
    R(s - y) dy, as an absence that begins in the last D hours comes too late. So R' = a (Q - R)
    from R(D) = 1 on, and Q' = m (R(s) - exp(-m D) R(s - D) - Q): a delay equation, by Heun's rule.
    """
    a, m = 1 / UP_H, 1 / DOWN_H
    step_h = LONGER_THAN_H / 2000
    n = round((HORIZON_H - LONGER_THAN_H) / step_h)
    r = np.ones(2000 + n + 1)  # from 0 on; 1 until D
    q, gone = 1 - math.exp(-m * LONGER_THAN_H), math.exp(-m * LONGER_THAN_H)

    def slopes(at, r_now, q_now):
        return a * (q_now - r_now), m * (r_now - gone * r[at - 2000] - q_now)

    for at in range(2000, 2000 + n):
        first = slopes(at, r[at], q)
        second = slopes(at + 1, r[at] + step_h * first[0], q + step_h * first[1])
        r[at + 1] = r[at] + step_h * (first[0] + second[0]) / 2
        q += step_h * (first[1] + second[1]) / 2
    return float(r[-1])


def unbroken_chain(n: int, k: int, phases: int) -> float:
    """Probability that no more than k of n alike units are down for D without a break.

    A Markov chain of the number down, with an Erlang clock of D that starts as it passes k and is
    put back as it returns; solved by scipy's action of the matrix exponential.
    """
    tick = phases / LONGER_THAN_H
    above = n - k
    place = {(j, 0): j for j in range(k + 1)}
    for j in range(k + 1, n + 1):
        for phase in range(phases):
            place[j, phase] = len(place)
    rates = lil_matrix((len(place), len(place)))
    for (j, phase), row in place.items():
        for rate, to in ((n - j) / UP_H, j + 1), (j / DOWN_H, j - 1):
            if 0 <= to <= n and rate:
                rates[row, place[to, phase if to > k else 0]] += rate
                rates[row, row] -= rate
        if j > k:
            rates[row, row] -= tick
            if phase + 1 < phases:
                rates[row, place[j, phase + 1]] += tick
    assert len(place) == k + 1 + above * phases
    start = np.zeros(len(place))
    start[0] = 1.0
    return float(expm_multiply(rates.T.tocsr() * HORIZON_H, start).sum())


def unbroken(n: int, k: int) -> float:
    """The same with a clock that ticks once, from two of many phases.

    An Erlang clock of m phases has the variance D^2 / m, so its error falls as 1 / m.
    """
    rough, fine = (unbroken_chain(n, k, m) for m in (40, 120))
    return (3 * fine - rough) / 2


def lost(graph, down):
    """Sensors without a way to the gateway while these nodes are down."""
    reached = networkx.node_connected_component(graph.subgraph(set(graph) - set(down)), "g")
    return sum(node[0] == "s" and node not in reached for node in graph)


def unbroken_mesh(graph, max_count, phases):
    """Probability that no more than so many sensors are lost for D without a break.

    A Markov chain of which repeaters are down, each by itself, with an Erlang clock of D that runs
    while too many sensors are lost, whichever; sensors are counted from the graph alone, and the
    chain is solved by scipy's action of the matrix exponential.
    """
    repeaters = sorted(node for node in graph if node[0] == "r")
    sets = [down for n in range(len(repeaters) + 1) for down in combinations(repeaters, n)]
    is_excess = {frozenset(down): lost(graph, down) > max_count for down in sets}
    places = [(down, k) for down, bad in is_excess.items() for k in range(phases if bad else 1)]
    place = {one: row for row, one in enumerate(places)}
    rates, tick = lil_matrix((len(places), len(places))), phases / LONGER_THAN_H
    for (down, phase), row in place.items():
        for one in repeaters:
            other = down ^ {one}
            both = is_excess[down] and is_excess[other]
            rates[row, place[other, phase if both else 0]] += 1 / (DOWN_H if one in down else UP_H)
        if is_excess[down] and phase + 1 < phases:
            rates[row, place[down, phase + 1]] += tick
        out = len(down) / DOWN_H + (len(repeaters) - len(down)) / UP_H
        rates[row, row] -= out + tick * is_excess[down]
    start = np.zeros(len(places))
    start[place[frozenset(), 0]] = 1.0
    return float(expm_multiply(rates.T.tocsr() * HORIZON_H, start).sum())


def unbroken_by(graph, max_count):
    """The same with a clock that ticks once, as of ``unbroken``."""
    rough, fine = (unbroken_mesh(graph, max_count, m) for m in (20, 60))
    return (3 * fine - rough) / 2


def test_both_references_agree_on_one_unit():
    """A delay equation and a Markov chain, which share nothing but the rates."""
    assert unbroken(1, 0) == pytest.approx(one_unbroken(), abs=5e-4)


def test_counting_those_down_and_listing_who_is_down_agree():
    """Four alike branches: the chain of numbers and the chain of sets."""
    assert unbroken_by(branches(4), 1) == pytest.approx(unbroken(4, 1), abs=5e-4)


def branches(n):
    edges = [edge for k in range(n) for edge in (("g", f"r{k}"), (f"r{k}", f"s{k}"))]
    return networkx.Graph(edges)


def ring(n):
    """A gateway and repeaters in a ring, each repeater with a sensor of its own."""
    around = ["g", *(f"r{k}" for k in range(n))]
    graph = networkx.cycle_graph(around)
    graph.add_edges_from((f"r{k}", f"s{k}") for k in range(n))
    return graph


def row(n, k):
    """A sensor behind n repeaters in a row, each of which hears the k next ones."""
    line = ["g", *(f"r{j}" for j in range(n)), "s1"]
    pairs = ((a, b) for step in range(1, k + 1) for a, b in zip(line, line[step:], strict=False))
    return networkx.Graph(pair for pair in pairs if pair != ("g", "s1"))


def _beyond(records, max_count, counted="orphans"):
    limit_ms = round(LONGER_THAN_H * MS_PER_H)
    return [float(record.most_beyond(counted, limit_ms) > max_count) for record in records]


@pytest.fixture(scope="module")
def lone(trials, size):
    """A sensor behind a repeater: the repeater alternates, the sensor never fails."""
    mesh = trials.mesh_of(networkx.Graph([("g", "r1"), ("r1", "s1")]))
    elements = trials.on_devices(["r1"], exponential(UP_H), exponential(DOWN_H))
    return trials.records(mesh, elements, HORIZON_H, size(gate=600))


@pytest.mark.parametrize("counted", ["orphans", "dark", "silent"])
def test_one_sensor_behind_one_repeater_breaks_it_as_often_as_theory_says(lone, trials, counted):
    trials.agree(_beyond(lone, 0, counted), 1 - one_unbroken())


@pytest.fixture(scope="module")
def fork(trials, size):
    """Four sensors, each behind a repeater of its own."""
    mesh = trials.mesh_of(branches(4))
    repeaters = [f"r{n}" for n in range(4)]
    elements = trials.on_devices(repeaters, exponential(UP_H), exponential(DOWN_H))
    return trials.records(mesh, elements, HORIZON_H, size(gate=200))


def test_two_of_four_repeaters_break_it_as_often_as_theory_says(fork, trials):
    """Not necessarily the same sensors: the excess goes on as one returns and another is lost."""
    trials.agree(_beyond(fork, 1), 1 - unbroken(4, 1))


def test_each_of_four_by_itself_breaks_it_as_often_as_theory_says(trials, size):
    """By sensor none relieves another: all four keep it, each a renewal of its own."""
    mesh = trials.mesh_of(branches(4))
    elements = trials.on_devices(
        [f"r{n}" for n in range(4)], exponential(UP_H), exponential(DOWN_H)
    )
    by_sensor = Watch(by_sensor=True)
    records = trials.records(mesh, elements, HORIZON_H, size(gate=200), watch=by_sensor)
    trials.agree(_beyond(records, 0), 1 - one_unbroken() ** 4)


def test_in_a_chain_all_behind_the_first_that_is_down_are_lost(trials, size):
    """g - r1 - s1 - r2 - s2: both are lost while r1 is away, s2 while either is.

    More than one is lost as long as r1 is away, so that is the renewal of r1 alone.
    """
    mesh = trials.mesh_of(networkx.path_graph(["g", "r1", "s1", "r2", "s2"]))
    elements = trials.on_devices(["r1", "r2"], exponential(UP_H), exponential(DOWN_H))
    records = trials.records(mesh, elements, HORIZON_H, size(gate=200))
    trials.agree(_beyond(records, 1), 1 - one_unbroken())


@pytest.fixture(scope="module")
def around(trials, size):
    """A ring of four repeaters that fail; two of them away cut off all between on the far side."""
    graph = ring(4)
    mesh, elements = trials.mesh_of(graph), _failing(trials, graph)
    return trials.records(mesh, elements, HORIZON_H, size(gate=120))


@pytest.mark.parametrize("max_count", [1, 2])
def test_a_ring_breaks_it_as_often_as_theory_says(around, trials, max_count):
    trials.agree(_beyond(around, max_count), 1 - unbroken_by(ring(4), max_count))


def test_two_in_a_row_that_are_down_break_it_as_often_as_theory_says(trials, size):
    """A consecutive-2-out-of-5 system (Chiang and Niu 1981): each hears the next but one, too."""
    graph = row(5, 2)
    for n in range(6):
        for down in combinations(sorted(node for node in graph if node[0] == "r"), n):
            numbers = sorted(int(node[1:]) for node in down)
            assert lost(graph, down) == any(b - a == 1 for a, b in pairwise(numbers))
    elements = _failing(trials, graph)
    records = trials.records(trials.mesh_of(graph), elements, HORIZON_H, size(gate=120))
    trials.agree(_beyond(records, 0), 1 - unbroken_by(graph, 0))


def _failing(trials, graph):
    repeaters = sorted(node for node in graph if node[0] == "r")
    return trials.on_devices(repeaters, exponential(UP_H), exponential(DOWN_H))
