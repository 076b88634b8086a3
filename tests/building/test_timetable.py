"""When something stands: timetables against the calendar of the standard library."""

from datetime import date, datetime, time, timedelta

import pytest

from resilience.building.timetable import (
    ANY_TIME,
    TIMES,
    Timetable,
    problem,
    windows_ms,
    written,
)

MINUTE_MS = 60_000
HOUR = timedelta(hours=1)
DAY_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MONTH_NAMES = (
    *("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"),
)
# Written, and the hours, weekdays and months meant, each listed one by one.
OFFICE = (Timetable("08:00-17:00", "mon-fri"), range(8, 17), range(5), range(12))
NIGHT = (Timetable("22:00-06:00", "fri sat"), None, (4, 5), range(12))
WINTER = (Timetable(months="oct-mar"), range(24), range(7), (9, 10, 11, 0, 1, 2))
MARKET = (Timetable("6-8 13:00-15:00", "wed, sat", "Apr-Sep"), (6, 7, 13, 14), (2, 5), range(3, 9))
PLAIN = (OFFICE, WINTER, MARKET)


def seconds_in(windows, horizon_ms):
    return sum(min(end, horizon_ms) - start for start, end in windows) / 1000


@pytest.mark.parametrize(("timetable", "hours", "days", "months"), PLAIN)
@pytest.mark.parametrize("first", [date(2030, 1, 1), date(2027, 12, 30), date(2024, 2, 27)])
def test_windows_are_the_hours_that_the_calendar_counts(timetable, hours, days, months, first):
    """Every hour of three years is asked by itself; the third start has a leap day ahead."""
    n_hours = 3 * 8766
    start = datetime.combine(first, time())
    meant = [
        here.hour in hours and here.weekday() in days and here.month - 1 in months
        for here in (start + n * HOUR for n in range(n_hours))
    ]
    windows = windows_ms(timetable, first, n_hours * 60 * MINUTE_MS)
    told = [False] * n_hours
    for begin, end in windows:
        for n in range(begin // (60 * MINUTE_MS), min(n_hours, end // (60 * MINUTE_MS))):
            told[n] = True
    assert told == meant


def test_hours_over_midnight_belong_to_the_day_on_which_they_begin():
    """1 January 2030 is a Tuesday; the first Friday is the fourth."""
    timetable, *_ = NIGHT
    begin, end = windows_ms(timetable, date(2030, 1, 1), 7 * 24 * 60 * MINUTE_MS)[0]
    start = datetime(2030, 1, 1)
    assert start + timedelta(milliseconds=begin) == datetime(2030, 1, 4, 22)
    assert start + timedelta(milliseconds=end) == datetime(2030, 1, 5, 6)


def test_what_began_the_day_before_hand_over_is_in_force_at_hand_over():
    """5 January 2030 is a Saturday: the night of Friday is on."""
    timetable, *_ = NIGHT
    assert windows_ms(timetable, date(2030, 1, 5), 1000)[0] == (0, 6 * 60 * MINUTE_MS)


def test_the_share_of_a_year_is_that_of_the_calendar():
    """Weekdays from 8 to 17: 45 of 168 h, 5 times a week of 365.25 / 7 a year."""
    timetable, *_ = OFFICE
    assert timetable.share == pytest.approx(45 / 168, abs=1e-12)
    assert timetable.per_year == pytest.approx(5 * 365.25 / 7, rel=1e-3)
    assert timetable.mean_h == pytest.approx(9.0, rel=1e-3)


def test_months_are_as_long_as_the_calendar_has_them():
    """In 28 years from 2001 on, October to March have 5,103 days, seven leap days among them."""
    timetable, *_ = WINTER
    days = [date(2001, 1, 1) + timedelta(days=n) for n in range(10_227)]
    n_winter = sum(day.month in (10, 11, 12, 1, 2, 3) for day in days)
    assert n_winter == 28 * 182 + 7
    assert timetable.share == pytest.approx(n_winter / len(days), abs=1e-12)
    assert timetable.per_year == pytest.approx(1.0)


def test_what_is_always_in_force_never_begins():
    assert ANY_TIME.is_always
    assert (ANY_TIME.per_year, ANY_TIME.share) == (0.0, 1.0)
    assert windows_ms(ANY_TIME, date(2030, 1, 1), 5000) == ((0, 24 * 60 * MINUTE_MS),)


@pytest.mark.parametrize(
    ("name", "text", "kept"),
    [
        ("hours", "8-17", "08:00-17:00"),
        ("hours", "13:30 - 15:00, 06:15-07:00", "06:15-07:00 13:30-15:00"),
        ("hours", "22-6", "22:00-06:00"),
        ("hours", "0-24", "every"),
        ("hours", "06:00-24:00", "06:00-24:00"),
        ("weekdays", "Mon-Fri", "mon-fri"),
        ("weekdays", "sat-mon", "mon sat sun"),
        ("weekdays", "Saturday sunday", "sat sun"),
        ("weekdays", "mon-sun", "every"),
        ("months", "Oct-Mar", "jan-mar oct-dec"),
        ("months", "december", "dec"),
        ("months", "EVERY", "every"),
    ],
)
def test_one_timetable_is_kept_one_way_however_it_is_written(name, text, kept):
    assert written(name, text) == kept
    assert written(name, kept) == kept


@pytest.mark.parametrize(
    ("name", "text"),
    [
        *(("hours", text) for text in ("", "8", "8-8", "25-26", "8:60-9", "8-12 11-14", "8-9-10")),
        *(("hours", text) for text in ("22-6 5-7", "12:00-24:30", "nine-five")),
        *(("weekdays", text) for text in ("", "mo", "mon-", "mon-funday", "weekend", "1-5")),
        *(("months", text) for text in ("ju", "spring", "13", "jan-smarch")),
    ],
)
def test_what_is_no_timetable_is_told_with_an_example(name, text):
    assert problem(name, text).startswith("expected every, or ")
    with pytest.raises(ValueError, match="expected every"):
        Timetable(**{name: text})


def test_every_key_of_a_timetable_is_named():
    assert set(TIMES) == {"hours", "weekdays", "months"}
