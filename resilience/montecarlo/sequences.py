"""Bounds that hold at every look at once, however few units there are and however they are spread.

So a study may stop when its answer is clear. The unit of statistics is the building draw, as in
``estimates``.
"""

import math
from bisect import bisect_left
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from resilience.montecarlo.estimates import (
    LEVEL,
    SHARE,
    TOO_FEW,
    Beyond,
    Estimate,
    Floats,
    Ints,
    Limits,
    quantile_of,
)
from resilience.montecarlo.stopping import looks

BETTING = "betting confidence sequence, finite sample"
CAPPED = "betting confidence sequence of capped values, finite sample"
RATIO = "betting confidence sequences of both sums, finite sample"
BERNSTEIN = "empirical Bernstein bound from sums, finite sample"

# The first building draws say how large values may be, and count for no bound.
PILOT_UNITS = 32
ROOM = 2.0  # values may be so many times as large as any of the pilot's before they are capped

LARGEST_BET_SHARE = 0.75  # of what would be lost at most: one unit never takes the whole capital
BOLD_BET_SHARE = 0.95  # to bound what hardly ever happens: it is sure after half as many units
HALVINGS = 40
BETS_ON_SUMS = np.geomspace(0.01, 0.98, 8)


def betting_sequence(
    values: Floats,
    limits: Limits,
    level_share: float = LEVEL,
    upper_bet_share: float = LARGEST_BET_SHARE,
) -> Estimate:
    """Mean of bounded units with a bound that holds at all looks together, however few they are.

    Parameters
    ----------
    values : Floats
        One value per building draw, in order of play, shape (units,). [unit]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level over all looks together. [-]
    upper_bet_share : float
        Part of the capital that one unit may take in bets for the upper bound, below 1. [-]
    """
    mean = mean_of(values)
    span = limits.largest - limits.least
    if not 0 < span < math.inf:  # nothing else is possible, or anything is
        return Estimate(mean, limits.least, limits.largest, level_share, BETTING)
    shares = (values - limits.least) / span
    stakes = _stakes(shares, level_share)
    low = _proven_low(shares, _Bets(stakes, LARGEST_BET_SHARE), level_share)
    high = 1 - _proven_low(1 - shares, _Bets(stakes, upper_bet_share), level_share)
    if low >= high:  # no single mean explains what came: that proves a miss, and no more
        low, high = 0.0, 1.0
    low, high = limits.least + span * low, limits.least + span * high
    # A mean that has drifted out of what earlier looks left is taken in: wider is still true.
    return Estimate(mean, min(low, mean), max(high, mean), level_share, BETTING)


def mean_of(values: Floats) -> float:
    """Mean of units; theirs to the last bit if they are all alike."""
    return float(values[0]) if np.ptp(values) == 0 else math.fsum(values) / len(values)


def _stakes(shares: Floats, level_share: float) -> Floats:
    """How much is bet on each unit per unit of its surprise, from those before it alone."""
    t = np.arange(1, len(shares) + 1)
    # MODELS.md, "betting confidence sequence": the first guess is a mean of 1/2, a variance of 1/4.
    means = (0.5 + np.cumsum(shares)) / (t + 1)
    variances = (0.25 + np.cumsum((shares - means) ** 2)) / (t + 1)
    before = np.concatenate(([0.25], variances[:-1]))
    stakes: Floats = np.sqrt(2 * math.log(2 / (1 - level_share)) / (before * t * np.log1p(t)))
    return stakes


@dataclass(frozen=True, slots=True)
class _Bets:
    """What is bet on each unit per unit of its surprise, and the most that one may cost."""

    stakes: Floats
    largest_share: float


def _proven_low(shares: Floats, bets: _Bets, level_share: float) -> float:
    """Largest mean that bets on a larger one have refuted at some look, within 2^-40 below it.

    The capital falls at every look as the supposed mean rises, so halving finds where it crosses.
    """
    enough = math.log(2 / (1 - level_share))  # half the miss for each side
    ends = np.array(_looks_until(len(shares))) - 1
    refuted, kept = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (refuted + kept) / 2
        if _log_capital(middle, shares, bets)[ends].max() >= enough:
            refuted = middle
        else:
            kept = middle
    return refuted


def _looks_until(n: int) -> list[int]:
    """Looks before n units, and n itself."""
    return [*takewhile(lambda look: look < n, looks()), n]


def _log_capital(mean: float, shares: Floats, bets: _Bets) -> Floats:
    """Logarithm of what bets on a larger mean than this have made of 1, after each unit."""
    most = bets.largest_share / mean
    grown: Floats = np.cumsum(np.log1p(np.minimum(bets.stakes, most) * (shares - mean)))
    return grown


