"""What one wall or slab takes from a radio wave, by its materials and the angle of incidence."""

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from resilience.assumptions.constructions import MATERIALS, Construction, Material

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
DB_PER_NEPER = 20 / math.log(10)

COS_STEPS = 1000  # the cosine of the incidence is rounded to 1/1000, so that losses can be kept
MOST_DB = 200.0  # beyond it nothing is heard at any power: metal and grazing incidence end here

Floats = NDArray[np.float64]
Layers = tuple[tuple[str, float], ...]
Stack = tuple[tuple[complex, float], ...]
Polarisation = Literal["TE", "TM"]
PassedShare = Callable[[Stack, float, Floats, Polarisation], Floats]


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
    """Loss and reflection of a stack of flat layers of exact thickness, with air on both sides.

    Its ripples over thickness are real. Panes are known to 0.2 mm, so this is what glazing costs.
    Nobody knows any other wall to the millimetre: what those cost comes from
    ``mean_passed_share``, to which this is the reference.

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


def mean_passed_share(
    stack: Stack, frequency_mhz: float, cos_incidence: Floats, polarisation: Polarisation
) -> Floats:
    """Share of the power that passes a stack of layers whose thicknesses nobody knows to the mm.

    Every thickness is averaged over one period of the standing wave inside its layer, so that no
    ripple decides whether a wall is a good one: powers bounce between the faces, not fields. More
    of one material never passes more. A sheet of a millimetre or two is charged for its two faces
    nevertheless.

    Parameters
    ----------
    stack : tuple of (complex, float)
        Relative permittivity and thickness of each layer, in order. [m]
    frequency_mhz : float
        Frequency. [MHz]
    cos_incidence : Floats
        Cosines of the angle between path and normal, above 0 and at most 1. [-]
    polarisation : {"TE", "TM"}
        Electric field across the plane of incidence, or in it. [-]
    """
    wave_number_per_m = 2e6 * math.pi * frequency_mhz / SPEED_OF_LIGHT_M_PER_S
    sin_squared = 1 - cos_incidence**2
    # MODELS.md, "layers without ripple": from the far side back to the near one.
    passed, thrown_back = np.ones_like(cos_incidence), np.zeros_like(cos_incidence)
    far = (1 + 0j, 0.0)
    for near in (*reversed(stack), (1 + 0j, 0.0)):
        across = [np.sqrt(eta - sin_squared + 0j) for eta, _ in (near, far)]
        admittance = across
        if polarisation == "TM":
            admittance = [across[0] / near[0], across[1] / far[0]]
        face = abs((admittance[0] - admittance[1]) / (admittance[0] + admittance[1])) ** 2
        faded = np.exp(2 * wave_number_per_m * far[1] * across[1].imag)
        entering = (1 - face) / (1 - face * thrown_back * faded**2)
        passed = entering * faded * passed
        thrown_back = face + (1 - face) * entering * thrown_back * faded**2
        far = near
    return passed


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
    losses_db = _losses_by_step_db(construction, frequency_mhz)
    return float(losses_db[round(cos_incidence * COS_STEPS)])


def construction_losses_db(
    construction: Construction, frequency_mhz: float, cos_incidence: Floats
) -> Floats:
    """Losses of many crossings of one construction, each as ``construction_loss_db`` has it.

    Parameters
    ----------
    construction : Construction
        Layers, or one loss that holds at any angle. [-]
    frequency_mhz : float
        Frequency. [MHz]
    cos_incidence : Floats
        Cosines of the angles between path and normal, 0 to 1. [-]
    """
    if construction.loss_db is not None:
        return np.full(cos_incidence.shape, construction.loss_db)
    losses_db = _losses_by_step_db(construction, frequency_mhz)
    return losses_db[np.rint(cos_incidence * COS_STEPS).astype(np.intp)]


@lru_cache(maxsize=65_536)
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
    stack = _stack(((material, chord_mm / 1000),), frequency_mhz)
    return float(_losses_db(mean_passed_share, stack, frequency_mhz, np.ones(1))[0])


@lru_cache(maxsize=4096)
def _losses_by_step_db(construction: Construction, frequency_mhz: float) -> Floats:
    stack = _stack(construction.layers, frequency_mhz)
    passed_share = _exact_passed_share if construction.is_glazing else mean_passed_share
    cosines = np.maximum(np.arange(COS_STEPS + 1), 1) / COS_STEPS
    losses_db = _losses_db(passed_share, stack, frequency_mhz, cosines)
    losses_db.setflags(write=False)  # shared by all who ask
    return losses_db


def _stack(layers: Layers, frequency_mhz: float) -> Stack:
    return tuple(
        (permittivity(MATERIALS[material], frequency_mhz), thickness_m)
        for material, thickness_m in layers
    )


def _exact_passed_share(
    stack: Stack, frequency_mhz: float, cos_incidence: Floats, polarisation: Polarisation
) -> Floats:
    losses_db = [passage(stack, frequency_mhz, cos, polarisation).loss_db for cos in cos_incidence]
    return np.asarray(10 ** (-np.array(losses_db) / 10))


def _losses_db(
    passed_share: PassedShare, stack: Stack, frequency_mhz: float, cos_incidence: Floats
) -> Floats:
    te = passed_share(stack, frequency_mhz, cos_incidence, "TE")
    tm = passed_share(stack, frequency_mhz, cos_incidence, "TM")
    least_share = 10 ** (-MOST_DB / 10)
    return np.asarray(-10 * np.log10(np.clip((te + tm) / 2, least_share, 1.0)))


@dataclass(frozen=True, slots=True)
class PriceList:
    """What one construction takes, by the angle at which a path meets it, or by its way inside.

    Parameters
    ----------
    construction : Construction
        Made of layers. [-]
    is_solid : bool
        Whether it is a block of its first material, as thick as the path inside it. [-]
    offset_db : float
        What measurements say that it takes beside that. [dB]
    frequency_mhz : float
        Frequency. [MHz]
    """

    construction: Construction
    is_solid: bool
    offset_db: float
    frequency_mhz: float

    def losses_db(self, measure: Floats) -> Floats:
        """Losses of many crossings, never below 0.

        Parameters
        ----------
        measure : Floats
            Cosine of each incidence, or way inside. [-, m]
        """
        if not self.is_solid:
            found_db = construction_losses_db(self.construction, self.frequency_mhz, measure)
        else:
            chords_mm = np.maximum(np.rint(1000 * measure).astype(np.int64), 1)
            known_mm, place = np.unique(chords_mm, return_inverse=True)
            material = self.construction.layers[0][0]
            known_db = [block_loss_db(material, mm, self.frequency_mhz) for mm in known_mm.tolist()]
            found_db = np.array(known_db)[place]
        return np.maximum(found_db + self.offset_db, 0.0)
