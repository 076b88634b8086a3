"""The things of an IFC model: where each is, by the library's geometry, and what it is made of.

Shapes come in metres. A wall is the middle line of its footprint, or its axis where it is curved
or has no body. What a thing is made of is looked up by the names of its materials.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience.building.structure import Outline
from resilience.building.text.entries import shown
from resilience.drawings.account import Account
from resilience.drawings.layers import (
    FILLED,
    Meaning,
    built,
    guess,
    key_of,
)
from resilience.drawings.plan import (
    DAMAGE,
    UNITS_M,
    Ids,
    Point,
    Stated,
    counted_off,
    library,
    ring,
    scale_of,
    sides,
)
from resilience.drawings.runs import Run
from resilience.drawings.words import IGNORE, UNKNOWN_WALL
from resilience.errors import UsageError

STRAIGHT = 0.75  # share of its box that the footprint of a straight wall fills
NOTHING = "no material"
# What a thing of each kind is made of where nothing is known, and what words of its materials say.
MADE_OF: dict[str, tuple[str, tuple[tuple[str, str], ...]]] = {
    "IfcWall": (UNKNOWN_WALL, ()),  # a layer's words say it
    "IfcDoor": (
        FILLED["doors"],
        (("steel", "steel_door"), ("metal", "steel_door"), ("glas", "glass_10")),
    ),
    "IfcWindow": (
        FILLED["windows"],
        (("coat", "coated_glass"), ("double", "double_glazing"), ("single", "glass_10")),
    ),
    "IfcSlab": (
        "unknown_slab",
        (("concrete", "concrete_200"), ("wood", "timber_floor"), ("timber", "timber_floor")),
    ),
    "IfcColumn": (FILLED["pillars"], (("steel", "metal_sheet"), ("brick", "brick_250"))),
}


Body = tuple[NDArray[np.float64], NDArray[np.int64]]


@dataclass(frozen=True, slots=True)
class Shape:
    """Where one thing is: corners on the plan, its foot and its top."""

    points: tuple[Point, ...]
    outline: Outline
    foot_m: float
    top_m: float


@dataclass(slots=True)
class Model:
    """A model being read."""

    file: Any
    constructions: Collection[str]
    given: dict[str, Meaning] | None
    account: Account
    ids: Ids
    zero_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    stretch: float = 1.0  # a stated unit in place of the model's own
    meanings: dict[str, Meaning] = field(default_factory=dict)
    bodies: dict[int, Body | None] = field(default_factory=dict)

    def body(self, thing: Any) -> Body | None:
        """Return corners, in the model's metres, and triangles of a thing; None if it has none."""
        if thing.id() not in self.bodies:
            self.bodies[thing.id()] = _body(thing)
        return self.bodies[thing.id()]

    def shape(self, thing: Any) -> Shape | None:
        """Return where a thing is; None if it has no body."""
        import shapely

        body = self.body(thing)
        if body is None:
            return None
        places = np.round(body[0] * self.stretch - self.zero_m, 4)
        areas = shapely.polygons(places[body[1], :2])
        united = shapely.union_all(areas[shapely.area(areas) > 1e-6])
        parts = [part for part in shapely.get_parts(united) if part.geom_type == "Polygon"]
        outline = ring(parts[0].exterior.coords[:-1]) if len(parts) == 1 else ()
        points = tuple((float(x), float(y)) for x, y in places[:, :2])
        return Shape(points, outline, float(places[:, 2].min()), float(places[:, 2].max()))

    def made_of(self, thing: Any, kind: str) -> str:
        """Return what a thing's materials stand for: a construction, for walls also a word."""
        name = _material(thing)
        key = name if kind == "IfcWall" else f"{kind}: {name}"
        if key not in self.meanings:
            self.meanings[key] = self._meaning(key, name, kind)
        becomes = self.meanings[key].becomes
        return becomes if kind == "IfcWall" else built(becomes, 0.0)

    def _meaning(self, key: str, name: str, kind: str) -> Meaning:
        usual, words = MADE_OF[kind]
        if self.given is not None:
            stated = self.given.get(key_of(key).casefold(), Meaning(usual, note="not in the table"))
            return stated if stated.is_wall else Meaning(usual, note="no construction in the table")
        found = guess(name) if kind == "IfcWall" else Meaning(IGNORE)
        if found.is_wall:
            return found
        for word, construction in words:
            if word in name.casefold():
                return Meaning(construction, note=f"guessed from {word}")
        return Meaning(usual, note="not understood")


def _body(thing: Any) -> Body | None:
    """Return corners and triangles of a thing with its openings filled; None if it has none."""
    import ifcopenshell.geom

    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    settings.set("disable-opening-subtractions", True)
    try:
        made = ifcopenshell.geom.create_shape(settings, thing)
    except RuntimeError:  # what the library says of a thing without a shape, or a broken one
        return None
    places = np.array(made.geometry.verts, dtype=float).reshape(-1, 3)
    triangles = np.array(made.geometry.faces, dtype=np.int64).reshape(-1, 3)
    return (places, triangles) if len(triangles) and np.isfinite(places).all() else None


