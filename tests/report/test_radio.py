"""What ``links`` tells; most sites have given links, so expected values are here."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.building.settings import Duration
from resilience.building.structure import Change, Door, Obstacle, Wall
from resilience.connectivity.hearing import ears, is_near_limit, opinions
from resilience.connectivity.links import link_table
from resilience.errors import UsageError
from resilience.report.answers.radio import links_json, links_page

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
    assert [link.id for link in heard["S3"].missed] == ["S2~S3"]
    assert heard["S4"].missed == ()


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


def test_only_measured_links_are_not_called_predicted(row, shown):
    assert "not surveyed" not in shown(links_page(link_table(row, row.layouts[0])))


@pytest.mark.parametrize(
    ("margin_db", "is_near"),
    [
        *((-3.1, False), (-3.0, True), (0.0, True), (3.0, True), (3.1, False)),
        *((6.9, False), (7.0, True), (10.0, True), (13.0, True), (13.1, False)),
    ],
)
def test_three_db_either_side_of_usable_and_of_accepted_are_near_a_limit(margin_db, is_near):
    """Usable is 0 dB; 10 dB are asked for at hand-over (common practice)."""
    assert is_near_limit(margin_db) is is_near


@pytest.fixture
def marginal(tmp_path):
    """Links with 20, 11, 8, 5, 2 and -1 dB to spare, told by a first look at one with 20."""
    site = written(tmp_path / "probe", "G1,gateway\nS1,sensor\n", "G1,S1,-50\n")
    (link,) = link_table(site, site.layouts[0]).links
    usable_from_dbm = -50 - link_table(site, site.layouts[0]).margin_db(link)
    devices = "".join(f"S{n},sensor\n" for n in range(1, 7))
    links = "".join(
        f"G1,S{n},{usable_from_dbm + margin_db:.3f}\n"
        for n, margin_db in enumerate((20, 11, 8, 5, 2, -1), 1)
    )
    return written(tmp_path / "site", f"G1,gateway\n{devices}", links)


def test_links_near_a_limit_are_marked_and_counted(marginal, shown):
    """By definition: 11 and 8 lie near 10 dB, 2 and -1 near 0 dB, 20 and 5 near neither."""
    page = shown(links_page(link_table(marginal, marginal.layouts[0])))
    assert "! 3 usable links with less than 10 dB to spare." in page
    assert "? 4 links within 3 dB of what is usable (0 dB) or accepted at hand-over (10 dB)" in page
    rows = page[page.index(" G1 ") :].splitlines()
    cells = [row[:90].split() for row in rows[:6]]
    assert [[cell for cell in row if set(cell) <= {"!", "?"}] for row in cells] == [
        *([], ["?"], ["!?"], ["!"], ["!?"], ["!?"])
    ]
    assert "(S6)" in rows[5]
    assert "not usable" in rows[5]


def test_a_link_is_told_with_how_sure_it_is(marginal, shown):
    """3 dB by the setting of a survey's spread."""
    table = link_table(marginal, marginal.layouts[0])
    told = links_json(table)
    assert [one["spread_db"] for one in told["links"]] == pytest.approx([3.0] * 6)
    assert "two of three such paths turn out within so many dB" in " ".join(
        shown(links_page(table)).split()
    )


def test_the_same_marks_are_in_the_json(marginal):
    told = links_json(link_table(marginal, marginal.layouts[0]))
    marks = {one["b"]: (one["thin"], one["near_a_limit"]) for one in told["links"]}
    assert marks == {
        "S1": (False, False),
        "S2": (False, True),
        "S3": (True, True),
        "S4": (True, False),
        "S5": (True, True),
        "S6": (True, True),
    }
    devices = {one["id"]: one for one in told["devices"]}
    assert devices["G1"]["usable_neighbours"] == ["S1", "S2", "S3", "S4", "S5"]
    assert devices["S6"]["unheard"]
    assert devices["S1"]["possible_parents"] == 1
    assert devices["S1"]["fewer_than_two_parents"]


