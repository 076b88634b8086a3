"""The building as drawn: levels, slabs, walls, doors, pillars and shafts, in metres."""

from dataclasses import dataclass

from resilience.assumptions.constructions import Construction

Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Level:
    """One storey: its floor, its clear height and the slab that it stands on.

    Parameters
    ----------
    id : str
        Name of the level. [-]
    floor_m : float
        Height of the finished floor above the site's zero. [m]
    height_m : float
        Floor to ceiling, above 0. [m]
    slab : str
        Construction of the slab below this level. [-]
    """

    id: str
    floor_m: float
    height_m: float
    slab: str

    def __post_init__(self) -> None:
        if not self.height_m > 0:
            raise ValueError(f"level {self.id}: height_m is {self.height_m:g}, not above 0")


@dataclass(frozen=True, slots=True)
class Wall:
    """A straight wall on one level, from floor to ceiling unless ``height_m`` is given.

    Parameters
    ----------
    id, level : str
        Name of the wall and its level. [-]
    x1_m, y1_m, x2_m, y2_m : float
        Its two ends on the plan. [m]
    construction : str
        What it is made of. [-]
    height_m : float or None
        Height above the floor; None reaches the ceiling. [m]
    """

    id: str
    level: str
    x1_m: float
    y1_m: float
    x2_m: float
    y2_m: float
    construction: str
    height_m: float | None = None


@dataclass(frozen=True, slots=True)
class Door:
    """A stretch of a wall that is made of something else, up to a height.

    Parameters
    ----------
    id, wall : str
        Name of the door and of the wall it sits in. [-]
    at_m : float
        Distance of its near edge from the wall's first end, along the wall. [m]
    width_m, height_m : float
        Size of the opening, above 0. [m]
    construction : str
        What its leaf is made of. [-]
    """

    id: str
    wall: str
    at_m: float
    width_m: float
    height_m: float
    construction: str


@dataclass(frozen=True, slots=True)
class Pillar:
    """An upright block through one or more levels; an upright box on the plan's axes.

    Parameters
    ----------
    id : str
        Name of the pillar. [-]
    lowest, highest : str
        First and last level it stands on. [-]
    x_m, y_m : float
        Its centre. [m]
    width_m, depth_m : float
        Extent along x and along y, above 0. [m]
    construction : str
        What a path through it has to cross. [-]
    """

    id: str
    lowest: str
    highest: str
    x_m: float
    y_m: float
    width_m: float
    depth_m: float
    construction: str


@dataclass(frozen=True, slots=True)
class Shaft:
    """A hole through the slabs between two levels, open or lined with walls.

    Parameters
    ----------
    id : str
        Name of the shaft. [-]
    lowest, highest : str
        First and last level it opens on; the slabs between them are missing inside. [-]
    outline : tuple of (float, float)
        Corners on the plan, in order, at least three. [m]
    lining : str or None
        Construction of the walls around it; None for an open shaft such as a stairwell. [-]
    """

    id: str
    lowest: str
    highest: str
    outline: Outline
    lining: str | None


@dataclass(frozen=True, slots=True)
class Building:
    """Everything drawn. Levels are in order from the lowest to the highest.

    Parameters
    ----------
    levels, walls, doors, pillars, shafts : tuple
        What stands there. [-]
    outline : tuple of (float, float)
        Corners of the building on the plan, or empty where nobody drew it. [m]
    constructions : tuple of (str, Construction)
        The site's own constructions and those of the catalogue that it uses, by name. [-]
    """

    levels: tuple[Level, ...]
    walls: tuple[Wall, ...] = ()
    doors: tuple[Door, ...] = ()
    pillars: tuple[Pillar, ...] = ()
    shafts: tuple[Shaft, ...] = ()
    outline: Outline = ()
    constructions: tuple[tuple[str, Construction], ...] = ()

    def level(self, id: str) -> Level:
        """Return the level of that name; KeyError if there is none."""
        for level in self.levels:
            if level.id == id:
                return level
        raise KeyError(id)

    def construction(self, name: str) -> Construction:
        """Return the construction of that name; KeyError if there is none."""
        return dict(self.constructions)[name]

    @property
    def is_drawn(self) -> bool:
        """Whether walls, pillars or shafts are drawn, so that links are predicted through them."""
        return bool(self.walls or self.pillars or self.shafts)
