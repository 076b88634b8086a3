"""The plan of a level with who hears whom on it, and the graph of what nobody gave a place."""

from collections.abc import Sequence
from itertools import takewhile
from xml.etree.ElementTree import Element

from resilience.building.structure import Building, Level
from resilience.report.drawing.fabric import PART_SIZE, Ground, Name, add_fabric
from resilience.report.drawing.frame import SIDE, WIDTH, Cut, Frame, Point, corners_m
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
    Stroke,
    add_margins,
    add_strokes,
    courses_of,
    n_drawn,
    own_lines,
)
from resilience.report.words import counted, listed, visible

HIGH = 560.0  # of a graph
MANY, MOST_MISSING = 50, 40  # names on a level
NOTE = (
    "Nobody said where these hang, so this is a plain graph: its distances and sides mean nothing."
)


def level_plan(installed: Installed, level: Level, frame: Frame, cut: Cut) -> Figure:
    """Plan of one level.

    Parameters
    ----------
    installed : Installed
        Building, devices and links. [-]
    level : Level
        The level. [-]
    frame : Frame
        The same for all levels. [-]
    cut : Cut
        Where the building is cut for its section. [-]
    """
    canvas = Canvas(Element("g"), frame, Taken(WIDTH, frame.height))
    names = add_fabric(Ground(installed.building, level, frame, canvas.group))
    _add_cut(canvas, cut)
    marks = [one for one in installed.marks if one.place and one.place.level == level.id]
    spots = spots_of({one.id: _at(one, frame) for one in marks})
    keep_off(canvas.taken, spots)
    _keep_free(canvas, installed.building, level)
    here = [one for one in installed.strokes if {one.a, one.b} <= spots.true.keys()]
    courses = courses_of(here, spots, frame.height)
    add_strokes(canvas, here, courses, spots.is_crowd)
    n_nameless = add_marks(canvas, marks, spots, own_lines(here, courses), is_plan=True)
    notes = _add_names(canvas, names)
    if n_nameless:
        some = counted(n_nameless, "device")
        notes.append(f"No room for the names of {some}: point at the sign.")
    add_margins(canvas, here, courses, spots.is_crowd)
    frame.add_bar(canvas.group)
    return Figure(
        f"Level {visible(level.id)}",
        _about(level, marks, n_drawn(here), names),
        WIDTH,
        frame.height,
        canvas.group,
        tuple(notes),
    )


def _at(mark: Mark, frame: Frame) -> Point:
    assert mark.place is not None
    return frame.at(mark.place.x_m, mark.place.y_m)


def _add_cut(canvas: Canvas, cut: Cut) -> None:
    """Mark at both edges where the building is cut for its section."""
    frame = canvas.frame
    (left, top), (right, bottom) = (
        frame.at(frame.low_m[0], frame.high_m[1]),
        frame.at(frame.high_m[0], frame.low_m[1]),
    )
    x, y = frame.at(cut.at_m, cut.at_m)
    if cut.is_along_x:
        ends = ((left - 26, y), (left - 6, y)), ((right + 6, y), (right + 26, y))
        beside = Spot(left - 20, y + 10)
    else:
        ends = ((x, top - 24), (x, top - 6)), ((x, bottom + 4), (x, bottom + 12))
        beside = Spot(x + 18, top - 14)
    made = say(put(canvas.group, "g"), "Here the section is cut.")
    put(made, "path", "cut", d="".join(line(*one) for one in ends))
    write(made, "part", "cut", beside, PART_SIZE)
    for (x1, y1), (x2, y2) in ends:
        canvas.taken.take((x1 - 3, y1 - 3, x2 + 3, y2 + 3))
    canvas.taken.take(beside.boxes("cut", PART_SIZE)[0])


def _keep_free(canvas: Canvas, building: Building, level: Level) -> None:
    """Keep names off pillars and what stands below the plan, and if possible off walls."""
    canvas.taken.take((0, canvas.frame.bottom + 12, WIDTH, canvas.frame.height))
    for pillar in building.pillars:
        corners = corners_m(pillar.x_m, pillar.y_m, pillar.width_m, pillar.depth_m)
        left, bottom = canvas.frame.at(*corners[0])
        right, top = canvas.frame.at(*corners[2])
        canvas.taken.take((left, top, right, bottom))
    for wall in building.walls:
        if wall.level == level.id:
            first = canvas.frame.at(wall.x1_m, wall.y1_m)
            canvas.taken.take_line(first, canvas.frame.at(wall.x2_m, wall.y2_m))


