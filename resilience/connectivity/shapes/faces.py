"""Where a straight path meets what stands upright: walls, linings of shafts, blocks.

The touching rule, in one place. A drawn wall is a line without thickness, and drawings miss each
other by fractions of a millimetre, so everything within ``TOUCH_M`` counts as touching:

- the ends of a wall belong to it, and so do its foot and its top;
- walls that a path meets at one point (a corner, a T, a wall typed twice) count once, as the
  lossiest of them (`joined`), so a joint is neither a gap nor two walls;
- a device on a wall's line hangs on one face of it: the one towards greater y, or towards smaller
  x where the wall runs along y. Its paths to the other side cross the wall, and no others do. A
  device set on a wall therefore never makes that wall disappear;
- a path along a wall's line, or along the face of a block, does not cross it;
- a device on the floor or at the ceiling of its level is taken `CLEAR_M` inside that level, so
  that it meets that level's walls and its slab once.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TOUCH_M = 1e-3
CLEAR_M = 2e-3


@dataclass(frozen=True, slots=True)
class Path:
    """The straight line between two devices.

    Parameters
    ----------
    a, b : tuple of float
        Its ends: x, y and height above the site's zero. [m]
    """

    a: tuple[float, float, float]
    b: tuple[float, float, float]

    @property
    def length_m(self) -> float:
        """Length, never quite 0, so that it can divide."""
        return max(math.dist(self.a, self.b), 1e-9)

    @property
    def plan_length_m(self) -> float:
        """Length on the plan."""
        return math.dist(self.a[:2], self.b[:2])

    def at(self, along: float) -> tuple[float, float, float]:
        """Point at a share of the way from a to b.

        Parameters
        ----------
        along : float
            That share. [-]
        """
        x, y, z = (p + along * (q - p) for p, q in zip(self.a, self.b, strict=True))
        return x, y, z


@dataclass(frozen=True, slots=True)
class Meeting:
    """A path meets one upright face.

    Parameters
    ----------
    face : int
        Position of the face in its `Faces`. [-]
    along : float
        Share of the path from a. [-]
    at_m : float
        Distance from the face's first end as drawn. [m]
    z_m : float
        Height above the site's zero. [m]
    cos_incidence : float
        Cosine of the angle between the path and the face's normal. [-]
    """

    face: int
    along: float
    at_m: float
    z_m: float
    cos_incidence: float


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Upright rectangles without thickness, each from a foot to a top.

    Parameters
    ----------
    first_m : ndarray, shape (n, 2)
        The end on the plan that was drawn first. [m]
    onward, normal : ndarray, shape (n, 2)
        Unit vectors: from the first end to the last, and towards the side on which devices on the
        line hang. [-]
    length_m, foot_m, top_m : ndarray, shape (n,)
        Length on the plan; heights above the site's zero. [m]
    """

    first_m: Floats
    onward: Floats
    normal: Floats
    length_m: Floats
    foot_m: Floats
    top_m: Floats

    @classmethod
    def from_corners(cls, corners_m: list[tuple[float, ...]]) -> "Faces":
        """Faces from rows of x1, y1, x2, y2, foot and top.

        Parameters
        ----------
        corners_m : list of six floats each
            Two ends on the plan, height of foot and top. [m]
        """
        rows = np.array(corners_m, dtype=np.float64).reshape(-1, 6)
        run = rows[:, 2:4] - rows[:, 0:2]
        length_m = np.hypot(run[:, 0], run[:, 1])
        onward = run / np.maximum(length_m, 1e-12)[:, None]
        left = np.column_stack((-onward[:, 1], onward[:, 0]))
        # Turned, so that the side does not depend on which end somebody typed first.
        as_drawn = (onward[:, 0] > 0) | ((onward[:, 0] == 0) & (onward[:, 1] > 0))
        normal = np.where(as_drawn[:, None], left, -left)
        return cls(rows[:, 0:2], onward, normal, length_m, rows[:, 4], rows[:, 5])

    def meetings(self, path: Path) -> list[Meeting]:
        """Every face that the path passes through, in order along the path.

        Parameters
        ----------
        path : Path
            The straight line. [-]
        """
        aside_a_m = ((np.array(path.a[:2]) - self.first_m) * self.normal).sum(axis=1)
        aside_b_m = ((np.array(path.b[:2]) - self.first_m) * self.normal).sum(axis=1)
        (parted,) = np.nonzero((aside_a_m >= -TOUCH_M) != (aside_b_m >= -TOUCH_M))
        across_m = aside_b_m[parted] - aside_a_m[parted]
        along = np.clip(-aside_a_m[parted] / across_m, 0.0, 1.0)
        points_m = np.array(path.a) + along[:, None] * (np.array(path.b) - np.array(path.a))
        at_m = ((points_m[:, :2] - self.first_m[parted]) * self.onward[parted]).sum(axis=1)
        z_m = points_m[:, 2]
        hit = (at_m >= -TOUCH_M) & (at_m <= self.length_m[parted] + TOUCH_M)
        hit &= (z_m >= self.foot_m[parted] - TOUCH_M) & (z_m <= self.top_m[parted] + TOUCH_M)
        cos_incidence = np.minimum(1.0, np.abs(across_m) / path.length_m)
        columns = (parted, along, at_m, z_m, cos_incidence)
        rows = zip(*(column[hit].tolist() for column in columns), strict=True)
        found = [Meeting(*row) for row in rows]
        return sorted(found, key=lambda meeting: (meeting.along, meeting.face))


