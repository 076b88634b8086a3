"""What ``check`` tells; expected values are written beside each case."""

import pytest

from resilience.building.files.folder import read_site
from resilience.connectivity.links import site_table
from resilience.errors import Fault
from resilience.report.answers.checking import (
    Looked,
    check_json,
    check_page,
    faults_json,
    faults_of,
)

WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,4,9,4,brick_120\n"
DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,8,1\nS1,sensor,ground,8,3\n"
ASIDE = """\
format: 1
name: Invented yard
building:
  levels: [{id: ground}]
  obstacles:
    - {id: V2, kind: van, level: ground, x_m: 60, y_m: 60, width_m: 5, depth_m: 2, changes: on}
"""
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


@pytest.fixture
def garage(tmp_path):
    (tmp_path / "layouts/a").mkdir(parents=True)
    (tmp_path / "site.yaml").write_text(DRAWN)
    (tmp_path / "walls.csv").write_text(WALLS)
    (tmp_path / "layouts/a/devices.csv").write_text(DEVICES)
    return read_site(tmp_path)


def test_check_counts_everything_drawn_and_lists_the_doors_that_never_change(garage, shown):
    page = " ".join(shown(check_page(garage, looked_at(garage))).split())
    assert page.startswith(
        "Invented garage is sound: 1 level, 1 wall, 3 doors, 1 window, 1 plate, 2 obstacles, "
    )
    assert "Doors that never change: D1 and D3. Say changes: on where a leaf moves." in page


def test_what_was_drawn_has_stable_keys(garage):
    told = check_json(garage, looked_at(garage))
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
        "zones": 0,
    }
    assert told["doors_that_never_change"] == ["D1", "D3"]


def test_faults_have_stable_keys():
    fault = Fault("site.yaml, line 1", "nothing", "expected text")
    assert faults_json([fault])["faults"] == [
        {"where": "site.yaml, line 1", "found": "nothing", "wanted": "expected text"}
    ]


def given(folder, devices: str, links: str):
    """A site of given links with one layout."""
    (folder / "layouts/a").mkdir(parents=True)
    (folder / "site.yaml").write_text("format: 1\nname: Invented row\nradio: {predict: off}\n")
    (folder / "layouts/a/devices.csv").write_text(f"id,kind\n{devices}")
    (folder / "layouts/a/links.csv").write_text(f"a,b,rssi_dbm\n{links}")
    return read_site(folder)


def looked_at(site):
    paths = site_table(site)
    return [Looked.at(paths.of(layout), seed=5) for layout in site.layouts]


@pytest.fixture
def row(tmp_path):
    """G1 - S1 - S2 with room to spare, S3 out of reach by some dB, S4 with no link at all."""
    return given(
        tmp_path,
        "G1,gateway\nS1,sensor\nS2,sensor\nS3,sensor\nS4,sensor\n",
        "G1,S1,-50\nS1,S2,-60\nS2,S1,-55\nS2,S3,-99\n",
    )


def test_check_tells_what_was_read_and_which_sensors_are_fragile(row, shown):
    found = looked_at(row)
    page = shown(check_page(row, found))
    assert page.startswith("Invented row is sound: no building drawn, 1 layout; a lifetime is 5 ")
    assert "! Nobody hears S3: S2 comes nearest, " in page
    assert "! Nobody hears S4: nothing comes near." in page
    assert "! Fewer than two neighbours can be parent of S2." in page
    assert check_json(row, found)["layouts"] == [
        {
            "name": "a",
            "gateways": 1,
            "sensors": 4,
            "repeaters": 0,
            "usable_links": 2,
            "unheard": ["S3", "S4"],
            "sensors_with_fewer_than_two_parents": ["S2", "S3", "S4"],
            "sensors_with_a_route_as_drawn": ["S1", "S2"],
            "possible_buildings": 200,
            "possible_buildings_in_which_all_have_a_route": 0,
            "possible_buildings_with_a_route": {"S1": 200, "S2": 200, "S3": 0, "S4": 0},
            "only_way_of": {"S1": ["S2"]},
        }
    ]


