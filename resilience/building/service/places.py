"""``places.csv``: where further devices could hang."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from resilience.building.site import Device, Kind, Place, Site, Supply
from resilience.building.structure import Building
from resilience.building.text.entries import Findings, Mark, Span, TableRow, Unique
from resilience.building.text.tables import Columns, read_table

PLACES_FILE = "places.csv"
PLACES = Columns(("id", "level", "x_m", "y_m"), ("height_m", "kind", "supply", "note"))
KINDS = (Kind.REPEATER, Kind.GATEWAY)
POSITION = Span("m", least=-10_000, most=10_000)
NO_LEVELS = "expected a building with levels in site.yaml, to which places could belong"


@dataclass(frozen=True, slots=True)
class CandidatePlace:
    """Somewhere a device could hang.

    Parameters
    ----------
    id : str
        Its name, and that of the device if one is put there. [-]
    place : Place
        Where it is. [-]
    kind : Kind
        What could hang there: a repeater, or a gateway. [-]
    supply : Supply or None
        What would feed it; None is as usual for its kind here. [-]
    note : str
        Free text, only shown. [-]
    """

    id: str
    place: Place
    kind: Kind = Kind.REPEATER
    supply: Supply | None = None
    note: str = ""


def read_places(folder: str | Path, site: Site) -> tuple[CandidatePlace, ...] | None:
    """Return the candidate places of a site folder in order of id; None if it has no such table.

    Parameters
    ----------
    folder : str or Path
        The site folder. [-]
    site : Site
        The same, read. [-]

    Raises
    ------
    InputError
        The table holds mistakes: every one of them.
    """
    path = Path(folder) / PLACES_FILE
    if not path.exists() and not path.is_symlink():
        return None
    findings = Findings()
    rows = read_table(path, PLACES_FILE, PLACES, findings)
    found = sorted(_places(rows or [], site, findings), key=lambda one: one.id)
    findings.raise_if_any()
    return tuple(found)


def _places(rows: list[TableRow], site: Site, findings: Findings) -> Iterator[CandidatePlace]:
    if rows and not site.building.levels:
        findings.fault(Mark(PLACES_FILE), "places", NO_LEVELS)
        return
    seen = Unique()
    taken = {one.id.casefold() for layout in site.layouts for one in layout.devices}
    heights_m = {kind: _usual_height_m(site, kind) for kind in KINDS}
    for row in rows:
        id = row.name()
        is_new = id is not None and seen.admit(row, id)
        if id is not None and id.casefold() in taken:
            row.fault("id", "expected an id that no device of any layout has")
        kind = Kind(row.word("kind", KINDS, "repeater or gateway", Kind.REPEATER) or Kind.REPEATER)
        supply = row.word("supply", tuple(Supply), "mains or battery") if row.has("supply") else ""
        place = _place(row, site.building, heights_m[kind])
        note = row.text("note")
        if is_new and id is not None and place is not None:
            yield CandidatePlace(id, place, kind, Supply(supply) if supply else None, note)


def _place(row: TableRow, building: Building, usual_m: float) -> Place | None:
    name = row.word("level", [level.id for level in building.levels], "a level")
    x_m, y_m = row.number("x_m", POSITION), row.number("y_m", POSITION)
    if not name or x_m is None or y_m is None:
        return None
    top_m = building.level(name).height_m
    height_m = row.number_or("height_m", POSITION, min(usual_m, top_m))
    if not 0 <= height_m <= top_m:
        row.fault("height_m", f"expected 0 to {top_m:g}, within level {name}")
    return Place(name, x_m, y_m, height_m)


def _usual_height_m(site: Site, kind: Kind) -> float:
    """Height at which devices of a kind hang here, the middle one of them."""
    heights_m = sorted(one.place.height_m for one in _devices(site, kind) if one.place)
    return heights_m[len(heights_m) // 2] if heights_m else 0.0


def _devices(site: Site, kind: Kind) -> tuple[Device, ...]:
    """Devices of a kind, or all where there is none."""
    found = tuple(one for layout in site.layouts for one in layout.devices)
    return tuple(one for one in found if one.kind is kind) or found
