"""Paths between devices by the drawing: how long, what stands in them, how much arrives."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from resilience.building.site import Calibration
from resilience.connectivity.losses.distance import (
    floor_penetration_db,
    free_space_loss_db,
    site_general_loss_db,
)
from resilience.connectivity.paths.reach import Reach, device_loss_db
from resilience.connectivity.shapes.crossings import Crossings, crossed, drawing
from resilience.connectivity.shapes.faces import Floats, Ints
from resilience.connectivity.shapes.meetings import Paths


class Courses(NamedTuple):
    """Many paths by the drawing, in columns; numbers that nobody knows are not a number.

    Parameters
    ----------
    ends : Ints
        Shape (paths, 2): rows of the two devices, the lesser first. [-]
    distance_m : Floats
        Their lengths. [m]
    open_loss_db : Floats
        Loss before hindrances, corrected. [dB]
    correction_db : Floats
        What the calibration added to the loss as drawn. [dB]
    strengths_dbm : Floats
        Shape (paths, 2): there and back. [dBm]
    hindrances : Crossings
        What stands in each. [-]
    """

    ends: Ints
    distance_m: Floats
    open_loss_db: Floats
    correction_db: Floats
    strengths_dbm: Floats
    hindrances: Crossings

    def taken(self, paths: Ints) -> "Courses":
        """Return some of the paths.

        Parameters
        ----------
        paths : Ints
            Their rows. [-]
        """
        return Courses(
            self.ends[paths],
            self.distance_m[paths],
            self.open_loss_db[paths],
            self.correction_db[paths],
            self.strengths_dbm[paths],
            self.hindrances.taken(paths),
        )

    def with_unplaced(self, ends: Ints) -> "Courses":
        """Return these paths and, after them, others of which nothing is known.

        Parameters
        ----------
        ends : Ints
            Shape (others, 2): rows of their devices. [-]
        """
        n, unknown = len(self.ends), np.full(len(ends), math.nan)
        return Courses(
            np.concatenate((self.ends, ends)),
            np.concatenate((self.distance_m, unknown)),
            np.concatenate((self.open_loss_db, unknown)),
            np.concatenate((self.correction_db, np.zeros(len(ends)))),
            np.concatenate((self.strengths_dbm, np.column_stack((unknown, unknown)))),
            self.hindrances.taken(np.concatenate((np.arange(n), np.full(len(ends), -1)))),
        )


def courses(reach: Reach, ends: Ints, spare_db: Floats) -> Courses:
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
    ends, hindrances = ends[near], crossings.taken(near)
    points_m = reach.points_m.tolist()
    length_m = [max(math.dist(points_m[a], points_m[b]), 1e-9) for a, b in ends.tolist()]
    distance_m, correction_db = np.array(length_m), np.zeros(len(ends))
    if not site.radio.predict:
        unknown = np.full((len(ends), 2), math.nan)
        return Courses(ends, distance_m, unknown[:, 0], correction_db, unknown, hindrances)
    open_db = _open_db(reach, ends, length_m)
    if site.calibration is not None:
        open_correction_db = _open_correction_db(site.calibration, length_m)
        open_db = open_db + open_correction_db
        correction_db = open_correction_db + hindrances.total_db - _drawn_db(reach, ends)
        correction_db += device_loss_db(site.calibration, reach.devices)[ends].sum(axis=1)
    strengths_dbm = reach.strengths_dbm(ends, open_db + hindrances.total_db)
    return Courses(ends, distance_m, open_db, correction_db, strengths_dbm, hindrances)


def _open_db(reach: Reach, ends: Ints, length_m: Sequence[float]) -> Floats:
    """Free space where walls are drawn, else the site-general model."""
    radio, building = reach.site.radio, reach.site.building
    if building.is_drawn:
        return np.array([free_space_loss_db(one_m, radio.frequency_mhz) for one_m in length_m])
    floors = np.abs(np.diff(np.array(reach.levels)[ends], axis=1))[:, 0].tolist()
    return np.array(
        [
            site_general_loss_db(
                one_m,
                radio.frequency_mhz,
                radio.distance_power,
                floor_penetration_db(n_floors, radio.floor_loss_db),
            )
            for one_m, n_floors in zip(length_m, floors, strict=True)
        ]
    )


def _open_correction_db(calibration: Calibration, length_m: Sequence[float]) -> Floats:
    per_decade_db = calibration.distance.offset if calibration.distance else 0.0
    return np.array([per_decade_db * math.log10(max(1.0, one_m)) for one_m in length_m])


def _drawn_db(reach: Reach, ends: Ints) -> Floats:
    """What stands in each path takes by the drawing alone."""
    bare = drawing(reach.site.building, reach.site.radio)
    return crossed(bare, Paths(reach.points_m, ends), np.full(len(ends), math.inf)).total_db
