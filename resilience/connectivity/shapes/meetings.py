"""What each path meets, thing by thing, before any of it is priced."""

from typing import NamedTuple

from resilience.connectivity.shapes.faces import (
    FOOT,
    TOUCH_M,
    Floats,
    Ints,
    Line,
    box_met,
    contains,
    face_met,
    from_edge_m,
    is_parted,
    line_between,
    sheet_met,
)
from resilience.connectivity.shapes.grid import (
    Grid,
    bands_of,
    cell_at,
    columns_between,
    rows_in_column,
    stretch_in_band,
)
from resilience.connectivity.shapes.scene import AT, HIGH, LABEL, LOW, NONE, OUTLINE, WIDTH, Scene


class Paths(NamedTuple):
    """Many paths.

    Parameters
    ----------
    points_m : Floats
        Shape (points, 3): heights above the site's zero. [m]
    ends : Ints
        Shape (paths, 2): rows of the two ends. [-]
    """

    points_m: Floats
    ends: Ints


class Meetings(NamedTuple):
    """What a batch of paths meets, path by path, in no order along each.

    Parameters
    ----------
    start : Ints
        Where those of each path of the batch start. [-]
    thing, label : Ints
        The thing (beyond the last one: a slab), and what it is called there. [-]
    along : Floats
        Share of the path from a. [-]
    measure : Floats
        Cosine of the incidence; for boxes, the path inside. [-, m]
    through_db : Floats
        What it takes to go through, filled in by who knows prices. [dB]
    seen : Ints
        Shape (things,): the last path that looked at each thing. [-]
    """

    start: Ints
    thing: Ints
    label: Ints
    along: Floats
    measure: Floats
    through_db: Floats
    seen: Ints


def meet_paths(scene: Scene, grid: Grid, paths: Paths, met: Meetings, first: int) -> int:
    """Write down what paths meet, from one on until there is no more room; return the next path.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    grid : Grid
        Where it stands. [-]
    paths : Paths
        All of them. [-]
    met : Meetings
        Overwritten, with room for everything drawn at least. [-]
    first : int
        The first path of this batch. [-]
    """
    n, path = 0, first
    n_most = scene.things.shape[0] + scene.floors_m.shape[0]
    while path < paths.ends.shape[0] and n + n_most <= met.along.shape[0]:
        met.start[path - first] = n
        line = line_between(paths.points_m, paths.ends[path, 0], paths.ends[path, 1])
        first_band, end_band = bands_of(scene, line)
        for band in range(first_band, end_band):
            stretch_m = stretch_in_band(scene, band, line)
            first_column, end_column = columns_between(grid, stretch_m[0], stretch_m[2])
            for column in range(first_column, end_column):
                row, end_row = rows_in_column(grid, column, stretch_m)
                cell = (band * grid.n_columns + column) * grid.n_rows
                for place in range(grid.start[cell + row], grid.start[cell + end_row]):
                    thing = grid.things[place]
                    if met.seen[thing] != path:
                        met.seen[thing] = path
                        # Faces are the many, so they are looked at here, at the price of one call.
                        if thing >= scene.faces.shape[0]:
                            n = meet_other(scene, line, thing, met, n)
                        elif is_parted(scene.faces, thing, line):
                            n = meet_face(scene, line, thing, met, n)
        n = meet_slabs(scene, grid, line, met, n)
        path += 1
    met.start[path - first] = n
    return path


def meet_face(scene: Scene, line: Line, face: int, met: Meetings, n: int) -> int:
    """Write down a wall or a side of a shaft if the path meets it; return the number then.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    line : Line
        The path. [-]
    face : int
        Which face. [-]
    met : Meetings
        Written on from row ``n``. [-]
    n : int
        Meetings so far. [-]
    """
    along, at_m, cosine = face_met(scene.faces, face, line)
    if along < 0:
        return n
    z_m = line.az_m + along * (line.bz_m - line.az_m)
    label = filled(scene, face, at_m, z_m - scene.faces[face, FOOT])
    met.thing[n], met.label[n], met.along[n], met.measure[n] = face, label, along, cosine
    return n + 1


