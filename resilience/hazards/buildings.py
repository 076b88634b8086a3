"""One possible building: what the drawing does not show, drawn once for two lifetimes.

Nobody knows how lossy a slab really is or what shadows the paths before somebody measures. Each
building draw is one answer; the same place has the same luck in every layout.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from resilience.building.site import Device
from resilience.connectivity.links import Heard, Link, LinkTable
from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    ReceptionCurve,
    link_cost,
    prr_units,
)
from resilience.hazards.draws import element_key
from resilience.hazards.strengths import WEIGHTS, Floats, Ints, draw_strengths
from resilience.units import cdb_from_db

FIELD_KEY = element_key("building", "", "field")
DISTANCE_KEY = element_key("building", "", "distance")
LIFETIMES_PER_BUILDING = 2
N_WAVES = 32  # enough for a field that is close to normal; its correlation is exact at any number


@dataclass(frozen=True, slots=True)
class Direction:
    """One direction of a link in one possible building.

    Parameters
    ----------
    rssi_cdbm : int
        Strength when calm. [cdBm]
    floor_cdbm : int
        Weakest strength at which the receiver keeps the link. [cdBm]
    measured : tuple of (int, int) or None
        Measured reception ratio, and what the curve gives at the strength it was measured at, in
        units of 2^-16; None where reception follows from the curve alone. [-]
    """

    rssi_cdbm: int
    floor_cdbm: int
    measured: tuple[int, int] | None

    def prr(self, curve: ReceptionCurve, loss_cdb: int) -> int:
        """Reception ratio under an added loss, in units of 2^-16; 0 below the receiver's floor."""
        rssi_cdbm = self.rssi_cdbm - loss_cdb
        if rssi_cdbm < self.floor_cdbm:
            return 0
        prr = curve.prr(rssi_cdbm)
        if self.measured is None:
            return prr
        measured, expected = self.measured
        return min(prr_units(1.0), measured * prr // expected)


@dataclass(frozen=True, slots=True)
class DrawnPath:
    """A link in one possible building: its cost under any added loss.

    Parameters
    ----------
    curve : ReceptionCurve
        From strength to reception. [-]
    there, back : Direction
        From a to b, and from b to a. [-]
    min_prr : int
        Least reception ratio of a usable direction, in units of 2^-16. [-]
    counts_hops : bool
        Whether every usable link costs the same. [-]
    """

    curve: ReceptionCurve
    there: Direction
    back: Direction
    min_prr: int
    counts_hops: bool

    def cost(self, loss_cdb: int) -> int | None:
        """Cost under an added loss, None where the link is not usable then.

        Parameters
        ----------
        loss_cdb : int
            Loss added to both directions. [cdB]
        """
        there = self.there.prr(self.curve, loss_cdb)
        back = self.back.prr(self.curve, loss_cdb)
        if min(there, back) < self.min_prr:
            return None
        return COST_PER_TRANSMISSION if self.counts_hops else link_cost(there, back)

    @property
    def dearest(self) -> int:
        """Cost that no loss can exceed while the link is usable."""
        return link_cost(self.min_prr, self.min_prr)


Paths = dict[str, DrawnPath]  # by id of the link


@dataclass(frozen=True, slots=True)
class Prospect:
    """What the luck of a building works on, link by link; arrays as ``draw_strengths`` takes them.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links, in the order of the arrays. [-]
    points_m : Floats
        Shape (devices, 3); zero for a device that nobody placed. [m]
    ends : Ints
        Shape (links, 2): rows of the two devices. [-]
    weights : Floats
        Shape (links, WEIGHTS). [dB, dBm]
    own_keys, half_keys : tuple of int
        One for each link. [-]
    crossing_start, crossing_of : Ints
        Crossings by link, each the place of a construction. [-]
    crossing_loss_db : Floats
        What each crossing takes as predicted. [dB]
    construction_keys : tuple of int
        One for each construction in the way of any link. [-]
    construction_spread_db : Floats
        Its spread. [dB]
    """

    table: LinkTable
    points_m: Floats
    ends: Ints
    weights: Floats
    own_keys: tuple[int, ...]
    half_keys: tuple[int, ...]
    crossing_start: Ints
    crossing_of: Ints
    crossing_loss_db: Floats
    construction_keys: tuple[int, ...]
    construction_spread_db: Floats

    def strengths_cdbm(self, seed: int, building_draw: int) -> Ints:
        """Strengths in one possible building, shape (links, 2).

        Parameters
        ----------
        seed : int
            Seed of the study. [-]
        building_draw : int
            Number of the building draw, from 0. [-]
        """
        radio = self.table.radio
        strengths_cdbm = np.zeros((len(self.ends), 2), np.int64)
        draw_strengths(
            seed,
            building_draw,
            radio.decorrelation_m,
            radio.distance_power_spread,
            FIELD_KEY,
            DISTANCE_KEY,
            self.points_m,
            self.ends,
            self.weights,
            self.own_keys,
            self.half_keys,
            self.crossing_start,
            self.crossing_of,
            self.crossing_loss_db,
            self.construction_keys,
            self.construction_spread_db,
            np.zeros((N_WAVES, 4)),
            np.zeros(len(self.points_m)),
            np.zeros(len(self.construction_keys)),
            strengths_cdbm,
        )
        return strengths_cdbm


def prospect(table: LinkTable) -> Prospect:
    """Prepare the links of a layout for building draws.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    table = narrowed(table)
    devices = {device.id: device for device in table.layout.devices}
    rows = {id: row for row, id in enumerate(devices)}
    crossings = [() if link.measured else _built(link) for link in table.links]
    names = sorted({name for crossing in crossings for name, _ in crossing})
    spots = [_spot(devices[link.a], devices[link.b]) for link in table.links]
    return Prospect(
        table,
        points_m=np.array([_point_m(table, device) for device in devices.values()]).reshape(-1, 3),
        ends=np.array([(rows[link.a], rows[link.b]) for link in table.links], np.int64).reshape(
            -1, 2
        ),
        weights=np.array(
            [_weights(table, link, devices[link.a], devices[link.b]) for link in table.links]
        ).reshape(-1, WEIGHTS),
        own_keys=tuple(element_key("building", spot, "own") for spot in spots),
        half_keys=tuple(element_key("building", spot, "difference") for spot in spots),
        crossing_start=np.cumsum([0, *map(len, crossings)], dtype=np.int64),
        crossing_of=np.array(
            [names.index(name) for crossing in crossings for name, _ in crossing], np.int64
        ),
        crossing_loss_db=np.array([loss_db for crossing in crossings for _, loss_db in crossing]),
        construction_keys=tuple(element_key("building", name, "construction") for name in names),
        construction_spread_db=np.array(
            [table.building.construction(name).spread_db for name in names]
        ),
    )


def _built(link: Link) -> tuple[tuple[str, float], ...]:
    """Each crossing of a construction and what it takes; a lining may be crossed on both sides.

    Ways round, obstacles and losses held at a limit cross nothing whose luck would show.
    """
    return tuple(
        (one.construction, one.loss_db / one.times)
        for one in link.hindrances
        for _ in range(one.times)
        if one.construction
    )


def narrowed(table: LinkTable) -> LinkTable:
    """Link table with the spreads that a calibration has left in the place of the documented ones.

    What no measured link meets keeps its spread. The error of measuring is in the residual, so it
    is taken out again; never is a predicted link surer than a measured one.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    known = table.calibration
    if known is None:
        return table
    survey_db = table.radio.survey_spread_db
    shadowing_db = max(survey_db, math.sqrt(max(0.0, known.residual_db**2 - survey_db**2)))
    radio = replace(table.radio, shadowing_drawn_db=shadowing_db, shadowing_undrawn_db=shadowing_db)
    if known.distance is not None:
        radio = replace(radio, distance_power_spread=known.distance.spread)
    told = dict(known.constructions)
    constructions = tuple(
        (name, replace(one, spread_db=told[name].spread) if name in told else one)
        for name, one in table.building.constructions
    )
    return replace(
        table, radio=radio, building=replace(table.building, constructions=constructions)
    )


def mean_paths(table: LinkTable) -> Paths:
    """Paths of a layout at mean shadowing: the building as predicted.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    means = [
        (cdb_from_db(link.there.rssi_dbm), cdb_from_db(link.back.rssi_dbm)) for link in table.links
    ]
    return _paths(table, means)


def drawn_paths(table: LinkTable, seed: int, building_draw: int) -> Paths:
    """Paths of a layout in one possible building.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    seed : int
        Seed of the study. [-]
    building_draw : int
        Number of the building draw, from 0. [-]
    """
    return paths_in(prospect(table), seed, building_draw)


def paths_in(prepared: Prospect, seed: int, building_draw: int) -> Paths:
    """Paths of prepared links in one possible building.

    Parameters
    ----------
    prepared : Prospect
        From ``prospect``. [-]
    seed : int
        Seed of the study. [-]
    building_draw : int
        Number of the building draw, from 0. [-]
    """
    drawn = prepared.strengths_cdbm(seed, building_draw).tolist()
    return _paths(prepared.table, drawn)


def _paths(table: LinkTable, strengths_cdbm: Sequence[Sequence[int]]) -> Paths:
    min_prr = prr_units(table.routing.min_prr)
    counts_hops = table.routing.objective == "hops"
    return {
        link.id: DrawnPath(
            table.curve,
            _direction(table.curve, link.there, there_cdbm),
            _direction(table.curve, link.back, back_cdbm),
            min_prr,
            counts_hops,
        )
        for link, (there_cdbm, back_cdbm) in zip(table.links, strengths_cdbm, strict=True)
    }


def _direction(curve: ReceptionCurve, heard: Heard, rssi_cdbm: int) -> Direction:
    measured = None
    if heard.prr_measured is not None:
        expected = curve.prr(cdb_from_db(heard.rssi_dbm))
        measured = (prr_units(heard.prr_measured), max(1, expected))
    return Direction(rssi_cdbm, cdb_from_db(heard.floor_dbm), measured)


def _weights(table: LinkTable, link: Link, a: Device, b: Device) -> tuple[float, ...]:
    """How far each kind of luck moves a link; what is measured keeps the survey spread alone."""
    radio, base_dbm = table.radio, (link.there.rssi_dbm, link.back.rssi_dbm)
    if link.measured:
        return (0.0, radio.survey_spread_db, 0.0, 0.0, *base_dbm)
    assert link.distance_m is not None
    is_drawn = table.building.is_drawn
    spread_db = radio.shadowing_drawn_db if is_drawn else radio.shadowing_undrawn_db
    alike = math.exp(-link.distance_m / radio.decorrelation_m)
    sign = 1.0 if _spot_of(a) <= _spot_of(b) else -1.0
    return (
        spread_db * math.sqrt(radio.shadowing_shared / (2 * (1 + alike))),
        spread_db * math.sqrt(1 - radio.shadowing_shared),
        math.log10(max(1.0, link.distance_m)),
        sign * radio.direction_difference_db / 2,
        *base_dbm,
    )


def _point_m(table: LinkTable, device: Device) -> tuple[float, float, float]:
    if device.place is None:
        return (0.0, 0.0, 0.0)
    place = device.place
    return (place.x_m, place.y_m, table.building.level(place.level).floor_m + place.height_m)


def _spot(a: Device, b: Device) -> str:
    """Name a pair of places, or of devices where nobody placed them."""
    return "|".join(sorted((_spot_of(a), _spot_of(b))))


def _spot_of(device: Device) -> str:
    """Name a place to the nearest 0.1 m: what is moved less keeps its luck."""
    if device.place is None:
        return device.id
    place = device.place
    x_m, y_m, height_m = (
        round(value_m, 1) + 0.0  # turns -0.0 into 0.0
        for value_m in (place.x_m, place.y_m, place.height_m)
    )
    return f"{place.level}:{x_m},{y_m},{height_m}"
