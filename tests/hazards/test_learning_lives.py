"""Weibull lives that have not ended: against a handbook, scipy and many invented histories."""

import math
from collections import Counter

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from resilience.building.settings import EarlyFailure
from resilience.hazards.laws import weibull_slope
from resilience.hazards.learning.evidence import Lives, Strikes
from resilience.hazards.learning.lives import (
    Factor,
    Wear,
    life_years,
    likelihood,
    likelihood_of_slope,
    spread_of,
    worn,
)
from resilience.hazards.learning.rates import believed
from resilience.units import HOURS_PER_YEAR

NOBODY = Strikes(0, 0.0)
# NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: 20 units, 10 failed by 500 h.
FAILED_H = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
SLOPE, SCALE_H, LOG_LIKELIHOOD = 1.7208, 606.5280, -75.135


def lives(failed_h, running_h, entered_h=0.0):
    spans = Counter((entered_h, float(age)) for age in (*failed_h, *running_h))
    return Lives(dict(spans), tuple(float(age) for age in failed_h))


def log_likelihood(seen, slope, scale_h):
    mean_h = scale_h * math.gamma(1 + 1 / slope)
    point = likelihood(
        seen, np.array([[math.log(HOURS_PER_YEAR / mean_h)]]), np.array([[math.log(slope)]])
    )
    return float(point[0, 0])


def most_likely(seen, start):
    found = optimize.minimize(
        lambda at: -log_likelihood(seen, math.exp(at[0]), math.exp(at[1])),
        np.log(start),
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-10},
    )
    return (*np.exp(found.x), -found.fun)


def test_the_handbook_finds_the_same_slope_and_scale():
    found = most_likely(Wear(lives(FAILED_H, [500] * 10), NOBODY), (1.0, 400.0))
    assert found == pytest.approx((SLOPE, SCALE_H, LOG_LIKELIHOOD), rel=1e-4)


def test_scipy_finds_the_same_slope_and_scale_of_censored_lives():
    luck = np.random.default_rng(5)
    ages = stats.weibull_min(2.3, scale=900).rvs(60, random_state=luck)
    limits = luck.uniform(200, 1500, 60)
    failed, running = ages[ages <= limits], limits[ages > limits]
    slope, _, scale_h = stats.weibull_min.fit(stats.CensoredData(failed, right=running), floc=0)
    found = most_likely(Wear(lives(failed, running), NOBODY), (1.0, 500.0))
    assert found[:2] == pytest.approx((slope, scale_h), rel=1e-3)


def test_lives_seen_from_some_age_on_count_as_those_that_reached_it():
    """The density of a life that is known to exceed an age is f(t) / S(age)."""
    law = stats.weibull_min(1.8, scale=700)
    expected = law.logpdf([400, 650]).sum() + law.logsf(900) - 3 * law.logsf(300)
    seen = Wear(lives([400, 650], [900], entered_h=300.0), NOBODY)
    assert log_likelihood(seen, 1.8, 700) == pytest.approx(expected)


def test_weak_devices_add_their_hazard():
    """A device is weak with probability w; its life is the lesser of two: S = S_w (1 - w + w e)."""
    law, weak, mean_h = stats.weibull_min(1.3, scale=9000), 0.1, 500.0

    def surviving(age_h):
        return law.sf(age_h) * (1 - weak + weak * math.exp(-age_h / mean_h))

    def difference(slope, scale_h):
        seen = Wear(lives([300.0], []), NOBODY, EarlyFailure(weak, mean_h))
        return log_likelihood(seen, slope, scale_h)

    step = 0.01
    density = (surviving(300 - step) - surviving(300 + step)) / (2 * step)
    constant = math.log(
        1 - weak + weak * math.exp(-300 / mean_h)
    )  # holds for all slopes and scales
    assert difference(1.3, 9000) == pytest.approx(math.log(density) - constant, abs=1e-6)


