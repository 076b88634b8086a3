"""Levels of an adopted site: how new ones stack, and what goes when one is taken out."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TypeVar

from resilience.building.parts import LISTED, WALLS
from resilience.building.structure import Building, Level, Pillar, Shaft
from resilience.drawings.account import Account
from resilience.drawings.plan import Stated, usual_m
from resilience.errors import UsageError

T = TypeVar("T", Pillar, Shaft)


def stacked(
    names: Sequence[str], stated: Stated, rest: Building, replaced: Building, account: Account
) -> list[Level]:
    """Return new levels in the order of their names: in place of old ones, on top, or below.

    Parameters
    ----------
    names : sequence of str
        Of the levels drawn, from the lowest. [-]
    stated : Stated
        What the user says of them. [-]
    rest, replaced : Building
        What stays of the site, and what the drawing takes the place of. [-]
    account : Account
        Where it is told. [-]
    """
    slab_m = usual_m("slab_depth_m")
    before = {level.id.casefold(): level for level in replaced.levels}
    names = list(dict.fromkeys(names))
    heights_m = [stated.height_m or _height_m(before.get(name.casefold())) for name in names]
    floor_m = _lowest_floor_m(stated, rest, sum(heights_m) + slab_m * len(names))
    levels = []
    for name, height_m in zip(names, heights_m, strict=True):
        old = before.get(name.casefold())
        if old and stated.floor_m is None:
            floor_m = old.floor_m
        slab = old.slab if old else "unknown_slab"
        levels.append(Level(name, round(floor_m, 3), height_m, slab))
        floor_m += height_m + slab_m
    account.note(
        f"Heights are not in a plan: {heights_m[0]:g} m from floor to ceiling"
        + (f", {slab_m:g} m of slab between levels" if len(names) > 1 or rest.levels else "")
        + f"; the floor of {levels[0].id} is at {levels[0].floor_m:g} m."
    )
    return levels


def _height_m(old: Level | None) -> float:
    return old.height_m if old else usual_m("level_height_m")


def _lowest_floor_m(stated: Stated, rest: Building, needed_m: float) -> float:
    """Return the floor of the lowest new level, which takes so much height with all slabs."""
    if stated.floor_m is not None:
        return stated.floor_m
    if stated.below:
        return min((level.floor_m for level in rest.levels), default=0.0) - needed_m
    slab_m = usual_m("slab_depth_m")
    return max((one.floor_m + one.height_m + slab_m for one in rest.levels), default=0.0)


def without_levels(building: Building, names: Collection[str], with_bodies: bool) -> Building:
    """Return a building without some levels; what reaches through several keeps the others.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    names : collection of str
        Ids of levels. [-]
    with_bodies : bool
        Whether plates and obstacles go too, which no drawing brings. [-]
    """
    kept = tuple(level for level in building.levels if level.id not in names)
    walls = tuple(wall for wall in building.walls if wall.level not in names)
    standing = {wall.id for wall in walls}
    gone = names if with_bodies else ()
    return replace(
        building,
        levels=kept,
        walls=walls,
        doors=tuple(one for one in building.doors if one.wall in standing),
        windows=tuple(one for one in building.windows if one.wall in standing),
        pillars=tuple(_cut(building.pillars, building, names, with_bodies)),
        shafts=tuple(_cut(building.shafts, building, names, with_bodies)),
        openings=tuple(one for one in building.openings if one.level not in names),
        plates=tuple(one for one in building.plates if one.level not in gone),
        obstacles=tuple(one for one in building.obstacles if one.level not in gone),
    )


def taken_out(whole: Building, rest: Building) -> Building:
    """Return what a building has and what is left of it has not, by id.

    Parameters
    ----------
    whole, rest : Building
        Before and after. [-]
    """
    gone = {}
    for part in (WALLS, *LISTED):
        kept = {one.id for one in getattr(rest, part.name)}
        gone[part.name] = tuple(one for one in getattr(whole, part.name) if one.id not in kept)
    return Building(**gone)


def _cut(
    things: Sequence[T], building: Building, names: Collection[str], is_shortened: bool
) -> list[T]:
    """Return things that reach through levels, those that stand on nothing else left out."""
    order = [level.id for level in building.levels]
    kept = []
    for thing in things:
        span = order[order.index(thing.lowest) : order.index(thing.highest) + 1]
        left = [level for level in span if level not in names]
        if left:
            ends = (left[0], left[-1]) if is_shortened else (thing.lowest, thing.highest)
            kept.append(replace(thing, lowest=ends[0], highest=ends[1]))
    return kept


def without_doubles(drawn: Building, rest: Building) -> Building:
    """Return what was drawn less the shafts that go through a replaced level already.

    Parameters
    ----------
    drawn : Building
        What is added. [-]
    rest : Building
        What stays, shafts through the replaced levels among it. [-]
    """
    from shapely.geometry import Polygon

    order = [
        level.id for level in sorted((*rest.levels, *drawn.levels), key=lambda one: one.floor_m)
    ]
    there = [
        (Polygon(one.outline), order.index(one.lowest), order.index(one.highest))
        for one in rest.shafts
        if one.lowest in order and one.highest in order
    ]

    def is_there(shaft: Shaft) -> bool:
        area = Polygon(shaft.outline)
        low, high = order.index(shaft.lowest), order.index(shaft.highest)
        return any(
            lowest <= low
            and high <= highest
            and area.intersection(other).area > 0.8 * area.union(other).area
            for other, lowest, highest in there
        )

    return replace(drawn, shafts=tuple(one for one in drawn.shafts if not is_there(one)))


def level_named(building: Building, name: str, where: str) -> Level:
    """Return a level by its name, whatever its case; UsageError with those there are if none."""
    for level in building.levels:
        if level.id.casefold() == name.casefold():
            return level
    there = ", ".join(level.id for level in building.levels) or "none"
    raise UsageError(f"{where} has no level {name}: it has {there}")
