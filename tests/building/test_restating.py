"""A setting changed in memory is what a folder that states it would have been read as."""

import re
from dataclasses import replace

import pytest

from resilience.assumptions.catalogue import settings
from resilience.building.settings import Duration, Hardware
from resilience.building.stated.restating import RESTATED
from resilience.errors import UsageError

PLAIN = """\
format: 1
name: Invented annexe
building:
  levels: [{id: ground}, {id: upper}]
  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]
"""


def sections(site):
    return {name: getattr(site, name) for name in RESTATED}


@pytest.fixture
def site(folder):
    return folder.write(site_yaml=PLAIN).read()


CHANGED = [
    ("horizon_years", 12.0, "horizon_years: 12"),
    ("radio.swing_db", 0.0, "radio: {swing_db: 0}"),
    ("radio.environment", "quiet", "radio: {environment: quiet}"),
    ("routing.hysteresis", 64, "routing: {hysteresis: 64}"),
    ("hazards.link_blockage", False, "hazards: {link_blockage: off}"),
    ("hazards.link_blockage.per_year", 0.0, "hazards: {link_blockage: {per_year: 0}}"),
    ("hazards.link_blockage.per_year", 3.5, "hazards: {link_blockage: {per_year: 3.5}}"),
    ("hazards.hardware.mttf_h", 1e-2, "hazards: {hardware: {mttf_h: 0.01}}"),
    ("hazards.hardware.per_year", 0.5, "hazards: {hardware: {per_year: 0.5}}"),
    ("hazards.gateway_outage.mean_h", 3.0, "hazards: {gateway_outage: {mean_h: 3}}"),
    ("hazards.gateway_outage.p90_h", 60.0, "hazards: {gateway_outage: {median_h: 1.5, p90_h: 60}}"),
    ("upkeep.repair", False, "upkeep: {repair: off}"),
    ("upkeep.repair.mean_h", 30.0, "upkeep: {repair: {mean_h: 30}}"),
]


@pytest.mark.parametrize(("key", "value", "stated"), CHANGED)
def test_a_changed_site_is_the_one_that_its_folder_would_have_stated(
    site, folder, key, value, stated
):
    expected = folder.write(site_yaml=f"{PLAIN}{stated}\n").read()
    assert sections(site.with_setting(key, value)) == sections(expected)
    assert sections(site) != sections(expected)


def test_nothing_but_the_one_setting_changes(site):
    changed = site.with_setting("radio.swing_db", 1.5)
    assert changed == replace(site, radio=replace(site.radio, swing_db=1.5))
    twice = changed.with_setting("hazards.battery", False).with_setting("hazards.battery", True)
    assert twice == changed


def test_a_hazard_that_is_off_comes_back_with_what_is_said_of_it_and_defaults(site):
    off = site.with_setting("hazards.hardware", False)
    assert off.hazards.hardware is None
    on = off.with_setting("hazards.hardware.shape", 2.0)
    assert on.hazards.hardware == replace(site.hazards.hardware, shape=2.0)


def test_a_duration_stays_of_one_law(site):
    fixed = site.with_setting("upkeep.repair.mean_h", 30.0)
    fixed = fixed.with_setting("upkeep.repair.distribution", "fixed")
    assert fixed.upkeep.repair == Duration("fixed", mean_h=30.0)
    back = fixed.with_setting("upkeep.repair.median_h", site.upkeep.repair.median_h)
    assert back.upkeep.repair == site.upkeep.repair


def test_beside_the_longest_median_every_other_key_can_still_be_changed(folder):
    """Nine of ten are four medians by default, and no duration is stated beyond a million hours."""
    text = "hazards: {gateway_outage: {median_h: 500000}}\n"
    site = folder.write(site_yaml=PLAIN + text).read()
    assert site.hazards.gateway_outage.lasts == Duration("lognormal", 500_000.0, 1_000_000.0)
    changed = site.with_setting("hazards.gateway_outage.per_year", 2.0).hazards.gateway_outage
    assert (changed.per_year, changed.lasts) == (2.0, site.hazards.gateway_outage.lasts)


def test_a_rate_takes_the_place_of_a_stated_mean_life(site):
    """8766 h are a year."""
    stated = site.with_setting("hazards.hardware.mttf_h", 100.0)
    rated = stated.with_setting("hazards.hardware.per_year", 2.0)
    assert rated.hazards.hardware == Hardware(4383.0, site.hazards.hardware.shape)


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("radio.swing_db", -1.0, 'radio.swing_db: found "-1.0"; expected'),
        ("radio.swing_db", float("nan"), 'found "nan"; expected'),
        ("radio.swing_db", "4", "without quotes"),
        ("radio.swing_db", True, 'found "on"; expected'),
        ("radio.environment", "crowded", "expected quiet or busy"),
        ("radio.predict", 2, "expected on or off"),
        ("routing.hysteresis", 0.5, "expected a whole number"),
        ("horizon_years", 0.0, "horizon_years"),
        ("hazards.hardware", "often", "expected on or off"),
        ("upkeep.repair", True, "upkeep.repair"),
        ("upkeep.repair.median_h", 1e5, "expected at least median_h"),
        ("upkeep.repair.distribution", "fixed", "expected mean_h with it"),
    ],
)
def test_a_value_is_refused_in_the_words_of_the_reader(site, key, value, told):
    with pytest.raises(UsageError, match=re.escape(told)):
        site.with_setting(key, value)


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("radio.swing", "did you mean radio.swing_db?"),
        ("swing_db", "did you mean"),
        ("hazards.floods", "did you mean hazards."),
        ("hazards", "did you mean hazards."),
        ("models.*.leaf_ua", "known are"),  # built into devices while a folder is read
        ("name", "known are"),
        ("", "known are"),
    ],
)
def test_an_unknown_key_is_refused_with_a_way_out(site, key, told):
    with pytest.raises(UsageError, match=re.escape(told)):
        site.with_setting(key, 1.0)


def test_prediction_is_not_switched_on_where_a_device_has_no_place(linked_folder):
    site = linked_folder.read()
    with pytest.raises(UsageError, match="a place of every device, of G1 too"):
        site.with_setting("radio.predict", True)
    assert site.with_setting("radio.predict", False) == site


def test_every_setting_of_the_catalogue_that_has_a_default_can_be_set_to_it(site):
    for setting in settings():
        if setting.key.partition(".")[0] in RESTATED and setting.default is not None:
            changed = site.with_setting(setting.key, setting.default)
            assert changed.with_setting(setting.key, setting.default) == changed
