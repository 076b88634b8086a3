"""Looks, and what a question says at them."""

from itertools import islice, pairwise, takewhile

from resilience.montecarlo.stopping import SETTLED, Ruling, looks, open_question


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


def test_an_open_question_never_ends_a_study():
    assert open_question([1, 2]) == Ruling("", frozenset())


def test_the_reason_is_told_in_words():
    """It completes the sentence `It stopped because ...`."""
    assert SETTLED == "its question is settled"
