"""What has been read of a drawing so far, and the shapes that several of its parts are made of."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from resilience.assumptions.constructions import CONSTRUCTIONS, Construction
from resilience.building.parts import PLACE, Part
from resilience.building.settings import Heights
from resilience.building.stated.sections import Given
from resilience.building.structure import Level, Outline, Wall
from resilience.building.text.documents import (
    Listing,
    Mapping,
    Node,
    described,
    is_nothing,
    listing,
    mapping,
    record,
)
from resilience.building.text.entries import Entry, Findings, Span, TableRow, Unique

if TYPE_CHECKING:
    from shapely.geometry import Polygon

TOUCH_M = 0.001  # drawings are rounded to millimetres
SHARED_M2 = 0.01  # outlines that share no more than this stand side by side


@dataclass(frozen=True, slots=True)
class Habits:
    """What section ``changes`` states.

    Parameters
    ----------
    kinds : dict
        Of each kind of thing that moves. [-]
    all_doors : bool
        Whether every door of a known leaf changes unless it says otherwise. [-]
    """

    kinds: dict[str, Given]
    all_doors: bool = False


@dataclass(slots=True)
class Plan:
    """What has been read so far, so that later parts can refer to it.

    Parameters
    ----------
    findings : Findings
        Where faults and notes go. [-]
    heights : Heights
        What to take where a level says nothing. [-]
    own : dict
        The site's own constructions by name. [-]
    habits : Habits
        What section ``changes`` states. [-]
    rejoin_h : float
        What changes faster than this is no event. [h]
    outline : tuple of (float, float)
        Corners of the building, empty where nobody drew it. [m]
    used : dict
        Constructions that something is made of, by name. [-]
    levels, walls : dict
        What there is, by id. [-]
    movers : Unique
        Ids of doors and obstacles, which never collide. [-]
    n_movers, n_assumed : int
        What changes, and how many of these took a default. [-]
    n_swung, n_leafless : int
        Doors that change because all do, and those in which nothing known moves. [-]
    """

    findings: Findings
    heights: Heights
    own: dict[str, Construction]
    habits: Habits
    rejoin_h: float
    outline: Outline = ()
    used: dict[str, Construction] = field(default_factory=dict)
    levels: dict[str, Level] = field(default_factory=dict)
    walls: dict[str, Wall] = field(default_factory=dict)
    movers: Unique = field(default_factory=Unique)
    n_movers: int = 0
    n_assumed: int = 0
    n_swung: int = 0
    n_leafless: int = 0

    def construction(self, row: TableRow, key: str, default: str = "") -> str | None:
        """Return the name of a construction that exists, and remember that it is used."""
        known = CONSTRUCTIONS | self.own
        name = row.word(key, known, "a construction", default)
        if name:
            self.used[name] = known[name]
        return name

    def level(self, row: TableRow, key: str) -> str | None:
        """Return the id of a level that exists."""
        return row.word(key, self.levels, "a level")

    def span(self, row: TableRow) -> tuple[str, str] | None:
        """Return the lowest and the highest level that something stands on."""
        if row.has("level"):
            for key in ("lowest", "highest"):
                if row.has(key):
                    row.fault(key, "expected either level, or lowest and highest")
            only = self.level(row, "level")
            return (only, only) if only else None
        lowest, highest = self.level(row, "lowest"), self.level(row, "highest")
        if lowest is None or highest is None:
            return None
        if self.levels[lowest].floor_m > self.levels[highest].floor_m:
            row.fault("highest", f"expected {lowest} or a level above it")
        return lowest, highest


def records(
    node: Node | None, part: Part, findings: Findings, seen: Unique | None = None
) -> Iterator[tuple[TableRow, Mapping]]:
    """Yield the mappings of a list as records with usable, unique ids.

    Parameters
    ----------
    node : Node or None
        The list. [-]
    part : Part
        What they are; their keys that hold lists are read elsewhere. [-]
    findings : Findings
        Where faults go. [-]
    seen : Unique or None
        Ids that are taken already; None where the list has ids of its own. [-]
    """
    taken = Unique() if seen is None else seen
    for item in listing(node, findings):
        found = mapping(item, findings)
        if found is None:
            continue
        row = record(found, part.single, findings, part.nested)
        name = row.name()
        if name and taken.admit(row, name):
            yield row, found


def outline_of(node: Node | None, findings: Findings, owner: TableRow | None = None) -> Outline:
    """Return the corners of a closed outline; none and a fault if it cannot be one.

    Parameters
    ----------
    node : Node or None
        The list of corners. [-]
    findings : Findings
        Where faults go. [-]
    owner : TableRow or None
        Who needs an outline; None where it may be left out. [-]
    """
    if node is None or is_nothing(node):
        if owner is not None:
            owner.fault("outline", "expected corners: [[x, y], [x, y], [x, y]]")
        return ()
    corners = corners_of(node, (PLACE, PLACE), "a corner [x, y] in metres", findings)
    if corners is None:
        return ()
    outline = tuple((x, y) for x, y in corners)
    return outline if _closes(outline, node, findings) else ()


def corners_of(
    node: Node | None, limits: tuple[Span, ...], noun: str, findings: Findings
) -> list[list[float]] | None:
    """Return a list of corners, each a short list of numbers; faults and None otherwise."""
    items = listing(node, findings)
    corners = [_numbers(item, limits, noun, findings) for item in items]
    found = [corner for corner in corners if corner is not None]
    return found if len(found) == len(items) else None


def _numbers(
    node: Node, limits: tuple[Span, ...], noun: str, findings: Findings
) -> list[float] | None:
    """Return the numbers of a short list of fixed length; a fault and None otherwise."""
    items = node.items if isinstance(node, Listing) else ()
    entries = [item for item in items if isinstance(item, Entry)]
    if len(entries) != len(limits) or len(items) != len(limits):
        findings.fault(node.mark, described(node), f"expected {noun}")
        return None
    found = [entry.number(limit, findings) for entry, limit in zip(entries, limits, strict=True)]
    values = [value for value in found if value is not None]
    return values if len(values) == len(limits) else None


def _closes(outline: Outline, node: Node, findings: Findings) -> bool:
    """Whether corners make an outline; a fault if they do not."""
    shape = polygon(outline) if len(outline) >= 3 else None
    if shape is not None and shape.is_valid and shape.area >= TOUCH_M:
        return True
    is_small = shape is not None and shape.is_valid and shape.area > 0
    wanted = (
        f"expected an outline of at least {10_000 * TOUCH_M:g} square centimetres"
        if is_small
        else "expected at least three corners in order, whose sides do not cross"
    )
    findings.fault(node.mark, described(node), wanted)
    return False


def polygon(outline: Outline) -> "Polygon":
    """Return an outline as shapely knows it."""
    from shapely.geometry import Polygon

    return Polygon(outline)


def share_ground(a: Outline, b: Outline) -> bool:
    """Whether two outlines overlap; one that nobody drew reaches everywhere."""
    if not a or not b:
        return True
    one, other = polygon(a), polygon(b)
    least_m2 = min(SHARED_M2, one.area / 2, other.area / 2)  # something small can share no more
    return bool(one.intersection(other).area > least_m2)


def length_m(wall: Wall) -> float:
    """Length of a wall on the plan."""
    return math.hypot(wall.x2_m - wall.x1_m, wall.y2_m - wall.y1_m)
