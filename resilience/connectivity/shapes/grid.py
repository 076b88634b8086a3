"""Which things are near a path: a grid over the plan, a band of it for each level.

A path is walked column by column, so it looks into as many cells as it is long, however much stands
elsewhere.
"""

import math
from typing import NamedTuple

import numpy as np

from resilience.connectivity.shapes.faces import (
    FIRST_X,
    FIRST_Y,
    LENGTH,
    ONWARD_X,
    ONWARD_Y,
    TOUCH_M,
    Floats,
    Ints,
    Line,
)
from resilience.connectivity.shapes.scene import HIGHEST, LOWEST, OUTLINE, Scene, band_of

NEAR_M = 2e-3  # wider than anything that counts as touching
LEAST_CELL_M = 0.5
Ends = tuple[float, float, float, float]  # x and y of one end on the plan, then of the other


class Grid(NamedTuple):
    """Cells of one size over everything drawn, a band of them for each level.

    Parameters
    ----------
    x_m, y_m : float
        The corner with the least x and y. [m]
    cell_m : float
        Side of a cell. [m]
    n_columns, n_rows : int
        Cells along x and along y. [-]
    start : Ints
        Where the things of each cell start, shape (bands * columns * rows + 1,). [-]
    things : Ints
        Numbers of the things, cell by cell. [-]
    """

    x_m: float
    y_m: float
    cell_m: float
    n_columns: int
    n_rows: int
    start: Ints
    things: Ints


def grid_over(scene: Scene) -> Grid:
    """Return the grid with every thing in each cell that it touches.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    """
    points_m = _points_m(scene)
    low_m, high_m = points_m.min(axis=0) - NEAR_M, points_m.max(axis=0) + NEAR_M
    width_m, depth_m = (high_m - low_m).tolist()
    n_bands, n_things = len(scene.floors_m), len(scene.things)
    # As many cells as things. Finer ones cost more steps, coarser ones more misses.
    cell_m = max(LEAST_CELL_M, math.sqrt(width_m * depth_m * n_bands / max(n_things, 1)))
    n_columns, n_rows = math.ceil(width_m / cell_m), math.ceil(depth_m / cell_m)
    start = np.zeros(n_bands * n_columns * n_rows + 1, np.int64)
    nothing = np.zeros(0, np.int64)
    x_m, y_m = low_m.tolist()
    empty = Grid(x_m, y_m, cell_m, n_columns, n_rows, start, nothing)
    placed = [
        ((band * n_columns + column) * n_rows + row, thing)
        for thing in range(n_things)
        for band in range(scene.things[thing, LOWEST], scene.things[thing, HIGHEST] + 1)
        for column, row in _cells_of(scene, empty, thing)
    ]
    cells, things = np.array(sorted(placed), np.int64).reshape(-1, 2).T
    np.cumsum(np.bincount(cells, minlength=len(start) - 1), out=start[1:])
    return empty._replace(things=np.ascontiguousarray(things))


def _points_m(scene: Scene) -> Floats:
    """Every point that something drawn reaches on the plan, at least one."""
    first_m = scene.faces[:, [FIRST_X, FIRST_Y]]
    last_m = first_m + scene.faces[:, [ONWARD_X, ONWARD_Y]] * scene.faces[:, [LENGTH]]
    points_m = np.concatenate((first_m, last_m, scene.corners_m))
    return points_m if len(points_m) else np.zeros((1, 2))


def _cells_of(scene: Scene, grid: Grid, thing: int) -> list[tuple[int, int]]:
    if thing < len(scene.faces):
        face = scene.faces[thing].tolist()
        x_m, y_m = face[FIRST_X], face[FIRST_Y]
        ends_m = (
            x_m,
            y_m,
            x_m + face[ONWARD_X] * face[LENGTH],
            y_m + face[ONWARD_Y] * face[LENGTH],
        )
        spans = [
            (column, rows_in_column(grid, column, ends_m))
            for column in range(*columns_between(grid, ends_m[0], ends_m[2]))
        ]
    else:
        outline = scene.things[thing, OUTLINE]
        corners_m = scene.corners_m[scene.corner_start[outline] : scene.corner_start[outline + 1]]
        (x1, y1), (x2, y2) = corners_m.min(axis=0).tolist(), corners_m.max(axis=0).tolist()
        rows = rows_between(grid, y1, y2)
        spans = [(column, rows) for column in range(*columns_between(grid, x1, x2))]
    return [(column, row) for column, rows in spans for row in range(*rows)]


