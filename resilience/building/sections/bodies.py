"""What stands, lies or slopes beside the walls: pillars, shafts, openings, plates, obstacles."""

import math
from collections.abc import Iterable

from resilience.assumptions.changes import OBSTACLES as MOVERS
from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.parts import (
    BLOCK,
    OBSTACLES,
    OPENINGS,
    PILLARS,
    PLACE,
    PLATES,
    SHAFTS,
    Part,
)
from resilience.building.sections.changes import obstacle_change
from resilience.building.sections.plan import (
    TOUCH_M,
    Plan,
    corners_of,
    outline_of,
    polygon,
    records,
    share_ground,
)
from resilience.building.structure import Level, Obstacle, Opening, Pillar, Plate, Shaft
from resilience.building.text.documents import Mapping, Node, described, is_nothing
from resilience.building.text.entries import TableRow

Corner = tuple[float, float, float]
FLAT_M = 0.01
UPRIGHT = 0.02  # share of a sheet that is seen from above, below which it is a wall


def read_pillars(node: Node | None, plan: Plan) -> tuple[Pillar, ...]:
    """Return the pillars in order of id."""
    rows = records(node, PILLARS, plan.findings)
    found = [_pillar(row, plan) for row, _ in rows]
    return tuple(sorted(filter(None, found), key=lambda pillar: pillar.id))


def _pillar(row: TableRow, plan: Plan) -> Pillar | None:
    span = plan.span(row)
    block = _block(row, PILLARS)
    construction = plan.construction(row, "construction")
    if not span or not block or not construction:
        return None
    return Pillar(row.entries["id"].text, *span, *block, construction)


def _block(row: TableRow, part: Part) -> tuple[float, float, float, float] | None:
    """Return centre and extent of an upright box on the plan."""
    x_m, y_m, width_m, depth_m = (row.number(key.name, part.limits(key.name)) for key in BLOCK)
    if x_m is None or y_m is None or width_m is None or depth_m is None:
        return None
    return x_m, y_m, width_m, depth_m


def read_shafts(node: Node | None, plan: Plan) -> tuple[Shaft, ...]:
    """Return the shafts in order of id."""
    rows = records(node, SHAFTS, plan.findings)
    found = [_shaft(row, body, plan) for row, body in rows]
    return tuple(sorted(filter(None, found), key=lambda shaft: shaft.id))


def _shaft(row: TableRow, body: Mapping, plan: Plan) -> Shaft | None:
    span = plan.span(row)
    outline = outline_of(body.entries.get("outline"), plan.findings, row)
    lining: str | None = None
    if not (row.has("lining") and row.entries["lining"].text == "open"):
        known = dict.fromkeys(("open", *CONSTRUCTIONS, *plan.own))
        if row.word("lining", known, "a construction or open"):
            lining = plan.construction(row, "lining")
    return Shaft(row.entries["id"].text, *span, outline, lining) if span else None


def read_openings(node: Node | None, plan: Plan) -> tuple[Opening, ...]:
    """Return the openings in order of id."""
    rows = records(node, OPENINGS, plan.findings)
    found = [_opening(row, body, plan) for row, body in rows]
    return tuple(sorted(filter(None, found), key=lambda opening: opening.id))


def _opening(row: TableRow, body: Mapping, plan: Plan) -> Opening | None:
    name = plan.level(row, "level")
    outline = outline_of(body.entries.get("outline"), plan.findings, row)
    filling = plan.construction(row, "construction") if row.has("construction") else None
    if not name or not outline:
        return None
    if not share_ground(outline, plan.levels[name].outline or plan.outline):
        row.fault("outline", f"expected an outline on the slab of level {name}")
    return Opening(row.entries["id"].text, name, outline, filling)


def read_plates(node: Node | None, plan: Plan) -> tuple[Plate, ...]:
    """Return the plates in order of id."""
    rows = records(node, PLATES, plan.findings)
    found = [_plate(row, body, plan) for row, body in rows]
    return tuple(sorted(filter(None, found), key=lambda plate: plate.id))


def _plate(row: TableRow, body: Mapping, plan: Plan) -> Plate | None:
    name = plan.level(row, "level")
    construction = plan.construction(row, "construction")
    node = body.entries.get("corners")
    if node is None or is_nothing(node):
        row.fault("corners", "expected corners: [[x, y, height], ...], three or more")
        return None
    noun = "a corner [x, y, height] in metres"
    found = corners_of(node, (PLACE, PLACE, PLACE), noun, plan.findings)
    if not name or not construction or found is None:
        return None
    corners: tuple[Corner, ...] = tuple((x_m, y_m, z_m) for x_m, y_m, z_m in found)
    problem = _sheet_problem(corners, plan.levels[name])
    if problem:
        plan.findings.fault(node.mark, described(node), problem)
        return None
    return Plate(row.entries["id"].text, name, corners, construction)


