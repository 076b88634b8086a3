"""Readings and documented spreads, put as a problem to fit."""

import math
from collections.abc import Sequence

import numpy as np

from resilience.assumptions.catalogue import section
from resilience.building.settings import Radio
from resilience.building.site import Site
from resilience.connectivity.paths.averaging import survey_spread_db
from resilience.connectivity.surveys.fitting import Problem
from resilience.connectivity.surveys.likelihood import Floats
from resilience.connectivity.surveys.readings import Reading
from resilience.connectivity.surveys.unknowns import Unknown

LEAST_OWN_DB = 1.0  # no strength is read more surely, whatever a site states


def problem_of(site: Site, readings: Sequence[Reading], unknowns: Sequence[Unknown]) -> Problem:
    """Put the readings of a site as a problem to fit.

    Parameters
    ----------
    site : Site
        Whose documented spreads hold before the survey. [-]
    readings : sequence of Reading
        At least one. [-]
    unknowns : sequence of Unknown
        What may be off, each with a spread above 0. [-]
    """
    radio, shadowing_db = site.radio, shadowing(site)
    variances = [
        (1 - radio.shadowing_shared) * shadowing_db**2
        + survey_spread_db(radio, reading.measured_h) ** 2
        + (radio.direction_difference_db**2 / 4 if reading.n_ways == 1 else 0.0)
        for reading in readings
    ]
    met = [[one.met(reading.link, reading.models) for one in unknowns] for reading in readings]
    return Problem(
        extra_db=np.array([reading.extra_db for reading in readings]),
        sides=np.array([int(reading.tells) for reading in readings]),
        weights=np.array(met, float).reshape(len(readings), len(unknowns)),
        assumed_spread=np.array([one.spread for one in unknowns], float),
        field_db=shadowing_db * _shared(radio, readings),
        own_spread_db=np.maximum(np.sqrt(variances), LEAST_OWN_DB),
        spread_worth=_spread_worth(site),
    )


def shadowing(site: Site) -> float:
    """Documented spread of what the drawing does not show, in dB."""
    radio = site.radio
    return radio.shadowing_drawn_db if site.building.is_drawn else radio.shadowing_undrawn_db


def documented_residual_db(site: Site) -> float:
    """Spread of spot readings about the prediction as documented, the survey's own included.

    Parameters
    ----------
    site : Site
        Whose spreads are meant. [-]
    """
    return max(math.hypot(shadowing(site), site.radio.survey_spread_db), LEAST_OWN_DB)


def _shared(radio: Radio, readings: Sequence[Reading]) -> Floats:
    """How the field over places bears on each reading, in units of the shadowing spread.

    It is the field of the building draws: readings with an end in common, or near by, share luck,
    and a dozen of them tell less than a dozen that are far apart.
    """
    # MODELS.md, "shadowing field" and "building draw narrowing".
    points_m = sorted({point for reading in readings for point in reading.ends_m})
    rows = {point: row for row, point in enumerate(points_m)}
    places = np.array(points_m)
    apart_m = np.linalg.norm(places[:, None, :] - places[None, :, :], axis=2)
    alike = np.exp(-apart_m / radio.decorrelation_m)
    root = np.linalg.cholesky(alike + 1e-9 * np.eye(len(points_m)))
    found = np.zeros((len(readings), len(points_m)))
    for place, reading in enumerate(readings):
        a, b = (rows[point] for point in reading.ends_m)
        share = radio.shadowing_shared / (2 * (1 + alike[a, b]))
        found[place] = math.sqrt(share) * (root[a] + root[b])
    return found


def _spread_worth(site: Site) -> float:
    """How many readings the documented shadowing counts for, by its own range in the catalogue.

    The range is read as holding nine tenths of buildings; the spread of n normal numbers is itself
    unsure by a share of 1 / sqrt(2 n).
    """
    name = "shadowing_drawn_db" if site.building.is_drawn else "shadowing_undrawn_db"
    (setting,) = (one for one in section("radio") if one.name == name)
    assert setting.low is not None
    assert setting.high is not None
    unsure_share = math.log(setting.high / setting.low) / (2 * 1.645)
    return 1 / (2 * unsure_share**2)
