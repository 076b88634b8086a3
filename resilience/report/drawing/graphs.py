"""What nobody gave a place: devices and the links between them, as a plain graph."""

from xml.etree.ElementTree import Element

from resilience.report.drawing.frame import SIDE, WIDTH, Frame, Point
from resilience.report.drawing.labels import Taken
from resilience.report.drawing.marks import (
    Canvas,
    Figure,
    Installed,
    Stroke,
    add_margins,
    add_marks,
    add_strokes,
    own_lines,
    spots_of,
)
from resilience.report.words import counted, listed

HIGH = 560.0
NOTE = (
    "Nobody said where these hang, so this is a plain graph: its distances and sides mean nothing."
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
    drawn = [one for one in strokes if one.is_drawn]
    add_strokes(canvas, drawn, spots)
    canvas.taken.take((0, frame.bottom + 30, WIDTH, frame.height))
    n_nameless = add_marks(canvas, marks, spots, own_lines(strokes, spots), is_plan=True)
    add_margins(canvas, drawn, spots)
    notes = [NOTE]
    if n_nameless:
        notes.append(f"No room for the names of {counted(n_nameless, 'device')}.")
    about = (
        f"Graph of {listed([one.id for one in marks], most=400)} with "
        f"{counted(len(drawn), 'link')} drawn."
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
