"""A building model in IFC: storeys, walls, doors, windows, columns, slabs and their openings."""

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from resilience.building.structure import Building, Door, Level, Opening, Pillar, Wall, Window
from resilience.building.text.entries import shown
from resilience.drawings.account import Account
from resilience.drawings.layers import built, key_of, read_meanings, table_rows
from resilience.drawings.plan import (
    Ids,
    Stated,
    checked_file,
    damage_told,
    file_stem,
    ring,
    usual_m,
)
from resilience.drawings.reading.models import (
    MADE_OF,
    Model,
    Shape,
    axis_lines,
    middle_line,
    opened,
    place_model,
    things,
    unit_m_of,
)
from resilience.drawings.runs import SAME_M, THICKEST_M, Run, meet
from resilience.errors import UsageError

READ = ("IfcWall", "IfcDoor", "IfcWindow", "IfcColumn", "IfcSlab", "IfcOpeningElement")
REACH_M = 0.5  # a thing stands on every level that it reaches so far into
LOW_M = 0.3  # a wall that ends so far below the ceiling keeps its own height
FLOOR_M = 0.4  # a slab whose top is so near to a floor is its slab
LEAST_HEIGHT_M = 0.5
LEAST_HOLE_M = 0.05


def read_ifc(
    path: Path, stated: Stated, constructions: Collection[str], account: Account, ids: Ids
) -> tuple[Building, list[list[str]]]:
    """Return the building of a model, and the table of what its materials became.

    Parameters
    ----------
    path : Path
        The model. [-]
    stated : Stated
        What the user says of it. [-]
    constructions : collection of str
        Those that a material can become. [-]
    account : Account
        Where it is told what was read and left out. [-]
    ids : Ids
        Ids that are taken. [-]
    """
    given = read_meanings(stated.table, constructions) if stated.table else None
    file = opened(checked_file(path), account)
    model = Model(file, constructions, given, account, ids)
    with damage_told(path.name):
        place_model(model, stated, path.name)
        building = _building(model, stated)
        others = Counter(thing.is_a() for thing in file.by_type("IfcElement"))
    for kind, n in sorted(others.items()):
        if not kind.startswith(READ):
            account.leave_out(kind, "not a kind of thing that is read", n)
    for key, meaning in model.meanings.items():
        if meaning.note in ("not understood", "not in the table"):
            account.note(f"Material {key_of(key)} is {meaning.note}; taken as {meaning.becomes}.")
    return building, table_rows(model.meanings, "material")


def _building(model: Model, stated: Stated) -> Building:
    levels, openings = _slabs(model, _levels(model, stated))
    found = _walls(model, levels)
    return Building(
        levels=levels,
        walls=tuple(found.walls),
        doors=tuple(found.doors),
        windows=tuple(found.windows),
        pillars=tuple(_pillars(model, levels)),
        openings=openings,
    )


def _levels(model: Model, stated: Stated) -> tuple[Level, ...]:
    """Return the storeys that hold something, each as high as the next one leaves it."""
    from ifcopenshell.util.element import get_decomposition
    from ifcopenshell.util.placement import get_storey_elevation

    unit_m = unit_m_of(model) * model.stretch
    floors: list[tuple[float, str]] = []
    for storey in things(model, "IfcBuildingStorey"):
        floor_m = round(float(get_storey_elevation(storey)) * unit_m, 3)
        if any(thing.is_a("IfcElement") for thing in get_decomposition(storey)):
            floors.append((floor_m, model.ids.claim(storey.Name or "", "storey")))
        else:
            model.account.leave_out(f"storey {storey.Name}", "it holds nothing")
    if not floors:
        raise UsageError("no storey of the model holds a wall, slab, door or column")
    floors.sort()
    shift_m = 0.0 if stated.floor_m is None else stated.floor_m - floors[0][0]
    if shift_m:
        model.account.note(f"All floors were moved by {shift_m:g} m.")
        model.zero_m = (*model.zero_m[:2], -shift_m)
    top_m = stated.height_m or usual_m("level_height_m")
    heights_m = [*(_clear_m(below, above) for below, above in pairwise(floors)), top_m]
    return tuple(
        Level(name, round(floor_m + shift_m, 3), height_m, "unknown_slab")
        for (floor_m, name), height_m in zip(floors, heights_m, strict=True)
    )


def _clear_m(below: tuple[float, str], above: tuple[float, str]) -> float:
    """Floor to ceiling between two storeys."""
    gap_m = above[0] - below[0]
    if gap_m < LEAST_HEIGHT_M:
        raise UsageError(
            f"storeys {shown(below[1])} and {shown(above[1])} are only {gap_m:.2f} m apart: make "
            "one of them in the model"
        )
    return round(max(gap_m - usual_m("slab_depth_m"), 0.8 * gap_m), 3)


