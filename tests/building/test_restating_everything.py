"""Any setting changed in memory equals the folder that states it, for every key and any value."""

import json
import math
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resilience.assumptions.catalogue import default
from resilience.assumptions.catalogue import settings as catalogue
from resilience.assumptions.hazards import ON_REQUEST
from resilience.building.stated.restating import RESTATED
from resilience.errors import UsageError

PLAIN = {"format": 1, "building": {"levels": [{"id": "ground"}, {"id": "upper"}]}}
KEYS = [one for one in catalogue() if one.key.partition(".")[0] in RESTATED]
GATE = settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def whole(key, value):
    """Return a document that states one key by its dotted path."""
    stated = value
    for name in reversed(key.split(".")):
        stated = {name: stated}
    return PLAIN | stated


TIMES = {
    "hours": ("every", "08:00-17:00", "22:00-06:00"),
    "weekdays": ("every", "mon-fri", "sat sun"),
    "months": ("every", "jun-aug", "jan dec"),
}


def values_of(setting):
    """Return a strategy of all values that one setting may have by itself."""
    if isinstance(setting.default, bool):
        return st.booleans()
    if isinstance(setting.default, str):
        return st.sampled_from(setting.choices or TIMES[setting.name])
    if isinstance(setting.default, int):
        return st.integers(int(setting.least), int(setting.most))
    return st.floats(setting.least, setting.most, exclude_min=setting.above)


def held(site):
    return {name: getattr(site, name) for name in RESTATED}


ALONE = [one for one in KEYS if one.name not in {"median_h", "p90_h", "distribution"}]
MEDIANS = [one for one in KEYS if one.name == "median_h"]


@pytest.mark.parametrize("setting", ALONE, ids=lambda one: one.key)
@GATE
@given(data=st.data())
def test_a_setting_changed_in_memory_is_the_one_that_the_folder_would_state(folder, setting, data):
    value = data.draw(values_of(setting))
    site = folder.write(site_yaml=json.dumps(PLAIN)).read()
    stated = whole(setting.key, value)
    if value == "hops":  # in a file it brings a hysteresis of 0 with it, in memory nothing moves
        stated["routing"]["hysteresis"] = default("routing.hysteresis")
    expected = folder.write(site_yaml=json.dumps(stated)).read()
    assert held(site.with_setting(setting.key, value)) == held(expected)


@pytest.mark.parametrize("setting", MEDIANS, ids=lambda one: one.key)
@GATE
@given(share=st.floats(1e-6, 1))
def test_a_median_changed_in_memory_leaves_the_ninety_percent_point_where_it_is(
    folder, setting, share
):
    p90_h = default(f"{setting.section}.p90_h")
    site = folder.write(site_yaml=json.dumps(PLAIN)).read()
    stated = whole(setting.section, {"median_h": share * p90_h, "p90_h": p90_h})
    expected = folder.write(site_yaml=json.dumps(stated)).read()
    assert held(site.with_setting(setting.key, share * p90_h)) == held(expected)
    with pytest.raises(
        UsageError, match=f"p90_h: found .* expected at least median_h, {2 * p90_h:g}"
    ):
        site.with_setting(setting.key, 2 * p90_h)


@pytest.mark.parametrize("setting", KEYS, ids=lambda one: one.key)
def test_a_value_beyond_its_limits_is_refused_in_memory_as_in_a_folder(folder, setting):
    values = [math.nan, math.inf, "x", [1]]
    if isinstance(setting.default, bool):
        values = [0.5, "maybe"]
    elif setting.most is not None:
        values += [setting.most + 1, setting.least - 1]
    site = folder.read()
    for value in values:
        with pytest.raises(UsageError, match=rf"{re.escape(setting.key)}: found .*; expected"):
            site.with_setting(setting.key, value)


HAZARDS = sorted({one.section for one in KEYS if one.section.startswith("hazards.")})


@pytest.mark.parametrize("key", HAZARDS)
def test_a_hazard_switched_off_and_on_again_is_the_documented_one(folder, key):
    site = folder.read()
    off = site.with_setting(key, False)
    assert getattr(off.hazards, key.partition(".")[2]) is None
    stated = folder.write(site_yaml=json.dumps(whole(key, "off"))).read()
    assert off.hazards == stated.hazards
    on = off.with_setting(key, True)
    assert on.hazards == site.with_setting(key, True).hazards
    assert on.hazards == folder.write(site_yaml=json.dumps(whole(key, "on"))).read().hazards
    is_played = key.partition(".")[2] not in ON_REQUEST
    assert (on.hazards == site.hazards) is is_played
