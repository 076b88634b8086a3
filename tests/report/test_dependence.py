"""On what a layout hangs, and which cells go first: hand-made studies with figures in the head."""

from collections import Counter
from dataclasses import replace

import pytest

from resilience.building.settings import Duration
from resilience.building.structure import Building, Change, Door, Obstacle
from resilience.hazards.causes import CAUSES
from resilience.lifetime.record import LAYOUT, RADIO_DRAW
from resilience.lifetime.tally import DrainSums
from resilience.report.comparing.dependence import Telling, dependences, first_cells, told_of
from resilience.report.words import times_a_year

NOWHERE = Building(())
CHANGE = Change(20.0, 52.0, Duration("fixed", mean_h=12.0))
DOORED = Building(
    (),
    doors=(Door("D1", "W1", 0.0, 1.0, 2.0, "steel_door", CHANGE),),
    obstacles=(Obstacle("V1", "racking", "L1", *[1.0] * 4, 0.0, 2.0, 0.0, CHANGE),),
)


@pytest.fixture
def study(site_of, study_of):
    site = site_of({"a": "G1 R1 S1"})
    return study_of(site.layout("a"), [10.0] * 4, {("layout", ""): 40.0})


def struck(study, **counts):
    """The same study with devices that failed so often in its four years."""
    holders = {("hardware", id): n for id, n in counts.items()}
    return replace(study, tally=replace(study.tally, struck=Counter(holders)))


def test_a_layout_that_lost_nothing_hangs_on_nothing(study):
    assert dependences(study, {}, NOWHERE) == ()


def test_hours_of_one_device_are_added_up_over_its_causes_and_shares_to_one(study):
    blame = {("hardware", "R1"): 2.0, ("battery", "R1"): 4.0, ("link_blockage", "G1~S1"): 2.0}
    first, second = dependences(study, blame, NOWHERE)
    assert (first.name, first.hours, first.share) == ("R1", 6.0, 0.75)
    assert first.happens == "cells flat, fails"  # the heavier first
    assert (second.name, second.share) == ("path G1 to S1", 0.25)


def test_equal_hours_stand_in_order_of_name(study):
    blame = {("hardware", id): 1.0 for id in ("R2", "R10", "R1")}
    assert [one.name for one in dependences(study, blame, NOWHERE)] == ["R1", "R10", "R2"]


@pytest.mark.parametrize(
    ("n_in_four_years", "told"),
    [(0, "never"), (1, "0.2 times a year"), (4, "once a year"), (8, "2 times a year")],
)
def test_how_often_is_told_as_a_person_would(study, n_in_four_years, told):
    (one,) = dependences(struck(study, R1=n_in_four_years), {("hardware", "R1"): 1.0}, NOWHERE)
    assert one.happens == f"fails {told}"


def test_nearly_once_is_once_but_a_hundred_times_are_not():
    assert times_a_year(0.98) == "once a year"  # two digits would be too many
    assert times_a_year(1.06) == "1.1 times a year"
    assert times_a_year(100) == "100 times a year"


def test_what_nobody_takes_away_says_nothing_of_how_often(study):
    found = dependences(study, {LAYOUT: 3.0, RADIO_DRAW: 1.0}, NOWHERE)
    assert [(one.name, one.happens) for one in found] == [
        ("no way as drawn", ""),
        ("paths weaker than predicted", ""),
    ]


@pytest.mark.parametrize("holder", [LAYOUT, RADIO_DRAW])
def test_what_nobody_takes_away_is_told_alike_in_every_sentence(holder):
    thing = told_of(holder, Telling.THING, NOWHERE)
    assert told_of(holder, Telling.REASON, NOWHERE) == thing
    assert told_of(holder, Telling.OCCASION, NOWHERE) == f"for {thing}"


@pytest.mark.parametrize("cause", CAUSES.values(), ids=lambda cause: cause.name)
@pytest.mark.parametrize("telling", Telling)
def test_every_sentence_of_every_cause_is_filled_in(cause, telling):
    id = "G1~S1" if "path" in cause.reason or "ends" in cause.struck else "D1"
    told = told_of((cause.name, id), telling, DOORED)
    assert told
    assert not {"{", "}", "_"} & set(told)


def test_doors_and_racks_are_told_by_what_they_do():
    assert told_of(("obstacle", "D1"), Telling.OCCASION, DOORED) == "while door D1 is shut"
    assert told_of(("obstacle", "V1"), Telling.OCCASION, DOORED) == "while racking V1 is full"


def drained(study, **drains_na):
    sums = {id: DrainSums(2, 2 * na, na, na) for id, na in drains_na.items()}
    capacities = dict.fromkeys(drains_na, 2400.0)
    return replace(study, tally=replace(study.tally, drains=sums), usable_mah=capacities)


def test_without_cells_none_goes_first(study, site_of):
    assert first_cells(study, site_of({"a": "G1 R1 S1"}).layout("a"), 3) == ()


def test_repeaters_alone_on_cells_are_no_hubs_among_sensors(study, site_of):
    layout = site_of({"a": "G1 R1 S1"}).layout("a")
    (one,) = first_cells(drained(study, R1=100_000), layout, 3)
    assert (one.device, one.is_hub) == ("R1", False)


def test_a_sensor_is_a_hub_below_seven_tenths_of_the_usual_months(study, site_of):
    """2,400 mAh at 50 uA last 66 months; 80 uA 41 (0.63 of it), 70 uA 47 (0.71)."""
    layout = site_of({"a": "G1 S1 S2 S3 S4 S5"}).layout("a")
    usual = {"S1": 50_000, "S2": 50_000, "S3": 50_000}
    found = first_cells(drained(study, **usual, S4=80_000, S5=70_000), layout, 2)
    assert [(one.device, one.is_hub) for one in found] == [("S4", True), ("S5", False)]
    assert found[0].life.mean_months == pytest.approx(2400 / 0.080 / (8766 / 12))


def test_a_device_that_draws_nothing_lasts_for_ever_and_stands_last(study, site_of):
    layout = site_of({"a": "G1 S1 S2"}).layout("a")
    found = first_cells(drained(study, S1=0, S2=50_000), layout, 5)
    assert [one.device for one in found] == ["S2", "S1"]