def _reached(shape: Shape, levels: Sequence[Level]) -> list[Level]:
    """Return the levels that a thing stands on."""
    found = []
    for level in levels:
        low_m, high_m = max(shape.foot_m, level.floor_m), min(shape.top_m, _ceiling_m(level))
        if high_m - low_m >= min(REACH_M, (shape.top_m - shape.foot_m) / 2):
            found.append(level)
    return found


def _ceiling_m(level: Level) -> float:
    return level.floor_m + level.height_m


@dataclass(frozen=True, slots=True)
class _Hole:
    """A rectangle in a wall, from its first end and from the floor."""

    wall: str
    at_m: float
    width_m: float
    sill_m: float
    top_m: float

    def overlaps(self, other: "_Hole") -> bool:
        """Whether two of one wall share more than an edge."""
        if self.wall != other.wall:
            return False
        right_m = min(self.at_m + self.width_m, other.at_m + other.width_m)
        top_m = min(self.top_m, other.top_m)
        beside_m = right_m - max(self.at_m, other.at_m)
        return beside_m > SAME_M and top_m - max(self.sill_m, other.sill_m) > SAME_M


@dataclass(slots=True)
class _Found:
    """Walls, doors and windows while they are collected."""

    walls: list[Wall] = field(default_factory=list)
    doors: list[Door] = field(default_factory=list)
    windows: list[Window] = field(default_factory=list)
    holes: list[_Hole] = field(default_factory=list)
    n_filled: int = 0


def _walls(model: Model, levels: Sequence[Level]) -> _Found:
    standing: dict[str, list[tuple[Any, list[Run]]]] = {level.id: [] for level in levels}
    for thing in things(model, "IfcWall"):
        shape = model.shape(thing)
        middle = middle_line(shape) if shape else None
        lines = [middle] if middle else axis_lines(model, thing)
        here = _reached(shape, levels) if shape else _stood_on(model, thing, levels)
        if not lines or not here:
            why = "it stands on no level" if lines else "no straight body and no axis"
            model.account.leave_out("IfcWall", why)
            continue
        made_of = model.made_of(thing, "IfcWall")
        for level in here:
            height_m = shape.top_m - level.floor_m if shape else level.height_m
            lower_m = round(height_m, 3) if height_m < level.height_m - LOW_M else None
            name = str(thing.Name or "")
            runs = [
                replace(line, construction=made_of, id=name, height_m=lower_m) for line in lines
            ]
            standing[level.id].append((thing, runs))
    found = _Found()
    for level in levels:
        meet([run for _, runs in standing[level.id] for run in runs])
        for thing, runs in standing[level.id]:
            walls = [_wall(run, level, model) for run in runs]
            found.walls += walls
            for void in getattr(thing, "HasOpenings", ()):
                _fill(void.RelatedOpeningElement, walls, level, found, model)
    n_drawn = len(things(model, "IfcDoor")) + len(things(model, "IfcWindow"))
    model.account.leave_out(
        "doors and windows", "in no wall that was read", n_drawn - found.n_filled
    )
    return found


def _stood_on(model: Model, thing: Any, levels: Sequence[Level]) -> list[Level]:
    """Return the level of the storey that a thing without a body is put in."""
    from ifcopenshell.util.element import get_container
    from ifcopenshell.util.placement import get_storey_elevation

    storey = get_container(thing, ifc_class="IfcBuildingStorey")
    if storey is None:
        return []
    floor_m = (
        float(get_storey_elevation(storey)) * unit_m_of(model) * model.stretch - model.zero_m[2]
    )
    return [level for level in levels if abs(level.floor_m - floor_m) < 0.01]


def _wall(run: Run, level: Level, model: Model) -> Wall:
    name = model.ids.claim(run.id, f"{file_stem(level.id)}-wall")
    x1_m, y1_m, x2_m, y2_m = (round(value, 3) + 0.0 for end in (run.a, run.b) for value in end)
    made_of = built(run.construction, run.thick_m)
    return Wall(name, level.id, x1_m, y1_m, x2_m, y2_m, made_of, run.height_m)


