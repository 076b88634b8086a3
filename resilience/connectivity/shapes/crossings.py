"""What the straight line between two places has to pass, and what each of these takes."""

from dataclasses import dataclass

import numpy as np

from resilience.building.settings import Radio
from resilience.building.site import Place
from resilience.building.structure import Building, Door, Shaft, Wall
from resilience.connectivity.losses.slabs import block_loss_db, construction_loss_db
from resilience.connectivity.shapes.faces import (
    CLEAR_M,
    Blocks,
    Faces,
    Meeting,
    Path,
    contains,
    joined,
)

# A construction that states so much says "opaque": nobody measures it indoors, because some of the
# power always finds a way round. The way round is then what counts, as for pillars and linings.
OPAQUE_DB = 60.0


@dataclass(frozen=True, slots=True)
class Hindrance:
    """One thing in the way.

    Parameters
    ----------
    what : str
        In plain words: ``slab under L2``, ``wall W3``, ``door D1``, ``pillar P2``. [-]
    construction : str
        Name of what it is made of. [-]
    loss_db : float
        What it takes, at the angle at which the path meets it. [dB]
    """

    what: str
    construction: str
    loss_db: float


Found = tuple[float, Hindrance]  # share of the path at which it stands, and what it is


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A building made ready for many paths.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    radio : Radio
        Frequency and largest loss of an obstacle. [-]
    walls, linings : Faces
        The walls in the order of the building; the sides of lined shafts, in one row. [-]
    lined : tuple of Shaft
        Whose side each face of the linings is. [-]
    doors : tuple of tuple of Door
        Doors of each wall. [-]
    pillars : Blocks
        The pillars in the order of the building. [-]
    """

    building: Building
    radio: Radio
    walls: Faces
    linings: Faces
    lined: tuple[Shaft, ...]
    doors: tuple[tuple[Door, ...], ...]
    pillars: Blocks


def drawing(building: Building, radio: Radio) -> Drawing:
    """Building made ready for many paths.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    radio : Radio
        Frequency and largest loss of an obstacle. [-]
    """
    sides = [
        (shaft, (*first, *last, *_reach_m(building, shaft.lowest, shaft.highest)))
        for shaft in building.shafts
        if shaft.lining is not None
        for first, last in zip(shaft.outline, (*shaft.outline[1:], shaft.outline[0]), strict=True)
    ]
    return Drawing(
        building,
        radio,
        walls=Faces.from_corners([_wall_corners_m(building, wall) for wall in building.walls]),
        linings=Faces.from_corners([corners_m for _, corners_m in sides]),
        lined=tuple(shaft for shaft, _ in sides),
        doors=tuple(
            tuple(door for door in building.doors if door.wall == wall.id)
            for wall in building.walls
        ),
        pillars=_pillars(building),
    )


def path_between(building: Building, a: Place, b: Place) -> Path:
    """Straight line between two places, heights counted from the site's zero.

    Parameters
    ----------
    building : Building
        Whose levels are meant. [-]
    a, b : Place
        The two ends. [-]
    """
    return Path(_point_m(building, a), _point_m(building, b))


def hindrances(drawn: Drawing, a: Place, b: Place) -> tuple[Hindrance, ...]:
    """Everything that the straight line from a to b has to pass, in that order.

    Parameters
    ----------
    drawn : Drawing
        The building. [-]
    a, b : Place
        The two ends; a path and its reverse meet the same things. [-]
    """
    path = path_between(drawn.building, a, b)
    found = [*_walls(drawn, path), *_slabs(drawn, path), *_pillars_hit(drawn, path)]
    found += _linings(drawn, path)
    found.sort(key=lambda item: (item[0], item[1].what))
    return tuple(hindrance for _, hindrance in found)


def _point_m(building: Building, place: Place) -> tuple[float, float, float]:
    level = building.level(place.level)
    height_m = place.height_m
    if abs(height_m) <= CLEAR_M:
        height_m = CLEAR_M
    elif abs(height_m - level.height_m) <= CLEAR_M:
        height_m = level.height_m - CLEAR_M
    return place.x_m, place.y_m, level.floor_m + height_m


def _reach_m(building: Building, lowest: str, highest: str) -> tuple[float, float]:
    """Heights from the floor of one level to the ceiling of another."""
    top = building.level(highest)
    return building.level(lowest).floor_m, top.floor_m + top.height_m


def _wall_corners_m(building: Building, wall: Wall) -> tuple[float, ...]:
    level = building.level(wall.level)
    height_m = level.height_m if wall.height_m is None else min(wall.height_m, level.height_m)
    ends_m = wall.x1_m, wall.y1_m, wall.x2_m, wall.y2_m
    return (*ends_m, level.floor_m, level.floor_m + height_m)


def _pillars(building: Building) -> Blocks:
    low_m, high_m = [], []
    for pillar in building.pillars:
        foot_m, top_m = _reach_m(building, pillar.lowest, pillar.highest)
        half_x_m, half_y_m = pillar.width_m / 2, pillar.depth_m / 2
        low_m.append((pillar.x_m - half_x_m, pillar.y_m - half_y_m, foot_m))
        high_m.append((pillar.x_m + half_x_m, pillar.y_m + half_y_m, top_m))
    return Blocks(np.array(low_m).reshape(-1, 3), np.array(high_m).reshape(-1, 3))


def _loss_db(drawn: Drawing, construction: str, cos_incidence: float) -> float:
    built = drawn.building.construction(construction)
    loss_db = construction_loss_db(built, drawn.radio.frequency_mhz, cos_incidence)
    if built.loss_db is not None and built.loss_db >= OPAQUE_DB:
        return min(loss_db, drawn.radio.obstacle_most_db)
    return loss_db


def _walls(drawn: Drawing, path: Path) -> list[Found]:
    return [
        max(
            (_wall_or_door(drawn, meeting) for meeting in group),
            key=lambda item: (item[1].loss_db, item[1].what),
        )
        for group in joined(drawn.walls.meetings(path), path)
    ]


def _wall_or_door(drawn: Drawing, meeting: Meeting) -> Found:
    wall = drawn.building.walls[meeting.face]
    above_floor_m = meeting.z_m - drawn.walls.foot_m[meeting.face]
    what, construction = f"wall {wall.id}", wall.construction
    for door in drawn.doors[meeting.face]:
        beside_m = meeting.at_m - door.at_m
        if 0 <= beside_m <= door.width_m and above_floor_m <= door.height_m:
            what, construction = f"door {door.id}", door.construction
    loss_db = _loss_db(drawn, construction, meeting.cos_incidence)
    return meeting.along, Hindrance(what, construction, loss_db)


def _slabs(drawn: Drawing, path: Path) -> list[Found]:
    found = []
    rise_m = path.b[2] - path.a[2]
    for position, level in enumerate(drawn.building.levels):
        if (path.a[2] < level.floor_m) == (path.b[2] < level.floor_m):
            continue
        along = (level.floor_m - path.a[2]) / rise_m
        x, y, _ = path.at(along)
        if not any(
            _opens(drawn.building, shaft, position) and contains(shaft.outline, x, y)
            for shaft in drawn.building.shafts
        ):
            loss_db = _loss_db(drawn, level.slab, min(1.0, abs(rise_m) / path.length_m))
            found.append((along, Hindrance(f"slab under {level.id}", level.slab, loss_db)))
    return found


def _opens(building: Building, shaft: Shaft, position: int) -> bool:
    """Whether the slab below the level at that position is missing inside the shaft."""
    ids = [level.id for level in building.levels]
    return ids.index(shaft.lowest) < position <= ids.index(shaft.highest)


def _pillars_hit(drawn: Drawing, path: Path) -> list[Found]:
    found = []
    for block, along, chord_m in drawn.pillars.chords(path):
        pillar = drawn.building.pillars[block]
        built = drawn.building.construction(pillar.construction)
        if built.loss_db is not None:
            loss_db = built.loss_db
        else:
            # A pillar is solid: its first material, as long as the path inside it.
            chord_mm = max(1, round(1000 * chord_m))
            loss_db = block_loss_db(built.layers[0][0], chord_mm, drawn.radio.frequency_mhz)
        loss_db = min(loss_db, drawn.radio.obstacle_most_db)
        found.append((along, Hindrance(f"pillar {pillar.id}", pillar.construction, loss_db)))
    return found


def _linings(drawn: Drawing, path: Path) -> list[Found]:
    of_shaft: dict[str, list[Meeting]] = {}
    shafts = {shaft.id: shaft for shaft in drawn.lined}
    for meeting in drawn.linings.meetings(path):
        of_shaft.setdefault(drawn.lined[meeting.face].id, []).append(meeting)
    found = []
    for id, meetings in of_shaft.items():
        lining = shafts[id].lining or ""
        through_db = sum(
            max(_loss_db(drawn, lining, meeting.cos_incidence) for meeting in group)
            for group in joined(meetings, path)
        )
        loss_db = min(through_db, drawn.radio.obstacle_most_db)
        found.append((meetings[0].along, Hindrance(f"lining of shaft {id}", lining, loss_db)))
    return found
