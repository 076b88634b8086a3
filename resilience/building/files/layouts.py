"""Devices and measured links of the candidate layouts."""

from collections.abc import Iterable
from dataclasses import dataclass

from resilience.building.cells import Findings, Limits, Mark, Record, Unique, listed
from resilience.building.files.tables import Columns
from resilience.building.settings import BatteryProfile, DeviceModel, Heights
from resilience.building.site import Device, GivenLink, Kind, Layout, Place, Supply
from resilience.building.structure import Building

PLACE_COLUMNS = ("level", "x_m", "y_m")
DETAIL_COLUMNS = (
    *("height_m", "model", "supply", "battery", "batch", "circuit", "zone", "mounting"),
    *("critical", "note"),
)
LINKS = Columns(("a", "b"), ("prr", "rssi_dbm", "state"))
POSITION = Limits("m", least=-10_000, most=10_000)
PRR = Limits("-", least=0, most=1)
RSSI = Limits("dBm", least=-130, most=0)
DRAWN_M = 0.01  # a device on the outline belongs to the building

Links = dict[tuple[str, str], GivenLink]


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
    place_needed : bool
        Whether links are predicted, so that every device needs a place. [-]
    findings : Findings
        Where faults and notes go. [-]
    """

    building: Building
    heights: Heights
    models: dict[str, DeviceModel]
    batteries: dict[str, BatteryProfile]
    place_needed: bool
    findings: Findings


@dataclass(frozen=True, slots=True)
class Row:
    """A device as read, beside the row it was read from."""

    device: Device
    record: Record
    height_filled: bool

    @property
    def mark(self) -> Mark:
        """Where the row stands."""
        return self.record.place("id")


def sensor_rows(records: Iterable[Record], stock: Stock) -> list[Row]:
    """Return the sensors of ``sensors.csv``, which every layout has."""
    return _rows(records, stock, Unique(), only_sensors=True)


def layout_rows(shared: list[Row], records: Iterable[Record], stock: Stock) -> list[Row]:
    """Return the devices of one layout: the shared sensors and its own, in order of id."""
    seen = Unique()
    for row in shared:
        seen.admit(row.record, row.device.id)
    own = _rows(records, stock, seen, only_sensors=False)
    return sorted([*shared, *own], key=lambda row: row.device.id)


def _rows(records: Iterable[Record], stock: Stock, seen: Unique, only_sensors: bool) -> list[Row]:
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


def _device(name: str, kind: Kind, record: Record, stock: Stock) -> Device:
    model = _model(kind, record, stock)
    record.text("mounting")
    record.switch("critical", False)
    standby = record.switch("standby", False)
    if standby and kind is not Kind.GATEWAY:
        record.fault("standby", "expected a gateway: only a gateway can stand by")
    return Device(
        name,
        kind,
        _place(kind, record, stock),
        model,
        _battery(kind, model, record, stock),
        standby=standby,
        note=record.text("note"),
        batch=record.text("batch"),
        circuit=record.text("circuit"),
        zone=record.text("zone"),
    )


def _model(kind: Kind, record: Record, stock: Stock) -> DeviceModel:
    usual = "gateway" if kind is Kind.GATEWAY and "gateway" in stock.models else "standard"
    model = stock.models[record.word("model", stock.models, "a model", usual) or usual]
    if kind is Kind.REPEATER and not model.forwards:
        record.fault("model", "expected a model that forwards, as a repeater must")
    return model


def _battery(kind: Kind, model: DeviceModel, record: Record, stock: Stock) -> BatteryProfile | None:
    usual = Supply.MAINS if kind is Kind.GATEWAY else Supply.BATTERY
    supply = record.word("supply", tuple(Supply), "mains or battery", usual) or usual
    if supply == Supply.MAINS:
        if record.has("battery"):
            record.fault("battery", "expected no battery on mains, or supply: battery")
        return None
    if record.has("battery"):
        name = record.word("battery", stock.batteries, "a battery profile")
        return stock.batteries[name] if name else None
    return stock.batteries.get(model.battery)  # an unknown profile was told where the model is


def _place(kind: Kind, record: Record, stock: Stock) -> Place | None:
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


def check_places(rows: Iterable[Row], stock: Stock) -> None:
    """Record the devices that stand outside the outline, and tell of those inside something."""
    from shapely.geometry import Point, Polygon, box

    building = stock.building
    order = [level.id for level in building.levels]
    outline = Polygon(building.outline).buffer(DRAWN_M) if building.outline else None
    solids = [(s.id, s.lowest, s.highest, Polygon(s.outline)) for s in building.shafts if s.lining]
    for p in building.pillars:
        half_x_m, half_y_m = p.width_m / 2, p.depth_m / 2
        footprint = box(p.x_m - half_x_m, p.y_m - half_y_m, p.x_m + half_x_m, p.y_m + half_y_m)
        solids.append((p.id, p.lowest, p.highest, footprint))
    enclosed = []
    for row in rows:
        place = row.device.place
        if place is None:
            continue
        point = Point(place.x_m, place.y_m)
        if outline is not None and not outline.covers(point):
            row.record.fault("x_m", f"expected a place within the outline, y_m {place.y_m:g} too")
        for name, lowest, highest, footprint in solids:
            inside = order.index(lowest) <= order.index(place.level) <= order.index(highest)
            if inside and footprint.contains(point):
                enclosed.append(f"{row.device.id} in {name} (line {row.mark.line})")
    if enclosed:
        stock.findings.note(f"{row.mark.file}: inside something solid: {listed(enclosed)}.")


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


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A measured direction as read, beside the row it was read from."""

    link: GivenLink
    record: Record


