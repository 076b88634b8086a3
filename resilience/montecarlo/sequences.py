"""Bounds that hold at every look at once, so that a study may stop when its answer is clear.

The unit of statistics is the building draw, as in ``estimates``.
"""

import math
from itertools import takewhile

import numpy as np

from resilience.montecarlo.estimates import LEVEL, TOO_FEW, Estimate, Floats, Limits
from resilience.montecarlo.stopping import looks

ASYMPTOTIC = "asymptotic confidence sequence"
ASYMPTOTIC_RATIO = "asymptotic confidence sequence, ratio linearised"
BETTING = "betting confidence sequence, finite sample"

# A look near m log m at m = 100, the start that Waudby-Smith et al. 2024 tune for when nothing is
# called before m units; the boundary is flat to the right of it.
TUNED_FOR_UNITS = 576

# Before these, units that are mostly zero with rare large values are not yet near normal.
LEAST_INFORMATIVE = 100  # units that are not zero
LEAST_EFFECTIVE = 50.0  # (sum |d|)^2 / sum d^2: how many units carry the sum

LARGEST_BET_SHARE = 0.75  # of what would be lost at most: one unit never takes the whole capital
HALVINGS = 40


def is_informative(values: Floats) -> bool:
    """Whether enough units carry the mean of differences for an asymptotic bound to be believed.

    Parameters
    ----------
    values : Floats
        One difference per building draw, shape (units,). [unit]
    """
    squares = math.fsum(values**2)
    if not squares:
        return False
    effective = math.fsum(abs(values)) ** 2 / squares
    return int((values != 0).sum()) >= LEAST_INFORMATIVE and effective >= LEAST_EFFECTIVE


def boundary(n: int, level_share: float = LEVEL, tuned_for: int = TUNED_FOR_UNITS) -> float:
    """Half the width of an asymptotic confidence sequence, in standard deviations of one unit.

    Parameters
    ----------
    n : int
        Units so far. [-]
    level_share : float
        Two-sided level over all n together. [-]
    tuned_for : int
        Number of units at which it is narrowest. [-]
    """
    from scipy.special import lambertw

    miss = 1 - level_share
    # MODELS.md, "asymptotic confidence sequence": rho^2 n* solves v = log((v + 1) / miss^2).
    tuned = -float(lambertw(-(miss**2) / math.e, -1).real) - 1
    v = tuned * n / tuned_for
    return math.sqrt((v + 1) / v * math.log((v + 1) / miss**2) / n)


def asymptotic_bound(
    mean: float, variance: float, n: int, limits: Limits, level_share: float = LEVEL
) -> Estimate:
    """Mean of n units with a bound that holds at all looks together, from its moments.

    Parameters
    ----------
    mean, variance : float
        Of one unit. [unit, unit^2]
    n : int
        Independent units, at least 1. [-]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    if n == 1:
        return Estimate(mean, limits.least, limits.largest, level_share, TOO_FEW)
    if variance <= 0:
        return betting_sequence(np.full(n, mean), limits, level_share)
    half = boundary(n, level_share) * math.sqrt(variance)
    low, high = max(limits.least, mean - half), min(limits.largest, mean + half)
    return Estimate(mean, low, high, level_share, ASYMPTOTIC)


def asymptotic_sequence(values: Floats, limits: Limits, level_share: float = LEVEL) -> Estimate:
    """Mean of units, or of paired differences, with a bound that holds at all looks together.

    Parameters
    ----------
    values : Floats
        One value per building draw, shape (units,). [unit]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    n = len(values)
    if np.ptp(values) == 0:  # their mean may differ from them in the last bit
        return asymptotic_bound(float(values[0]), 0.0, n, limits, level_share)
    mean = math.fsum(values) / n
    variance = math.fsum((values - mean) ** 2) / (n - 1)
    return asymptotic_bound(mean, variance, n, limits, level_share)


