"""The catalogue against the dataclasses that it fills, and against itself."""

from dataclasses import fields
from typing import get_args, get_type_hints

import pytest

from resilience.assumptions import catalogue
from resilience.assumptions.catalogue import HIGH, LOW, MEDIUM, section, settings
from resilience.assumptions.changes import HABITS
from resilience.assumptions.devices import BATTERY_PROFILES, CHEMISTRIES
from resilience.building.models import BatteryProfile, Chemistry, DeviceModel, Mountings
from resilience.building.settings import Circuit, Duration, Hazards, Heights, Radio, Routing
from resilience.building.stated.upkeep import DURATIONS, OPTIONAL
from resilience.building.structure import Change
from resilience.building.timetable import TIMES, Timetable
from resilience.building.upkeep import Prices, Upkeep

DURATION_KEYS = {"distribution", "median_h", "p90_h", "mean_h"}
HAZARD_KINDS = {name: get_args(hint)[0] for name, hint in get_type_hints(Hazards).items()}
SECTIONS = {
    "radio": Radio,
    "building": Heights,
    "routing": Routing,
    "models.*": DeviceModel,
    "mountings": Mountings,
    "batteries.*": BatteryProfile,
    **{f"chemistries.{name}": Chemistry for name in CHEMISTRIES},
    "circuits.*": Circuit,
    **{f"hazards.{name}": kind for name, kind in HAZARD_KINDS.items()},
    **{f"changes.{kind}": Change for kind in HABITS},
    **{f"upkeep.{name}": kind for name, kind in OPTIONAL.items()},
    "prices": Prices,
}


def keys_of(kind):
    """Return the keys that fill a dataclass: four for a duration, a rate or a mean for a life."""
    keys = set()
    for name, hint in get_type_hints(kind).items():
        if name == "is_fixed":  # follows from what else is stated
            continue
        if hint in (Duration, Duration | None):
            keys |= DURATION_KEYS
        elif hint is Timetable:
            keys |= set(TIMES)
        else:
            keys |= {"mttf_h", "per_year"} if name == "mttf_h" else {name}
    return keys


@pytest.mark.parametrize(("path", "kind"), SECTIONS.items())
def test_every_setting_has_a_field_and_every_field_a_setting(path, kind):
    assert {setting.name for setting in section(path)} == keys_of(kind)


def test_every_field_of_upkeep_is_a_duration_or_a_setting_of_the_catalogue():
    for name in DURATIONS:
        names = {setting.name for setting in section(f"upkeep.{name}")}
        assert names - {"crews"} == DURATION_KEYS
    others = {entry.name for entry in fields(Upkeep)} - {*DURATIONS, *OPTIONAL}
    assert {setting.name for setting in section("upkeep")} == others


def test_no_section_of_the_catalogue_is_read_by_nobody():
    read = {*SECTIONS, "upkeep", *(f"upkeep.{name}" for name in DURATIONS)}
    read |= {"", "calendar", "changes", "temperatures.*"}  # read where they are used
    read |= {f"batteries.{name}" for name in BATTERY_PROFILES}
    assert {setting.section for setting in settings()} == read


@pytest.mark.parametrize("setting", settings(), ids=lambda setting: setting.key)
def test_a_setting_says_what_it_means_and_who_says_so(setting):
    assert setting.meaning.endswith(".")
    assert setting.unit
    assert setting.law
    assert len(setting.source.split()) >= 1
    assert setting.confidence in (HIGH, MEDIUM, LOW)


@pytest.mark.parametrize("setting", settings(), ids=lambda setting: setting.key)
def test_a_default_lies_within_its_range_and_the_range_within_its_limits(setting):
    if setting.choices:
        assert setting.default in setting.choices
    if setting.low is not None:
        assert setting.default is None or setting.low <= setting.default <= setting.high
        assert setting.least is None or setting.least <= setting.low
        assert setting.most is None or setting.high <= setting.most
    if isinstance(setting.default, float | int) and not isinstance(setting.default, bool):
        assert setting.least is None or setting.least <= setting.default
        assert not (setting.above and setting.default == setting.least)
        assert setting.most is None or setting.default <= setting.most


def test_an_alternative_names_a_setting_of_its_own_section():
    for setting in settings():
        if setting.instead_of:
            assert setting.default is None
            assert setting.instead_of in {other.name for other in section(setting.section)}


def test_the_battery_that_models_name_by_default_is_a_profile():
    assert catalogue.default("models.*.battery") in BATTERY_PROFILES


def test_an_unknown_key_has_no_default():
    with pytest.raises(KeyError):
        catalogue.default("radio.colour")
