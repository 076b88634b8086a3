"""How much worse it is while a thing is away, with bounds.

Importance is the mean number of other sensors cut off while a thing is away, less the mean number
while it is not. Where all things fail by themselves that is what Birnbaum (1969) calls importance.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from resilience.montecarlo.estimates import LEVEL, Estimate, Floats, Ints
from resilience.remedies.fragile.absences import Seen, Watched

LEAST_ABSENCES = 30
LINEARISED = "linearised ratio of sums over building draws, large samples"
UNVARIED = "exact binomial bound on a share of building draws that was never seen"


@dataclass(frozen=True, slots=True)
class Importance:
    """What it means that a thing is away.

    Parameters
    ----------
    n_absences : int
        How often it was away in the lifetimes watched. [-]
    away_share : float
        Share of time for which it was. [-]
    sensors : Estimate or None
        Other sensors cut off while it is away, less those while it is not; None where it was too
        rarely away. [-]
    """

    n_absences: int
    away_share: float
    sensors: Estimate | None

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "absences": self.n_absences,
            "away_share": self.away_share,
            "more_sensors_cut_off_while_away": self.sensors and self.sensors.to_json(),
        }


def importance(seen: Seen, watched: Watched, n_others: int) -> Importance:
    """Return what was seen of a thing as a figure with bounds.

    Parameters
    ----------
    seen : Seen
        Of the thing. [-]
    watched : Watched
        The lifetimes. [-]
    n_others : int
        Sensors beside those that it holds itself. [-]
    """
    clock_ms = watched.clock_ms
    away_share = float(seen.away_ms.sum() / clock_ms.sum())
    present_ms = clock_ms - seen.away_ms
    if seen.n_absences < LEAST_ABSENCES or not seen.away_ms.sum() or not present_ms.sum():
        return Importance(seen.n_absences, away_share, None)
    # MODELS.md, "importance".
    away, drawn = ratio_of(seen.while_away_ms, seen.away_ms)
    present, other = ratio_of(seen.all_ms - seen.while_away_ms, present_ms)
    mean = away - present
    half, method = half_width(drawn - other), LINEARISED
    low, high = mean - half, mean + half
    never = not seen.while_away_ms.any()
    if never or not half:  # what did not vary proves little
        n_units = int(np.count_nonzero(seen.away_ms))
        slack, method = n_others * (1 - ((1 - LEVEL) / 2) ** (1 / n_units)), UNVARIED
        low, high = low if never else low - slack, high + slack
    limit = float(n_others)
    bounded = Estimate(mean, max(-limit, low), min(limit, high), LEVEL, method)
    return Importance(seen.n_absences, away_share, bounded)


def ratio_of(above: Floats | Ints, below: Floats | Ints) -> tuple[float, Floats]:
    """Ratio of two sums, and how much each unit moves it, shape (units,).

    Parameters
    ----------
    above, below : Floats or Ints
        Numerator and denominator of each unit; the latter add up to more than 0. [unit]
    """
    # MODELS.md, "ratio of sums": Cochran 1977, section 2.11: the ratio is near the mean of
    # (above - ratio x below) / mean of below.
    ratio = math.fsum(above) / math.fsum(below)
    return ratio, (above - ratio * below) / below.mean()


def even_units(values: Floats) -> float:
    """How many units of equal size would weigh as evenly as these do.

    Parameters
    ----------
    values : Floats
        Not below 0, shape (units,). [unit]
    """
    # MODELS.md, "ratio of sums": Kish 1965, effective size of a sample with unequal weights.
    squares = float((values**2).sum())
    return float(values.sum()) ** 2 / squares if squares else 0.0


def half_width(moves: Floats, n_units: int | None = None) -> float:
    """Half the width of bounds of a figure that units move by so much.

    Parameters
    ----------
    moves : Floats
        By how much each of them moves it, mean 0, shape (units,). [unit]
    n_units : int or None
        Units that the figure rests on, where they are more than those seen. [-]
    """
    if len(moves) < 2:
        return math.inf
    z = NormalDist().inv_cdf((1 + LEVEL) / 2)
    return z * float(moves.std(ddof=1)) / math.sqrt(n_units or len(moves))
