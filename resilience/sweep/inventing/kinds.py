"""Kinds of buildings, and what they are made of by their age; all common practice."""

from dataclasses import dataclass

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of building.

    Parameters
    ----------
    name : str
        As the site is called by it. [-]
    length_m, width_m : Range
        Of the plan. [m]
    n_levels : tuple of (int, int)
        At least and at most. [-]
    level_height_m : float
        From floor to ceiling. [m]
    room_m : float
        Between cross walls on both sides of a corridor; 0: an open hall. [m]
    sensor_per_m2 : float
        How densely sensors hang. [1/m2]
    environment : str
        How crowded its radio band is. [-]
    """

    name: str
    length_m: Range
    width_m: Range
    n_levels: tuple[int, int]
    level_height_m: float
    room_m: float
    sensor_per_m2: float
    environment: str


@dataclass(frozen=True, slots=True)
class Age:
    """What buildings of an age are made of.

    Parameters
    ----------
    name : str
        For the words of a site. [-]
    spine, cross, slab : str
        Constructions of walls along a corridor, of walls across, of slabs. [-]
    """

    name: str
    spine: str
    cross: str
    slab: str


KINDS = (
    Kind("School", (30, 55), (14, 18), (2, 3), 3.2, 9.0, 0.008, "busy"),
    Kind("Offices", (24, 50), (13, 18), (2, 4), 2.8, 6.0, 0.008, "busy"),
    Kind("Warehouse", (40, 80), (25, 40), (1, 1), 8.0, 0.0, 0.006, "quiet"),
    Kind("Archive", (20, 40), (12, 20), (2, 3), 3.0, 8.0, 0.01, "quiet"),
    Kind("Infirmary", (35, 60), (15, 20), (2, 3), 3.0, 7.0, 0.007, "busy"),
    Kind("Dwellings", (25, 45), (11, 14), (3, 4), 2.6, 8.0, 0.008, "busy"),
    Kind("Glasshouse", (40, 70), (20, 30), (1, 1), 5.0, 0.0, 0.007, "quiet"),
)
AGES = (
    Age("old, of brick", "brick_250", "brick_120", "concrete_150"),
    Age("of concrete and brick", "brick_120", "brick_120", "concrete_200"),
    Age("of concrete", "concrete_150", "hollow_block_200", "concrete_300"),
    Age("new, with light partitions", "stud_wall", "stud_wall", "concrete_200"),
)