def cell_at(grid: Grid, band: int, x_m: float, y_m: float) -> int:
    """Cell of a point in a band; -1 outside the grid, where nothing is drawn.

    Parameters
    ----------
    grid : Grid
        The grid. [-]
    band : int
        The level's place in the order of levels. [-]
    x_m, y_m : float
        The point. [m]
    """
    column = math.floor((x_m - grid.x_m) / grid.cell_m)
    row = math.floor((y_m - grid.y_m) / grid.cell_m)
    if not (0 <= column < grid.n_columns and 0 <= row < grid.n_rows):
        return -1
    return (band * grid.n_columns + column) * grid.n_rows + row


def things_in(grid: Grid, band: int, column: int, row: int) -> Ints:
    """Numbers of the things in one cell.

    Parameters
    ----------
    grid : Grid
        The grid. [-]
    band, column, row : int
        The cell. [-]
    """
    cell = (band * grid.n_columns + column) * grid.n_rows + row
    return grid.things[grid.start[cell] : grid.start[cell + 1]]


def columns_between(grid: Grid, x1_m: float, x2_m: float) -> tuple[int, int]:
    """First column that touches a stretch of x, and the one after the last.

    Parameters
    ----------
    grid : Grid
        The grid. [-]
    x1_m, x2_m : float
        Its ends, in any order. [m]
    """
    first = math.floor((min(x1_m, x2_m) - NEAR_M - grid.x_m) / grid.cell_m)
    last = math.floor((max(x1_m, x2_m) + NEAR_M - grid.x_m) / grid.cell_m)
    first = min(max(first, 0), grid.n_columns)
    return first, max(min(last + 1, grid.n_columns), first)


def rows_between(grid: Grid, y1_m: float, y2_m: float) -> tuple[int, int]:
    """First row that touches a stretch of y, and the one after the last.

    Parameters
    ----------
    grid : Grid
        The grid. [-]
    y1_m, y2_m : float
        Its ends, in any order. [m]
    """
    first = math.floor((min(y1_m, y2_m) - NEAR_M - grid.y_m) / grid.cell_m)
    last = math.floor((max(y1_m, y2_m) + NEAR_M - grid.y_m) / grid.cell_m)
    first = min(max(first, 0), grid.n_rows)
    return first, max(min(last + 1, grid.n_rows), first)


def rows_in_column(grid: Grid, column: int, ends_m: Ends) -> tuple[int, int]:
    """First row in which a straight stretch touches a column, and the one after the last.

    Parameters
    ----------
    grid : Grid
        The grid. [-]
    column : int
        One that the stretch touches. [-]
    ends_m : tuple of float
        Its two ends on the plan. [m]
    """
    x1_m, y1_m, x2_m, y2_m = ends_m
    run_m = x2_m - x1_m
    if abs(run_m) < NEAR_M:
        return rows_between(grid, y1_m, y2_m)
    near_m = grid.x_m + column * grid.cell_m - NEAR_M
    share_1 = (near_m - x1_m) / run_m
    share_2 = (near_m + grid.cell_m + 2 * NEAR_M - x1_m) / run_m
    share_1, share_2 = min(max(share_1, 0.0), 1.0), min(max(share_2, 0.0), 1.0)
    return rows_between(grid, y1_m + share_1 * (y2_m - y1_m), y1_m + share_2 * (y2_m - y1_m))


def stretch_in_band(scene: Scene, band: int, line: Line) -> Ends:
    """Part of a path that runs in one band, on the plan.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    band : int
        One that the path runs in. [-]
    line : Line
        The path. [-]
    """
    rise_m, enter, leave = line.bz_m - line.az_m, 0.0, 1.0
    if abs(rise_m) > NEAR_M:
        low, high = 0.0, 1.0
        if band > 0:
            low = (scene.floors_m[band] - NEAR_M - line.az_m) / rise_m
        elif rise_m < 0:
            low = 1.0
        if band + 1 < scene.floors_m.shape[0]:
            high = (scene.floors_m[band + 1] + NEAR_M - line.az_m) / rise_m
        elif rise_m < 0:
            high = 0.0
        low, high = min(low, high), max(low, high)
        enter, leave = min(max(low, 0.0), 1.0), min(max(high, 0.0), 1.0)
    run_x_m, run_y_m = line.bx_m - line.ax_m, line.by_m - line.ay_m
    return (
        line.ax_m + enter * run_x_m,
        line.ay_m + enter * run_y_m,
        line.ax_m + leave * run_x_m,
        line.ay_m + leave * run_y_m,
    )


def bands_of(scene: Scene, line: Line) -> tuple[int, int]:
    """First band that a path runs in, and the one after the last.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    line : Line
        The path. [-]
    """
    first = band_of(scene.floors_m, min(line.az_m, line.bz_m) - TOUCH_M)
    last = band_of(scene.floors_m, max(line.az_m, line.bz_m) + TOUCH_M)
    return first, last + 1
