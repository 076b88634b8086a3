"""Measured links: rows of a ``links.csv``, laid over each other for each layout."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from resilience.building.cells import Findings, Limits, Record, listed, quoted, shown
from resilience.building.files.layouts import Row, is_moved
from resilience.building.files.tables import Columns
from resilience.building.site import GivenLink, Kind, Place
from resilience.building.structure import Building

LINKS = Columns(("a", "b"), ("prr", "rssi_dbm", "state"))
PRR = Limits("-", least=0, most=1)
RSSI = Limits("dBm", least=-130, most=20)

Links = dict[tuple[str, str], GivenLink]


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A measured direction as read, beside the row it was read from."""

    link: GivenLink
    record: Record


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A layout as the site's measured links see it.

    Parameters
    ----------
    name : str
        Its name. [-]
    rows : list of Row
        Its devices. [-]
    own : list of LinkRow
        Rows of its own ``links.csv``, which win over the site's. [-]
    """

    name: str
    rows: list[Row]
    own: list[LinkRow]


def link_rows(records: Iterable[Record], building: Building, findings: Findings) -> list[LinkRow]:
    """Return the rows of a ``links.csv``, each direction at most once.

    Parameters
    ----------
    records : iterable of Record
        The rows. [-]
    building : Building
        Whose doors and obstacles column ``state`` may name. [-]
    findings : Findings
        Where faults go. [-]
    """
    rows = []
    seen: dict[tuple[str, str], int] = {}
    for record in records:
        a, b = record.name("a"), record.name("b")
        prr, rssi_dbm = _measured(record)
        changed = _changed(record, building, findings)
        if not a or not b:
            continue
        if a == b:
            record.fault("b", "expected another device than a")
            continue
        earlier = seen.setdefault((a, b), record.mark.line)
        if earlier != record.mark.line:
            record.fault("b", f"expected each direction once; line {earlier} has this one")
            continue
        rows.append(LinkRow(GivenLink(a, b, prr, rssi_dbm, changed), record))
    _tell_strong(rows, findings)
    return rows


def _tell_strong(rows: list[LinkRow], findings: Findings) -> None:
    strong = [row for row in rows if (row.link.rssi_dbm or 0.0) > 0]
    if strong:
        lines = listed([str(row.record.mark.line) for row in strong])
        findings.note(
            f"{strong[0].record.mark.file}, line {lines}: rssi_dbm above 0 is stronger than any "
            "receiver here would report; is the sign missing?"
        )


def _measured(record: Record) -> tuple[float | None, float | None]:
    """Return reception ratio and strength, each None where it was not measured."""
    prr = record.number("prr", PRR) if record.has("prr") else None
    rssi_dbm = record.number("rssi_dbm", RSSI) if record.has("rssi_dbm") else None
    if not record.has("prr") and not record.has("rssi_dbm"):
        record.fault("prr", "expected prr, rssi_dbm or both; 0 is tried and not heard")
    if prr == 0 and rssi_dbm is not None:
        record.fault("rssi_dbm", "expected nothing beside prr 0: what is not heard has no strength")
    return prr, rssi_dbm


def _changed(record: Record, building: Building, findings: Findings) -> tuple[str, ...]:
    """Return the ids in column ``state``, in order, each a door or an obstacle that changes."""
    changing, still = building.changing, {door.id for door in building.doors}
    words = dict.fromkeys(record.text("state").split())
    for word in words:
        if word in changing:
            continue
        mark = record.place("state")
        if word in still:
            wanted = "expected one that changes: the drawing gives this door no change"
            findings.fault(mark, quoted(word), wanted)
        else:
            noun = "ids of doors and obstacles that were changed, separated by blanks"
            findings.unknown(mark, word, changing, noun)
    return tuple(sorted(words))


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
        links.setdefault((link.b, link.a), replace(link, a=link.b, b=link.a))
    return links


def check_shared_links(shared: list[LinkRow], layouts: Iterable[list[Row]]) -> None:
    """Record the ends of the site's measured links that no layout has."""
    known = {row.device.id: None for rows in layouts for row in rows}
    for row in shared:
        for key, name in (("a", row.link.a), ("b", row.link.b)):
            if name not in known:
                findings = row.record.findings
                findings.unknown(row.record.place(key), name, known, "a device of some layout")


def check_moved_ends(shared: list[LinkRow], layouts: Sequence[Surveyed]) -> None:
    """Record the site's measured links whose ends hang elsewhere from layout to layout.

    Nobody knows in which layout such a link was measured, so it cannot count in all of them.

    Parameters
    ----------
    shared : list of LinkRow
        Rows of the site's ``links.csv``. [-]
    layouts : sequence of Surveyed
        Those that they would count in. [-]
    """
    places = [{row.device.id: row.device.place for row in layout.rows} for layout in layouts]
    measured = [{(row.link.a, row.link.b) for row in layout.own} for layout in layouts]
    names = [shown(layout.name) for layout in layouts]
    for row in shared:
        ends = (row.link.a, row.link.b)
        counts = [
            (name, place)
            for name, place, own in zip(names, places, measured, strict=True)
            if place.keys() >= set(ends) and ends not in own
        ]
        for key, end in zip(("a", "b"), ends, strict=True):
            told = _apart([(name, place[end]) for name, place in counts])
            if told:
                found = f"{shown(end)} at different places in {told[0]} and {told[1]}"
                wanted = "expected its links in layouts/<layout>/links.csv"
                row.record.findings.fault(row.record.place(key), found, wanted)


def _apart(hung: list[tuple[str, Place | None]]) -> tuple[str, str] | None:
    """Return two layouts between which a device is moved; None if there are none."""
    first: dict[Place | None, str] = {}
    for name, place in hung:
        first.setdefault(place, name)
    for (here, one), (there, other) in combinations(first.items(), 2):
        if is_moved(here, there):
            return one, other
    return None