def test_at_slope_1_ages_do_not_matter_and_the_gamma_law_is_exact():
    prior = believed(0.025, (0.005, 0.11))
    still = Factor(1.0, 0.0)
    ages_h = [0.5 * HOURS_PER_YEAR, 3.0 * HOURS_PER_YEAR]
    seen = Wear(lives(ages_h, [4.0 * HOURS_PER_YEAR] * 20), Strikes(2, 50.0))
    exact = prior.updated(Strikes(4, 3.5 + 80 + 50.0))
    found = worn(seen, prior, still)
    assert found.mean(np.exp(found.x)) == pytest.approx(exact.mean_per_year, rel=2e-3)
    bounds = [math.exp(one) for one in found.bounds(found.x)]
    assert bounds == pytest.approx(exact.bounds_per_year, rel=1e-2)


def test_without_a_failure_of_known_age_the_slope_is_not_moved():
    prior, slope = believed(0.025, (0.005, 0.11)), Factor.within(1.4, (0.8, 2.0))
    found = worn(Wear(lives([], [20_000] * 30), Strikes(5, 100.0)), prior, slope)
    assert found.y.shape == (1, 1)
    assert math.exp(found.y[0, 0]) == pytest.approx(1.4)


def test_bounds_hold_rate_and_slope_in_95_of_100_histories():
    """Truths are drawn from the belief before; 600 histories of 40 devices over six years.

    Without a failure nothing is said of the slope, so those histories count for the rate alone.
    """
    luck, prior = np.random.default_rng(8), believed(0.1, (0.03, 0.3))
    slope_before, n = Factor.within(1.2, (0.7, 2.5)), 600
    held, told = np.zeros(2), np.zeros(2)
    for _ in range(n):
        per_year = luck.gamma(prior.shape, 1 / prior.years)
        slope = math.exp(math.log(1.2) + slope_before.spread * luck.standard_normal())
        scale_h = HOURS_PER_YEAR / per_year / math.gamma(1 + 1 / slope)
        ages = scale_h * luck.weibull(slope, 40)
        limit = 6 * HOURS_PER_YEAR
        found = worn(
            Wear(lives(ages[ages <= limit], [limit] * int(sum(ages > limit))), NOBODY),
            prior,
            slope_before,
        )
        for k, (values, true) in enumerate(((found.x, per_year), (found.y, slope))):
            low, high = found.bounds(values)
            held[k] += low <= math.log(true) <= high
            told[k] += 1
            if not any(ages <= limit):
                break
    assert 0.93 < held[0] / told[0] < 0.97
    assert 0.93 < held[1] / told[1] < 0.97
    assert told[1] > 500


def test_the_scale_of_cells_is_integrated_out():
    """Against numerical integration over the logarithm of the scale, up to a constant."""
    group = lives([900, 1000, 1150], [700, 1200])

    def integrated(slope):
        def density(log_scale):
            law = stats.weibull_min(slope, scale=math.exp(log_scale))
            told = law.logpdf([900, 1000, 1150]).sum() + law.logsf([700, 1200]).sum()
            return math.exp(told + 20)

        return math.log(integrate.quad(density, 5, 11, limit=400)[0])

    ours = likelihood_of_slope(group, np.array([2.0, 5.0, 9.0]))
    theirs = [integrated(slope) for slope in (2.0, 5.0, 9.0)]
    assert ours[1:] - ours[0] == pytest.approx(np.array(theirs[1:]) - theirs[0], abs=1e-6)


def test_bounds_hold_spread_and_mean_life_of_cells_in_95_of_100_histories():
    """Two groups of unlike lives, 8 sets of cells each, a third of which had not gone flat."""
    luck, before, n = np.random.default_rng(3), Factor.within(0.12, (0.05, 0.25)), 600
    held = np.zeros(2)
    for _ in range(n):
        spread = math.exp(math.log(0.12) + before.spread * luck.standard_normal())
        slope = weibull_slope(spread)
        groups = []
        for mean_h in (20_000, 50_000):
            ages = mean_h / math.gamma(1 + 1 / slope) * luck.weibull(slope, 8)
            limits = mean_h * luck.uniform(0.8, 1.5, 8)
            groups.append(lives(ages[ages <= limits], limits[ages > limits]))
        found = spread_of(groups, before)
        low, high = found.bounds(found.x)
        held[0] += low <= math.log(spread) <= high
        if groups[0].failed_h:
            _, low, high = life_years(groups[0], found)
            held[1] += low <= 20_000 / HOURS_PER_YEAR <= high
        else:
            held[1] += 0.95
    assert 0.93 < held[0] / n < 0.97
    assert 0.93 < held[1] / n < 0.97
