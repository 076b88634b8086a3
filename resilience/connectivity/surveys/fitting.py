"""The corrections that explain the readings best, starting from what the catalogue holds likely."""

from dataclasses import dataclass, replace

import numpy as np

from resilience.connectivity.surveys.likelihood import CUT_SQUARE, KNEE, Floats, Ints, slopes

MOST_ROUNDS, MOST_STEPS = 100, 500
CLOSE = 1e-8


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """Readings, and what may explain them; every explanation has mean 0 before the survey.

    Parameters
    ----------
    extra_db : Floats
        Shape (readings,): loss as measured less loss as predicted. [dB]
    sides : Ints
        Shape (readings,): 0 known, 1 the loss is at least that, -1 at most. [-]
    weights : Floats
        Shape (readings, corrections): how often a path meets each correction. [-]
    assumed_spread : Floats
        Shape (corrections,): spread of each correction before the survey, above 0. [dB]
    field_db : Floats
        Shape (readings, luck): what one unit of each piece of luck that paths share adds. [dB]
    own_spread_db : Floats
        Shape (readings,): spread of what each reading has for itself, as documented. [dB]
    spread_worth : float
        Readings as many as which the documented spread counts. [-]
    """

    extra_db: Floats
    sides: Ints
    weights: Floats
    assumed_spread: Floats
    field_db: Floats
    own_spread_db: Floats
    spread_worth: float

    def of(self, rows: Ints) -> "Problem":
        """Return the problem of some readings only."""
        return replace(
            self,
            extra_db=self.extra_db[rows],
            sides=self.sides[rows],
            weights=self.weights[rows],
            field_db=self.field_db[rows],
            own_spread_db=self.own_spread_db[rows],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Corrections and how sure they are.

    Parameters
    ----------
    offset, spread : Floats
        Shape (corrections,). [dB]
    scale : float
        Spread about the corrected prediction over the documented one. [-]
    """

    offset: Floats
    spread: Floats
    scale: float


def fitted(problem: Problem) -> Fit:
    """Most likely corrections under the documented spreads, and how far each is narrowed.

    Parameters
    ----------
    problem : Problem
        Readings and what may explain them. [-]
    """
    # MODELS.md, "calibration". All unknowns are counted in units of their spread, so that each is
    # standard normal before the survey.
    n_corrections = problem.weights.shape[1]
    scale, units = 1.0, np.zeros(n_corrections + problem.field_db.shape[1])
    for _ in range(MOST_ROUNDS):
        rows, readings = _scaled(problem, scale)
        units = _most_likely(rows, readings, problem.sides, units)
        z = readings - rows @ units
        _, curvature = slopes(z, problem.sides)
        covariance = np.linalg.inv(np.eye(units.size) + rows.T @ (curvature[:, None] * rows))
        left: Floats = np.diagonal(covariance)[:n_corrections].astype(np.float64)
        before, scale = scale, _next_scale(problem, scale, z, units, left)
        if abs(scale - before) < CLOSE * before:
            break
    spread = problem.assumed_spread * np.sqrt(left)
    return Fit(problem.assumed_spread * units[:n_corrections], spread, scale)


def _scaled(problem: Problem, scale: float) -> tuple[Floats, Floats]:
    """Weights of the unknowns and readings, both in units of the readings' own spread."""
    own_db = scale * problem.own_spread_db
    weights = np.hstack([problem.weights * problem.assumed_spread, scale * problem.field_db])
    return weights / own_db[:, None], problem.extra_db / own_db


def _most_likely(rows: Floats, readings: Floats, sides: Ints, units: Floats) -> Floats:
    """Unknowns of the highest posterior density, from a first guess.

    No second derivative exceeds 1, so steps by the inverse of this matrix never overshoot.
    """
    steps = np.linalg.inv(np.eye(units.size) + rows.T @ rows)
    for _ in range(MOST_STEPS):
        slope, _ = slopes(readings - rows @ units, sides)
        step = steps @ (rows.T @ slope - units)
        units = units + step
        if np.abs(step).max(initial=0.0) < CLOSE:
            break
    return units


def _next_scale(problem: Problem, scale: float, z: Floats, units: Floats, left: Floats) -> float:
    """Spread of the readings about the explanation, over the documented one.

    Parameters
    ----------
    problem : Problem
        Readings. [-]
    scale : float
        The last answer. [-]
    z : Floats
        Reading less explanation, in units of the spread at that answer. [-]
    units : Floats
        Most likely unknowns, in units of their spread. [-]
    left : Floats
        Variance left of each correction, as a share of what it was before the survey. [-]
    """
    known = z[problem.sides == 0]
    squares = np.sum(np.clip(known, -KNEE, KNEE) ** 2) / CUT_SQUARE
    squares += np.sum(units[left.size :] ** 2)
    n_used = np.sum(1 - left)  # corrections that the readings have used up
    freedom = problem.spread_worth + known.size - n_used
    return float(np.sqrt((problem.spread_worth + scale**2 * squares) / freedom))
