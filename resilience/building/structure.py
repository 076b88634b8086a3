"""The building as drawn, in metres: levels and slabs, walls, and what stands in the rooms."""

from dataclasses import dataclass

from resilience.assumptions.constructions import Construction
from resilience.building.settings import Duration
from resilience.building.timetable import ANY_TIME, Timetable

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
    outline : tuple of (float, float)
        Corners of the level, and so of its slab, on the plan; empty takes the building's. [m]
    """

    id: str
    floor_m: float
    height_m: float
    slab: str
    outline: Outline = ()

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
class Change:
    """How something that stands in the way changes: what it adds, how often and how long.

    Parameters
    ----------
    adds_db : float
        Loss added to every path through it while it is changed, above 0. [dB]
    per_year : float
        Changes per year of standing as drawn. [1/year]
    lasts : Duration
        How long a change lasts. [-]
    when : Timetable
        In which hours, days and months it comes; it may last beyond them. [-]
    is_fixed : bool
        Whether it is changed in just these, of which rate and duration then tell. [-]
    """

    adds_db: float
    per_year: float
    lasts: Duration
    when: Timetable = ANY_TIME
    is_fixed: bool = False


@dataclass(frozen=True, slots=True)
class Door:
    """A stretch of a wall that is made of something else, from the floor up to a height.

    Parameters
    ----------
    id, wall : str
        Name of the door and of the wall it sits in. [-]
    at_m : float
        Distance of its near edge from the wall's first end, along the wall. [m]
    width_m, height_m : float
        Size of the opening, above 0. [m]
    construction : str
        What fills it as drawn. [-]
    change : Change or None
        What a leaf or a shutter adds while it is shut; None where it never moves. [-]
    """

    id: str
    wall: str
    at_m: float
    width_m: float
    height_m: float
    construction: str
    change: Change | None = None


@dataclass(frozen=True, slots=True)
class Window:
    """A glazed stretch of a wall, from its sill up.

    Parameters
    ----------
    id, wall : str
        Name of the window and of the wall it sits in. [-]
    at_m : float
        Distance of its near edge from the wall's first end, along the wall. [m]
    sill_m : float
        Height of its lower edge above the floor. [m]
    width_m, height_m : float
        Size of the opening, above 0. [m]
    construction : str
        What it is glazed with. [-]
    """

    id: str
    wall: str
    at_m: float
    sill_m: float
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
class Opening:
    """A part of one slab that is missing, or made of something else.

    Parameters
    ----------
    id, level : str
        Its name, and the level whose slab it is in. [-]
    outline : tuple of (float, float)
        Corners on the plan, in order, at least three. [m]
    construction : str or None
        What fills it, such as a roof light; None where nothing does. [-]
    """

    id: str
    level: str
    outline: Outline
    construction: str | None = None


@dataclass(frozen=True, slots=True)
class Plate:
    """A flat sheet inside a level, at any slope: a ramp, a gallery, a pitched roof.

    Parameters
    ----------
    id, level : str
        Its name and the level from whose floor its corners are counted. [-]
    corners : tuple of (float, float, float)
        At least three, in order, in one plane that is not upright: x, y and height. [m]
    construction : str
        What it is made of. [-]
    """

    id: str
    level: str
    corners: tuple[tuple[float, float, float], ...]
    construction: str


@dataclass(frozen=True, slots=True)
class Obstacle:
    """An upright box that comes and goes, or fills and empties: a lift car, a vehicle, racking.

    Parameters
    ----------
    id, kind : str
        Its name, and what it is in plain words. [-]
    level : str
        The level it stands on. [-]
    x_m, y_m : float
        Its centre. [m]
    width_m, depth_m : float
        Extent along x and along y, above 0. [m]
    foot_m, height_m : float
        Height of its foot above the floor, and from there to its top, above 0. [m]
    loss_db : float
        What it takes from every path through it while it stands as drawn; often 0. [dB]
    change : Change
        What it adds, how often and how long. [-]
    """

    id: str
    kind: str
    level: str
    x_m: float
    y_m: float
    width_m: float
    depth_m: float
    foot_m: float
    height_m: float
    loss_db: float
    change: Change


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of a level whose devices share what happens there, with rates of its own.

    Parameters
    ----------
    id : str
        Name of the zone, as in column ``zone``; a level's id is its rest. [-]
    level : str
        Its level; empty where nobody drew it and devices name it. [-]
    outline : tuple of (float, float)
        Corners on the plan; empty where nobody drew it. [m]
    works_per_year, water_per_year, interference_per_year : float or None
        Rates in the place of those of ``hazards``; None is as these have it. [1/year]
    heat_per_year, changes_per_year, removed_per_year : float or None
        The same; the last one of what people reach. [1/year]
    """

    id: str
    level: str = ""
    outline: Outline = ()
    works_per_year: float | None = None
    water_per_year: float | None = None
    interference_per_year: float | None = None
    heat_per_year: float | None = None
    changes_per_year: float | None = None
    removed_per_year: float | None = None


@dataclass(frozen=True, slots=True)
class Building:
    """Everything drawn. Levels are in order of their floors, from the lowest to the highest.

    Parameters
    ----------
    levels, walls, doors, windows, pillars, shafts, openings, plates, obstacles, zones : tuple
        What is there, each in order of id but the levels. [-]
    outline : tuple of (float, float)
        Corners of the building on the plan, or empty where nobody drew it. [m]
    constructions : tuple of (str, Construction)
        The site's own constructions and those of the catalogue that it uses, by name. [-]
    """

    levels: tuple[Level, ...]
    walls: tuple[Wall, ...] = ()
    doors: tuple[Door, ...] = ()
    windows: tuple[Window, ...] = ()
    pillars: tuple[Pillar, ...] = ()
    shafts: tuple[Shaft, ...] = ()
    openings: tuple[Opening, ...] = ()
    plates: tuple[Plate, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    zones: tuple[Zone, ...] = ()
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
    def changing(self) -> dict[str, Change]:
        """What moves or comes and goes, by id: doors and obstacles, whose ids never collide."""
        found = {door.id: door.change for door in self.doors if door.change is not None}
        return found | {obstacle.id: obstacle.change for obstacle in self.obstacles}

    @property
    def is_drawn(self) -> bool:
        """Whether anything fixed is drawn, so that links are predicted through what is drawn."""
        return bool(self.walls or self.pillars or self.shafts or self.openings or self.plates)
