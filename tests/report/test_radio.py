"""Sites of given links: nothing is predicted, so every expected value is in the test."""

from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.connectivity.links import link_table
from resilience.report.radio import check_json, check_page, ears, links_page

GOLDEN = Path(__file__).parent.parent / "golden"


def written(folder, devices: str, links: str):
    (folder / "layouts/a").mkdir(parents=True)
    (folder / "site.yaml").write_text("format: 1\nname: Invented row\nradio: {predict: off}\n")
    (folder / "layouts/a/devices.csv").write_text(f"id,kind\n{devices}")
    (folder / "layouts/a/links.csv").write_text(f"a,b,rssi_dbm\n{links}")
    return read_site(folder)


@pytest.fixture
def row(tmp_path):
    """G1 - S1 - S2 with room to spare, S3 out of reach by some dB, S4 with no link at all."""
    return written(
        tmp_path,
        "G1,gateway\nS1,sensor\nS2,sensor\nS3,sensor\nS4,sensor\n",
        "G1,S1,-50\nS1,S2,-60\nS2,S1,-55\nS2,S3,-99\n",
    )


def test_the_best_neighbour_stands_first_and_parents_are_counted(row):
    heard = {ear.device.id: ear for ear in ears(link_table(row, row.layouts[0]))}
    assert [link.id for link in heard["S1"].usable] == ["G1~S1", "S1~S2"]
    assert heard["S1"].n_parents == 2
    assert not heard["S1"].lacks_parents
    assert heard["S2"].lacks_parents
    assert not heard["G1"].lacks_parents
    assert heard["S3"].nearest_miss.id == "S2~S3"
    assert heard["S4"].nearest_miss is None


def test_links_of_each_device_read_as_agreed(row, shown):
    """Compare with the page as it was read and approved; figures are those of the case."""
    page = shown(links_page(link_table(row, row.layouts[0])))
    assert page == (GOLDEN / "links.txt").read_text(encoding="utf-8")


def test_strength_is_told_both_ways_from_the_device_outwards(row, shown):
    lines = shown(links_page(link_table(row, row.layouts[0]))).splitlines()
    (from_s2,) = [line for line in lines if line.startswith(" S2")]
    assert from_s2.split()[2:4] == ["-55", "-60"]


def test_what_is_fragile_is_marked_by_words_and_signs(row, shown):
    page = shown(links_page(link_table(row, row.layouts[0])))
    assert "! Nobody hears S3 and S4." in page
    assert "! Fewer than two neighbours that could be a parent: S2." in page
    assert page.count("! unheard") == 2
    assert page.count("! one parent") == 1


def test_a_thin_margin_is_marked(tmp_path, shown):
    site = written(tmp_path, "G1,gateway\nS1,sensor\n", "G1,S1,-84\n")
    links = link_table(site, site.layouts[0])
    assert 0 < links.margin_db(links.links[0]) < 10
    page = shown(links_page(links))
    assert "! 1 usable link with less than 10 dB to spare." in page


def test_check_tells_what_was_read_and_which_sensors_are_fragile(row, shown):
    links = [link_table(row, row.layouts[0])]
    page = shown(check_page(row, links))
    assert page.startswith("Invented row is sound: no building drawn, 1 layout; a lifetime is 5 ")
    assert "! In layout a fewer than two neighbours can be parent of S2, S3 and S4." in page
    told = check_json(row, links)
    assert told["layouts"] == [
        {
            "name": "a",
            "gateways": 1,
            "sensors": 4,
            "repeaters": 0,
            "usable_links": 2,
            "sensors_with_fewer_than_two_parents": ["S2", "S3", "S4"],
        }
    ]


def test_only_measured_links_are_not_called_predicted(row, shown):
    assert "not surveyed" not in shown(links_page(link_table(row, row.layouts[0])))
