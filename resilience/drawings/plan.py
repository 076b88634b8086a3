"""What is known of a drawing: what the user states, its unit and size, names in it."""

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from types import ModuleType

from resilience.assumptions.catalogue import default
from resilience.building.structure import Outline
from resilience.building.text.entries import MOST_ID, id_problem, shown
from resilience.errors import UsageError

UNITS_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
SMALLEST_M, LARGEST_M = 3.0, 1000.0  # the longer side of a building nobody asks about
LEAST_M, MOST_M = 1.0, 10_000.0  # what is refused even where the unit is stated
MOST_BYTES = 100_000_000
MOST_ENTITIES = 200_000
FORMULA = "=+-@"  # what a spreadsheet takes for the start of a formula

# What a damaged file can make a library that reads it raise, beside its own errors.
DAMAGE = (ValueError, LookupError, ArithmeticError, AttributeError, TypeError, AssertionError)

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stated:
    """What the user says about a drawing.

    Parameters
    ----------
    level : str
        Level that a drawing of one level shows. [-]
    unit : str
        Unit of the drawing's numbers, a key of ``UNITS_M``; empty takes the drawing's word. [-]
    origin : (float, float)
        Point of the drawing that becomes the site's zero. [origin_unit]
    origin_unit : str
        Its unit, a key of ``UNITS_M``; empty for that of the drawing's numbers. [-]
    floor_m, height_m : float or None
        Floor of the lowest level drawn, and floor to ceiling where the drawing does not say. [m]
    table : Path or None
        What layers or materials become; None guesses from their names. [-]
    below, replace : bool
        Whether the levels go below those that are there, and whether they take the place of those
        of the same name. [-]
    """

    level: str = "ground"
    unit: str = ""
    origin: Point = (0.0, 0.0)
    origin_unit: str = ""
    floor_m: float | None = None
    height_m: float | None = None
    table: Path | None = None
    below: bool = False
    replace: bool = False

    def __post_init__(self) -> None:
        problem = id_problem(self.level)
        if problem:
            raise UsageError(f"level {shown(self.level)!r} cannot be the name of one: {problem}")
        for unit in (self.unit, self.origin_unit):
            if unit not in ("", *UNITS_M):
                raise UsageError(f"unit {shown(unit)!r} is none of {', '.join(UNITS_M)}")
        if not all(math.isfinite(value) for value in self.origin):
            raise UsageError("the origin is two numbers, in the drawing's unit or with their own")
        if self.below and self.floor_m is not None:
            raise UsageError("--below finds the floor by itself, so leave --floor-m out")
        if self.floor_m is not None and not abs(self.floor_m) <= MOST_M:
            raise UsageError(f"a floor is at most {MOST_M:g} m above or below the site's zero")
        if self.height_m is not None and not 0 < self.height_m <= MOST_M:
            raise UsageError(f"the height of a level is above 0 and at most {MOST_M:g} m")


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line of a drawing, and what it stands for.

    Parameters
    ----------
    points : tuple of (float, float)
        Its corners, at least two. [m]
    closed : bool
        Whether the last is joined to the first. [-]
    level : str
        Level it is on. [-]
    becomes : str
        A word of ``layers.WORDS``, or the construction of a wall. [-]
    construction : str
        What doors, windows, pillars and linings are made of; empty for nothing. [-]
    id : str
        What the drawing calls it; empty for nothing. [-]
    height_m : float or None
        Height of a wall above the floor; None reaches the ceiling. [m]
    symbol : int
        Number of the symbol that it is part of; 0 for none. [-]
    centre : (float, float) or None
        What an arc turns about, as a door about its hinge. [m]
    source : str
        Layer that it is drawn on; empty where there are none. [-]
    """

    points: tuple[Point, ...]
    closed: bool
    level: str
    becomes: str
    construction: str = ""
    id: str = ""
    height_m: float | None = None
    symbol: int = 0
    centre: Point | None = None
    source: str = ""


class Ids:
    """Ids given so far, unique without regard to case, made from whatever a drawing holds."""

    def __init__(self, taken: Iterable[str] = ()) -> None:
        self._taken = {name.casefold() for name in taken}
        self._next: dict[str, int] = {}

    def claim(self, wished: str, otherwise: str) -> str:
        """Return a usable id that nothing else has, as near to the wished one as can be.

        Parameters
        ----------
        wished : str
            What the drawing calls it; may be hostile or empty. [-]
        otherwise : str
            Usable name to count from where nothing usable is wished. [-]
        """
        name = safe_id(wished)
        if name and name.casefold() not in self._taken:
            self._taken.add(name.casefold())
            return name
        stem = name[: MOST_ID - 8] or otherwise
        while True:
            number = self._next[stem] = self._next.get(stem, 0 if not name else 1) + 1
            counted = f"{stem}-{number:03d}" if not name else f"{stem}-{number}"
            if counted.casefold() not in self._taken:
                self._taken.add(counted.casefold())
                return counted


def usual_m(name: str) -> float:
    """Return a height of section ``building`` where nobody states it."""
    value = default(f"building.{name}")
    assert isinstance(value, float | int)
    return float(value)


def safe_id(text: str) -> str:
    """Return a text as an id: no path, formula or comment, nothing invisible; may be empty."""
    seen = "".join(one if one not in "~/\\" else "-" for one in text if one.isprintable())
    name = " ".join(seen.split()).lstrip(FORMULA + "'#")[:MOST_ID].strip()
    return "" if id_problem(name) else name


def file_stem(level: str) -> str:
    """Return the name of a level as part of a file name on any system."""
    kept = "".join(
        one if one.isascii() and (one.isalnum() or one in "-_") else "_" for one in level
    )
    return kept[:40]


def library(name: str, extra: str) -> ModuleType:
    """Return a library that only some drawings need; UsageError with the way to it if missing.

    Parameters
    ----------
    name : str
        What is imported. [-]
    extra : str
        Extra of this package that brings it. [-]
    """
    try:
        return import_module(name)
    except ModuleNotFoundError as error:
        raise UsageError(
            f"this needs {name.partition('.')[0]}, which is not installed: "
            f"pip install 'resilience[{extra}]'"
        ) from error


@contextmanager
def damage_told(file: str) -> Iterator[None]:
    """Turn what a damaged file makes a library raise into a UsageError.

    Parameters
    ----------
    file : str
        Name of the drawing. [-]
    """
    try:
        yield
    except DAMAGE as error:
        raise UsageError(
            f"{shown(file)} holds what cannot be read, so it is damaged: {shown(str(error))}"
        ) from error


def checked_file(path: Path) -> Path:
    """Return the path of a drawing; UsageError if there is no such file, or it is empty or huge."""
    try:
        if not path.is_file():
            raise UsageError(f"{shown(str(path))}: no such file")
        size = path.stat().st_size
    except OSError as error:
        raise UsageError(f"{shown(str(path))} cannot be read: {error.strerror}") from error
    if size > MOST_BYTES:
        raise UsageError(
            f"{shown(path.name)} has {size / 1e6:.0f} MB, and at most {MOST_BYTES / 1e6:.0f} MB "
            "are read: save the part with the walls by itself"
        )
    if size == 0:
        raise UsageError(f"{shown(path.name)} is empty")
    return path


def counted_off(n: int, file: str) -> None:
    """Raise UsageError if a drawing holds more than can be read."""
    if n > MOST_ENTITIES:
        raise UsageError(
            f"{shown(file)} holds more than {MOST_ENTITIES} things, blocks unfolded: save the "
            "layers with the walls by themselves"
        )


@dataclass(frozen=True, slots=True)
class Scale:
    """From the drawing's numbers to metres.

    Parameters
    ----------
    unit_m : float
        Length of the drawing's unit. [m]
    origin : (float, float)
        Point of the drawing that becomes zero. [drawing's unit]
    """

    unit_m: float
    origin: Point

    def metres(self, point: Sequence[float]) -> Point:
        """Return a point of the drawing in metres, to the nearest tenth of a millimetre."""
        x, y = ((point[axis] - self.origin[axis]) * self.unit_m for axis in (0, 1))
        return (round(x, 4) + 0.0, round(y, 4) + 0.0)


def scale_of(points: Iterable[Point], declared: str, stated: Stated, file: str) -> Scale:
    """Return the scale of a drawing; UsageError with the question if unit, size or place are odd.

    Parameters
    ----------
    points : iterable of (float, float)
        Everything that becomes part of the building. [drawing's unit]
    declared : str
        Unit that the drawing names, a key of ``UNITS_M``; empty if it names none. [-]
    stated : Stated
        What the user says. [-]
    file : str
        Name of the drawing. [-]
    """
    name = shown(file)
    drawn = list(points)
    if not drawn:
        raise UsageError(f"{name}: nothing in it became a part of a building")
    low, high = (tuple(of(side) for side in zip(*drawn, strict=True)) for of in (min, max))
    size = (high[0] - low[0], high[1] - low[1])
    unit = stated.unit or declared
    if not unit:
        raise UsageError(
            f"{name} does not say its unit, and is {plain(size[0])} by {plain(size[1])} units: "
            f"which is it? {_ways(size)}"
        )
    scale = Scale(UNITS_M[unit], _origin(stated, unit))
    longer_m = max(size) * scale.unit_m
    if not LEAST_M <= longer_m <= MOST_M:
        raise UsageError(f"{name} measures {_measured(size, unit)} in {unit}: {_ways(size)}")
    if not stated.unit and not SMALLEST_M < longer_m < LARGEST_M:
        raise UsageError(
            f"{name} says its unit is {unit}, so it measures {_measured(size, unit)}: is that so? "
            f"If it is, say --unit {unit}; if not: {_ways(size)}"
        )
    if any(abs(value) > MOST_M for corner in (low, high) for value in scale.metres(corner)):
        raise UsageError(
            f"{name} lies more than {MOST_M:g} m from its zero: say which of its points shall be "
            f"the site's zero, such as its lower left corner: "
            f"--origin {math.floor(low[0])}{unit},{math.floor(low[1])}{unit}"
        )
    return scale


def _origin(stated: Stated, unit: str) -> Point:
    """Return the point that becomes zero in the drawing's own unit."""
    factor = UNITS_M[stated.origin_unit or unit] / UNITS_M[unit]
    return (stated.origin[0] * factor, stated.origin[1] * factor)


def plain(number: float) -> str:
    """Return a number in four digits, never as a power of ten where it is large."""
    return f"{number:,.0f}" if abs(number) >= 1000 else f"{number:.4g}"


def _measured(size: Point, unit: str) -> str:
    return " by ".join(plain(side * UNITS_M[unit]) for side in size) + " m"


def _ways(size: Point) -> str:
    """Return the units that would make it a building, with what it would measure."""
    likely = [
        unit for unit, unit_m in UNITS_M.items() if SMALLEST_M < max(size) * unit_m < LARGEST_M
    ]
    if not likely:
        return f"in none of {', '.join(UNITS_M)} is it the size of a building; scale the drawing"
    return "; ".join(f"--unit {unit} makes it {_measured(size, unit)}" for unit in likely)


def sides(points: Sequence[Point], closed: bool) -> Iterator[tuple[Point, Point]]:
    """Yield the straight pieces of a line, those without length left out.

    Parameters
    ----------
    points : sequence of (float, float)
        Its corners. [m]
    closed : bool
        Whether the last is joined to the first. [-]
    """
    ends = [*points[1:], points[0]] if closed else points[1:]
    for start, end in zip(points, ends, strict=False):
        if math.dist(start, end) >= 0.001:
            yield start, end


def ring(points: Sequence[Point]) -> Outline:
    """Return corners as a valid outline in millimetres; empty if they cannot be one."""
    from shapely.geometry import Polygon

    if len(points) < 3:
        return ()
    polygon = Polygon([(round(x, 3), round(y, 3)) for x, y in points]).simplify(0.0005)
    if not polygon.is_valid or polygon.area < 0.01:
        return ()
    return tuple((x, y) for x, y in polygon.normalize().exterior.coords[:-1])
