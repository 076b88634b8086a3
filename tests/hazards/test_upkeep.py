"""Working time, worked out by hand on a calendar, and what upkeep a site states for the engines."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resilience.building.files.folder import read_site
from resilience.hazards.upkeep import (
    DAY_MS,
    EVERY_DAY,
    NEVER_DONE_MS,
    Calls,
    after_work_ms,
    calls_of,
    worked_ms,
)
from resilience.units import MS_PER_H

TUESDAY = datetime(2030, 1, 1)  # a Tuesday in every calendar
WORKDAYS = 0b1001111  # of a week that begins on a Tuesday: Saturday and Sunday are days 4 and 5
OFFICE = (8 * MS_PER_H, 17 * MS_PER_H, WORKDAYS)


def _ms(day: int, hour: float) -> int:
    """Time of an hour of a day of January 2030."""
    since = datetime(2030, 1, day) + timedelta(hours=hour) - TUESDAY
    return round(since / timedelta(milliseconds=1))


@pytest.mark.parametrize(
    ("begins", "hours", "ends"),
    [
        ((1, 8), 2, (1, 10)),
        ((1, 6), 2, (1, 10)),  # nobody is there before 8
        ((1, 16), 2, (2, 9)),  # an hour today, one tomorrow
        ((1, 8), 9, (1, 17)),  # a whole day ends as the day does
        ((1, 8), 9.5, (2, 8.5)),
        ((4, 16), 2, (7, 9)),  # over the weekend: 4 January 2030 is a Friday
        ((5, 12), 1, (7, 9)),  # called on a Saturday
        ((3, 13), 40, (9, 17)),  # 4 h on Thursday, then four whole days
    ],
)
def test_work_stands_still_outside_working_hours(begins, hours, ends):
    """By hand, Monday to Friday from 8 to 17."""
    done_ms = after_work_ms(_ms(*begins), round(hours * MS_PER_H), *OFFICE)
    assert done_ms == _ms(*ends)


@pytest.mark.parametrize(
    ("ready", "begins"),
    [((1, 9), (1, 9)), ((1, 3), (1, 8)), ((1, 17), (2, 8)), ((4, 17), (7, 8)), ((6, 0), (7, 8))],
)
def test_work_of_no_length_is_done_when_somebody_could_begin(ready, begins):
    assert after_work_ms(_ms(*ready), 0, *OFFICE) == _ms(*begins)


def test_round_the_clock_work_takes_as_long_as_it_takes():
    for time_ms in (0, 1, DAY_MS - 1, 9 * DAY_MS + 12345):
        for work_ms in (0, 1, DAY_MS, 123456789):
            assert after_work_ms(time_ms, work_ms, 0, DAY_MS, EVERY_DAY) == time_ms + work_ms


def test_work_without_end_is_never_done():
    assert after_work_ms(5, NEVER_DONE_MS, *OFFICE) >= NEVER_DONE_MS


@given(
    time_ms=st.integers(0, 400 * DAY_MS),
    work_ms=st.integers(1, 30 * DAY_MS),
    opens_h=st.integers(0, 22),
    open_h=st.integers(1, 24),
    days=st.integers(1, EVERY_DAY),
)
def test_what_is_done_took_exactly_its_working_time(time_ms, work_ms, opens_h, open_h, days):
    hours = (opens_h * MS_PER_H, min(24, opens_h + open_h) * MS_PER_H, days)
    done_ms = after_work_ms(time_ms, work_ms, *hours)
    assert worked_ms(done_ms, *hours) - worked_ms(time_ms, *hours) == work_ms
    assert worked_ms(done_ms - 1, *hours) - worked_ms(time_ms, *hours) == work_ms - 1
    last = TUESDAY + timedelta(milliseconds=done_ms - 1)  # somebody works up to here
    assert days >> (last.date() - TUESDAY.date()).days % 7 & 1


@pytest.fixture
def asked(tmp_path):
    """How calls are answered on a site that states this."""
    layout = tmp_path / "layouts" / "a"
    layout.mkdir(parents=True)
    (layout / "devices.csv").write_text("id,kind\nG1,gateway\nS1,sensor\n")
    (layout / "links.csv").write_text("a,b,prr\nG1,S1,0.9\n")

    def read(text: str) -> Calls | None:
        (tmp_path / "site.yaml").write_text(f"format: 1\nradio: {{predict: off}}\n{text}\n")
        return calls_of(read_site(tmp_path))

    return read


def test_by_default_every_failure_has_a_visit_of_its_own_at_once(asked):
    assert asked("") is None
    assert asked("upkeep: {crews: unlimited, mends: device, alarm_h: 0}") is None


def test_without_repair_nobody_is_called(asked):
    assert asked("upkeep: {repair: off, crews: 1, alarm_h: 24}") is None


def test_what_a_site_states_reaches_the_engines_in_their_units(asked):
    calls = asked(
        "upkeep: {repair: {mean_h: 2}, response: {mean_h: 3, distribution: fixed}, alarm_h: 48, "
        "alarm_on: down, crews: 2, mends: site}\n"
        "calendar: {hand_over: 2030-01-01, opens_h: 8, closes_h: 17, access_days: mon-fri}"
    )
    assert calls.alarm_ms == 48 * MS_PER_H
    assert (calls.repair.scale, calls.response.scale) == (2 * MS_PER_H, 3 * MS_PER_H)
    assert (calls.hears_orphans, calls.crews, calls.mends_site) == (False, 2, True)
    assert calls.hours == OFFICE


def test_days_of_access_are_counted_from_the_weekday_of_hand_over(asked):
    """A week that begins on a Tuesday has its Monday last."""
    calls = asked("calendar: {hand_over: 2030-01-01, access_days: mon}")
    assert calls.days == 1 << 6
    monday = date(2030, 1, 7)
    assert monday.weekday() == 0
    first_ms = after_work_ms(0, 1, *calls.hours)
    assert first_ms == (monday - date(2030, 1, 1)).days * DAY_MS + 1


def test_silence_of_orphans_counts_only_where_silence_is_listened_for(asked):
    assert not asked("upkeep: {crews: 1}").hears_orphans
    assert asked("upkeep: {crews: 1, alarm_h: 1}").hears_orphans
    assert asked("upkeep: {alarm_h: 1}") == replace(
        asked("upkeep: {crews: 1, alarm_h: 1}"), crews=0
    )
