"""A second opinion on a whole path: the multi-wall model of COST 231, which counts and no more."""

from collections.abc import Iterable
from typing import Protocol

from resilience.assumptions.constructions import Construction
from resilience.building.structure import Building
from resilience.connectivity.losses.distance import free_space_loss_db

# COST 231 Final Report (1999), section 4.7.2, fitted at 1800 MHz; the two walls from memory.
LIGHT_WALL_DB = 3.4  # plasterboard, or with large openings, thinner than 10 cm
HEAVY_WALL_DB = 6.9  # load-bearing, concrete or brick, thicker than 10 cm
FLOOR_DB = 18.3  # 30 cm of reinforced concrete with tiles
FLOORS_BEND = 0.46

HEAVY_FROM_M = 0.10
HEAVY = ("concrete", "brick")
FLOORS = ("slab", "plate")  # how a hindrance that is a floor begins to say what it is


class InTheWay(Protocol):
    """What is asked of one thing that a path meets: what it is, made of what, and its loss."""

    @property
    def what(self) -> str:
        """In plain words, a floor beginning with one of ``FLOORS``."""

    @property
    def construction(self) -> str:
        """Name of what it is made of."""

    @property
    def loss_db(self) -> float:
        """What it takes by the first opinion."""


def multi_wall_loss_db(
    distance_m: float, frequency_mhz: float, *, n_light: int, n_heavy: int, n_floors: int
) -> float:
    """Loss of a path by the multi-wall model of COST 231, whatever the angles.

    Its losses were fitted at 1800 MHz and are used at any frequency as they are: a second opinion
    at 2.4 GHz, not a better one. Walls add up; each further floor costs less than the one before.

    Parameters
    ----------
    distance_m : float
        Length of the path. [m]
    frequency_mhz : float
        Frequency of the free-space part. [MHz]
    n_light, n_heavy, n_floors : int
        Light walls, heavy walls and floors that the straight path crosses. [-]
    """
    # MODELS.md, "multi-wall": the exponent is ((n + 2) / (n + 1)) - b, the bracket closed before b.
    walls_db = n_light * LIGHT_WALL_DB + n_heavy * HEAVY_WALL_DB
    floors_db = 0.0
    if n_floors > 0:
        floors_db = FLOOR_DB * n_floors ** ((n_floors + 2) / (n_floors + 1) - FLOORS_BEND)
    return free_space_loss_db(distance_m, frequency_mhz) + walls_db + floors_db


def is_heavy(construction: Construction) -> bool:
    """Whether the multi-wall model would call it a heavy wall.

    Parameters
    ----------
    construction : Construction
        Heavy with more than 10 cm of concrete or brick; one that states its loss, by what lies
        nearer. [-]
    """
    if construction.loss_db is not None:
        return construction.loss_db > (LIGHT_WALL_DB + HEAVY_WALL_DB) / 2
    return sum(thick_m for name, thick_m in construction.layers if name in HEAVY) > HEAVY_FROM_M


def second_opinion_db(
    in_the_way: Iterable[InTheWay], distance_m: float, frequency_mhz: float, building: Building
) -> float:
    """Loss of a path by the multi-wall model, from what the straight line meets.

    The model knows no metal and no glazing: a steel door is a heavy wall to it. What states a loss
    below half that of a light wall is not counted at all.

    Parameters
    ----------
    in_the_way : iterable of InTheWay
        Hindrances of the path; everything but a floor counts as a wall. [-]
    distance_m : float
        Length of the path. [m]
    frequency_mhz : float
        Frequency. [MHz]
    building : Building
        Where the constructions are looked up; one it does not know is taken by its loss. [-]
    """
    known = dict(building.constructions)
    n_light = n_heavy = n_floors = 0
    for thing in in_the_way:
        built = known.get(thing.construction) or Construction(loss_db=thing.loss_db)
        if built.loss_db is not None and built.loss_db < LIGHT_WALL_DB / 2:
            continue
        if thing.what.startswith(FLOORS):
            n_floors += 1
        elif is_heavy(built):
            n_heavy += 1
        else:
            n_light += 1
    return multi_wall_loss_db(
        distance_m, frequency_mhz, n_light=n_light, n_heavy=n_heavy, n_floors=n_floors
    )
