"""``state.csv``: how the devices of a site in service stand today."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time

from resilience.building.service.moments import moment
from resilience.building.site import Device, Layout, Supply
from resilience.building.stated.standing import AS_NEW, InService, Standing
from resilience.building.text.entries import Findings, Mark, Span, TableRow, Unique, listed
from resilience.building.text.tables import Columns

STATE_FILE = "state.csv"
STATE = Columns(
    ("id", "in_service_since"), ("cells_since", "charge_left_share", "down_since", "note")
)
SHARE = Span(least=0.0, most=1.0)
NO_DAY = "expected calendar: {today: 2031-05-01} in site.yaml, the day on which that was so"


def standing_of(
    rows: Iterable[TableRow],
    layouts: Iterable[Layout],
    days: tuple[date | None, date | None],
    findings: Findings,
) -> Standing:
    """Return how the devices of a site stand, a row for each that has been in service.

    Parameters
    ----------
    rows : iterable of TableRow
        Of the table. [-]
    layouts : iterable of Layout
        Their devices are known; one of the same id is the same device wherever it hangs. [-]
    days : tuple of (date or None, date or None)
        Hand-over, if the site states it, and the day that the table tells of. [-]
    findings : Findings
        Where faults and notes go. [-]
    """
    hand_over, today = days
    found = list(rows)
    if not found:
        return AS_NEW
    if today is None:
        findings.fault(Mark(STATE_FILE), "no day that it tells of", NO_DAY)
        return AS_NEW
    known: dict[str, list[Device]] = {}
    for layout in layouts:
        for device in layout.devices:
            known.setdefault(device.id, []).append(device)
    seen = Unique()
    read = [_in_service(row, known, (hand_over, today), seen) for row in found]
    devices = sorted((one for one in read if one), key=lambda one: one.id)
    missing = sorted(known.keys() - {one.id for one in devices})
    if missing and known:
        findings.note(
            f"{STATE_FILE} tells of {len(known) - len(missing)} of {len(known)} devices; the "
            f"others start as if new: {listed(missing)}."
        )
    return Standing(today, tuple(devices))


def _in_service(
    row: TableRow,
    known: Mapping[str, list[Device]],
    days: tuple[date | None, date],
    seen: Unique,
) -> InService | None:
    id = row.name()
    row.text("note")
    if id is None or not seen.admit(row, id):
        return None
    if id not in known:
        row.findings.unknown(row.place("id"), id, known, "a device of a layout")
        return None
    hand_over, today = days
    since = _day(row, "in_service_since", today)
    if since and hand_over and since < hand_over:
        row.fault("in_service_since", f"expected {hand_over} or later, when it was handed over")
    if since is None:
        return None
    on_cells = any(one.supply is Supply.BATTERY for one in known[id])
    for key in ("cells_since", "charge_left_share"):
        if row.has(key) and not on_cells:
            row.fault(key, "expected nothing, as no layout has it on cells")
    share = row.number("charge_left_share", SHARE) if row.has("charge_left_share") else None
    cells, down = (_day(row, key, today, since) for key in ("cells_since", "down_since"))
    return InService(id, since, cells or since, share, down)


def _day(row: TableRow, key: str, today: date, since: date | None = None) -> date | None:
    """Return the day at a key, none before that since which the device is in service."""
    if since and not row.has(key):
        return None
    found = moment(row, key, datetime.combine(today, time()))
    day = found.earliest.date() if found else None
    if day and since and day < since:
        row.fault(key, f"expected {since} or later, as it was not in service before")
        return None
    return day
