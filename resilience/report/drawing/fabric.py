"""What stands on a level: walls with their doors and windows, pillars, shafts, what comes and goes.

Everything bears the name that ``check`` and ``links`` give it. A wall's line tells what it is made
of: by the material of which there is most, or by the loss stated for it.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from resilience.assumptions.constructions import Construction
from resilience.building.structure import (
    Building,
    Change,
    Door,
    Level,
    Obstacle,
    Opening,
    Outline,
    Pillar,
    Shaft,
    Wall,
    Window,
)
from resilience.report.drawing.frame import Frame, Point, corners_m
from resilience.report.drawing.ink import Element, line, put, say, short
from resilience.report.drawing.labels import Spot, along, around
from resilience.report.words import visible

PART_SIZE = 8.5  # of the names of things
LEAST_THICK, MOST_THICK, STATED_THICK = 3.4, 9.0, 4.6
HEAVY_DB = 15.0  # a stated loss from which on a wall is drawn as a heavy one
TEXTURES = {"concrete": "solid", "brick": "brick", "glass": "glass"}


@dataclass(frozen=True, slots=True)
class Name:
    """A name that wants to stand on a picture.

    Parameters
    ----------
    text, what : str
        Id of a thing, and its full name. [-]
    at : (float, float)
        Its middle. [units]
    spots : tuple of Spot
        Where it may stand, the best first. [units]
    """

    text: str
    what: str
    at: Point
    spots: tuple[Spot, ...]

    @property
    def kind(self) -> str:
        """What the thing is, without its id."""
        return self.what.removesuffix(self.text).strip()


def texture(made_of: Construction) -> str:
    """Class of the line of a wall of some construction.

    Parameters
    ----------
    made_of : Construction
        What it is made of. [-]
    """
    if made_of.loss_db is not None:
        return "heavy" if made_of.loss_db >= HEAVY_DB else "stated"
    solid = [(m, material) for material, m in made_of.layers if material != "air"]
    return TEXTURES.get(max(solid)[1], "light") if solid else "light"


def thickness(made_of: Construction, units_per_m: float) -> float:
    """How thick the line of a wall of some construction is.

    Parameters
    ----------
    made_of : Construction
        What it is made of. [-]
    units_per_m : float
        Scale. [units/m]
    """
    if made_of.loss_db is not None:
        return STATED_THICK
    thick_m = sum(layer_m for _, layer_m in made_of.layers)
    return min(MOST_THICK, max(LEAST_THICK, thick_m * units_per_m))


def made_of(made: Construction) -> str:
    """What a construction is, in plain words.

    Parameters
    ----------
    made : Construction
        Its layers or its loss. [-]
    """
    if made.loss_db is not None:
        return f"{made.loss_db:g} dB stated"
    names = dict.fromkeys(name.replace("_", " ") for name, _ in made.layers)
    return f"{1000 * sum(m for _, m in made.layers):g} mm {' and '.join(names)}"


@dataclass(frozen=True, slots=True)
class Ground:
    """One level as it is drawn.

    Parameters
    ----------
    building : Building
        Where it is. [-]
    level : Level
        The level. [-]
    frame : Frame
        Of the picture. [-]
    group : Element
        The picture. [-]
    """

    building: Building
    level: Level
    frame: Frame
    group: Element

    def path(self, corners: Sequence[Point]) -> str:
        """Closed path through corners given in metres."""
        return line(*(self.frame.at(*corner) for corner in corners)) + "z"

    def stands_between(self, lowest: str, highest: str) -> bool:
        """Whether something that reaches from one level to another stands on this one."""
        order = [level.id for level in self.building.levels]
        return order.index(lowest) <= order.index(self.level.id) <= order.index(highest)


def add_fabric(ground: Ground) -> list[Name]:
    """Draw everything that stands on a level; returns the names to be written on it.

    Outlines of other levels show where on the site it lies.

    Parameters
    ----------
    ground : Ground
        The level and its picture. [-]
    """
    outline = ground.level.outline or ground.building.outline
    others = {level.outline or ground.building.outline for level in ground.building.levels}
    for other in sorted(others - {outline, ()}):
        put(ground.group, "path", "ghost", d=ground.path(other))
    if outline:
        made = put(ground.group, "g", data_part=f"level {visible(ground.level.id)}")
        put(made, "path", "floor", d=ground.path(outline))
    names = [*_zones(ground), *_holes(ground), *_plates(ground)]
    for wall in ground.building.walls:
        if wall.level == ground.level.id:
            names += add_wall(ground, wall)
    return [*names, *_blocks(ground)]


def _zones(ground: Ground) -> Iterator[Name]:
    """Parts of the level whose devices share what happens there."""
    for zone in ground.building.zones:
        if zone.outline and zone.level == ground.level.id:
            made = put(ground.group, "g", data_part=visible(f"zone {zone.id}"))
            say(made, f"zone {zone.id}: its devices share what happens there")
            put(made, "path", "ghost", d=ground.path(zone.outline))
            at = [ground.frame.at(*corner) for corner in zone.outline]
            yield Name(zone.id, f"zone {zone.id}", _middle(at), tuple(_inside(at)))


def _holes(ground: Ground) -> Iterator[Name]:
    """Shafts, and openings in the slab below."""
    for shaft in ground.building.shafts:
        if ground.stands_between(shaft.lowest, shaft.highest):
            about = f"lined with {shaft.lining}" if shaft.lining else "open"
            reach = f"{shaft.lowest} to {shaft.highest}"
            yield _hole(ground, shaft, f"shaft {shaft.id}", f"{about}, {reach}")
            if shaft.lining:
                _lining(ground, shaft.outline, shaft.lining)
    for opening in ground.building.openings:
        if opening.level == ground.level.id:
            about = f"{opening.construction or 'nothing'} in the slab under {ground.level.id}"
            yield _hole(ground, opening, f"slab opening {opening.id}", about)


def _hole(ground: Ground, one: Shaft | Opening, what: str, about: str) -> Name:
    made = put(ground.group, "g", data_part=visible(what))
    say(made, f"{what}: {about}")
    put(made, "path", "hole", d=ground.path(one.outline))
    at = [ground.frame.at(*corner) for corner in one.outline]
    put(made, "path", "cross", d="".join(line(corner, _middle(at)) for corner in at))
    return Name(one.id, what, _middle(at), tuple(_inside(at)))


def _lining(ground: Ground, outline: Outline, construction: str) -> None:
    made = ground.building.construction(construction)
    thick = thickness(made, ground.frame.units_per_m)
    group = put(ground.group, "g", f"wall {texture(made)}")
    wall_lines(group, ground.path(outline), thick)


def _plates(ground: Ground) -> Iterator[Name]:
    for plate in ground.building.plates:
        if plate.level == ground.level.id:
            heights_m = [height_m for *_, height_m in plate.corners]
            made = put(ground.group, "g", data_part=visible(f"plate {plate.id}"))
            reach = f"{min(heights_m):g} to {max(heights_m):g} m above the floor"
            say(made, f"plate {plate.id}: {plate.construction}, {reach}")
            outline = tuple((x_m, y_m) for x_m, y_m, _ in plate.corners)
            put(made, "path", "plate", d=ground.path(outline))
            at = [ground.frame.at(*corner) for corner in outline]
            yield Name(plate.id, f"plate {plate.id}", _middle(at), tuple(_inside(at)))


def add_wall(ground: Ground, wall: Wall) -> list[Name]:
    """Draw a wall with what is in it; returns their names.

    Parameters
    ----------
    ground : Ground
        The level and its picture. [-]
    wall : Wall
        The wall. [-]
    """
    building, frame = ground.building, ground.frame
    made = building.construction(wall.construction)
    thick = thickness(made, frame.units_per_m)
    fills = fills_of(building, wall)
    is_low = wall.height_m is not None and wall.height_m < ground.level.height_m
    group = put(ground.group, "g", f"wall {texture(made)}{' low' if is_low else ''}")
    group.set("data-part", visible(f"wall {wall.id}"))
    high = f", {wall.height_m:g} m high" if is_low else ""
    say(group, f"wall {wall.id}: {wall.construction} ({made_of(made)}){high}")
    shares = [0.0, *(one for fill in fills for one in _shares(wall, fill)), 1.0]
    pieces = [(one, other) for one, other in zip(shares[::2], shares[1::2], strict=True)]
    path = "".join(
        line(_on(frame, wall, one), _on(frame, wall, other)) for one, other in pieces if other > one
    )
    wall_lines(group, path, thick)
    ends = _on(frame, wall, 0.0), _on(frame, wall, 1.0)
    names = [_fill(ground, wall, fill, thick) for fill in fills]
    at = _middle(ends)
    last = (one for one in around(at, thick, short(wall.id), PART_SIZE) if one.is_far)
    spots = (*along(*ends, thick / 2 + 6), *last)
    return [Name(wall.id, f"wall {wall.id}", at, spots), *names]


def wall_lines(group: Element, path: str, thick: float) -> None:
    """Draw the body of a wall and, inside, what tells its material.

    Parameters
    ----------
    group : Element
        Of the wall. [-]
    path : str
        Where it runs. [-]
    thick : float
        How thick it is drawn. [units]
    """
    put(group, "path", "body", d=path, stroke_width=thick)
    put(group, "path", "core", d=path, stroke_width=max(1.2, thick - 2.4))


def fills_of(building: Building, wall: Wall) -> list[Door | Window]:
    """Doors and windows of a wall, along it.

    Parameters
    ----------
    building : Building
        Where it stands. [-]
    wall : Wall
        The wall. [-]
    """
    fills: tuple[Door | Window, ...] = (*building.doors, *building.windows)
    found = [one for one in fills if one.wall == wall.id]
    return sorted(found, key=lambda one: (one.at_m, one.id))


def _shares(wall: Wall, fill: Door | Window) -> tuple[float, float]:
    """Where a door or window begins and ends, as shares of its wall."""
    long_m = math.dist((wall.x1_m, wall.y1_m), (wall.x2_m, wall.y2_m)) or 1.0
    return min(1.0, fill.at_m / long_m), min(1.0, (fill.at_m + fill.width_m) / long_m)


def _on(frame: Frame, wall: Wall, share: float) -> Point:
    x_m = wall.x1_m + (wall.x2_m - wall.x1_m) * share
    return frame.at(x_m, wall.y1_m + (wall.y2_m - wall.y1_m) * share)


def _fill(ground: Ground, wall: Wall, fill: Door | Window, thick: float) -> Name:
    """Draw a door or a window; a door that changes has a leaf that stands open."""
    first, last = (_on(ground.frame, wall, share) for share in _shares(wall, fill))
    kind = "door" if isinstance(fill, Door) else "window"
    what, change = f"{kind} {fill.id}", fill.change if isinstance(fill, Door) else None
    group = put(ground.group, "g", data_part=visible(what))
    size = f"{fill.width_m:g} m wide, {fill.height_m:g} m high"
    if change:
        shut = f"adds {change.adds_db:g} dB while shut, {_when(change)}"
        say(group, f"{what}: {fill.construction} as drawn, {size}; {shut}")
        put(group, "path", "moving", d=line(first, _swung(first, last)))
    else:
        say(group, f"{what}: {fill.construction}, {size}")
        for off in (-thick / 2, thick / 2) if kind == "window" else (0.0,):
            put(group, "path", "fill", d=line(*_beside(first, last, off)))
    spots = tuple(along(first, last, thick / 2 + 6))
    return Name(fill.id, what, _middle((first, last)), spots)


def _when(change: Change) -> str:
    """When something is changed: in hours, so often a year, or so often in hours."""
    if change.is_fixed:
        return f"always at {change.when.words}"
    only = "" if change.when.is_always else f", only at {change.when.words}"
    return f"{change.per_year:g} times a year{only}"


def _swung(first: Point, last: Point) -> Point:
    """Where the free edge of a leaf is that stands open by a third of a right angle."""
    turn = math.atan2(last[1] - first[1], last[0] - first[0]) - math.radians(35)
    long = math.dist(first, last)
    return first[0] + math.cos(turn) * long, first[1] + math.sin(turn) * long


def _beside(first: Point, last: Point, off: float) -> tuple[Point, Point]:
    long = math.dist(first, last) or 1.0
    x, y = -(last[1] - first[1]) / long * off, (last[0] - first[0]) / long * off
    return (first[0] + x, first[1] + y), (last[0] + x, last[1] + y)


def _blocks(ground: Ground) -> Iterator[Name]:
    """Pillars and obstacles."""
    for pillar in ground.building.pillars:
        if ground.stands_between(pillar.lowest, pillar.highest):
            yield _block(ground, pillar, f"pillar {pillar.id}", pillar.construction)
    for one in ground.building.obstacles:
        if one.level == ground.level.id:
            change = one.change
            about = f"takes {one.loss_db:g} dB as drawn, {change.adds_db:g} dB more "
            about += f"{_when(change)}; {one.height_m:g} m high"
            yield _block(ground, one, f"{one.kind} {one.id}", about)


def _block(ground: Ground, box: Pillar | Obstacle, what: str, about: str) -> Name:
    made = say(put(ground.group, "g", data_part=visible(what)), f"{what}: {about}")
    corners = corners_m(box.x_m, box.y_m, box.width_m, box.depth_m)
    look = "moving box" if isinstance(box, Obstacle) else "block"
    put(made, "path", look, d=ground.path(corners))
    at = [ground.frame.at(*corner) for corner in corners]
    spots = (*_inside(at), *_edges(at)) if isinstance(box, Obstacle) else tuple(_edges(at))
    return Name(box.id, what, _middle(at), spots)


def _middle(corners: Sequence[Point]) -> Point:
    xs, ys = zip(*corners, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _inside(corners: Sequence[Point]) -> Iterator[Spot]:
    """Spots in the middle of something, then along its edges."""
    x, y = _middle(corners)
    yield from (Spot(x, y + off) for off in (0.0, -12.0, 12.0))
    yield from _edges(corners)


def _edges(corners: Sequence[Point]) -> Iterator[Spot]:
    """Spots outside something, beside its edges."""
    for first, last in zip(corners, (*corners[1:], corners[0]), strict=True):
        yield from (one for one in along(first, last, 7.0))
