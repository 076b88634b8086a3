"""The ways round what stands in a path, over one edge of it or over two (ITU-R P.526).

A block is passed on its left, on its right, or over its top where that does not reach the ceiling;
a wall round a free end, or over its top; a pillar on no side on which a wall runs on from it. The
way is pulled tight: it bends at the corner that stands furthest out as seen from the one end of the
path, and at the one that stands furthest out as seen from the other, which may be the same. What
else such a detour would meet is not looked at, so only near ones matter. Distances to an edge are
those of the detour itself, as the Recommendation has them, so that a device close to a block is not
shut off by it altogether; a single edge, and one behind an end of the path, is charged by how much
longer the detour is, which holds at any angle of the bend.
"""

import math

import numpy as np

from resilience.connectivity.losses.edges import detour_edge_db, double_edge_db, single_edge_db
from resilience.connectivity.losses.slabs import MOST_DB
from resilience.connectivity.shapes.faces import (
    FIRST_X,
    FIRST_Y,
    FOOT,
    LENGTH,
    ONWARD_X,
    ONWARD_Y,
    TOP,
    TOUCH_M,
    Floats,
    Line,
    apart_m,
    clipped,
    from_edge_m,
    line_between,
)
from resilience.connectivity.shapes.grid import Grid, columns_between, rows_between, things_in
from resilience.connectivity.shapes.meetings import is_inside
from resilience.connectivity.shapes.scene import (
    FIRST_IS_FREE,
    FREE,
    LAST_IS_FREE,
    NONE,
    OUTLINE,
    Scene,
    band_of,
    starts_of,
)

NO_WAY_DB = 1e9
ALIKE = 1e-9  # corners in line with an end are seen alike, whichever end the path starts from
Edge = tuple[float, float]  # how far along the path it stands, and how far it reaches into it


def round_outline_db(scene: Scene, thing: int, line: Line, wavelength_m: float) -> float:
    """Loss of the better way round a block, left or right; ``NO_WAY_DB`` from inside it.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    thing : int
        Block or side of a shaft that the path meets. [-]
    line : Line
        The path. [-]
    wavelength_m : float
        Wavelength. [m]
    """
    outline = scene.things[thing, OUTLINE]
    is_in = is_within(scene, outline, (line.ax_m, line.ay_m))
    if line.plan_m <= TOUCH_M or is_in or is_within(scene, outline, (line.bx_m, line.by_m)):
        return NO_WAY_DB
    least_db = NO_WAY_DB
    for side in (1.0, -1.0):
        edge_a, edge_b = (0.0, 0.0), (0.0, 0.0)
        widest_a = widest_b = out_m = 0.0
        for corner in range(scene.corner_start[outline], scene.corner_start[outline + 1]):
            x_m, y_m = scene.corners_m[corner, 0], scene.corners_m[corner, 1]
            along_m, left_m = beside(line, x_m, y_m)
            if side * left_m <= 0:
                continue
            out_m = max(out_m, side * left_m)
            seen_a = math.atan2(side * left_m, along_m)
            seen_b = math.atan2(side * left_m, line.plan_m - along_m)
            if seen_a > widest_a + ALIKE:
                widest_a, edge_a = seen_a, (along_m, side * left_m)
            if seen_b > widest_b + ALIKE:
                widest_b, edge_b = seen_b, (along_m, side * left_m)
        is_way = widest_a > 0 and widest_b > 0
        if is_way and not is_walled(scene, thing, line, side, (edge_a[0], out_m)):
            least_db = min(least_db, over_edges_db(line, edge_a, edge_b, wavelength_m))
    return least_db


def is_walled(scene: Scene, thing: int, line: Line, side: float, edge: Edge) -> bool:
    """Whether a wall runs on from a pillar, so that the path cannot go round it on that side.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    thing : int
        The pillar; against anything else no wall leans. [-]
    line : Line
        The path. [-]
    side : float
        1 for the left of the path, -1 for its right. [-]
    edge : tuple of float
        Where along the path the way round bends, and how far the pillar reaches out there. [m]
    """
    pillar = thing - scene.faces.shape[0]
    if not 0 <= pillar < scene.n_pillars:
        return False
    z_m = line.az_m + edge[0] / line.plan_m * (line.bz_m - line.az_m)
    for place in range(scene.leaning_start[pillar], scene.leaning_start[pillar + 1]):
        wall = scene.leaning[place]
        if not scene.faces[wall, FOOT] <= z_m <= scene.faces[wall, TOP]:
            continue
        for at_m in (0.0, scene.faces[wall, LENGTH]):
            x_m, y_m = spot_on(scene.faces, wall, at_m)
            if side * beside(line, x_m, y_m)[1] > edge[1] + TOUCH_M:
                return True
    return False


def spot_on(faces: Floats, face: int, at_m: float) -> tuple[float, float]:
    """Point of the plan on a wall or a side of a shaft.

    Parameters
    ----------
    faces : Floats
        All of them, a row each. [-]
    face : int
        Which one. [-]
    at_m : float
        How far from its first end. [m]
    """
    x_m = faces[face, FIRST_X] + at_m * faces[face, ONWARD_X]
    return x_m, faces[face, FIRST_Y] + at_m * faces[face, ONWARD_Y]


