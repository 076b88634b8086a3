"""Rates from counts: the gamma law against textbooks, scipy and many invented histories."""

import numpy as np
import pytest
from scipy import stats

from resilience.hazards.learning.evidence import Strikes
from resilience.hazards.learning.planes import AT_95
from resilience.hazards.learning.rates import Gamma, believed, seen_alone_per_year


def test_failures_add_to_the_shape_and_time_to_the_years():
    """a' = a + r, b' = b + T: NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.6."""
    before = Gamma(2.0, 80.0)
    after = before.updated(Strikes(3, 120.0))
    assert after == Gamma(5.0, 200.0)
    law = stats.gamma(5.0, scale=1 / 200.0)
    assert after.mean_per_year == pytest.approx(law.mean())
    assert after.bounds_per_year == pytest.approx(law.interval(0.95))


@pytest.mark.parametrize(
    ("stated", "low", "high"),
    [(0.025, 0.005, 0.11), (6.0, 2.0, 18.0), (20.0, 5.0, 50.0), (30.0, 2.0, 18.0)],
)
def test_a_belief_reaches_both_ends_of_the_range_and_just_one_of_them(stated, low, high):
    """Of the gamma law with the stated mean, by scipy, 2.5 % lie beyond the nearer end, or more."""
    found = believed(stated, (low, high))
    law = stats.gamma(found.shape, scale=1 / found.years)
    assert law.mean() == pytest.approx(stated)
    beyond = (law.cdf(low), law.sf(high))
    assert min(beyond) == pytest.approx(0.025, abs=1e-4)


def test_no_range_makes_a_belief_vaguer_than_jeffreys():
    """A rate far below its range: shape 1/2 is Jeffreys' law of a Poisson rate (from memory)."""
    assert believed(0.001, (0.1, 10.0)) == Gamma(0.5, 500.0)


def test_nothing_seen_moves_nothing():
    before = believed(0.025, (0.005, 0.11))
    assert before.updated(Strikes(0, 0.0)) == before


def test_much_seen_outweighs_any_belief():
    after = believed(0.025, (0.005, 0.11)).updated(Strikes(400, 1000.0))
    assert after.mean_per_year == pytest.approx(0.4, rel=0.08)


@pytest.mark.parametrize(
    ("n", "low", "high"),
    # Exact 95 % bounds of a Poisson mean: Garwood 1936, Biometrika 28 (from memory).
    [(0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)],
)
def test_what_was_seen_alone_has_the_exact_bounds_of_a_count(n, low, high):
    assert seen_alone_per_year(Strikes(n, 2.0)) == pytest.approx((low / 2, high / 2), abs=0.001)


@pytest.mark.parametrize("years", [0.5, 20.0, 500.0])
def test_bounds_hold_the_true_rate_in_95_of_100_histories(years):
    """Rates are drawn from the belief before; 2,000 histories, so 95 % within 4 standard errors."""
    luck, before = np.random.default_rng(11), believed(0.7, (0.2, 3.0))
    true = luck.gamma(before.shape, 1 / before.years, 2000)
    seen = luck.poisson(true * years)
    found = [before.updated(Strikes(int(n), years)).bounds_per_year for n in seen]
    held = np.mean([low <= one <= high for one, (low, high) in zip(true, found, strict=True)])
    assert 0.93 < held < 0.97
    assert AT_95 == (0.025, 0.975)
