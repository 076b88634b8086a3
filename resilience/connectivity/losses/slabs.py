"""What one wall or slab takes from a radio wave, by its materials and the angle of incidence."""

import cmath
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from resilience.assumptions.constructions import MATERIALS, Construction, Material

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
DB_PER_NEPER = 20 / math.log(10)

COS_STEPS = 1000  # the cosine of the incidence is rounded to 1/1000, so that losses can be kept
MOST_DB = 200.0  # beyond it nothing is heard at any power: metal and grazing incidence end here

Stack = tuple[tuple[complex, float], ...]
Polarisation = Literal["TE", "TM"]


@dataclass(frozen=True, slots=True)
class Passage:
    """What becomes of a plane wave that meets a stack of layers.

    Parameters
    ----------
    loss_db : float
        Loss of the wave that passes; finite for metal of any thickness. [dB]
    reflected_share : float
        Share of the power that is thrown back, 0 to 1. [-]
    """

    loss_db: float
    reflected_share: float


def permittivity(material: Material, frequency_mhz: float) -> complex:
    """Complex relative permittivity of a building material.

    Parameters
    ----------
    material : Material
        Coefficients of ITU-R P.2040 Table 3. [-]
    frequency_mhz : float
        Frequency, inside the range over which the coefficients were fitted. [MHz]
    """
    frequency_ghz = frequency_mhz / 1000
    if not material.low_ghz <= frequency_ghz <= material.high_ghz:
        raise ValueError(
            f"{frequency_mhz:g} MHz is outside {material.low_ghz:g} to {material.high_ghz:g} GHz, "
            "for which the material was measured"
        )
    conductivity = material.c * frequency_ghz**material.d
    # 17.9751036 = 1 / (2 pi 1e9 eps0); the Recommendation prints it rounded, as 17.98.
    return material.a * frequency_ghz**material.b - 17.9751036j * conductivity / frequency_ghz


def passage(
    stack: Stack, frequency_mhz: float, cos_incidence: float, polarisation: Polarisation
) -> Passage:
    """Loss and reflection of a stack of flat layers with air on both sides.

    Parameters
    ----------
    stack : tuple of (complex, float)
        Relative permittivity and thickness of each layer, in order. [m]
    frequency_mhz : float
        Frequency. [MHz]
    cos_incidence : float
        Cosine of the angle between path and normal, above 0 and at most 1. [-]
    polarisation : {"TE", "TM"}
        Electric field across the plane of incidence, or in it. [-]
    """
    if not 0 < cos_incidence <= 1:
        raise ValueError(f"cos_incidence is {cos_incidence:g}, not above 0 and at most 1")
    wave_number_per_m = 2e6 * math.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    sin_squared = 1 - cos_incidence**2

    def across(eta: complex) -> complex:
        return cmath.sqrt(eta - sin_squared)

    def admittance(eta: complex) -> complex:
        return across(eta) if polarisation == "TE" else across(eta) / eta

    # MODELS.md, "layered wall": from the far side back to the near one, forward wave A, backward
    # wave B. The growth exp(Re delta) is carried beside A and B as a logarithm, in neper, so that
    # no thickness of metal overflows.
    forward, backward, growth_neper, beyond = 1 + 0j, 0j, 0.0, admittance(1 + 0j)
    for eta, thickness_m in (*reversed(stack), (1 + 0j, 0.0)):
        here = admittance(eta)
        ratio, beyond = beyond / here, here
        delta = 1j * wave_number_per_m * thickness_m * across(eta)
        forward, backward = (
            cmath.exp(1j * delta.imag) / 2 * (forward * (1 + ratio) + backward * (1 - ratio)),
            cmath.exp(-delta - delta.real) / 2 * (forward * (1 - ratio) + backward * (1 + ratio)),
        )
        growth_neper += delta.real
    loss_db = DB_PER_NEPER * (math.log(abs(forward)) + growth_neper)
    return Passage(loss_db, abs(backward / forward) ** 2)


def construction_loss_db(
    construction: Construction, frequency_mhz: float, cos_incidence: float
) -> float:
    """Loss of one crossing, the two polarisations averaged in power, at most ``MOST_DB``.

    Indoors the antennas hang every way, so neither polarisation is preferred. The cosine is rounded
    to 1/1000 and taken as at least that (89.9 degrees).

    Parameters
    ----------
    construction : Construction
        Layers, or one loss that holds at any angle. [-]
    frequency_mhz : float
        Frequency. [MHz]
    cos_incidence : float
        Cosine of the angle between path and normal, 0 to 1. [-]
    """
    if construction.loss_db is not None:
        return construction.loss_db
    steps = max(1, round(cos_incidence * COS_STEPS))
    return _layers_loss_db(construction.layers, frequency_mhz, steps)


def block_loss_db(material: str, chord_mm: int, frequency_mhz: float) -> float:
    """Loss of a solid block met head-on, at most ``MOST_DB``.

    Parameters
    ----------
    material : str
        What it is made of. [-]
    chord_mm : int
        Length of the path inside it, rounded, so that losses can be kept. [mm]
    frequency_mhz : float
        Frequency. [MHz]
    """
    return _layers_loss_db(((material, chord_mm / 1000),), frequency_mhz, COS_STEPS)


@lru_cache(maxsize=65_536)
def _layers_loss_db(
    layers: tuple[tuple[str, float], ...], frequency_mhz: float, cos_steps: int
) -> float:
    stack = tuple(
        (permittivity(MATERIALS[material], frequency_mhz), thickness_m)
        for material, thickness_m in layers
    )
    te = passage(stack, frequency_mhz, cos_steps / COS_STEPS, "TE").loss_db
    tm = passage(stack, frequency_mhz, cos_steps / COS_STEPS, "TM").loss_db
    passed_share = (10 ** (-te / 10) + 10 ** (-tm / 10)) / 2
    return min(MOST_DB, -10 * math.log10(max(passed_share, 1e-30)))
