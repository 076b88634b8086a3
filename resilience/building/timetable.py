"""When something stands or may come: hours of the day, days of the week, months of the year.

All of that is local standard time; a span of hours over midnight belongs to the day it begins on.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from resilience.units import HOURS_PER_YEAR, MS_PER_DAY, MS_PER_H

EVERY = "every"
WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
YEAR = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
DAY_MIN = 24 * 60
MS_PER_MIN = MS_PER_H // 60
SPAN = re.compile(r"(\d{1,2})(?::(\d{2}))?-(\d{1,2})(?::(\d{2}))?")
TIMES = ("hours", "weekdays", "months")  # keys of a timetable
# Weekdays fall on the same dates again after 28 years.
CYCLE = (date(2001, 1, 1), date(2029, 1, 1))

Windows = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Timetable:
    """Hours of days of months, each as it is written: ``08:00-17:00``, ``mon-fri``, ``oct-mar``.

    Parameters
    ----------
    hours : str
        Spans of hours, or ``every``. [-]
    weekdays : str
        Days of the week or spans of these, or ``every``. [-]
    months : str
        Months or spans of these, or ``every``. [-]
    """

    hours: str = EVERY
    weekdays: str = EVERY
    months: str = EVERY

    def __post_init__(self) -> None:
        for name in TIMES:
            wanted = problem(name, getattr(self, name))
            if wanted:
                raise ValueError(f"{name} {getattr(self, name)!r}: {wanted}")

    @property
    def is_always(self) -> bool:
        """Whether it leaves no time out."""
        return {self.hours, self.weekdays, self.months} == {EVERY}

    @property
    def words(self) -> str:
        """The same in one phrase, what is not restricted left out."""
        return ", ".join(one for one in (self.hours, self.weekdays, self.months) if one != EVERY)

    @property
    def per_year(self) -> float:
        """How often it begins in an average year. [1/year]."""
        found = _cycle(self)
        return sum(start > 0 for start, _ in found) / (CYCLE[1].year - CYCLE[0].year)

    @property
    def share(self) -> float:
        """Share of all time in which it is in force. [-]."""
        return sum(end - start for start, end in _cycle(self)) / (_n_days(*CYCLE) * MS_PER_DAY)

    @property
    def mean_h(self) -> float:
        """How long it is in force each time, on average; infinite where it is without end. [h]."""
        per_year = self.per_year
        return self.share * HOURS_PER_YEAR / per_year if per_year > 0 else float("inf")


def written(name: str, text: str) -> str:
    """Return hours, weekdays or months the one way that they are kept; empty where not understood.

    Parameters
    ----------
    name : str
        ``hours``, ``weekdays`` or ``months``. [-]
    text : str
        As somebody wrote them. [-]
    """
    if text.strip().casefold() == EVERY:
        return EVERY
    if name != "hours":
        names = WEEK if name == "weekdays" else YEAR
        return _named(cycle_of(text, names), names)
    spans = _spans_min(text)
    if sum(end - start for start, end in spans) >= DAY_MIN:
        return EVERY
    return " ".join(f"{_clock(start)}-{_clock(end)}" for start, end in spans)


def problem(name: str, text: str) -> str:
    """Return what is expected in the place of a text that is not understood; empty where it is.

    Parameters
    ----------
    name : str
        ``hours``, ``weekdays`` or ``months``. [-]
    text : str
        As somebody wrote them. [-]
    """
    if written(name, text):
        return ""
    if name == "hours":
        return f"expected {EVERY}, or spans of hours that do not overlap, such as 08:00-17:00"
    names, example = (WEEK, "mon-fri") if name == "weekdays" else (YEAR, "oct-mar")
    short = " ".join(one[:3] for one in names)
    return f"expected {EVERY}, or some of {short}, such as {example}"


def cycle_of(text: str, names: tuple[str, ...]) -> frozenset[int]:
    """Return the places of words and spans of these, such as ``oct-mar``; none if one is unknown.

    Parameters
    ----------
    text : str
        Words of three letters or more, separated by blanks or commas. [-]
    names : tuple of str
        What they may stand for, in the order in which they follow each other. [-]
    """
    found: set[int] = set()
    for word in re.sub(r"\s*[-\u2013]\s*", "-", text).replace(",", " ").casefold().split():
        first, dash, last = word.partition("-")
        here, there = _place(first, names), _place(last if dash else first, names)
        if here < 0 or there < 0:
            return frozenset()
        n = len(names)
        found |= {place % n for place in range(here, there + 1 + n * (there < here))}
    return frozenset(found)


@lru_cache(maxsize=64)
def windows_ms(timetable: Timetable, first: date, horizon_ms: int) -> Windows:
    """Start and end of each time in force that begins before the horizon, in order.

    They never touch. What is in force at the start begins at 0; the last one may end after the
    horizon.

    Parameters
    ----------
    timetable : Timetable
        When. [-]
    first : date
        Day that begins at 0, at midnight. [-]
    horizon_ms : int
        Where to stop. [ms]
    """
    found: list[tuple[int, int]] = []
    for start, end in _pieces_ms(timetable, first, horizon_ms):
        if found and found[-1][1] >= start:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return tuple(found)


def _pieces_ms(timetable: Timetable, first: date, horizon_ms: int) -> Iterator[tuple[int, int]]:
    """Yield the spans of each day in turn; one over midnight may begin the day before."""
    days, months = _days_and_months(timetable)
    text = timetable.hours
    spans = [(0, DAY_MIN)] if text == EVERY else _spans_min(text)
    day = first - timedelta(days=1)
    for day_ms in range(-MS_PER_DAY, horizon_ms, MS_PER_DAY):
        if day.weekday() in days and day.month - 1 in months:
            for start, end in spans:
                start_ms, end_ms = day_ms + start * MS_PER_MIN, day_ms + end * MS_PER_MIN
                if end_ms > 0 and start_ms < horizon_ms:
                    yield max(start_ms, 0), end_ms
        day += timedelta(days=1)


def _days_and_months(timetable: Timetable) -> tuple[frozenset[int], frozenset[int]]:
    texts = ((timetable.weekdays, WEEK), (timetable.months, YEAR))
    days, months = (
        frozenset(range(len(names))) if text == EVERY else cycle_of(text, names)
        for text, names in texts
    )
    return days, months


@lru_cache(maxsize=64)
def _cycle(timetable: Timetable) -> Windows:
    first, last = CYCLE
    horizon_ms = _n_days(first, last) * MS_PER_DAY
    found = windows_ms(timetable, first, horizon_ms)
    return tuple((start, min(end, horizon_ms)) for start, end in found)


def _n_days(first: date, last: date) -> int:
    return (last - first).days


def _spans_min(text: str) -> list[tuple[int, int]]:
    """Return spans in minutes from midnight, in order; none if they make no sense."""
    found = []
    for word in re.sub(r"\s*[-\u2013]\s*", "-", text).replace(",", " ").split():
        match = SPAN.fullmatch(word)
        if match is None:
            return []
        hour, minute, last_hour, last_minute = (int(one or 0) for one in match.groups())
        start, end = 60 * hour + minute, 60 * last_hour + last_minute
        if max(minute, last_minute) > 59 or start >= DAY_MIN or end > DAY_MIN or start == end:
            return []
        found.append((start, end + DAY_MIN * (end < start)))
    found.sort()
    follow = zip(found, [*found[1:], *((a + DAY_MIN, b) for a, b in found[:1])], strict=True)
    return [] if any(one[1] > other[0] for one, other in follow) else found


def _clock(minutes: int) -> str:
    over = minutes - DAY_MIN * (minutes > DAY_MIN)
    return f"{over // 60:02}:{over % 60:02}"


def _place(word: str, names: tuple[str, ...]) -> int:
    known = [place for place, name in enumerate(names) if name.startswith(word)]
    return known[0] if known and len(word) >= 3 else -1


def _named(places: frozenset[int], names: tuple[str, ...]) -> str:
    """Return places in words: runs of three and more as a span, all of them as ``every``."""
    if len(places) == len(names):
        return EVERY
    runs: list[list[int]] = []
    for place in sorted(places):
        if runs and runs[-1][-1] == place - 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    short = [one[:3] for one in names]
    words = [
        f"{short[run[0]]}-{short[run[-1]]}"
        if len(run) > 2
        else " ".join(short[place] for place in run)
        for run in runs
    ]
    return " ".join(words)


ANY_TIME = Timetable()
