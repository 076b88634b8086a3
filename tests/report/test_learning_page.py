"""The page of ``learn``, of lessons put together by hand."""

from pathlib import Path

import pytest

from resilience.hazards.learning.lessons import (
    Basis,
    Belief,
    CellLife,
    Conflict,
    Lesson,
    Lessons,
)
from resilience.report.answers.learning import learning_page
from resilience.report.pages import Alert, Bullets, Table, Text

RATE = Lesson(
    "hazards.gateway_outage.per_year",
    "1/year",
    Belief(6.0, 1.5, 13.5),
    Belief(1.2, 0.65, 1.9),
    Basis(10, 0, 10.8),
    (2.0, 18.0),
    Conflict.BELOW,
)
REPAIR = Lesson(
    "upkeep.repair.median_h",
    "h",
    Belief(120.0, 22.0, 660.0),
    Belief(111.0, 24.0, 640.0),
    Basis(1, 2),
    (24.0, 720.0),
    Conflict.NONE,
)


def lessons(*found, cells=(), untold=(), notes=()):
    return Lessons("Invented house", ("history.csv",), 2, 279.4, found, tuple(cells), untold, notes)


def parts(page, kind):
    return [part for block in page.blocks for part in block if isinstance(part, kind)]


def test_the_summary_counts_sites_years_and_what_is_known_better():
    first = learning_page(lessons(RATE, REPAIR)).blocks[0][0].text
    assert first == (
        "Invented house: 2 sites in history.csv, 279 device-years. "
        "1 setting of 2 known better than before."
    )


def test_a_contradiction_is_an_alert_with_what_it_rests_on():
    told = parts(learning_page(lessons(RATE, REPAIR)), Alert)
    assert len(told) == 1
    assert told[0].sentence.startswith(
        "hazards.gateway_outage.per_year: the history by itself (10 events in 11 years at risk) "
        "lies below the listed range of 2 to 18 a year, by more than chance."
    )


def test_a_row_shows_before_and_after_with_bounds_and_what_they_rest_on():
    rows = parts(learning_page(lessons(RATE, REPAIR)), Table)[0].rows
    assert rows[0][:5] == (
        "hazards.gateway_outage.per_year\na year",
        "6.0\n1.5 to 14",
        "10",
        "11",
        "1.2\n0.65 to 1.9",
    )
    assert rows[0][5].text == "! below\nrange"
    assert rows[1] == (
        "upkeep.repair.median_h\nh",
        "120\n22 to 660",
        "1\n(2)",
        "",
        "111\n24 to 640",
        "hardly told",
    )


def test_cells_are_told_by_group_and_what_cannot_be_told_is_listed():
    lives = CellLife("leaf", 4, 2, Belief(5.5, 4.8, 6.6))
    page = learning_page(lessons(cells=[lives], untold=("mains_outage: nobody watched for it",)))
    assert parts(page, Table)[0].rows == (("leaf", "4", "2", "5.5\n4.8 to 6.6"),)
    assert parts(page, Bullets)[0].sentences == ("mains_outage: nobody watched for it.",)


@pytest.mark.parametrize(
    ("found", "written", "told"),
    [
        ((RATE,), None, "Nothing was written. --write keeps"),
        ((), None, "Nothing was written."),
        ((RATE,), Path("annexe/learnt.yaml"), "Written to annexe/learnt.yaml"),
    ],
)
def test_the_page_says_whether_anything_was_kept(found, written, told):
    texts = [part.text for part in parts(learning_page(lessons(*found), written), Text)]
    assert any(text.startswith(told) for text in texts)


def test_names_with_control_characters_are_shown_as_escapes():
    lives = CellLife("le\x1baf", 1, 0, Belief(5.5, 4.8, 6.6))
    page = learning_page(lessons(cells=[lives], notes=("odd \x1b note",)))
    assert parts(page, Table)[0].rows[0][0] == "le\\x1baf"
    assert parts(page, Bullets)[0].sentences == ("odd \\x1b note",)
