"""Devices of the candidate layouts."""

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace

from resilience.building.models import BatteryProfile, DeviceModel, Mountings
from resilience.building.sections.drawn import OVERHANG_M, footprint, named_points
from resilience.building.sections.plan import polygon
from resilience.building.sections.zones import zone_at
from resilience.building.settings import Heights
from resilience.building.site import Device, GivenLink, Kind, Layout, Place, Supply
from resilience.building.stated.equipment import NOT_CELLS, Months, course_at, is_no_battery
from resilience.building.structure import Building, Obstacle, Outline, Pillar, Shaft
from resilience.building.text.entries import Findings, Mark, Span, TableRow, Unique, listed, shown
from resilience.building.text.tables import Columns

PLACE_COLUMNS = ("level", "x_m", "y_m")
DETAIL_COLUMNS = (
    *("height_m", "model", "supply", "battery", "batch", "circuit", "zone", "mounting"),
    *("critical", "note"),
)
POSITION = Span("m", least=-10_000, most=10_000)
DRAWN_M = 0.01  # a device on the outline belongs to the building
SPOT_M = 0.01
MOVED_M = 3.0
FREE = "free"
ON_MAINS = f"{NOT_CELLS}: leave battery blank and write mains in column supply"


def device_columns(place_needed: bool) -> Columns:
    """Return the columns of ``devices.csv``."""
    if place_needed:
        return Columns(("id", "kind", *PLACE_COLUMNS), (*DETAIL_COLUMNS, "standby"))
    return Columns(("id", "kind"), (*PLACE_COLUMNS, *DETAIL_COLUMNS, "standby"))


def sensor_columns(place_needed: bool) -> Columns:
    """Return the columns of ``sensors.csv``."""
    if place_needed:
        return Columns(("id", *PLACE_COLUMNS), ("kind", *DETAIL_COLUMNS))
    return Columns(("id",), ("kind", *PLACE_COLUMNS, *DETAIL_COLUMNS))


@dataclass(frozen=True, slots=True)
class Stock:
    """What a device's row may refer to.

    Parameters
    ----------
    building : Building
        Where it may stand. [-]
    heights : Heights
        How high it hangs where the row does not say. [-]
    models, batteries : dict
        Data sheets and profiles by name. [-]
    mountings : Mountings
        What column ``mounting`` may say. [dB]
    temperatures : dict
        Of zones, levels and everywhere, by month. [C]
    place_needed : bool
        Whether links are predicted, so that every device needs a place. [-]
    findings : Findings
        Where faults and notes go. [-]
    """

    building: Building
    heights: Heights
    models: dict[str, DeviceModel]
    batteries: dict[str, BatteryProfile]
    mountings: Mountings
    temperatures: dict[str, Months]
    place_needed: bool
    findings: Findings


@dataclass(frozen=True, slots=True)
class Row:
    """A device as read, beside the row it was read from."""

    device: Device
    record: TableRow
    height_filled: bool

    @property
    def mark(self) -> Mark:
        """Where the row stands."""
        return self.record.place("id")


def sensor_rows(records: Iterable[TableRow], stock: Stock) -> list[Row]:
    """Return the sensors of ``sensors.csv``, which every layout has."""
    return _rows(records, stock, Unique(), only_sensors=True)


def layout_rows(shared: list[Row], records: Iterable[TableRow], stock: Stock) -> list[Row]:
    """Return the devices of one layout: the shared sensors and its own, in order of id."""
    seen = Unique()
    for row in shared:
        seen.admit(row.record, row.device.id)
    own = _rows(records, stock, seen, only_sensors=False)
    return sorted([*shared, *own], key=lambda row: row.device.id)


def _rows(records: Iterable[TableRow], stock: Stock, seen: Unique, only_sensors: bool) -> list[Row]:
    rows = []
    for record in records:
        name = record.name()
        is_new = name is not None and seen.admit(record, name)
        kinds = (Kind.SENSOR,) if only_sensors else tuple(Kind)
        kind = record.word("kind", kinds, "a kind", Kind.SENSOR if only_sensors else "")
        device = _device(name or "", Kind(kind or Kind.SENSOR), record, stock)
        if is_new and kind:
            filled = device.place is not None and not record.has("height_m")
            rows.append(Row(device, record, filled))
    return rows


def _device(name: str, kind: Kind, record: TableRow, stock: Stock) -> Device:
    model_name = _model_name(kind, record, stock)
    model = _mounted(stock.models[model_name], record, stock)
    record.switch("critical", False)
    standby = record.switch("standby", False)
    if standby and kind is not Kind.GATEWAY:
        record.fault("standby", "expected a gateway: only a gateway can stand by")
    place = _place(kind, record, stock)
    zone = record.text("zone") or zone_at(stock.building, place)
    return Device(
        name,
        kind,
        place,
        model,
        _battery(kind, model, record, stock),
        standby=standby,
        note=record.text("note"),
        batch=record.text("batch"),
        circuit=record.text("circuit"),
        zone=zone,
        model_name=model_name,
        by_month_c=course_at(stock.temperatures, zone, place.level if place else ""),
    )


