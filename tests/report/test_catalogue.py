import re

import pytest

from resilience.assumptions.catalogue import settings
from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.files.folder import read_site
from resilience.errors import Fault
from resilience.report.answers.catalogue import (
    constructions_json,
    constructions_page,
    defaults_json,
    defaults_page,
)
from resilience.report.answers.checking import check_json, check_page, faults_json

DRAWN = """\
format: 1
name: Invented garage
radio: {environment: quiet}
building:
  levels: [{id: ground}]
  doors:
    - {id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2, construction: wooden_door}
    - {id: D2, wall: W1, at_m: 3, width_m: 1, height_m: 2, kind: fire_door, changes: on}
    - {id: D3, wall: W1, at_m: 5, width_m: 1, height_m: 2, construction: steel_door}
  windows: [{id: F1, wall: W1, at_m: 7, sill_m: 1, width_m: 1, height_m: 1}]
  plates:
    - {id: P1, level: ground, corners: [[0, 0, 0], [3, 0, 1], [3, 3, 1]], construction: stud_wall}
  obstacles:
    - {id: V1, kind: vehicle, level: ground, x_m: 2, y_m: 2, width_m: 2, depth_m: 1}
    - {id: V2, kind: vehicle, level: ground, x_m: 6, y_m: 2, width_m: 2, depth_m: 1}
"""


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


@pytest.fixture
def garage(tmp_path):
    (tmp_path / "layouts/a").mkdir(parents=True)
    (tmp_path / "site.yaml").write_text(DRAWN)
    (tmp_path / "walls.csv").write_text(
        "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,4,9,4,brick_120\n"
    )
    (tmp_path / "layouts/a/devices.csv").write_text(
        "id,kind,level,x_m,y_m\nG1,gateway,ground,8,1\nS1,sensor,ground,8,3\n"
    )
    return read_site(tmp_path)


def test_check_counts_everything_drawn_and_lists_the_doors_that_never_change(garage, shown):
    page = " ".join(shown(check_page(garage, [])).split())
    assert page.startswith(
        "Invented garage is sound: 1 level, 1 wall, 3 doors, 1 window, 1 plate, 2 obstacles, "
    )
    assert "Doors that never change: D1 and D3. Say changes: on where a leaf moves." in page


def test_what_was_drawn_has_stable_keys(garage):
    told = check_json(garage, [])
    assert told["drawn"] == {
        "levels": 1,
        "walls": 1,
        "doors": 3,
        "windows": 1,
        "pillars": 0,
        "shafts": 0,
        "openings": 0,
        "plates": 1,
        "obstacles": 2,
    }
    assert told["doors_that_never_change"] == ["D1", "D3"]


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
