"""Whether the order survives, in words: never more than the bounds say."""

from dataclasses import replace

import pytest

from resilience.assumptions.catalogue import settings, uncertain
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED
from resilience.ranking.pairs import Pair, RankedBy, Verdict
from resilience.ranking.variation import Case, Claim, Survival, Variation, Varied
from resilience.report.comparing.naming import plain_name, plain_value
from resilience.report.comparing.opening import opening
from resilience.report.comparing.ranking import comparison_page
from resilience.report.comparing.survival import survival_sentence, survival_tables
from resilience.report.pages import page

KNOWN = {one.key: one for one in settings()}
RATE = KNOWN["hazards.link_blockage.busy_per_year"]  # 20 a year, 5 to 50
LEAF = KNOWN["models.*.leaf_ua"]  # 30 uA, 15 to 60
SWING = KNOWN["radio.swing_db"]


def case(survival: Survival, gap_h: float = 40.0, first: str = "a", aside: int = 0) -> Case:
    """Layout b has so many hours more than a, give or take 10."""
    bounds = Estimate(-gap_h, -gap_h - 10, -gap_h + 10, LEVEL, "by hand")
    pair = Pair("a", "b", RankedBy.SERVICE, bounds, bounds, Verdict.BETTER, aside, (), 0.9, 64)
    return Case(survival, pair, first, leaves_aside=aside)


HELD, OPEN = case(Survival.HELD), case(Survival.OPEN, 4.0)
TURNED = case(Survival.TURNED, -40.0, "b")
UNTESTED = Case(Survival.NOT_TESTED)

SHOWN = Claim(("a",), ("b",), True)


def variation(
    *varied: Varied,
    sample: tuple[Case, ...] = (),
    claim: Claim = SHOWN,
    stopped_because: str = REACHED,
    n_draws: int = 20,
) -> Variation:
    return Variation(claim, HELD, varied, (), sample, 128, n_draws, stopped_because)


def test_nobody_asked_so_it_says_once_how_to_ask(clear_case, shown):
    told = shown(comparison_page(clear_case))
    assert " ".join(told.split()).count("was not tested: --vary-defaults.") == 1
    assert survival_tables(None) == ()


def test_one_layout_is_told_nothing_of_an_order(site_of, study_of):
    from resilience.ranking.comparison import ranked

    site = site_of({"a": "G1 S1"})
    alone = ranked(site, [study_of(site.layout("a"), [1.0] * 80, {("hardware", "S1"): 80})])
    assert "order" not in " ".join(opening(alone))


def test_an_order_that_holds_everywhere_survives():
    found = variation(Varied(RATE, HELD, HELD), Varied(SWING, HELD, HELD), sample=(HELD,) * 20)
    assert found.survival is Survival.HELD
    assert survival_sentence(found) == (
        "The order survives at both ends of 2 uncertain defaults, one at a time. Of 20 draws over "
        "all ranges together it survives 20 (83 to 100 %)."
    )


def test_what_its_bounds_leave_aside_is_said_too():
    aside = case(Survival.HELD, aside=7)
    told = survival_sentence(variation(Varied(RATE, aside, HELD), sample=(HELD,)))
    assert "1 uncertain default, one at a time, leaving aside what is rarer than 1 in 7 " in told
    assert "Of 1 draw over" in told


def test_a_turn_is_told_with_the_value_what_is_assumed_and_by_how_much():
    found = variation(
        Varied(RATE, HELD, TURNED),
        sample=(HELD,) * 12 + (TURNED,) * 5 + (OPEN,) * 3,
    )
    assert found.survival is Survival.TURNED
    assert survival_sentence(found) == (
        "The order turns where the rate of blocked paths in a busy band is 50 a year (20 assumed): "
        "there b has at least 30 h less. Of 20 draws over all ranges together it survives 12 (36 "
        "to 81 %); 5 turn it and 3 are too close."
    )


def test_too_close_to_call_is_neither_survival_nor_its_end():
    found = variation(Varied(LEAF, OPEN, HELD), sample=(HELD,) * 20)
    assert found.survival is Survival.OPEN
    told = survival_sentence(found)
    assert told.startswith(
        "No default turns the order; it is too close to call where the current of a device "
        "that forwards nothing is 15 uA (30 assumed)."
    )
    assert "The order survives" not in told


def test_a_single_draw_that_turns_ends_the_survival():
    assert variation(Varied(RATE, HELD, HELD), sample=(TURNED,)).survival is Survival.TURNED


def test_what_was_not_reached_is_not_called_survival():
    found = variation(
        Varied(RATE, HELD, UNTESTED),
        sample=(HELD,) * 2,
        stopped_because=OUT_OF_TIME,
        n_draws=3,
    )
    assert found.survival is Survival.OPEN
    told = survival_sentence(found)
    assert "survives at both" not in told
    assert told.endswith(
        "Not tested: 1 end of a range and 1 draw, for the time allowed was used up."
    )


def test_survival_is_claimed_of_those_defaults_alone_that_were_tested():
    ones = (Varied(RATE, HELD, HELD), Varied(LEAF, HELD, UNTESTED), Varied(SWING, *[UNTESTED] * 2))
    told = survival_sentence(variation(*ones, stopped_because=INTERRUPTED, n_draws=0))
    assert told == (
        "The order survives at both ends of 1 of 3 uncertain defaults, one at a time. Not tested: "
        "3 ends of ranges, for it was interrupted."
    )