def _fill(void: Any, walls: Sequence[Wall], level: Level, found: _Found, model: Model) -> None:
    """Put what fills an opening into the piece of the wall that it lies on."""
    fillers = [rel.RelatedBuildingElement for rel in getattr(void, "HasFillings", ())]
    shape = model.shape(void) or next((model.shape(one) for one in fillers), None)
    if shape is None or not level.floor_m <= (shape.foot_m + shape.top_m) / 2 <= _ceiling_m(level):
        return
    holes = [hole for wall in walls if (hole := _hole(shape, wall, level))]
    filler = fillers[0] if fillers else None
    if not holes or any(holes[0].overlaps(other) for other in found.holes):
        what = filler.is_a() if filler is not None else void.is_a()
        model.account.leave_out(what, "off its wall, or over another door or window")
        found.n_filled += filler is not None
        return
    hole = holes[0]
    found.holes.append(hole)
    found.n_filled += filler is not None
    kind = filler.is_a() if filler is not None else ""
    made_of = model.made_of(filler, kind) if kind in MADE_OF else "open"
    name = model.ids.claim(str(filler.Name or "") if filler is not None else "", "opening")
    if kind == "IfcDoor" or (not kind and hole.sill_m < 0.1):
        found.doors.append(
            Door(name, hole.wall, hole.at_m, hole.width_m, round(hole.top_m, 3), made_of)
        )
        return
    height_m = round(hole.top_m - hole.sill_m, 3)
    found.windows.append(
        Window(name, hole.wall, hole.at_m, hole.sill_m, hole.width_m, height_m, made_of)
    )


def _hole(shape: Shape, wall: Wall, level: Level) -> _Hole | None:
    """Return the part of a wall that an opening takes; None if it lies elsewhere."""
    run = Run((wall.x1_m, wall.y1_m), (wall.x2_m, wall.y2_m), "")
    along_m = [run.along_m(point) for point in shape.points]
    start_m, end_m = max(0.0, min(along_m)), min(run.length_m, max(along_m))
    off_m = min(abs(run.off_m(point)) for point in shape.points)
    most_m = level.height_m if wall.height_m is None else wall.height_m
    top_m = min(shape.top_m - level.floor_m, most_m)
    sill_m = max(0.0, shape.foot_m - level.floor_m)
    is_beside = end_m - start_m < (max(along_m) - min(along_m)) / 2 or off_m > THICKEST_M
    if is_beside or end_m - start_m < LEAST_HOLE_M or top_m - sill_m < LEAST_HOLE_M:
        return None
    start_m, end_m, sill_m, top_m = (round(value, 3) for value in (start_m, end_m, sill_m, top_m))
    return _Hole(wall.id, start_m, round(end_m - start_m, 3), sill_m, top_m)


def _pillars(model: Model, levels: Sequence[Level]) -> Iterator[Pillar]:
    for thing in things(model, "IfcColumn"):
        shape = model.shape(thing)
        here = _reached(shape, levels) if shape else []
        if not shape or not here:
            model.account.leave_out("IfcColumn", "no shape, or on no level")
            continue
        xs, ys = zip(*shape.points, strict=True)
        yield Pillar(
            model.ids.claim(str(thing.Name or ""), "pillar"),
            here[0].id,
            here[-1].id,
            round((min(xs) + max(xs)) / 2, 3),
            round((min(ys) + max(ys)) / 2, 3),
            round(max(xs) - min(xs), 3),
            round(max(ys) - min(ys), 3),
            model.made_of(thing, "IfcColumn"),
        )


def _slabs(model: Model, levels: Sequence[Level]) -> tuple[tuple[Level, ...], tuple[Opening, ...]]:
    """Return the levels with the slabs they stand on, and the openings in these."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    shapes: dict[str, list[Shape]] = {level.id: [] for level in levels}
    made_of: dict[str, str] = {}
    openings = []
    for thing in things(model, "IfcSlab"):
        shape = model.shape(thing)
        near = [one for one in levels if shape and abs(shape.top_m - one.floor_m) <= FLOOR_M]
        if not shape or not shape.outline or not near:
            model.account.leave_out("IfcSlab", "no flat shape, or under no floor")
            continue
        level = near[0]
        shapes[level.id].append(shape)
        made_of.setdefault(level.id, model.made_of(thing, "IfcSlab"))
        for void in getattr(thing, "HasOpenings", ()):
            hole = model.shape(void.RelatedOpeningElement)
            if hole and hole.outline and Polygon(hole.outline).intersects(Polygon(shape.outline)):
                name = model.ids.claim("", f"{file_stem(level.id)}-opening")
                openings.append(Opening(name, level.id, hole.outline))
            else:
                model.account.leave_out("IfcOpeningElement", "no flat shape on its slab")
    made = []
    for level in levels:
        area = unary_union([Polygon(shape.outline) for shape in shapes[level.id]])
        outline = ring(area.exterior.coords[:-1]) if area.geom_type == "Polygon" else ()
        if shapes[level.id] and not outline:
            model.account.note(f"The slabs of {level.id} lie apart; no outline is taken from them.")
        slab = made_of.get(level.id, level.slab)
        made.append(replace(level, slab=slab, outline=outline))
    return tuple(made), tuple(openings)
