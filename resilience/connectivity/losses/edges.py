"""What a path loses that goes round an obstacle: over one edge of it, or over two.

ITU-R P.526-16, "single knife-edge obstacle" and "double isolated edges"; small angles are meant, so
that an end close to a large obstacle is charged too much rather than too little.
"""

import math

from resilience.connectivity.losses.slabs import MOST_DB

CLEAR_NU = -0.78  # an edge that stands further out of the path costs nothing (P.526)


def single_edge_db(height_m: float, before_m: float, after_m: float, wavelength_m: float) -> float:
    """Loss over one knife edge, 0 to ``MOST_DB``.

    Parameters
    ----------
    height_m : float
        How far the edge reaches into the straight path; negative where the path passes clear. [m]
    before_m, after_m : float
        From the one end to the edge and from there to the other, along the path, at least 0. [m]
    wavelength_m : float
        Wavelength. [m]
    """
    return _edge_db(_nu(height_m, before_m, after_m, wavelength_m))


def detour_edge_db(excess_m: float, wavelength_m: float) -> float:
    """Loss over one knife edge by how much longer the way over it is, 6 dB to ``MOST_DB``.

    Parameters
    ----------
    excess_m : float
        Way over the edge less the straight path, at least 0. [m]
    wavelength_m : float
        Wavelength. [m]
    """
    # MODELS.md, "knife edge": nu^2 / 4 is that excess in wavelengths, at any angle of the bend.
    return _edge_db(2 * math.sqrt(max(0.0, excess_m) / wavelength_m))


def double_edge_db(
    heights_m: tuple[float, float], spans_m: tuple[float, float, float], wavelength_m: float
) -> float:
    """Loss over two knife edges, one behind the other, 0 to ``MOST_DB``.

    Parameters
    ----------
    heights_m : tuple of float
        How far each edge reaches into the straight path; negative where the path is clear. [m]
    spans_m : tuple of float
        From the one end to the first edge, to the second, and to the other end, at least 0. [m]
    wavelength_m : float
        Wavelength. [m]
    """
    before_m, between_m, after_m = spans_m
    nus = (
        _nu(heights_m[0], before_m, between_m + after_m, wavelength_m),
        _nu(heights_m[1], before_m + between_m, after_m, wavelength_m),
    )
    if nus[0] < nus[1]:  # the edge that stands further into the path is the main one
        heights_m, nus = heights_m[::-1], nus[::-1]
        before_m, after_m = after_m, before_m
    main_db = _edge_db(nus[0])
    if main_db == 0 or math.isinf(nus[0]) or between_m <= 0:
        return main_db
    # MODELS.md, "two edges": the second edge is seen from the top of the main one.
    sight_m = heights_m[0] * after_m / (between_m + after_m)
    second_db = _edge_db(_nu(heights_m[1] - sight_m, between_m, after_m, wavelength_m))
    shared_db = _shared_db(nus, before_m, between_m, after_m)
    return min(MOST_DB, main_db + max(0.0, second_db - shared_db))


def _nu(height_m: float, before_m: float, after_m: float, wavelength_m: float) -> float:
    """Diffraction parameter: the height in terms of the Fresnel zones; infinite at an end."""
    if height_m == 0:
        return 0.0
    if min(before_m, after_m) <= 0:
        return math.copysign(math.inf, height_m)
    return height_m * math.sqrt(2 / wavelength_m * (1 / before_m + 1 / after_m))


def _edge_db(nu: float) -> float:
    # MODELS.md, "knife edge": 6.9 + 20 log10(sqrt((nu - 0.1)^2 + 1) + nu - 0.1).
    if nu < CLEAR_NU:
        return 0.0
    out = nu - 0.1
    # No hypot here: a compiled one rounds otherwise.
    return min(MOST_DB, 6.9 + 20 * math.log10(math.sqrt(out * out + 1) + out))


def _shared_db(
    nus: tuple[float, float], before_m: float, between_m: float, after_m: float
) -> float:
    """What two edges close together do not cost twice; all of the second where they are one."""
    main_nu, other_nu = nus
    over_m = before_m + between_m + after_m
    alpha = math.atan2(math.sqrt(between_m * over_m), math.sqrt(before_m * after_m))
    most_db = max(0.0, 12 - 20 * math.log10(2 / (1 - alpha / math.pi)))
    if main_nu <= 0:
        return most_db
    # The Recommendation has both edges in the path; an edge that stays below it is taken here as
    # one that reaches as far into it, or two edges near the line of sight would count twice.
    return most_db * min(1.0, abs(other_nu) / main_nu) ** (2 * main_nu)
