"""Pilots and runs on made-up lifetimes whose truth is known."""

import math
import os
from types import SimpleNamespace

import numpy as np
import pytest

from resilience.lifetime.branching.aims import Aim
from resilience.lifetime.branching.splitter import Branched
from resilience.montecarlo.splitting.pilots import MOST_COPIES, tuned_copies
from resilience.montecarlo.splitting.runs import RUNS, rare_figure

IS_SOAK = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
N_STUDIES = 1000 if IS_SOAK else 100


class MadeUp:
    """Lifetimes that come to level 1 a few times, and from each level to the next by chance."""

    def __init__(self, entries, chances, seed=1):
        self.aim = SimpleNamespace(n_levels=len(chances), is_open_ended=False)
        self.truth = entries * math.prod(chances)
        self._law, self._random = (entries, chances), np.random.default_rng(seed)
        self.n_lifetimes = 0

    def play(self, seed, first, n, copies, is_late):  # noqa: ARG002 - as a splitter is asked
        entries, chances = self._law
        reached = [int(self._random.poisson(entries * n))]
        for chance, n_copies in zip(chances, copies, strict=True):
            reached.append(int(self._random.binomial(reached[-1] * n_copies, chance)))
        branches = sum(one * (c - 1) for one, c in zip(reached, copies, strict=False))
        self.n_lifetimes += n
        return Branched(n, tuple(reached), 1 / math.prod(copies), n, branches)


class Slow(MadeUp):
    """Lifetimes that take as long as they have branches, on a clock of their own."""

    def __init__(self, entries, chances, whole_s, branch_s, seed=1):
        super().__init__(entries, chances, seed)
        self.left, self._branch_s, self.n_cut = whole_s, branch_s, 0

    def left_s(self):
        return self.left

    def play(self, seed, first, n, copies, is_late):
        found = super().play(seed, first, n, copies, is_late)
        for _ in range(n + found.branches):
            if is_late():
                self.n_cut += 1
                return None
            self.left -= self._branch_s
        return found


def early():
    return False


def no_time_s():
    return 0.0


def all_time_s():
    return math.inf


def test_as_many_copies_are_made_as_it_takes_for_one_to_come_further():
    made = MadeUp(3.0, [0.01, 0.5, 0.002, 0.9])
    copies = tuned_copies(lambda *how: made.play(1, *how), 4, 0, early)
    for found, wanted in zip(copies, [100, 2, 500, 1], strict=True):
        assert found == pytest.approx(wanted, rel=0.8)


def test_time_that_is_up_ends_a_round_of_pilots_within_it():
    """The second round would take 128 lifetimes; time is up after 40, asked every 16."""
    made = MadeUp(0.01, [0.1, 0.1])
    tuned_copies(lambda *how: made.play(1, *how), 2, 0, lambda: made.n_lifetimes >= 40)
    assert 40 <= made.n_lifetimes < 40 + 16


def test_copies_stay_within_reason_where_nothing_comes_further():
    made = MadeUp(3.0, [0.1, 0.0, 0.5])
    copies = tuned_copies(lambda *how: made.play(1, *how), 3, 0, early)
    assert copies[0] == pytest.approx(10, rel=0.8)
    assert copies[1:] == (MOST_COPIES, 1)


def test_a_first_level_that_is_seldom_come_to_takes_more_lifetimes():
    made = MadeUp(0.002, [0.1, 0.1])
    copies = tuned_copies(lambda *how: made.play(1, *how), 2, 0, early)
    assert copies == pytest.approx((10, 10), rel=0.8)


def test_an_estimate_says_how_it_was_made_and_leaves_out_what_is_too_little():
    made = MadeUp(3.0, [0.01, 0.01])
    found = rare_figure(made, 1, lambda _: True, all_time_s)
    assert found.is_told
    assert found.estimate.low < made.truth < found.estimate.high
    assert found.estimate.method == f"splitting, t interval of {RUNS} independent runs"
    assert found.to_json()["runs"] == RUNS
    nothing = rare_figure(MadeUp(3.0, [0.0]), 1, lambda _: True, no_time_s)
    assert not nothing.is_told
    assert nothing.n_reached == 0


