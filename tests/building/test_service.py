"""Dates, durations and watches at their edges; hours are counted on a calendar by hand."""

import math
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.building.service.events import (
    FAILURES,
    OUTAGES,
    Lasted,
    Moment,
    Strike,
    Watch,
    hours_between,
)
from resilience.building.service.logbook import Own, read_history
from resilience.building.service.matching import matched
from resilience.building.service.moments import lasted, moment
from resilience.building.site import Kind
from resilience.building.text.entries import Entry, Findings, Mark, TableRow
from resilience.errors import InputError

TODAY = datetime(2026, 5, 31)
GATE = settings(max_examples=100, deadline=None, derandomize=True)


def row(**cells):
    """Return line 4 of a logbook."""
    marks = {key: Mark("h.csv", 4, f"column {key}") for key in cells}
    entries = {key: Entry(text, marks[key]) for key, text in cells.items() if text}
    return TableRow(Mark("h.csv", 4), "column ", entries, Findings())


def faults_of(found):
    return [str(fault) for fault in found.findings.faults]


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2024-02-29", datetime(2024, 2, 29), datetime(2024, 3, 1)),
        ("2024-06-02 14:30", datetime(2024, 6, 2, 14, 30), datetime(2024, 6, 2, 14, 30)),
        ("2024-06-02T14:30", datetime(2024, 6, 2, 14, 30), datetime(2024, 6, 2, 14, 30)),
        ("2024-06-02 14:30:05", datetime(2024, 6, 2, 14, 30, 5), datetime(2024, 6, 2, 14, 30, 5)),
        ("2024-06-02 00:00", datetime(2024, 6, 2), datetime(2024, 6, 2)),
        ("1970-01-01", datetime(1970, 1, 1), datetime(1970, 1, 2)),
        ("2026-05-31", datetime(2026, 5, 31), datetime(2026, 6, 1)),
        (
            "2026-05-31 23:59:59",
            datetime(2026, 5, 31, 23, 59, 59),
            datetime(2026, 5, 31, 23, 59, 59),
        ),
    ],
)
def test_a_day_lasts_until_the_next_and_a_time_is_a_moment(text, first, last):
    assert moment(row(at=text), "at", TODAY) == Moment(first, last)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", "expected a date such as 2026-05-31, or with the time 2026-05-31 14:30"),
        ("2023-02-29", "; there is no such day or hour"),
        ("2024-13-01", "; there is no such day or hour"),
        ("2024-06-02 24:00", "; there is no such day or hour"),
        ("2024-06-02 14:60", "; there is no such day or hour"),
        ("02.06.2024", " (in the spreadsheet give the column the format YYYY-MM-DD)"),
        ("2/6/24", " (in the spreadsheet give the column the format YYYY-MM-DD)"),
        ("2024-6-2", " (in the spreadsheet give the column the format YYYY-MM-DD)"),
        ("20240602", "14:30"),
        ("2024-W05-4", "14:30"),
        ("2024-06-02 14", "(in the spreadsheet give the column the format YYYY-MM-DD)"),
        ("2024-06-02 14:30+02:00", "(in the spreadsheet give the column the format YYYY-MM-DD)"),
        ("45445", "14:30"),  # a date as a spreadsheet keeps it
        ("1969-12-31", "expected a date from 1970-01-01 on"),
        ("2026-06-01", "expected today (2026-05-31) or earlier: it has not happened yet"),
        ("2026-06-01 00:00", "expected today (2026-05-31) or earlier: it has not happened yet"),
        ("9999-12-31", "expected today (2026-05-31) or earlier: it has not happened yet"),
    ],
)
def test_what_is_no_date_in_the_past_is_told_with_the_form_that_is_meant(text, wanted):
    found = row(at=text)
    assert moment(found, "at", TODAY) is None
    (fault,) = faults_of(found)
    shown = f'"{text}"' if text else "nothing"
    assert fault.startswith(f"h.csv, line 4, column at: found {shown}; expected ")
    assert fault.endswith(wanted)


def took(began="2024-06-02", **cells):
    """Return how long something took that began then, and the faults."""
    found = row(**{"from": began}, **cells)
    start = moment(found, "from", TODAY) if began else None
    return lasted(found, start, TODAY), faults_of(found)


