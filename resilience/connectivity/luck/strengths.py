"""What one possible building adds to every predicted strength, as plain arithmetic on arrays.

Like the draws, these functions serve the reference engine as they stand and a compiled one alike.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from resilience.draws import normal, stream, uniform

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Keys = NDArray[np.uint64]


def standard(seed: int, building_draw: int, key: int) -> float:
    """Return the one standard normal number that a key has in a building draw.

    Parameters
    ----------
    seed, building_draw : int
        Seed of the study and number of the building draw. [-]
    key : int
        Hash of what is drawn. [-]
    """
    return normal(uniform(stream(seed, building_draw, key), 0))


def draw_waves(
    seed: int, building_draw: int, key: int, decorrelation_m: float, waves: Floats
) -> None:
    """Draw plane waves whose sum over space has the correlation exp(-d / decorrelation).

    Parameters
    ----------
    seed, building_draw, key : int
        What names the draw. [-]
    decorrelation_m : float
        Distance over which the field fades to 1/e. [m]
    waves : Floats
        Shape (waves, 4): wave numbers along x, y and z, and phase; overwritten. [1/m, -]
    """
    # MODELS.md, "shadowing field": Rahimi and Recht 2007, random Fourier features. The spectrum of
    # the exponential correlation is a three-dimensional Cauchy law: a normal vector divided by the
    # size of one more normal number.
    start = stream(seed, building_draw, key)
    for wave in range(waves.shape[0]):
        width = abs(normal(uniform(start, 5 * wave + 3)))
        length_m = max(width, 1e-9) * decorrelation_m
        for axis in range(3):
            waves[wave, axis] = normal(uniform(start, 5 * wave + axis)) / length_m
        waves[wave, 3] = 2 * math.pi * uniform(start, 5 * wave + 4)


def field_at(waves: Floats, x_m: float, y_m: float, z_m: float) -> float:
    """Value of the field at a point: mean 0, variance 1 over building draws.

    Parameters
    ----------
    waves : Floats
        From ``draw_waves``. [1/m, -]
    x_m, y_m, z_m : float
        The point. [m]
    """
    total = 0.0
    for wave in range(waves.shape[0]):
        turn = waves[wave, 0] * x_m + waves[wave, 1] * y_m + waves[wave, 2] * z_m
        total += math.cos(turn + waves[wave, 3])
    return math.sqrt(2.0 / waves.shape[0]) * total


FIELD, OWN, DISTANCE, HALF, BASE_THERE, BASE_BACK, WEIGHTS = range(7)


class Lots(NamedTuple):
    """What is drawn for in every possible building, as a compiled function takes it.

    Parameters
    ----------
    decorrelation_m : float
        Of the shadowing field. [m]
    power_spread : float
        Spread of the distance coefficient. [-]
    shared_keys : Keys
        Shape (2,): name what all links share, the field and the distance coefficient. [-]
    points_m : Floats
        Shape (devices, 3); zero for a device that nobody placed. [m]
    ends : Ints
        Shape (links, 2): rows of the two devices. [-]
    weights : Floats
        Shape (links, WEIGHTS): of the field, of the link's own luck, of the distance coefficient,
        half the difference of the directions, and the two strengths as predicted. [dB, dBm]
    own_keys, half_keys : Keys
        Shape (links,): name each link's own luck, and that of its difference. [-]
    crossing_start, crossing_of, crossing_loss_db : Ints, Ints, Floats
        Crossings of link i stand from crossing_start[i] to crossing_start[i + 1]: which
        construction, and what it takes as predicted. [-, dB]
    construction_keys, construction_spread_db : Keys, Floats
        Name and spread of each construction in the way of any link. [-, dB]
    waves, field, offsets_db : Floats
        Room to work in, (waves, 4), (devices,) and (constructions,); see ``apart``. [-]
    """

    decorrelation_m: float
    power_spread: float
    shared_keys: Keys
    points_m: Floats
    ends: Ints
    weights: Floats
    own_keys: Keys
    half_keys: Keys
    crossing_start: Ints
    crossing_of: Ints
    crossing_loss_db: Floats
    construction_keys: Keys
    construction_spread_db: Floats
    waves: Floats
    field: Floats
    offsets_db: Floats

    def apart(self) -> "Lots":
        """Return the same with room of its own, for a thread that draws beside others."""
        return self._replace(
            waves=np.zeros_like(self.waves),
            field=np.zeros_like(self.field),
            offsets_db=np.zeros_like(self.offsets_db),
        )


def draw_strengths(seed: int, building_draw: int, lots: Lots, strengths_cdbm: Ints) -> None:
    """Draw the strength of both directions of every link in one possible building.

    Parameters
    ----------
    seed, building_draw : int
        Seed of the study and number of the building draw. [-]
    lots : Lots
        What is drawn for; its room to work in is overwritten. [-]
    strengths_cdbm : Ints
        Shape (links, 2), overwritten. [cdBm]
    """
    waves, field, offsets_db, weights = lots.waves, lots.field, lots.offsets_db, lots.weights
    draw_waves(seed, building_draw, int(lots.shared_keys[0]), lots.decorrelation_m, waves)
    for device in range(lots.points_m.shape[0]):
        x_m, y_m, z_m = lots.points_m[device, 0], lots.points_m[device, 1], lots.points_m[device, 2]
        field[device] = field_at(waves, x_m, y_m, z_m)
    for k in range(offsets_db.shape[0]):
        luck = standard(seed, building_draw, int(lots.construction_keys[k]))
        offsets_db[k] = lots.construction_spread_db[k] * luck
    power = lots.power_spread * standard(seed, building_draw, int(lots.shared_keys[1]))
    for link in range(lots.ends.shape[0]):
        shift_db = weights[link, FIELD] * (field[lots.ends[link, 0]] + field[lots.ends[link, 1]])
        shift_db += weights[link, OWN] * standard(seed, building_draw, int(lots.own_keys[link]))
        shift_db -= weights[link, DISTANCE] * power
        for k in range(lots.crossing_start[link], lots.crossing_start[link + 1]):
            shift_db -= max(-lots.crossing_loss_db[k], offsets_db[lots.crossing_of[k]])
        half_db = weights[link, HALF] * standard(seed, building_draw, int(lots.half_keys[link]))
        there_dbm = weights[link, BASE_THERE] + shift_db + half_db
        back_dbm = weights[link, BASE_BACK] + shift_db - half_db
        strengths_cdbm[link, 0] = math.floor(100 * there_dbm + 0.5)
        strengths_cdbm[link, 1] = math.floor(100 * back_dbm + 0.5)
