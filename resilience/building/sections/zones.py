"""Zones: parts of levels, drawn or only named, and the rates that each states for itself."""

from collections.abc import Collection
from itertools import combinations

from resilience.building.parts import ZONE_RATES, ZONES
from resilience.building.sections.plan import (
    Plan,
    outline_of,
    polygon,
    records,
    share_ground,
)
from resilience.building.site import Place
from resilience.building.structure import Building, Outline, Zone
from resilience.building.text.documents import Mapping, Node, is_nothing
from resilience.building.text.entries import Findings, Mark, TableRow, alternatives, shown


def read_zones(node: Node | None, plan: Plan) -> tuple[Zone, ...]:
    """Return the zones in order of id.

    Parameters
    ----------
    node : Node or None
        What stands under ``zones``. [-]
    plan : Plan
        Levels are known. [-]
    """
    found = [(row, _zone(row, body, plan)) for row, body in records(node, ZONES, plan.findings)]
    for (_, one), (row, other) in combinations(found, 2):
        is_near = one.outline and other.outline and one.level == other.level
        if is_near and share_ground(one.outline, other.outline):
            row.fault("outline", f"expected one beside zone {shown(one.id)}: a place is in one")
    return tuple(sorted((zone for _, zone in found), key=lambda zone: zone.id))


def _zone(row: TableRow, body: Mapping, plan: Plan) -> Zone:
    outline, level = body.entries.get("outline"), ""
    corners: Outline = ()
    if row.has("level") or not is_nothing(outline):
        level = plan.level(row, "level") or ""
        corners = outline_of(outline, plan.findings, row)
        if level and corners:
            footprint = plan.levels[level].outline or plan.outline
            if not share_ground(corners, footprint):
                row.fault("outline", f"expected an outline on level {level}")
    rates = {key: row.number(key, ZONES.limits(key)) for key in ZONE_RATES.values() if row.has(key)}
    return Zone(row.entries["id"].text, level, corners, **rates)


def zone_at(building: Building, place: Place | None) -> str:
    """Id of the drawn zone that a place is in, on its edge included; empty where it is in none.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    place : Place or None
        Where something hangs. [-]
    """
    from shapely import intersects_xy

    if place is None:
        return ""
    here = (one for one in building.zones if one.outline and one.level == place.level)
    inside = (one.id for one in here if intersects_xy(polygon(one.outline), place.x_m, place.y_m))
    return next(inside, "")


def check_zones(building: Building, named: Collection[str], findings: Findings) -> None:
    """Record zones that are not drawn and that no device is in.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    named : collection of str
        Levels, and what column ``zone`` of the devices names. [-]
    findings : Findings
        Where faults go. [-]
    """
    for zone in building.zones:
        if not (zone.level or zone.outline or zone.id in named):
            wanted = "expected level and outline, its id in column zone of a device, or a level's"
            mark = Mark("site.yaml", 0, f"key building.zones, {shown(zone.id)}")
            findings.fault(
                mark, "a zone without devices", f"{wanted}; {alternatives(zone.id, named)}"
            )
