"""A site folder as a ``Site``, or every mistake in it at once."""

from dataclasses import dataclass, fields, replace
from datetime import date
from itertools import combinations
from pathlib import Path

from resilience.assumptions.catalogue import default, section
from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.files.calibrations import CALIBRATION_FILE, read_calibration
from resilience.building.files.layouts import (
    MOVED_M,
    Row,
    Stock,
    check_kinds,
    check_places,
    device_columns,
    is_moved,
    layout_of,
    layout_rows,
    sensor_columns,
    sensor_rows,
    tell_shared_spots,
)
from resilience.building.files.links import (
    LINKS,
    LinkRow,
    Surveyed,
    check_moved_ends,
    check_shared_links,
    layout_links,
    link_rows,
)
from resilience.building.files.naming import (
    MAIN_FILE,
    check_files,
    check_folder,
    file_name,
    folder_of,
)
from resilience.building.models import Mountings
from resilience.building.notes import first_notes, last_notes
from resilience.building.parts import LISTED, OBSTACLES, WALLS
from resilience.building.sections.changes import habits_of
from resilience.building.sections.drawn import Sources, building_of, tell_scale
from resilience.building.sections.levels import heights_of
from resilience.building.sections.zones import check_zones
from resilience.building.service.learnt import LEARNT_FILE, read_learnt
from resilience.building.service.state import STATE, STATE_FILE, standing_of
from resilience.building.settings import Learnt, Radio, Routing, Titles
from resilience.building.site import Calibration, Kind, Layout, Site
from resilience.building.stated.circuits import check_circuits, circuits_of
from resilience.building.stated.equipment import (
    batteries_of,
    check_climates,
    models_of,
    temperatures_of,
)
from resilience.building.stated.sections import (
    given_values,
    hazards_of,
    routing_of,
    settings_of,
)
from resilience.building.stated.standing import Standing
from resilience.building.stated.upkeep import calendar_of, prices_of, upkeep_of
from resilience.building.stated.zones import with_zones
from resilience.building.structure import Building
from resilience.building.text.documents import Mapping, is_nothing, mapping, read_document, record
from resilience.building.text.entries import (
    NOTHING,
    Assumed,
    Findings,
    Mark,
    Span,
    TableRow,
    id_problem,
    listed,
    quoted,
    shown,
)
from resilience.building.text.tables import Columns, read_table

