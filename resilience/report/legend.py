"""What the signs and lines of a picture mean: only those that are in it."""

from collections.abc import Callable, Sequence
from xml.etree.ElementTree import Element

from resilience.building.site import Kind
from resilience.building.structure import Building
from resilience.connectivity.hearing import NEAR_DB, THIN_MARGIN_DB
from resilience.report.drawing.fabric import made_of, texture, thickness, wall_lines
from resilience.report.drawing.frame import SIDE, WIDTH
from resilience.report.drawing.ink import line, number, put, short, width_of
from resilience.report.drawing.labels import Spot
from resilience.report.drawing.marks import HOLES, REACH, Figure, bracket, sign, write
from resilience.report.drawing.strokes import STRONG_DB, Course, Installed, Weight

UP, DOWN, BESIDE = "\N{UPWARDS ARROW}", "\N{DOWNWARDS ARROW}", "\N{LEFT RIGHT ARROW}"
SOLE_PERCENT = 5  # of possible buildings in which a device has to be a single point to be marked
COLUMNS, ROW, SIZE, SAMPLE, GAP = 3, 22.0, 10.5, 46.0, 28.0
WEIGHTS = {
    Weight.NEAR: f"less than {NEAR_DB:g} dB to spare",
    Weight.THIN: f"{NEAR_DB:g} to {THIN_MARGIN_DB:g} dB",
    Weight.AMPLE: f"{THIN_MARGIN_DB:g} to {STRONG_DB:g} dB",
    Weight.STRONG: f"{STRONG_DB:g} dB or more",
}
USES = {
    Weight.MAINLY: "carries half of the time or more",
    Weight.OFTEN: "a tenth to a half of the time",
    Weight.SELDOM: "a hundredth to a tenth of it",
}
QUIET = {
    HOLES[0.001]: "sensor silent 0.1 to 1 % of the time",
    HOLES[0.01]: "sensor silent 1 to 5 % of the time",
    HOLES[0.05]: "sensor silent more than 5 % of it",
}

Entry = tuple[str, Callable[[Element, float, float], object]]


