"""How long something still lasts that has lasted so long: draws given that age.

A lifetime that is branched draws its future anew, but what is under way keeps its age. The law of
a duration beyond an age is had by inverting its survival function from there on, exactly; as
``draws`` these are scalar functions that a compiled engine can call.
"""

import math

from resilience.draws import (
    DRAWS_PER_CYCLE,
    LOGNORMAL,
    WEIBULL,
    normal,
    quantile,
    uniform,
    whole_ms,
)


def beyond(shape: int, scale: float, slope: float, age: float, u: float) -> float:
    """Draw of any law given that it is larger than an age.

    Parameters
    ----------
    shape : int
        Law, as ``draws`` numbers them. [-]
    scale : float
        Weibull scale, lognormal median or the fixed value itself. [unit]
    slope : float
        Weibull slope, or standard deviation of the logarithm. [-]
    age : float
        What the law is known to exceed; from 0, which says nothing. [unit]
    u : float
        Uniform on [0, 1). [-]
    """
    # MODELS.md, "residual life": S(x) = S(age) (1 - u), solved for x.
    if age > 0.0 and shape == WEIBULL:
        spent = -math.log1p(-u)
        if slope == 1.0:
            return age + scale * spent
        return scale * ((age / scale) ** slope + spent) ** (1.0 / slope)
    if age > 0.0 and shape == LOGNORMAL and slope > 0.0:
        left = 0.5 * math.erfc(math.log(age / scale) / slope / math.sqrt(2.0))
        return max(age, scale * math.exp(-slope * normal(left * (1.0 - u))))
    return quantile(shape, scale, slope, u)


def _lasted(age_ms: int) -> float:
    """Least duration that counts as more whole milliseconds than an age."""
    return age_ms + 0.5 if age_ms > 0 else 0.0


def away_beyond_ms(lasts: tuple[int, float, float], age_ms: int, u: float) -> int:
    """Duration of which so much is over, in whole milliseconds and longer than that.

    Parameters
    ----------
    lasts : tuple of (int, float, float)
        Shape, scale and slope of the law. [-, ms, -]
    age_ms : int
        What is over. [ms]
    u : float
        Uniform on [0, 1). [-]
    """
    shape, scale, slope = lasts
    return whole_ms(beyond(shape, scale, slope, _lasted(age_ms), u))


def at_risk_beyond_ms(
    start: int,
    n: int,
    strikes: tuple[int, float, float],
    weak: tuple[float, float],
    age_ms: int,
) -> int:
    """Time at risk until strike n, given that it did not strike up to an age.

    Parameters
    ----------
    start : int
        Start of the element's stream. [-]
    n : int
        Number of the strike. [-]
    strikes : tuple of (int, float, float)
        Shape, scale and slope of the law. [-, ms, -]
    weak : tuple of (float, float)
        Share of new devices with an early death, and mean time to that. [-, ms]
    age_ms : int
        Time at risk so far. [ms]
    """
    first = DRAWS_PER_CYCLE * n
    time_ms = away_beyond_ms(strikes, age_ms, uniform(start, first))
    weak_share, weak_ms = weak
    if weak_share > 0.0:
        # Whoever is weak and still there has outlived an exponential death too (Bayes).
        still = weak_share * math.exp(-_lasted(age_ms) / weak_ms)
        if uniform(start, first + 1) < still / (1.0 - weak_share + still):
            early = (WEIBULL, weak_ms, 1.0)
            time_ms = min(time_ms, away_beyond_ms(early, age_ms, uniform(start, first + 2)))
    return time_ms
