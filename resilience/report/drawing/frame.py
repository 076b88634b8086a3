"""From metres to a picture: one scale for all levels, and a bar that shows it."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from resilience.building.site import Place
from resilience.building.structure import Building, Obstacle, Opening, Pillar, Shaft
from resilience.report.drawing.ink import Element, line, put

WIDTH = 960.0
MOST_HIGH = 1000.0  # of what is drawn; a page has room for it
SIDE, HEAD, FOOT = 40.0, 30.0, 66.0  # around what is drawn
LEAST_M = 2.0  # a lone device still stands on some ground
BAR_SHARE = 0.2  # of the width that the bar may take
TIP_LINES, TIP_SIZE, TIP_LEFT = 3, 11.0, 290.0
TIP_HIGH = 28.0  # below the bar, of all lines but the first

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the metres of a drawing lie in its picture.

    Parameters
    ----------
    low_m, high_m : (float, float)
        Least and greatest of both coordinates. [m]
    units_per_m : float
        Scale. [units/m]
    left, top : float
        Room beside and above what is drawn. [units]
    rise : int
        How many times greater the scale is upright than level. [-]
    foot : float
        Room below what is drawn. [units]
    """

    low_m: Point
    high_m: Point
    units_per_m: float
    left: float = SIDE
    top: float = HEAD
    rise: int = 1
    foot: float = FOOT

    def at(self, x_m: float, y_m: float) -> Point:
        """Return where a point lies in the picture, which counts downwards.

        Parameters
        ----------
        x_m, y_m : float
            On the plan; on a section along it, and the height. [m]
        """
        x = self.left + (x_m - self.low_m[0]) * self.units_per_m
        return x, self.top + (self.high_m[1] - y_m) * self.units_per_m * self.rise

    @property
    def bottom(self) -> float:
        """Lower edge of what is drawn."""
        return self.at(*self.low_m)[1]

    @property
    def height(self) -> float:
        """Height of the picture."""
        return self.bottom + self.foot

    def add_bar(self, group: Element) -> None:
        """Draw the bar that shows the scale, below what is drawn.

        Parameters
        ----------
        group : Element
            The picture. [-]
        """
        length_m = bar_m(BAR_SHARE * WIDTH / self.units_per_m)
        x, y = self.left, self.bottom + 24
        end = x + length_m * self.units_per_m
        path = (
            line((x, y - 4), (x, y + 4)) + line((x, y), (end, y)) + line((end, y - 4), (end, y + 4))
        )
        put(group, "path", "bar", d=path)
        put(group, "text", "left", x=end + 8, y=y + 4, font_size=TIP_SIZE).text = f"{length_m:g} m"


def bar_m(most_m: float) -> float:
    """Longest of 1, 2, 5, 10, 20 and so on that is not above a length.

    Parameters
    ----------
    most_m : float
        The length, above 0. [m]
    """
    power = 10.0 ** math.floor(math.log10(most_m))
    return max(step * power for step in (1, 2, 5) if step * power <= most_m)


def frame_of(points_m: Iterable[Point], left: float = SIDE) -> Frame:
    """Frame that holds some points.

    Parameters
    ----------
    points_m : iterable of (float, float)
        At least one. [m]
    left : float
        Room at the left. [units]
    """
    xs_m, ys_m = zip(*points_m, strict=True)
    (left_m, right_m), (low_m, high_m) = _span(xs_m), _span(ys_m)
    scale = min((WIDTH - left - SIDE) / (right_m - left_m), MOST_HIGH / (high_m - low_m))
    return Frame((left_m, low_m), (right_m, high_m), scale, left)


def _span(values_m: tuple[float, ...]) -> Point:
    low_m, high_m = min(values_m), max(values_m)
    lacking_m = max(0.0, LEAST_M - (high_m - low_m)) / 2
    return low_m - lacking_m, high_m + lacking_m


def plan_points_m(building: Building, places: Iterable[Place]) -> list[Point]:
    """Everything on the plans that a frame has to hold.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    places : iterable of Place
        Where devices hang. [-]
    """
    found = list(building.outline)
    for level in building.levels:
        found += level.outline
    for wall in building.walls:
        found += [(wall.x1_m, wall.y1_m), (wall.x2_m, wall.y2_m)]
    holes: tuple[Shaft | Opening, ...] = (*building.shafts, *building.openings)
    for hole in holes:
        found += hole.outline
    for plate in building.plates:
        found += [(x_m, y_m) for x_m, y_m, _ in plate.corners]
    boxes: tuple[Pillar | Obstacle, ...] = (*building.pillars, *building.obstacles)
    for box in boxes:
        found += corners_m(box.x_m, box.y_m, box.width_m, box.depth_m)
    return found + [(one.x_m, one.y_m) for one in places]


def corners_m(x_m: float, y_m: float, width_m: float, depth_m: float) -> tuple[Point, ...]:
    """Corners of a box on the plan.

    Parameters
    ----------
    x_m, y_m : float
        Its centre. [m]
    width_m, depth_m : float
        Its extent along x and along y. [m]
    """
    half_x_m, half_y_m = width_m / 2, depth_m / 2
    return (
        (x_m - half_x_m, y_m - half_y_m),
        (x_m + half_x_m, y_m - half_y_m),
        (x_m + half_x_m, y_m + half_y_m),
        (x_m - half_x_m, y_m + half_y_m),
    )


@dataclass(frozen=True, slots=True)
class Cut:
    """An upright cut through the building, along one axis of the plan.

    Parameters
    ----------
    is_along_x : bool
        Whether it runs along x, at one y; else along y, at one x. [-]
    at_m : float
        Where it lies on the other axis. [m]
    """

    is_along_x: bool
    at_m: float

    def split(self, x_m: float, y_m: float) -> Point:
        """How far a point lies along the cut, and how far behind it.

        Parameters
        ----------
        x_m, y_m : float
            On the plan. [m]
        """
        return (x_m, y_m - self.at_m) if self.is_along_x else (y_m, self.at_m - x_m)

    def met(self, first: Point, last: Point) -> float | None:
        """Share of a line on the plan at which the cut meets it; None where it does not.

        Parameters
        ----------
        first, last : (float, float)
            Ends of the line; the last is no part of it, so that an outline is met an even number
            of times. [m]
        """
        one, other = self.split(*first)[1], self.split(*last)[1]
        return one / (one - other) if (one < 0) != (other < 0) else None

    def spans_m(self, outline: Iterable[Point]) -> list[Point]:
        """Stretches of the cut that lie inside an outline.

        Parameters
        ----------
        outline : iterable of (float, float)
            Its corners. [m]
        """
        corners = list(outline)
        found = []
        for first, last in zip(corners, (*corners[1:], *corners[:1]), strict=True):
            share = self.met(first, last)
            if share is not None:
                begins_m, ends_m = self.split(*first)[0], self.split(*last)[0]
                found.append(begins_m + (ends_m - begins_m) * share)
        found.sort()
        return list(zip(found[::2], found[1::2], strict=True))