def legend(installed: Installed, units_per_m: float) -> Figure:
    """Legend of everything that is drawn of a layout.

    Parameters
    ----------
    installed : Installed
        Building, devices and links. [-]
    units_per_m : float
        Scale of the plans, by which walls are thick. [units/m]
    """
    entries = [
        *_devices(installed),
        *_links(installed),
        *_walls(installed.building, units_per_m),
        *_others(installed.building),
    ]
    group, n_rows, x = Element("g"), -(-len(entries) // COLUMNS), SIDE
    for first in range(0, len(entries), n_rows):
        column = entries[first : first + n_rows]
        left, widest = x + SAMPLE + 10, max(width_of(text, SIZE) for text, _ in column)
        for n, (text, add) in enumerate(column):
            y = 12 + n * ROW
            add(group, x, y)
            write(group, "", text, Spot(left + width_of(text, SIZE) / 2, y), SIZE)
        x = left + widest + GAP
    about = "; ".join(text for text, _ in entries)
    return Figure("Signs and lines", about, WIDTH, n_rows * ROW + 6, group)


def _devices(installed: Installed) -> list[Entry]:
    marks = installed.marks
    found: list[Entry] = [
        (kind.value, _sign_of(kind, kind.value))
        for kind in (Kind.GATEWAY, Kind.REPEATER, Kind.SENSOR)
        if any(one.kind is kind and not one.is_standby for one in marks)
    ]
    if any(one.is_standby for one in marks):
        found.append(("standby gateway", _sign_of(Kind.GATEWAY, "gateway standby")))
    if any(one.is_frail for one in marks):
        found.append(("unheard, or fewer than 2 parents", _ring))
    if any(one.is_sole for one in marks):
        found.append(("single point of failure", _sole("sole")))
    if any(one.is_sole_at_times for one in marks):
        text = f"so in {SOLE_PERCENT} % of possible buildings or more"
        found.append((text, _sole("sole seldom")))
    holes = {one.hole for one in marks}
    found += [(text, _quiet(hole)) for hole, text in QUIET.items() if hole in holes]
    ways = "".join(one.ways for one in marks)
    for sign_of_way, where in ((UP, "above"), (DOWN, "below"), (BESIDE, "at the same height")):
        if sign_of_way in ways:
            found.append((f"links to levels {where}", _text(f"{sign_of_way}2")))
    return found


def _links(installed: Installed) -> list[Entry]:
    used = {one.weight for one in installed.strokes}
    found: list[Entry] = [
        (text, _link(weight)) for weight, text in {**WEIGHTS, **USES}.items() if weight in used
    ]
    if any(one.is_measured for one in installed.strokes):
        found.append(("measured (others: predicted)", _measured))
    if used & WEIGHTS.keys():
        found.append(("what a link can still lose, dB", _text("14", "margin")))
    if used & USES.keys():
        found.append(("how often it carries, % of the time", _text("87", "margin")))
    if any(one.is_sole for one in installed.strokes):
        found.append(("path that is a single point of failure", _text("87!", "margin")))
    return found


def _walls(building: Building, units_per_m: float) -> list[Entry]:
    used = {wall.construction for wall in building.walls}
    used |= {shaft.lining for shaft in building.shafts if shaft.lining}
    found: list[Entry] = []
    for name in sorted(used):
        made = building.construction(name)
        found.append(
            (
                f"{short(name)}: {short(made_of(made))}",
                _wall(texture(made), thickness(made, units_per_m)),
            )
        )
    return found


def _others(building: Building) -> list[Entry]:
    found: list[Entry] = []
    if building.pillars:
        found.append(("pillar", _box("block")))
    if building.shafts or building.openings:
        found.append(("shaft or opening in the slab", _box("hole")))
    if building.obstacles:
        found.append(("comes and goes", _box("moving box")))
    if any(door.change for door in building.doors):
        found.append(("door that shuts at times", _leaf))
    if any(not door.change for door in building.doors):
        found.append(("door that stays as drawn", _still))
    if building.windows:
        found.append(("window", _pane))
    if any(wall.height_m for wall in building.walls):
        found.append(("wall below the ceiling", _wall("solid low", 4.0)))
    if building.plates:
        found.append(("sloping plate", _box("plate")))
    if any(zone.outline for zone in building.zones):
        found.append(("zone", _box("ghost")))
    if len({level.outline for level in building.levels}) > 1:
        found.append(("outline of another level", _box("ghost")))
    return found


def _sign_of(kind: Kind, classes: str) -> Callable[[Element, float, float], object]:
    def add(group: Element, x: float, y: float) -> None:
        made = put(group, "g", classes)
        put(made, "path", "sign", d=sign(kind, (x + SAMPLE / 2, y), REACH))

    return add


def _sole(classes: str) -> Callable[[Element, float, float], object]:
    return lambda group, x, y: put(group, "path", classes, d=bracket((x + SAMPLE / 2, y), REACH))


def _quiet(hole: float) -> Callable[[Element, float, float], object]:
    def add(group: Element, x: float, y: float) -> None:
        _sign_of(Kind.SENSOR, "sensor")(group, x, y)
        put(group, "circle", "gap", cx=x + SAMPLE / 2, cy=y, r=REACH * hole)

    return add


def _ring(group: Element, x: float, y: float) -> None:
    put(group, "circle", "ring", cx=x + SAMPLE / 2, cy=y, r=REACH + 2)


def _link(weight: Weight) -> Callable[[Element, float, float], object]:
    return lambda group, x, y: put(
        put(group, "g", f"link {weight.value}"), "path", d=line((x, y), (x + SAMPLE, y))
    )


def _measured(group: Element, x: float, y: float) -> None:
    made = put(group, "g", "link ample measured")
    course = Course((x, y), (x + SAMPLE, y), None)
    put(made, "path", d=course.path)
    put(made, "path", "tick", d=course.tick)


def _text(text: str, classes: str = "name") -> Callable[[Element, float, float], object]:
    return lambda group, x, y: write(group, classes, text, Spot(x + SAMPLE / 2, y), SIZE)


def _wall(classes: str, thick: float) -> Callable[[Element, float, float], object]:
    return lambda group, x, y: wall_lines(
        put(group, "g", f"wall {classes}"), line((x, y), (x + SAMPLE, y)), thick
    )


def _box(classes: str) -> Callable[[Element, float, float], object]:
    def add(group: Element, x: float, y: float) -> None:
        corners: Sequence[tuple[float, float]] = (
            *((x + 12, y - 6), (x + 34, y - 6)),
            *((x + 34, y + 6), (x + 12, y + 6)),
        )
        put(group, "path", classes, d=line(*corners) + "z")

    return add


def _leaf(group: Element, x: float, y: float) -> None:
    wall_lines(put(group, "g", "wall solid"), f"M{number(x)} {number(y + 4)}h12m22 0h12", 4.0)
    put(group, "path", "moving", d=line((x + 12, y + 4), (x + 30, y - 8)))


def _still(group: Element, x: float, y: float) -> None:
    wall_lines(put(group, "g", "wall solid"), f"M{number(x)} {number(y)}h12m22 0h12", 4.0)
    put(group, "path", "fill", d=line((x + 12, y), (x + 34, y)))


def _pane(group: Element, x: float, y: float) -> None:
    wall_lines(put(group, "g", "wall solid"), f"M{number(x)} {number(y)}h12m22 0h12", 4.0)
    for off in (-2, 2):
        put(group, "path", "fill", d=line((x + 12, y + off), (x + 34, y + off)))