def _sheet_problem(corners: tuple[Corner, ...], level: Level) -> str:
    """What keeps corners from being a flat sheet inside a level, as a wish; empty if nothing."""
    if len(corners) < 3:
        return "expected at least three corners"
    most_m = level.height_m
    if any(not -TOUCH_M <= z_m <= most_m + TOUCH_M for *_, z_m in corners):
        return f"expected heights from 0 to {most_m:g}, within level {level.id}"
    normal = _normal(corners)
    size = math.hypot(*normal)
    if size < TOUCH_M or abs(normal[2]) < UPRIGHT * size:
        return "expected a sheet that is not upright; draw an upright one as a wall"
    shape = polygon(tuple((x_m, y_m) for x_m, y_m, _ in corners))
    if not shape.is_valid:
        return "expected corners in order, whose sides do not cross"
    off_m = _farthest_off_m(corners, normal, size)
    if off_m > FLAT_M:
        return f"expected corners in one plane; they miss it by {100 * off_m:.3g} cm"
    return ""


def _normal(corners: tuple[Corner, ...]) -> Corner:
    """Normal of the plane through the corners as nearly as can be, twice their area long."""
    # Newell's method: the sum of cross products of the sides, counted from the first corner so
    # that a sheet far from the origin loses no digits.
    x0_m, y0_m, z0_m = corners[0]
    near = [(x_m - x0_m, y_m - y0_m, z_m - z0_m) for x_m, y_m, z_m in corners]
    sides = list(zip(near, (*near[1:], near[0]), strict=True))
    return (
        math.fsum(p[1] * q[2] - p[2] * q[1] for p, q in sides),
        math.fsum(p[2] * q[0] - p[0] * q[2] for p, q in sides),
        math.fsum(p[0] * q[1] - p[1] * q[0] for p, q in sides),
    )


def _farthest_off_m(corners: tuple[Corner, ...], normal: Corner, size: float) -> float:
    """How far the corners stand from the plane through their middle."""
    middle = [math.fsum(corner[axis] for corner in corners) / len(corners) for axis in range(3)]
    return max(
        abs(math.fsum(n * (p - m) for n, p, m in zip(normal, corner, middle, strict=True))) / size
        for corner in corners
    )


def read_obstacles(
    node: Node | None, table: Iterable[TableRow], plan: Plan
) -> tuple[Obstacle, ...]:
    """Return the obstacles in order of id.

    Parameters
    ----------
    node : Node or None
        What stands under ``obstacles``. [-]
    table : iterable of TableRow
        Rows of ``obstacles.csv``. [-]
    plan : Plan
        Levels and doors are known. [-]
    """
    listed = records(node, OBSTACLES, plan.findings, plan.movers)
    rows = [row for row, _ in listed]
    for row in table:
        name = row.name()
        if name and plan.movers.admit(row, name):
            rows.append(row)
    found = [_obstacle(row, plan) for row in rows]
    return tuple(sorted(filter(None, found), key=lambda obstacle: obstacle.id))


def _obstacle(row: TableRow, plan: Plan) -> Obstacle | None:
    kind = _kind(row.text("kind") or "other")
    change = obstacle_change(row, kind if kind in MOVERS else "other", plan)
    name = plan.level(row, "level")
    block = _block(row, OBSTACLES)
    foot_m = row.number_or("foot_m", OBSTACLES.limits("foot_m"), 0.0)
    loss_db = row.number_or("loss_db", OBSTACLES.limits("loss_db"), 0.0)
    most_m = plan.levels[name].height_m - foot_m if name else math.inf
    if most_m <= 0:
        row.fault("foot_m", f"expected a foot below the ceiling of level {name}")
        return None
    height_m = row.number_or("height_m", OBSTACLES.limits("height_m"), most_m)
    if height_m > most_m + TOUCH_M:
        row.fault("height_m", f"expected at most {most_m:g}, up to the ceiling of level {name}")
    if not name or not block:
        return None
    return Obstacle(row.entries["id"].text, kind, name, *block, foot_m, height_m, loss_db, change)


def _kind(text: str) -> str:
    """Kind of an obstacle: ``Lift car`` is a lift_car, while a trolley stays a trolley."""
    folded = text.casefold().replace(" ", "_").replace("-", "_")
    return folded if folded in MOVERS else text
