"""Surveys put together by hand: every figure on the page is one of the case."""

from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.site import Calibration, Correction
from resilience.connectivity.links import Heard, Link
from resilience.connectivity.shapes.crossings import Hindrance
from resilience.connectivity.surveys.readings import Reading, Tells
from resilience.connectivity.surveys.survey import Compared, Miss, Survey, Term, WayDifference
from resilience.connectivity.surveys.unknowns import Assumption, Unknown
from resilience.report.answers.calibration import calibration_page

SLAB = Hindrance("slab under L2", "slab", 14.0)
POST = Hindrance("round pillar P1", "", 9.0)


def compared(b, measured_dbm, corrected_dbm, *hindrances, tells=Tells.EXACTLY, taken_db=0.0):
    heard = Heard(-70.0, None, -100.0)
    link = Link(f"G1~{b}", "G1", b, 12.5, 62.0, hindrances, heard, heard, False)
    ends_m = ((0.0, 0.0, 0.0), (12.5, 0.0, 0.0))
    reading = Reading("a", link, ends_m, measured_dbm, -70.0, tells, 2, None, taken_db)
    return Compared(reading, corrected_dbm, corrected_dbm + 1.0)


def built(name, assumed, spread):
    return Unknown(Assumption.CONSTRUCTION, name, assumed, spread)


@pytest.fixture
def survey():
    """A slab that takes 5 dB more than assumed, a wall that nobody met, and one wild reading."""
    distance, slab = Unknown(Assumption.DISTANCE, "distance", 20.0, 2.0), built("slab", 14.0, 3.0)
    wall = built("wall", 6.0, 4.0)
    correction = Correction(5.2, 1.5, 4)
    return Survey(
        "Invented house",
        (
            compared("S1", -76.0, -75.2, SLAB),
            compared("S2", -81.0, -80.4, SLAB, SLAB, POST),
            compared("S3", -40.0, -70.0),
            compared("S4", -75.0, -70.0, tells=Tells.AT_MOST),
            compared("S5", -95.5, -75.2, SLAB, tells=Tells.AT_LEAST),
        ),
        (
            Term(distance, 5, None, "the measured links leave it as unsure as it was"),
            Term(slab, 4, correction, ""),
            Term(wall, 0, None, "no measured link meets it"),
        ),
        Calibration(None, (("slab", correction),), 4.4, 5),
        why_not="",
        before=Miss(3, 4.3, 6.0, 7.0),
        after=Miss(3, -0.2, 1.8, 2.5),
        ways=WayDifference(8, 2.1, 1.3, 4.9, 2.4),
        assumed_residual_db=5.8,
    )


def words(page):
    return " ".join(page.split())


def test_the_page_says_in_plain_words_how_far_off_the_prediction_was_and_is(survey, shown):
    page = words(shown(calibration_page(survey)))
    assert page.startswith("Invented house: 3 links measured, and 2 links of which only a limit")
    assert "Half of them lie within 6.0 dB of the prediction" in page
    assert "4.3 dB too hopeful on average" in page
    assert "half lie within 1.8 dB (0.2 dB too gloomy on average)" in page
    assert "scatter about the corrected prediction by 4.4 dB (assumed: 5.8 dB)" in page
    assert "differ by 2.1 dB (1.3 to 4.9; 8 links measured both ways; assumed: 2.4 dB)" in page


def test_each_correction_stands_with_its_bounds_and_each_refusal_with_its_reason(survey, shown):
    """14 + 5.2 dB, and 1.96 x 1.5 dB on either side (normal law)."""
    page = shown(calibration_page(survey))
    (row,) = [line for line in page.splitlines() if line.startswith(" slab ")]
    assert row.split() == ["slab", "14.0", "3.0", "4", "+5.2", "19.2", "16.3", "to", "22.1"]
    (row,) = [line for line in page.splitlines() if line.startswith(" wall ")]
    assert row.split() == ["wall", "6.0", "4.0", "0", "cannot", "tell", "as", "assumed"]
    assert "wall: no measured link meets it." in page
    assert "distance, per decade: the measured links leave it as unsure as it was." in page


