"""Lognormal durations, known, bounded or not over yet: against scipy and invented histories."""

import math
from collections import Counter

import numpy as np
import pytest
from scipy import optimize, stats

from resilience.building.service.events import Lasted
from resilience.hazards.laws import Z90
from resilience.hazards.learning.lasting import STEEPNESS_SPREAD, lasting_of, likelihood, p90_of
from resilience.hazards.learning.lives import Factor

EXACT = (3.0, 8.0, 8.5, 30.0, 2.0)
BOUNDED = ((0.0, 24.0), (24.0, 72.0), (1.0, 5.0))
OPEN = (40.0, 2.0)


def seen():
    rows = [Lasted(one, one) for one in EXACT]
    rows += [Lasted(*one) for one in BOUNDED]
    return Counter(rows + [Lasted(one, math.inf) for one in OPEN])


def log_likelihood(median_h, steepness):
    point = np.array([[math.log(median_h)]]), np.array([[math.log(steepness)]])
    return float(likelihood(seen(), *point)[0, 0])


def censored():
    return stats.CensoredData(EXACT, right=OPEN, interval=np.array(BOUNDED))


def test_each_duration_counts_as_far_as_it_is_known():
    """The likelihood of scipy's lognormal law, up to the constant of the densities."""

    def expected(median_h, steepness):
        law = stats.lognorm(steepness, scale=median_h)
        bounded = sum(math.log(law.cdf(high) - law.cdf(low)) for low, high in BOUNDED)
        return law.logpdf(EXACT).sum() + bounded + law.logsf(OPEN).sum()

    ours = [log_likelihood(*one) for one in ((5, 1.0), (20, 0.7), (2, 2.0))]
    theirs = [expected(*one) for one in ((5, 1.0), (20, 0.7), (2, 2.0))]
    assert np.diff(ours) == pytest.approx(np.diff(theirs))


def test_scipy_finds_the_same_median_of_censored_durations():
    found = optimize.minimize(
        lambda at: -log_likelihood(*np.exp(at)), [1.0, 0.0], method="Nelder-Mead"
    )
    steepness, _, median_h = stats.lognorm.fit(censored(), floc=0)
    assert np.exp(found.x) == pytest.approx((median_h, steepness), rel=2e-3)


def test_far_tails_stay_finite():
    rows = Counter([Lasted(1e5, 1e5 + 48), Lasted(1e-3, 2e-3)])
    told = likelihood(rows, np.log([[1.0], [1e4]]), np.log([[0.05, 3.0]]))
    assert np.isfinite(told).all()


def test_with_nothing_seen_the_bounds_are_those_of_the_range():
    found = lasting_of((), Factor.within(120.0, (24.0, 720.0)), 1.08)
    low, high = (math.exp(one) for one in found.bounds(found.x))
    assert high == pytest.approx(720, rel=0.02)
    assert low == pytest.approx(120 / 6, rel=0.02)  # as far below as the farther end is above


def test_bounds_hold_median_and_90_percent_point_in_95_of_100_histories():
    """Truths are drawn from the belief before; days only, and none seen longer than 300 h."""
    luck, n, held = np.random.default_rng(2), 600, np.zeros(2)
    before = Factor.within(120.0, (24.0, 720.0))
    for _ in range(n):
        median = math.log(120) + before.spread * luck.standard_normal()
        steepness = 1.08 * math.exp(STEEPNESS_SPREAD * luck.standard_normal())
        hours = np.exp(median + steepness * luck.standard_normal(12))
        days = [24.0 * math.floor(one / 24) for one in hours]
        rows = [
            Lasted(300.0, math.inf) if hour > 300 else Lasted(day, day + 24)
            for hour, day in zip(hours, days, strict=True)
        ]
        found = lasting_of(rows, before, 1.08)
        for k, (values, true) in enumerate(
            ((found.x, median), (p90_of(found), median + Z90 * steepness))
        ):
            low, high = found.bounds(values)
            held[k] += low <= true <= high
    assert 0.93 < held[0] / n < 0.97
    assert 0.93 < held[1] / n < 0.97
