import re

from resilience.assumptions.catalogue import settings
from resilience.errors import Fault
from resilience.report.catalogue import defaults_json, defaults_page, faults_json


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


def test_settings_and_faults_have_stable_keys():
    (radio,) = [one for one in settings() if one.key == "radio.frequency_mhz"]
    (told,) = defaults_json([radio])["settings"]
    assert told["default"] == radio.default
    assert {"key", "meaning", "unit", "low", "high", "source", "confidence"} <= set(told)
    fault = Fault("site.yaml, line 1", "nothing", "expected text")
    assert faults_json([fault])["faults"] == [
        {"where": "site.yaml, line 1", "found": "nothing", "wanted": "expected text"}
    ]
