"""Devices as they are marked in a picture, and how the marks are drawn."""

import math
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from resilience.building.site import Kind, Place
from resilience.report.drawing.frame import TIP_LEFT, TIP_LINES, TIP_SIZE, WIDTH, Frame, Point
from resilience.report.drawing.ink import ADVANCE, Element, line, put, say, short
from resilience.report.drawing.labels import Spot, Taken, around
from resilience.report.words import visible

REACH = 7.0  # half the size of a sign
CROWD = 80  # marks from which on signs and names are smaller
NAME_SIZE, SMALL_NAME_SIZE, MARGIN_SIZE = 12.0, 9.0, 8.5
HOLES = {0.0: 0.0, 0.001: 0.4, 0.01: 0.62, 0.05: 0.82}  # by the share from which on
TIP_LETTERS = int((WIDTH - TIP_LEFT - 10) / (ADVANCE * TIP_SIZE))


@dataclass(frozen=True, slots=True)
class Mark:
    """One device in a picture.

    Parameters
    ----------
    id : str
        Its id. [-]
    kind : Kind
        What it is for. [-]
    place : Place or None
        Where it hangs. [-]
    told : str
        What a pointer finds. [-]
    ways : str
        What stands behind its name on a plan, such as its links to other levels. [-]
    is_standby, is_frail : bool
        Whether it serves only while no other does, and whether one loss can silence it. [-]
    is_sole, is_sole_at_times : bool
        Whether it is a single point of failure, all ways of others leading through it: as drawn,
        or else in some possible buildings. [-]
    hole : float
        How much of its sign is left open: one of ``HOLES``. [-]
    """

    id: str
    kind: Kind
    place: Place | None
    told: str
    ways: str = ""
    is_standby: bool = False
    is_frail: bool = False
    is_sole: bool = False
    is_sole_at_times: bool = False
    hole: float = 0.0


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture with its title.

    Parameters
    ----------
    title, about : str
        What it is, and what somebody should know who cannot see it. [-]
    width, height : float
        Its size. [units]
    drawn : Element
        An SVG group. [-]
    notes : tuple of str
        What has to be said below it. [-]
    """

    title: str
    about: str
    width: float
    height: float
    drawn: Element
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Canvas:
    """A picture while it is drawn.

    Parameters
    ----------
    group : Element
        An SVG group that grows. [-]
    frame : Frame
        Where the metres lie. [-]
    taken : Taken
        Where no name can go any more. [-]
    """

    group: Element
    frame: Frame
    taken: Taken


@dataclass(frozen=True, slots=True)
class Spots:
    """Where the signs of a picture stand.

    Parameters
    ----------
    true, shown : dict of (float, float) by str
        Where each device is, and where its sign stands: beside that, if another is there. [units]
    reach, size : float
        Half the size of a sign, and size of the names. [units]
    is_crowd : bool
        Whether there are so many that all is drawn smaller, and less is said. [-]
    """

    true: Mapping[str, Point]
    shown: Mapping[str, Point]
    reach: float
    size: float
    is_crowd: bool


def spots_of(true: Mapping[str, Point], n_sides: int = 8) -> Spots:
    """Where signs stand, so that each can be seen as far as there is room.

    Parameters
    ----------
    true : dict of (float, float) by str
        Where each device is. [units]
    n_sides : int
        To how many sides a sign may give way; 2 are left and right. [-]
    """
    is_crowd = len(true) > CROWD
    reach = REACH - 2 if is_crowd else REACH
    shown: dict[str, Point] = {}
    for id, at in true.items():
        near = [one for one in shown.values() if math.dist(one, at) < 8 * reach]
        spots = _beside(at, reach, n_sides)
        shown[id] = next(
            (one for one in spots if all(math.dist(one, other) >= 2 * reach for other in near)), at
        )
    return Spots(true, shown, reach, SMALL_NAME_SIZE if is_crowd else NAME_SIZE, is_crowd)


def keep_off(taken: Taken, spots: Spots) -> None:
    """Keep names off all signs.

    Parameters
    ----------
    taken : Taken
        Where no name can go. [-]
    spots : Spots
        Where signs stand. [-]
    """
    reach = spots.reach + 1
    for x, y in spots.shown.values():
        taken.take((x - reach, y - reach, x + reach, y + reach))


def _beside(at: Point, reach: float, n_sides: int) -> Iterator[Point]:
    """A point, then points round it."""
    yield at
    for ring in (2.1, 4.2):
        for step in range(n_sides):
            turn = math.tau * step / n_sides
            yield at[0] + math.cos(turn) * ring * reach, at[1] - math.sin(turn) * ring * reach


def add_marks(
    canvas: Canvas, marks: Sequence[Mark], spots: Spots, own: Mapping[str, str], is_plan: bool
) -> int:
    """Draw devices with their names; returns how many names found no room.

    Parameters
    ----------
    canvas : Canvas
        The picture; all signs are taken. [-]
    marks : sequence of Mark
        The devices. [-]
    spots : Spots
        Where they stand. [-]
    own : dict of str by str
        Paths of the links of each. [-]
    is_plan : bool
        Whether devices tell what they are below the picture, and can be stepped through. [-]
    """
    n_nameless = 0
    for mark in marks:
        at = spots.shown[mark.id]
        classes = f"device {mark.kind.value}{' standby' if mark.is_standby else ''}"
        made = say(
            put(canvas.group, "g", classes, data_device=visible(mark.id), role="img"), mark.told
        )
        if is_plan:
            made.set("tabindex", "0")
        if mark.id in own:
            put(made, "path", "own", d=own[mark.id])
        if at != spots.true[mark.id]:
            put(made, "path", "leader", d=line(spots.true[mark.id], at))
        put(made, "path", "sign", d=sign(mark.kind, at, spots.reach))
        if mark.hole:
            put(made, "circle", "gap", cx=at[0], cy=at[1], r=spots.reach * mark.hole)
        if mark.is_frail:
            put(made, "circle", "ring", cx=at[0], cy=at[1], r=spots.reach + 3)
        if mark.is_sole or mark.is_sole_at_times:
            look = "sole" if mark.is_sole else "sole seldom"
            put(made, "path", look, d=bracket(at, spots.reach + 4))
        n_nameless += not _name(made, mark, spots, canvas.taken, is_plan)
        if is_plan:
            _tip(made, mark.told, canvas.frame)
    return n_nameless


def _name(made: Element, mark: Mark, spots: Spots, taken: Taken, is_plan: bool) -> bool:
    """Write the name of a device where there is room; returns whether there was."""
    at, text = spots.shown[mark.id], short(mark.id) + (mark.ways if is_plan else "")
    has_corners = mark.is_sole or mark.is_sole_at_times
    reach = spots.reach + (4 if has_corners else 3 if mark.is_frail else 0)
    tries = (one for one in around(at, reach, text, spots.size) if is_plan or not one.is_far)
    spot = taken.placed(text, spots.size, tries)
    if spot is None:
        return False
    if spot.is_far:
        put(made, "path", "leader", d=line(at, (spot.x, spot.y)))
    write(made, "name halo", text, spot, spots.size)
    return True


def write(group: Element, classes: str, text: str, spot: Spot, size: float) -> Element:
    """Write a text at a spot.

    Parameters
    ----------
    group : Element
        Where it goes. [-]
    classes, text : str
        How it looks, and what is shown. [-]
    spot : Spot
        Its middle. [units]
    size : float
        Size of its letters. [units]
    """
    made = put(group, "text", classes, x=spot.x, y=spot.y + 0.35 * size, font_size=size)
    if spot.turn_deg:
        made.set("transform", f"rotate({spot.turn_deg:.1f} {spot.x:.1f} {spot.y:.1f})")
    made.text = text
    return made


def _tip(made: Element, told: str, frame: Frame) -> None:
    """Say below the picture what a device is, seen only while it is pointed at."""
    lines = textwrap.wrap(visible(told), TIP_LETTERS, max_lines=TIP_LINES, placeholder=" …")
    tip = put(made, "text", "tip left", font_size=TIP_SIZE)
    for n, one in enumerate(lines):
        put(tip, "tspan", x=TIP_LEFT, y=frame.bottom + 28 + 14 * n).text = one


def bracket(at: Point, reach: float) -> str:
    """Four corners round a sign.

    Parameters
    ----------
    at : (float, float)
        Its middle. [units]
    reach : float
        Half the side of the square whose corners they are. [units]
    """
    (x, y), long = at, reach * 0.6
    return "".join(
        line(
            (x + a * reach, y + b * (reach - long)),
            (x + a * reach, y + b * reach),
            (x + a * (reach - long), y + b * reach),
        )
        for a in (-1, 1)
        for b in (-1, 1)
    )


def hole_of(share: float) -> float:
    """How much of a sign is left open where its device is silent for a share of the time.

    Parameters
    ----------
    share : float
        From 0 to 1. [-]
    """
    return next(hole for least, hole in reversed(HOLES.items()) if share >= least)


def sign(kind: Kind, at: Point, reach: float) -> str:
    """Outline of the sign of a kind: a square, a diamond or a disc.

    Parameters
    ----------
    kind : Kind
        What a device is for. [-]
    at : (float, float)
        Its middle. [units]
    reach : float
        Half its size. [units]
    """
    x, y = at
    if kind is Kind.SENSOR:
        half = f"a{reach:g} {reach:g} 0 1 0 "
        return f"{line((x - reach, y))}{half}{2 * reach:g} 0{half}{-2 * reach:g} 0z"
    if kind is Kind.GATEWAY:
        near = reach * 0.95
        corners = ((x - near, y - near), (x + near, y - near), (x + near, y + near))
        return line(*corners, (x - near, y + near)) + "z"
    far = reach * 1.2
    return line((x, y - far), (x + far, y), (x, y + far), (x - far, y)) + "z"
