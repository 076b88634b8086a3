"""How the strength of a link moves about its calm value: levels held for hours.

A level is a pure function of time, drawn like all else from a key: nobody has to step it, and any
moment can be asked for.
"""

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from resilience.draws import LEVEL_BITS, normal

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

N_LEVELS = 1 << LEVEL_BITS


@lru_cache(maxsize=64)
def levels_cdb(spread_db: float) -> Ints:
    """Levels of a link, all equally likely, in rising order; shape (N_LEVELS,), read-only.

    Parameters
    ----------
    spread_db : float
        Their standard deviation, from 0. [dB]
    """
    # MODELS.md, "swing": the quantile in the middle of each of 4096 equal shares of a normal law.
    shares = (np.arange(N_LEVELS) + 0.5) / N_LEVELS
    levels = [100 * spread_db * normal(share) for share in shares.tolist()]
    table = np.floor(np.array(levels) + 0.5).astype(np.int64)
    table.flags.writeable = False
    return table


def parted_cdb(spread_db: float, mesh_share: float, device_share: float) -> tuple[Ints, ...]:
    """Levels of a link by itself, then, if there is such a thing, of the mesh and of each end.

    A link's level is the sum of its own, that of the mesh, and those of the devices at both ends.

    Parameters
    ----------
    spread_db : float
        Standard deviation of the sum. [dB]
    mesh_share, device_share : float
        Shares of its variance that all links of the mesh, and those of one device, have in common;
        of the latter each end has half. [-]
    """
    # MODELS.md, "common swing": variances of independent parts add up.
    shares = [1 - mesh_share - device_share]
    if mesh_share + device_share > 0:
        shares += [mesh_share, device_share / 2]
    return tuple(levels_cdb(spread_db * math.sqrt(share)) for share in shares)


def level_shares(spread_db: float) -> tuple[Ints, Floats]:
    """Each level in hundredths of a dB from the lowest to the highest, and how likely it is.

    Parameters
    ----------
    spread_db : float
        Standard deviation of the levels. [dB]
    """
    levels = levels_cdb(spread_db)
    most = int(max(-levels[0], levels[-1]))
    counts = np.bincount(levels + most, minlength=2 * most + 1)
    return np.arange(-most, most + 1), counts / N_LEVELS
