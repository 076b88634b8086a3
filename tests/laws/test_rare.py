"""Rare losses by splitting, against Markov chains and against plain lifetimes.

Units alternate, each behind its own repeater, so a loss is k of n away at once: its first passage
is solved by scipy's matrix exponential, which knows nothing of lifetimes.
"""

import math

import networkx
import numpy as np
import pytest
from scipy.linalg import expm
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import expm_multiply

from resilience import draws
from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Drawn, Element, Mended, Reach
from resilience.hazards.laws import Law, exponential, factor, weibull
from resilience.hazards.table import HazardTable
from resilience.lifetime.branching.aims import FOR_EVER_MS
from resilience.lifetime.branching.splitter import Splitter
from resilience.lifetime.casting.records import Recorder
from resilience.lifetime.casting.worlds import cast_of
from resilience.lifetime.mesh import Luck, Rules
from resilience.lifetime.record import USUAL_WATCH, Watch
from resilience.montecarlo.splitting.cuts import Loss
from resilience.montecarlo.splitting.nearness import aim_of
from resilience.montecarlo.splitting.runs import rare_figure
from resilience.units import MS_PER_H

SEED = 20260102


def _fork(trials, n):
    """So many sensors, each behind a repeater of its own."""
    edges = [edge for i in range(n) for edge in (("g", f"r{i}"), (f"r{i}", f"s{i}"))]
    return trials.mesh_of(networkx.Graph(edges)), [f"r{i}" for i in range(n)]


def _splitter(mesh, hazards, horizon_h, loss, longer_than_h=0.0, watch=USUAL_WATCH):
    rules = Rules(round(horizon_h * MS_PER_H), 0, 1, 1, 1, 0, watch=watch)
    aim = aim_of(mesh, hazards, loss, round(longer_than_h * MS_PER_H))
    return Splitter(cast_of(mesh, hazards, rules), aim)


def _within(share):
    """Whether the standard error of a share is below so much of it."""

    def is_sure(estimate):
        return estimate.high - estimate.low < share * estimate.mean

    return is_sure


def _agree(found, expected):
    """Four standard errors between independent runs, both ways."""
    assert found.is_told
    distance = abs(found.estimate.mean - expected) / found.standard_error
    assert distance < 4, f"{found.estimate.mean:.4g} +- {found.standard_error:.2g}, {expected:.4g}"


def first_passage(n, k, up_h, down_h, horizon_h):
    """Probability that more than k of n alike units are ever away at once."""
    rates = np.zeros((k + 2, k + 2))
    for j in range(k + 1):
        rates[j, j + 1] = (n - j) / up_h
        if j:
            rates[j, j - 1] = j / down_h
        rates[j, j] = -rates[j].sum()
    return float(expm(rates * horizon_h)[0, k + 1])


@pytest.mark.parametrize(
    ("n", "k", "up_h", "down_h", "horizon_h", "about"),
    [
        (5, 2, 1000.0, 5.0, 2000.0, 1e-3),
        (6, 2, 4000.0, 2.0, 2000.0, 1e-5),
        (6, 3, 2000.0, 2.0, 1000.0, 3e-8),
    ],
)
def test_more_than_k_of_n_away_at_once_are_as_rare_as_a_markov_chain_says(
    trials, size, n, k, up_h, down_h, horizon_h, about
):
    expected = first_passage(n, k, up_h, down_h, horizon_h)
    assert about / 3 < expected < about * 3
    mesh, repeaters = _fork(trials, n)
    elements = trials.on_devices(repeaters, exponential(up_h), exponential(down_h))
    splitter = _splitter(mesh, HazardTable(tuple(elements), ()), horizon_h, Loss(k, False, False))
    assert splitter.aim.distance == k + 1
    assert len(splitter.aim.cuts) == math.comb(n, k + 1)
    width = 1.0 if size(gate=0, soak=1) == 0 else 0.1
    _agree(rare_figure(splitter, SEED, _within(width), lambda: math.inf), expected)


def longer_than(n, k, up_h, down_h, longer_than_h, horizon_h):
    """Probability that more than k of n are away for longer than D without a break.

    An Erlang clock of m phases stands for D; what that misses falls as a series in 1 / m, of which
    three clocks take the first two terms away.
    """

    def with_phases(phases):
        place = {(j, 0): j for j in range(k + 1)}
        for j in range(k + 1, n + 1):
            for phase in range(phases):
                place[j, phase] = len(place)
        rates = lil_matrix((len(place) + 1, len(place) + 1))
        for (j, phase), row in place.items():
            moves = [((n - j) / up_h, (j + 1, phase if j > k else 0))]
            moves.append((j / down_h, (j - 1, phase if j - 1 > k else 0)))
            if j > k:
                moves.append((phases / longer_than_h, (j, phase + 1)))
            for rate, to in moves:
                if rate and 0 <= to[0] <= n:
                    rates[row, place.get(to, len(place))] += rate
                    rates[row, row] -= rate
        start = np.zeros(len(place) + 1)
        start[0] = 1.0
        return float(expm_multiply(rates.T.tocsr() * horizon_h, start)[-1])

    rough, middle, fine = (with_phases(m) for m in (40, 80, 160))
    return (8 * fine - 6 * middle + rough) / 3


