"""Lines in metres become parts of a building: walls with doors and windows, pillars, shafts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from resilience.building.structure import (
    Building,
    Door,
    Level,
    Opening,
    Outline,
    Pillar,
    Shaft,
    Wall,
    Window,
)
from resilience.drawings.account import Account
from resilience.drawings.adopting.doubles import walls_from
from resilience.drawings.adopting.fittings import Fitting, Gapped, apart, stretch
from resilience.drawings.adopting.outlines import ring_of, without_cores, without_faces
from resilience.drawings.layers import FILLED, built
from resilience.drawings.plan import Ids, Stroke, file_stem, ring, sides
from resilience.drawings.runs import Run, groups, meet, near_pairs
from resilience.drawings.words import OUTLINE

DOOR_HEIGHT_M = 2.0  # a plan does not show heights; common practice
SILL_M, WINDOW_HEIGHT_M = 0.9, 1.2  # common practice
TOUCHING_M = 0.05
KINDS = ("walls", "doors", "windows", "pillars", "shafts", "openings")


def parts_of(
    strokes: Sequence[Stroke], levels: Sequence[Level], ids: Ids, account: Account, as_drawn: bool
) -> Building:
    """Return what lines stand for, as a building.

    Parameters
    ----------
    strokes : sequence of Stroke
        Every line with a meaning. [-]
    levels : sequence of Level
        Those that the lines are on, from the lowest. [-]
    ids : Ids
        Ids that are taken. [-]
    account : Account
        What became of the lines. [-]
    as_drawn : bool
        Whether each line is a wall, as in a list of walls; False looks for walls with two faces.
        [-]
    """
    made = Building(())
    for level in levels:
        here = [stroke for stroke in strokes if stroke.level == level.id]
        part = _level_parts(here, level, _Maker(ids, account, as_drawn))
        made = replace(
            made,
            levels=(*made.levels, *part.levels),
            walls=made.walls + part.walls,
            doors=made.doors + part.doors,
            windows=made.windows + part.windows,
            pillars=made.pillars + part.pillars,
            shafts=made.shafts + part.shafts,
            openings=made.openings + part.openings,
        )
    return made


@dataclass(frozen=True, slots=True)
class _Maker:
    """What every part is made with."""

    ids: Ids
    account: Account
    as_drawn: bool
    sources: dict[str, str] = field(default_factory=dict)  # layer of each part, by its id

    def id(self, stroke: Stroke, noun: str) -> str:
        """Return an id for a part."""
        name = self.ids.claim(stroke.id, f"{file_stem(stroke.level)}-{noun}")
        self.sources[name] = stroke.source
        return name

    def symbols(self, strokes: Sequence[Stroke]) -> list[list[Stroke]]:
        """Return strokes that belong together: those of one symbol, and loose ones that touch."""
        if self.as_drawn:
            return [[stroke] for stroke in strokes]
        made: dict[int, list[Stroke]] = {}
        for stroke in strokes:
            if stroke.symbol:
                made.setdefault(stroke.symbol, []).append(stroke)
        return [*made.values(), *_touching([stroke for stroke in strokes if not stroke.symbol])]


def _touching(strokes: Sequence[Stroke]) -> list[list[Stroke]]:
    lines = [
        (*stroke.points, stroke.points[0]) if stroke.closed else stroke.points for stroke in strokes
    ]
    together = groups(len(lines), near_pairs(lines, TOUCHING_M))
    return [[strokes[i] for i in group] for group in together]


def _level_parts(here: Sequence[Stroke], level: Level, maker: _Maker) -> Building:
    def of(*words: str) -> list[Stroke]:
        return [stroke for stroke in here if stroke.becomes in words]

    walls, doors, windows = _walled(here, level, maker)
    outlines = _rings(of(OUTLINE))
    for stroke, _ in outlines[1:]:
        maker.account.leave_out("outline", "the largest is taken", 1, stroke.source)
    if of(OUTLINE) and not outlines:
        source = of(OUTLINE)[0].source
        maker.account.leave_out("outline", "its lines do not close, or cross", 1, source)
    if outlines:
        maker.account.give(outlines[0][0].source, "outline")
    openings = tuple(
        Opening(maker.id(one, "opening"), level.id, outline, one.construction or None)
        for one, outline in _closed(of("opening"), maker)
    )
    shafts = _closed(of("shaft"), maker)
    pillars = list(_pillars(of("pillars"), maker))
    if not maker.as_drawn:
        shafts = without_faces(shafts, maker.account)
        pillars = without_cores(pillars, maker.account)
    outline = outlines[0][1] if outlines else _assumed_outline(walls, openings, maker)
    made = Building(
        levels=(replace(level, outline=outline),),
        walls=walls,
        doors=doors,
        windows=windows,
        pillars=tuple(pillars),
        shafts=tuple(
            Shaft(maker.id(one, "shaft"), level.id, level.id, outline, one.construction or None)
            for one, outline in shafts
        ),
        openings=openings,
    )
    for kind in KINDS:
        for part in getattr(made, kind):
            maker.account.give(maker.sources[part.id], kind.removesuffix("s"))
    return made


def _assumed_outline(walls: Sequence[Wall], openings: Sequence[Opening], maker: _Maker) -> Outline:
    """Return the ring of the outer walls where nobody drew an outline."""
    outline = ring_of(walls, openings)
    if outline:
        maker.account.note(
            "No outline is drawn; the ring that the outer walls close is taken, by the middle of "
            "these walls. If devices hang outside it, take outline out of site.yaml."
        )
    return outline


def _walled(
    here: Sequence[Stroke], level: Level, maker: _Maker
) -> tuple[tuple[Wall, ...], tuple[Door, ...], tuple[Window, ...]]:
    account = maker.account
    lines = [
        Run(start, end, stroke.becomes, 0.0, stroke.id, stroke.height_m, stroke.source)
        for stroke in here
        if stroke.becomes not in (OUTLINE, *FILLED)
        for start, end in sides(stroke.points, stroke.closed)
    ]
    runs = lines if maker.as_drawn else walls_from(lines, account)
    for run in runs:
        run.construction = built(run.construction, run.thick_m)
    found = Gapped(runs, account)
    fillings = [stroke for stroke in here if stroke.becomes in ("doors", "windows")]
    for word in ("doors", "windows"):
        found.fit_all(maker.symbols([stroke for stroke in fillings if stroke.becomes == word]))
    order = list({id(run): run for run in found.runs}.values())
    if not maker.as_drawn:
        meet(order)
        order.sort(key=lambda run: (run.a, run.b))
    stem = f"{file_stem(level.id)}-wall"
    names = {id(run): maker.ids.claim(run.id, stem) for run in order}
    maker.sources.update((names[id(run)], run.source) for run in order)
    walls = tuple(_wall(run, names[id(run)], level) for run in order)
    kept = apart(found.fittings, account)
    doors = (
        _door(fitting, names[id(fitting.wall)], level, maker)
        for fitting in kept
        if fitting.stroke.becomes == "doors"
    )
    windows = (
        _window(fitting, names[id(fitting.wall)], level, maker)
        for fitting in kept
        if fitting.stroke.becomes == "windows"
    )
    return walls, tuple(doors), tuple(windows)


def _wall(run: Run, name: str, level: Level) -> Wall:
    x1_m, y1_m, x2_m, y2_m = (round(value, 3) + 0.0 for end in (run.a, run.b) for value in end)
    return Wall(name, level.id, x1_m, y1_m, x2_m, y2_m, run.construction, run.height_m)


def _door(fitting: Fitting, wall: str, level: Level, maker: _Maker) -> Door:
    start_m, end_m = (round(value, 3) for value in stretch(fitting))
    height_m = min(DOOR_HEIGHT_M, level.height_m)
    maker.account.note(f"Doors are taken as {DOOR_HEIGHT_M:g} m high: a plan does not show it.")
    name = maker.id(fitting.stroke, "door")
    return Door(
        name, wall, start_m, round(end_m - start_m, 3), height_m, fitting.stroke.construction
    )


def _window(fitting: Fitting, wall: str, level: Level, maker: _Maker) -> Window:
    start_m, end_m = (round(value, 3) for value in stretch(fitting))
    sill_m = min(SILL_M, level.height_m / 3)
    maker.account.note(
        f"Windows are taken as {WINDOW_HEIGHT_M:g} m high above a sill at {SILL_M:g} m: a plan "
        "does not show it."
    )
    return Window(
        maker.id(fitting.stroke, "window"),
        wall,
        start_m,
        round(sill_m, 3),
        round(end_m - start_m, 3),
        round(min(WINDOW_HEIGHT_M, level.height_m - sill_m), 3),
        fitting.stroke.construction,
    )


def _pillars(strokes: Sequence[Stroke], maker: _Maker) -> Iterable[Pillar]:
    from shapely.geometry import MultiPoint

    for symbol in maker.symbols(strokes):
        points = [point for stroke in symbol for point in stroke.points]
        low, high = (tuple(of(side) for side in zip(*points, strict=True)) for of in (min, max))
        width_m, depth_m = (round(high[axis] - low[axis], 3) for axis in (0, 1))
        if min(width_m, depth_m) < 0.02:
            maker.account.leave_out(
                "pillars", "a line, or less than 2 cm wide", 1, symbol[0].source
            )
            continue
        if MultiPoint(points).convex_hull.area < 0.95 * width_m * depth_m:
            maker.account.note("Round or turned pillars became the boxes around them.")
        first = symbol[0]
        x_m, y_m = (round((low[axis] + high[axis]) / 2, 3) for axis in (0, 1))
        name = maker.id(first, "pillar")
        yield Pillar(name, first.level, first.level, x_m, y_m, width_m, depth_m, first.construction)


def _closed(strokes: Sequence[Stroke], maker: _Maker) -> list[tuple[Stroke, Outline]]:
    """Return the outlines that lines close."""
    found = []
    for symbol in maker.symbols(strokes):
        rings = _rings(symbol)
        if not rings:
            first = symbol[0]
            why = "its lines do not close, or cross"
            maker.account.leave_out(first.becomes, why, 1, first.source)
        found += rings
    return found


def _rings(strokes: Sequence[Stroke]) -> list[tuple[Stroke, Outline]]:
    """Return the outlines that lines close, the largest first; none lies inside another."""
    from shapely.geometry import LineString, Polygon
    from shapely.ops import polygonize, unary_union

    found = [(stroke, ring(stroke.points)) for stroke in strokes if stroke.closed]
    loose = [stroke for stroke in strokes if not stroke.closed]
    if loose:
        lines = unary_union([LineString(stroke.points) for stroke in loose])
        found += [(loose[0], ring(one.exterior.coords[:-1])) for one in polygonize(lines)]
    measured = [(stroke, outline, Polygon(outline)) for stroke, outline in found if outline]
    measured.sort(key=lambda one: (-one[2].area, one[1]))
    kept: list[tuple[Stroke, Outline, Polygon]] = []
    for stroke, outline, area in measured:
        if not any(other.buffer(0.01).covers(area) for _, _, other in kept):
            kept.append((stroke, outline, area))
    return [(stroke, outline) for stroke, outline, _ in kept]


def joined_shafts(old: Building, drawn: Building) -> tuple[Building, tuple[Shaft, ...]]:
    """Return what was drawn without the shafts that go on from one level to the next.

    The second value holds the shafts of the old building that now reach farther. A drawing of one
    level cannot say that its shaft is the one below; the same place and lining does.

    Parameters
    ----------
    old : Building
        What was there. [-]
    drawn : Building
        What is added, some of its shafts perhaps above each other. [-]
    """
    floors_m = {level.id: level.floor_m for level in (*old.levels, *drawn.levels)}
    order = sorted(floors_m, key=lambda level: floors_m[level])
    before = {shaft.id: shaft for shaft in old.shafts}
    kept = dict(before)
    for shaft in sorted(drawn.shafts, key=lambda shaft: order.index(shaft.lowest)):
        lower, upper = order.index(shaft.lowest), order.index(shaft.highest)
        for other in kept.values():
            low, high = order.index(other.lowest), order.index(other.highest)
            if (high + 1 == lower or upper + 1 == low) and _are_one(shaft, other):
                span = order[min(low, lower)], order[max(high, upper)]
                kept[other.id] = replace(other, lowest=span[0], highest=span[1])
                break
        else:
            kept[shaft.id] = shaft
    grown = tuple(kept[name] for name, shaft in before.items() if kept[name] != shaft)
    added = tuple(shaft for name, shaft in kept.items() if name not in before)
    return replace(drawn, shafts=added), grown


def _are_one(one: Shaft, other: Shaft) -> bool:
    """Whether two shafts lie at the same place, give or take what drawings differ by."""
    from shapely.geometry import Polygon

    a, b = Polygon(one.outline), Polygon(other.outline)
    return one.lining == other.lining and a.intersection(b).area > 0.8 * a.union(b).area
