"""Straight walls while they are put together, and what lies near to what on the plan."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.drawings.plan import Point
from resilience.errors import UsageError

THICKEST_M = 0.60
SAME_M = 0.005  # drawings are not exact
PARALLEL = math.sin(math.radians(1))
MEETING = math.sin(math.radians(15))  # a smaller angle is the bend of a curve
MOST_PAIRS = 2_000_000
AT_ONCE = 1000


@dataclass(slots=True)
class Run:
    """A straight wall while it is put together.

    Parameters
    ----------
    a, b : (float, float)
        Its ends. [m]
    construction : str
        What it is made of. [-]
    thick_m : float
        Between its two faces; 0 for a single line. [m]
    id : str
        What the drawing calls it; empty for nothing. [-]
    height_m : float or None
        Height above the floor; None reaches the ceiling. [m]
    source : str
        Layer that it is drawn on; empty where there are none. [-]
    """

    a: Point
    b: Point
    construction: str
    thick_m: float = 0.0
    id: str = ""
    height_m: float | None = None
    source: str = ""

    @property
    def length_m(self) -> float:
        """From end to end."""
        return math.dist(self.a, self.b)

    def along_m(self, point: Point) -> float:
        """How far along the wall, from its first end, a point is."""
        ux, uy = self.direction
        return (point[0] - self.a[0]) * ux + (point[1] - self.a[1]) * uy

    def off_m(self, point: Point) -> float:
        """How far a point is off the wall's line, above 0 on its left."""
        ux, uy = self.direction
        return (point[1] - self.a[1]) * ux - (point[0] - self.a[0]) * uy

    def at(self, along_m: float) -> Point:
        """Return the point so far along the wall."""
        ux, uy = self.direction
        return (self.a[0] + along_m * ux, self.a[1] + along_m * uy)

    @property
    def direction(self) -> Point:
        """Unit vector from the first end to the second."""
        length_m = self.length_m
        return ((self.b[0] - self.a[0]) / length_m, (self.b[1] - self.a[1]) / length_m)


def near_runs(lines: Sequence[Run], distance_m: float) -> Iterator[tuple[int, int]]:
    """Yield every pair of walls that come so near to each other, the lower index first."""
    return near_pairs([(line.a, line.b) for line in lines], distance_m)


def near_pairs(lines: Sequence[Sequence[Point]], distance_m: float) -> Iterator[tuple[int, int]]:
    """Yield every pair of lines that come so near to each other, the lower index first.

    Parameters
    ----------
    lines : sequence of sequence of (float, float)
        Corners of each. [m]
    distance_m : float
        How near. [m]
    """
    import shapely

    shapes = np.array([shapely.LineString(line) for line in lines], dtype=object)
    tree = shapely.STRtree(shapes)
    n_pairs = 0
    for start in range(0, len(lines), AT_ONCE):
        part = shapes[start : start + AT_ONCE]
        found: NDArray[np.int64] = tree.query(part, "dwithin", distance_m)
        n_pairs += found.shape[1]
        if n_pairs > MOST_PAIRS:
            raise UsageError(
                "the lines of the walls lie too close together to tell them apart: map layers "
                "that hold hatches, furniture or texts to ignore, in the table for --table"
            )
        for i, j in zip((found[0] + start).tolist(), found[1].tolist(), strict=True):
            if i < j:
                yield i, j


def are_parallel(a: Run, b: Run) -> bool:
    """Whether two walls run in the same direction, or the opposite one."""
    (ux, uy), (vx, vy) = a.direction, b.direction
    return abs(ux * vy - uy * vx) < PARALLEL


def on_one_line(a: Run, b: Run, apart_m: float) -> bool:
    """Whether the shorter of two walls lies on the line of the longer.

    Parameters
    ----------
    a, b : Run
        The walls. [-]
    apart_m : float
        How far off it may be. [m]
    """
    longer, shorter = (a, b) if a.length_m >= b.length_m else (b, a)
    return all(abs(longer.off_m(end)) <= apart_m for end in (shorter.a, shorter.b))


def groups(n: int, pairs: Iterable[tuple[int, int]]) -> list[list[int]]:
    """Return the groups that pairs of things make of them, each in order.

    Parameters
    ----------
    n : int
        Number of things. [-]
    pairs : iterable of (int, int)
        Things that belong together. [-]
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ends = np.array(list(pairs), dtype=np.int64).reshape(-1, 2)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(n, n))
    found: dict[int, list[int]] = {}
    for thing, label in enumerate(connected_components(graph, directed=False)[1].tolist()):
        found.setdefault(label, []).append(thing)
    return list(found.values())


def meet(walls: Sequence[Run]) -> None:
    """Draw walls out to the middle line of those they end at."""
    reaches: dict[tuple[int, str], float] = {}
    for i, j in near_runs(walls, THICKEST_M + SAME_M):
        for one, other in ((i, j), (j, i)):
            for end, reach_m in _reaches(walls[one], walls[other]):
                key = (one, end)
                reaches[key] = min(reach_m, reaches.get(key, math.inf))
    moved = [(n, end, walls[n], reach_m) for (n, end), reach_m in reaches.items()]
    places = [
        (n, end, wall.at(-reach_m if end == "a" else wall.length_m + reach_m))
        for n, end, wall, reach_m in moved
    ]
    for n, end, place in places:
        setattr(walls[n], end, place)


def _reaches(one: Run, other: Run) -> Iterator[tuple[str, float]]:
    """Yield the ends of a wall that another is just beyond, and how far its line is."""
    (ux, uy), (vx, vy) = one.direction, other.direction
    sine = ux * vy - uy * vx
    if abs(sine) < PARALLEL:
        return
    dx, dy = other.a[0] - one.a[0], other.a[1] - one.a[1]
    on_one_m = (dx * vy - dy * vx) / sine
    on_other_m = (dx * uy - dy * ux) / sine
    # Half the other's thickness at a corner; at the bend of a curve, less the flatter it is.
    slant = 1 / abs(sine) if abs(sine) > MEETING else math.tan(math.asin(abs(sine)) / 2)
    most_m = 0.75 * (one.thick_m + other.thick_m) * slant + 2 * SAME_M
    if not -most_m <= on_other_m <= other.length_m + most_m:
        return
    for end, beyond_m in (("a", -on_one_m), ("b", on_one_m - one.length_m)):
        if 0 < beyond_m <= most_m:
            yield end, beyond_m