def test_no_construction_is_shown_to_strengthen_a_signal(survey, shown):
    thin = Term(built("thin", 1.0, 2.0), 6, Correction(-1.4, 1.0, 6), "")
    page = shown(calibration_page(replace(survey, terms=(thin,))))
    (row,) = [line for line in page.splitlines() if line.startswith(" thin ")]
    assert row.split() == ["thin", "1.0", "2.0", "6", "-1.4", "0.0", "0.0", "to", "1.6"]


def of_devices(kind, name, offset, spread, why_not=""):
    return Term(Unknown(kind, name, 0.0, 12.0), 6, Correction(offset, spread, 6), why_not)


@pytest.mark.parametrize(
    ("offset", "told"),
    [
        (
            15.0,
            "! Devices send or hear 15 dB less than assumed (13 to 17): look at antenna, housing",
        ),
        (-8.0, "! Devices send or hear 8 dB more than assumed (6 to 10): look at antenna, housing"),
        (1.9, ""),  # not clear of 1.96 x 1 dB
        (2.9, ""),  # too little to go and look
    ],
)
def test_what_all_devices_lose_is_told_first_in_plain_words(survey, shown, offset, told):
    """1.96 x 1 dB on either side (normal law)."""
    term = of_devices(Assumption.CONSTANT, "constant", offset, 1.0)
    page = words(shown(calibration_page(replace(survey, terms=(term,)))))
    assert told in page
    assert ("Devices send or hear" in page) == bool(told)
    assert "or mounting first." in page or not told
    assert "all devices, per path 0.0 12.0 6 " in page


def test_a_model_that_differs_from_the_others_is_told_and_what_is_untold_is_not(survey, shown):
    model = of_devices(Assumption.MODEL, "door", 6.0, 1.0)
    page = words(shown(calibration_page(replace(survey, terms=(model,)))))
    assert "Devices of model door send or hear 6 dB less than the others (4 to 8)" in page
    assert "model door, per device 0.0 12.0 6 +6.0 6.0 4.0 to 8.0" in page
    tied = of_devices(Assumption.CONSTANT, "constant", 15.0, 1.0, "only their sum is known")
    page = words(shown(calibration_page(replace(survey, terms=(tied,)))))
    assert "Devices send" not in page
    assert "all devices, per path: only their sum is known." in page


def test_devices_may_send_more_than_assumed(survey, shown):
    term = of_devices(Assumption.CONSTANT, "constant", -8.0, 1.0)
    page = words(shown(calibration_page(replace(survey, terms=(term,)))))
    assert "all devices, per path 0.0 12.0 6 -8.0 -8.0 -10.0 to -6.0" in page


def test_what_is_used_but_not_known_alone_stands_in_brackets(survey, shown):
    """6 + 3.4 dB, and 1.96 x 2 dB on either side."""
    why_not = "every measured link meets it together with slab, so only their sum is known: +8.6 dB"
    wall = Term(built("wall", 6.0, 4.0), 4, Correction(3.4, 2.0, 4), why_not)
    page = shown(calibration_page(replace(survey, terms=(*survey.terms[:2], wall))))
    (row,) = [line for line in page.splitlines() if line.startswith(" wall ")]
    assert row.split() == ["wall", "6.0", "4.0", "4", "(+3.4)", "9.4", "5.5", "to", "13.3"]
    assert "(in brackets): used, though the links cannot tell it by itself" in words(page)
    assert "in brackets" not in shown(calibration_page(survey))
    assert f"wall: {why_not}." in words(page)