def test_an_excess_that_lasts_is_as_rare_as_a_markov_chain_with_a_clock_says(trials, size):
    """More than 1 of 4 away for 8 h without a break, while an absence lasts 2 h: all time in it."""
    expected = longer_than(4, 1, 200.0, 2.0, 8.0, 400.0)
    assert 1e-5 < expected < 1e-3
    mesh, repeaters = _fork(trials, 4)
    elements = trials.on_devices(repeaters, exponential(200.0), exponential(2.0))
    hazards = HazardTable(tuple(elements), ())
    splitter = _splitter(mesh, hazards, 400.0, Loss(1, False, False), 8.0)
    width = 1.0 if size(gate=0, soak=1) == 0 else 0.1
    _agree(rare_figure(splitter, SEED, _within(width), lambda: math.inf), expected)


@pytest.fixture(scope="module")
def ageing(trials):
    """A fork with a second way between two repeaters; all that can be drawn anew strikes it.

    Repeaters age and are mended by visits, their plugs fail, one event may strike several, and
    they live on cells.
    """
    edges = [("g", "r0"), ("g", "r1"), ("g", "r2"), ("r0", "r1"), ("r0", "s0"), ("r1", "s1")]
    mesh = trials.mesh_of(networkx.Graph([*edges, ("r2", "s2"), ("r1", "s2")]))
    repair = Law(draws.LOGNORMAL, 6.0 * MS_PER_H, 0.8)
    elements, cells = [], []
    for id in ("r0", "r1", "r2"):
        ages = Mended(weibull(300.0, 2.5), repair, 0.2, 60.0 * MS_PER_H)
        plug = Drawn(weibull(250.0, 0.8), Law(draws.WEIBULL, 4.0 * MS_PER_H, 1.6))
        together = Drawn(
            exponential(500.0), exponential(3.0), Reach(("zone", "z", "zone_works"), share=0.5)
        )
        elements.append(Element("hardware", id, Effect.DOWN, (id,), clock=ages))
        elements.append(Element("mains_outage", id, Effect.DOWN, (id,), clock=plug))
        elements.append(Element("zone_works", id, Effect.DOWN, (id,), clock=together))
        charge = 200.0 * MS_PER_H * 1000
        fixed = Law(draws.FIXED, 8.0 * MS_PER_H)
        cells.append(Cells(id, charge, factor(0.4), 900, 50, 1200, fixed, 20))
    return mesh, HazardTable(tuple(elements), tuple(cells))


def test_plain_lifetimes_break_it_in_the_same_way_in_records_and_without_branches(ageing):
    mesh, hazards = ageing
    horizon_h, longer_than_ms = 300.0, round(2.0 * MS_PER_H)
    splitter = _splitter(mesh, hazards, horizon_h, Loss(1, False, False), 2.0)
    found = splitter.play(SEED, 0, 400, [1] * splitter.aim.n_levels)
    recorder = Recorder(cast_of(mesh, hazards, Rules(round(horizon_h * MS_PER_H), 0, 1, 1, 1, 0)))
    records = [recorder.record(Luck(SEED, number)) for number in range(400)]
    broken = sum(one.most_beyond("orphans", longer_than_ms) > 1 for one in records)
    assert 0 < broken < 400
    assert found.reached[-1] == broken
    assert found.branches == 0


def test_lifetimes_played_in_pieces_come_to_the_same_and_may_be_cut_short(ageing, monkeypatch):
    """A lifetime with its branches takes thousands of steps; the clock is asked every hundred."""
    splitter = _splitter(*ageing, 300.0, Loss(1, False, False), 2.0)
    how = SEED, 0, 8, [3] * splitter.aim.n_levels
    whole = splitter.play(*how)
    monkeypatch.setattr("resilience.lifetime.branching.splitter.PIECE_STEPS", 100)
    asked = []
    assert splitter.play(*how, lambda: asked.append(1) is not None) == whole
    assert len(asked) > whole.steps / 250
    assert whole.branches > 0
    n = len(asked)
    assert splitter.play(*how, lambda: asked.append(1) is None and len(asked) > n + 3) is None
    assert len(asked) == n + 4


