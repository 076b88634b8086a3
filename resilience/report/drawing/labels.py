"""Names that do not cover each other: each takes the first free spot near what it names."""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from resilience.report.drawing.frame import Point
from resilience.report.drawing.ink import width_of

CELL = 24.0  # of the grid in which taken boxes are looked up
LINE_STEP = 6.0
HIGH = 1.08  # of a line of text, as a share of its size
GAP = 3.0

SHARES = (0.5, *(0.5 + side * step / 20 for step in range(1, 13) for side in (1, -1)))
FARTHER = (13.0, 26.0, 40.0)

Box = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a text may stand.

    Parameters
    ----------
    x, y : float
        Its middle. [units]
    turn_deg : float
        How far it is turned, clockwise, from -90 up to 90. [deg]
    is_far : bool
        Whether a line has to lead to what it names. [-]
    """

    x: float
    y: float
    turn_deg: float = 0.0
    is_far: bool = False

    def boxes(self, text: str, size: float) -> list[Box]:
        """Return the room that a text takes here: one box, or a row of them where it is turned.

        Parameters
        ----------
        text : str
            What is shown. [-]
        size : float
            Size of its letters. [units]
        """
        long, high = width_of(text, size), HIGH * size
        if not self.turn_deg:
            return [(self.x - long / 2, self.y - high / 2, self.x + long / 2, self.y + high / 2)]
        turn = math.radians(self.turn_deg)
        along, across = (math.cos(turn), math.sin(turn)), abs(math.sin(2 * turn)) * high / 4
        half, n = high / 2 + across, max(2, math.ceil(2 * long / high))
        steps = [(-long / 2 + high / 2) * (1 - 2 * one / (n - 1)) for one in range(n)]
        centres = [(self.x + along[0] * one, self.y + along[1] * one) for one in steps]
        return [(x - half, y - half, x + half, y + half) for x, y in centres]


class Taken:
    """What of a picture is taken: by signs and names, which nothing may cover, and by walls.

    Parameters
    ----------
    width, height : float
        Size of the picture; names stay inside. [units]
    """

    def __init__(self, width: float, height: float) -> None:
        self._width, self._height = width, height
        self._hard: dict[tuple[int, int], list[Box]] = defaultdict(list)
        self._soft: dict[tuple[int, int], list[Box]] = defaultdict(list)

    def take(self, box: Box) -> None:
        """Keep every name off a box."""
        for cell in _cells(box):
            self._hard[cell].append(box)

    def take_line(self, first: Point, last: Point) -> None:
        """Keep names off a line where another spot is free."""
        n = max(1, math.ceil(math.dist(first, last) / LINE_STEP))
        for step in range(n + 1):
            x, y = (a + (b - a) * step / n for a, b in zip(first, last, strict=True))
            box = (x - 2, y - 2, x + 2, y + 2)
            for cell in _cells(box):
                self._soft[cell].append(box)

    def is_free(self, boxes: Iterable[Box], is_strict: bool = False) -> bool:
        """Whether boxes lie in the picture and cover nothing.

        Parameters
        ----------
        boxes : iterable of Box
            Where something would stand. [units]
        is_strict : bool
            Whether lines count. [-]
        """
        maps = (self._hard, self._soft) if is_strict else (self._hard,)
        for box in boxes:
            if box[0] < 0 or box[1] < 0 or box[2] > self._width or box[3] > self._height:
                return False
            for cell in _cells(box):
                if any(_meet(box, other) for one in maps for other in one.get(cell, ())):
                    return False
        return True

    def placed(self, text: str, size: float, spots: Iterable[Spot]) -> Spot | None:
        """Take the first free spot for a text, best one that covers no line; None without any.

        Parameters
        ----------
        text : str
            What is shown. [-]
        size : float
            Size of its letters. [units]
        spots : iterable of Spot
            The dearest first. [-]
        """
        tried = list(spots)
        near = [one for one in tried if not one.is_far]
        far = [one for one in tried if one.is_far]
        for some, is_strict in ((near, True), (near, False), (far, True), (far, False)):
            for spot in some:
                boxes = spot.boxes(text, size)
                if self.is_free(boxes, is_strict):
                    for box in boxes:
                        self.take(box)
                    return spot
        return None


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    left, top, right, bottom = (math.floor(one / CELL) for one in box)
    return ((x, y) for x in range(left, right + 1) for y in range(top, bottom + 1))


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def around(at: Point, reach: float, text: str, size: float) -> Iterator[Spot]:
    """Spots beside a sign, then in growing rings about it.

    Parameters
    ----------
    at : (float, float)
        Its middle. [units]
    reach : float
        Half its size. [units]
    text : str
        What is shown. [-]
    size : float
        Size of its letters. [units]
    """
    (x, y), half, high = at, width_of(text, size) / 2, HIGH * size / 2
    beside, above = reach + GAP + half, reach + 1 + high
    yield from (Spot(x + beside, y), Spot(x - beside, y), Spot(x, y - above), Spot(x, y + above))
    yield from (
        Spot(x + side * (beside - GAP), y + up * (above - 3)) for up in (-1, 1) for side in (1, -1)
    )
    for ring in (1.0, 2.0, 3.0, 4.5, 6.0):
        for step in range(16):
            turn = math.tau * step / 16
            out = reach + ring * 1.3 * size
            yield Spot(
                x + math.cos(turn) * (out + half), y + math.sin(turn) * (out + high), is_far=True
            )


def along(first: Point, last: Point, off: float) -> Iterator[Spot]:
    """Spots beside a line, turned as it runs, from its middle outwards; then farther off.

    Parameters
    ----------
    first, last : (float, float)
        Its ends. [units]
    off : float
        How far from the line the middle of the text stands, above 0. [units]
    """
    if last < first:
        first, last = last, first
    turn = math.atan2(last[1] - first[1], last[0] - first[0])
    if turn > math.radians(89):  # upright texts all read from the same side
        turn -= math.pi
    across = (math.sin(turn), -math.cos(turn))
    for away in (off, *(off + one for one in FARTHER)):
        for share in SHARES:
            x, y = (a + (b - a) * share for a, b in zip(first, last, strict=True))
            for side in (away, -away):
                yield Spot(
                    x + side * across[0], y + side * across[1], math.degrees(turn), away > off
                )