CHANGE = Change(18.0, 52.0, Duration("fixed", mean_h=12.0))


@pytest.fixture
def walled(small_site):
    """Two concrete walls between g1 and s1; a door and a van between s2 and s1; another van."""
    walls = tuple(
        Wall(f"W{n}", "L1", x_m, -20.0, x_m, 20.0, "concrete_200")
        for n, x_m in ((1, 3.0), (2, 6.0))
    )
    aside = Wall("W3", "L1", 8.0, -20.0, 40.0, -20.0, "stud_wall")
    van = Obstacle("V1", "van", "L1", 9.0, -22.0, 1.0, 1.0, 0.0, 2.5, 0.0, CHANGE)
    building = replace(
        small_site.open_plan,
        walls=(*walls, aside),
        doors=(Door("D1", "W3", 0.5, 1.0, 2.9, "wooden_door", CHANGE),),
        obstacles=(van, replace(van, id="V2", x_m=-80.0)),
    )
    places = {"g1": (0.0, 0.0), "s1": (9.0, 0.0), "s2": (9.0, -24.0)}
    layout = small_site.layout(
        "a", *(small_site.device(id, *place, transmit_dbm=20.0) for id, place in places.items())
    )
    return small_site(layout, building=building)


def test_what_a_door_or_a_van_would_add_stands_behind_a_plus(walled, shown):
    table = link_table(walled, walled.layouts[0])
    page = " ".join(shown(links_page(table)).split())
    assert "van V1 0 + 18" in page
    assert "behind a plus: what it adds while a door is shut," in page
    told = {one["id"]: one["changing"] for one in links_json(table)["links"]}
    assert {one["id"] for one in told["s1~s2"]} == {"D1", "V1"}
    assert told["g1~s1"] == []


def test_the_second_opinion_counts_walls_and_is_told_where_it_differs(walled, shown):
    """COST 231 multi-wall: 6.9 dB for each heavy wall (from memory), free space as
    20 log10(4 pi d f / c), textbook.

    Concrete of 0.2 m takes about 18 dB by ITU-R P.2040, so two walls are 22 dB apart.
    """
    table = link_table(walled, walled.layouts[0])
    (one,) = [one for one in opinions(table) if one.link.id == "g1~s1"]
    free_space_db = 20 * math.log10(4 * math.pi * 9 * table.radio.frequency_mhz / 299.792458)
    assert one.other_db == pytest.approx(free_space_db + 2 * 6.9, abs=0.01)
    assert one.apart_db < -6
    assert one.differs
    page = " ".join(shown(links_page(table, second_opinion=True)).split())
    assert "Second opinion" in page
    assert "g1 to s1" in page
    assert "Second opinion" not in shown(links_page(table))
    told = links_json(table, second_opinion=True)["second_opinion"]
    assert {one["id"] for one in told} == {link.id for link in table.links}
    assert "second_opinion" not in links_json(table)


def test_where_nothing_is_drawn_there_is_no_second_opinion(row, shown):
    page = shown(links_page(link_table(row, row.layouts[0]), second_opinion=True))
    assert "Nothing is drawn for the multi-wall model of COST 231 to count." in page


def test_one_device_asked_for_shows_all_of_its_neighbours(tmp_path, shown):
    sensors = [f"S{number}" for number in range(1, 10)]
    site = written(
        tmp_path,
        "G1,gateway\n" + "".join(f"{one},sensor\n" for one in sensors),
        "".join(f"G1,{one},-50\n" for one in sensors),
    )
    table = link_table(site, site.layouts[0])
    assert "3 more" in shown(links_page(table))
    alone = shown(links_page(table, device="G1"))
    assert "more" not in alone
    assert all(f" {one} " in alone for one in sensors)
    assert "S1 " not in shown(links_page(table, device="S2")).split("Who hears whom")[1]


def test_a_device_that_is_not_there_is_said_by_name(row):
    with pytest.raises(UsageError, match="has no device 'S9'"):
        links_page(link_table(row, row.layouts[0]), device="S9")
