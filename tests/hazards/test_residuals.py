"""What is left of a duration, against survival functions of scipy and of hand."""

import math

import numpy as np
import pytest
from scipy import stats

from resilience import draws
from resilience.draws import at_risk_ms, stream, uniform
from resilience.hazards.laws import away_beyond_ms, beyond

PLACES = (1e-9, 0.1, 0.5, 0.9, 1 - 1e-9)


@pytest.mark.parametrize("slope", [0.7, 1.0, 3.2])
@pytest.mark.parametrize("age", [0.0, 2.0, 30.0])
@pytest.mark.parametrize("u", PLACES)
def test_what_outlasts_an_age_has_the_survival_of_weibull_from_there_on(slope, age, u):
    law = stats.weibull_min(slope, scale=7.0)
    lasts = beyond(draws.WEIBULL, 7.0, slope, age, u)
    assert lasts >= age
    assert math.log(law.sf(lasts)) == pytest.approx(math.log(law.sf(age) * (1 - u)), rel=1e-6)


@pytest.mark.parametrize("sigma", [0.3, 1.1])
@pytest.mark.parametrize("age", [0.0, 2.0, 30.0])
@pytest.mark.parametrize("u", PLACES)
def test_what_outlasts_an_age_has_the_lognormal_survival_from_there_on(sigma, age, u):
    law = stats.lognorm(sigma, scale=7.0)
    lasts = beyond(draws.LOGNORMAL, 7.0, sigma, age, u)
    assert lasts >= age
    assert math.log(law.sf(lasts)) == pytest.approx(math.log(law.sf(age) * (1 - u)), rel=1e-6)


def test_what_is_fixed_stays_and_what_never_ends_does_not():
    assert beyond(draws.FIXED, 7.0, 1.0, 3.0, 0.4) == 7.0
    assert beyond(draws.LOGNORMAL, 7.0, 0.0, 3.0, 0.4) == 7.0
    assert beyond(draws.NEVER, 0.0, 1.0, 3.0, 0.4) == math.inf


@pytest.mark.parametrize("age_ms", [0, 1, 5])
def test_in_whole_milliseconds_it_lasts_longer_than_its_age_as_often_as_each_length_comes(age_ms):
    """Lengths are rounded: k comes with F(k + 1/2) - F(k - 1/2), the first with all below 3/2."""
    law = stats.expon(scale=4.0)
    n = 20_000
    start = stream(5, 0, 77)
    exponential = (draws.WEIBULL, 4.0, 1.0)
    drawn = [away_beyond_ms(exponential, age_ms, uniform(start, i)) for i in range(n)]
    assert min(drawn) == age_ms + 1
    edges = np.array([0.0, *(np.arange(1, 12) + 0.5), np.inf])
    shares = np.diff(law.cdf(edges))[age_ms:]
    counts = np.array([drawn.count(k) for k in range(1, 12)] + [sum(k >= 12 for k in drawn)])
    assert stats.chisquare(counts[age_ms:], n * shares / shares.sum()).pvalue > 1e-3


def test_who_is_still_there_is_less_often_weak():
    """Survival is that of the law times 1 - w + w exp(-t / m), from the age on (Bayes)."""
    law = stats.weibull_min(1.5, scale=1000.0)

    def survival(t):
        return law.sf(t) * (0.7 + 0.3 * np.exp(-t / 200.0))

    numbers = (draws.WEIBULL, 1000.0, 1.5)
    weak = (0.3, 200.0)
    drawn = [300 + at_risk_ms(stream(1, i, 9), 0, numbers, weak, 300.0) for i in range(4000)]
    assert min(drawn) > 300
    told = stats.kstest(drawn, lambda t: 1 - survival(t) / survival(300.0))
    assert told.pvalue > 1e-3
