"""Durations as values: which law, with which two numbers, and the hours that they pass in."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from resilience import draws
from resilience.building.settings import Duration
from resilience.draws import (
    LOGNORMAL,
    normal,
    residual,
    whole_ms,
)
from resilience.units import MS_PER_H

Z90 = 1.2815515655446004  # 90 % point of the standard normal law


@dataclass(frozen=True, slots=True)
class Law:
    """Law of one duration, in milliseconds, or of a factor.

    Parameters
    ----------
    shape : int
        Which law, as ``draws`` numbers them. [-]
    scale : float
        Weibull scale, lognormal median or the fixed value itself. [ms, or - for a factor]
    slope : float
        Weibull slope, or standard deviation of the logarithm. [-]
    """

    shape: int
    scale: float = 0.0
    slope: float = 1.0

    @property
    def numbers(self) -> tuple[int, float, float]:
        """Shape, scale and slope, as the draws take them."""
        return (self.shape, self.scale, self.slope)

    def drawn(self, u: float) -> float:
        """Value that belongs to one uniform draw, infinite for NEVER.

        Parameters
        ----------
        u : float
            Uniform on [0, 1). [-]
        """
        return draws.quantile(self.shape, self.scale, self.slope, u)

    def drawn_ms(self, u: float) -> int:
        """Whole milliseconds that belong to one uniform draw.

        Parameters
        ----------
        u : float
            Uniform on [0, 1). [-]
        """
        return draws.whole_ms(self.drawn(u))


NEVER = Law(draws.NEVER)
ALWAYS_1 = Law(draws.FIXED, 1.0)
NEVER_OPEN_MS = 1 << 42  # 139 years are after any horizon


@dataclass(frozen=True, slots=True)
class Windows:
    """The times in which something may strike; a time to its strike passes in these alone.

    Parameters
    ----------
    rows : tuple of (int, int, int)
        Start and end of each, in order, and how long those before it are together. [ms]
    """

    rows: tuple[tuple[int, int, int], ...]

    @classmethod
    def of(cls, spans_ms: Sequence[tuple[int, int]]) -> "Windows":
        """Return the windows of these starts and ends, which do not overlap."""
        before = accumulate((end - start for start, end in spans_ms), initial=0)
        return cls(tuple((*span, rest) for span, rest in zip(spans_ms, before, strict=False)))

    def after_ms(self, time_ms: int, at_risk_ms: int) -> int:
        """Moment in a window by which so much time in windows has passed since another moment.

        Parameters
        ----------
        time_ms : int
            From when on. [ms]
        at_risk_ms : int
            How long, at least 1. [ms]
        """
        return opened_ms(self.rows, 0, len(self.rows), time_ms, at_risk_ms)


def opened_ms(
    windows: Sequence[Sequence[int]], first: int, beyond: int, time_ms: int, at_risk_ms: int
) -> int:
    """Moment in a window by which so much time in windows has passed; pure, both engines call it.

    Parameters
    ----------
    windows : sequence of (int, int, int)
        Rows of ``Windows``, perhaps among others. [ms]
    first, beyond : int
        Where they begin, and before where they end. [-]
    time_ms : int
        From when on. [ms]
    at_risk_ms : int
        How long, at least 1. [ms]
    """
    low, high = first, beyond
    while low < high:  # the first window that begins after that moment
        middle = (low + high) >> 1
        if windows[middle][0] <= time_ms:
            low = middle + 1
        else:
            high = middle
    wanted = at_risk_ms
    if low > first:
        wanted += windows[low - 1][2]
        wanted += min(time_ms, windows[low - 1][1]) - windows[low - 1][0]
    low, high = first, beyond
    while low < high:  # the first before whose end that much has passed
        middle = (low + high) >> 1
        if windows[middle][2] + windows[middle][1] - windows[middle][0] <= wanted:
            low = middle + 1
        else:
            high = middle
    if low == beyond:
        return NEVER_OPEN_MS
    return windows[low][0] + wanted - windows[low][2]


def exponential(mean_h: float) -> Law:
    """Law with a constant rate.

    Parameters
    ----------
    mean_h : float
        Mean, above 0. [h]
    """
    return Law(draws.WEIBULL, mean_h * MS_PER_H, 1.0)


def weibull(mean_h: float, slope: float) -> Law:
    """Weibull law given by its mean.

    Parameters
    ----------
    mean_h : float
        Mean, above 0. [h]
    slope : float
        Slope, above 0. [-]
    """
    # MODELS.md, "Weibull": mean = scale Gamma(1 + 1/slope).
    return Law(draws.WEIBULL, mean_h * MS_PER_H / math.gamma(1 + 1 / slope), slope)


def lasting(duration: Duration) -> Law:
    """Law of a stated duration.

    Parameters
    ----------
    duration : Duration
        As the site gives it. [-]
    """
    if duration.distribution == "lognormal":
        assert duration.median_h is not None
        assert duration.p90_h is not None
        slope = math.log(duration.p90_h / duration.median_h) / Z90
        return Law(draws.LOGNORMAL, duration.median_h * MS_PER_H, slope)
    assert duration.mean_h is not None
    if duration.distribution == "exponential":
        return exponential(duration.mean_h)
    return Law(draws.FIXED, duration.mean_h * MS_PER_H)


def mending(repair: Duration | None) -> Law:
    """Law of a repair; one that never comes where it is switched off.

    Parameters
    ----------
    repair : Duration or None
        As the site gives it. [-]
    """
    return NEVER if repair is None else lasting(repair)


def factor(spread: float) -> Law:
    """Law of a factor with mean 1.

    Parameters
    ----------
    spread : float
        Coefficient of variation; at 0 it is always 1. [-]
    """
    if spread == 0:
        return ALWAYS_1
    slope = weibull_slope(spread)
    return Law(draws.WEIBULL, 1 / math.gamma(1 + 1 / slope), slope)


def weibull_slope(spread: float) -> float:
    """Slope of the Weibull law that has this coefficient of variation.

    Parameters
    ----------
    spread : float
        Coefficient of variation, above 0. [-]
    """
    # MODELS.md, "cell spread": CV^2 = Gamma(1 + 2/k) / Gamma(1 + 1/k)^2 - 1, solved by bisection;
    # the right side falls as k grows.
    low, high = 0.1, 2000.0
    for _ in range(200):
        middle = math.sqrt(low * high)
        ratio = math.exp(math.lgamma(1 + 2 / middle) - 2 * math.lgamma(1 + 1 / middle)) - 1
        if ratio > spread**2:
            low = middle
        else:
            high = middle
    return high


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
    # MODELS.md, "beyond an age": S(x) = S(age) (1 - u), solved for x.
    if age > 0.0 and shape == LOGNORMAL and slope > 0.0:
        left = 0.5 * math.erfc(math.log(age / scale) / slope / math.sqrt(2.0))
        return max(age, scale * math.exp(-slope * normal(left * (1.0 - u))))
    return age + residual((shape, scale, slope), u, age)


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