def meet_other(scene: Scene, line: Line, thing: int, met: Meetings, n: int) -> int:
    """Write down a box or a sheet if the path meets it; return the number of meetings then.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    line : Line
        The path. [-]
    thing : int
        No face; a hole in a slab is nothing by itself. [-]
    met : Meetings
        Written on from row ``n``. [-]
    n : int
        Meetings so far. [-]
    """
    along, measure = -1.0, 0.0
    box = thing - scene.faces.shape[0]
    sheet = box - scene.boxes_m.shape[0]
    if sheet < 0:
        along, measure, _ = box_met(scene.boxes_m, box, line)
    elif sheet < scene.sheets.shape[0]:
        along, measure, _ = sheet_met(scene.sheets, sheet, line)
        if along >= 0 and not is_inside(scene, scene.things[thing, OUTLINE], point_at(line, along)):
            return n
    if along < 0:
        return n
    label = scene.things[thing, LABEL]
    met.thing[n], met.label[n], met.along[n], met.measure[n] = thing, label, along, measure
    return n + 1


def filled(scene: Scene, face: int, at_m: float, above_m: float) -> int:
    """Label of a face at one of its points: that of a door or window where there is one.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    face : int
        Which face. [-]
    at_m, above_m : float
        Distance from its first end, and height above its foot. [m]
    """
    label = scene.things[face, LABEL]
    for fill in range(scene.fill_start[face], scene.fill_start[face + 1]):
        beside_m = at_m - scene.fills[fill, AT]
        is_beside = 0 <= beside_m <= scene.fills[fill, WIDTH]
        if is_beside and scene.fills[fill, LOW] <= above_m <= scene.fills[fill, HIGH]:
            label = scene.fill_label[fill]
    return label


def meet_slabs(scene: Scene, grid: Grid, line: Line, met: Meetings, n: int) -> int:
    """Write down every slab between two heights; return the number of meetings then.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    grid : Grid
        Where holes are. [-]
    line : Line
        The path. [-]
    met : Meetings
        Written on from row ``n``. [-]
    n : int
        Meetings so far. [-]
    """
    rise_m = line.bz_m - line.az_m
    for level in range(scene.floors_m.shape[0]):
        floor_m = scene.floors_m[level]
        if (line.az_m < floor_m) == (line.bz_m < floor_m):
            continue
        along = (floor_m - line.az_m) / rise_m
        label = slab_at(scene, grid, level, point_at(line, along))
        if label != NONE:
            met.thing[n], met.label[n], met.along[n] = scene.things.shape[0] + level, label, along
            met.measure[n] = min(1.0, abs(rise_m) / line.length_m)
            n += 1
    return n


def slab_at(scene: Scene, grid: Grid, level: int, point_m: tuple[float, float]) -> int:
    """Label of the slab below a level at one point of the plan; NONE where it is missing.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    grid : Grid
        Where holes are. [-]
    level : int
        The level's place in the order of levels. [-]
    point_m : tuple of float
        The point. [m]
    """
    label, outline = scene.slab_label[level], scene.slab_outline[level]
    if outline != NONE and not is_inside(scene, outline, point_m):
        first, end = scene.corner_start[outline], scene.corner_start[outline + 1]
        if from_edge_m(scene.corners_m, first, end, point_m) > TOUCH_M:
            return NONE
    cell = cell_at(grid, level, point_m[0], point_m[1])
    if cell < 0:
        return label
    first_hole = scene.faces.shape[0] + scene.boxes_m.shape[0] + scene.sheets.shape[0]
    for place in range(grid.start[cell], grid.start[cell + 1]):
        hole = grid.things[place]
        if hole >= first_hole and is_inside(scene, scene.things[hole, OUTLINE], point_m):
            label = scene.things[hole, LABEL]
            if label == NONE:
                return NONE
    return label


def is_inside(scene: Scene, outline: int, point_m: tuple[float, float]) -> bool:
    """Whether a point of the plan lies inside an outline.

    Parameters
    ----------
    scene : Scene
        Holds the outlines. [-]
    outline : int
        Which one. [-]
    point_m : tuple of float
        The point. [m]
    """
    first, end = scene.corner_start[outline], scene.corner_start[outline + 1]
    return contains(scene.corners_m, first, end, point_m)


def point_at(line: Line, along: float) -> tuple[float, float]:
    """Point of the plan at a share of the way from a to b.

    Parameters
    ----------
    line : Line
        The path. [-]
    along : float
        That share. [-]
    """
    x_m = line.ax_m + along * (line.bx_m - line.ax_m)
    return x_m, line.ay_m + along * (line.by_m - line.ay_m)
