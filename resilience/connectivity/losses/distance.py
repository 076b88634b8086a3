"""What the open path takes: free space, or the site-general model where no wall is drawn."""

import math

from resilience.connectivity.losses.slabs import SPEED_OF_LIGHT_M_PER_S

# P.1238-8 Table 3 gives no further floor at 2.4 GHz; homes and offices at 1.8 to 2 GHz agree on it.
FURTHER_FLOOR_DB = 4.0


def free_space_loss_db(distance_m: float, frequency_mhz: float) -> float:
    """Free-space basic transmission loss; below 0.1 m (nearly the antenna itself) that of 0.1 m.

    Parameters
    ----------
    distance_m : float
        Length of the path. [m]
    frequency_mhz : float
        Frequency. [MHz]
    """
    # MODELS.md, "free space": 20 log10(4 pi d f / c).
    waves = 1e6 * frequency_mhz * max(distance_m, 0.1) / SPEED_OF_LIGHT_M_PER_S
    return 20 * math.log10(4 * math.pi * waves)


def floor_penetration_db(n_floors: int, first_db: float) -> float:
    """Loss through the floors between two levels, walls not drawn.

    Parameters
    ----------
    n_floors : int
        Floors between the two devices, 0 on the same level. [-]
    first_db : float
        Loss of the first one. [dB]
    """
    return 0.0 if n_floors == 0 else first_db + FURTHER_FLOOR_DB * (n_floors - 1)


def site_general_loss_db(
    distance_m: float, frequency_mhz: float, distance_power: float, floors_db: float = 0.0
) -> float:
    """Loss of a path in a building whose walls are not drawn; below 1 m that of 1 m.

    The distance power stands for the walls, so explicit walls must never be added to it. This is
    the form of ITU-R P.1238 up to -9, kept for different floors since; here it serves every floor,
    for the newer one of a single floor ends at 30 m and is up to 9 dB more hopeful there.

    Parameters
    ----------
    distance_m : float
        Length of the path. [m]
    frequency_mhz : float
        Frequency. [MHz]
    distance_power : float
        Coefficient N. [-]
    floors_db : float
        Loss through the floors between. [dB]
    """
    # MODELS.md, "site-general": 20 log10(f) + N log10(d) + Lf(n) - 28, f in MHz.
    spread_db = distance_power * math.log10(max(distance_m, 1.0))
    return 20 * math.log10(frequency_mhz) + spread_db + floors_db - 28
