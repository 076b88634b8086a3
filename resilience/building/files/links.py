"""Measured links: rows of a ``links.csv``, averaged, and laid over each other for each layout."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from resilience.building.files.layouts import Row, is_moved
from resilience.building.site import GivenLink, Kind, Place, Share
from resilience.building.structure import Building
from resilience.building.text.entries import Findings, Span, TableRow, listed, quoted, shown
from resilience.building.text.tables import Columns

LINKS = Columns(("a", "b"), ("prr", "rssi_dbm", "state", "measured_h", "share"))
PRR = Span("-", least=0, most=1)
RSSI = Span("dBm", least=-130, most=20)
MEASURED = Span("h", least=0, most=1e6, above=True)
SHARES = f"{Share.ONE_WAY} (heard of sent) or {Share.ACKNOWLEDGED} (sent and acknowledged)"

Links = dict[tuple[str, str], GivenLink]


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A measured direction as read, beside the row it was read from."""

    link: GivenLink
    record: TableRow


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


def link_rows(records: Iterable[TableRow], building: Building, findings: Findings) -> list[LinkRow]:
    """Return the rows of a ``links.csv``, each direction once: repeated rows are averaged.

    Parameters
    ----------
    records : iterable of TableRow
        The rows. [-]
    building : Building
        Whose doors and obstacles column ``state`` may name. [-]
    findings : Findings
        Where faults go. [-]
    """
    read: dict[tuple[str, str], list[LinkRow]] = {}
    blank: list[TableRow] = []
    for record in records:
        if not any(record.has(column) for column in LINKS.optional):
            blank.append(record)  # of a survey sheet, not filled in yet
            continue
        link = _read(record, building, findings)
        if link is not None:
            earlier = read.setdefault((link.a, link.b), [])
            _check_alike(earlier, link, record)
            earlier.append(LinkRow(link, record))
    if blank:
        findings.note(
            f"{blank[0].mark.file}: {len(blank)} rows in which nothing was measured were left out."
        )
    _tell_strong([row for rows in read.values() for row in rows], findings)
    _tell_repeated([rows for rows in read.values() if len(rows) > 1], findings)
    return [_one_row(rows) for rows in read.values()]


def _read(record: TableRow, building: Building, findings: Findings) -> GivenLink | None:
    """Return one row as it stands; None, and a fault, if it joins no two devices."""
    a, b = record.name("a"), record.name("b")
    prr, rssi_dbm = _measured(record)
    changed = _changed(record, building, findings)
    measured_h = record.number("measured_h", MEASURED) if record.has("measured_h") else None
    share = record.word("share", Share, SHARES, Share.ONE_WAY) or Share.ONE_WAY
    if not a or not b:
        return None
    if a == b:
        record.fault("b", "expected another device than a")
        return None
    return GivenLink(a, b, prr, rssi_dbm, changed, measured_h, Share(share))


def _check_alike(earlier: list[LinkRow], link: GivenLink, record: TableRow) -> None:
    """Record why a row cannot be averaged with earlier ones of its direction."""
    for row in earlier:
        line = row.record.mark.line
        if row.link.changed != link.changed:
            record.fault("state", f"expected each direction in one state; line {line} has another")
            return
        if None not in (row.link.prr, link.prr) and row.link.share is not link.share:
            record.fault("share", f"expected the share of line {line}, to be averaged with it")
            return


def _one_row(rows: list[LinkRow]) -> LinkRow:
    """Average what was measured of one direction, and take the ratio of one way out of it."""
    links = [row.link for row in rows]
    weights = _weights(links)
    prr = _mean([link.prr for link in links], weights)
    rssi_dbm = _mean([link.rssi_dbm for link in links], weights)
    if prr == 0 and rssi_dbm is not None:
        prr = None  # heard at times, and every ratio is of a time when it was not
    share = next((link.share for link in links if link.prr is not None), Share.ONE_WAY)
    if prr is not None and share is Share.ACKNOWLEDGED:
        prr = math.sqrt(prr)
    hours = [link.measured_h for link in links if link.measured_h is not None]
    measured_h = math.fsum(hours) if hours else None
    link = replace(links[0], prr=prr, rssi_dbm=rssi_dbm, measured_h=measured_h, share=share)
    return LinkRow(link, rows[0].record)


def _weights(links: Sequence[GivenLink]) -> list[float]:
    """How much each counts in a mean: by its hours if all have them, else all alike."""
    hours = [link.measured_h for link in links]
    return [1.0 if None in hours else one_h or 1.0 for one_h in hours]


def _mean(values: Sequence[float | None], weights: Sequence[float]) -> float | None:
    """Weighted mean of the values that are there; None without any."""
    found = [(value, one) for value, one in zip(values, weights, strict=True) if value is not None]
    if len(found) < 2:
        return found[0][0] if found else None
    total = math.fsum(weight for _, weight in found)
    return math.fsum(value * weight for value, weight in found) / total


def _tell_repeated(repeated: list[list[LinkRow]], findings: Findings) -> None:
    if not repeated:
        return
    marks = [row.record.mark for rows in repeated for row in rows]
    findings.note(
        f"{marks[0].file}: {len(marks)} rows became {len(repeated)}, since rows of the same a, b "
        f"and state are averaged (lines {listed([str(mark.line) for mark in marks])}). Ratios "
        "count by measured_h where all rows of a direction have it, prr 0 as 0; strengths are "
        "averaged in dB over the rows that have one, and measured_h is summed."
    )


def _tell_strong(rows: list[LinkRow], findings: Findings) -> None:
    strong = [row for row in rows if (row.link.rssi_dbm or 0.0) > 0]
    if strong:
        lines = listed([str(row.record.mark.line) for row in strong])
        findings.note(
            f"{strong[0].record.mark.file}, line {lines}: rssi_dbm above 0 is stronger than any "
            "receiver here would report; is the sign missing?"
        )


def _measured(record: TableRow) -> tuple[float | None, float | None]:
    """Return reception ratio and strength, each None where it was not measured."""
    prr = record.number("prr", PRR) if record.has("prr") else None
    rssi_dbm = record.number("rssi_dbm", RSSI) if record.has("rssi_dbm") else None
    if not record.has("prr") and not record.has("rssi_dbm"):
        record.fault("prr", "expected prr, rssi_dbm or both; 0 is tried and not heard")
    if prr == 0 and rssi_dbm is not None:
        record.fault("rssi_dbm", "expected nothing beside prr 0: what is not heard has no strength")
    return prr, rssi_dbm


def _changed(record: TableRow, building: Building, findings: Findings) -> tuple[str, ...]:
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
    links = {ends: _of_one_way(link, links.get(ends[::-1])) for ends, link in links.items()}
    for link in list(links.values()):
        links.setdefault((link.b, link.a), replace(link, a=link.b, b=link.a))
    return links


def _of_one_way(link: GivenLink, back: GivenLink | None) -> GivenLink:
    """Take what was measured the other way into account where acknowledged frames were counted.

    Such a ratio is the product of both ways. Without the other way each has its root; two such
    ratios of one pair are averaged first; a ratio of the other way alone leaves the rest.
    """
    if link.share is not Share.ACKNOWLEDGED or link.prr is None:
        return link
    if back is None or back.prr is None or back.changed != link.changed:
        return link
    if back.share is Share.ACKNOWLEDGED:
        both = _mean([link.prr**2, back.prr**2], _weights([link, back]))
        return replace(link, prr=math.sqrt(both or 0.0))
    return replace(link, prr=min(1.0, link.prr**2 / back.prr)) if back.prr > 0 else link


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