def test_an_interrupt_before_anything_was_played_is_told():
    found = replace(
        variation(Varied(RATE, UNTESTED, UNTESTED), stopped_because=INTERRUPTED), usual=UNTESTED
    )
    assert found.survival is Survival.NOT_TESTED
    assert survival_sentence(found) == (
        "Whether this order survives other rates was not tested: it was interrupted."
    )
    assert survival_tables(found) == ()


def test_an_order_nobody_has_shown_is_never_said_to_survive():
    claim = Claim(("a",), ("b",), False)
    found = variation(Varied(RATE, HELD, OPEN), sample=(HELD, TURNED, OPEN), claim=claim)
    assert found.survival is Survival.OPEN
    told = survival_sentence(found)
    assert told.startswith(
        "Other defaults may make an order: a is better where the rate of blocked paths in a busy "
        "band is 5 a year"
    )
    assert "Of 3 draws over all ranges together, a is better in 1 and b is better in 1." in told
    even = survival_sentence(variation(Varied(RATE, OPEN, OPEN), claim=claim))
    assert even == "Neither end of 1 uncertain default makes an order of the first two."


def test_too_few_lifetimes_are_told_as_such():
    found = replace(variation(Varied(RATE, OPEN, OPEN)), usual=OPEN)
    assert survival_sentence(found) == (
        "No default turns the order, but 128 lifetimes of a variant are too few to show it even as "
        "assumed."
    )


def test_a_site_that_states_all_hangs_on_no_default():
    assert survival_sentence(variation()) == (
        "The order survives: it hangs on nothing that the site does not state."
    )


def test_many_places_are_counted_beyond_two():
    ones = [Varied(one, TURNED, TURNED) for one in (RATE, LEAF, SWING)]
    told = survival_sentence(variation(*ones))
    assert (
        "5 a year (20 assumed), the rate of blocked paths in a busy band is 50 a year (20 assumed)"
        in told
    )
    assert "and 4 more: there" in told


def test_hostile_names_are_shown_as_escapes():
    claim = Claim(("a\x1b[31m",), ("b\u202e",), False)
    found = variation(Varied(RATE, HELD, TURNED), sample=(HELD,), claim=claim)
    told = survival_sentence(found)
    assert "\x1b" not in told
    assert "\u202e" not in told
    assert "a\\x1b[31m is better" in told


def test_the_table_shows_both_ends_with_bounds_and_counts_the_quiet_ones(shown):
    quiet = case(Survival.HELD, 40.2)
    found = variation(
        Varied(RATE, case(Survival.HELD, 88.0), TURNED), Varied(SWING, quiet, quiet), sample=(HELD,)
    )
    told = " ".join(shown(page(*survival_tables(found))).split())
    assert "hours that b has more than a; as assumed 40 (30 to 50)." in told
    assert "1 other holds at both ends and moves it by no more than 0.5 h." in told
    assert "5 a year: holds 50 a year: turns 80" in told
    assert "88 (78 to 98) -40 (-50 to -30)" in told
    assert "the order survives 1 3 to 100" in told


def test_a_place_without_room_and_one_without_bearing_are_told_apart(shown):
    none = Varied(LEAF, Case(Survival.UNMOVED), Case(Survival.IMPOSSIBLE, why="no room"))
    told = shown(page(*survival_tables(variation(none))))
    assert "15 uA: no bearing" in told
    assert "60 uA: no room" in told


def test_json_keeps_every_default_with_both_ends_and_the_draws():
    found = variation(Varied(RATE, HELD, TURNED), sample=(HELD, TURNED)).to_json()
    assert found["order"] == "turned"
    (one,) = found["defaults"]
    assert one["key"] == RATE.key
    assert one["default"] == 20
    assert one["high"]["value"] == 50
    assert one["high"]["shows"] == "turned"
    assert one["high"]["difference"] == {"mean": 40.0, "low": 30.0, "high": 50.0}
    assert one["moves_hours"] == 80
    sample = found["sample"]
    assert sample["draws"] == 2
    assert sample["shows"]["held"]["draws"] == 1
    assert sample["fewest_hours"]["b"]["mean"] == 0.5


@pytest.mark.parametrize("setting", uncertain(), ids=lambda one: one.key)
def test_every_uncertain_setting_has_a_plain_name(setting):
    name = plain_name(setting)
    assert name.startswith("the ")
    assert "_" not in name
    assert not any(name.endswith(f" {unit}") for unit in ("db", "dbm", "h", "ua", "mah"))


def test_values_are_told_with_their_units():
    assert plain_value(RATE, 0.5) == "0.5 a year"
    assert plain_value(KNOWN["batteries.*.usable_share"], 0.6) == "0.6"
    assert plain_value(KNOWN["routing.hysteresis"], 64) == "64/128 transmissions"
    assert plain_value(KNOWN["radio.busy_95_dbm"], -75.0) == "-75 dBm"


def test_the_conclusion_stays_within_150_words(clear_case):
    ones = [Varied(one, TURNED, OPEN) for one in (RATE, LEAF, SWING)]
    found = variation(*ones, sample=(HELD,) * 12 + (TURNED,) * 5 + (OPEN,) * 3)
    told = " ".join(opening(clear_case, found)).split()
    assert len([word for word in told if any(letter.isalnum() for letter in word)]) <= 150