def capped_sequence(
    values: Floats, limits: Limits, least_room: float, level_share: float = LEVEL
) -> Estimate:
    """Mean of units that may be far apart, bounded in two parts that hold at all looks together.

    Values beyond what the first ones let expect count as much as that for the bounds of the mean;
    how often such values come has a bound of its own. So rare large values never make the bounds
    of ordinary ones wrong, nor useless.

    Parameters
    ----------
    values : Floats
        One value per building draw, in order of play, shape (units,). [unit]
    limits : Limits
        Least and largest possible value. [unit]
    least_room : float
        Values up to this size are never capped. [unit]
    level_share : float
        Two-sided level of both parts and over all looks together. [-]
    """
    mean, rest = mean_of(values), values[PILOT_UNITS:]
    if not rest.size:
        return Estimate(mean, limits.least, limits.largest, level_share, TOO_FEW)
    caps = _caps(values[:PILOT_UNITS], limits, least_room)
    level_each = 1 - (1 - level_share) / 2
    capped = betting_sequence(np.clip(rest, caps.least, caps.largest), caps, level_each)
    is_beyond = (rest < caps.least) | (rest > caps.largest)
    share = betting_sequence(is_beyond.astype(np.float64), SHARE, level_each)
    beyond = Beyond(caps, share, int(is_beyond.sum()), rest.size)
    low, high = min(capped.low, mean), max(capped.high, mean)
    return Estimate(mean, low, high, level_share, CAPPED, beyond)


def _caps(pilot: Floats, limits: Limits, least_room: float) -> Limits:
    """Between what values count, from those that count for no bound."""
    below = max(least_room, -ROOM * float(pilot.min()))
    above = max(least_room, ROOM * float(pilot.max()))
    return Limits(max(limits.least, -below), min(limits.largest, above))


def betting_ratio(
    above: Floats, below: Floats, most_below: float, most_ratio: float, level_share: float = LEVEL
) -> Estimate:
    """Ratio of two sums, at least 1, bounded by what can be said of each.

    Parameters
    ----------
    above, below : Floats
        Numerator and denominator per building draw, ``0 <= below <= above``, shape (units,). [unit]
    most_below : float
        Largest possible denominator of one unit, above 0. [unit]
    most_ratio : float
        Largest possible ratio of one unit. [-]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    total = math.fsum(below)
    if not total:
        return Estimate(math.nan, 1.0, most_ratio, level_share, TOO_FEW)
    ratio = math.fsum(above) / total
    level_each = 1 - (1 - level_share) / 2
    denominator = betting_sequence(below / most_below, SHARE, level_each)
    most_excess = Limits(0.0, most_ratio - 1)
    excess = betting_sequence((above - below) / most_below, most_excess, level_each)
    low = 1 + excess.low / denominator.high
    high = 1 + excess.high / denominator.low if denominator.low else math.inf
    return Estimate(ratio, min(low, ratio), max(ratio, min(high, most_ratio)), level_share, RATIO)


def shares_from_sums(
    totals: Floats, squares: Floats, n: int, level_share: float = LEVEL
) -> list[Estimate]:
    """Means of many things that are shares, each by itself, from their sums alone.

    Narrow for shares that are small; true, but wide, for others.

    Parameters
    ----------
    totals, squares : Floats
        Sums over units of the shares and of their squares, shape (things,). [-]
    n : int
        Units, at least 1. [-]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    # MODELS.md, "empirical Bernstein bound from sums": the best of some bets, each with its part
    # of the miss.
    bets = BETS_ON_SUMS[:, None]
    enough = math.log(2 * len(BETS_ON_SUMS) / (1 - level_share))
    halves = ((-np.log1p(-bets) - bets) * squares + enough) / (bets * n)
    half, means = halves.min(axis=0), totals / n
    lows, highs = np.maximum(0.0, means - half), np.minimum(1.0, means + half)
    return [
        Estimate(mean, low, high, level_share, BERNSTEIN)
        for mean, low, high in zip(means.tolist(), lows.tolist(), highs.tolist(), strict=True)
    ]


def betting_quantile(
    values: Ints, share: float, limits: Limits, level_share: float = LEVEL
) -> Estimate:
    """Quantile of one figure per lifetime, by bets on how many lifetimes lie below a value.

    Parameters
    ----------
    values : Ints
        One value per lifetime of each building draw, shape (units, lifetimes of one). [unit]
    share : float
        Which quantile, as 0.95. [-]
    limits : Limits
        Least and largest possible value. [unit]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    places: list[float] = np.unique(values).astype(np.float64).tolist()

    def below(value: float) -> Estimate:
        return betting_sequence((values <= value).mean(axis=1), SHARE, level_share)

    n_too_low = bisect_left(places, True, key=lambda value: below(value).high >= share)
    n_not_surely = bisect_left(places, True, key=lambda value: below(value).low >= share)
    low = places[n_too_low - 1] if n_too_low else limits.least
    high = places[n_not_surely] if n_not_surely < len(places) else limits.largest
    return Estimate(quantile_of(values, share), low, high, level_share, BETTING)