def test_it_goes_on_until_it_is_sure_or_late():
    made = MadeUp(3.0, [0.01, 0.01])
    rare_figure(made, 1, lambda one: one.high - one.low < 0.05 * one.mean, all_time_s)
    long = made.n_lifetimes
    made = MadeUp(3.0, [0.01, 0.01])
    assert not rare_figure(made, 1, lambda _: False, no_time_s).is_told
    assert made.n_lifetimes < long


@pytest.mark.parametrize("whole_s", [0.01, 0.1, 1.0, 5.0, 40.0])
def test_time_is_kept_to_the_last_piece_however_long_a_run_takes(whole_s):
    made = Slow(3.0, [0.01, 0.01], whole_s, branch_s=0.001)
    found = rare_figure(made, 1, lambda _: False, made.left_s)
    assert -0.001 <= made.left <= 0.75 * whole_s
    assert found.is_told or found.why_not_told


def test_what_came_to_nothing_says_why():
    no_time = rare_figure(MadeUp(3.0, [0.1]), 1, lambda _: True, no_time_s)
    assert no_time.why_not_told == "there was no time for 32 runs"
    never = rare_figure(MadeUp(3.0, [0.0]), 1, lambda _: True, all_time_s)
    assert never.why_not_told == "none of 32 runs came to such a loss"
    assert not rare_figure(MadeUp(3.0, [0.1]), 1, lambda _: True, all_time_s).why_not_told


def test_a_sweep_that_is_cut_short_moves_no_mean():
    """What comes far takes longest, so cutting that out alone would leave too little."""
    found = []
    for seed in range(N_STUDIES):
        made = Slow(1.0, [0.1, 0.2], 6.0, branch_s=0.001, seed=seed)
        one = rare_figure(made, 1, lambda _: False, made.left_s)
        if one.n_lifetimes:
            found.append(one.estimate.mean / made.truth - 1)
    assert len(found) > 0.9 * N_STUDIES
    assert abs(np.mean(found)) < 4 * np.std(found, ddof=1) / math.sqrt(len(found))


@pytest.mark.parametrize(("beyond", "false"), [(0.97, "kept"), (1.03, "broken")])
def test_a_verdict_by_splitting_is_false_no_more_often_than_promised(beyond, false):
    """Asked at every look whether the truth lies on the side of the line where it does not."""
    n_false = n_sure = 0
    for seed in range(N_STUDIES):
        made = MadeUp(0.5, [0.02, 0.05, 0.3], seed)
        line = made.truth * beyond

        def is_sure(one, line=line):
            return one.high <= line or one.low > line

        found = rare_figure(made, 1, is_sure, all_time_s).estimate
        n_sure += is_sure(found)
        n_false += found.high <= line if false == "kept" else found.low > line
    assert n_false / N_STUDIES <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / N_STUDIES)
    assert n_sure > 0


@pytest.mark.parametrize(
    ("aim", "distance", "n_marks"),
    [
        (Aim("orphans", 3, 8_000, [frozenset("ab"), frozenset("abc")]), 2, 7),
        (Aim("orphans", 3, 0, [frozenset("a")]), 1, 0),
        (Aim("dark", 1, 8_000, [frozenset("abc")], furthest=6), 2, 7),
        (Aim("orphans", 9, 3, furthest=6), 6, 2),
    ],
)
def test_levels_are_losses_up_to_the_last_then_the_excess_and_its_marks(aim, distance, n_marks):
    assert aim.distance == distance
    assert len(aim.marks_ms) == n_marks
    assert aim.n_levels == distance + n_marks
    assert all(0 < mark < aim.longer_than_ms for mark in aim.marks_ms)
