"""Measurements correct the prediction: the fit of a site, held-out errors, and what it refuses."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from resilience.building.site import Calibration, Correction, Site
from resilience.connectivity.links import link_table
from resilience.connectivity.surveys.fitting import Problem, fitted
from resilience.connectivity.surveys.likelihood import SPREAD_WORTH, Ints, spread_about_zero
from resilience.connectivity.surveys.posing import documented_residual_db, problem_of
from resilience.connectivity.surveys.readings import Reading, Tells, corrected_dbm, readings
from resilience.connectivity.surveys.survey import Compared, Miss, Survey, Term, WayDifference
from resilience.connectivity.surveys.unknowns import Assumption, Unknown, unknowns, untold
from resilience.errors import UsageError

LEAST_LINKS = 5
MOST_FOLDS = 20
LEVEL = 0.95


def calibrate(site: Site) -> Survey:
    """Fit the corrections that the measured links of all layouts ask for.

    The fit starts from the uncorrected prediction, whatever correction the site has already.

    Parameters
    ----------
    site : Site
        A site with placed devices and measured links. [-]

    Raises
    ------
    UsageError
        Nothing is predicted, or no measured link joins two placed devices.
    """
    bare = replace(site, calibration=None)
    if not bare.radio.predict:
        raise UsageError(
            "Nothing is predicted here (radio: {predict: off}), so there is nothing to correct."
        )
    found = readings(bare)
    if not found:
        raise UsageError(
            "No measured link joins two placed devices: measure some, and write them to links.csv."
        )
    links = [reading.link for reading in found]
    links += [link for layout in bare.layouts for link in link_table(bare, layout).links]
    assumed = unknowns(bare, links, [reading.models for reading in found])
    survey = _uncorrected(bare, found, assumed)
    return survey if survey.why_not else _corrected(bare, survey, assumed)


def _uncorrected(site: Site, found: Sequence[Reading], assumed: Sequence[Unknown]) -> Survey:
    """Readings beside the prediction, without any fit; says why where there can be none."""
    known = [reading for reading in found if reading.tells is Tells.EXACTLY]
    why_not = ""
    if len(known) < LEAST_LINKS:
        why_not = f"it needs {LEAST_LINKS} links of known strength, and there are {len(known)}"
    return Survey(
        site.name,
        compared=tuple(Compared(one, one.predicted_dbm, None) for one in found),
        terms=tuple(Term(one, _n_touched(one, found), None, why_not) for one in assumed),
        calibration=None,
        why_not=why_not,
        before=_miss([reading.extra_db for reading in known]),
        after=None,
        ways=way_difference(
            [one.difference_db for one in found if one.difference_db is not None],
            site.radio.direction_difference_db,
        ),
        assumed_residual_db=documented_residual_db(site),
    )


def _corrected(site: Site, survey: Survey, assumed: Sequence[Unknown]) -> Survey:
    """Survey with the fit, and with a fit to the others for each reading held out."""
    found = [one.reading for one in survey.compared]
    free = [one for one in assumed if one.spread > 0]
    fitting = _Fitting(tuple(free), problem_of(site, found, free), survey.assumed_residual_db)
    terms, calibration = fitting.learnt(np.arange(len(found)))
    corrected = corrected_dbm(site, calibration, found)
    compared = tuple(map(Compared, found, corrected, _held_out_dbm(site, found, fitting)))
    learnt = {term.unknown: term for term in terms}
    exact = "the site states a spread of 0 for it, so it is taken as exact"
    return replace(
        survey,
        compared=compared,
        terms=tuple(
            learnt.get(term.unknown, replace(term, why_not=exact)) for term in survey.terms
        ),
        calibration=calibration,
        after=_miss(
            [
                one.held_out_dbm - one.reading.measured_dbm
                for one in compared
                if one.held_out_dbm is not None and one.reading.tells is Tells.EXACTLY
            ]
        ),
    )


@dataclass(frozen=True, slots=True)
class _Fitting:
    """What fits to any part of the readings share.

    Parameters
    ----------
    free : tuple of Unknown
        What may be off. [-]
    problem : Problem
        All readings. [-]
    assumed_residual_db : float
        Documented spread of readings about the prediction. [dB]
    """

    free: tuple[Unknown, ...]
    problem: Problem
    assumed_residual_db: float

    def learnt(self, rows: Ints) -> tuple[tuple[Term, ...], Calibration]:
        """What some of the readings say of each unknown, and all of it together.

        Unknowns that the readings cannot tell apart are corrected as well: what they take together
        is known and has left the residual, so without them links would be surely wrong. Each stays
        as unsure as it is by itself.
        """
        problem = self.problem.of(rows)
        fit = fitted(problem)
        terms = []
        for column, why_not in enumerate(untold(self.free, problem.weights, fit)):
            n_links = int(np.count_nonzero(problem.weights[:, column]))
            offset, spread = float(fit.offset[column]), float(fit.spread[column])
            correction = Correction(offset, spread, n_links) if n_links else None
            terms.append(Term(self.free[column], n_links, correction, why_not))
        found: dict[Assumption, list[tuple[str, Correction]]] = defaultdict(list)
        for term in terms:
            if term.correction:
                found[term.unknown.kind].append((term.unknown.name, term.correction))
        calibration = Calibration(
            distance=dict(found[Assumption.DISTANCE]).get("distance"),
            constructions=tuple(found[Assumption.CONSTRUCTION]),
            residual_db=fit.scale * self.assumed_residual_db,
            n_links=len(rows),
            constant=dict(found[Assumption.CONSTANT]).get("constant"),
            models=tuple(found[Assumption.MODEL]),
        )
        return tuple(terms), calibration


def _held_out_dbm(site: Site, found: Sequence[Reading], fitting: _Fitting) -> tuple[float, ...]:
    """What is predicted for each reading with corrections fitted to others: one by one, or folds.

    With up to ``MOST_FOLDS`` readings each is left out by itself.
    """
    everything = np.arange(len(found))
    folds = everything % min(len(found), MOST_FOLDS)
    held_out_dbm = [0.0] * len(found)
    for fold in range(int(folds.max()) + 1):
        rows = np.flatnonzero(folds == fold).tolist()
        _, others = fitting.learnt(everything[folds != fold])
        predicted_dbm = corrected_dbm(site, others, [found[row] for row in rows])
        for row, strength_dbm in zip(rows, predicted_dbm, strict=True):
            held_out_dbm[row] = strength_dbm
    return tuple(held_out_dbm)


def _n_touched(unknown: Unknown, found: Sequence[Reading]) -> int:
    return sum(unknown.met(reading.link, reading.models) > 0 for reading in found)


def _miss(too_strong_db: Sequence[float]) -> Miss | None:
    """How far predictions lie from readings; None without any."""
    if not too_strong_db:
        return None
    missed = np.array(too_strong_db)
    return Miss(
        len(missed),
        too_strong_db=float(missed.mean()),
        half_within_db=float(np.median(np.abs(missed))),
        root_mean_square_db=float(np.sqrt(np.mean(missed**2))),
    )


def way_difference(differences_db: Sequence[float], assumed_db: float) -> WayDifference | None:
    """Spread about 0 of the differences between the directions of paths; None for too few.

    Which of two devices is named first is arbitrary, so the differences have mean 0. A path that
    was hardly heard one way counts for no more than others.

    Parameters
    ----------
    differences_db : sequence of float
        Loss one way less loss the other way, one for each path. [dB]
    assumed_db : float
        What the site states. [dB]
    """
    if len(differences_db) < LEAST_LINKS:
        return None
    from scipy.special import chdtri

    # MODELS.md, "robust residual": bounds of a normal spread, for so many readings as count.
    freedom, beyond = SPREAD_WORTH * len(differences_db), (1 - LEVEL) / 2
    spread_db = spread_about_zero(np.array(differences_db))
    low_db, high_db = (
        spread_db * math.sqrt(freedom / chdtri(freedom, tail)) for tail in (beyond, 1 - beyond)
    )
    return WayDifference(len(differences_db), spread_db, low_db, high_db, assumed_db)
