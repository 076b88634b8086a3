"""A history made by hand, told in words."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from resilience.building.settings import Duration
from resilience.building.structure import Building, Change, Door, Obstacle
from resilience.hazards.causes import OBSTACLE, Effect
from resilience.hazards.elements import Element
from resilience.lifetime.mesh import Mesh, Rules
from resilience.lifetime.picking import Pick, Picked
from resilience.lifetime.record import Absence, Call, History, ParentChange, Record, Spell
from resilience.lifetime.tracing import Trace
from resilience.report.told.steps import Step, runs, steps
from resilience.report.told.story import MOST_STEPS, story_page, telling

GOLDEN = Path(__file__).parent.parent / "golden"
H = 3_600_000
DAY = 24 * H


def element(cause: str, id: str, effect: Effect = Effect.DOWN) -> Element:
    return Element(cause, id, effect, (id,))


def record(**values) -> Record:
    usual = {
        "orphan_ms": {"S4": 7 * H, "S7": 6 * H},
        "dark_ms": {},
        "down_ms": {},
        "interrupted_ms": {"S4": 60_000},
        "not_reached_ms": {},
        "cut_off_ms": {},
        "depth_ms": {},
        "count_ms": {},
        "longest_above_ms": (),
        "longest_dark_ms": (),
        "longest_silent_ms": (),
        "reparentings": {"S5": 1},
        "spells": (
            Spell("S4", 2 * DAY, 2 * DAY + 7 * H, 7 * H, False),
            Spell("S7", 2 * DAY, 2 * DAY + 6 * H, 6 * H, False),
        ),
        "blame_ms": {},
        "began": {},
        "site_outage_ms": 2 * H,
        "early_blame_ms": {},
        "struck": {("hardware", "R1"): 1, ("gateway_outage", "G1"): 1},
        "unreached": (),
        "drain_na": {},
        "site_outages": 1,
        "visits": 1,
        "cells": 0,
    }
    return Record(**(usual | values))


@pytest.fixture
def trace(site_of):
    """R1 fails after two days; S4 waits for its repair, S7 finds a way round; then an outage."""
    site = site_of({"a": "G1 R1 S4 S5 S7"})
    history = History(
        {"R1": "G1", "S4": "R1", "S5": "R1", "S7": "R1"},
        (
            Absence(element("link_blockage", "S4~S7", Effect.LOSS), DAY, DAY + H),
            Absence(element("hardware", "R1"), 2 * DAY, 2 * DAY + 7 * H),
            Absence(element("link_blockage", "R1~S5", Effect.LOSS), 3 * DAY, None),
            Absence(element("gateway_outage", "G1"), 4 * DAY, 4 * DAY + 2 * H),
        ),
        (
            ParentChange(2 * DAY, "S4", "R1", None),
            ParentChange(2 * DAY, "S5", "R1", "G1"),
            ParentChange(2 * DAY, "S7", "R1", None),
            ParentChange(2 * DAY + 6 * H, "S7", None, "S5"),
            ParentChange(2 * DAY + 7 * H, "R1", None, "G1"),
            ParentChange(2 * DAY + 7 * H, "S4", None, "R1"),
        ),
        ((4 * DAY, 4 * DAY + 2 * H),),
    )
    rules = Rules(365 * DAY, 0, 1, 1, 1, 0)
    mesh = Mesh((), (), frozenset())
    return Trace(site, site.layouts[0], 7, 3, mesh, rules, record(), history)


def test_a_lifetime_reads_as_agreed(trace, shown):
    """Compare with the page as it was read and approved; figures are those of the case."""
    page = shown(story_page(trace, is_full=False))
    assert page == (GOLDEN / "story.txt").read_text(encoding="utf-8")


def test_each_millisecond_is_one_step(trace):
    times = [step.time_ms for step in steps(trace)]
    assert times == sorted(set(times))
    assert 2 * DAY in times
    (failure,) = [step for step in steps(trace) if step.time_ms == 2 * DAY]
    assert telling(failure, Building(())) == (
        "R1 failed (hardware). S4 and S7 lost their way to a gateway. S5 moved from R1 to G1."
    )


def test_a_sensor_whose_silence_ends_by_its_own_failure_found_no_way(trace):
    failed = Absence(element("hardware", "S4"), 2 * DAY + 7 * H, None)
    history = History({}, (failed,), (), ())
    lived = Trace(trace.site, trace.layout, 7, 3, trace.mesh, trace.rules, trace.record, history)
    (last,) = [step for step in steps(lived) if step.time_ms == 2 * DAY + 7 * H]
    assert last.heard == []


def test_what_nobody_noticed_is_only_counted(trace, shown):
    page = shown(story_page(trace, is_full=True))
    assert "S4 and S7 is" not in page
    assert "3 times something got in or out of a path and no device noticed" in " ".join(
        page.split()
    )


def moving(trace, n: int, device: str = "S5") -> tuple[ParentChange, ...]:
    """So many hourly moves of a device to and fro, from the fifth day on."""
    ends = [("R1", "G1"), ("G1", "R1")]
    return tuple(ParentChange(5 * DAY + k * H, device, *ends[k % 2]) for k in range(n))


def test_moves_in_a_row_are_one_line_with_a_count_and_each_one_if_asked_for(trace, shown):
    history = replace(trace.history, parents=moving(trace, 80), outages_ms=())
    lived = replace(trace, history=history)
    short, full = (" ".join(shown(story_page(lived, one)).split()) for one in (False, True))
    assert "2030-01-06 00:00 Until 2030-01-09 07:00: 1 device changed parent 80 times." in short
    assert "runs of like ones are one line (--full shows all)" in short
    assert "S5 moved" not in short
    assert full.count("S5 moved") == 80


def test_site_outages_in_a_row_are_one_line_with_how_long(trace, shown):
    """Three of two, three and four hours: nine in all."""
    outages = tuple((k * 10 * DAY, k * 10 * DAY + (k + 1) * H) for k in (1, 2, 3))
    absences = tuple(Absence(element("gateway_outage", "G1"), *both) for both in outages)
    history = History({}, absences, (), outages)
    page = " ".join(shown(story_page(replace(trace, history=history), is_full=False)).split())
    assert "no gateway was up 3 times, for 9.0 h in all (4.0 h at most)." in page
    assert "G1 went down (supply, network or computer). 3 9.0 h" in page


def test_what_cuts_a_sensor_off_is_never_part_of_a_run(trace):
    told = [step for step in steps(trace) if not step.changes_nothing]
    alike = [one for run in runs(told, frozenset({"G1"})) if run.is_alike for one in run.steps]
    assert [one.time_ms for one in alike] == [4 * DAY, 4 * DAY + 2 * H]  # the outage alone


def test_a_way_lost_over_and_over_is_one_line(trace, shown):
    """Three times for two hours each, with a move of another device in between."""
    lost = [20 * DAY, 21 * DAY, 22 * DAY]
    changes = [ParentChange(at, "S4", "R1", None) for at in lost]
    changes += [ParentChange(at + 2 * H, "S4", None, "R1") for at in lost]
    changes.append(ParentChange(20 * DAY + 5 * H, "S7", "S5", "R1"))
    changes.sort(key=lambda one: one.time_ms)
    history = History({}, (), tuple(changes), (), tuple((at, "R1~S4") for at in lost))
    spells = tuple(Spell("S4", at, at + 2 * H, 2 * H, is_cut=False) for at in lost)
    lived = replace(trace, history=history, record=record(spells=spells))
    page = " ".join(shown(story_page(lived, is_full=False)).split())
    assert (
        "2030-01-21 00:00 Until 2030-01-23 02:00, 3 times: The path S4 to R1 faded. S4 lost its "
        "way to a gateway, for 6.0 h in all."
    ) in page
    full = shown(story_page(lived, is_full=True))
    assert full.count("S4 found a way again through R1.") == 3


def test_a_long_history_shows_the_most_telling_lines_and_counts_the_rest(trace, shown):
    """S8 fails and is back within the hour, over and over: no two of these are alike."""
    failures = tuple(
        Absence(element("hardware", "S8"), 5 * DAY + 2 * k * H, 5 * DAY + (2 * k + 1) * H)
        for k in range(40)
    )
    history = replace(trace.history, absences=(*trace.history.absences, *failures))
    lived = replace(trace, history=history)
    short, full = (shown(story_page(lived, is_full)) for is_full in (False, True))
    assert f"the {MOST_STEPS} most telling lines are shown" in " ".join(short.split())
    assert "R1 failed (hardware). S4 and S7 lost" in short
    assert short.count("S8 was replaced") < full.count("S8 was replaced") == 40


def test_times_without_a_way_are_told_first_with_what_began_them_and_who_was_away(trace, shown):
    """S4 and S7 are cut off together, for 7 and 6 h; later S4 again, while R2 is away."""
    again = Spell("S4", 9 * DAY, 9 * DAY + 2 * H, 2 * H, is_cut=False)
    away = Absence(element("battery", "R2"), 8 * DAY, 10 * DAY)
    history = replace(
        trace.history,
        absences=(*trace.history.absences, away),
        faded=((9 * DAY, "R1~S4"),),
        parents=(*trace.history.parents, ParentChange(9 * DAY, "S4", "R1", None)),
    )
    silent = record(spells=(*trace.record.spells, again))
    lived = replace(trace, history=history, record=silent)
    lines = shown(story_page(lived, is_full=False)).splitlines()
    first = lines.index("Without a way to a gateway") + 3
    assert " ".join(lines[first].split()) == (
        "2030-01-03 00:00 1 6.0 h to 7.0 h S4 and S7 R1 failed (hardware)."
    )
    assert "The path S4 to R1 faded. Away then: R2." in " ".join(lines[first + 1].split())
    assert lines.index("What happened") > first


def test_devices_that_were_away_stand_with_how_often_and_how_long(trace, shown):
    lines = shown(story_page(trace, is_full=False)).splitlines()
    first = lines.index("Devices that were away") + 3
    assert [" ".join(line.split()) for line in lines[first : first + 2]] == [
        "2030-01-03 00:00 R1 failed (hardware). 1 7.0 h",
        "2030-01-05 00:00 G1 went down (supply, network or computer). 1 2.0 h",
    ]


@pytest.mark.parametrize(
    ("pick", "told"),
    [
        (Pick.TYPICAL, "the middle one by time without a way to a gateway (13.0 h over all"),
        (Pick.BAD, "6 are as bad or worse (13.0 h over all"),
        (Pick.BREACH, "the first that breaks the promise (13.0 h over all"),
        (Pick.FIRST_ORPHAN, "the first in which a sensor has no way to a gateway (13.0 h over all"),
    ],
)
def test_a_picked_lifetime_says_why_it_was_picked_and_how_to_see_it_again(trace, shown, pick, told):
    page = " ".join(shown(story_page(trace, False, Picked(pick, 3, 13.0, 122, 128))).split())
    assert f"Picked as {pick.value} among the first 128 lifetimes: {told}" in page
    assert "--lifetime 3 shows the same." in page


def test_hostile_ids_are_text():
    step = Step(0, struck=[element("hardware", "{x}\x1b[31m")], silenced=["\u202eS1"])
    assert telling(step, Building(())) == (
        "{x}\\x1b[31m failed (hardware). \\u202eS1 lost its way to a gateway."
    )


def test_a_cause_without_a_phrase_of_its_own_is_still_told():
    assert (
        telling(Step(0, struck=[element("flood", "S1")]), Building(())) == "S1 went away (flood)."
    )


def test_dates_count_from_hand_over(trace, shown):
    assert trace.site.hand_over == date(2030, 1, 1)
    assert "2030-01-03 00:00  R1 failed (hardware)." in shown(story_page(trace, is_full=True))


CHANGE = Change(9.0, 50.0, Duration("exponential", mean_h=2.0))
MOVING = Building(
    (),
    doors=(Door("D1", "W1", 0.0, 1.0, 2.0, "wooden_door", CHANGE),),
    obstacles=tuple(
        Obstacle(id, kind, "L1", 0.0, 0.0, 1.0, 1.0, 0.0, 2.0, 0.0, CHANGE)
        for id, kind in (("V1", "vehicle"), ("Q1", "racking"), ("C1", "lift_car"), ("X1", "other"))
    ),
)


@pytest.mark.parametrize(
    ("id", "begins", "ends"),
    [
        ("D1", "Door D1 was shut.", "Door D1 is open again."),
        ("V1", "Vehicle V1 now stands there.", "Vehicle V1 is gone."),
        ("Q1", "Racking Q1 has filled up.", "Racking Q1 has room again."),
        ("C1", "Lift car C1 now stands there.", "Lift car C1 is gone."),
        ("X1", "Obstacle X1 now stands there.", "Obstacle X1 is gone."),
    ],
)
def test_doors_and_obstacles_are_told_by_what_they_are(id, begins, ends):
    moved = element(OBSTACLE.name, id, Effect.LOSS)
    assert telling(Step(0, struck=[moved]), MOVING) == begins
    assert telling(Step(0, ended=[moved]), MOVING) == ends


def test_a_door_that_silences_is_told_with_whom_it_silenced(trace, shown):
    door = Absence(element(OBSTACLE.name, "D1", Effect.LOSS), 2 * DAY, 2 * DAY + 7 * H)
    history = History({}, (door,), (), ())
    site = replace(trace.site, building=MOVING)
    lived = replace(trace, site=site, history=history)
    page = shown(story_page(lived, is_full=True))
    assert "Door D1 was shut. S4 and S7 lost their way to a gateway." in page
    assert "1 change of a door or obstacle" in page


def test_a_path_that_faded_is_told_from_the_device_that_lost_it(trace):
    """S4 is cut off by it, S7 moves; R1 left for a better parent in the same step."""
    moves = (
        ParentChange(DAY, "R1", "G1", "S5"),
        ParentChange(DAY, "S4", "R1", None),
        ParentChange(DAY, "S7", "R1", "S5"),
    )
    history = History({}, (), moves, (), ((DAY, "R1~S4"), (DAY, "R1~S7")))
    silent = record(spells=(Spell("S4", DAY, 2 * DAY, DAY, is_cut=False),))
    told = steps(replace(trace, history=history, record=silent))[0]
    assert telling(told, Building(())) == (
        "The path S4 to R1 faded. The path S7 to R1 faded. S4 lost its way to a gateway. "
        "R1 moved from G1 to S5. S7 moved from R1 to S5."
    )
    assert telling(replace(told, faded=told.faded[:1]), Building(())).startswith(
        "The path S4 to R1 faded. S4 lost"
    )


def test_calls_and_crews_are_told_where_they_came_to_pass(trace, shown):
    calls = (
        Call("S4", 2 * DAY, 4 * DAY, 5 * DAY, 6 * DAY),
        Call("S5", 2 * DAY, 4 * DAY, None, 6 * DAY),
        Call("S7", 2 * DAY, 4 * DAY, None, 5 * DAY, seen_to_by="S4"),
        Call("R1", 7 * DAY, 7 * DAY, 7 * DAY, 8 * DAY, (("battery", "S7"), ("hardware", "R1"))),
    )
    lived = replace(trace, history=replace(trace.history, calls=calls))
    page = " ".join(shown(story_page(lived, is_full=True)).split())
    assert "Calls are opened for S4, S5 and S7, 2.0 days after they fell silent." in page
    assert "A crew sets out for S4, who waited 24.0 h for it. The crew at S4 sees to S7" in page
    assert "The crew for S4 found nothing to mend; that took 24.0 h. S5 is heard again" in page
    assert "A call is opened for R1. A crew sets out for R1." in page
    assert "The crew for R1 and S7 is done after 24.0 h." in page
