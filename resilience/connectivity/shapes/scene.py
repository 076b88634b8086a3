"""The drawing as arrays: every thing that a path can meet, with a number and a label.

Things are numbered through: upright faces (walls, then the sides of lined shafts), boxes (pillars,
then obstacles), sheets (plates), and holes in slabs (openings, shafts). Slabs are no things: a path
passes a slab's height once, wherever it does.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np

from resilience.building.structure import (
    Building,
    Obstacle,
    Outline,
    Pillar,
    Plate,
    Shaft,
    Wall,
)
from resilience.connectivity.shapes.faces import TOUCH_M, Floats, Ints, face_rows

NONE = -1  # no label, no outline

# Columns of a thing: lowest and highest band of the grid that it reaches into; its label, and those
# of the ways round it and over it; its outline on the plan; which ends of a wall are free.
LOWEST, HIGHEST, LABEL, ROUND, OVER, OUTLINE, FREE, THING_COLUMNS = range(8)
FIRST_IS_FREE, LAST_IS_FREE = 1, 2
# Columns of a fill, a door or window in a face: distance of its near edge from the face's first
# end, width, and the heights above the face's foot between which it lies.
AT, WIDTH, LOW, HIGH, FILL_COLUMNS = range(5)
EVERYWHERE_M = 1e9


@dataclass(frozen=True, slots=True)
class Label:
    """What a hindrance is called.

    Parameters
    ----------
    what : str
        In plain words: ``slab under L2``, ``wall W3``, ``door D1``, ``round pillar P2``. [-]
    construction : str
        Name of what it is made of; empty for obstacles and for ways round. [-]
    id : str
        Id of the door or obstacle that it is or leads past; empty for what never changes. [-]
    is_solid : bool
        Whether it is as thick as the path inside it. [-]
    """

    what: str
    construction: str = ""
    id: str = ""
    is_solid: bool = False


class Scene(NamedTuple):
    """A building as arrays, in an order that kernels know.

    Parameters
    ----------
    faces : Floats
        Shape (faces, 9): walls, then sides of lined shafts. [m]
    n_walls : int
        How many of them are walls. [-]
    boxes_m : Floats
        Shape (boxes, 6): pillars, then obstacles. [m]
    n_pillars : int
        How many of them are pillars. [-]
    sheets : Floats
        Shape (sheets, 3): the planes of plates. [m]
    things : Ints
        Shape (things, THING_COLUMNS). [-]
    fills : Floats
        Shape (fills, FILL_COLUMNS): doors and windows, face by face. [m]
    fill_label, fill_start : Ints
        Label of each fill; where the fills of each face start, shape (faces + 1,). [-]
    corners_m : Floats
        Shape (corners, 2): corners of all outlines. [m]
    corner_start : Ints
        Where those of each outline start, shape (outlines + 1,). [-]
    floors_m : Floats
        Shape (levels,): heights of the floors. [m]
    slab_label, slab_outline : Ints
        Shape (levels,): label of the slab below, and its outline; NONE without one. [-]
    rank : Ints
        Shape (labels,): place of each label in the order of what they say. [-]
    leaning, leaning_start : Ints
        Walls that stand against pillars, pillar by pillar; where those of each start. [-]
    """

    faces: Floats
    n_walls: int
    boxes_m: Floats
    n_pillars: int
    sheets: Floats
    things: Ints
    fills: Floats
    fill_label: Ints
    fill_start: Ints
    corners_m: Floats
    corner_start: Ints
    floors_m: Floats
    slab_label: Ints
    slab_outline: Ints
    rank: Ints
    leaning: Ints
    leaning_start: Ints


def scene_of(building: Building, gap_m: float) -> tuple[Scene, tuple[Label, ...]]:
    """Return a building as arrays, and the labels that they point to.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    gap_m : float
        Below a ceiling, a slit up to this wide is no way over. [m]
    """
    parts = _Parts(building, gap_m)
    for wall in building.walls:
        parts.add_wall(wall)
    for shaft in building.shafts:
        parts.add_lining(shaft)
    for pillar in building.pillars:
        parts.add_pillar(pillar)
    for obstacle in building.obstacles:
        parts.add_obstacle(obstacle)
    for plate in building.plates:
        parts.add_plate(plate)
    parts.add_holes()
    parts.add_slabs()
    whats = [label.what for label in parts.labels]
    rank = np.empty(len(whats), np.int64)
    rank[sorted(range(len(whats)), key=whats.__getitem__)] = np.arange(len(whats))
    corners_m = [corner for outline in parts.outlines for corner in outline]
    scene = Scene(
        face_rows(parts.face_corners_m),
        len(building.walls),
        np.array(parts.boxes_m, np.float64).reshape(-1, 6),
        len(building.pillars),
        np.array(parts.sheets, np.float64).reshape(-1, 3),
        np.array(parts.things, np.int64).reshape(-1, THING_COLUMNS),
        np.array(parts.fills, np.float64).reshape(-1, FILL_COLUMNS),
        np.array(parts.fill_labels, np.int64),
        starts_of(parts.n_fills),
        np.array(corners_m, np.float64).reshape(-1, 2),
        starts_of([len(outline) for outline in parts.outlines]),
        np.array([level.floor_m for level in building.levels]),
        np.array([label for label, _ in parts.slabs], np.int64),
        np.array([outline for _, outline in parts.slabs], np.int64),
        rank,
        np.zeros(0, np.int64),
        np.zeros(len(building.pillars) + 1, np.int64),
    )
    return scene, tuple(parts.labels)


def starts_of(counts: list[int]) -> Ints:
    """Where the rows of each group start, and where the last one ends.

    Parameters
    ----------
    counts : list of int
        Rows in each group. [-]
    """
    return np.array(list(accumulate(counts, initial=0)), np.int64)


@dataclass(slots=True)
class _Parts:
    """Rows of the arrays, as far as they have been collected."""

    building: Building
    gap_m: float
    labels: list[Label] = field(default_factory=list)
    face_corners_m: list[tuple[float, ...]] = field(default_factory=list)
    boxes_m: list[tuple[float, ...]] = field(default_factory=list)
    sheets: list[tuple[float, ...]] = field(default_factory=list)
    things: list[tuple[int, ...]] = field(default_factory=list)
    fills: list[tuple[float, ...]] = field(default_factory=list)
    fill_labels: list[int] = field(default_factory=list)
    n_fills: list[int] = field(default_factory=list)
    outlines: list[Outline] = field(default_factory=list)
    slabs: list[tuple[int, int]] = field(default_factory=list)

    def add_wall(self, wall: Wall) -> None:
        """Add a wall with its doors and windows."""
        level = self.building.level(wall.level)
        top_m = level.height_m if wall.height_m is None else min(wall.height_m, level.height_m)
        is_low = top_m < level.height_m - self.gap_m
        span_m = (level.floor_m, level.floor_m + top_m)
        self.face_corners_m.append((wall.x1_m, wall.y1_m, wall.x2_m, wall.y2_m, *span_m))
        self.add_thing(
            span_m,
            self.label(f"wall {wall.id}", wall.construction),
            around=self.label(f"round wall {wall.id}"),
            over=self.label(f"over wall {wall.id}") if is_low else NONE,
        )
        fills = list(_fills_of(self.building, wall))
        self.n_fills.append(len(fills))
        for label, size_m in fills:
            self.fills.append(size_m)
            self.fill_labels.append(self.label(label.what, label.construction, label.id))

    def add_lining(self, shaft: Shaft) -> None:
        """Add the sides of a lined shaft."""
        if shaft.lining is None:
            return
        span_m = self.reach_m(shaft.lowest, shaft.highest)
        label = self.label(f"lining of shaft {shaft.id}", shaft.lining)
        around, outline = self.label(f"round shaft {shaft.id}"), self.outline(shaft.outline)
        for first, last in pairwise((*shaft.outline, shaft.outline[0])):
            self.face_corners_m.append((*first, *last, *span_m))
            self.n_fills.append(0)
            self.add_thing(span_m, label, around=around, outline=outline)

    def add_pillar(self, pillar: Pillar) -> None:
        """Add a pillar, which reaches from floor to ceiling."""
        label = self.label(f"pillar {pillar.id}", pillar.construction, is_solid=True)
        around = self.label(f"round pillar {pillar.id}")
        self.add_box(pillar, self.reach_m(pillar.lowest, pillar.highest), (label, around, NONE))

    def add_obstacle(self, obstacle: Obstacle) -> None:
        """Add an obstacle."""
        name, level = f"{obstacle.kind} {obstacle.id}", self.building.level(obstacle.level)
        foot_m = level.floor_m + obstacle.foot_m
        top_m = foot_m + obstacle.height_m
        is_low = top_m < level.floor_m + level.height_m - self.gap_m
        labels = (
            self.label(name, id=obstacle.id),
            self.label(f"round {name}", id=obstacle.id),
            self.label(f"over {name}", id=obstacle.id) if is_low else NONE,
        )
        self.add_box(obstacle, (foot_m, top_m), labels)

    def add_box(
        self, box: Pillar | Obstacle, span_m: tuple[float, float], labels: tuple[int, int, int]
    ) -> None:
        """Add an upright box with its label, and those of the ways round and over it."""
        half_x_m, half_y_m = box.width_m / 2, box.depth_m / 2
        x1_m, y1_m = box.x_m - half_x_m, box.y_m - half_y_m
        x2_m, y2_m = box.x_m + half_x_m, box.y_m + half_y_m
        self.boxes_m.append((x1_m, y1_m, span_m[0], x2_m, y2_m, span_m[1]))
        outline = self.outline(((x1_m, y1_m), (x2_m, y1_m), (x2_m, y2_m), (x1_m, y2_m)))
        label, around, over = labels
        self.add_thing(span_m, label, around=around, over=over, outline=outline)

    def add_plate(self, plate: Plate) -> None:
        """Add a sloping sheet."""
        floor_m = self.building.level(plate.level).floor_m
        corners_m = np.array(plate.corners) + np.array((0.0, 0.0, floor_m))
        self.sheets.append(_plane(corners_m))
        span_m = (float(corners_m[:, 2].min()), float(corners_m[:, 2].max()))
        label = self.label(f"plate {plate.id}", plate.construction)
        outline = self.outline(tuple((x_m, y_m) for x_m, y_m, _ in plate.corners))
        self.add_thing(span_m, label, outline=outline)

    def add_holes(self) -> None:
        """Add what is missing from slabs, or made of something else; a slab's band is its level."""
        order = [level.id for level in self.building.levels]
        for opening in self.building.openings:
            bands = (order.index(opening.level),) * 2
            label = NONE
            if opening.construction is not None:
                label = self.label(f"slab opening {opening.id}", opening.construction)
            outline = self.outline(opening.outline)
            self.things.append((*bands, label, NONE, NONE, outline, 0))
        for shaft in self.building.shafts:
            bands = (order.index(shaft.lowest) + 1, order.index(shaft.highest))
            self.things.append((*bands, NONE, NONE, NONE, self.outline(shaft.outline), 0))

    def add_slabs(self) -> None:
        """Add the slab of each level; where nothing fixed is drawn, slabs are not drawn either."""
        for level in self.building.levels:
            label, outline = NONE, level.outline or self.building.outline
            if self.building.is_drawn:
                label = self.label(f"slab under {level.id}", level.slab)
            self.slabs.append((label, self.outline(outline) if outline else NONE))

    def label(
        self, what: str, construction: str = "", id: str = "", *, is_solid: bool = False
    ) -> int:
        """Add a label and return its number."""
        self.labels.append(Label(what, construction, id, is_solid))
        return len(self.labels) - 1

    def outline(self, corners_m: Outline) -> int:
        """Add an outline and return its number."""
        self.outlines.append(corners_m)
        return len(self.outlines) - 1

    def add_thing(
        self,
        span_m: tuple[float, float],
        label: int,
        *,
        around: int = NONE,
        over: int = NONE,
        outline: int = NONE,
    ) -> None:
        """Add a thing that stands between two heights."""
        floors_m = [level.floor_m for level in self.building.levels]
        bands = [band_of(floors_m, span_m[0] + TOUCH_M), band_of(floors_m, span_m[1] - TOUCH_M)]
        self.things.append((min(bands), max(bands), label, around, over, outline, 0))

    def reach_m(self, lowest: str, highest: str) -> tuple[float, float]:
        """Heights from the floor of one level to the ceiling of another."""
        top = self.building.level(highest)
        return self.building.level(lowest).floor_m, top.floor_m + top.height_m


