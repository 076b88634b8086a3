"""A figure as it leaves this chapter: never without its bounds, never without how they were made.

The unit of statistics is the building draw: two lifetimes that share a building count as one.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL = 0.95
PLAIN_MEAN = "Student t over building draws"
PLAIN_RATIO = "Student t over building draws, ratio linearised"
ALL_ALIKE = "no spread seen; exact bound for values within their limits"
TOO_FEW = "a single building draw proves nothing"
ORDER_STATISTICS = "order statistics over lifetimes"


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

    def to_json(self) -> dict[str, float]:
        """Return mean, low and high; level and method stand in the head of the table."""
        return {"mean": self.mean, "low": self.low, "high": self.high}


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


def ratio_estimate(above: Floats, below: Floats, level_share: float = LEVEL) -> Estimate:
    """Ratio of two sums with a plain bound.

    Parameters
    ----------
    above, below : Floats
        Numerator and denominator per building draw, shape (units,). [unit]
    level_share : float
        Two-sided level. [-]
    """
    n, total = len(above), math.fsum(below)
    if total == 0:
        return Estimate(math.nan, 0.0, math.inf, level_share, TOO_FEW)
    ratio = math.fsum(above) / total
    if n == 1:
        return Estimate(ratio, 0.0, math.inf, level_share, TOO_FEW)
    # MODELS.md, "ratio bound": Var(R) is about Var(above - R below) / (n mean(below)^2).
    rests = (above - ratio * below) * (n / total)
    variance = math.fsum(rests**2) / (n - 1)
    half = student(level_share, n - 1) * math.sqrt(variance / n)
    return Estimate(ratio, max(0.0, ratio - half), ratio + half, level_share, PLAIN_RATIO)


def quantile_estimate(values: Ints, share: float, level_share: float = LEVEL) -> Estimate:
    """Quantile of one figure per lifetime, bounded by order statistics.

    Parameters
    ----------
    values : Ints
        One value per lifetime, shape (lifetimes,). [unit]
    share : float
        Which quantile, as 0.95. [-]
    level_share : float
        Two-sided level; ties make the bound wider than it says. [-]
    """
    from scipy.stats import binom

    ordered = np.sort(values)
    n = len(ordered)
    middle = ordered[min(n - 1, math.ceil(share * n) - 1)]
    miss = (1 - level_share) / 2
    first = int(binom.ppf(miss, n, share)) - 1
    last = int(binom.ppf(1 - miss, n, share))
    low = float(ordered[first]) if first >= 0 else 0.0
    high = float(ordered[last]) if last < n else math.inf
    return Estimate(float(middle), low, high, level_share, ORDER_STATISTICS)


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
