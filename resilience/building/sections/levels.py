"""Levels: how they stack, and that none stands inside another."""

from resilience.assumptions.catalogue import section
from resilience.building.parts import LEVELS
from resilience.building.sections.plan import (
    TOUCH_M,
    Plan,
    outline_of,
    records,
    share_ground,
)
from resilience.building.settings import Heights
from resilience.building.stated.sections import settings_of
from resilience.building.structure import Level, Outline
from resilience.building.text.documents import Mapping, Node, is_nothing
from resilience.building.text.entries import Findings, TableRow

MOST_LEVELS = 1000  # each is compared with those it could stand in


def heights_of(found: Mapping | None, findings: Findings) -> Heights:
    """Return the heights that section ``building`` states, defaults filled in."""
    if found is None:
        return settings_of(Heights, "building", None, findings)
    names = {setting.name for setting in section("building")}
    stated = {key: node for key, node in found.entries.items() if key in names}
    return settings_of(Heights, "building", Mapping(found.mark, stated), findings)


def read_levels(node: Node | None, plan: Plan) -> None:
    """Fill in the levels of the plan, from the lowest floor to the highest.

    Parameters
    ----------
    node : Node or None
        What stands under ``levels``. [-]
    plan : Plan
        Its building's outline is known. [-]
    """
    rows: dict[str, TableRow] = {}
    for row, found in records(node, LEVELS, plan.findings):
        if len(plan.levels) == MOST_LEVELS:
            row.fault("id", f"expected at most {MOST_LEVELS} levels")
            break
        outline = outline_of(found.entries.get("outline"), plan.findings)
        height_m = row.number_or("height_m", LEVELS.limits("height_m"), plan.heights.level_height_m)
        if row.has("floor_m"):
            floor_m = row.number("floor_m", LEVELS.limits("floor_m"))
        else:
            floor_m = _stacked_floor_m(outline, plan)
        slab = plan.construction(row, "slab", "unknown_slab") or "unknown_slab"
        name = row.entries["id"].text
        plan.levels[name] = Level(name, floor_m or 0.0, height_m, slab, outline)
        if floor_m is not None and (outline or not _has_own(found)):  # else it was told already
            rows[name] = row
    plan.levels = dict(sorted(plan.levels.items(), key=lambda item: item[1].floor_m))
    _check_overlaps(plan, rows)


def _has_own(found: Mapping) -> bool:
    return not is_nothing(found.entries.get("outline"))


def _stacked_floor_m(outline: Outline, plan: Plan) -> float:
    """Floor on top of the levels listed before that this one stands over; 0 on the ground."""
    below = [level for level in plan.levels.values() if _share_ground(level.outline, outline, plan)]
    tops_m = [level.floor_m + level.height_m + plan.heights.slab_depth_m for level in below]
    return max(tops_m, default=0.0)


def _share_ground(a: Outline, b: Outline, plan: Plan) -> bool:
    a, b = a or plan.outline, b or plan.outline
    return a == b or share_ground(a, b)


def _check_overlaps(plan: Plan, rows: dict[str, TableRow]) -> None:
    """Record each level whose floor lies below the ceiling of another that it stands over."""
    under: list[Level] = []
    for level in plan.levels.values():
        under = [one for one in under if one.floor_m + one.height_m > level.floor_m + TOUCH_M]
        row = rows.get(level.id)
        if row is None:
            continue
        for other in under:
            if _share_ground(other.outline, level.outline, plan):
                ceiling_m = other.floor_m + other.height_m
                wanted = f"expected at least {ceiling_m:g}, the ceiling of {other.id}"
                row.fault("floor_m", f"{wanted}, or levels whose outlines do not overlap")
                break
        under.append(level)
