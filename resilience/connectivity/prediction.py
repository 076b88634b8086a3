"""The paths of a layout by the drawing: how long each is, what stands in it, how much arrives."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from resilience.building.site import Calibration
from resilience.connectivity.losses.distance import (
    floor_penetration_db,
    free_space_loss_db,
    site_general_loss_db,
)
from resilience.connectivity.reach import Pair, Reach, device_loss_db
from resilience.connectivity.shapes.crossings import Hindrance, crossed, drawing
from resilience.connectivity.shapes.faces import Floats, Ints
from resilience.connectivity.shapes.meetings import Paths


class Course(NamedTuple):
    """One path; a tuple, since there may be a hundred thousand.

    Parameters
    ----------
    distance_m : float or None
        Its length; None where one of its ends has no place. [m]
    hindrances : sequence of Hindrance
        What stands in it. [-]
    open_loss_db : float or None
        Loss before hindrances, corrected; None where nothing is predicted. [dB]
    correction_db : float
        What the calibration added to the loss as drawn. [dB]
    strengths_dbm : (float, float) or None
        There and back; None where nothing is predicted. [dBm]
    """

    distance_m: float | None = None
    hindrances: Sequence[Hindrance] = ()
    open_loss_db: float | None = None
    correction_db: float = 0.0
    strengths_dbm: tuple[float, float] | None = None


def courses(reach: Reach, ends: Ints, spare_db: Floats) -> Iterator[tuple[Pair, Course]]:
    """Every path that takes no more than it has to spare, through everything that stands in it.

    Parameters
    ----------
    reach : Reach
        The devices. [-]
    ends : Ints
        Shape (paths, 2): rows of placed devices, the lesser first. [-]
    spare_db : Floats
        Shape (paths,): loss beyond which a path is of no interest. [dB]
    """
    site = reach.site
    corrected = drawing(site.building, site.radio, site.calibration)
    crossings = crossed(corrected, Paths(reach.points_m, ends), spare_db)
    (near,) = np.nonzero(crossings.total_db <= spare_db)
    ends, added_db = ends[near], crossings.total_db[near]
    pairs, points_m = list(zip(*ends.T.tolist(), strict=True)), reach.points_m.tolist()
    length_m = [max(math.dist(points_m[a], points_m[b]), 1e-9) for a, b in pairs]
    in_the_way = map(crossings.of, near.tolist())
    if not site.radio.predict:
        for pair, distance_m, hindrances in zip(pairs, length_m, in_the_way, strict=True):
            yield pair, Course(distance_m, hindrances)
        return
    open_db = np.array([_open_db(reach, *path) for path in zip(pairs, length_m, strict=True)])
    correction_db = np.zeros(len(pairs))
    if site.calibration is not None:
        open_correction_db = _open_correction_db(site.calibration, length_m)
        open_db = open_db + open_correction_db
        correction_db = open_correction_db + added_db - _drawn_db(reach, ends)
        correction_db += device_loss_db(site.calibration, reach.devices)[ends].sum(axis=1)
    strengths_dbm = reach.strengths_dbm(ends, open_db + added_db)
    columns = (length_m, in_the_way, open_db.tolist(), correction_db.tolist(), strengths_dbm)
    for pair, *course in zip(pairs, *columns, strict=True):
        yield pair, Course(*course)


def _open_db(reach: Reach, pair: Pair, length_m: float) -> float:
    """Free space where walls are drawn, else the site-general model."""
    radio, building = reach.site.radio, reach.site.building
    if building.is_drawn:
        return free_space_loss_db(length_m, radio.frequency_mhz)
    a, b = reach.levels[pair[0]], reach.levels[pair[1]]
    floors_db = floor_penetration_db(abs(a - b), radio.floor_loss_db)
    return site_general_loss_db(length_m, radio.frequency_mhz, radio.distance_power, floors_db)


def _open_correction_db(calibration: Calibration, length_m: Sequence[float]) -> Floats:
    per_decade_db = calibration.distance.offset if calibration.distance else 0.0
    return np.array([per_decade_db * math.log10(max(1.0, one_m)) for one_m in length_m])


def _drawn_db(reach: Reach, ends: Ints) -> Floats:
    """What stands in each path takes by the drawing alone."""
    bare = drawing(reach.site.building, reach.site.radio)
    return crossed(bare, Paths(reach.points_m, ends), np.full(len(ends), math.inf)).total_db