def is_within(scene: Scene, outline: int, point_m: tuple[float, float]) -> bool:
    """Whether a point of the plan lies inside an outline and not on it.

    Parameters
    ----------
    scene : Scene
        Holds the outlines. [-]
    outline : int
        Which one. [-]
    point_m : tuple of float
        The point. [m]
    """
    if not is_inside(scene, outline, point_m):
        return False
    first, end = scene.corner_start[outline], scene.corner_start[outline + 1]
    return from_edge_m(scene.corners_m, first, end, point_m) > TOUCH_M


def round_ends_db(scene: Scene, wall: int, line: Line, wavelength_m: float) -> float:
    """Loss of the better way round the free ends of a wall; ``NO_WAY_DB`` without any.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    wall : int
        A wall that the path meets. [-]
    line : Line
        The path. [-]
    wavelength_m : float
        Wavelength. [m]
    """
    least_db, free = NO_WAY_DB, scene.things[wall, FREE]
    for end in (FIRST_IS_FREE, LAST_IS_FREE):
        if free & end:
            at_m = scene.faces[wall, LENGTH] if end == LAST_IS_FREE else 0.0
            x_m, y_m = spot_on(scene.faces, wall, at_m)
            along_m, out_m = beside(line, x_m, y_m)
            edge = (along_m, abs(out_m))
            least_db = min(least_db, over_edges_db(line, edge, edge, wavelength_m))
    return least_db


def over_wall_db(scene: Scene, wall: int, along: float, line: Line, wavelength_m: float) -> float:
    """Loss over the top of a wall, straight up from where the path meets it.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    wall : int
        A wall that the path meets. [-]
    along : float
        Where, as a share of the path. [-]
    line : Line
        The path. [-]
    wavelength_m : float
        Wavelength. [m]
    """
    z_m = line.az_m + along * (line.bz_m - line.az_m)
    edge = (along * line.plan_m, scene.faces[wall, TOP] - z_m)
    return over_edges_db(line, edge, edge, wavelength_m)


def over_box_db(scene: Scene, box: int, line: Line, wavelength_m: float) -> float:
    """Loss over the top of a box, along the path; ``NO_WAY_DB`` from inside it.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    box : int
        Its row among the boxes. [-]
    line : Line
        The path. [-]
    wavelength_m : float
        Wavelength. [m]
    """
    if line.plan_m <= TOUCH_M:
        return NO_WAY_DB
    enter, leave = clipped(scene.boxes_m, box, line, 2, 0.0)
    rise_m, above_m = line.bz_m - line.az_m, scene.boxes_m[box, 5] - line.az_m
    edge_a = (enter * line.plan_m, above_m - enter * rise_m)
    edge_b = (leave * line.plan_m, above_m - leave * rise_m)
    if (enter <= 0 and edge_a[1] > 0) or (leave >= 1 and edge_b[1] > 0):
        return NO_WAY_DB
    return over_edges_db(line, edge_a, edge_b, wavelength_m)


def beside(line: Line, x_m: float, y_m: float) -> tuple[float, float]:
    """How far along a path, and how far left of it on the plan, a point lies.

    Parameters
    ----------
    line : Line
        The path. [-]
    x_m, y_m : float
        The point. [m]
    """
    onward_x = (line.bx_m - line.ax_m) / line.plan_m
    onward_y = (line.by_m - line.ay_m) / line.plan_m
    x_m, y_m = x_m - line.ax_m, y_m - line.ay_m
    return x_m * onward_x + y_m * onward_y, y_m * onward_x - x_m * onward_y


def over_edges_db(line: Line, edge_a: Edge, edge_b: Edge, wavelength_m: float) -> float:
    """Loss over the edge nearer to a and then over the one nearer to b, which may be the same.

    Parameters
    ----------
    line : Line
        The path. [-]
    edge_a, edge_b : tuple of float
        How far along the path on the plan they stand, and how far they reach into it. [m]
    wavelength_m : float
        Wavelength. [m]
    """
    slope = line.length_m / line.plan_m
    left_m, right_m = edge_a[0] * slope, (line.plan_m - edge_b[0]) * slope
    before_m, after_m = long_side_m(left_m, edge_a[1]), long_side_m(right_m, edge_b[1])
    between_m = long_side_m((edge_b[0] - edge_a[0]) * slope, edge_b[1] - edge_a[1])
    if between_m <= TOUCH_M:
        if edge_a[1] < 0:
            return single_edge_db(edge_a[1], before_m, after_m, wavelength_m)
        return detour_edge_db(before_m + after_m - line.length_m, wavelength_m)
    if min(left_m, right_m) >= -TOUCH_M:
        heights_m, spans_m = (edge_a[1], edge_b[1]), (before_m, between_m, after_m)
        return double_edge_db(heights_m, spans_m, wavelength_m)
    # The Recommendation has both edges between the ends. Where the way bends behind one of them,
    # the edge that makes it longer pays for that, and the other for the rest of the excess.
    over_a_m = before_m + long_side_m(line.length_m - left_m, edge_a[1]) - line.length_m
    over_b_m = after_m + long_side_m(line.length_m - right_m, edge_b[1]) - line.length_m
    main_m = max(over_a_m, over_b_m)
    rest_m = before_m + between_m + after_m - line.length_m - main_m
    main_db, rest_db = detour_edge_db(main_m, wavelength_m), detour_edge_db(rest_m, wavelength_m)
    return min(MOST_DB, main_db + rest_db)