@pytest.mark.parametrize(
    ("loss", "by_sensor"), [(Loss(1, False, False), True), (Loss(2, True, False), False)]
)
def test_branches_break_it_as_often_as_plain_lifetimes_do(ageing, size, loss, by_sensor):
    """Whatever is drawn anew, and in two ways to count; splitting is free of bias or it is not."""
    mesh, hazards = ageing
    assert {device.kind for device in mesh.devices} == set(Kind)
    splitter = _splitter(mesh, hazards, 150.0, loss, 2.0, Watch(by_sensor=by_sensor))
    n_levels, n = splitter.aim.n_levels, size(gate=200)
    copies = [1] * n_levels
    copies[: splitter.aim.distance] = [3] * splitter.aim.distance
    copies[-2] = 2

    def shares(how):
        return [splitter.play(SEED, run * n, n, how).share for run in range(40)]

    plain, split = shares([1] * n_levels), shares(copies)
    difference = np.array(plain) - np.array(split)
    assert np.mean(split) > 0
    assert abs(difference.mean()) < 4 * difference.std(ddof=1) / math.sqrt(len(difference))


def hours_both_away(up_h, down_h, horizon_h):
    """Mean hours for which both of two units that begin up are away: a closed form.

    Each is away at t with probability u (1 - exp(-s t)), u = down / (up + down), s = 1/up + 1/down
    (two-state Markov chain, from memory); they are independent, so its square is integrated.
    """
    u, s = down_h / (up_h + down_h), 1 / up_h + 1 / down_h
    once, twice = -math.expm1(-s * horizon_h) / s, -math.expm1(-2 * s * horizon_h) / (2 * s)
    return u**2 * (horizon_h - 2 * once + twice)


@pytest.mark.parametrize(("up_h", "down_h", "about_h"), [(5000.0, 5.0, 1e-3), (1e4, 2.0, 4e-5)])
def test_hours_behind_two_repeaters_are_as_few_as_a_closed_form_says(
    trials, size, up_h, down_h, about_h
):
    """Both are away in one of thousands of lifetimes or fewer; the sensor has two ways."""
    expected = hours_both_away(up_h, down_h, 1000.0)
    assert about_h / 3 < expected < about_h * 3
    mesh = trials.mesh_of(networkx.Graph([("g", "r0"), ("g", "r1"), ("r0", "s"), ("r1", "s")]))
    elements = trials.on_devices(["r0", "r1"], exponential(up_h), exponential(down_h))
    rules = Rules(round(1000.0 * MS_PER_H), 0, 1, 1, 1, 0)
    hazards = HazardTable(tuple(elements), ())
    aim = aim_of(mesh, hazards, Loss(0, False, False), FOR_EVER_MS)
    assert (aim.distance, aim.n_levels) == (2, 1)
    width = 1.0 if size(gate=0, soak=1) == 0 else 0.1
    splitter = Splitter(cast_of(mesh, hazards, rules), aim)
    found = rare_figure(splitter, SEED, _within(width), lambda: math.inf)
    _agree(found.scaled(1 / MS_PER_H), expected)


def test_hours_of_branches_are_those_of_plain_lifetimes_and_of_their_records(ageing, size):
    """Not rare, and whatever is drawn anew: all three ways to add up come to the same."""
    mesh, hazards = ageing
    rules = Rules(round(150.0 * MS_PER_H), 0, 1, 1, 1, 0)
    aim = aim_of(mesh, hazards, Loss(2, False, False), FOR_EVER_MS)  # less is lost on the way there
    splitter, n = Splitter(cast_of(mesh, hazards, rules), aim), size(gate=100)
    assert aim.n_levels
    recorder = Recorder(cast_of(mesh, hazards, rules))
    records = [recorder.record(Luck(SEED, number)) for number in range(n)]
    plain = [splitter.play(SEED, run * n, n, [1] * aim.n_levels) for run in range(40)]
    in_records_ms = sum(sum(one.orphan_ms.values()) for one in records)
    assert plain[0].lost_ms * n == pytest.approx(in_records_ms, rel=1e-12)
    assert in_records_ms > 0
    split = [splitter.play(SEED, run * n, n, [3] * aim.n_levels) for run in range(40)]
    assert all(one.branches for one in split)
    difference = np.array([a.lost_ms - b.lost_ms for a, b in zip(plain, split, strict=True)])
    assert abs(difference.mean()) < 4 * difference.std(ddof=1) / math.sqrt(len(difference))


def test_what_cannot_come_about_is_never_come_to_and_told_of_no_bound(trials):
    """An aim that nothing can bring about is never come to, and says so."""
    mesh, repeaters = _fork(trials, 3)
    elements = trials.on_devices(repeaters[:1], exponential(50.0), exponential(5.0))
    splitter = _splitter(mesh, HazardTable(tuple(elements), ()), 300.0, Loss(1, False, False))
    found = rare_figure(splitter, SEED, lambda _: True, lambda: math.inf)
    assert found.n_reached == 0
    assert not found.is_told
