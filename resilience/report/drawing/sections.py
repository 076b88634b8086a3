"""The building cut upright: slabs, walls, shafts at the cut, all devices, links between levels."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import median
from xml.etree.ElementTree import Element

from resilience.building.structure import Building, Level, Outline, Plate, Wall
from resilience.report.drawing.fabric import fills_of, made_of, texture, thickness, wall_lines
from resilience.report.drawing.frame import (
    WIDTH,
    Cut,
    Frame,
    Point,
    corners_m,
    frame_of,
    plan_points_m,
)
from resilience.report.drawing.ink import line, put, say, short
from resilience.report.drawing.labels import Spot, Taken
from resilience.report.drawing.marks import (
    Canvas,
    Figure,
    Mark,
    add_marks,
    keep_off,
    spots_of,
    write,
)
from resilience.report.drawing.strokes import (
    Installed,
    add_margins,
    add_strokes,
    courses_of,
    n_drawn,
    own_lines,
)
from resilience.report.words import counted, listed, visible

LEFT, FOOT = 118.0, 44.0  # room for the names of levels, and for the bar
LEAST_HIGH, MOST_RISE = 180.0, 4
LEAST_SLAB_M, USUAL_SLAB_M, MOST_SLAB_M = 0.1, 0.3, 1.0
LEVEL_SIZE = 11.0


def cut_of(building: Building, marks: Sequence[Mark]) -> Cut:
    """Where a section shows most: along the longer side, through slabs, then shafts, then walls.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    marks : sequence of Mark
        The devices. [-]
    """
    places = [one.place for one in marks if one.place]
    xs_m, ys_m = zip(*plan_points_m(building, places), strict=True)
    is_along_x = max(xs_m) - min(xs_m) >= max(ys_m) - min(ys_m)
    across_m = ys_m if is_along_x else xs_m
    hung_m = [one.y_m if is_along_x else one.x_m for one in places]
    middle_m = median(hung_m or across_m)
    holes = [_middle_m(shaft.outline, is_along_x) for shaft in building.shafts]
    tried = sorted({*hung_m, *holes, (min(across_m) + max(across_m)) / 2})

    def shown(at_m: float) -> tuple[float, int, int, float]:
        cut = Cut(is_along_x, at_m)
        outlines = [level.outline or building.outline for level in building.levels]
        long_m = sum(end - begin for one in outlines for begin, end in cut.spans_m(one))
        n_shafts = sum(bool(cut.spans_m(one.outline)) for one in building.shafts)
        n_walls = sum(cut.met(*_ends(wall)) is not None for wall in building.walls)
        return round(long_m, 3), n_shafts, n_walls, -abs(at_m - middle_m)

    return Cut(is_along_x, max(tried, key=shown))


def _middle_m(outline: Outline, is_along_x: bool) -> float:
    across_m = [corner[1 if is_along_x else 0] for corner in outline]
    return (min(across_m) + max(across_m)) / 2


def _ends(wall: Wall) -> tuple[Point, Point]:
    return (wall.x1_m, wall.y1_m), (wall.x2_m, wall.y2_m)


@dataclass(frozen=True, slots=True)
class Side:
    """A building seen from the side, at a cut.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    cut : Cut
        Where. [-]
    frame : Frame
        Of the picture. [-]
    whole_m : (float, float)
        How far what has no outline reaches along the cut. [m]
    """

    building: Building
    cut: Cut
    frame: Frame
    whole_m: Point

    def box(self, along_m: Point, up_m: Point) -> str:
        """Path round everything between two lengths along the cut and two heights."""
        (x1, y1), (x2, y2) = self.frame.at(along_m[0], up_m[0]), self.frame.at(along_m[1], up_m[1])
        return line((x1, y1), (x2, y1), (x2, y2), (x1, y2)) + "z"

    def outline(self, level: Level) -> Outline:
        """Outline of a level; empty where nobody drew it."""
        return level.outline or self.building.outline

    def reach_m(self, level: Level) -> Point:
        """How far a level reaches along the cut, before it and behind it."""
        along_m = [self.cut.split(*corner)[0] for corner in self.outline(level)]
        return (min(along_m), max(along_m)) if along_m else self.whole_m


def section(installed: Installed, cut: Cut) -> Figure:
    """Section through the building.

    Parameters
    ----------
    installed : Installed
        Building, devices and links. [-]
    cut : Cut
        Where it is cut. [-]
    """
    building = installed.building
    marks = [one for one in installed.marks if one.place]
    side = _side(installed, marks, cut)
    frame = side.frame
    canvas = Canvas(Element("g"), frame, Taken(WIDTH, frame.height))
    _add_levels(canvas, side)
    _add_uprights(canvas, side)
    spots = spots_of({one.id: frame.at(*_seen(one, building, cut)) for one in marks}, n_sides=2)
    on = {one.id: one.place.level for one in marks if one.place}
    between = [
        one for one in installed.strokes if one.a in on and one.b in on and on[one.a] != on[one.b]
    ]
    keep_off(canvas.taken, spots)
    courses = courses_of(between, spots, frame.height)
    add_strokes(canvas, between, courses, spots.is_crowd)
    canvas.taken.take((0, frame.bottom + 12, WIDTH, frame.height))
    n_nameless = add_marks(canvas, marks, spots, own_lines(between, courses), is_plan=False)
    _add_level_names(canvas, side)
    add_margins(canvas, between, courses, spots.is_crowd)
    frame.add_bar(canvas.group)
    about = (
        f"Section at {'y' if cut.is_along_x else 'x'} = {cut.at_m:g} m, with levels "
        f"{listed([one.id for one in building.levels], most=100)}, {counted(len(marks), 'device')} "
        f"and {counted(n_drawn(between), 'link')} drawn between levels."
    )
    notes = _notes(frame, cut, n_nameless)
    return Figure("Section", about, WIDTH, frame.height, canvas.group, notes)


def _notes(frame: Frame, cut: Cut, n_nameless: int) -> tuple[str, ...]:
    where = (
        f"Cut at {'y' if cut.is_along_x else 'x'} = {cut.at_m:g} m (marked on the plans) and seen "
        f"from their {'lower' if cut.is_along_x else 'right'} edge. Walls are those at the cut; "
        "devices are all, before it and behind it; links are those from level to level."
    )
    told = [where]
    if frame.rise > 1:
        told.append(f"Heights are drawn {frame.rise} times as large as lengths.")
    if n_nameless:
        told.append(f"{counted(n_nameless, 'device')} behind others without a name: see the plans.")
    return tuple(told)


def _seen(mark: Mark, building: Building, cut: Cut) -> Point:
    """How far along the cut a device hangs, and how high."""
    place = mark.place
    assert place is not None
    along_m = cut.split(place.x_m, place.y_m)[0]
    return along_m, building.level(place.level).floor_m + place.height_m


def _side(installed: Installed, marks: Sequence[Mark], cut: Cut) -> Side:
    building = installed.building
    places = [one.place for one in marks if one.place]
    along_m = [cut.split(*one)[0] for one in plan_points_m(building, places)]
    whole_m = (min(along_m), max(along_m))
    tops_m = [level.floor_m + level.height_m for level in building.levels]
    ups_m = [*tops_m, *(_seen(one, building, cut)[1] for one in marks)]
    low_m = min(level.floor_m for level in building.levels) - USUAL_SLAB_M
    frame = frame_of([(whole_m[0], min(low_m, *ups_m)), (whole_m[1], max(ups_m))], LEFT)
    high = frame.bottom - frame.top
    rise = min(MOST_RISE, max(1, math.floor(LEAST_HIGH / high)))
    return Side(building, cut, replace(frame, rise=rise, foot=FOOT), whole_m)


def _add_levels(canvas: Canvas, side: Side) -> None:
    """Draw the room of each level, and its slab: dark where it is cut, pale behind."""
    below: Level | None = None
    for level in side.building.levels:
        reach_m, top_m = side.reach_m(level), level.floor_m + level.height_m
        group = put(canvas.group, "g")
        put(group, "path", "floor", d=side.box(reach_m, (level.floor_m, top_m)))
        deep_m = level.floor_m - (below.floor_m + below.height_m) if below else USUAL_SLAB_M
        if not LEAST_SLAB_M <= deep_m <= MOST_SLAB_M:
            deep_m = USUAL_SLAB_M
        span_m = (level.floor_m - deep_m, level.floor_m)
        slab = put(canvas.group, "g", data_part=visible(f"slab under {level.id}"))
        say(slab, f"slab under {level.id}: {level.slab}")
        put(slab, "path", "slab beyond", d=side.box(reach_m, span_m))
        outline = side.outline(level)
        whole = side.cut.spans_m(outline) if outline else [reach_m]
        pieces = _less(whole, [one for hole in _holes(side, level) for one in hole])
        put(slab, "path", "slab", d="".join(side.box(one, span_m) for one in pieces) or "M0 0")
        below = level


def _holes(side: Side, level: Level) -> Iterator[list[Point]]:
    """Stretches of the cut at which the slab under a level is missing."""
    order = [one.id for one in side.building.levels]
    here = order.index(level.id)
    for shaft in side.building.shafts:
        if order.index(shaft.lowest) < here <= order.index(shaft.highest):
            yield side.cut.spans_m(shaft.outline)
    for opening in side.building.openings:
        if opening.level == level.id:
            yield side.cut.spans_m(opening.outline)


def _less(spans_m: Iterable[Point], holes_m: Iterable[Point]) -> list[Point]:
    """Stretches without the holes in them."""
    left = list(spans_m)
    for begin_m, end_m in holes_m:
        pieces = [
            piece
            for one, other in left
            for piece in ((one, min(other, begin_m)), (max(one, end_m), other))
        ]
        left = [(one, other) for one, other in pieces if other > one]
    return left


def _add_uprights(canvas: Canvas, side: Side) -> None:
    """Draw what stands at the cut: walls with doors and windows, linings, pillars, boxes."""
    for wall in side.building.walls:
        share = side.cut.met(*_ends(wall))
        if share is not None:
            _add_wall(canvas, side, wall, share)
    for shaft in side.building.shafts:
        lowest, highest = (side.building.level(one) for one in (shaft.lowest, shaft.highest))
        up_m = (lowest.floor_m, highest.floor_m + highest.height_m)
        what = f"lining of shaft {shaft.id}: {shaft.lining}"
        for edge_m in sorted({one for span in side.cut.spans_m(shaft.outline) for one in span}):
            if shaft.lining:
                _upright(canvas, side, (what, shaft.lining), edge_m, [up_m])
    for plate in side.building.plates:
        _add_plate(canvas, side, plate)
    for pillar in side.building.pillars:
        lowest, highest = (side.building.level(one) for one in (pillar.lowest, pillar.highest))
        up_m = (lowest.floor_m, highest.floor_m + highest.height_m)
        corners = corners_m(pillar.x_m, pillar.y_m, pillar.width_m, pillar.depth_m)
        _add_box(
            canvas, side, (f"pillar {pillar.id}: {pillar.construction}", "block"), corners, up_m
        )
    for one in side.building.obstacles:
        foot_m = side.building.level(one.level).floor_m + one.foot_m
        corners = corners_m(one.x_m, one.y_m, one.width_m, one.depth_m)
        up_m = (foot_m, foot_m + one.height_m)
        _add_box(canvas, side, (f"{one.kind} {one.id}", "moving box"), corners, up_m)


def _add_box(
    canvas: Canvas, side: Side, told: tuple[str, str], corners: Outline, up_m: Point
) -> None:
    """Draw a box that the cut meets."""
    for span_m in side.cut.spans_m(corners):
        made = say(put(canvas.group, "g"), told[0])
        put(made, "path", told[1], d=side.box(span_m, up_m))


def _add_wall(canvas: Canvas, side: Side, wall: Wall, share: float) -> None:
    """Draw a wall where it is cut, without the door or window that is cut."""
    level = side.building.level(wall.level)
    first, last = _ends(wall)
    begins_m, ends_m = side.cut.split(*first)[0], side.cut.split(*last)[0]
    long_m = math.dist(first, last)
    high_m = level.height_m if wall.height_m is None else min(wall.height_m, level.height_m)
    pieces = [(level.floor_m, level.floor_m + high_m)]
    for fill in fills_of(side.building, wall):
        if fill.at_m <= share * long_m <= fill.at_m + fill.width_m:
            sill_m = level.floor_m + getattr(fill, "sill_m", 0.0)
            pieces = _less(pieces, [(sill_m, sill_m + fill.height_m)])
    what = f"wall {wall.id}: {wall.construction}"
    _upright(
        canvas, side, (what, wall.construction), begins_m + (ends_m - begins_m) * share, pieces
    )


def _upright(
    canvas: Canvas, side: Side, told: tuple[str, str], at_m: float, pieces: Sequence[Point]
) -> None:
    """Draw a wall as an upright line in pieces."""
    made = side.building.construction(told[1])
    thick = thickness(made, side.frame.units_per_m)
    group = put(canvas.group, "g", f"wall {texture(made)}")
    say(group, f"{told[0]} ({made_of(made)})")
    path = "".join(line(*(side.frame.at(at_m, up_m) for up_m in piece)) for piece in pieces)
    wall_lines(group, path, thick)


def _add_plate(canvas: Canvas, side: Side, plate: Plate) -> None:
    """Draw a sloping sheet where it is cut."""
    floor_m, met = side.building.level(plate.level).floor_m, []
    for first, last in zip(plate.corners, (*plate.corners[1:], plate.corners[0]), strict=True):
        share = side.cut.met(first[:2], last[:2])
        if share is not None:
            x_m, y_m, up_m = (a + (b - a) * share for a, b in zip(first, last, strict=True))
            met.append(side.frame.at(side.cut.split(x_m, y_m)[0], floor_m + up_m))
    if len(met) == 2:
        made = say(put(canvas.group, "g"), f"plate {plate.id}: {plate.construction}")
        put(made, "path", "bar", d=line(*met))


def _add_level_names(canvas: Canvas, side: Side) -> None:
    """Write beside each level its name and the height of its floor."""
    for level in side.building.levels:
        text = f"{short(level.id)} {level.floor_m:+.1f} m".replace("+0.0", "0.0")
        left, y = side.frame.at(side.reach_m(level)[0], level.floor_m)
        spots = [Spot(left - 56, y - off) for off in (7, 20, 33)]
        spots += [Spot(left + 56, y - off) for off in (7, 20, 33)]
        spot = canvas.taken.placed(text, LEVEL_SIZE, spots)
        if spot is not None:
            write(canvas.group, "name", text, spot, LEVEL_SIZE)
