"""Figures as JSON, and quantiles."""

import math

import numpy as np

from resilience.montecarlo.estimates import TOO_FEW, Beyond, Estimate, Limits, quantile_of


def test_what_is_unknown_or_endless_is_null_in_json():
    """RFC 8259: JSON has neither NaN nor infinity."""
    endless = Estimate(math.nan, 1.0, math.inf, 0.95, TOO_FEW)
    assert endless.to_json() == {"mean": None, "low": 1.0, "high": None}


def test_a_figure_that_leaves_rare_values_aside_says_so_in_json():
    share = Estimate(0.0, 0.0, 0.01, 0.975, "made up")
    found = Estimate(2.0, 1.0, 3.0, 0.95, "made up", Beyond(Limits(0.0, 20.0), share, 0, 400))
    assert found.to_json() == {
        "mean": 2.0,
        "low": 1.0,
        "high": 3.0,
        "bounds_count_at_least": 0.0,
        "bounds_count_at_most": 20.0,
        "share_beyond_at_most": 0.01,
    }


def test_a_quantile_is_the_least_value_that_enough_do_not_exceed():
    """Of 1 to 20: the 19th at 0.95 (numpy's inverted distribution function)."""
    values = np.random.default_rng(1).permutation(np.arange(1, 21)).reshape(10, 2)
    assert quantile_of(values, 0.95) == np.quantile(values, 0.95, method="inverted_cdf") == 19.0