def opened(path: Path, account: Account) -> Any:
    """Return the model; UsageError if it is none, or was cut off.

    Parameters
    ----------
    path : Path
        The file. [-]
    account : Account
        Where damage is told. [-]
    """
    name = shown(path.name)
    with path.open("rb") as stream:
        head = stream.read(256)
        stream.seek(max(0, path.stat().st_size - 256))
        tail = stream.read()
    if b"ISO-10303-21" not in head:
        raise UsageError(f"{name} is not an IFC model in the text form of ISO 10303-21")
    if b"END-ISO-10303-21" not in tail:
        raise UsageError(f"{name} ends in the middle: it was cut off; save or copy it again")
    ifcopenshell = library("ifcopenshell", "ifc")
    ifcopenshell.get_log()  # what earlier models left
    try:
        model = ifcopenshell.open(str(path))
        model.by_type("IfcElement")
    except (ifcopenshell.Error, OSError, RuntimeError, *DAMAGE) as error:
        raise UsageError(f"{name} cannot be read as an IFC model: {shown(str(error))}") from error
    n_faults = ifcopenshell.get_log().count("[error]")
    if n_faults:  # the library reads on, and leaves out what it could not read
        account.note(f"{name} is damaged ({n_faults} faults): parts of the building are missing.")
    counted_off(len(model.by_type("IfcProduct")), name)
    if not model.by_type("IfcBuildingStorey"):
        raise UsageError(f"{name} holds no storey: nothing says which floor its walls stand on")
    return model


def place_model(model: Model, stated: Stated, file: str) -> None:
    """Settle unit and zero, after a look at where the walls are."""
    unit_m = unit_m_of(model)
    declared = next((unit for unit, m in UNITS_M.items() if math.isclose(m, unit_m)), "")
    bodies = (model.body(thing) for kind in ("IfcWall", "IfcSlab") for thing in things(model, kind))
    corners = [body[0].min(axis=0) for body in bodies if body]
    corners += [body[0].max(axis=0) for body in model.bodies.values() if body]
    if not corners:
        raise UsageError(f"{shown(file)} holds no wall or slab with a shape")
    points = [(float(x) / unit_m, float(y) / unit_m) for x, y, _ in corners]
    scale = scale_of(points, declared, stated, file)
    model.stretch = scale.unit_m / unit_m
    model.zero_m = (scale.origin[0] * scale.unit_m, scale.origin[1] * scale.unit_m, 0.0)


def unit_m_of(model: Model) -> float:
    """Return the length of the model's unit, as it declares it, in metres."""
    from ifcopenshell.util.unit import calculate_unit_scale

    return float(calculate_unit_scale(model.file))


def things(model: Model, kind: str) -> list[Any]:
    """Return the things of a kind in the order of the file."""
    found: list[Any] = sorted(model.file.by_type(kind), key=lambda thing: thing.id())
    return found


def _material(thing: Any) -> str:
    """Return the names of a thing's materials, or of its type where it has none."""
    import ifcopenshell.util.element

    materials = ifcopenshell.util.element.get_materials(thing)
    names = [str(one.Name) for one in materials if getattr(one, "Name", None)]
    if not names:
        kind = ifcopenshell.util.element.get_type(thing)
        names = [str(kind.Name)] if kind is not None and kind.Name else []
    return " + ".join(dict.fromkeys(names)) or NOTHING


def middle_line(shape: Shape) -> Run | None:
    """Return the middle line of a straight wall; None of any other."""
    from shapely.geometry import Polygon

    if not shape.outline:
        return None
    footprint = Polygon(shape.outline)
    box = footprint.minimum_rotated_rectangle
    if footprint.area < STRAIGHT * box.area:
        return None
    corners = list(box.exterior.coords[:4])
    if math.dist(corners[0], corners[1]) > math.dist(corners[1], corners[2]):
        corners = corners[1:] + corners[:1]
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    a, b = sorted([((ax + bx) / 2, (ay + by) / 2), ((cx + dx) / 2, (cy + dy) / 2)])
    return Run(a, b, "", math.dist(corners[0], corners[1]))


def axis_lines(model: Model, thing: Any) -> list[Run]:
    """Return the pieces of a wall's axis; none if it has none."""
    import ifcopenshell.geom
    from ifcopenshell.util.placement import get_local_placement
    from shapely import get_coordinates, line_merge, linestrings, multilinestrings

    shown_as = thing.Representation.Representations if thing.Representation else ()
    axis = next((one for one in shown_as if one.RepresentationIdentifier == "Axis"), None)
    if axis is None:
        return []
    settings = ifcopenshell.geom.settings()
    settings.set("dimensionality", ifcopenshell.ifcopenshell_wrapper.CURVES_SURFACES_AND_SOLIDS)
    try:
        made = ifcopenshell.geom.create_shape(settings, axis)
    except RuntimeError:
        return []
    local = np.array(made.verts, dtype=float).reshape(-1, 3)
    place = get_local_placement(thing.ObjectPlacement)
    places = (local @ place[:3, :3].T + place[:3, 3] * unit_m_of(model)) * model.stretch
    edges = np.array(made.edges, dtype=np.int64).reshape(-1, 2)
    line = line_merge(multilinestrings(linestrings(places[edges, :2] - model.zero_m[:2])))
    points = [(float(x), float(y)) for x, y in get_coordinates(line.simplify(0.02))]
    if line.geom_type != "LineString":
        return []
    return [Run(a, b, "") for a, b in sides(points, False)]