def asymptotic_ratio(
    above: Floats, below: Floats, limits: Limits, level_share: float = LEVEL
) -> Estimate:
    """Ratio of two sums with a bound that holds at all looks together.

    Parameters
    ----------
    above, below : Floats
        Numerator and denominator per building draw, not negative, shape (units,). [unit]
    limits : Limits
        Least and largest possible ratio of one unit. [unit]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    n, total = len(above), math.fsum(below)
    if total == 0:
        return Estimate(math.nan, limits.least, limits.largest, level_share, TOO_FEW)
    ratio = math.fsum(above) / total
    of_each = above[below > 0] / below[below > 0]
    if n == 1 or np.ptp(of_each) == 0:
        return asymptotic_sequence(of_each, limits, level_share)
    # MODELS.md, "asymptotic confidence sequence": the mean of these units is the ratio, and their
    # spread is its error.
    units = ratio + (above - ratio * below) * (n / total)
    found = asymptotic_sequence(units, limits, level_share)
    return Estimate(ratio, found.low, found.high, level_share, ASYMPTOTIC_RATIO)


def betting_sequence(values: Floats, limits: Limits, level_share: float = LEVEL) -> Estimate:
    """Mean of bounded units with a bound that holds at all looks together, however few they are.

    Parameters
    ----------
    values : Floats
        One value per building draw, in order of play, shape (units,). [unit]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    mean = float(values[0]) if np.ptp(values) == 0 else math.fsum(values) / len(values)
    span = limits.largest - limits.least
    if not 0 < span < math.inf:  # nothing else is possible, or anything is
        return Estimate(mean, limits.least, limits.largest, level_share, BETTING)
    shares = (values - limits.least) / span
    stakes = _stakes(shares, level_share)
    low = _proven_low(shares, stakes, level_share)
    high = 1 - _proven_low(1 - shares, stakes, level_share)
    if low >= high:  # no single mean explains what came: that proves a miss, and no more
        low, high = 0.0, 1.0
    low, high = limits.least + span * low, limits.least + span * high
    # A mean that has drifted out of what earlier looks left is taken in: wider is still true.
    return Estimate(mean, min(low, mean), max(high, mean), level_share, BETTING)


def _stakes(shares: Floats, level_share: float) -> Floats:
    """How much is bet on each unit per unit of its surprise, from those before it alone."""
    t = np.arange(1, len(shares) + 1)
    # MODELS.md, "betting confidence sequence": the first guess is a mean of 1/2, a variance of 1/4.
    means = (0.5 + np.cumsum(shares)) / (t + 1)
    variances = (0.25 + np.cumsum((shares - means) ** 2)) / (t + 1)
    before = np.concatenate(([0.25], variances[:-1]))
    stakes: Floats = np.sqrt(2 * math.log(2 / (1 - level_share)) / (before * t * np.log1p(t)))
    return stakes


def _proven_low(shares: Floats, stakes: Floats, level_share: float) -> float:
    """Largest mean that bets on a larger one have refuted at some look, within 2^-40 below it.

    The capital falls as the supposed mean rises, so halving finds where it crosses.
    """
    enough = math.log(2 / (1 - level_share))  # half the miss for each side
    low = 0.0
    for n in _looks_until(len(shares)):
        if _log_capital(low, shares[:n], stakes[:n]) < enough:
            continue
        refuted, kept = low, 1.0
        for _ in range(HALVINGS):
            middle = (refuted + kept) / 2
            if _log_capital(middle, shares[:n], stakes[:n]) >= enough:
                refuted = middle
            else:
                kept = middle
        low = refuted
    return low


def _looks_until(n: int) -> list[int]:
    """Looks before n units, and n itself."""
    return [*takewhile(lambda look: look < n, looks()), n]


def _log_capital(mean: float, shares: Floats, stakes: Floats) -> float:
    """Logarithm of what bets on a larger mean than this have made of 1."""
    most = LARGEST_BET_SHARE / mean if mean > 0 else math.inf
    return float(np.log1p(np.minimum(stakes, most) * (shares - mean)).sum())
