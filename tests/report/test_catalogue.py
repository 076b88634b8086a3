import re

import pytest

from resilience.assumptions.catalogue import settings
from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.report.answers.catalogue import (
    constructions_json,
    constructions_page,
    defaults_json,
    defaults_page,
)


def test_every_setting_is_shown_with_its_source_within_100_columns(shown):
    page = shown(defaults_page(settings()))
    assert max(len(line) for line in page.splitlines()) <= 100
    for setting in settings():
        assert f" {setting.name} " in page
    assert page.count("Source: ") == len(settings())
    cells = re.findall(r"\S+", page)  # folded between words, never cropped
    for setting in settings():
        assert setting.meaning.split()[-1] in cells


def test_an_alternative_key_shows_no_default(shown):
    (alternative,) = [one for one in settings() if one.key == "hazards.hardware.mttf_h"]
    row = shown(defaults_page([alternative])).split("mttf_h", 1)[1].split("\n")[0]
    assert row.split()[:2] == ["none", "h"]


def test_settings_have_stable_keys():
    (radio,) = [one for one in settings() if one.key == "radio.frequency_mhz"]
    (told,) = defaults_json([radio])["settings"]
    assert told["default"] == radio.default
    assert {"key", "meaning", "unit", "low", "high", "source", "confidence"} <= set(told)


def test_every_construction_is_listed_with_what_it_takes(shown):
    told = constructions_json()
    rows = {one["name"]: one for one in told["constructions"]}
    assert set(rows) == set(CONSTRUCTIONS)
    # ITU-R P.2040-3, concrete of 0.20 m, incoherent sum: 14.71 dB head-on.
    assert rows["concrete_200"]["loss_db"][0] == pytest.approx(14.71, abs=0.01)
    assert rows["cold_room_panel"]["loss_db"] == [25.0, 25.0, 25.0]
    page = shown(constructions_page())
    for name in CONSTRUCTIONS:
        assert name in page