def _add_names(canvas: Canvas, names: Sequence[Name]) -> list[str]:
    """Write names of things, those with the least choice first; returns what is to be said."""
    missing = []
    begins = _beginnings(names)
    for name in sorted(names, key=lambda one: (len(one.spots), one.what)):
        text = short(name.text.removeprefix(begins.get(name.kind, "")))
        spot = canvas.taken.placed(text, PART_SIZE, name.spots)
        if spot is None:
            missing.append(name.what)
            continue
        if spot.is_far:
            put(canvas.group, "path", "leader", d=line(name.at, (spot.x, spot.y)))
        write(canvas.group, "part halo", text, spot, PART_SIZE)
    told = [
        f"What begins with {visible(f'{kind} {begin}')} is named by what follows."
        for kind, begin in sorted(begins.items())
    ]
    if missing:
        some = listed(sorted(missing), most=MOST_MISSING)
        told.append(f"No room for the names of {some}: point at the line.")
    return told


def _beginnings(names: Sequence[Name]) -> dict[str, str]:
    """What the names of many things of a kind begin with, which need not be said each time."""
    found = {}
    for kind in {one.kind for one in names}:
        ids = [one.text for one in names if one.kind == kind]
        pairs = zip(min(ids), max(ids), strict=False)  # all others lie between these
        begin = "".join(one for one, _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
        begin = begin.rstrip("0123456789")
        if len(ids) >= MANY and begin and begin not in ids:
            found[kind] = begin
    return found


def _about(level: Level, marks: Sequence[Mark], n_links: int, names: Sequence[Name]) -> str:
    """What the plan shows, for somebody who cannot see it."""
    ids = listed([one.id for one in marks], most=400) if marks else "no device"
    things = f" Drawn: {listed([one.what for one in names], most=400)}." if names else ""
    return (
        f"Plan of level {visible(level.id)}, floor at {level.floor_m:g} m, with {ids} and "
        f"{counted(n_links, 'link')} drawn on it.{things}"
    )


def graph(installed: Installed) -> Figure:
    """Graph of all devices without a place, with everything that they are linked to.

    Parameters
    ----------
    installed : Installed
        Building, devices and links. [-]
    """
    homeless = {one.id for one in installed.marks if one.place is None}
    strokes = [one for one in installed.strokes if {one.a, one.b} & homeless]
    shown = homeless.union(*({one.a, one.b} for one in strokes))
    marks = [one for one in installed.marks if one.id in shown]
    frame = Frame((0, 0), (WIDTH - 2 * SIDE, HIGH), 1)
    spots = spots_of(_places([one.id for one in marks], strokes, frame))
    canvas = Canvas(Element("g"), frame, Taken(WIDTH, frame.height))
    keep_off(canvas.taken, spots)
    courses = courses_of(strokes, spots, frame.height)
    add_strokes(canvas, strokes, courses, spots.is_crowd)
    canvas.taken.take((0, frame.bottom + 30, WIDTH, frame.height))
    n_nameless = add_marks(canvas, marks, spots, own_lines(strokes, courses), is_plan=True)
    add_margins(canvas, strokes, courses, spots.is_crowd)
    notes = [NOTE]
    if n_nameless:
        notes.append(f"No room for the names of {counted(n_nameless, 'device')}.")
    about = (
        f"Graph of {listed([one.id for one in marks], most=400)} with "
        f"{counted(n_drawn(strokes), 'link')} drawn."
    )
    return Figure("Graph", about, WIDTH, frame.height, canvas.group, tuple(notes))


def _places(ids: list[str], strokes: list[Stroke], frame: Frame) -> dict[str, Point]:
    """Where each device goes: near those that it is linked to, always the same."""
    import networkx

    links = networkx.Graph()
    links.add_nodes_from(ids)
    links.add_edges_from((one.a, one.b) for one in strokes)
    found = networkx.kamada_kawai_layout(links) if len(ids) > 1 else dict.fromkeys(ids, (0, 0))
    (x1, x2), (y1, y2) = ((min(side), max(side)) for side in zip(*found.values(), strict=True))
    wide, high = frame.high_m
    return {
        id: frame.at((x - x1) / (x2 - x1 or 1) * wide, (y - y1) / (y2 - y1 or 1) * high)
        for id, (x, y) in sorted(found.items())
    }
