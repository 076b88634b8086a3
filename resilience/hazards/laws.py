"""Durations as values: which law, with which two numbers."""

import math
from dataclasses import dataclass

from resilience import draws
from resilience.building.settings import Duration
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