@pytest.mark.parametrize(
    ("began", "cells", "least_h", "most_h"),
    [
        ("2024-06-02", {"lasted_h": "1.5"}, 1.5, 1.5),
        ("2024-06-02", {"lasted_h": "876600"}, 876_600, 876_600),  # a hundred years
        ("2024-06-02", {"lasted_h": "5", "ended": "no"}, 5, math.inf),
        ("2024-06-02 14:00", {"to": "2024-06-02 15:30"}, 1.5, 1.5),
        ("2024-06-02", {"to": "2024-06-02"}, 0, 24),
        ("2024-06-02", {"to": "2024-06-03"}, 0, 48),
        ("2024-06-02", {"to": "2024-06-04"}, 24, 72),
        ("2024-06-02", {"to": "2024-06-03 06:00"}, 6, 30),
        ("2024-06-02 18:00", {"to": "2024-06-03"}, 6, 30),
        ("2024-06-02 18:00", {"to": "2024-06-02"}, 0, 6),
        ("2024-06-02", {"to": "2024-06-03 06:00", "ended": "off"}, 6, math.inf),
    ],
)
def test_a_duration_is_bounded_by_what_is_known_of_both_its_ends(began, cells, least_h, most_h):
    found, faults = took(began, **cells)
    assert (found, faults) == (Lasted(least_h, most_h), [])
    assert found.has_ended is math.isfinite(most_h)
    assert found.likely_h == ((least_h + most_h) / 2 if math.isfinite(most_h) else least_h)


@pytest.mark.parametrize(
    ("began", "cells", "told"),
    [
        ("2024-06-02", {"lasted_h": "0"}, 'column lasted_h: found "0"; expected hours, above 0'),
        ("2024-06-02", {"lasted_h": "876601"}, "at most 876600"),
        ("2024-06-02", {"lasted_h": "1,5"}, "expected hours, with a decimal point"),
        ("2024-06-02", {"to": "2024-06-01"}, 'column to: found "2024-06-01"; expected it behind'),
        ("2024-06-02 14:00", {"to": "2024-06-02 14:00"}, "expected it behind from, 2024-06-02 14"),
        ("2024-06-02", {"to": "2024-06-03", "lasted_h": "3"}, "expected either to or lasted_h"),
        ("2024-06-02", {"ended": "no"}, "column to: found nothing; expected the date of the last"),
    ],
)
def test_a_duration_that_cannot_be_is_told(began, cells, told):
    found, (fault,) = took(began, **cells)
    assert found is None
    assert told in fault


def test_nobody_has_to_say_how_long_something_took():
    assert took() == (None, [])
    assert took(began="", to="2024-06-05") == (None, [])  # nobody knows from when


@GATE
@given(
    first=st.datetimes(datetime(1970, 1, 1), datetime(2026, 5, 30)),
    hours=st.integers(1, 10_000),
)
def test_hours_between_two_moments_are_those_of_the_calendar(first, hours):
    assert hours_between(first, first + timedelta(hours=hours)) == pytest.approx(hours)


def at(text):
    found = moment(row(at=text), "at", TODAY)
    assert found is not None
    return found


def watch(n_watched=5, first="2024-01-01", last="2024-12-31", new=None, line=2, **more):
    where = {"site": "", "group": "", "device": ""} | more
    over = Moment(at(first).earliest, at(last).latest)
    mark = Mark("h.csv", line)
    causes = (*FAILURES, *OUTAGES)
    return Watch(causes, **where, n_watched=n_watched, over=over, new_since=new, mark=mark)


def strike(when, cause="hardware", line=9, hours=None, **more):
    where = {"site": "", "group": "", "device": ""} | more
    took_h = None if hours is None else Lasted(hours, hours)
    return Strike(cause, at=at(when), lasted=took_h, mark=Mark("h.csv", line), **where)


def met(watches, strikes):
    findings = Findings()
    found = matched(watches, strikes, findings, findings)
    return [len(one.strikes) for one in found], [str(fault) for fault in findings.faults]


@pytest.mark.parametrize(
    ("when", "is_seen"),
    [
        ("2024-01-01", True),
        ("2024-12-31", True),
        ("2024-12-31 23:59", True),
        ("2023-12-31", False),
        ("2025-01-01", False),
        ("2023-12-31 23:59", False),
    ],
)
def test_a_watch_sees_its_first_and_its_last_day_and_no_other(when, is_seen):
    counts, faults = met([watch()], [strike(when)])
    assert counts == [int(is_seen)]
    told = "expected a time that was watched: 2024-01-01 to 2024-12-31 (line 2)"
    assert [told in fault for fault in faults] == [True] * (not is_seen)


