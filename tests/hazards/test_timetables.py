"""What the calendar decides: rows of what stands or comes in some hours, and their lifetimes."""

import bisect
from dataclasses import fields, replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from resilience.building.settings import Blockage, BusyHours, Duration, Hazards, Obstacles, ZoneLoss
from resilience.building.structure import Change, Obstacle
from resilience.building.timetable import Timetable
from resilience.connectivity.links import link_table
from resilience.hazards.laws import NEVER_OPEN_MS, Windows
from resilience.hazards.table import hazard_table
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.playing import Stage

H = 3_600_000  # ms
NONE = dict.fromkeys(field.name for field in fields(Hazards))
OFFICE = Timetable("08:00-17:00", "mon-fri")
SUMMER = Timetable(months="jun-aug")
START = datetime(2030, 1, 1)  # a Tuesday, as the sites of these tests are handed over
TWO_H = Duration("exponential", mean_h=2.0)


def stands(when, adds_db):
    lasts = Duration("fixed", mean_h=when.mean_h)
    return Change(adds_db, when.per_year, lasts, when, is_fixed=True)


@pytest.fixture(scope="module")
def yard(small_site):
    """A gateway and two sensors in a row, lorries between: V1 before s1, V2 and V3 before s2."""

    def built(hazards=None, horizon_years=1.0, **changes):
        usual = {id: stands(OFFICE, 60.0) for id in ("V1", "V2", "V3")}
        places = {"V1": 3.0, "V2": 10.0, "V3": 12.0}
        lorries = tuple(
            Obstacle(id, "vehicle", "L1", places[id], 0.0, 1.0, 8.0, 0.0, 2.8, 0.0, change)
            for id, change in (usual | changes).items()
            if change is not None
        )
        building = replace(small_site.open_plan, obstacles=lorries)
        devices = [small_site.device(id, x, 0.0) for id, x in (("g1", 0.0), ("s1", 6.0))]
        layout = small_site.layout("a", *devices, small_site.device("s2", 14.0, 0.0))
        return small_site(
            layout,
            building=building,
            horizon_years=horizon_years,
            radio={"swing_db": 0.0},
            hazards=NONE | {"obstacles": Obstacles(0.5)} | (hazards or {}),
        )

    return built


def rows(site):
    table = hazard_table(site, link_table(site, site.layouts[0]))
    return {row.name: row for row in table.elements}


def test_what_stands_on_one_timetable_is_one_element_that_knows_every_link(yard):
    """From g1 to s2 all three stand in the way, from s1 to s2 two, from g1 to s1 one."""
    (row,) = rows(yard()).values()
    assert row.name == ("timetable", "08:00-17:00, mon-fri")
    assert row.loads == {"g1~s1": 6000, "g1~s2": 18000, "s1~s2": 12000}


def test_what_has_a_timetable_to_itself_is_told_by_its_name(yard):
    found = rows(yard(V1=stands(SUMMER, 20.0)))
    assert found.keys() == {("obstacle", "V1"), ("timetable", "08:00-17:00, mon-fri")}
    assert found["obstacle", "V1"].loads == {"g1~s1": 2000, "g1~s2": 2000}
    only = rows(yard(V2=None, V3=None))
    assert only.keys() == {("obstacle", "V1")}


def test_an_element_is_named_by_the_building_and_not_by_the_layout(yard):
    """Without sensor s2 nothing passes V2 and V3, and yet the timetable is that of three."""
    site = yard()
    layout = site.layouts[0]
    fewer = replace(layout, devices=tuple(one for one in layout.devices if one.id != "s2"))
    found = rows(replace(site, layouts=(fewer,)))
    assert found.keys() == {("timetable", "08:00-17:00, mon-fri")}