def joined(meetings: list[Meeting], path: Path) -> list[list[Meeting]]:
    """Meetings grouped by the point on the plan at which they happen.

    Parameters
    ----------
    meetings : list of Meeting
        In order along the path. [-]
    path : Path
        The path that they lie on. [-]
    """
    groups: list[list[Meeting]] = []
    for meeting in meetings:
        if groups:
            apart_m = (meeting.along - groups[-1][0].along) * path.plan_length_m
            if apart_m <= 2 * TOUCH_M:
                groups[-1].append(meeting)
                continue
        groups.append([meeting])
    return groups


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Solid upright boxes on the axes of the plan.

    Parameters
    ----------
    low_m, high_m : ndarray, shape (n, 3)
        Opposite corners: x, y and height above the site's zero. [m]
    """

    low_m: Floats
    high_m: Floats

    def chords(self, path: Path) -> list[tuple[int, float, float]]:
        """Block, share of the path at which it is entered, and metres of path inside it.

        Parameters
        ----------
        path : Path
            The straight line. [-]
        """
        # A path along a face is outside: the test is made on boxes that are TOUCH_M smaller.
        enter, leave = _clipped(self.low_m + TOUCH_M, self.high_m - TOUCH_M, path)
        (hit,) = np.nonzero(leave > enter)
        enter, leave = _clipped(self.low_m[hit], self.high_m[hit], path)
        return [
            (block, float(start), float(end - start) * path.length_m)
            for block, start, end in zip(hit.tolist(), enter, leave, strict=True)
        ]


def _clipped(low_m: Floats, high_m: Floats, path: Path) -> tuple[Floats, Floats]:
    """Shares of the path at which it enters and leaves each box; leave below enter is a miss."""
    a = np.array(path.a)
    step = np.array(path.b) - a
    step = np.where(np.abs(step) < 1e-12, 1e-12, step)
    to_low, to_high = (low_m - a) / step, (high_m - a) / step
    enter = np.minimum(to_low, to_high).max(axis=1, initial=0.0)
    leave = np.maximum(to_low, to_high).min(axis=1, initial=1.0)
    return enter, leave


def contains(outline: tuple[tuple[float, float], ...], x_m: float, y_m: float) -> bool:
    """Whether a point lies inside a closed outline, by the even-odd rule.

    Parameters
    ----------
    outline : tuple of (float, float)
        Corners, in order. [m]
    x_m, y_m : float
        The point. [m]
    """
    inside = False
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (y1 > y_m) != (y2 > y_m) and x_m < x1 + (y_m - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside
