"""Tables of what happened: ``history.csv`` of a site, or those of several sites."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from resilience.building.service.events import (
    CIRCUIT,
    COUNTED_BY,
    FAILURES,
    FLAT,
    LINK,
    OF_GATEWAYS,
    OUTAGES,
    STRIKES,
    History,
    Strike,
    Took,
    Watch,
    What,
)
from resilience.building.service.matching import matched
from resilience.building.service.moments import lasted, moment
from resilience.building.site import Kind
from resilience.building.text.entries import Findings, Mark, Span, TableRow, alternatives, shown
from resilience.building.text.tables import Columns, read_table

HISTORY_FILE = "history.csv"
COLUMNS = Columns(
    ("what", "cause", "from"),
    (
        *("to", "lasted_h", "ended", "n_watched", "installed"),
        *("site", "group", "device", "note"),
    ),
)
LINK_KIND = COUNTED_BY[LINK]
MANY = Span(least=1, most=100_000, whole=True)
CAUSES = {
    What.WATCHED: (*FAILURES, *STRIKES, *OUTAGES, CIRCUIT),
    What.FAILURE: (*FAILURES, *STRIKES),
    What.OUTAGE: (*OUTAGES, CIRCUIT),
    What.REPAIR: (*FAILURES, FLAT),
    What.CELLS: (FLAT,),
}
# What says nothing in a row of that kind.
IDLE = {
    What.WATCHED: ("lasted_h", "ended"),
    What.FAILURE: ("n_watched", "installed"),
    What.OUTAGE: ("n_watched", "installed"),
    What.REPAIR: ("n_watched", "installed"),
    What.CELLS: ("n_watched", "installed"),
}


@dataclass(frozen=True, slots=True)
class Own:
    """The site in whose folder a logbook lies: rows that name no site are its own.

    Parameters
    ----------
    name : str
        Title of the site. [-]
    kinds : mapping of str to Kind
        Every device of its layouts, with its kind. [-]
    """

    name: str
    kinds: Mapping[str, Kind]


@dataclass(slots=True)
class _Logbook:
    """One table while it is read."""

    file: str
    own: Own | None
    today: datetime
    findings: Findings
    watches: list[Watch] = field(default_factory=list)
    strikes: list[Strike] = field(default_factory=list)
    repairs: list[Took] = field(default_factory=list)
    cells: list[Took] = field(default_factory=list)
    sites: dict[str, None] = field(default_factory=dict)
    lacks_watches: bool = False  # some could not be read


def read_history(files: Sequence[tuple[Path, Own | None]], today: datetime) -> History:
    """Return what tables tell; InputError with every mistake in them if they hold any.

    Parameters
    ----------
    files : sequence of (Path, Own or None)
        The tables, each with the site that rows without a site are of. [-]
    today : datetime
        First moment of today: nothing in a logbook lies behind its end. [-]
    """
    findings = Findings()
    books = []
    names = _names([path for path, _ in files], findings)
    for (path, own), name in zip(files, names, strict=True):
        book = _Logbook(name, own, today, findings)
        findings.opened(name)
        if not path.is_file():
            findings.fault(Mark(name), "no such file", "expected a table of what happened")
        for row in (read_table(path, name, COLUMNS, findings) or []) if path.is_file() else []:
            _read(row, book)
        books.append(book)
    watches = [one for book in books for one in _matched(book)]
    if not findings.faults and not any(
        book.watches or book.repairs or book.cells for book in books
    ):
        findings.fault(Mark(names[0]), "no row", "expected rows that tell what happened")
    findings.raise_if_any()
    return History(
        tuple(names),
        len({(n, site) for n, book in enumerate(books) for site in book.sites}),
        tuple(watches),
        tuple(one for book in books for one in book.repairs),
        tuple(one for book in books for one in book.cells),
        findings.notes,
    )


def _matched(book: _Logbook) -> tuple[Watch, ...]:
    # Whom an unreadable row watched nobody knows: then nothing is said of what no other row saw.
    unseen = Findings() if book.lacks_watches else book.findings
    return matched(book.watches, book.strikes, book.findings, unseen)


def _names(paths: list[Path], findings: Findings) -> list[str]:
    """How messages call the files: by name, with their folder where two have the same."""
    often = Counter(path.name for path in paths)
    names = [
        shown(path.name if often[path.name] == 1 else f"{path.resolve().parent.name}/{path.name}")
        for path in paths
    ]
    for path, n in Counter(path.resolve() for path in paths).items():
        if n > 1:
            findings.fault(Mark(shown(str(path))), "the same table again", "expected it once")
    return names


def _read(row: TableRow, book: _Logbook) -> None:
    what = row.word("what", list(What), f"{', '.join(list(What)[:-1])} or {What.CELLS}")
    if what is None:
        book.lacks_watches = True
        return
    kind = What(what)
    row.text("note")
    for key in IDLE[kind]:
        if row.has(key):
            row.fault(key, f"expected nothing in a row with {what}")
    causes = _causes(row, kind)
    site, group = row.text("site"), row.text("group")
    site = "" if book.own and site.casefold() == book.own.name.casefold() else site
    book.sites.setdefault(site.casefold())
    device = _device(row, causes, site, book)
    if causes is None or device is None:
        book.lacks_watches |= kind is What.WATCHED
        return
    if kind is What.WATCHED:
        watch = _watch(row, causes, (site, group, device), book.today)
        book.watches += [watch] if watch else []
        book.lacks_watches |= watch is None
    elif kind in (What.FAILURE, What.OUTAGE):
        at = moment(row, "from", book.today)
        took = lasted(row, at, book.today)
        if at:
            strike = Strike(causes[0], site, group, device, at, took, row.mark)
            book.strikes.append(strike)
    else:
        _timed(row, kind, group if kind is What.CELLS else causes[0], book)


def _causes(row: TableRow, kind: What) -> tuple[str, ...] | None:
    """Return the causes that a row names: several where it was watched for them."""
    known = CAUSES[kind]
    if kind is What.CELLS and not row.has("cause"):
        return known
    named = row.text("cause").split()
    wanted = f"expected {', '.join(known[:-1])} or {known[-1]}" if known[1:] else known[0]
    if kind is What.WATCHED:
        wanted = f"expected one or several of {', '.join(known)}, separated by blanks"
    if kind is What.FAILURE and named == [FLAT]:
        wanted += "; cells that went flat have rows of their own, with what: cells"
    right = named and (len(named) == 1 or kind is What.WATCHED) and set(named) <= set(known)
    if not right:
        odd = next((name for name in named if name not in known), "")
        way_out = alternatives(odd, known) if odd else ""
        row.fault("cause", f"{wanted}; {way_out}" if way_out.startswith("did") else wanted)
        return None
    kinds = {COUNTED_BY.get(name, "device") for name in named}
    if len(kinds) > 1 and not kinds <= {"device", "link"}:
        several = " and ".join(sorted(kinds))
        row.fault("cause", f"expected a row for each of {several}, as n_watched counts one of them")
        return None
    return tuple(dict.fromkeys(named))


def _device(row: TableRow, causes: tuple[str, ...] | None, site: str, book: _Logbook) -> str | None:
    """Return the device that a row names, a link as its ends in order; None after a mistake."""
    text = row.text("device")
    if not text:
        return ""
    if causes and COUNTED_BY.get(causes[0], LINK_KIND) != LINK_KIND:
        return text  # the zone, circuit or model, by its name
    is_link = causes == (LINK,)
    ids = text.replace("~", " ").split() if is_link else [text]
    if is_link and len(set(ids)) != 2:
        row.fault("device", "expected the two ends of the link, such as G1~S01")
        return None
    # Another house has other devices; those of this one are known.
    kinds = book.own.kinds if book.own and not site else None
    for id in ids if kinds is not None else ():
        assert kinds is not None
        if id not in kinds:
            wanted = "expected a device of a layout, or column site for one of another house"
            book.findings.unknown(row.place("device"), id, kinds, wanted.removeprefix("expected "))
            return None
    if kinds is not None and not is_link and causes:
        is_gateway = kinds[text] is Kind.GATEWAY
        wrong = [one for one in causes if (one in OF_GATEWAYS) != is_gateway and one != FLAT]
        if wrong:
            who = "a gateway" if wrong[0] in OF_GATEWAYS else "a sensor or repeater"
            row.fault("device", f"expected {who}, which {wrong[0]} strikes")
            return None
    return "~".join(sorted(ids)) if is_link else text


def _watch(
    row: TableRow, causes: tuple[str, ...], where: tuple[str, str, str], today: datetime
) -> Watch | None:
    first, last = moment(row, "from", today), moment(row, "to", today)
    n_watched = int(row.number_or("n_watched", MANY, 1))
    new = moment(row, "installed", today) if row.has("installed") else None
    if n_watched > 1 and where[2]:
        row.fault("n_watched", "expected 1, as column device names a single one")
    if first and new and new.earliest > first.earliest:
        row.fault("installed", f"expected it not behind from, {row.text('from')}")
    if first is None or last is None:
        return None
    if last.latest <= first.earliest:
        row.fault("to", f"expected it behind from, {row.text('from')}")
        return None
    over = type(first)(first.earliest, last.latest)
    return Watch(causes, *where, n_watched, over, new.earliest if new else None, row.mark)


def _timed(row: TableRow, kind: What, of: str, book: _Logbook) -> None:
    """Read a repair or a set of cells, of which only the time matters."""
    if not row.has("from") and row.has("to"):
        row.fault("from", "expected the date at which it began, or lasted_h alone")
        return
    began = moment(row, "from", book.today) if row.has("from") else None
    n_faults = len(book.findings.faults)
    took = lasted(row, began, book.today)
    if took is not None:
        (book.cells if kind is What.CELLS else book.repairs).append(Took(of, took))
    elif len(book.findings.faults) == n_faults and (began or not row.has("from")):
        row.fault("to", "expected its end, or how long it took in lasted_h")
