"""Laws of durations against printed tables and scipy."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import optimize, stats

from resilience import draws
from resilience.building.settings import Duration
from resilience.hazards.laws import (
    NEVER,
    Law,
    exponential,
    factor,
    lasting,
    weibull,
    weibull_slope,
)
from resilience.units import MS_PER_H

# Weibull with scale 1: slope, mean, standard deviation, 1 %, 10 %, 50 % and 90 % points. Any
# reliability textbook (Birolini; Abernethy); computed by the `reliability` package 0.9.0.
WEIBULL = [
    (0.5, 2.0000000000, 4.47213595, 0.00010101, 0.01110084, 0.48045301, 5.30189811),
    (0.8, 1.1330030963, 1.42816489, 0.00318219, 0.06002710, 0.63245820, 2.83641394),
    (1.0, 1.0000000000, 1.00000000, 0.01005034, 0.10536052, 0.69314718, 2.30258509),
    (1.5, 0.9027452930, 0.61293579, 0.04657152, 0.22307553, 0.78321977, 1.74372151),
    (2.0, 0.8862269255, 0.46325138, 0.10025136, 0.32459285, 0.83255461, 1.51742713),
    (3.0, 0.8929795116, 0.32455028, 0.21580435, 0.47230872, 0.88499704, 1.32050048),
    (3.5, 0.8997471765, 0.28473277, 0.26865470, 0.52573285, 0.90057847, 1.26908350),
    (5.0, 0.9181687424, 0.21030924, 0.39850715, 0.63758131, 0.92931959, 1.18152561),
]


@pytest.mark.parametrize("row", WEIBULL)
def test_weibull_quantiles_are_those_of_the_table(row):
    slope, _, _, *points = row
    ours = [draws.weibull(u, 1.0, slope) for u in (0.01, 0.10, 0.50, 0.90)]
    assert ours == pytest.approx(points, abs=6e-9)


@pytest.mark.parametrize("row", WEIBULL)
def test_a_weibull_law_given_by_its_mean_has_the_scale_of_the_table(row):
    slope, mean, *_ = row
    law = weibull(10 * mean, slope)
    assert law.scale == pytest.approx(10 * MS_PER_H, rel=1e-9)
    assert law.drawn(1 - math.exp(-1)) == pytest.approx(10 * MS_PER_H, rel=1e-9)


@pytest.mark.parametrize("row", WEIBULL)
def test_the_slope_follows_from_the_spread_of_the_table(row):
    slope, mean, deviation, *_ = row
    assert weibull_slope(deviation / mean) == pytest.approx(slope, rel=1e-6)


def test_a_weibull_life_of_scale_10_and_slope_3_survives_5_as_printed():
    """Survival at 5 is 0.8824969026; 10 % have failed by 4.7230871857 (the same table)."""
    assert draws.weibull(1 - 0.8824969026, 10, 3) == pytest.approx(5, rel=1e-9)
    assert draws.weibull(0.10, 10, 3) == pytest.approx(4.7230871857, rel=1e-10)


def test_cells_that_spread_by_12_percent_have_a_slope_of_about_10():
    """Common practice: a Weibull slope of 10 goes with a coefficient of variation of 0.12."""
    assert weibull_slope(0.12) == pytest.approx(10, rel=0.005)


@pytest.mark.parametrize("spread", [0.02, 0.05, 0.12, 0.3, 1.0])
def test_a_factor_has_mean_1_and_the_spread_asked_for(spread):
    law = factor(spread)
    mean, variance = stats.weibull_min.stats(law.slope, scale=law.scale, moments="mv")
    assert mean == pytest.approx(1, rel=1e-9)
    assert math.sqrt(variance) == pytest.approx(spread, rel=1e-6)


def test_the_slope_of_a_spread_is_the_one_that_scipy_solves_for():
    def excess(slope: float) -> float:
        return stats.weibull_min.std(slope) / stats.weibull_min.mean(slope) - 0.07

    assert weibull_slope(0.07) == pytest.approx(optimize.brentq(excess, 2, 100), rel=1e-6)


def test_an_exponential_law_is_that_of_scipy():
    law = exponential(24)
    for u in (0.0, 0.1, 0.5, 0.99):
        assert law.drawn(u) == pytest.approx(stats.expon.ppf(u, scale=24 * MS_PER_H), rel=1e-14)


def test_a_lognormal_duration_has_the_median_and_the_90_percent_point_stated():
    law = lasting(Duration("lognormal", median_h=48, p90_h=120))
    assert law.drawn(0.5) == pytest.approx(48 * MS_PER_H, rel=1e-15)
    assert law.drawn(0.9) == pytest.approx(120 * MS_PER_H, rel=1e-14)
    assert law.drawn(0.1) == pytest.approx(48 / 2.5 * MS_PER_H, rel=1e-14)


@pytest.mark.parametrize(
    ("spread", "low"), [(0.1, 0.875630), (0.2, 0.760780), (0.3, 0.657506), (0.5, 0.488238)]
)
def test_the_low_tenth_of_a_lognormal_lies_where_theory_puts_it(spread, low):
    """10 % point over the mean: sigma^2 = ln(1 + CV^2), mean = median exp(sigma^2 / 2)."""
    sigma = math.sqrt(math.log1p(spread**2))
    median = math.exp(-(sigma**2) / 2)
    assert draws.lognormal(0.10, median, sigma) == pytest.approx(low, abs=6e-7)


def test_a_fixed_duration_and_never_take_no_chance():
    assert lasting(Duration("fixed", mean_h=2)).drawn_ms(0.3) == 2 * MS_PER_H
    assert NEVER.drawn(0.3) == math.inf
    assert NEVER.drawn_ms(0.3) == draws.LONGEST_MS
    assert Law(draws.FIXED, 1.0).drawn(0.9) == 1.0


def test_an_exponential_duration_is_given_by_its_mean():
    assert lasting(Duration("exponential", mean_h=3)) == exponential(3)


def test_every_law_grows_with_the_draw():
    laws = [exponential(5), weibull(5, 3), lasting(Duration("lognormal", 5, 9)), factor(0.1)]
    for law in laws:
        drawn = [law.drawn(u) for u in np.linspace(0, 1 - 2**-53, 2001)]
        assert all(low < high for low, high in pairwise(drawn))
