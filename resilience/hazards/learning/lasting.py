"""How long something takes: lognormal durations, some known by the day, some not over yet."""

import math
from collections import Counter
from collections.abc import Iterable

import numpy as np

from resilience.building.service.events import Lasted
from resilience.hazards.laws import Z90
from resilience.hazards.learning.lives import Factor
from resilience.hazards.learning.planes import MARGIN, Floats, Plane, plane

# How sure the ratio of 90 % point to median is before anything was seen: its logarithm lies within
# a factor of 2, in 95 of 100 cases. The catalogue gives no range for it.
STEEPNESS_SPREAD = math.log(2) / MARGIN
LEAST_STEEPNESS = 0.05
ALIKE = 1e-6  # relative width below which a duration is known
ANY_H = (math.log(1e-4), math.log(1e6))  # where a median may lie, as a logarithm


def lasting_of(
    seen: Iterable[Lasted],
    median: Factor | None,
    steepness: float,
    box: tuple[float, float] | None = None,
) -> Plane:
    """Return what is believed of a duration: x is the log of its median, y that of its steepness.

    The steepness is the standard deviation of the logarithm; the 90 % point lies 1.2816 of it
    beyond the median.

    Parameters
    ----------
    seen : iterable of Lasted
        Durations in hours. [-]
    median : Factor or None
        What was believed of the median, in hours; None: nothing. [-]
    steepness : float
        What was believed of the steepness. [-]
    box : (float, float) or None
        Where the logarithm of the median may lie. [-]
    """
    told = Counter(seen)
    steep = Factor(max(steepness, LEAST_STEEPNESS), STEEPNESS_SPREAD)

    def density(log_median: Floats, log_steepness: Floats) -> Floats:
        before = steep.density(log_steepness)
        if median is not None:
            before = before + median.density(log_median)
        return before + likelihood(told, log_median, log_steepness)

    return plane(density, box or ANY_H, steep.box)


def likelihood(seen: Counter[Lasted], log_median: Floats, log_steepness: Floats) -> Floats:
    """Log likelihood of lognormal durations, each known, bounded, or not over yet.

    Parameters
    ----------
    seen : Counter of Lasted
        Durations in hours, each with how often. [-]
    log_median, log_steepness : Floats
        Logarithms of the median and of the standard deviation of the logarithm. [-]
    """
    # MODELS.md, "durations from history"
    told = np.zeros(np.broadcast_shapes(log_median.shape, log_steepness.shape))
    known: list[float] = []
    for one, n in seen.items():
        if one.has_ended and one.most_h - one.least_h <= ALIKE * one.most_h:
            known += [math.log(one.most_h)] * n
            continue
        low = _standing(one.least_h, log_median, log_steepness)
        if one.has_ended:
            told = told + n * _between(low, _standing(one.most_h, log_median, log_steepness))
        else:
            told = told + n * _log_share_below(-low)
    return told + _known(np.array(known), log_median, log_steepness) if known else told


def _known(logs: Floats, log_median: Floats, log_steepness: Floats) -> Floats:
    """Log likelihood of known durations, by their mean and spread: there may be thousands."""
    middle = logs.mean()
    square = ((logs - middle) ** 2).sum() + len(logs) * (middle - log_median) ** 2
    return -0.5 * square * np.exp(-2 * log_steepness) - len(logs) * log_steepness


def _standing(hours: float, log_median: Floats, log_steepness: Floats) -> Floats:
    """How many standard deviations a duration lies above the median."""
    if hours <= 0:
        return np.full(np.broadcast_shapes(log_median.shape, log_steepness.shape), -np.inf)
    return (math.log(hours) - log_median) * np.exp(-log_steepness)


def _between(low: Floats, high: Floats) -> Floats:
    """Log of the share of a normal law between two points, exact in both tails."""
    is_above = low > 0
    upper, lower = np.where(is_above, -low, high), np.where(is_above, -high, low)
    above = _log_share_below(upper)
    return above + np.log1p(-np.exp(np.minimum(_log_share_below(lower) - above, -1e-16)))


def _log_share_below(z: Floats) -> Floats:
    from scipy.special import log_ndtr

    return log_ndtr(z)


def p90_of(found: Plane) -> Floats:
    """Logarithm of the 90 % point at each point of a plane."""
    return found.x + Z90 * np.exp(found.y)
