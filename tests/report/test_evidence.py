"""What an answer rests on, counted by hand."""

from dataclasses import replace
from datetime import date

import pytest

from resilience.assumptions.catalogue import section, uncertain
from resilience.building.files.folder import read_site
from resilience.building.site import GivenLink
from resilience.building.stated.standing import InService, Standing
from resilience.building.structure import Building, Level, Wall
from resilience.report.answers.catalogue import defaults_json, defaults_page
from resilience.report.evidence import drawn_words, evidence, evidence_block, played_evidence

STATED = """\
format: 1
name: Invented shed
radio: {predict: off, swing_db: 1.0}
hazards:
  hardware: {mttf_h: 50000}
  gateway_outage: off
"""


@pytest.fixture
def shed(tmp_path):
    (tmp_path / "layouts/a").mkdir(parents=True)
    (tmp_path / "site.yaml").write_text(STATED)
    (tmp_path / "layouts/a/devices.csv").write_text("id,kind\nG1,gateway\nS1,sensor\nS2,sensor\n")
    (tmp_path / "layouts/a/links.csv").write_text("a,b,prr\nG1,S1,0.9\nS1,G1,0.8\nS1,S2,0.7\n")
    return read_site(tmp_path)


def test_both_directions_of_a_link_are_one_and_no_building_is_said(shed):
    assert evidence(shed).startswith("It rests on 2 measured links, no others; no building drawn. ")


def test_one_link_and_one_wall_are_told_in_the_singular(site_of):
    site = site_of({"a": "G1 S1"})
    layout = replace(site.layouts[0], links=(GivenLink("G1", "S1", 0.9, None),))
    wall = Wall("W1", "L1", 0.0, 0.0, 1.0, 0.0, "brick_120")
    building = Building((Level("L1", 0.0, 3.0, "concrete_200"),) * 2, walls=(wall,))
    told = evidence(replace(site, layouts=(layout,), building=building))
    assert "on 1 measured link, all others predicted; 2 levels, 1 wall. Of " in told
    assert drawn_words(Building(())) == "no building drawn"


def test_a_site_states_what_stands_in_its_file_and_what_that_stands_for(shed):
    stated = {"radio.swing_db", "hazards.hardware.mttf_h", "hazards.hardware.per_year"}
    assert all(shed.states(key) for key in stated)
    off = [one.key for one in section("hazards.gateway_outage")]
    assert off
    assert all(shed.states(key) for key in off)
    assert not shed.states("hazards.hardware.shape")
    assert not shed.states("radio.swing_holds_h")
    n_stated = sum(shed.states(one.key) for one in uncertain())
    assert n_stated == 4  # swing, the rate of hardware, and rate and length of gateway outages
    assert f"Of {len(uncertain())} uncertain defaults the site states 4 itself" in evidence(shed)


def test_defaults_marks_what_the_site_states(shed, shown):
    told = shown(defaults_page(section("hazards.hardware"), shed))
    assert "Invented shed states 2 of these 3 settings" in " ".join(told.split())
    assert " mttf_h *" in told
    assert " per_year *" in told
    assert " shape *" not in told
    listed = defaults_json(section("hazards.hardware"), shed)["settings"]
    assert [one["stated_by_the_site"] for one in listed] == [True, True, False]
    alone = defaults_json(section("hazards.hardware"))["settings"]
    assert not [one for one in alone if "stated_by_the_site" in one]


def test_other_defaults_leave_alone_what_the_site_states(shed, tmp_path):
    other = read_site(tmp_path, assumed={"radio.swing_db": 2.5, "hazards.hardware.shape": 2.0})
    assert other.radio.swing_db == 1.0
    assert other.hazards.hardware.shape == 2.0
    assert other.hazards.hardware.mttf_h == 50000
    assert other.hazards.gateway_outage is None


@pytest.mark.parametrize(
    ("key", "value", "of"),
    [
        ("hazards.early_failure.share", 0.1, lambda site: site.hazards.early_failure.share),
        ("upkeep.repair.median_h", 24.0, lambda site: site.upkeep.repair.median_h),
        ("horizon_years", 2.0, lambda site: site.horizon_years),
        ("models.*.leaf_ua", 60.0, lambda site: site.layouts[0].devices[1].model.leaf_ua),
        (
            "batteries.two_aa_lithium.usable_share",
            0.6,
            lambda site: site.layouts[0].devices[1].battery.usable_share,
        ),
        ("routing.hysteresis", 64, lambda site: site.routing.hysteresis),
    ],
)
def test_another_default_reaches_whatever_rests_on_it(shed, tmp_path, key, value, of):
    assert of(shed) != value
    assert of(read_site(tmp_path, assumed={key: value})) == value


def test_a_longer_median_keeps_its_ratio_to_the_90_per_cent_point(shed, tmp_path):
    """120 h with 480 h for nine of ten, so 720 h come with 2,880 h."""
    repair = read_site(tmp_path, assumed={"upkeep.repair.median_h": 720.0}).upkeep.repair
    assert repair.p90_h == pytest.approx(2880.0)


def test_an_answer_says_how_old_all_is_as_lifetimes_begin(shed):
    assert played_evidence(shed).endswith("Devices and cells start as if new.")
    today = date(2033, 5, 1)
    rows = (InService("S1", today, today), InService("S2", today, today, None, today))
    site = replace(shed, standing=Standing(today, rows))
    told = "start as of 2033-05-01 (state.csv): 2 in service, 1 of them down, 1 as if new."
    assert played_evidence(site).endswith(told)


def test_what_could_strike_nothing_is_told_beside_what_an_answer_rests_on(shed):
    (told,) = evidence_block(shed, is_played=False)
    assert "The hazard obstacles has nothing to strike" in told.text
    assert "as if new" not in told.text
