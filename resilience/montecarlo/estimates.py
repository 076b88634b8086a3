"""A figure as it leaves this chapter: never without its bounds, never without how they were made.

The unit of statistics is the building draw: two lifetimes that share a building count as one.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL = 0.95
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