def band_of(floors_m: Floats | list[float], z_m: float) -> int:
    """Band of the grid that a height lies in: from the floor of a level to that of the next.

    Parameters
    ----------
    floors_m : Floats or list of float
        Heights of the floors, from the lowest. [m]
    z_m : float
        The height; below the lowest floor it is in the lowest band. [m]
    """
    band = 0
    while band + 1 < len(floors_m) and z_m >= floors_m[band + 1]:
        band += 1
    return band


def _fills_of(building: Building, wall: Wall) -> Iterator[tuple[Label, tuple[float, ...]]]:
    for door in building.doors:
        if door.wall == wall.id:
            size_m = (door.at_m, door.width_m, -EVERYWHERE_M, door.height_m)
            yield Label(f"door {door.id}", door.construction, door.id), size_m
    for window in building.windows:
        if window.wall == wall.id:
            size_m = (window.at_m, window.width_m, window.sill_m, window.sill_m + window.height_m)
            yield Label(f"window {window.id}", window.construction), size_m


def _plane(corners_m: Floats) -> tuple[float, float, float]:
    """Slopes along x and y, and height at zero, of the plane through corners in one plane."""
    # Newell's sum over the edges: the normal of a flat outline, dents and straight corners allowed.
    following_m = np.roll(corners_m, -1, axis=0)
    normal = np.cross(corners_m, following_m).sum(axis=0)
    slope_x, slope_y = -normal[0] / normal[2], -normal[1] / normal[2]
    x_m, y_m, z_m = corners_m.mean(axis=0)
    return float(slope_x), float(slope_y), float(z_m - slope_x * x_m - slope_y * y_m)
