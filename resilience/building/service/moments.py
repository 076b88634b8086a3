"""Dates and durations as people write them into a logbook."""

import re
from datetime import datetime, timedelta

from resilience.building.service.events import Lasted, Moment, hours_between
from resilience.building.text.entries import Span, TableRow

DAY = timedelta(days=1)
EARLIEST = datetime(1970, 1, 1)
LONGEST = Span("h", least=0, most=876_600, above=True)
WRITTEN = re.compile(r"\d{4}-\d{2}-\d{2}([ T]\d{2}:\d{2}(:\d{2})?)?")
LOCAL = re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}")
OTHER_FORM = " (in the spreadsheet give the column the format YYYY-MM-DD)"
WANTED = "expected a date such as 2026-05-31, or with the time 2026-05-31 14:30"


def moment(row: TableRow, key: str, today: datetime) -> Moment | None:
    """Return the day or the moment that stands at a key; a fault and None if none does.

    Parameters
    ----------
    row : TableRow
        Of the logbook. [-]
    key : str
        Its column. [-]
    today : datetime
        First moment of today: what lies behind its end has not happened. [-]
    """
    text = row.text(key)
    if not text:
        row.fault(key, WANTED)
        return None
    try:
        at = datetime.fromisoformat(text) if WRITTEN.fullmatch(text) else None
    except ValueError:
        row.fault(key, f"{WANTED}; there is no such day or hour")
        return None
    if at is None:
        row.fault(key, WANTED + (OTHER_FORM if LOCAL.match(text) else ""))
        return None
    if at < EARLIEST:
        row.fault(key, f"expected a date from {EARLIEST:%Y-%m-%d} on")
        return None
    if at >= today + DAY:
        row.fault(key, f"expected today ({today:%Y-%m-%d}) or earlier: it has not happened yet")
        return None
    is_day = len(text) == len("2026-05-31")
    return Moment(at, at + DAY if is_day else at)


def lasted(row: TableRow, began: Moment | None, today: datetime) -> Lasted | None:
    """Return how long something took, by column ``to`` or ``lasted_h``; None if nobody said.

    Parameters
    ----------
    row : TableRow
        Of the logbook. [-]
    began : Moment or None
        When it began; None where that is not known or was a mistake. [-]
    today : datetime
        First moment of today. [-]
    """
    has_ended = row.switch("ended", default=True)
    if row.has("to") and row.has("lasted_h"):
        row.fault("lasted_h", "expected either to or lasted_h")
    elif row.has("lasted_h"):
        hours = row.number("lasted_h", LONGEST)
        return None if hours is None else Lasted(hours, hours if has_ended else float("inf"))
    elif row.has("to"):
        ended = moment(row, "to", today)
        if ended and began:
            return _between(row, began, ended, has_ended)
    elif not has_ended:
        row.fault("to", "expected the date of the last look, as it had not ended by then")
    return None


def _between(row: TableRow, began: Moment, ended: Moment, has_ended: bool) -> Lasted | None:
    most_h = hours_between(began.earliest, ended.latest)
    least_h = max(0.0, hours_between(began.latest, ended.earliest))
    # Of a day nobody knows the hour, so what begins and ends on one day may still have lasted.
    if most_h <= 0:
        row.fault("to", f"expected it behind from, {row.text('from')}")
        return None
    return Lasted(least_h, most_h if has_ended else float("inf"))