@pytest.mark.parametrize(
    ("watched", "struck", "is_seen"),
    [
        ({}, {}, True),
        ({"group": "a"}, {}, True),
        ({}, {"group": "a"}, False),
        ({"group": "a"}, {"group": "a"}, True),
        ({"group": "a"}, {"group": "A"}, False),
        ({"device": "S1", "n_watched": 1}, {"device": "S1"}, True),
        ({"device": "S1", "n_watched": 1}, {"device": "S2"}, False),
        ({"device": "S1", "n_watched": 1}, {}, True),
        ({}, {"device": "S1"}, True),
        ({"site": "Quay"}, {"site": "QUAY"}, True),
        ({"site": "Quay"}, {}, False),
        ({}, {"site": "Quay"}, False),
    ],
)
def test_who_was_watched_is_known_by_site_group_and_device(watched, struck, is_seen):
    counts, faults = met([watch(**watched)], [strike("2024-06-02", **struck)])
    assert counts == [int(is_seen)]
    assert len(faults) == (not is_seen)


@pytest.mark.parametrize(("device", "counts"), [("S1", [0, 1]), ("S2", [1, 0]), ("", [1, 0])])
def test_of_two_watches_the_one_that_names_as_much_as_the_strike_has_seen_it(device, counts):
    watches = [watch(), watch(n_watched=1, device="S1", line=3)]
    assert met(watches, [strike("2024-06-02", device=device)]) == (counts, [])


def test_two_devices_without_a_name_may_fail_on_one_day_beside_one_that_is_watched_by_name():
    watches = [watch(n_watched=1, device="S1"), watch(line=3)]
    strikes = [strike("2024-06-02"), strike("2024-06-02", line=10)]
    assert met(watches, strikes) == ([0, 2], [])


@pytest.mark.parametrize(
    ("other", "is_told"),
    [
        ({}, True),  # the very same row again
        ({"n_watched": 7}, True),
        ({"first": "2024-02-01"}, False),  # others, perhaps, over another time
        ({"group": "b"}, False),
        ({"site": "Quay"}, False),
        ({"first": "2025-01-01", "last": "2025-12-31"}, False),
    ],
)
def test_the_same_time_of_the_same_devices_is_not_counted_twice(other, is_told):
    _, faults = met([watch(), watch(line=3, **other)], [])
    assert (
        faults
        == [
            "h.csv, line 3: found time that is watched already; expected each time once: line 2 "
            "watches the same for hardware; name another group if they are others"
        ]
        * is_told
    )


@pytest.mark.parametrize(
    ("first", "is_told"), [("2024-12-31", False), ("2024-12-30", True), ("2024-06-01", True)]
)
def test_two_watches_of_one_device_may_meet_on_one_day(first, is_told):
    watches = [
        watch(n_watched=1, device="S1"),
        watch(n_watched=1, device="S1", first=first, last="2025-12-31", line=3),
    ]
    assert len(met(watches, [])[1]) == is_told


@pytest.mark.parametrize(
    ("hours", "second", "is_told"),
    [
        (None, "2024-06-03", False),
        (24.0, "2024-06-03 08:00", False),  # it ends as the next begins
        (24.1, "2024-06-03 08:00", True),
        (24.1, "2024-06-03", False),  # perhaps later that day
        (50.0, "2024-06-03", True),
        (None, "2024-06-02 08:00", True),  # the same moment
    ],
)
def test_a_device_is_not_struck_again_while_the_first_strike_lasts(hours, second, is_told):
    strikes = [
        strike("2024-06-02 08:00", cause="mains_outage", device="S1", hours=hours),
        strike(second, cause="mains_outage", device="S1", line=10),
    ]
    _, faults = met([watch()], strikes)
    assert (
        faults
        == [
            "h.csv, line 10, column from: found mains_outage of S1 again; "
            "expected it once, and behind the end of that in line 9"
        ]
        * is_told
    )


