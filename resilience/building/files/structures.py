"""What is drawn: section ``building`` of ``site.yaml``, and ``walls.csv``."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypeVar

from resilience.assumptions.catalogue import section
from resilience.assumptions.constructions import CONSTRUCTIONS, MATERIALS, Construction
from resilience.building.cells import Cell, Findings, Limits, Record, Unique
from resilience.building.files.documents import (
    Listing,
    Mapping,
    Node,
    described,
    is_nothing,
    known_keys,
    listing,
    mapping,
    record,
)
from resilience.building.files.sections import settings_of
from resilience.building.files.tables import Columns
from resilience.building.settings import Heights
from resilience.building.structure import Building, Door, Level, Outline, Pillar, Shaft, Wall

T = TypeVar("T")

FARTHEST_M = 10_000.0
NESTED_KEYS = ("outline", "levels", "doors", "pillars", "shafts", "constructions")
PLACE = Limits("m", least=-FARTHEST_M, most=FARTHEST_M)
SIZE = Limits("m", least=0, most=FARTHEST_M, above=True)
THICKNESS = Limits("m", least=0, most=5, above=True)
DECIBELS = Limits("dB", least=0, most=1000)
WALLS = Columns(
    ("id", "level", "x1_m", "y1_m", "x2_m", "y2_m", "construction"),
    ("height_m",),
)
USUAL_SPREAD_DB = Construction(loss_db=0.0).spread_db
TOUCH_M = 0.001  # drawings are rounded to millimetres


@dataclass(slots=True)
class _Plan:
    """What has been read so far, so that later parts can refer to it."""

    findings: Findings
    own: dict[str, Construction]
    used: dict[str, Construction] = field(default_factory=dict)
    levels: dict[str, Level] = field(default_factory=dict)
    walls: dict[str, Wall] = field(default_factory=dict)

    def construction(self, row: Record, key: str, default: str = "") -> str | None:
        """Return the name of a construction that exists, and remember that it is used."""
        known = CONSTRUCTIONS | self.own
        name = row.word(key, known, "a construction", default)
        if name:
            self.used[name] = known[name]
        return name

    def level(self, row: Record, key: str) -> str | None:
        """Return the id of a level that exists."""
        return row.word(key, self.levels, "a level")

    def span(self, row: Record) -> tuple[str, str] | None:
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
        order = list(self.levels)
        if order.index(lowest) > order.index(highest):
            row.fault("highest", f"expected {lowest} or a level above it")
        return lowest, highest


def heights_of(found: Mapping | None, findings: Findings) -> Heights:
    """Return the heights that section ``building`` states, defaults filled in."""
    if found is None:
        return settings_of(Heights, "building", None, findings)
    settings = {setting.name for setting in section("building")}
    known_keys(found, (*NESTED_KEYS, *sorted(settings)), findings)
    stated = {key: node for key, node in found.entries.items() if key in settings}
    return settings_of(Heights, "building", Mapping(found.mark, stated), findings)


def building_of(
    found: Mapping | None, wall_rows: list[Record], heights: Heights, findings: Findings
) -> Building:
    """Return the building as drawn; one without levels where there is no such section.

    Parameters
    ----------
    found : Mapping or None
        Section ``building``. [-]
    wall_rows : list of Record
        Rows of ``walls.csv``. [-]
    heights : Heights
        What to take where a level says nothing. [-]
    findings : Findings
        Where faults go. [-]
    """
    entries = found.entries if found else {}
    plan = _Plan(findings, _own_constructions(entries.get("constructions"), findings))
    _read_levels(entries.get("levels"), heights, plan)
    if found and not plan.levels:
        findings.fault(found.mark, "no usable level", "expected levels, such as [{id: ground}]")
    _read_walls(wall_rows, plan)
    doors = _all_of(_door, entries.get("doors"), plan, DOOR_KEYS)
    pillars = _all_of(_pillar, entries.get("pillars"), plan, PILLAR_KEYS)
    shafts = _all_of(_shaft, entries.get("shafts"), plan, SHAFT_KEYS)
    outline = _outline(entries.get("outline"), findings) if "outline" in entries else ()
    return Building(
        levels=tuple(plan.levels.values()),
        walls=tuple(sorted(plan.walls.values(), key=lambda wall: wall.id)),
        doors=tuple(sorted(doors, key=lambda door: door.id)),
        pillars=tuple(sorted(pillars, key=lambda pillar: pillar.id)),
        shafts=tuple(sorted(shafts, key=lambda shaft: shaft.id)),
        outline=outline,
        constructions=tuple(sorted((plan.used | plan.own).items())),
    )


LEVEL_KEYS = ("id", "floor_m", "height_m", "slab")
DOOR_KEYS = ("id", "wall", "at_m", "width_m", "height_m", "construction")
PILLAR_KEYS = (
    *("id", "level", "lowest", "highest", "x_m", "y_m", "width_m", "depth_m"),
    "construction",
)
SHAFT_KEYS = ("id", "level", "lowest", "highest", "lining")
CONSTRUCTION_KEYS = ("loss_db", "spread_db", "source")


def _records(
    node: Node | None, keys: Iterable[str], findings: Findings, nested: tuple[str, ...] = ()
) -> Iterator[tuple[Record, Mapping]]:
    """Yield the mappings of a list as records with usable, unique ids."""
    seen = Unique()
    for item in listing(node, findings):
        found = mapping(item, findings)
        if found is None:
            continue
        row = record(found, keys, findings, nested)
        name = row.name()
        if name and seen.admit(row, name):
            yield row, found


def _all_of(
    read: Callable[[Record, Mapping, _Plan], T | None],
    node: Node | None,
    plan: _Plan,
    keys: Iterable[str],
) -> list[T]:
    nested = ("outline",) if keys is SHAFT_KEYS else ()
    rows = _records(node, keys, plan.findings, nested)
    return [item for row, found in rows if (item := read(row, found, plan)) is not None]


def _read_levels(node: Node | None, heights: Heights, plan: _Plan) -> None:
    ceiling_m, below = -heights.slab_depth_m, ""
    for row, _ in _records(node, LEVEL_KEYS, plan.findings):
        name = row.cells["id"].text
        height_m = row.number_or("height_m", SIZE, heights.level_height_m)
        floor_m = row.number_or("floor_m", PLACE, ceiling_m + heights.slab_depth_m)
        if below and floor_m < ceiling_m - TOUCH_M:
            wanted = f"expected at least {ceiling_m:g}, the ceiling of {below}"
            row.fault("floor_m", f"{wanted}; levels are listed from the lowest to the highest")
        slab = plan.construction(row, "slab", "unknown_slab") or "unknown_slab"
        plan.levels[name] = Level(name, floor_m, height_m, slab)
        ceiling_m, below = floor_m + height_m, name


def _read_walls(rows: list[Record], plan: _Plan) -> None:
    seen = Unique()
    for row in rows:
        name = row.name()
        is_new = name is not None and seen.admit(row, name)
        level = plan.level(row, "level")
        ends_m = [row.number(key, PLACE) for key in ("x1_m", "y1_m", "x2_m", "y2_m")]
        construction = plan.construction(row, "construction")
        height_m = row.number("height_m", SIZE) if row.has("height_m") else None
        x1_m, y1_m, x2_m, y2_m = (end_m or 0.0 for end_m in ends_m)
        length_m = math.hypot(x2_m - x1_m, y2_m - y1_m)
        if None not in ends_m and length_m < TOUCH_M:
            row.fault("x2_m", "expected a wall whose two ends differ")
        if is_new and name:  # a faulty wall still counts as drawn, so that its doors find it
            plan.walls[name] = Wall(
                name, level or "", x1_m, y1_m, x2_m, y2_m, construction or "", height_m
            )


def _door(row: Record, _found: Mapping, plan: _Plan) -> Door | None:
    wall = row.word("wall", plan.walls, "a wall of walls.csv")
    at_m = row.number("at_m", Limits("m", least=0, most=FARTHEST_M))
    width_m, height_m = row.number("width_m", SIZE), row.number("height_m", SIZE)
    construction = plan.construction(row, "construction")
    if not wall or at_m is None or width_m is None or height_m is None or not construction:
        return None
    found = plan.walls[wall]
    length_m = math.hypot(found.x2_m - found.x1_m, found.y2_m - found.y1_m)
    if length_m > TOUCH_M and at_m + width_m > length_m + TOUCH_M:
        row.fault("at_m", f"expected a door within its wall, which is {length_m:.3g} m long")
    return Door(row.cells["id"].text, wall, at_m, width_m, height_m, construction)


def _pillar(row: Record, _found: Mapping, plan: _Plan) -> Pillar | None:
    span = plan.span(row)
    x_m, y_m = row.number("x_m", PLACE), row.number("y_m", PLACE)
    width_m, depth_m = row.number("width_m", SIZE), row.number("depth_m", SIZE)
    construction = plan.construction(row, "construction")
    if not span or x_m is None or y_m is None or width_m is None or depth_m is None:
        return None
    name = row.cells["id"].text
    return Pillar(name, *span, x_m, y_m, width_m, depth_m, construction or "")


def _shaft(row: Record, found: Mapping, plan: _Plan) -> Shaft | None:
    span = plan.span(row)
    outline = _outline(found.entries.get("outline"), plan.findings, row)
    lining: str | None = None
    if not (row.has("lining") and row.cells["lining"].text == "open"):
        known = ("open", *CONSTRUCTIONS, *plan.own)
        if row.word("lining", known, "a construction or open"):
            lining = plan.construction(row, "lining")
    return Shaft(row.cells["id"].text, *span, outline, lining) if span else None


def _outline(node: Node | None, findings: Findings, owner: Record | None = None) -> Outline:
    """Return the corners of a closed outline; none and a fault if it cannot be one."""
    from shapely.geometry import Polygon

    if node is None and owner is not None:
        owner.fault("outline", "expected corners: [[x, y], [x, y], [x, y]]")
    corners = []
    items = listing(node, findings)
    for item in items:
        pair = _numbers(item, (PLACE, PLACE), "a corner [x, y] in metres", findings)
        if pair:
            corners.append((pair[0], pair[1]))
    if len(corners) != len(items) or node is None:
        return ()
    polygon = Polygon(corners) if len(corners) >= 3 else None
    if polygon is None or not polygon.is_valid or polygon.area < TOUCH_M:
        wanted = "expected at least three corners in order, whose sides do not cross"
        findings.fault(node.mark, described(node), wanted)
        return ()
    return tuple(corners)


def _numbers(
    node: Node, limits: tuple[Limits, ...], noun: str, findings: Findings
) -> list[float] | None:
    """Return the numbers of a short list of fixed length; a fault and None otherwise."""
    items = node.items if isinstance(node, Listing) else ()
    cells = [item for item in items if isinstance(item, Cell)]
    if len(cells) != len(limits) or len(items) != len(limits):
        findings.fault(node.mark, described(node), f"expected {noun}")
        return None
    found = [cell.number(limit, findings) for cell, limit in zip(cells, limits, strict=True)]
    values = [value for value in found if value is not None]
    return values if len(values) == len(limits) else None


def _own_constructions(node: Node | None, findings: Findings) -> dict[str, Construction]:
    found = mapping(node, findings)
    own = {}
    for name, item in (found.entries if found else {}).items():
        usable = Cell(name, item.mark).name(findings)
        body = mapping(item, findings)
        built = _own_construction(body or Mapping(item.mark, {}), findings)
        if usable:
            own[usable] = built
    return own


def _own_construction(body: Mapping, findings: Findings) -> Construction:
    """Return one construction of the site; lossless, beside a fault, where it cannot be read."""
    row = record(body, CONSTRUCTION_KEYS, findings, ("layers",))
    layers = _layers(body.entries.get("layers"), findings)
    given = not is_nothing(body.entries.get("layers"))
    if given == row.has("loss_db") or (given and not listing(body.entries["layers"], findings)):
        findings.fault(body.mark, described(body), "expected either layers or loss_db")
    loss_db = row.number("loss_db", DECIBELS) if row.has("loss_db") else None
    spread_db = row.number_or("spread_db", DECIBELS, USUAL_SPREAD_DB)
    source = row.text("source") or "the site's own"
    if bool(layers) == (loss_db is not None):
        return Construction(loss_db=0.0)
    return Construction(layers, loss_db, spread_db, source)


def _layers(node: Node | None, findings: Findings) -> tuple[tuple[str, float], ...]:
    layers = []
    for item in listing(node, findings):
        parts = item.items if isinstance(item, Listing) else ()
        match parts:
            case (Cell() as material, Cell() as thickness):
                name = material.word(MATERIALS, findings, "a material")
                thickness_m = thickness.number(THICKNESS, findings)
                if name and thickness_m:
                    layers.append((name, thickness_m))
            case _:
                wanted = "expected a layer [material, thickness_m]"
                findings.fault(item.mark, described(item), wanted)
    return tuple(layers)
