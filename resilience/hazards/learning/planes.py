"""What is believed of two unknowns at once, as weights on a grid that closes in on them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Density = Callable[[Floats, Floats], Floats]

N_POINTS = 81
N_ZOOMS = 3
NEGLIGIBLE = 20.0  # below the peak of the log density: e^-20 of it
AT_95 = (0.025, 0.975)
MARGIN = 1.96  # standard deviations of a normal law between its middle and such a bound


@dataclass(frozen=True, slots=True)
class Plane:
    """Weights that add up to 1.

    Parameters
    ----------
    x, y : Floats
        The two unknowns, shapes (n, 1) and (1, m). [unit]
    weights : Floats
        Shape (n, m). [-]
    peak : float
        Greatest log density. [-]
    """

    x: Floats
    y: Floats
    weights: Floats
    peak: float

    def mean(self, values: Floats) -> float:
        """Mean of something that is known at each point."""
        return float(np.sum(values * self.weights))

    def quantile(self, values: Floats, share: float) -> float:
        """Value that such a share of the weight lies below.

        Parameters
        ----------
        values : Floats
            Something at each point, of the grid's shape or one that fills it. [unit]
        share : float
            Between 0 and 1. [-]
        """
        if values.shape[0] == 1:  # what does not depend on x
            return _quantile(values[0], self.weights.sum(axis=0), share)
        if values.shape[1] == 1:
            return _quantile(values[:, 0], self.weights.sum(axis=1), share)
        spread = np.broadcast_to(values, self.weights.shape)
        order = np.argsort(spread, axis=None)
        return _quantile(spread.ravel()[order], self.weights.ravel()[order], share)

    def bounds(self, values: Floats) -> tuple[float, float]:
        """Bounds that hold 95 % of the weight between them, alike on both sides."""
        low, high = (self.quantile(values, share) for share in AT_95)
        return low, high


def plane(density: Density, x_box: tuple[float, float], y_box: tuple[float, float]) -> Plane:
    """Return what a log density says, on a grid that leaves out where it says nothing.

    Parameters
    ----------
    density : callable
        Logarithm of the density at x and y, up to a constant. [-]
    x_box, y_box : (float, float)
        Where to look at first; a box without width holds its unknown still. [unit]
    """
    for _ in range(N_ZOOMS):
        x, y = _points(x_box)[:, None], _points(y_box)[None, :]
        told = density(x, y)
        near = told > told.max() - NEGLIGIBLE
        x_box, y_box = _around(x[:, 0], near.any(axis=1)), _around(y[0], near.any(axis=0))
    x, y = _points(x_box)[:, None], _points(y_box)[None, :]
    told = density(x, y)
    weights = np.exp(told - told.max())
    return Plane(x, y, weights / weights.sum(), float(told.max()))


def _points(box: tuple[float, float]) -> Floats:
    return np.linspace(*box, N_POINTS if box[1] > box[0] else 1)


def _around(points: Floats, near: NDArray[np.bool_]) -> tuple[float, float]:
    """Return the box that holds the points that matter, one point wider on each side."""
    where = np.flatnonzero(near)
    return (
        float(points[max(0, where[0] - 1)]),
        float(points[min(len(points) - 1, where[-1] + 1)]),
    )


def _quantile(values: Floats, weights: Floats, share: float) -> float:
    # Each point stands for what lies around it, so half of its own weight lies below it.
    below = np.cumsum(weights) - weights / 2
    return float(np.interp(share, below, values))
