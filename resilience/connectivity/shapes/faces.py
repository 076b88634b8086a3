"""Where a straight path meets one thing: an upright face, a block, a sloping sheet, an outline.

The touching rule, in one place. A drawn wall is a line without thickness, and drawings miss each
other by fractions of a millimetre, so everything within ``TOUCH_M`` counts as touching:

- the ends of a wall belong to it, and so do its foot and its top;
- walls and sides of shafts that a path meets at one point (a corner, a T, a wall typed twice) count
  once, as the lossiest of them (``reckoning``), so a joint is neither a gap nor two walls; so does
  a pillar with what the path meets inside it;
- a device on a wall's line hangs on one face of it: the one towards greater y, or towards smaller
  x where the wall runs along y. Its paths to the other side cross the wall, and no others do. A
  device set on a wall therefore never makes that wall disappear;
- a path along a wall's line, or along the face of a block, does not cross it;
- a device on a plate lies on top of it;
- the outline of a level belongs to it, so a device on the outer wall stands inside;
- a device on the floor or at the ceiling of its level is taken `CLEAR_M` inside that level, so
  that it meets that level's walls and its slab once.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Met = tuple[float, float, float]  # share of the path from a, and two figures of what is met there

TOUCH_M = 1e-3
CLEAR_M = 2e-3
MISSED = (-1.0, 0.0, 0.0)

# Columns of a face: its first end as drawn, unit vectors onwards from there and towards the side on
# which devices on the line hang, its length on the plan, and heights above the site's zero.
FIRST_X, FIRST_Y, ONWARD_X, ONWARD_Y, ASIDE_X, ASIDE_Y, LENGTH, FOOT, TOP = range(9)
# Columns of a sheet: its plane z = x SLOPE_X + y SLOPE_Y + AT_ZERO.
SLOPE_X, SLOPE_Y, AT_ZERO = range(3)


class Line(NamedTuple):
    """The straight path from a to b.

    Parameters
    ----------
    ax_m, ay_m, az_m, bx_m, by_m, bz_m : float
        Its ends, heights above the site's zero. [m]
    length_m : float
        Length, never quite 0, so that it can divide. [m]
    plan_m : float
        Length on the plan. [m]
    """

    ax_m: float
    ay_m: float
    az_m: float
    bx_m: float
    by_m: float
    bz_m: float
    length_m: float
    plan_m: float


def line_between(points_m: Floats, a: int, b: int) -> Line:
    """Straight line between two points.

    Parameters
    ----------
    points_m : Floats
        Shape (points, 3). [m]
    a, b : int
        Rows of its ends. [-]
    """
    ax_m, ay_m, az_m = points_m[a, 0], points_m[a, 1], points_m[a, 2]
    bx_m, by_m, bz_m = points_m[b, 0], points_m[b, 1], points_m[b, 2]
    x_m, y_m, z_m = bx_m - ax_m, by_m - ay_m, bz_m - az_m
    square_m2 = x_m * x_m + y_m * y_m
    length_m = max(math.sqrt(square_m2 + z_m * z_m), 1e-9)
    return Line(ax_m, ay_m, az_m, bx_m, by_m, bz_m, length_m, math.sqrt(square_m2))


def face_rows(corners_m: list[tuple[float, ...]]) -> Floats:
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
    aside = np.where(as_drawn[:, None], left, -left)
    return np.column_stack((rows[:, 0:2], onward, aside, length_m, rows[:, 4:6]))


def is_parted(faces: Floats, face: int, line: Line) -> bool:
    """Whether the two ends of a path lie on different sides of a face's line on the plan.

    Parameters
    ----------
    faces : Floats
        Shape (faces, 9). [m]
    face : int
        Which one. [-]
    line : Line
        The path. [-]
    """
    x_m, y_m = faces[face, FIRST_X], faces[face, FIRST_Y]
    aside_x, aside_y = faces[face, ASIDE_X], faces[face, ASIDE_Y]
    aside_a_m = (line.ax_m - x_m) * aside_x + (line.ay_m - y_m) * aside_y
    aside_b_m = (line.bx_m - x_m) * aside_x + (line.by_m - y_m) * aside_y
    return (aside_a_m >= -TOUCH_M) != (aside_b_m >= -TOUCH_M)


def face_met(faces: Floats, face: int, line: Line) -> Met:
    """Share of the path, metres from the face's first end, cosine to its normal; or ``MISSED``.

    Parameters
    ----------
    faces : Floats
        Shape (faces, 9). [m]
    face : int
        Which one. [-]
    line : Line
        The path. [-]
    """
    if not is_parted(faces, face, line):
        return MISSED
    x_m, y_m = faces[face, FIRST_X], faces[face, FIRST_Y]
    aside_x, aside_y = faces[face, ASIDE_X], faces[face, ASIDE_Y]
    aside_a_m = (line.ax_m - x_m) * aside_x + (line.ay_m - y_m) * aside_y
    aside_b_m = (line.bx_m - x_m) * aside_x + (line.by_m - y_m) * aside_y
    across_m = aside_b_m - aside_a_m
    along = min(max(-aside_a_m / across_m, 0.0), 1.0)
    point_x_m = line.ax_m + along * (line.bx_m - line.ax_m)
    point_y_m = line.ay_m + along * (line.by_m - line.ay_m)
    at_m = (point_x_m - x_m) * faces[face, ONWARD_X] + (point_y_m - y_m) * faces[face, ONWARD_Y]
    if not -TOUCH_M <= at_m <= faces[face, LENGTH] + TOUCH_M:
        return MISSED
    z_m = line.az_m + along * (line.bz_m - line.az_m)
    if not faces[face, FOOT] - TOUCH_M <= z_m <= faces[face, TOP] + TOUCH_M:
        return MISSED
    return along, at_m, min(1.0, abs(across_m) / line.length_m)


def box_met(boxes_m: Floats, box: int, line: Line) -> Met:
    """Share of the path at which it enters a block, and metres inside it; or ``MISSED``.

    Parameters
    ----------
    boxes_m : Floats
        Shape (boxes, 6): the least x, y and z, then the greatest. [m]
    box : int
        Which one. [-]
    line : Line
        The path. [-]
    """
    # A path along a face is outside: the test is made on a box that is TOUCH_M smaller.
    enter, leave = clipped(boxes_m, box, line, 3, TOUCH_M)
    if not leave > enter:
        return MISSED
    enter, leave = clipped(boxes_m, box, line, 3, 0.0)
    return enter, (leave - enter) * line.length_m, 0.0


def clipped(
    boxes_m: Floats, box: int, line: Line, n_axes: int, less_m: float
) -> tuple[float, float]:
    """Shares of the path at which it enters and leaves a box; leave below enter is a miss.

    Parameters
    ----------
    boxes_m : Floats
        Shape (boxes, 6). [m]
    box : int
        Which one. [-]
    line : Line
        The path. [-]
    n_axes : int
        3, or 2 for what happens on the plan. [-]
    less_m : float
        How much smaller the box is taken on every side. [m]
    """
    starts_m = (line.ax_m, line.ay_m, line.az_m)
    ends_m = (line.bx_m, line.by_m, line.bz_m)
    enter, leave = 0.0, 1.0
    for axis in range(n_axes):
        start_m, step_m = starts_m[axis], ends_m[axis] - starts_m[axis]
        if abs(step_m) < 1e-12:
            step_m = 1e-12
        to_low = (boxes_m[box, axis] + less_m - start_m) / step_m
        to_high = (boxes_m[box, axis + 3] - less_m - start_m) / step_m
        enter = max(enter, min(to_low, to_high))
        leave = min(leave, max(to_low, to_high))
    return enter, leave


def sheet_met(sheets: Floats, sheet: int, line: Line) -> Met:
    """Share of the path where it passes a sheet's plane, and cosine to its normal; or ``MISSED``.

    Whether that is within the sheet's outline is not looked at.

    Parameters
    ----------
    sheets : Floats
        Shape (sheets, 3): their planes. [m]
    sheet : int
        Which one. [-]
    line : Line
        The path. [-]
    """
    slope_x, slope_y = sheets[sheet, SLOPE_X], sheets[sheet, SLOPE_Y]
    above_a_m = line.az_m - (line.ax_m * slope_x + line.ay_m * slope_y + sheets[sheet, AT_ZERO])
    above_b_m = line.bz_m - (line.bx_m * slope_x + line.by_m * slope_y + sheets[sheet, AT_ZERO])
    if (above_a_m >= -TOUCH_M) == (above_b_m >= -TOUCH_M):
        return MISSED
    across_m = above_b_m - above_a_m
    along = min(max(-above_a_m / across_m, 0.0), 1.0)
    upright = math.sqrt(1.0 + slope_x * slope_x + slope_y * slope_y)
    return along, min(1.0, abs(across_m) / (upright * line.length_m)), 0.0


def contains(corners_m: Floats, first: int, last: int, point_m: tuple[float, float]) -> bool:
    """Whether a point lies inside a closed outline, by the even-odd rule.

    Parameters
    ----------
    corners_m : Floats
        Shape (corners, 2): corners of all outlines, each in order. [m]
    first, last : int
        Rows of this outline, the last not included. [-]
    point_m : tuple of float
        The point. [m]
    """
    x_m, y_m = point_m
    inside = False
    before = last - 1
    for corner in range(first, last):
        x1, y1 = corners_m[before, 0], corners_m[before, 1]
        x2, y2 = corners_m[corner, 0], corners_m[corner, 1]
        if (y1 > y_m) != (y2 > y_m) and x_m < x1 + (y_m - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
        before = corner
    return inside


def from_edge_m(corners_m: Floats, first: int, last: int, point_m: tuple[float, float]) -> float:
    """Distance of a point of the plan from the line of a closed outline.

    Parameters
    ----------
    corners_m : Floats
        Shape (corners, 2). [m]
    first, last : int
        Rows of this outline, the last not included. [-]
    point_m : tuple of float
        The point. [m]
    """
    least_m = math.inf
    before = last - 1
    for corner in range(first, last):
        edge_m = (corners_m[before, 0], corners_m[before, 1])
        run_m = (corners_m[corner, 0] - edge_m[0], corners_m[corner, 1] - edge_m[1])
        least_m = min(least_m, apart_m(edge_m, run_m, point_m))
        before = corner
    return least_m


def apart_m(
    first_m: tuple[float, float], run_m: tuple[float, float], point_m: tuple[float, float]
) -> float:
    """Distance of a point from a stretch on the plan.

    Parameters
    ----------
    first_m, run_m : tuple of float
        One end of the stretch, and the way from there to the other. [m]
    point_m : tuple of float
        The point. [m]
    """
    x_m, y_m = point_m[0] - first_m[0], point_m[1] - first_m[1]
    square_m2 = run_m[0] * run_m[0] + run_m[1] * run_m[1]
    share = 0.0
    if square_m2 > 0:
        share = min(max((x_m * run_m[0] + y_m * run_m[1]) / square_m2, 0.0), 1.0)
    x_m, y_m = x_m - share * run_m[0], y_m - share * run_m[1]
    return math.sqrt(x_m * x_m + y_m * y_m)
