"""The worth of a measurement against closed forms."""

import math
from statistics import NormalDist

import numpy as np
import pytest

from resilience.remedies.surveying.information import (
    basis,
    expected,
    informations,
    knowable_share,
    saving,
    shuffled,
)

N = 20_000
NORMAL = NormalDist()


def closed_form(mean: float, spread: float) -> float:
    """E max(0, m) - max(0, E m) of a normal m, by hand: the unit normal linear loss integral.

    Raiffa and Schlaifer 1961, "Applied Statistical Decision Theory" (from memory).
    """
    u = abs(mean) / spread
    return spread * (NORMAL.pdf(u) - u * NORMAL.cdf(-u))


@pytest.mark.parametrize(("mean", "error"), [(0.0, 0.0), (0.0, 3.0), (-1.5, 1.0), (2.0, 2.0)])
def test_two_choices_that_differ_by_a_normal_number_have_the_worth_of_theory(mean, error):
    """The difference follows the unknown, plus luck that nobody can measure; both are normal."""
    luck = np.random.default_rng(5)
    slope, spread, other = 0.7, 3.0, 4.0
    unknown = spread * luck.standard_normal(N)
    difference = mean + slope * unknown + other * luck.standard_normal(N)
    measured = unknown + error * luck.standard_normal(N)
    given = basis(measured, ())
    # What is expected after the measurement has this spread, by the law of total variance.
    after = slope * spread**2 / math.hypot(spread, error)
    (found,) = informations(difference, [given], ())
    worth = closed_form(mean, after)
    # A standard error of the sample mean of about the spread of the difference over sqrt(N).
    assert found.saves == pytest.approx(worth, abs=4 * math.hypot(after, other) / math.sqrt(N))
    total = (slope * spread) ** 2 + other**2
    assert found.explained_share == pytest.approx(after**2 / total, abs=0.02)


def test_an_outcome_that_bends_at_a_limit_is_followed_round_the_bend():
    values = np.random.default_rng(6).normal(0.0, 8.0, N)
    outcome = np.maximum(0.0, -values)
    straight, bent = basis(values, ()), basis(values, (0.0,))
    assert np.abs(expected(outcome, bent) - outcome).max() < 1e-9
    assert np.abs(expected(outcome, straight) - outcome).max() > 1


def test_a_choice_that_no_measurement_turns_is_worth_nothing():
    assert saving(np.array([-3.0, -1.0, -0.5])) == 0.0
    assert saving(np.array([3.0, 1.0, 0.5])) == 0.0


def test_measurements_that_tell_nothing_are_seldom_shown():
    """With outcomes as far apart as rare, long losses; one of a hundred such surveys may err."""
    luck = np.random.default_rng(7)
    n_wrong = 0
    for _ in range(20):
        outcome = luck.pareto(1.5, 200) * (luck.random(200) < 0.1)
        given = [basis(one, (0.0,)) for one in luck.standard_normal((15, 200))]
        n_wrong += any(one.is_shown for one in informations(outcome, given, shuffled(outcome, 3)))
    assert n_wrong <= 4  # each errs in 1 of 20: 5 or more of 20 come in 1 of 400 (binomial)


def test_what_tells_half_of_all_is_shown_among_many_that_tell_nothing():
    luck = np.random.default_rng(8)
    values = luck.standard_normal((30, 300))
    outcome = values[4] + luck.standard_normal(300)
    found = informations(outcome, [basis(one, ()) for one in values], shuffled(outcome, 3))
    assert [one.is_shown for one in found] == [place == 4 for place in range(30)]
    assert found[4].explained_share == pytest.approx(0.5, abs=0.15)


def test_the_knowable_share_is_that_of_the_part_that_two_lifetimes_share():
    luck = np.random.default_rng(9)
    shared = 2.0 * luck.standard_normal(N)
    first, second = (shared + luck.standard_normal(N) for _ in range(2))
    assert knowable_share(first, second) == pytest.approx(4 / 5, abs=0.02)
    assert knowable_share(luck.standard_normal(N), luck.standard_normal(N)) < 0.03