def link_rows(records: Iterable[Record], findings: Findings) -> list[LinkRow]:
    """Return the rows of a ``links.csv``, each direction at most once."""
    rows = []
    seen: dict[tuple[str, str], int] = {}
    for record in records:
        a, b = record.name("a"), record.name("b")
        prr = record.number("prr", PRR) if record.has("prr") else None
        rssi_dbm = record.number("rssi_dbm", RSSI) if record.has("rssi_dbm") else None
        if not record.has("prr") and not record.has("rssi_dbm"):
            record.fault("prr", "expected prr, rssi_dbm or both; 0 is tried and not heard")
        if record.text("state"):
            findings.note(f"{record.mark.file}: states of obstacles are not used yet.")
        if not a or not b:
            continue
        if a == b:
            record.fault("b", "expected another device than a")
            continue
        earlier = seen.setdefault((a, b), record.mark.line)
        if earlier != record.mark.line:
            record.fault("b", f"expected each direction once; line {earlier} has this one")
            continue
        rows.append(LinkRow(GivenLink(a, b, prr, rssi_dbm), record))
    return rows


def layout_links(shared: list[LinkRow], own: list[LinkRow], rows: list[Row]) -> Links:
    """Return one link per direction: the layout's own rows win, missing opposites are filled in.

    Parameters
    ----------
    shared, own : list of LinkRow
        Rows of the site's and of the layout's ``links.csv``. [-]
    rows : list of Row
        Devices of the layout. [-]
    """
    kinds = {row.device.id: row.device.kind for row in rows}
    valid = [row for row in shared if row.link.a in kinds and row.link.b in kinds]
    links: Links = {}
    for row in [*valid, *own]:
        link = row.link
        unknown = [key for key in ("a", "b") if getattr(link, key) not in kinds]
        for key in unknown:
            findings = row.record.findings
            findings.unknown(row.record.place(key), getattr(link, key), kinds, "a device here")
        if unknown:
            continue
        if kinds[link.a] is kinds[link.b] is Kind.GATEWAY:
            row.record.fault("b", "expected no link between gateways: they do not relay")
        links[link.a, link.b] = link
    for link in list(links.values()):
        links.setdefault((link.b, link.a), GivenLink(link.b, link.a, link.prr, link.rssi_dbm))
    return links


def layout_of(name: str, rows: list[Row], links: Links) -> Layout:
    """Return the layout as a value: devices in order of id, links in order of direction."""
    devices = tuple(row.device for row in rows)
    return Layout(name, devices, tuple(link for _, link in sorted(links.items())))


def check_shared_links(shared: list[LinkRow], layouts: Iterable[list[Row]]) -> None:
    """Record the ends of the site's measured links that no layout has."""
    known = {row.device.id: None for rows in layouts for row in rows}
    for row in shared:
        for key, name in (("a", row.link.a), ("b", row.link.b)):
            if name not in known:
                findings = row.record.findings
                findings.unknown(row.record.place(key), name, known, "a device of some layout")
