"""Measured links: rows of a ``links.csv``, laid over each other for each layout."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from resilience.building.cells import Findings, Limits, Record, quoted
from resilience.building.files.layouts import Row
from resilience.building.files.tables import Columns
from resilience.building.site import GivenLink, Kind
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
    return rows


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
