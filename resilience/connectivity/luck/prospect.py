"""One possible building: what the drawing does not show, drawn once for two lifetimes.

Nobody knows how lossy a slab really is or what shadows the paths before somebody measures. Each
building draw is one answer; the same place has the same luck in every layout.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from resilience.building.site import Device
from resilience.connectivity.links import Link, LinkTable
from resilience.connectivity.luck.strengths import WEIGHTS, Floats, Ints, draw_strengths
from resilience.draws import element_key

FIELD_KEY = element_key("building", "", "field")
DISTANCE_KEY = element_key("building", "", "distance")
LIFETIMES_PER_BUILDING = 2
N_WAVES = 32  # enough for a field that is close to normal; its correlation is exact at any number


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