def long_side_m(one_m: float, other_m: float) -> float:
    """Longest side of a right-angled triangle, rounded alike in compiled functions.

    Parameters
    ----------
    one_m, other_m : float
        The other two, with any sign. [m]
    """
    return math.sqrt(one_m * one_m + other_m * other_m)


def free_ends(scene: Scene, grid: Grid, gap_m: float) -> list[int]:
    """Return which ends of each wall can be gone round: nothing fixed stands near, no outline runs.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    grid : Grid
        Where it stands. [-]
    gap_m : float
        Narrower than this is no way. [m]
    """
    found = []
    for wall in range(scene.n_walls):
        free = 0
        for end, at_m in ((FIRST_IS_FREE, 0.0), (LAST_IS_FREE, scene.faces[wall, LENGTH])):
            if not _is_shut(scene, grid, wall, spot_on(scene.faces, wall, at_m), gap_m):
                free |= end
        found.append(free)
    return found


def lean(scene: Scene, gap_m: float) -> Scene:
    """Return the scene with the walls that stand against each pillar, or run through it.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    gap_m : float
        Narrower than this is no gap. [m]
    """
    walls = scene.faces[: scene.n_walls]
    first_m = walls[:, [FIRST_X, FIRST_Y]]
    last_m = first_m + walls[:, [LENGTH]] * walls[:, [ONWARD_X, ONWARD_Y]]
    low_m = np.column_stack((np.minimum(first_m, last_m), walls[:, FOOT])) - gap_m
    high_m = np.column_stack((np.maximum(first_m, last_m), walls[:, TOP])) + gap_m
    found = []
    for pillar, box_m in enumerate(scene.boxes_m[: scene.n_pillars]):
        is_near = ((low_m <= box_m[3:]) & (high_m >= box_m[:3])).all(axis=1)
        near = np.nonzero(is_near)[0].tolist()
        found.append([wall for wall in near if _leans(scene, wall, pillar, gap_m)])
    leaning = np.array([wall for leant in found for wall in leant], np.int64)
    return scene._replace(leaning=leaning, leaning_start=starts_of([len(one) for one in found]))


def _leans(scene: Scene, wall: int, pillar: int, gap_m: float) -> bool:
    x_m, y_m, onward_x, onward_y, _, _, length_m, foot_m, _ = scene.faces[wall].tolist()
    last_m = (x_m + length_m * onward_x, y_m + length_m * onward_y, foot_m)
    along = line_between(np.array([(x_m, y_m, foot_m), last_m]), 0, 1)
    enter, leave = clipped(scene.boxes_m, pillar, along, 2, -gap_m)
    return enter <= leave


def _is_shut(scene: Scene, grid: Grid, wall: int, end_m: tuple[float, float], gap_m: float) -> bool:
    band = band_of(scene.floors_m, scene.faces[wall, FOOT] + TOUCH_M)
    outline = scene.slab_outline[band]
    if outline != NONE and _from_outline_m(scene, outline, end_m) <= gap_m:
        return True
    x_m, y_m = end_m
    near = {
        thing
        for column in range(*columns_between(grid, x_m - gap_m, x_m + gap_m))
        for row in range(*rows_between(grid, y_m - gap_m, y_m + gap_m))
        for thing in things_in(grid, band, column, row).tolist()
    }
    return any(_touches(scene, wall, thing, end_m, gap_m) for thing in near - {wall})


def _touches(scene: Scene, wall: int, thing: int, end_m: tuple[float, float], gap_m: float) -> bool:
    """Whether an end of a wall touches a thing that stands as high, and stays."""
    foot_m, top_m = scene.faces[wall, FOOT], scene.faces[wall, TOP]
    place = thing - len(scene.faces)
    if thing < len(scene.faces):
        x_m, y_m, onward_x, onward_y, _, _, length_m, low_m, high_m = scene.faces[thing].tolist()
        away_m = apart_m((x_m, y_m), (length_m * onward_x, length_m * onward_y), end_m)
    elif place < scene.n_pillars:
        *_, low_m, _, _, high_m = scene.boxes_m[place].tolist()
        outline = scene.things[thing, OUTLINE]
        is_in = is_within(scene, outline, end_m)
        away_m = 0.0 if is_in else _from_outline_m(scene, outline, end_m)
    else:
        return False
    return away_m <= gap_m and low_m < top_m - TOUCH_M and high_m > foot_m + TOUCH_M


def _from_outline_m(scene: Scene, outline: int, point_m: tuple[float, float]) -> float:
    first, end = scene.corner_start[outline], scene.corner_start[outline + 1]
    return from_edge_m(scene.corners_m, first, end, point_m)
