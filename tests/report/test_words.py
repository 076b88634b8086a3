import math
from datetime import date

import pytest

from resilience.montecarlo.estimates import TOO_FEW, Estimate
from resilience.report.words import (
    at_least,
    at_most,
    counted,
    decimals,
    figure,
    figure_parts,
    listed,
    moment,
    per_year,
    rounded,
    span,
    two_digits,
    visible,
)


def estimate(mean: float, low: float, high: float, method: str = "t") -> Estimate:
    return Estimate(mean, low, high, 0.95, method)


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [(0.827, 0.119, "0.83"), (0.827, 0.367, "0.8"), (14.674, 0.964, "14.7")],
)
def test_digits_follow_the_error_as_particle_physicists_round(value, error, text):
    """The examples of the Review of Particle Physics, introduction, "Rounding" (from memory).

    There 14.674 with 0.964 becomes 14.7 with 1.0, since errors from 950 round up to 1000.
    """
    assert rounded(value, decimals(error)) == text


def test_the_value_keeps_a_digit_even_where_its_error_is_larger():
    assert figure_parts(estimate(0.5, 0.0, 40.0))[0] == "0.5"


def test_tens_and_hundreds_are_rounded_where_the_error_is_of_their_size():
    assert figure(estimate(1234, 934, 1534)) == "1,230 (930 to 1,530)"
    assert figure(estimate(1234, 734, 1734)) == "1,200 (700 to 1,700)"


def test_no_events_are_an_upper_bound_that_is_never_rounded_down():
    assert figure(estimate(0.0, 0.0, 11.91)) == "0 (at most 12)"
    assert at_most(0.0123) == "0.013"
    assert at_most(12) == "12"
    assert figure(estimate(0.0, 0.0, math.inf)) == "0 (none seen)"


def test_a_lower_bound_is_rounded_down():
    assert at_least(0.0129) == "0.012"
    assert at_least(36.9) == "36"
    assert at_least(1290) == "1,200"
    assert at_least(0.0) == "0"


def test_two_digits_keep_what_stands_before_the_decimal_point():
    assert [two_digits(value) for value in (0.123, 1.25, 12.6, 1234.5)] == [
        "0.12",
        "1.2",
        "13",
        "1,234",
    ]


def test_a_single_building_draw_shows_no_bounds():
    assert figure(estimate(41.234, 0, 8766, TOO_FEW)) == "41 (no bounds)"


def test_what_was_never_seen_is_not_a_number_on_the_screen_either():
    assert figure(estimate(math.nan, 0, math.inf)) == "none (never seen)"


def test_an_open_bound_says_so():
    assert figure(estimate(4, 3, math.inf)) == "4 (3 or more)"


def test_shares_are_shown_as_percentages():
    assert figure(estimate(0.0123, 0.0113, 0.0133), 100) == "1.23 (1.13 to 1.33)"


def test_zero_has_no_sign():
    assert rounded(-0.04, 1) == "0.0"


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (0.005, "18 s"),
        (0.5, "30 min"),
        (1, "1.0 h"),
        (47, "47.0 h"),
        (72, "3.0 days"),
        (8766, "1.0 years"),
    ],
)
def test_spans_take_the_unit_that_a_person_would(hours, text):
    assert span(hours) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0, "no"), (0.034, "0.03"), (1.3, "1.3"), (6.04, "6"), (1234.4, "1,234")]
)
def test_counts_per_year_are_short(value, text):
    assert per_year(value) == text


def test_moments_count_from_hand_over_in_utc():
    """2028 is a leap year: 59 days after New Year comes 29 February (calendar)."""
    assert moment(date(2028, 1, 1), (59 * 24 * 60 + 432) * 60_000) == "2028-02-29 07:12"


def test_names_are_listed_as_a_sentence_and_the_rest_counted():
    assert listed(["S1"]) == "S1"
    assert listed(["S1", "S2", "S3"]) == "S1, S2 and S3"
    assert listed([f"S{k}" for k in range(20)], most=2) == "S0, S1 and 18 more"
    assert counted(1, "wall") == "1 wall"
    assert counted(2, "flat battery", "flat batteries") == "2 flat batteries"


@pytest.mark.parametrize(
    ("hostile", "text"),
    [
        ("\x1b[31mred\x1b[0m", "\\x1b[31mred\\x1b[0m"),
        ("a\u202eb", "a\\u202eb"),
        ("a\u200fb", "a\\u200fb"),
        ("a\u2066b\u2069", "a\\u2066b\\u2069"),
        ("bell\x07\n", "bell\\x07\\n"),
        ("\ud800", "\\ud800"),
        ("[bold]x[/bold] \u00e9", "[bold]x[/bold] \u00e9"),
    ],
)
def test_control_characters_and_direction_marks_are_shown_as_escapes(hostile, text):
    """Direction marks as listed in Unicode Standard Annex 9, section 2 (from memory)."""
    assert visible(hostile) == text