def test_a_strength_that_is_not_the_files_is_marked_and_explained(survey, shown):
    """Read as -64 dBm while a door that takes 8 dB was shut: -56 dBm with it open."""
    door = compared("S6", -56.0, -57.0, SLAB, taken_db=8.0)
    limit = compared("S7", -62.0, -57.0, tells=Tells.AT_MOST, taken_db=5.0)
    page = shown(calibration_page(replace(survey, compared=(*survey.compared, door, limit))))
    rows = {line.split()[0]: line.split()[3:] for line in page.splitlines() if " G1~" in line}
    assert rows["G1~S6"] == ["*", "-56", "-70", "-57", "-1"]
    assert rows["G1~S7"] == ["*", ">", "-62", "-70", "-57"]
    assert "is put back, for G1~S6 (8.0 dB) and G1~S7 (5.0 dB)" in words(page)
    assert "put back" not in shown(calibration_page(survey))


def test_a_lining_counts_for_each_side_that_is_crossed(survey, shown):
    lining = Hindrance("lining of shaft lift", "clad", 18.0, times=2)
    held = Hindrance("lining of shaft lift", "steel", 25.0, times=0)
    links = (compared("S1", -76.0, -75.2, lining), compared("S2", -76.0, -75.2, held))
    page = shown(calibration_page(replace(survey, compared=links)))
    assert " 2 x clad " in page
    assert " 12.5 steel " in " ".join(page.split())


def test_links_stand_with_what_they_cross_and_limits_are_marked(survey, shown):
    rows = {
        line.split()[0]: " ".join(line.split()[1:])
        for line in shown(calibration_page(survey)).splitlines()
        if line.startswith(" G1~")
    }
    assert rows["G1~S1"] == "12.5 slab -76 -70 -75 1"
    assert rows["G1~S2"] == "12.5 2 x slab, round pillar P1 -81 -70 -80 1"
    assert rows["G1~S3"] == "12.5 nothing -40 -70 -70 ! -30"
    assert rows["G1~S4"] == "12.5 nothing > -75 -70 -70"
    assert rows["G1~S5"] == "12.5 slab < -96 -70 -75"


def test_what_nothing_explains_is_named_limits_included(survey, shown):
    """Beyond three spreads of 4.4 dB: S3 is 30 dB off, S5 would have to be 20 dB weaker."""
    assert "! Nothing drawn explains G1~S3 and G1~S5: measure again" in shown(
        calibration_page(survey)
    )


def test_corrections_that_do_not_help_other_links_are_called_so(survey, shown):
    page = shown(calibration_page(replace(survey, after=Miss(3, 0.0, 6.0, 7.5))))
    assert "! The corrections bring no gain for links that they were not fitted to." in page
    assert "bring no gain" not in shown(calibration_page(survey))


def test_a_survey_without_a_fit_shows_the_links_and_says_why(survey, shown):
    why = "it needs 5 links of known strength, and there are 3"
    terms = tuple(Term(one.unknown, one.n_links, None, why) for one in survey.terms)
    page = shown(
        calibration_page(
            replace(survey, calibration=None, why_not=why, after=None, terms=terms, ways=None)
        )
    )
    assert f"! No correction: {why}." in page
    assert page.count(why) == 1
    assert " G1~S1 " in page
    assert "Nothing was written." in page
    assert "--write" not in page


def test_the_page_says_whether_anything_was_written(survey, shown):
    assert "Nothing was written. --write keeps" in words(shown(calibration_page(survey)))
    page = words(shown(calibration_page(survey, Path("house/calibration.yaml"))))
    assert "Written to house/calibration.yaml; every prediction of this site uses it" in page


def test_the_page_ends_with_cautions_and_hostile_names_stay_text(survey, shown):
    page = shown(calibration_page(replace(survey, site="[bold]x\x1b[31m\u202e")))
    assert page.startswith("[bold]x\\x1b[31m\\u202e: ")
    assert "Not for fire, gas, medical" in page
    assert max(len(line) for line in page.splitlines()) <= 100