@pytest.mark.parametrize(("n", "is_told"), [(2, False), (3, True)])
def test_no_more_devices_fail_than_are_watched(n, is_told):
    strikes = [strike(f"2024-06-0{k}", device=f"S{k}", line=9 + k) for k in range(1, n + 1)]
    _, faults = met([watch(n_watched=2)], strikes)
    assert (
        faults
        == [
            "h.csv, line 2, column n_watched: found 2; expected n_watched to be at least 3, "
            "as so many of them failed"
        ]
        * is_told
    )


def test_one_device_may_fail_more_often_than_devices_are_watched():
    strikes = [strike(f"2024-0{k}-01", device="S1", line=9 + k) for k in (2, 4, 6)]
    assert met([watch(n_watched=1)], strikes) == ([3], [])


@pytest.mark.parametrize(
    ("cause", "new", "is_told"),
    [
        ("hardware", datetime(2022, 1, 1), True),
        ("hardware", None, False),
        ("gateway_hardware", datetime(2022, 1, 1), True),
        ("mains_outage", datetime(2022, 1, 1), False),  # which knows no age
    ],
)
def test_a_failure_of_devices_of_two_ages_has_to_name_its_group(cause, new, is_told):
    watches = [watch(group="a"), watch(group="b", new=new, line=3)]
    _, faults = met(watches, [strike("2024-06-02", cause=cause)])
    assert (
        faults
        == [
            "h.csv, line 9, column group: found a failure of an unknown age; "
            "expected column group here and there: lines 2 and 3 watch devices of other ages"
        ]
        * is_told
    )


OWN = Own("Invented annexe", {"G1": Kind.GATEWAY, "S1": Kind.SENSOR})
HEAD = "what,cause,from,to,n_watched,site,device\n"


def read(tmp_path, rows):
    (tmp_path / "history.csv").write_text(HEAD + rows, encoding="utf-8")
    return read_history([(tmp_path / "history.csv", OWN)], TODAY)


@pytest.mark.parametrize("title", ["Invented annexe", "invented ANNEXE"])
def test_the_title_of_the_site_names_its_own_rows_in_any_case(tmp_path, title):
    rows = "watched,hardware,2024-01-01,2024-12-31,5,,\n"
    history = read(tmp_path, f"{rows}failure,hardware,2024-06-02,,,{title},S1\n")
    assert (history.n_sites, len(history.watches[0].strikes)) == (1, 1)


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ("G1~S1", ""),
        ("S1~G1", ""),
        ("G1 S1", ""),
        ("G1", "expected the two ends of the link, such as G1~S01"),
        ("G1~G1", "expected the two ends of the link, such as G1~S01"),
        ("G1~S1~S2", "expected the two ends of the link, such as G1~S01"),
        ("G1~s1", 'found "s1"; expected a device of a layout, or column site'),
    ],
)
def test_a_link_is_named_by_its_two_ends_in_either_order(tmp_path, ends, told):
    rows = f"watched,link_blockage,2024-01-01,2024-12-31,1,,{ends}\n"
    if told:
        with pytest.raises(InputError, match=told):
            read(tmp_path, rows)
    else:
        assert read(tmp_path, rows).watches[0].device == "G1~S1"


@pytest.mark.parametrize(
    ("n", "is_read"), [("1", True), ("100000", True), ("0", False), ("100001", False)]
)
def test_how_many_were_watched_is_one_to_a_hundred_thousand(tmp_path, n, is_read):
    rows = f"watched,hardware,2024-01-01,2024-12-31,{n},,\n"
    if is_read:
        assert read(tmp_path, rows).watches[0].n_watched == int(n)
    else:
        with pytest.raises(InputError, match="at least 1 and at most 100000"):
            read(tmp_path, rows)


@pytest.mark.parametrize("name", ["<b>x</b>", "=cmd()", "../..", "x~y"])
def test_hostile_names_of_other_sites_are_kept_as_text(tmp_path, name):
    rows = f'watched,hardware,2024-01-01,2024-12-31,5,"{name}","{name}"\n'.replace(",5,", ",1,")
    (found,) = read(tmp_path, rows).watches
    assert (found.site, found.device) == (name, name)


def test_a_control_character_in_a_logbook_is_told_as_text(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, "watched,hardware,2024-01-01,2024-12-31,5,a\x1b[2J,\n")
    assert str(caught.value) == (
        'history.csv, line 2, column site: found "a\\x1b[2J"; '
        "expected text without control or invisible characters"
    )