def _model_name(kind: Kind, record: TableRow, stock: Stock) -> str:
    usual = "gateway" if kind is Kind.GATEWAY and "gateway" in stock.models else "standard"
    name = record.word("model", stock.models, "a model", usual) or usual
    if kind is Kind.REPEATER and not stock.models[name].forwards:
        record.fault("model", "expected a model that forwards, as a repeater must")
    return name


def _mounted(model: DeviceModel, record: TableRow, stock: Stock) -> DeviceModel:
    """Return the model as this device is mounted: what its own row says wins."""
    if not record.has("mounting"):
        return model
    losses_db = {FREE: 0.0}
    losses_db |= {key.removesuffix("_db"): value for key, value in asdict(stock.mountings).items()}
    name = record.word("mounting", losses_db, "a mounting")
    return replace(model, mounting_loss_db=losses_db[name]) if name else model


def _battery(
    kind: Kind, model: DeviceModel, record: TableRow, stock: Stock
) -> BatteryProfile | None:
    usual = Supply.MAINS if kind is Kind.GATEWAY else Supply.BATTERY
    supply = record.word("supply", tuple(Supply), "mains or battery", usual) or usual
    if supply == Supply.MAINS:
        if record.has("battery"):
            record.fault("battery", "expected no battery on mains, or supply: battery")
        return None
    if record.has("battery"):
        if is_no_battery(record.entries["battery"].text, stock.batteries):
            record.fault("battery", ON_MAINS)
            return None
        name = record.word("battery", stock.batteries, "a battery profile")
        return stock.batteries[name] if name else None
    return stock.batteries.get(model.battery)  # an unknown profile was told where the model is


def _place(kind: Kind, record: TableRow, stock: Stock) -> Place | None:
    building = stock.building
    stated = any(record.has(key) for key in (*PLACE_COLUMNS, "height_m"))
    if not stock.place_needed and not (stated and building.levels):
        return None
    ids = [level.id for level in building.levels]
    name = record.word("level", ids, "a level")
    x_m, y_m = record.number("x_m", POSITION), record.number("y_m", POSITION)
    if not name:
        if record.has("height_m"):
            record.number("height_m", POSITION)
        return None
    level = building.level(name)
    usual_m = min(getattr(stock.heights, f"{kind}_height_m"), level.height_m)
    height_m = record.number_or("height_m", POSITION, usual_m)
    if not 0 <= height_m <= level.height_m:
        record.fault("height_m", f"expected 0 to {level.height_m:g}, within level {name}")
    return None if x_m is None or y_m is None else Place(name, x_m, y_m, height_m)


def check_places(rows: list[Row], stock: Stock) -> None:
    """Record the devices outside the outline; tell of those inside something or far from all."""
    placed = [(row, row.device.place) for row in rows if row.device.place is not None]
    _check_outlines(placed, stock.building)
    _tell_outside(placed, stock)
    for where, named in _enclosed(placed, stock.building).items():
        if named:
            stock.findings.note(f"{placed[0][0].mark.file}: inside {where}: {listed(named)}.")


def _check_outlines(placed: list[tuple[Row, Place]], building: Building) -> None:
    from shapely import intersects_xy, prepare

    for level in building.levels:
        outline = footprint(building, level.id)
        here = [(row, place) for row, place in placed if place.level == level.id]
        if not outline or not here:
            continue
        shape = polygon(outline).buffer(DRAWN_M)
        prepare(shape)
        whose = f"the outline of level {level.id}" if level.outline else "the outline"
        for row, place in here:
            if not intersects_xy(shape, place.x_m, place.y_m):
                found = f"({place.x_m:g}, {place.y_m:g}), outside {whose}"
                row.record.findings.fault(row.record.mark, found, "expected a place within it")


def _tell_outside(placed: list[tuple[Row, Place]], stock: Stock) -> None:
    """Tell of devices outside everything drawn on a level that has no outline."""
    from shapely import intersects_xy, multipoints

    outside = []
    for level, named in named_points(stock.building).items():
        if footprint(stock.building, level):
            continue
        drawn = multipoints([point for _, point in named]).convex_hull
        if not drawn.area:
            continue
        around = drawn.buffer(OVERHANG_M)
        outside += [
            f"{row.device.id} at ({place.x_m:g}, {place.y_m:g}) (line {row.mark.line})"
            for row, place in placed
            if place.level == level and not intersects_xy(around, place.x_m, place.y_m)
        ]
    if outside:
        file = placed[0][0].mark.file
        stock.findings.note(f"{file}: outside everything drawn: {listed(outside)}.")


