"""Links as they are marked in a picture, and how their lines run: clear of all other signs."""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from resilience.building.structure import Building
from resilience.connectivity.hearing import LIMITS_DB, NEAR_DB, THIN_MARGIN_DB
from resilience.report.drawing.frame import WIDTH, Point
from resilience.report.drawing.ink import line, number, put, say
from resilience.report.drawing.labels import Spot
from resilience.report.drawing.marks import MARGIN_SIZE, Canvas, Mark, Spots, write
from resilience.report.words import visible

STRONG_DB = 20.0
BOW_SHARE = 0.05  # of its length by which a line gives way, beside the room of a sign
STEPS = 8  # straight pieces by which a bow is kept free


class Weight(Enum):
    """What the line of a link shows; values are the classes.

    The first four say how much it can still lose, the others how often it carries.
    """

    NEAR = "near"
    THIN = "thin"
    AMPLE = "ample"
    STRONG = "strong"
    SELDOM = "seldom"
    OFTEN = "often"
    MAINLY = "mainly"


WEAK = (Weight.NEAR, Weight.THIN)
CARRYING = {Weight.MAINLY: 0.5, Weight.OFTEN: 0.1, Weight.SELDOM: 0.01}  # shares from which on


def weight_of(margin_db: float) -> Weight:
    """How the line of a usable link looks.

    Parameters
    ----------
    margin_db : float
        Loss that it can still take. [dB]
    """
    if margin_db < LIMITS_DB[0] + NEAR_DB:
        return Weight.NEAR
    if margin_db < THIN_MARGIN_DB:
        return Weight.THIN
    return Weight.AMPLE if margin_db < STRONG_DB else Weight.STRONG


def carrying(share: float) -> Weight | None:
    """How the line of a link looks by how often it carries; None where that is next to never.

    Parameters
    ----------
    share : float
        Share of the time for which one of its ends is the parent of the other. [-]
    """
    return next((one for one, least in CARRYING.items() if share >= least), None)


@dataclass(frozen=True, slots=True)
class Stroke:
    """One link in a picture.

    Parameters
    ----------
    id, a, b : str
        Ids of the link and of its two ends. [-]
    weight : Weight
        How its line looks. [-]
    is_measured : bool
        Whether somebody measured it. [-]
    label, told : str
        What stands beside its line where there is room, and what a pointer finds. [-]
    is_drawn : bool
        Whether it has a line; without, it shows only while one of its ends is pointed at. [-]
    is_sole : bool
        Whether all ways of some lead over it, so that its label ends in an exclamation mark. [-]
    """

    id: str
    a: str
    b: str
    weight: Weight
    is_measured: bool
    label: str
    told: str
    is_drawn: bool = True
    is_sole: bool = False


@dataclass(frozen=True, slots=True)
class Installed:
    """What a picture is of.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    marks : tuple of Mark
        Its devices, in order of id. [-]
    strokes : tuple of Stroke
        Their links, those that matter most first. [-]
    """

    building: Building
    marks: tuple[Mark, ...]
    strokes: tuple[Stroke, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """How the line of a link runs: straight, or in a bow.

    Parameters
    ----------
    first, last : (float, float)
        Its ends. [units]
    pull : (float, float) or None
        Where a bow is pulled to; None where it is straight. [units]
    """

    first: Point
    last: Point
    pull: Point | None

    @property
    def path(self) -> str:
        """As SVG writes it."""
        if self.pull is None:
            return line(self.first, self.last)
        ends = " ".join(number(one) for one in (*self.pull, *self.last))
        return f"{line(self.first)}Q{ends}"

    def at(self, share: float) -> Point:
        """Return a point of it.

        Parameters
        ----------
        share : float
            0 at the first end, 1 at the last. [-]
        """
        rest, (x1, y1), (x2, y2) = 1 - share, self.first, self.last
        if self.pull is None:
            return rest * x1 + share * x2, rest * y1 + share * y2
        (x, y), both = self.pull, 2 * rest * share
        return (
            rest**2 * x1 + both * x + share**2 * x2,
            rest**2 * y1 + both * y + share**2 * y2,
        )

    def spots(self, has_middle: bool) -> Iterator[Spot]:
        """Spots on it, from its middle outwards.

        Parameters
        ----------
        has_middle : bool
            Whether the middle itself is one. [-]
        """
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78)[not has_middle :]:
            yield Spot(*self.at(share))

    @property
    def tick(self) -> str:
        """Path of a short line across its middle."""
        (x, y), long = self.at(0.5), math.dist(self.first, self.last) or 1.0
        side_x = (self.first[1] - self.last[1]) / long * 5
        side_y = (self.last[0] - self.first[0]) / long * 5
        return line((x - side_x, y - side_y), (x + side_x, y + side_y))


