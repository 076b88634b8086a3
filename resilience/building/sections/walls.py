"""Walls, and the doors and windows in them."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from resilience.assumptions.changes import DOORS as LEAVES
from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.parts import DOORS, ENDS, WALLS, WINDOWS, Part
from resilience.building.sections.changes import door_change, is_swung
from resilience.building.sections.plan import TOUCH_M, Plan, length_m, records
from resilience.building.structure import Change, Door, Wall, Window
from resilience.building.text.documents import Node
from resilience.building.text.entries import TableRow, Unique

USUAL_LEAF = "fire_door"  # of the leaves that stand open by day, the middle one


@dataclass(frozen=True, slots=True)
class _Hole:
    """A door or a window as a rectangle in its wall.

    Parameters
    ----------
    what : str
        ``door`` or ``window``, and its id. [-]
    row : TableRow
        Where it stands in the file. [-]
    left_m, foot_m : float
        Its nearest edges, from the wall's first end and from the floor. [m]
    width_m, height_m : float
        Its size, as stated. [m]
    """

    what: str
    row: TableRow
    left_m: float
    foot_m: float
    width_m: float
    height_m: float

    @property
    def right_m(self) -> float:
        """Its farther edge, from the wall's first end."""
        return self.left_m + self.width_m

    @property
    def top_m(self) -> float:
        """Its upper edge, from the floor."""
        return self.foot_m + self.height_m

    def overlaps(self, other: "_Hole") -> bool:
        """Whether two holes of one wall share more than an edge."""
        beside = min(self.right_m, other.right_m) - max(self.left_m, other.left_m)
        above = min(self.top_m, other.top_m) - max(self.foot_m, other.foot_m)
        return beside > TOUCH_M and above > TOUCH_M


Holes = dict[str, list[_Hole]]  # by id of the wall


def read_walls(rows: list[TableRow], plan: Plan) -> None:
    """Fill in the walls of the plan from the rows of ``walls.csv``."""
    seen = Unique()
    for row in rows:
        name = row.name()
        is_new = name is not None and seen.admit(row, name)
        level = plan.level(row, "level")
        ends_m = [row.number(key.name, WALLS.limits(key.name)) for key in ENDS]
        construction = plan.construction(row, "construction")
        height_m = row.number("height_m", WALLS.limits("height_m")) if row.has("height_m") else None
        x1_m, y1_m, x2_m, y2_m = (end_m or 0.0 for end_m in ends_m)
        wall = Wall(name or "", level or "", x1_m, y1_m, x2_m, y2_m, construction or "", height_m)
        if None not in ends_m and length_m(wall) < TOUCH_M:
            row.fault("x2_m", "expected a wall whose two ends differ")
        if is_new:  # a faulty wall still counts as drawn, so that its doors find it
            plan.walls[wall.id] = wall


def read_holes(
    doors: Node | None, windows: Node | None, plan: Plan
) -> tuple[tuple[Door, ...], tuple[Window, ...]]:
    """Return doors and windows in order of id, those that overlap told.

    Parameters
    ----------
    doors, windows : Node or None
        What stands under these keys. [-]
    plan : Plan
        Its walls are known. [-]
    """
    holes: Holes = defaultdict(list)
    seen = plan.movers
    door_rows = [row for row, _ in records(doors, DOORS, plan.findings, seen)]
    window_rows = [row for row, _ in records(windows, WINDOWS, plan.findings)]
    found_doors = [_door(row, plan, holes) for row in door_rows]
    found_windows = [_window(row, plan, holes) for row in window_rows]
    for wall in holes:
        _check_apart(wall, holes[wall])
    return (
        tuple(sorted(filter(None, found_doors), key=lambda door: door.id)),
        tuple(sorted(filter(None, found_windows), key=lambda window: window.id)),
    )