@dataclass(frozen=True, slots=True)
class _Solid:
    """Something that a device cannot hang inside of.

    Parameters
    ----------
    id : str
        Its name. [-]
    outline : tuple of (float, float)
        Corners on the plan. [m]
    levels : tuple of str
        Where it stands. [-]
    foot_m, top_m : float
        Its reach above the floor of the level. [m]
    is_hollow : bool
        Whether only its lining is solid. [-]
    """

    id: str
    outline: Outline
    levels: tuple[str, ...]
    foot_m: float = 0.0
    top_m: float = math.inf
    is_hollow: bool = False

    def encloses(self, place: Place) -> bool:
        """Whether a place that is inside on the plan is inside in height too."""
        return place.level in self.levels and self.foot_m <= place.height_m <= self.top_m


def _solids(building: Building) -> list[_Solid]:
    order = [level.id for level in building.levels]

    def span(thing: Pillar | Shaft) -> tuple[str, ...]:
        return tuple(order[order.index(thing.lowest) : order.index(thing.highest) + 1])

    found = [
        _Solid(one.id, one.outline, span(one), is_hollow=True)
        for one in building.shafts
        if one.lining
    ]
    found += [_Solid(one.id, _box(one), span(one)) for one in building.pillars]
    found += [
        _Solid(one.id, _box(one), (one.level,), one.foot_m, one.foot_m + one.height_m)
        for one in building.obstacles
    ]
    return [solid for solid in found if solid.outline]


def _box(thing: Pillar | Obstacle) -> Outline:
    half_x_m, half_y_m = thing.width_m / 2, thing.depth_m / 2
    left_m, right_m = thing.x_m - half_x_m, thing.x_m + half_x_m
    near_m, far_m = thing.y_m - half_y_m, thing.y_m + half_y_m
    return ((left_m, near_m), (right_m, near_m), (right_m, far_m), (left_m, far_m))


def _enclosed(placed: list[tuple[Row, Place]], building: Building) -> dict[str, list[str]]:
    """Return which devices stand inside a pillar or an obstacle, and which inside a lined shaft."""
    from shapely import STRtree, points

    found: dict[str, list[str]] = {"something solid": [], "a shaft": []}
    solids = _solids(building)
    if not solids or not placed:
        return found
    tree = STRtree([polygon(solid.outline) for solid in solids])
    where = points([(place.x_m, place.y_m) for _, place in placed])
    pairs = zip(*tree.query(where, predicate="within").tolist(), strict=True)
    for n, m in sorted(pairs):
        (row, place), solid = placed[n], solids[m]
        if solid.encloses(place):
            where = "a shaft" if solid.is_hollow else "something solid"
            found[where].append(f"{row.device.id} in {solid.id} (line {row.mark.line})")
    return found


def is_moved(a: Place | None, b: Place | None) -> bool:
    """Whether two places are too far apart for one device to hang at both."""
    if a is None or b is None:
        return False
    return a.level != b.level or math.hypot(a.x_m - b.x_m, a.y_m - b.y_m) > MOVED_M


def tell_shared_spots(layout: str, rows: list[Row], findings: Findings) -> None:
    """Tell of devices of a layout that hang on one spot of the plan.

    Parameters
    ----------
    layout : str
        Its name. [-]
    rows : list of Row
        Its devices. [-]
    findings : Findings
        Where the note goes. [-]
    """
    from shapely import STRtree, points

    placed = [(row.device.id, row.device.place) for row in rows if row.device.place is not None]
    if not placed:
        return
    where = points([(place.x_m, place.y_m) for _, place in placed])
    near = STRtree(where).query(where, predicate="dwithin", distance=SPOT_M)
    pairs = [
        f"{placed[n][0]} and {placed[m][0]}"
        for n, m in sorted(zip(*near.tolist(), strict=True))
        if n < m and placed[n][1].level == placed[m][1].level
    ]
    if pairs:
        findings.note(f"layouts/{shown(layout)}: devices on one spot: {listed(pairs)}.")


def check_kinds(rows: list[Row], mark: Mark, findings: Findings) -> None:
    """Record a layout that has no sensor, no gateway, or only gateways that stand by."""
    kinds = {row.device.kind for row in rows}
    if Kind.SENSOR not in kinds:
        findings.fault(mark, "no sensor", "expected one or more, here or in sensors.csv")
    gateways = [row.device for row in rows if row.device.kind is Kind.GATEWAY]
    if not gateways:
        findings.fault(mark, "no gateway", "expected one or more")
    elif all(gateway.standby for gateway in gateways):
        found = "only gateways that stand by"
        findings.fault(mark, found, "expected a gateway without standby beside them")


def layout_of(name: str, rows: list[Row], links: dict[tuple[str, str], GivenLink]) -> Layout:
    """Return the layout as a value: devices in order of id, links in order of direction."""
    devices = tuple(row.device for row in rows)
    return Layout(name, devices, tuple(link for _, link in sorted(links.items())))
