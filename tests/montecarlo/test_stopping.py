"""Looks, and what a question says at them."""

import math
from itertools import islice, pairwise, takewhile

import pytest

from resilience.errors import UsageError
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.stopping import (
    PRECISE,
    SETTLED,
    Precision,
    Ruling,
    first_of,
    known_to,
    looks,
    open_question,
)


def test_the_first_looks_are_those_worked_out_by_hand():
    """256 x 1.41421 = 362.04 -> 384; 543.06 -> 576; 814.59 -> 832; 1176.6 -> 1216; 1719.7 -> 1728.

    And 2443.8 -> 2496, 3529.9 -> 3584, 5068.5 -> 5120.
    """
    expected = [64, 128, 256, 384, 576, 832, 1216, 1728, 2496, 3584, 5120]
    assert list(islice(looks(), 11)) == expected


def test_later_looks_are_the_square_root_of_2_apart_and_whole_steps():
    """The sharp comparison of squares holds in whole numbers however large."""
    late = [look for look in islice(looks(), 60) if look >= 256]
    for before, after in pairwise(late):
        assert after % 64 == 0
        assert (after - 64) ** 2 < 2 * before**2 < after**2


def test_looks_begin_anew_for_every_study_and_are_few():
    assert list(islice(looks(), 3)) == list(islice(looks(), 3))
    assert len(list(takewhile(lambda look: look <= 100_000, looks()))) == 19


def estimate(mean, half):
    return Estimate(mean, mean - half, mean + half, 0.95, "made by hand")


@pytest.mark.parametrize(
    ("mean", "half", "is_reached"),
    [
        (3.0, 0.5, True),
        (3.0, 0.51, False),
        (10.0, 1.0, True),
        (-10.0, 1.0, True),
        (9.9, 1.0, False),
    ],
)
def test_a_precision_is_the_larger_of_an_absolute_and_a_relative_one(mean, half, is_reached):
    """0.5 or 10 %: of 3 the first, of 10 the second."""
    assert Precision(0.5, 0.1).is_reached_by(estimate(mean, half)) is is_reached


def test_a_bound_without_end_reaches_no_precision():
    assert not Precision(0.5, 0.1).is_reached_by(Estimate(3.0, 0.0, math.inf, 0.95, "by hand"))
    assert not Precision(0.5, 0.1).is_reached_by(Estimate(math.nan, 0.0, 9.0, 0.95, "by hand"))


@pytest.mark.parametrize(("absolute", "share"), [(0.0, 0.0), (-1.0, 2.0), (math.nan, 0.1)])
def test_a_precision_of_nothing_is_refused(absolute, share):
    with pytest.raises(UsageError, match="above 0"):
        Precision(absolute, share)


def test_a_study_is_precise_when_every_layout_is():
    question = known_to(Precision(0.5), lambda half: estimate(3.0, half))
    assert question([0.4, 0.5]) == Ruling(PRECISE)
    assert question([0.4, 0.6]) == Ruling()


def test_an_open_question_never_ends_a_study():
    assert open_question([1, 2]) == Ruling("", frozenset())


def test_the_first_question_that_is_answered_ends_the_study_and_all_may_drop():
    rulings = (Ruling("", frozenset({0})), Ruling(SETTLED, frozenset({1})), Ruling("too late"))
    question = first_of(*(lambda _, ruling=ruling: ruling for ruling in rulings))
    assert question([1, 2]) == Ruling(SETTLED, frozenset({0, 1}))
    assert first_of(open_question, open_question)([1]) == Ruling()


def test_reasons_are_told_in_words():
    """They complete the sentence `It stopped because ...`."""
    assert SETTLED == "its question is settled"
    assert PRECISE == "the precision asked for was reached"
