"""Many possible buildings at once, in array arithmetic, where only a share of them is asked for.

The same draws as ``strengths``, which decides what is played. NumPy's functions differ from those
of ``math`` in the last bit, so that a strength may round to the next hundredth of a dB here; in
return nothing has to be compiled, or loaded, before an answer.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience import draws
from resilience.connectivity.luck.strengths import (
    BASE_BACK,
    BASE_THERE,
    DISTANCE,
    FIELD,
    HALF,
    OWN,
    Floats,
    Ints,
    Lots,
)

Words = NDArray[np.uint64]

# Sums and products of 64-bit words wrap by themselves, so these serve arrays as they stand.
mix: Any = draws.mix
uniform: Any = draws.uniform
_rational: Any = draws._rational

DRAWS_OF_A_WAVE = 5  # three of its direction, its width, its phase


def strengths_in_buildings(seed: int, n_buildings: int, lots: Lots) -> Ints:
    """Strengths of the first possible buildings of a seed, shape (buildings, links, 2).

    Parameters
    ----------
    seed : int
        Seed of the study. [-]
    n_buildings : int
        How many. [-]
    lots : Lots
        What is drawn for. [-]
    """
    field = _fields(streams_in_buildings(seed, n_buildings, lots.shared_keys[:1]), lots)
    offsets_db = lots.construction_spread_db * luck_in_buildings(
        seed, n_buildings, lots.construction_keys
    )
    power = lots.power_spread * luck_in_buildings(seed, n_buildings, lots.shared_keys[1:])
    weights, (one, other) = lots.weights, lots.ends.T
    shift_db = weights[:, FIELD] * (field[:, one] + field[:, other])
    shift_db += weights[:, OWN] * luck_in_buildings(seed, n_buildings, lots.own_keys)
    shift_db -= weights[:, DISTANCE] * power
    met_db = np.maximum(-lots.crossing_loss_db, offsets_db[:, lots.crossing_of])
    until_db = np.pad(met_db.cumsum(axis=1), ((0, 0), (1, 0)))
    shift_db -= np.diff(until_db[:, lots.crossing_start], axis=1)
    half_db = weights[:, HALF] * luck_in_buildings(seed, n_buildings, lots.half_keys)
    there_dbm = weights[:, BASE_THERE] + shift_db + half_db
    back_dbm = weights[:, BASE_BACK] + shift_db - half_db
    return np.floor(100 * np.stack((there_dbm, back_dbm), axis=2) + 0.5).astype(np.int64)


def _fields(starts: Words, lots: Lots) -> Floats:
    """Value of the shadowing field at each device, shape (buildings, devices)."""
    n_waves = len(lots.waves)
    steps = [n * draws.GOLDEN & draws.MASK for n in range(DRAWS_OF_A_WAVE * n_waves)]
    luck = uniform(starts + np.array(steps, np.uint64), 0)  # draw n is draw 0 after n steps
    luck = luck.reshape(len(starts), n_waves, DRAWS_OF_A_WAVE)
    length_m = np.maximum(np.abs(_normals(luck[:, :, 3])), 1e-9) * lots.decorrelation_m
    per_m = _normals(luck[:, :, :3]) / length_m[:, :, None]
    turns = lots.points_m @ per_m.transpose(0, 2, 1) + 2 * math.pi * luck[:, None, :, 4]
    field: Floats = math.sqrt(2.0 / n_waves) * np.cos(turns).sum(axis=2)
    return field


def luck_in_buildings(seed: int, n_buildings: int, keys: Words) -> Floats:
    """The one standard normal number of each key in each building, shape (buildings, keys).

    Parameters
    ----------
    seed : int
        Seed of the study. [-]
    n_buildings : int
        How many. [-]
    keys : Words
        Hashes of what is drawn. [-]
    """
    return _normals(uniform(streams_in_buildings(seed, n_buildings, keys), 0))


def streams_in_buildings(seed: int, n_buildings: int, keys: Words) -> Words:
    """Starts of the streams of some keys, shape (buildings, keys).

    Parameters
    ----------
    seed : int
        Seed of the study. [-]
    n_buildings : int
        How many. [-]
    keys : Words
        Hashes of what is drawn. [-]
    """
    first = draws.mix(seed & draws.MASK)
    each = [first + (building + 1) * draws.GOLDEN for building in range(n_buildings)]
    heads = np.array([draws.mix(one & draws.MASK) for one in each], np.uint64)
    return mix(heads[:, None] ^ keys)  # as ``draws.stream`` ends, for all keys at once


def _normals(u: Floats) -> Floats:
    """Quantiles of the standard normal law: ``draws.normal`` on arrays."""
    # SciPy has them too, but takes half a second to load.
    q = u - 0.5
    found: Floats = q * _rational(0.180625 - q * q, draws._CENTRE_ABOVE, draws._CENTRE_BELOW)
    is_outer = np.abs(q) > 0.425
    q = q[is_outer]
    tail = np.sqrt(-np.log(np.maximum(0.5 - np.abs(q), 2.0**-54)))
    shoulder = _rational(tail - 1.6, draws._SHOULDER_ABOVE, draws._SHOULDER_BELOW)
    far = _rational(tail - 5.0, draws._TAIL_ABOVE, draws._TAIL_BELOW)
    found[is_outer] = np.copysign(np.where(tail <= 5.0, shoulder, far), q)
    return found
