"""No construction is in an impossible state, and every kind that moves has its settings."""

import math

import pytest

from resilience.assumptions import catalogue
from resilience.assumptions.catalogue import default, section, settings
from resilience.assumptions.changes import DOORS, HABITS, OBSTACLES
from resilience.assumptions.constructions import CONSTRUCTIONS, MATERIALS, Construction
from resilience.assumptions.devices import BATTERY_PROFILES


@pytest.mark.parametrize(
    ("stated", "told"),
    [
        ({}, "a construction has either layers or loss_db"),
        (
            {"layers": (("air", 1.0),), "loss_db": 0.0},
            "a construction has either layers or loss_db",
        ),
        ({"loss_db": -0.1}, "loss_db is -0.1, not at least 0"),
        ({"loss_db": math.nan}, "loss_db is nan, not at least 0"),
        ({"loss_db": 1.0, "spread_db": -1.0}, "spread_db is -1, not at least 0"),
        ({"loss_db": 1.0, "spread_db": math.nan}, "spread_db is nan, not at least 0"),
        ({"layers": (("lead", 0.1),)}, "'lead' is not a known material"),
        ({"layers": (("brick", 0.1), ("air", 0.0))}, "a layer of 0 m is not between 0 and 5 m"),
        ({"layers": (("brick", 5.01),)}, "a layer of 5.01 m is not between 0 and 5 m"),
        ({"layers": (("brick", math.nan),)}, "a layer of nan m is not between 0 and 5 m"),
    ],
)
def test_an_impossible_construction_is_refused(stated, told):
    with pytest.raises(ValueError, match=told):
        Construction(**stated)


@pytest.mark.parametrize(
    "stated", [{"loss_db": 0.0, "spread_db": 0.0}, {"layers": (("air", 5.0),)}]
)
def test_a_construction_at_its_limits_is_possible(stated):
    assert Construction(**stated).spread_db >= 0


@pytest.mark.parametrize(
    ("layers", "is_glazing"),
    [
        ((("glass", 0.004),), True),
        ((("glass", 0.004), ("air", 0.016), ("glass", 0.004)), True),
        ((("glass", 0.03),), True),
        ((("glass", 0.0301),), False),  # no sealed pane is as thick
        ((("glass", 0.004), ("air", 0.0301)), False),
        ((("air", 0.016),), False),
        ((("glass", 0.004), ("wood", 0.01)), False),
    ],
)
def test_glazing_is_panes_and_gaps_of_at_most_three_centimetres(layers, is_glazing):
    assert Construction(layers).is_glazing is is_glazing


def test_what_loses_by_one_number_is_no_glazing():
    assert not Construction(loss_db=3.0).is_glazing


def test_materials_hold_at_the_frequency_at_which_links_are_predicted():
    frequency_ghz = float(default("radio.frequency_mhz")) / 1000
    for name, material in MATERIALS.items():
        assert material.low_ghz <= frequency_ghz <= material.high_ghz, name
        assert material.a >= 1, name  # nothing is less dense than a vacuum
        assert material.c >= 0, name


def test_every_leaf_that_can_be_drawn_shut_is_a_construction():
    assert set(DOORS) <= set(CONSTRUCTIONS)
    assert {"open", "unknown_wall", "unknown_slab", "unknown_glass"} <= set(CONSTRUCTIONS)


@pytest.mark.parametrize("kind", sorted(HABITS))
def test_every_kind_that_moves_has_all_settings_of_its_habit(kind):
    habit, found = HABITS[kind], {one.name: one for one in section(f"changes.{kind}")}
    durations = {"distribution", "median_h", "p90_h", "mean_h"}
    assert set(found) == {"adds_db", "per_year", *durations, "hours", "weekdays", "months"}
    for name in ("adds_db", "per_year", "median_h"):
        one = found[name]
        assert (one.default, one.low, one.high) == getattr(habit, name)
    assert found["p90_h"].default == habit.p90_h > found["median_h"].default


def test_a_shutter_is_the_same_as_a_door_and_as_an_obstacle():
    assert DOORS["shutter"] is OBSTACLES["shutter"]
    assert "other" in OBSTACLES  # what an obstacle of no known kind is taken for


def test_every_battery_profile_lies_within_the_limits_of_its_settings():
    limits = {one.name: one for one in section("batteries.*")}
    for name, profile in BATTERY_PROFILES.items():
        _, *range_mah = profile.capacity_mah
        for value in profile.capacity_mah:
            assert limits["capacity_mah"].least <= value <= limits["capacity_mah"].most, name
        assert range_mah[0] <= profile.capacity_mah[0] <= range_mah[1], name
        assert limits["usable_share"].least <= profile.usable_share <= 1, name


def test_a_setting_that_is_listed_twice_is_refused(monkeypatch):
    monkeypatch.setattr(catalogue, "_VALUE_MODULES", ("radio", "routing", "radio"))
    with pytest.raises(ValueError, match=r"a setting is listed twice: .*'radio\.swing_db'"):
        settings.__wrapped__()


def test_a_key_is_known_by_its_section_and_its_name():
    (one,) = [one for one in settings() if one.key == "hazards.hardware.shape"]
    assert (one.section, one.name) == ("hazards.hardware", "shape")
    assert [one.section for one in section("")] == [""] * len(section(""))
    assert default("hazards.hardware.shape") == one.default
