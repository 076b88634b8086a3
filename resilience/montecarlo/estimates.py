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
TOO_FEW = "so few building draws prove nothing"


@dataclass(frozen=True, slots=True)
class Limits:
    """Least and largest value that one unit of a figure can take; may be infinite."""

    least: float
    largest: float


@dataclass(frozen=True, slots=True)
class Beyond:
    """Units that are too far out for the bounds of a mean: they count as the caps there.

    Parameters
    ----------
    caps : Limits
        Between which values count as they are. [unit]
    share : Estimate
        Share of possible buildings beyond them. [-]
    n_seen, n_units : int
        Building draws beyond them, of those that the bounds rest on. [-]
    """

    caps: Limits
    share: "Estimate"
    n_seen: int
    n_units: int


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
    beyond : Beyond or None
        What the bounds leave aside, and how rare that is; None if they hold for all values. [-]
    """

    mean: float
    low: float
    high: float
    level_share: float
    method: str
    beyond: Beyond | None = None

    def to_json(self) -> dict[str, float | None]:
        """Return mean, low and high, None for what is unknown or without end.

        Bounds that leave rare values aside say from where on, and in which share of possible
        buildings at most. Level and method stand in the head of the table.
        """
        values = {"mean": self.mean, "low": self.low, "high": self.high}
        if self.beyond:
            values |= {
                "bounds_count_at_least": self.beyond.caps.least,
                "bounds_count_at_most": self.beyond.caps.largest,
                "share_beyond_at_most": self.beyond.share.high,
            }
        return {name: value if math.isfinite(value) else None for name, value in values.items()}


SHARE = Limits(0.0, 1.0)


def quantile_of(values: Ints, share: float) -> float:
    """Least value that at least a share of all values does not exceed.

    Parameters
    ----------
    values : Ints
        Any shape. [unit]
    share : float
        Which quantile, as 0.95. [-]
    """
    ordered = np.sort(values, axis=None)
    return float(ordered[math.ceil(share * ordered.size) - 1])
