"""Where further devices could hang: stated places, or a grid where nobody stated any."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from resilience.building.sections.drawn import footprint
from resilience.building.sections.plan import polygon
from resilience.building.sections.zones import zone_at
from resilience.building.service.places import CandidatePlace
from resilience.building.site import Device, Kind, Layout, Place, Site, Supply
from resilience.building.structure import Building, Obstacle, Pillar
from resilience.errors import UsageError

if TYPE_CHECKING:
    from shapely import Geometry

MOST_PLACES = 150  # of a grid, over all levels
LEAST_STEP_M = 2.0
EDGE_M = 0.3  # from walls, outlines and what is solid
AROUND_M = 2.0  # beyond the devices of a level that has no outline
NO_PLACE = (
    "no place for a further device: {why}; list places in places.csv (id, level, x_m, y_m), or "
    "draw outlines"
)


def grid(site: Site, layout: Layout) -> tuple[CandidatePlace, ...]:
    """Return places on an even grid in each level, clear of walls, shafts and what is solid.

    Parameters
    ----------
    site : Site
        What is drawn. [-]
    layout : Layout
        Its devices say how high they hang, and where where no outline is drawn. [-]

    Raises
    ------
    UsageError
        Nothing is drawn or placed that a grid could fill, or nothing of it is clear.
    """
    placed = [one.place for one in layout.devices if one.place is not None]
    if not placed:
        raise UsageError(NO_PLACE.format(why="no device has a place that could be filled up"))
    grounds = {level.id: _ground(site.building, level.id, placed) for level in site.building.levels}
    area_m2 = sum(ground.area for ground in grounds.values() if ground is not None)
    step_m = max(LEAST_STEP_M, math.sqrt(area_m2 / MOST_PLACES))
    usual_m = (_template(site, layout, Kind.REPEATER).place or placed[0]).height_m
    spots = [
        Place(level, x_m, y_m, min(usual_m, site.building.level(level).height_m))
        for level, ground in grounds.items()
        if ground is not None
        for x_m, y_m in _points(ground, step_m)
    ]
    if not spots:
        raise UsageError(NO_PLACE.format(why="nothing of the drawing is clear"))
    prefix = _free_prefix(site)
    width = len(str(len(spots)))
    return tuple(CandidatePlace(f"{prefix}{n:0{width}d}", one) for n, one in enumerate(spots, 1))


def free(
    building: Building, places: Sequence[CandidatePlace]
) -> tuple[tuple[CandidatePlace, ...], tuple[CandidatePlace, ...]]:
    """Part places into those where something could hang, and those that are no place for it.

    Parameters
    ----------
    building : Building
        What is drawn. [-]
    places : sequence of CandidatePlace
        As stated. [-]
    """
    from shapely import Point

    kept: list[CandidatePlace] = []
    forbidden: list[CandidatePlace] = []
    for one in places:
        point, level = Point(one.place.x_m, one.place.y_m), one.place.level
        outline = footprint(building, level)
        is_outside = bool(outline) and not polygon(outline).buffer(EDGE_M).covers(point)
        is_in = is_outside or any(shape.contains(point) for shape in _solids(building, level))
        (forbidden if is_in else kept).append(one)
    return tuple(kept), tuple(forbidden)


def hung(site: Site, layout: Layout, spot: CandidatePlace) -> Device:
    """Return the device that would hang at a place: like those of its kind here.

    Parameters
    ----------
    site : Site
        Its layouts hold devices to take after. [-]
    layout : Layout
        Those of this one come first. [-]
    spot : CandidatePlace
        Where. [-]
    """
    like = _template(site, layout, spot.kind)
    battery = like.battery
    if spot.supply is Supply.MAINS or spot.kind is Kind.GATEWAY:
        battery = None
    elif spot.supply is Supply.BATTERY and battery is None:
        battery = next((one.battery for one in layout.devices if one.battery), None)
    near = [one for one in layout.devices if one.place and one.place.level == spot.place.level]
    return replace(
        like,
        id=spot.id,
        kind=spot.kind,
        place=spot.place,
        battery=battery,
        standby=False,
        note=spot.note,
        batch="",
        circuit="",
        zone=zone_at(site.building, spot.place),
        by_month_c=near[0].by_month_c if near else like.by_month_c,
    )


def _template(site: Site, layout: Layout, kind: Kind) -> Device:
    """A device of a kind that forwards: of the layout, else of another, else any that forwards.

    Of several it is the one that is mounted most freely: cabinets are a matter of the place.
    """
    others = [one for other in site.layouts for one in other.devices]
    for known in (layout.devices, others):
        found = [one for one in known if one.kind is kind]
        if found:
            return min(found, key=lambda one: one.model.mounting_loss_db)
    passing = [one for one in layout.sensors if one.model.forwards]
    return (passing or layout.gateways)[0]


def _ground(building: Building, level: str, placed: Sequence[Place]) -> "Geometry | None":
    """Where on a level something could hang."""
    from shapely import LineString, MultiPoint, difference, union_all

    outline = footprint(building, level)
    if outline:
        whole = polygon(outline).buffer(-EDGE_M)
    else:
        here = [(one.x_m, one.y_m) for one in placed if one.level == level]
        if not here:
            return None
        whole = MultiPoint(here).convex_hull.buffer(AROUND_M)
    walls = [
        LineString([(one.x1_m, one.y1_m), (one.x2_m, one.y2_m)])
        for one in building.walls
        if one.level == level
    ]
    solid = union_all([*walls, *_solids(building, level)]).buffer(EDGE_M)
    found: Geometry = difference(whole, solid)
    return found


def _solids(building: Building, level: str) -> list["Geometry"]:
    """Shafts, pillars and obstacles of a level, and holes in its floor: nothing hangs there."""
    from shapely import box

    order = [one.id for one in building.levels]

    def is_here(lowest: str, highest: str) -> bool:
        return order.index(lowest) <= order.index(level) <= order.index(highest)

    found = [polygon(one.outline) for one in building.shafts if is_here(one.lowest, one.highest)]
    found += [polygon(one.outline) for one in building.openings if one.level == level]
    blocks: list[Pillar | Obstacle] = [
        *(one for one in building.pillars if is_here(one.lowest, one.highest)),
        *(one for one in building.obstacles if one.level == level),
    ]
    for one in blocks:
        half_x_m, half_y_m = one.width_m / 2, one.depth_m / 2
        found.append(
            box(one.x_m - half_x_m, one.y_m - half_y_m, one.x_m + half_x_m, one.y_m + half_y_m)
        )
    return found


def _points(ground: "Geometry", step_m: float) -> Iterator[tuple[float, float]]:
    from shapely import intersects_xy

    if ground.is_empty:
        return
    left_m, near_m, right_m, far_m = ground.bounds
    xs_m = np.arange(left_m + step_m / 2, right_m, step_m)
    ys_m = np.arange(near_m + step_m / 2, far_m, step_m)
    across, along = (one.ravel() for one in np.meshgrid(xs_m, ys_m))
    inside = intersects_xy(ground, across, along)
    for x_m, y_m in zip(across[inside].tolist(), along[inside].tolist(), strict=True):
        yield round(x_m, 1), round(y_m, 1)


def _free_prefix(site: Site) -> str:
    """Letters that no device's id begins with, so that no place is called like a device."""
    ids = [one.id.casefold() for layout in site.layouts for one in layout.devices]
    prefix = "N"
    while any(id.startswith(prefix.casefold()) for id in ids):
        prefix += "N"
    return prefix
