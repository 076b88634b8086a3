"""What is told of other defaults, from what they show made by hand."""

from dataclasses import replace

import pytest

from resilience.assumptions.catalogue import settings
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.runs.running import OUT_OF_TIME, REACHED
from resilience.policy.hanging.conditions import Hanging, Limit, Seen, Shown, Side, Tried
from resilience.report.pages import page
from resilience.report.promised.conditions import hanging_tables, hanging_words, untried_words

SETTINGS = {one.key: one for one in settings()}
REPAIR, RATE = SETTINGS["upkeep.repair.median_h"], SETTINGS["hazards.hardware.per_year"]
KEPT, BROKEN, OPEN, UNTESTED = (
    Seen(shown, Estimate(mean, low, high, 0.99, "made up"), 512)
    for shown, mean, low, high in (
        (Shown.KEPT, 0.01, 0.002, 0.04),
        (Shown.BROKEN, 0.4, 0.31, 0.52),
        (Shown.UNDECIDED, 0.04, 0.02, 0.07),
        (Shown.NOT_TESTED, 0.0, 0.0, 0.4),
    )
)
DAYS = Limit(REPAIR, "a", Side(24.0, True), Side(210.0, False, 400.0))
ALL = Limit(RATE, "a", Side(0.005, True), Side(0.11, True))


def made(low=KEPT, high=KEPT, draws=(KEPT, KEPT), limits=(DAYS, ALL), why=REACHED):
    tried = (Tried(REPAIR, {"a": low}, {"a": high}), Tried(RATE, {"a": KEPT}, {"a": KEPT}))
    sample = tuple({"a": seen} for seen in draws)
    return Hanging({"a": KEPT}, ("a",), tried, sample, limits, 512, len(draws), why)


def test_conditions_are_told_as_clauses_with_days():
    told = hanging_words(made(high=BROKEN), "a")
    assert "Kept while the median length of repairs is at most 210 h (8.8 days)" in told
    assert "No value within its range breaks it of the rate of device failures." in told


def test_the_default_that_breaks_it_is_named():
    told = hanging_words(made(high=BROKEN, draws=(KEPT, BROKEN)), "a")
    assert "broken where the median length of repairs is 720 h (30.0 days) (120 assumed)." in told
    assert "Of 2 draws of all defaults together it is kept in 1 and broken in 1." in told


def test_what_holds_everywhere_says_so():
    told = hanging_words(made(), "a")
    assert "it holds at both ends of the range of 2 uncertain defaults" in told


def test_what_is_open_or_was_not_tested_is_never_told_as_held():
    told = hanging_words(made(low=OPEN), "a")
    assert "no single default is shown to break it." in told
    assert "Open where the median length of repairs is 24 h" in told
    told = hanging_words(made(high=UNTESTED, draws=(UNTESTED,), why=OUT_OF_TIME), "a")
    assert "Not tested to the end: 1 end of a range, for the time allowed was used up." in told
    assert "holds" not in told


def test_a_limit_on_both_sides_is_one_clause():
    both = replace(DAYS, low=Side(60.0))
    told = hanging_words(made(limits=(both,)), "a")
    assert "is at least 60 h and at most 210 h (8.8 days), one at a time." in told


def test_what_is_kept_nowhere_is_no_condition(shown):
    nowhere = Limit(REPAIR, "a")
    hanging = made(limits=(nowhere,))
    assert "Kept while" not in hanging_words(hanging, "a")
    assert "nowhere" in shown(page(*hanging_tables(hanging)))


def test_tables_show_values_that_keep_and_break_it(shown):
    told = shown(page(*hanging_tables(made(high=BROKEN))))
    (row,) = (line for line in told.splitlines() if "400 h" in line)
    assert "210 h (8.8 days)" in row
    assert "31 to 52" in told


@pytest.mark.parametrize("seen", [KEPT, UNTESTED])
def test_ends_that_are_kept_fill_no_table(shown, seen):
    assert "Where other defaults break it" not in shown(page(*hanging_tables(made(high=seen))))


def test_who_did_not_ask_gets_no_table_and_is_told_how_to_ask():
    assert hanging_tables(None) == ()
    assert "--over-defaults tries them." in untried_words(None)
    assert not untried_words(made())