def _door(row: TableRow, plan: Plan, holes: Holes) -> Door | None:
    stated = row.entries["construction"].text if row.has("construction") else ""
    usual = stated if stated in LEAVES else USUAL_LEAF
    kind = row.word("kind", LEAVES, "a kind of door", usual) or usual
    swung = is_swung(row, kind if row.has("kind") or stated in LEAVES else "", plan)
    change = door_change(row, kind, plan, swung)
    if row.has("kind") and change is None:
        row.fault("kind", "expected changes: on with it; construction says what a door is made of")
    construction = plan.construction(row, "construction", "open" if change else "")
    if change and not change.per_year:
        change = None  # its kind, or the door itself, says never
    if swung and change and construction in LEAVES:
        construction = "open"
        plan.used["open"] = CONSTRUCTIONS["open"]
    hole = _hole(DOORS, row, plan, holes)
    if hole is None or not construction:
        return None
    _tell_if_shut(row, construction, change, plan)
    name, wall = row.entries["id"].text, row.entries["wall"].text
    return Door(name, wall, hole.left_m, hole.width_m, hole.height_m, construction, change)


def _tell_if_shut(row: TableRow, construction: str, change: Change | None, plan: Plan) -> None:
    """Tell of a leaf that is drawn shut and shuts once more when it changes."""
    if change and construction in LEAVES and not row.has("adds_db"):
        plan.findings.note(
            f"{row.place('construction')}: door {row.entries['id'].text} is drawn shut "
            f"({construction}) and takes another {change.adds_db:g} dB while it is changed; if it "
            f"stands open as drawn, say construction: open and kind: {construction}."
        )


def _window(row: TableRow, plan: Plan, holes: Holes) -> Window | None:
    construction = plan.construction(row, "construction", "unknown_glass")
    hole = _hole(WINDOWS, row, plan, holes)
    if hole is None or not construction:
        return None
    name, wall = row.entries["id"].text, row.entries["wall"].text
    place = hole.left_m, hole.foot_m, hole.width_m, hole.height_m
    return Window(name, wall, *place, construction)


def _hole(part: Part, row: TableRow, plan: Plan, holes: Holes) -> _Hole | None:
    """Return the rectangle of a door or a window within its wall; faults and None otherwise."""
    name = row.word("wall", plan.walls, "a wall of walls.csv")
    kind = part.name.removesuffix("s")
    sizes = ("at_m", "width_m", "height_m")
    at_m, width_m, height_m = (row.number(key, part.limits(key)) for key in sizes)
    sill_m = row.number("sill_m", part.limits("sill_m")) if part is WINDOWS else 0.0
    if not name or at_m is None or width_m is None or height_m is None or sill_m is None:
        return None
    what = f"{kind} {row.entries['id'].text}"
    hole = _Hole(what, row, at_m, sill_m, width_m, height_m)
    wall = plan.walls[name]
    if length_m(wall) > TOUCH_M and hole.right_m > length_m(wall) + TOUCH_M:
        row.fault(
            "at_m", f"expected a {kind} within its wall, which is {length_m(wall):.3g} m long"
        )
    level = plan.levels.get(wall.level)
    if level:
        most_m = level.height_m if wall.height_m is None else min(wall.height_m, level.height_m)
        if hole.top_m > most_m + TOUCH_M:
            row.fault("height_m", f"expected a {kind} within its wall, which is {most_m:g} m high")
    holes[name].append(hole)
    return hole


def _check_apart(wall: str, holes: Iterable[_Hole]) -> None:
    """Record each door or window that stands in another one of its wall."""
    near: list[_Hole] = []
    for hole in sorted(holes, key=lambda hole: (hole.left_m, hole.what)):
        near = [other for other in near if other.right_m > hole.left_m + TOUCH_M]
        other = next((one for one in near if one.overlaps(hole)), None)
        if other:
            taken = f"{other.left_m:g} to {other.right_m:g} m of wall {wall}"
            hole.row.fault("at_m", f"expected a place of its own: {other.what} takes {taken}")
        near.append(hole)
