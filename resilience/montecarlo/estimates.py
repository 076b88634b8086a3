"""A figure as it leaves this chapter: never without its bounds, never without how they were made.

The unit of statistics is the building draw: two lifetimes that share a building count as one.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.hazards.buildings import LIFETIMES_PER_BUILDING

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL = 0.95
PLAIN_MEAN = "Student t over building draws"
PLAIN_RATIO = "Student t over building draws, ratio linearised"
ALL_ALIKE = "no spread seen; exact bound for values within their limits"
TOO_FEW = "a single building draw proves nothing"
ORDER_STATISTICS = "order statistics over building draws"


@dataclass(frozen=True, slots=True)
class Estimate:
    """One figure.

    Parameters
    ----------
    mean : float
        Best single value. [unit]
    low, high : float
        Bounds. [unit]
    level_share : float
        Share of such studies in which bounds made this way hold the truth. [-]
    method : str
        How the bounds were made. [-]
    """

    mean: float
    low: float
    high: float
    level_share: float
    method: str

    def to_json(self) -> dict[str, float | None]:
        """Return mean, low and high, None for what is unknown or without end.

        Level and method stand in the head of the table.
        """
        values = {"mean": self.mean, "low": self.low, "high": self.high}
        return {name: value if math.isfinite(value) else None for name, value in values.items()}


@dataclass(frozen=True, slots=True)
class Limits:
    """Least and largest value that one unit of a figure can take; may be infinite."""

    least: float
    largest: float


SHARE = Limits(0.0, 1.0)
ANY = Limits(-math.inf, math.inf)
NOT_NEGATIVE = Limits(0.0, math.inf)


def mean_estimate(values: Floats, limits: Limits, level_share: float = LEVEL) -> Estimate:
    """Mean of independent units with a plain bound.

    Parameters
    ----------
    values : Floats
        One value per building draw, shape (units,). [unit]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level. [-]
    """
    n = len(values)
    mean = math.fsum(values) / n
    if n == 1:
        return Estimate(mean, limits.least, limits.largest, level_share, TOO_FEW)
    if np.ptp(values) == 0:  # their mean may differ from them in the last bit
        return _all_alike(float(values[0]), n, limits, level_share)
    variance = math.fsum((value - mean) ** 2 for value in values) / (n - 1)
    return bounded(mean, variance, n, limits, level_share)


def bounded(
    mean: float, variance: float, n: int, limits: Limits, level_share: float = LEVEL
) -> Estimate:
    """Mean of n units with a plain bound, from its moments.

    Parameters
    ----------
    mean, variance : float
        Of one unit. [unit, unit^2]
    n : int
        Independent units, at least 2. [-]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level. [-]
    """
    if variance <= 0:
        return _all_alike(mean, n, limits, level_share)
    half = student(level_share, n - 1) * math.sqrt(variance / n)
    low, high = max(limits.least, mean - half), min(limits.largest, mean + half)
    return Estimate(mean, low, high, level_share, PLAIN_MEAN)


def _all_alike(mean: float, n: int, limits: Limits, level_share: float) -> Estimate:
    """Bound where every unit had the same value: another would have shown with this chance.

    If the true mean were beyond the bound, units that differ would have a share p with
    (1 - p)^n below the tolerated miss, even if each of them lay at the limit.
    """
    unseen_share = 1 - ((1 - level_share) / 2) ** (1 / n)
    low = mean - unseen_share * (mean - limits.least) if limits.least < mean else mean
    high = mean + unseen_share * (limits.largest - mean) if limits.largest > mean else mean
    return Estimate(mean, low, high, level_share, ALL_ALIKE)


def ratio_estimate(
    above: Floats, below: Floats, limits: Limits, level_share: float = LEVEL
) -> Estimate:
    """Ratio of two sums with a plain bound.

    Parameters
    ----------
    above, below : Floats
        Numerator and denominator per building draw, whole numbers, shape (units,). [unit]
    limits : Limits
        Least and largest possible ratio of one unit. [unit]
    level_share : float
        Two-sided level. [-]
    """
    n, total = len(above), math.fsum(below)
    if total == 0:
        return Estimate(math.nan, limits.least, limits.largest, level_share, TOO_FEW)
    ratio = math.fsum(above) / total
    if n == 1:
        return Estimate(ratio, limits.least, limits.largest, level_share, TOO_FEW)
    of_each = above[below > 0] / below[below > 0]
    if np.ptp(of_each) == 0:
        return _all_alike(float(of_each[0]), len(of_each), limits, level_share)
    # MODELS.md, "ratio bound": Var(R) is about Var(above - R below) / (n mean(below)^2).
    rests = (above - ratio * below) * (n / total)
    variance = math.fsum(rests**2) / (n - 1)
    half = student(level_share, n - 1) * math.sqrt(variance / n)
    low, high = max(limits.least, ratio - half), min(limits.largest, ratio + half)
    return Estimate(ratio, low, high, level_share, PLAIN_RATIO)


def quantile_estimate(
    values: Ints, share: float, limits: Limits, level_share: float = LEVEL
) -> Estimate:
    """Quantile of one figure per lifetime, bounded by order statistics.

    The ranks are those of building draws, each with lifetimes that are all alike: exact if they
    are, wider than the level says if they are not.

    Parameters
    ----------
    values : Ints
        One value per lifetime, shape (lifetimes,), whole building draws. [unit]
    share : float
        Which quantile, as 0.95. [-]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level; ties make the bound wider than it says. [-]
    """
    from scipy.stats import binom

    ordered = np.sort(values)
    middle = float(ordered[math.ceil(share * len(ordered)) - 1])
    n, miss = len(ordered) // LIFETIMES_PER_BUILDING, (1 - level_share) / 2
    first = int(binom.ppf(miss, n, share)) - 1  # counted from 0
    last = int(binom.ppf(1 - miss, n, share))
    low = float(ordered[LIFETIMES_PER_BUILDING * first]) if first >= 0 else limits.least
    beyond = LIFETIMES_PER_BUILDING * (last + 1)
    high = float(ordered[beyond - 1]) if last < n else limits.largest
    return Estimate(middle, low, high, level_share, ORDER_STATISTICS)


def student(level_share: float, degrees: int) -> float:
    """Two-sided quantile of Student's t.

    Parameters
    ----------
    level_share : float
        Two-sided level. [-]
    degrees : int
        Degrees of freedom, from 1. [-]
    """
    from scipy.stats import t

    return float(t.ppf((1 + level_share) / 2, degrees))
