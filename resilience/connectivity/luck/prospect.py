"""One possible building: what the drawing does not show, drawn once for two lifetimes.

Nobody knows how lossy a slab really is or what shadows the paths before somebody measures. Each
building draw is one answer; the same place has the same luck in every layout.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from resilience.building.site import Device
from resilience.connectivity.luck.strengths import (
    BASE_BACK,
    BASE_THERE,
    DISTANCE,
    FIELD,
    HALF,
    OWN,
    WEIGHTS,
    Floats,
    Ints,
    Keys,
    Lots,
    draw_strengths,
)
from resilience.connectivity.table import LinkTable
from resilience.draws import element_key

FIELD_KEY = element_key("building", "", "field")
DISTANCE_KEY = element_key("building", "", "distance")
LIFETIMES_PER_BUILDING = 2
N_WAVES = 32  # enough for a field that is close to normal; its correlation is exact at any number


@dataclass(frozen=True, slots=True)
class Prospect:
    """What the luck of a building works on, link by link.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links, in the order of the arrays, with the spreads that a
        calibration has left. [-]
    lots : Lots
        Arrays for ``draw_strengths``. [-]
    """

    table: LinkTable
    lots: Lots

    def strengths_cdbm(self, seed: int, building_draw: int) -> Ints:
        """Strengths in one possible building, shape (links, 2).

        Parameters
        ----------
        seed : int
            Seed of the study. [-]
        building_draw : int
            Number of the building draw, from 0. [-]
        """
        strengths_cdbm = np.zeros((len(self.lots.ends), 2), np.int64)
        draw_strengths(seed, building_draw, self.lots.apart(), strengths_cdbm)
        return strengths_cdbm


def prospect(table: LinkTable) -> Prospect:
    """Prepare the links of a layout for building draws.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    table = narrowed(table)
    spots = [_spot_of(device) for device in table.devices]
    place = {spot: n for n, spot in enumerate(sorted(set(spots)))}
    places = np.array([place[spot] for spot in spots], np.int64)[table.ends]
    pairs = _pairs(list(place), places)
    names, start, crossing_of, loss_db = _built(table)
    spreads_db = [table.building.construction(name).spread_db for name in names]
    lots = Lots(
        decorrelation_m=table.radio.decorrelation_m,
        power_spread=table.radio.distance_power_spread,
        shared_keys=np.array([FIELD_KEY, DISTANCE_KEY], np.uint64),
        points_m=np.array([_point_m(table, device) for device in table.devices]).reshape(-1, 3),
        ends=table.ends.copy(),
        weights=_weights(table, np.where(places[:, 0] <= places[:, 1], 1.0, -1.0)),
        own_keys=_keys(pairs, "own"),
        half_keys=_keys(pairs, "difference"),
        crossing_start=start,
        crossing_of=crossing_of,
        crossing_loss_db=loss_db,
        construction_keys=_keys(names, "construction"),
        construction_spread_db=np.array(spreads_db),
        waves=np.zeros((N_WAVES, 4)),
        field=np.zeros(len(spots)),
        offsets_db=np.zeros(len(names)),
    )
    return Prospect(table, lots)


def constructions_met(table: LinkTable) -> list[str]:
    """Names of the constructions that are drawn for, in the order of a prospect's arrays.

    Parameters
    ----------
    table : LinkTable
        Predicted and measured links. [-]
    """
    return _built(narrowed(table))[0]


def _pairs(names: list[str], places: Ints) -> list[str]:
    """Name each pair of places, or of devices where nobody placed them, the lesser name first."""
    both = np.sort(places, axis=1).tolist()
    return [f"{names[one]}|{names[other]}" for one, other in both]


def _keys(names: list[str], what: str) -> Keys:
    return np.array([element_key("building", name, what) for name in names], np.uint64)


def _built(table: LinkTable) -> tuple[list[str], Ints, Ints, Floats]:
    """Crossings of constructions: their names, and for each link which ones and what they take.

    A lining may be crossed on both sides, each for itself. Ways round, obstacles and losses held at
    a limit cross nothing whose luck would show, and a measurement tells what everything took.
    """
    met = table.hindrances
    built = [label.construction for label in met.labels]
    times = np.where(table.is_measured[met.path], 0, met.times)
    times[[not built[label] for label in met.label.tolist()]] = 0
    label = np.repeat(met.label, times)
    names = sorted({built[one] for one in set(label.tolist())})
    place = {name: n for n, name in enumerate(names)}
    place_of = np.array([place.get(name, -1) for name in built], np.int64)
    loss_db = np.repeat(met.loss_db / np.maximum(times, 1), times)
    n_crossings = np.bincount(met.path, times, len(table.ends)).astype(np.int64)
    return names, np.concatenate(([0], np.cumsum(n_crossings))), place_of[label], loss_db


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


def _weights(table: LinkTable, sign: Floats) -> Floats:
    """How far each kind of luck moves a link; what is measured keeps the survey spread alone."""
    radio, is_drawn = table.radio, table.building.is_drawn
    spread_db = radio.shadowing_drawn_db if is_drawn else radio.shadowing_undrawn_db
    length_m = np.where(table.is_measured, 1.0, table.distance_m).tolist()
    # The scalar functions of ``math``, as everywhere on the way to a draw: those of NumPy differ
    # from them, and from machine to machine, in the last bit.
    alike = np.array([math.exp(-one_m / radio.decorrelation_m) for one_m in length_m])
    predicted = np.zeros((len(length_m), WEIGHTS))
    predicted[:, FIELD] = spread_db * np.sqrt(radio.shadowing_shared / (2 * (1 + alike)))
    predicted[:, OWN] = spread_db * math.sqrt(1 - radio.shadowing_shared)
    predicted[:, DISTANCE] = [math.log10(max(1.0, one_m)) for one_m in length_m]
    predicted[:, HALF] = sign * radio.direction_difference_db / 2
    weights = np.where(table.is_measured[:, None], 0.0, predicted)
    weights[table.is_measured, OWN] = table.spread_db[table.is_measured]
    weights[:, BASE_THERE : BASE_BACK + 1] = table.rssi_dbm
    return weights


def _point_m(table: LinkTable, device: Device) -> tuple[float, float, float]:
    if device.place is None:
        return (0.0, 0.0, 0.0)
    place = device.place
    return (place.x_m, place.y_m, table.building.level(place.level).floor_m + place.height_m)


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