def test_a_gateway_that_nobody_hears_is_a_fault_with_a_way_out(tmp_path, shown):
    site = given(tmp_path, "G1,gateway\nS1,sensor\nS2,sensor\n", "G1,S1,-99\nS1,S2,-60\n")
    found = looked_at(site)
    (fault,) = faults_of(found)
    assert fault.where == "layouts/a/devices.csv, gateway G1"
    assert fault.wanted.startswith("S1 comes nearest, ")
    assert fault.wanted.endswith("move it, put a repeater between, or measure the path")
    page = " ".join(shown(check_page(site, found)).split())
    assert page.startswith("! layouts/a/devices.csv, gateway G1: found nobody who hears it; S1 ")
    assert "Invented row is not sound (1 fault)" in page
    assert "is sound" not in page
    assert "! No way to a gateway as drawn: S1 and S2." in page
    told = check_json(site, found)
    assert told["sound"] is False
    assert told["faults"][0]["found"] == "nobody who hears it"


def test_a_device_that_all_ways_lead_through_is_named(tmp_path, shown):
    site = given(
        tmp_path,
        "G1,gateway\nR1,repeater\nS1,sensor\nS2,sensor\nS3,sensor\n",
        "G1,R1,-50\nR1,S1,-50\nR1,S2,-50\nS2,S1,-50\nS2,S3,-50\nS1,S3,-50\n",
    )
    page = shown(check_page(site, looked_at(site)))
    assert "! All ways of all 3 sensors lead through R1." in page
    assert "through S" not in page  # S3 has two ways further on


def test_what_luck_decides_is_told_with_how_often(tmp_path, shown):
    probe = given(tmp_path / "probe", "G1,gateway\nS1,sensor\n", "G1,S1,-50\n")
    (link,) = looked_at(probe)[0].links.links
    usable_from_dbm = -50 - looked_at(probe)[0].links.margin_db(link)
    site = given(
        tmp_path / "site", "G1,gateway\nS1,sensor\n", f"G1,S1,{usable_from_dbm + 0.1:.2f}\n"
    )
    (one,) = looked_at(site)
    n = one.routes.in_buildings["S1"]
    assert 40 < n < 160  # a link at its limit is there about half of the time
    page = shown(check_page(site, [one]))
    assert f"Of 200 possible buildings there is a way for S1 in {n}." in page
    assert f" {n} of 200 " in page


def test_check_names_what_changes_and_is_in_nobodys_way(tmp_path, shown):
    (tmp_path / "layouts/a").mkdir(parents=True)
    (tmp_path / "site.yaml").write_text(ASIDE)
    (tmp_path / "walls.csv").write_text(WALLS)
    (tmp_path / "layouts/a/devices.csv").write_text(DEVICES)
    site = read_site(tmp_path)
    page = shown(check_page(site, looked_at(site)))
    assert "No link passes van V2: no hazard there." in page


def test_one_sensor_behind_one_repeater_is_told_in_the_singular(tmp_path, shown):
    site = given(tmp_path, "G1,gateway\nR1,repeater\nS1,sensor\n", "G1,R1,-60\nR1,S1,-60\n")
    page = shown(check_page(site, looked_at(site)))
    assert "All ways of the one sensor lead through R1." in page
    assert "1 sensors" not in page


def test_beyond_three_deaf_devices_the_others_are_one_sentence(tmp_path, shown):
    sensors = "".join(f"S{n},sensor\n" for n in range(1, 7))
    site = given(tmp_path, f"G1,gateway\n{sensors}", "G1,S1,-60\n")
    page = shown(check_page(site, looked_at(site)))
    assert [line for line in page.splitlines() if line.startswith("! Nobody hears")] == [
        "! Nobody hears S2: nothing comes near.",
        "! Nobody hears S3: nothing comes near.",
        "! Nobody hears S4: nothing comes near.",
        "! Nobody hears S5 and S6 either.",
    ]


def test_every_gateway_that_nobody_hears_is_a_fault_of_its_own(tmp_path, shown):
    links = "G1,S1,-99\nG2,S1,-101\n"  # a busy band needs some -89 dBm for 30 %
    site = given(tmp_path, "G1,gateway\nG2,gateway\nS1,sensor\n", links)
    page = " ".join(shown(check_page(site, looked_at(site))).split())
    assert "Invented row is not sound (2 faults): no building drawn, 1 layout;" in page
    assert [fault.where for fault in faults_of(looked_at(site))] == [
        "layouts/a/devices.csv, gateway G1",
        "layouts/a/devices.csv, gateway G2",
    ]


def test_check_says_how_much_is_taken_on_trust(tmp_path, shown):
    site = given(tmp_path, "G1,gateway\nS1,sensor\n", "G1,S1,-60\n")
    assert " uncertain defaults the site states 0 itself" in shown(
        check_page(site, looked_at(site))
    )
