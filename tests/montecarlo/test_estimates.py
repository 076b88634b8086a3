"""Quantiles against published ranks, and figures as JSON."""

import math

import numpy as np
import pytest
import scipy.stats

from resilience.montecarlo.estimates import (
    TOO_FEW,
    Estimate,
    Limits,
    quantile_estimate,
)

COUNTS = Limits(0.0, 1e9)


def test_what_is_unknown_or_endless_is_null_in_json():
    """RFC 8259: JSON has neither NaN nor infinity."""
    endless = Estimate(math.nan, 1.0, math.inf, 0.95, TOO_FEW)
    assert endless.to_json() == {"mean": None, "low": 1.0, "high": None}


@pytest.mark.parametrize(
    ("n", "share", "first", "last"),
    [
        (10, 0.5, 2, 9),
        (20, 0.5, 6, 15),
        (50, 0.5, 18, 33),
        (100, 0.5, 40, 61),
        (100, 0.9, 84, 96),
        (200, 0.9, 171, 189),
        (200, 0.95, 184, 197),
        (500, 0.95, 465, 485),
        (1000, 0.95, 936, 964),
        (1000, 0.99, 983, 997),
    ],
)
def test_a_quantile_is_bounded_by_the_tabled_ranks(n, share, first, last):
    """Order statistics, at most 2.5 % missed on each side (binomial law; David, textbook).

    The two lifetimes of a building are alike here, so that they count as one.
    """
    ranks = np.repeat(np.arange(1, n + 1), 2)
    found = quantile_estimate(np.random.default_rng(1).permutation(ranks), share, COUNTS)
    assert (found.low, found.high) == (first, last)
    assert found.mean == round(share * n)


def test_an_upper_bound_of_a_quantile_needs_enough_buildings():
    """1 - 0.95^n reaches 0.975 at n = 72 (Wilks's tolerance limits; 59 at 0.95)."""
    many = Limits(0.0, 99.0)
    assert quantile_estimate(np.repeat(np.arange(71), 2), 0.95, many).high == 99.0
    assert quantile_estimate(np.repeat(np.arange(72), 2), 0.95, many).high == 71.0
    assert quantile_estimate(np.array([3, 3]), 0.95, many) == Estimate(
        3.0, 0.0, 99.0, 0.95, "order statistics over building draws"
    )


def test_a_quantile_of_unlike_lifetimes_is_bounded_on_the_safe_side():
    """Exact coverage of the ranks of 2 x 100 independent lifetimes, by the binomial law."""
    found = quantile_estimate(np.arange(1, 201), 0.9, COUNTS)
    covered = scipy.stats.binom.cdf(found.high - 1, 200, 0.9) - scipy.stats.binom.cdf(
        found.low - 1, 200, 0.9
    )
    assert 0.99 < covered < 1


def test_a_quantile_of_counts_may_be_known_exactly_but_only_from_enough_buildings():
    """0 of 72 above 2: that 95 % stay at 2 is proven at the level, for counts cannot be 2.1."""
    assert quantile_estimate(np.full(142, 2), 0.95, COUNTS).high == 1e9
    found = quantile_estimate(np.full(144, 2), 0.95, COUNTS)
    assert (found.low, found.high) == (2.0, 2.0)
