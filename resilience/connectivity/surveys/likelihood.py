"""How surprising a reading is: normal in the middle, exponential in the tails.

A survey holds slips of the pen, swapped ids and a door left open. Under a normal law one such
reading drags everything along; here it pulls no harder than one at the knee. The logarithm of the
law, and of what it leaves beyond a limit, is concave, so the best explanation is unique.
"""

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# MODELS.md, "robust residual": Huber 1964; the knee that keeps 95 % efficiency under a normal law.
KNEE = 1.345
_PHI_KNEE = math.exp(-(KNEE**2) / 2) / math.sqrt(2 * math.pi)
_BEYOND_KNEE = 0.5 * math.erfc(KNEE / math.sqrt(2))
# Mean square of what is left of a standard normal number when it is cut off at the knee.
_INSIDE_SQUARE = 1 - 2 * _BEYOND_KNEE - 2 * KNEE * _PHI_KNEE
CUT_SQUARE = _INSIDE_SQUARE + 2 * KNEE**2 * _BEYOND_KNEE
_CUT_FOURTH = 3 * _INSIDE_SQUARE - 2 * KNEE**3 * _PHI_KNEE + 2 * KNEE**4 * _BEYOND_KNEE
# MODELS.md, "robust residual": what a normal number is worth to a spread that is found this way,
# in numbers to the root of the mean square; by the error of a root of an estimating equation.
SPREAD_WORTH = 2 * _INSIDE_SQUARE**2 / (_CUT_FOURTH - CUT_SQUARE**2)
MOST_ROUNDS, CLOSE = 100, 1e-9


def slopes(z: Floats, sides: Ints) -> tuple[Floats, Floats]:
    """First and second derivative of minus the log likelihood of each reading.

    Parameters
    ----------
    z : Floats
        Reading less explanation, in units of the spread. [-]
    sides : Ints
        0 where the reading is known, 1 where the truth lies above it, -1 where below. [-]
    """
    cut = np.clip(z, -KNEE, KNEE)
    is_known = sides == 0
    turned = np.where(is_known, 0.0, sides * z)
    hazard = beyond_rate(turned)
    curvature = hazard * (hazard - np.clip(turned, -KNEE, KNEE))
    return (
        np.where(is_known, cut, sides * hazard),
        np.where(is_known, np.abs(z) < KNEE, np.clip(curvature, 0.0, 1.0)),
    )


def beyond_rate(z: Floats) -> Floats:
    """Density at a point over the probability beyond it, both of the law with exponential tails.

    Parameters
    ----------
    z : Floats
        The points. [-]
    """
    from scipy.special import ndtr

    tail = math.exp(-(KNEE**2) / 2) / KNEE
    middle = math.sqrt(2 * math.pi)
    whole = 2 * tail + middle * (1 - 2 * _BEYOND_KNEE)
    size = np.abs(z)
    density = np.exp(np.where(size < KNEE, -(size**2) / 2, KNEE**2 / 2 - KNEE * size))
    inside = tail + middle * (ndtr(KNEE) - ndtr(np.clip(z, -KNEE, KNEE)))
    beyond = np.where(z < KNEE, inside, density / KNEE)
    beyond = np.where(z <= -KNEE, whole - density / KNEE, beyond)
    return density / beyond


def spread_about_zero(values: Floats) -> float:
    """Spread of values about 0, none of which counts for more than one at the knee.

    Parameters
    ----------
    values : Floats
        At least one. [unit]
    """
    spread = float(np.sqrt(np.mean(values**2)))
    for _ in range(MOST_ROUNDS):
        if spread == 0:
            break
        cut = np.clip(values / spread, -KNEE, KNEE)
        before, spread = spread, spread * math.sqrt(float(np.mean(cut**2)) / CUT_SQUARE)
        if abs(spread - before) < CLOSE * before:
            break
    return spread
