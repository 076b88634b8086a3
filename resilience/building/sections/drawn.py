"""The whole building, and whether it can be meant as it is drawn."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from resilience.assumptions.catalogue import section
from resilience.building.parts import LISTED
from resilience.building.sections.bodies import (
    read_obstacles,
    read_openings,
    read_pillars,
    read_plates,
    read_shafts,
)
from resilience.building.sections.constructions import own_constructions
from resilience.building.sections.levels import read_levels
from resilience.building.sections.plan import Habits, Plan, outline_of, polygon
from resilience.building.sections.walls import read_holes, read_walls
from resilience.building.sections.zones import read_zones
from resilience.building.settings import Heights
from resilience.building.structure import Building, Outline
from resilience.building.text.documents import Mapping, known_keys
from resilience.building.text.entries import Findings, TableRow, listed

Point = tuple[float, float]

PARTS = ("outline", *(part.name for part in LISTED), "constructions")
WIDE_M = 1000.0
TALL_M = 50.0
OVERHANG_M = 0.5  # a wall on the outline is drawn by its middle or by its outer face
MM_PER_M, INCHES_PER_M = 1000.0, 1 / 0.0254  # the inch of 25.4 mm


@dataclass(frozen=True, slots=True)
class Sources:
    """Everything that a drawing is written down in.

    Parameters
    ----------
    section : Mapping or None
        Section ``building``; None where there is none. [-]
    walls, obstacles : list of TableRow
        Rows of the tables. [-]
    heights : Heights
        What to take where a level says nothing. [-]
    habits : Habits
        What section ``changes`` states. [-]
    rejoin_h : float
        What changes faster than this is no event. [h]
    """

    section: Mapping | None
    walls: list[TableRow]
    obstacles: list[TableRow]
    heights: Heights
    habits: Habits
    rejoin_h: float


def building_of(sources: Sources, findings: Findings) -> Building:
    """Return the building as drawn; one without levels where there is no such section.

    Parameters
    ----------
    sources : Sources
        What is written down. [-]
    findings : Findings
        Where faults and notes go. [-]
    """
    found = sources.section
    entries = found.entries if found else {}
    if found:
        settings = sorted(setting.name for setting in section("building"))
        known_keys(found, (*PARTS, *settings), findings)
    own = own_constructions(entries.get("constructions"), findings)
    outline = outline_of(entries.get("outline"), findings)
    plan = Plan(findings, sources.heights, own, sources.habits, sources.rejoin_h, outline)
    read_levels(entries.get("levels"), plan)
    if found and not plan.levels:
        findings.fault(found.mark, "no usable level", "expected levels, such as [{id: ground}]")
    read_walls(sources.walls, plan)
    doors, windows = read_holes(entries.get("doors"), entries.get("windows"), plan)
    building = Building(
        levels=tuple(plan.levels.values()),
        walls=tuple(sorted(plan.walls.values(), key=lambda wall: wall.id)),
        doors=doors,
        windows=windows,
        pillars=read_pillars(entries.get("pillars"), plan),
        shafts=read_shafts(entries.get("shafts"), plan),
        openings=read_openings(entries.get("openings"), plan),
        plates=read_plates(entries.get("plates"), plan),
        obstacles=read_obstacles(entries.get("obstacles"), sources.obstacles, plan),
        zones=read_zones(entries.get("zones"), plan),
        outline=outline,
        constructions=tuple(sorted((plan.used | plan.own).items())),
    )
    _tell_assumed(plan)
    _tell_beyond(building, findings)
    return building


def _tell_assumed(plan: Plan) -> None:
    if plan.n_swung or plan.n_leafless:
        rest = f"; {plan.n_leafless} of no known leaf stay as drawn" if plan.n_leafless else ""
        plan.findings.note(
            f"changes.all_doors is on: doors that stand open as drawn and are shut at times, as "
            f"their kind says: {plan.n_swung}{rest}."
        )
    if plan.n_assumed:
        plan.findings.note(
            f"{plan.n_assumed} of {plan.n_movers} doors and obstacles that change do not say how "
            "much, how often or how long; their kind's defaults stand in (resilience defaults "
            "changes)."
        )


def footprint(building: Building, level: str) -> Outline:
    """Outline of a level: its own, else the building's; empty where nobody drew either.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    level : str
        Id of the level. [-]
    """
    return building.level(level).outline or building.outline


def _tell_beyond(building: Building, findings: Findings) -> None:
    """Tell of what is drawn outside the outline, by more than the thickness of a wall."""
    from shapely import intersects_xy

    beyond: list[str] = []
    for level, named in named_points(building).items():
        outline = footprint(building, level)
        if not outline:
            continue
        xs_m, ys_m = zip(*(point for _, point in named), strict=True)
        inside = intersects_xy(polygon(outline).buffer(OVERHANG_M), xs_m, ys_m)
        beyond += [what for (what, _), is_in in zip(named, inside, strict=True) if not is_in]
    if building.outline:
        whole = polygon(building.outline).buffer(OVERHANG_M)
        own = [level for level in building.levels if level.outline]
        beyond += [f"level {level.id}" for level in own if not whole.covers(polygon(level.outline))]
    if beyond:
        findings.note(f"Drawn beyond the outline: {listed(list(dict.fromkeys(beyond)))}.")


def named_points(building: Building) -> dict[str, list[tuple[str, Point]]]:
    """Return what is drawn on each level, with the points that have to lie inside its outline."""
    found: dict[str, list[tuple[str, Point]]] = defaultdict(list)
    for wall in building.walls:
        ends_m = (wall.x1_m, wall.y1_m), (wall.x2_m, wall.y2_m)
        found[wall.level] += [(f"wall {wall.id}", end_m) for end_m in ends_m]
    for pillar in building.pillars:
        found[pillar.lowest].append((f"pillar {pillar.id}", (pillar.x_m, pillar.y_m)))
    for shaft in building.shafts:
        found[shaft.lowest] += [(f"shaft {shaft.id}", corner_m) for corner_m in shaft.outline]
    for plate in building.plates:
        found[plate.level] += [(f"plate {plate.id}", (x_m, y_m)) for x_m, y_m, _ in plate.corners]
    for obstacle in building.obstacles:
        found[obstacle.level].append((f"obstacle {obstacle.id}", (obstacle.x_m, obstacle.y_m)))
    known = {level.id for level in building.levels}  # a faulty wall may stand on none
    return {level: named for level, named in found.items() if level in known and named}


def tell_scale(building: Building, devices: Iterable[Point], findings: Findings) -> None:
    """Tell of a drawing so wide, or a level so high, that it is perhaps not in metres.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    devices : iterable of (float, float)
        Where devices stand on the plan. [m]
    findings : Findings
        Where notes go. [-]
    """
    points = [*building.outline, *devices]
    points += [corner_m for level in building.levels for corner_m in level.outline]
    points += [point for named in named_points(building).values() for _, point in named]
    if points:
        xs_m, ys_m = zip(*points, strict=True)
        extent_m = max(max(xs_m) - min(xs_m), max(ys_m) - min(ys_m))
        if extent_m > WIDE_M:
            findings.note(f"What is drawn reaches over {_other_scales(extent_m)}")
    for level in building.levels:
        if level.height_m > TALL_M:
            findings.note(f"Level {level.id} has a height of {_other_scales(level.height_m)}")


def _other_scales(length_m: float) -> str:
    """Length as read, and what it would be in millimetres and inches."""
    return (
        f"{length_m:,.0f} m: are these millimetres? Divided by 1000 it would be "
        f"{length_m / MM_PER_M:.3g} m; from inches, divided by 39.37, "
        f"{length_m / INCHES_PER_M:.3g} m."
    )