FORMAT = 1
HEAD = ("format", "name", *(one.name for one in fields(Titles)))  # keys that are text or fixed
SECTIONS = (
    *("building", "changes", "radio", "routing", "models", "mountings", "batteries"),
    *("chemistries", "temperatures", "circuits", "hazards", "upkeep", "calendar", "prices"),
)
# Where a key belongs that stands by itself.
HOMES = {"outline": "building", **{part.name: "building" for part in LISTED}} | {
    setting.name: name for name in ("building", "radio", "routing") for setting in section(name)
}


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A layout while it is read."""

    name: str
    rows: list[Row]
    own_links: list[LinkRow]

    @property
    def mark(self) -> Mark:
        """Its list of devices as a whole."""
        return Mark(file_name("layouts", self.name, "devices.csv"))


@dataclass(frozen=True, slots=True)
class _Folder:
    """A site folder being read, and what was found in it."""

    path: Path
    findings: Findings
    use_learnt: bool = True

    def table(self, columns: Columns, *parts: str) -> list[TableRow] | None:
        """Return the rows of a table; none if there is no such file, None if it is unreadable."""
        path = self.path.joinpath(*parts)
        if not path.exists() and not path.is_symlink():
            return []
        return read_table(path, file_name(*parts), columns, self.findings)


def read_site(folder: str | Path, use_learnt: bool = True, assumed: Assumed = NOTHING) -> Site:
    """Return the site that a folder describes; InputError with every mistake if it holds any.

    Parameters
    ----------
    folder : str or Path
        The site folder, with ``site.yaml`` and ``layouts/`` in it, or that file. [-]
    use_learnt : bool
        Whether ``learnt.yaml`` counts; without, the site is as before anything was learnt. [-]
    assumed : mapping of str to float
        What stands for defaults of the catalogue where the folder says nothing, by key. [unit]
    """
    here = _Folder(folder_of(Path(folder)), Findings(assumed), use_learnt)
    try:
        check_folder(here.path, shown(str(folder)), here.findings)
        whole = read_document(here.path / MAIN_FILE, MAIN_FILE, here.findings)
        if whole is None:  # nothing else can be understood without it
            here.findings.raise_if_any()
        site = _site(whole or Mapping(Mark(MAIN_FILE), {}), here)
    except OSError as error:
        wanted = "expected a folder that can be read"
        here.findings.fault(Mark(shown(str(folder))), error.strerror or "an error", wanted)
    here.findings.raise_if_any()
    return site


def _site(whole: Mapping, here: _Folder) -> Site:
    findings = here.findings
    found = {name: mapping(whole.entries.get(name), findings) for name in SECTIONS}
    name, horizon_years, titles = _head(whole, here)
    radio = settings_of(Radio, "radio", found["radio"], findings)
    routing = routing_of(found["routing"], findings)
    building = _building(found, radio, routing, here)
    layouts = _installed(found, radio, building, here)
    learnt = _learnt(here)
    hand_over, today, working_hours = calendar_of(found["calendar"], findings)
    hazards = hazards_of(found["hazards"], findings, learnt)
    named = found["hazards"].entries if found["hazards"] else ()
    hazards = with_zones(hazards, building.zones, frozenset(named))
    site = Site(
        name=name,
        horizon_years=horizon_years,
        hand_over=hand_over,
        building=building,
        radio=radio,
        routing=routing,
        hazards=hazards,
        upkeep=upkeep_of(found["upkeep"], findings, learnt),
        layouts=layouts,
        calibration=_calibration(building, found["models"], here),
        learnt=learnt,
        titles=titles,
        working_hours=working_hours,
        circuits=circuits_of(found["circuits"], hazards, findings),
        standing=_standing(here, layouts, (hand_over, today)),
        prices=prices_of(found["prices"], findings),
    )
    check_files(here.path, findings)
    stated = found["radio"].entries if found["radio"] else {}
    first = first_notes(site, not is_nothing(stated.get("environment")))
    notes = (*first, *findings.notes, *last_notes(site))
    return replace(site, notes=notes, stated=tuple(sorted(findings.stated)))


def _head(whole: Mapping, here: _Folder) -> tuple[str, float, Titles]:
    """Return name, horizon and what stands on papers, the format checked."""
    keys = HEAD
    entries = {key: node for key, node in whole.entries.items() if key in keys}
    row = record(Mapping(whole.mark, entries), keys, here.findings)
    if not row.has("format"):
        row.fault("format", f"expected format: {FORMAT} as the first line")
    elif row.number("format", Span(whole=True)) not in (FORMAT, None):
        row.fault("format", f"expected {FORMAT}, the only format that this version reads")
    homeless = [key for key in whole.entries if key in HOMES]
    for key in homeless:
        mark = Mark(MAIN_FILE, whole.entries[key].mark.line, f"key {key}")
        wanted = f"expected it below {HOMES[key]}: and indented by two blanks"
        here.findings.fault(mark, "it outside its section", wanted)
    given = given_values("", whole, here.findings, (*keys, *SECTIONS, *homeless))
    horizon_years = given.get("horizon_years", default("horizon_years"))
    name = row.text("name") or shown(here.path.resolve().name)
    titles = Titles(*(row.text(one.name) for one in fields(Titles)))
    return name, float(horizon_years or 0), titles


def _building(
    found: dict[str, Mapping | None], radio: Radio, routing: Routing, here: _Folder
) -> Building:
    """Return what is drawn in section ``building`` and in the tables beside it."""
    findings, drawn = here.findings, found["building"]
    walls = here.table(WALLS.columns, WALLS.table) or []
    obstacles = here.table(OBSTACLES.columns, OBSTACLES.table) or []
    if drawn is None:
        wanted = "expected section building with its levels in site.yaml"
        for what, rows in (("a wall", walls), ("an obstacle", obstacles)):
            if rows:
                findings.fault(rows[0].mark, what, wanted)
        if radio.predict:
            wanted = "add building with its levels, or say radio: {predict: off} and give links.csv"
            findings.fault(Mark("site.yaml"), "no section building", wanted)
        walls, obstacles = [], []
    sources = Sources(
        drawn,
        walls,
        obstacles,
        heights_of(drawn, findings),
        habits_of(found["changes"], findings),
        routing.rejoin_long_h,
    )
    return building_of(sources, findings)


def _installed(
    found: dict[str, Mapping | None], radio: Radio, building: Building, here: _Folder
) -> tuple[Layout, ...]:
    findings = here.findings
    batteries = batteries_of(found["batteries"], found["chemistries"], findings)
    again = Findings(findings.assumed)  # mistakes of heights were told with the building
    stock = Stock(
        building,
        heights_of(found["building"], again),
        models_of(found["models"], batteries, findings),
        batteries,
        settings_of(Mountings, "mountings", found["mountings"], findings),
        temperatures_of(found["temperatures"], findings),
        radio.predict and bool(building.levels),
        findings,
    )
    layouts = _layouts(here, stock, found["circuits"])
    zones = {device.zone for layout in layouts for device in layout.devices} - {""}
    places = zones | {level.id for level in building.levels}
    check_zones(building, places, findings)
    places |= {zone.id for zone in building.zones}
    check_climates(found["temperatures"], places, findings)
    devices = [device.place for layout in layouts for device in layout.devices if device.place]
    tell_scale(building, [(place.x_m, place.y_m) for place in devices], findings)
    return layouts


def _calibration(building: Building, models: Mapping | None, here: _Folder) -> Calibration | None:
    path = here.path / CALIBRATION_FILE
    if not path.exists() and not path.is_symlink():
        return None
    known = CONSTRUCTIONS | dict(building.constructions)
    own = models.entries if models else ()
    return read_calibration(path, known, ("standard", *own), here.findings)


def _learnt(here: _Folder) -> Learnt | None:
    path = here.path / LEARNT_FILE
    if not here.use_learnt or not (path.exists() or path.is_symlink()):
        return None
    found = read_learnt(path, here.findings)
    return None if found is None else found.assuming(here.findings.assumed)


def _standing(
    here: _Folder, layouts: tuple[Layout, ...], days: tuple[date, date | None]
) -> Standing:
    hand_over, today = days
    is_stated = "calendar.hand_over" in here.findings.stated
    if today and not (here.path / STATE_FILE).exists():
        here.findings.note(f"calendar.today has no say as long as there is no {STATE_FILE}.")
    rows = here.table(STATE, STATE_FILE) or []
    return standing_of(rows, layouts, (hand_over if is_stated else None, today), here.findings)


def _layouts(here: _Folder, stock: Stock, circuits: Mapping | None) -> tuple[Layout, ...]:
    findings = here.findings
    records = here.table(sensor_columns(stock.place_needed), "sensors.csv")
    shared = sensor_rows(records or [], stock)
    check_places(shared, stock)
    site_links = link_rows(here.table(LINKS, "links.csv") or [], stock.building, findings)
    candidates = []
    for name in _layout_names(here):
        candidate = _candidate(name, shared, here, stock)
        if candidate and records is not None:
            candidates.append(candidate)
    layouts = []
    for candidate in candidates:
        check_kinds(candidate.rows, candidate.mark, findings)
        tell_shared_spots(candidate.name, candidate.rows, findings)
        links = layout_links(site_links, candidate.own_links, candidate.rows)
        layouts.append(layout_of(candidate.name, candidate.rows, links))
    if candidates:
        check_shared_links(site_links, [candidate.rows for candidate in candidates])
        surveyed = [Surveyed(one.name, one.rows, one.own_links) for one in candidates]
        check_moved_ends(site_links, surveyed)
        rows = {row.mark: row for candidate in candidates for row in candidate.rows}
        hanging = [(row.device.circuit_id, row.device.circuit, row.record) for row in rows.values()]
        check_circuits(circuits, hanging, findings)
    _check_same_sensors(candidates, findings)
    _tell_heights(candidates, findings)
    _tell_moves(layouts, findings)
    return tuple(layouts)


def _layout_names(here: _Folder) -> list[str]:
    parent = here.path / "layouts"
    found = sorted(entry.name for entry in parent.iterdir()) if parent.is_dir() else []
    names = [name for name in found if not name.startswith(".") and (parent / name).is_dir()]
    if not names:
        wanted = "expected layouts/<name>/devices.csv"
        here.findings.fault(Mark("layouts"), "no layout", wanted)
    folded: dict[str, str] = {}
    for name in names:
        problem = id_problem(name)
        if problem:
            here.findings.fault(Mark(file_name("layouts", name)), quoted(name), problem)
        if folded.setdefault(name.casefold(), name) != name:
            wanted = (
                f"expected a name that differs from {shown(folded[name.casefold()])} in letters"
            )
            here.findings.fault(Mark(file_name("layouts", name)), quoted(name), wanted)
    return names


def _candidate(name: str, shared: list[Row], here: _Folder, stock: Stock) -> _Candidate | None:
    parts = ("layouts", name, "devices.csv")
    if not here.path.joinpath(*parts).exists():
        here.findings.fault(
            Mark(file_name(*parts)), "no such file", "expected the layout's devices"
        )
        return None
    records = here.table(device_columns(stock.place_needed), *parts)
    if records is None:
        return None
    rows = layout_rows(shared, records, stock)
    own = [row for row in rows if row.mark.file == file_name(*parts)]
    check_places(own, stock)
    rows_given = here.table(LINKS, "layouts", name, "links.csv") or []
    links = link_rows(rows_given, stock.building, here.findings)
    return _Candidate(name, rows, links)


def _check_same_sensors(candidates: list[_Candidate], findings: Findings) -> None:
    sensors = [
        {row.device.id for row in candidate.rows if row.device.kind is Kind.SENSOR}
        for candidate in candidates
    ]
    everywhere = set().union(*sensors)
    for candidate, own in zip(candidates, sensors, strict=True):
        missing = sorted(everywhere - own)
        if missing and own:
            found = f"no sensor {listed(missing)}"
            wanted = "expected the same sensors in every layout"
            findings.fault(candidate.mark, found, wanted)


def _tell_heights(candidates: list[_Candidate], findings: Findings) -> None:
    rows = {row.mark: row for candidate in candidates for row in candidate.rows}
    n_filled = sum(row.height_filled for row in rows.values())
    if n_filled:
        findings.note(
            f"{n_filled} of {len(rows)} heights are blank; each kind of device takes its default."
        )


def _tell_moves(layouts: list[Layout], findings: Findings) -> None:
    """Tell of sensors that hang elsewhere in another layout."""
    places = [{sensor.id: sensor.place for sensor in layout.sensors} for layout in layouts]
    for (one, here), (other, there) in combinations(zip(layouts, places, strict=True), 2):
        shared = sorted(here.keys() & there.keys())
        moved = [name for name in shared if is_moved(here[name], there[name])]
        if moved:
            pair = f"{shown(one.name)} and {shown(other.name)}"
            apart = f"more than {MOVED_M:g} m or a level apart"
            findings.note(f"Between {pair} these sensors hang {apart}: {listed(moved)}.")