@pytest.mark.parametrize("engine", [REFERENCE, COMPILED])
def test_its_state_is_the_calendars_to_the_millisecond(yard, engine):
    """Ten weeks: away from 8:00 to 17:00 on Mondays to Fridays, as ``datetime`` counts them."""
    site = yard(V2=None, V3=None, horizon_years=10 * 7 * 24 / 8766)
    history = Stage(site, site.layouts[0], 3, False, engine).play(0).history
    found = [
        (START + timedelta(milliseconds=one.start_ms), START + timedelta(milliseconds=one.end_ms))
        for one in history.absences
    ]
    days = [START + timedelta(days=n) for n in range(70)]
    meant = [day for day in days if day.weekday() < 5]
    assert found == [(day.replace(hour=8), day.replace(hour=17)) for day in meant]


@pytest.mark.parametrize("engine", [REFERENCE, COMPILED])
def test_a_sensor_behind_it_is_cut_off_in_just_these_hours(yard, engine):
    """Two lorries take 120 dB: s2 has no way. Blame is the timetable's alone, 45 h a week."""
    n_weeks = 10
    site = yard(V1=None, horizon_years=n_weeks * 7 * 24 / 8766)
    record = Stage(site, site.layouts[0], 3, False, engine).play(0).record
    assert record.orphan_ms == {"s1": 0, "s2": n_weeks * 45 * H}
    assert record.blame_ms == {("timetable", "08:00-17:00, mon-fri"): n_weeks * 45 * H}


def test_busy_hours_take_a_little_from_every_link(yard):
    (row,) = rows(yard({"obstacles": None, "busy_hours": BusyHours(1.5, OFFICE)})).values()
    assert (row.name, row.amount) == (("busy_hours", "site"), 150)
    assert set(row.targets) == {"g1~s1", "g1~s2", "s1~s2"}


def test_what_comes_in_few_hours_comes_as_often_a_year_and_in_these_hours_alone(yard):
    """Poisson: 40 lifetimes of a year with 100 short visits; the mean within four errors."""
    comes = Change(20.0, 100.0, Duration("fixed", mean_h=0.001), OFFICE)
    site = yard(V1=comes, V2=None, V3=None)
    stage, counts = Stage(site, site.layouts[0], 3, False, REFERENCE), []
    for n in range(40):
        absences = stage.play(n).history.absences
        starts = [START + timedelta(milliseconds=one.start_ms) for one in absences]
        assert all(8 <= start.hour < 17 and start.weekday() < 5 for start in starts)
        counts.append(len(starts))
    assert abs(np.mean(counts) - 100) < 4 * np.std(counts, ddof=1) / np.sqrt(40)


@pytest.mark.parametrize(
    ("name", "hazard"),
    [
        ("zone_heat", ZoneLoss(50.0, 20.0, TWO_H, SUMMER)),
        ("zone_interference", ZoneLoss(50.0, 20.0, TWO_H, SUMMER)),
        ("link_blockage", Blockage(50.0, 0.5, 20.0, 20.0, TWO_H, SUMMER)),
    ],
)
def test_hazards_of_links_keep_to_their_months(yard, name, hazard):
    site = yard({name: hazard, "obstacles": None})
    absences = Stage(site, site.layouts[0], 3, False, REFERENCE).play(0).history.absences
    months = {(START + timedelta(milliseconds=one.start_ms)).month for one in absences}
    assert months == {6, 7, 8}
    assert len(absences) > 30


@st.composite
def _spans(draw):
    edges = sorted(draw(st.sets(st.integers(0, 300), min_size=2, max_size=12)))
    return list(zip(edges[::2], edges[1::2], strict=False))


@given(_spans(), st.integers(0, 320), st.integers(1, 200))
def test_time_at_risk_passes_in_windows_alone(spans, time_ms, at_risk_ms):
    """Counted millisecond by millisecond: those at risk from that moment on, one after another."""
    at_risk = [ms for start, end in spans for ms in range(start, end)]
    place = bisect.bisect_left(at_risk, time_ms) + at_risk_ms
    expected = at_risk[place] if place < len(at_risk) else NEVER_OPEN_MS
    assert Windows.of(spans).after_ms(time_ms, at_risk_ms) == expected