def courses_of(strokes: Sequence[Stroke], spots: Spots, height: float) -> dict[str, Course]:
    """How the lines of links run, by id: one that would pass through a third sign goes round it.

    Parameters
    ----------
    strokes : sequence of Stroke
        The links. [-]
    spots : Spots
        Where signs stand, those of all ends among them. [-]
    height : float
        Of the picture, in which bows stay. [units]
    """
    found = {}
    for one in strokes:
        first, last = spots.shown[one.a], spots.shown[one.b]
        others = (at for id, at in spots.shown.items() if id not in (one.a, one.b))
        is_met = any(_is_on(at, first, last, spots.reach) for at in others)
        pull = _pulled(first, last, spots.reach, height) if is_met else None
        found[one.id] = Course(first, last, pull)
    return found


def _is_on(at: Point, first: Point, last: Point, reach: float) -> bool:
    """Whether a sign lies on the straight line between two others."""
    x, y = last[0] - first[0], last[1] - first[1]
    square = x * x + y * y
    off_x, off_y = at[0] - first[0], at[1] - first[1]
    share = off_x * x + off_y * y
    return 0 < share < square and (off_x * y - off_y * x) ** 2 < reach**2 * square


def _pulled(first: Point, last: Point, reach: float, height: float) -> Point:
    """Where a bow is pulled to, so that its middle clears a sign; to the side that has room."""
    if last < first:
        first, last = last, first
    long = math.dist(first, last)
    off = 2 * (2 * reach + BOW_SHARE * long) / long
    x, y = (first[0] + last[0]) / 2, (first[1] + last[1]) / 2
    off_x, off_y = off * (last[1] - first[1]), off * (first[0] - last[0])
    has_room = 0 < x + off_x < WIDTH and 0 < y + off_y < height
    return (x + off_x, y + off_y) if has_room else (x - off_x, y - off_y)


def add_strokes(
    canvas: Canvas, strokes: Sequence[Stroke], courses: Mapping[str, Course], is_crowd: bool
) -> None:
    """Draw links from sign to sign; a measured one has a bar across its middle.

    Parameters
    ----------
    canvas : Canvas
        The picture; names keep off lines as far as they can. [-]
    strokes : sequence of Stroke
        The links; those that have no line of their own are passed over. [-]
    courses : dict of Course by str
        How their lines run. [-]
    is_crowd : bool
        Whether lines are drawn finer. [-]
    """
    group = put(canvas.group, "g", "crowd" if is_crowd else "")
    for stroke in strokes:
        if not stroke.is_drawn:
            continue
        course = courses[stroke.id]
        classes = f"link {stroke.weight.value}{' measured' if stroke.is_measured else ''}"
        made = say(put(group, "g", classes, data_link=visible(stroke.id)), stroke.told)
        put(made, "path", d=course.path)
        if stroke.is_measured:
            put(made, "path", "tick", d=course.tick)
        n = STEPS if course.pull else 1
        for step in range(n):
            canvas.taken.take_line(course.at(step / n), course.at((step + 1) / n))


def n_drawn(strokes: Sequence[Stroke]) -> int:
    """How many links have a line of their own."""
    return sum(one.is_drawn for one in strokes)


def own_lines(strokes: Sequence[Stroke], courses: Mapping[str, Course]) -> dict[str, str]:
    """Paths of the links of each device, which light up while it is pointed at.

    Parameters
    ----------
    strokes : sequence of Stroke
        The links, those without a line of their own too. [-]
    courses : dict of Course by str
        How their lines run. [-]
    """
    found: dict[str, str] = defaultdict(str)
    for one in strokes:
        for id in (one.a, one.b):
            found[id] += courses[one.id].path
    return found


def add_margins(
    canvas: Canvas, strokes: Sequence[Stroke], courses: Mapping[str, Course], is_crowd: bool
) -> None:
    """Write on each link what it says, where there is room; in a crowd only on weak ones.

    Parameters
    ----------
    canvas : Canvas
        The picture. [-]
    strokes : sequence of Stroke
        The links, those that matter most first. [-]
    courses : dict of Course by str
        How their lines run. [-]
    is_crowd : bool
        Whether there are so many that less is said. [-]
    """
    for stroke in strokes:
        is_told = stroke.is_sole or not is_crowd or stroke.weight in WEAK
        if not stroke.is_drawn or not is_told:
            continue
        label = f"{stroke.label}!" if stroke.is_sole else stroke.label
        roomy = f" {label} "  # else two figures side by side read as one
        tries = courses[stroke.id].spots(not stroke.is_measured)
        spot = canvas.taken.placed(roomy, MARGIN_SIZE, tries)
        if spot is not None:
            classes = f"margin halo{' measured' if stroke.is_measured else ''}"
            write(canvas.group, classes, label, spot, MARGIN_SIZE)
