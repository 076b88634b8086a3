"""Two layouts: what their difference proves, and what it is made of."""

import math

import numpy as np
import pytest

from resilience.montecarlo.sequences import ASYMPTOTIC
from resilience.ranking.pairs import Verdict, pair_of

N = 100  # building draws
STEADY = np.tile([-0.1, 0.1], N // 2)  # spread 0.1005 h, so a bound of 0.02 h at 95 %


@pytest.fixture(scope="module")
def pair(made_study):
    """The pair of two layouts from their orphan hours, and dark hours where they matter."""

    def of(first_h, second_h, first_dark_h=None, second_dark_h=None, level_share=0.95):
        first_h, second_h = (np.broadcast_to(hours, N) for hours in (first_h, second_h))
        dark_h = [
            hours if dark is None else np.broadcast_to(dark, N)
            for hours, dark in ((first_h, first_dark_h), (second_h, second_dark_h))
        ]
        studies = [
            made_study(name, orphan=orphan, dark=dark)
            for name, orphan, dark in zip("ab", (first_h, second_h), dark_h, strict=True)
        ]
        return pair_of(*studies, level_share)

    return of


def verdict(pair):
    return pair.verdict


def test_the_difference_is_paired_with_an_asymptotic_confidence_sequence(pair):
    """0.3921739005 standard deviations at 100 units and 99 % (package confseq 0.0.11)."""
    random = np.random.default_rng(2)
    first_h = np.round(random.gamma(2.0, 5.0, size=N), 3)
    second_h = np.round(first_h + random.normal(1.0, 0.5, size=N) + 3, 3)
    found = pair(first_h, second_h, level_share=0.99)
    d = first_h - second_h
    half = 0.3921739005 * d.std(ddof=1)
    expected = (d.mean() - half, d.mean() + half)
    assert (found.difference.low, found.difference.high) == pytest.approx(expected, rel=1e-6)
    assert found.difference.mean == pytest.approx(d.mean())
    assert (found.difference.level_share, found.difference.method) == (0.99, ASYMPTOTIC)
    assert (found.first, found.second, found.n_buildings) == ("a", "b", 100)


def test_fewer_orphan_hours_beyond_chance_are_better_and_more_are_worse(pair):
    assert verdict(pair(10 + STEADY, 13.0)) is Verdict.BETTER
    assert verdict(pair(13 + STEADY, 10.0)) is Verdict.WORSE


def test_a_difference_that_chance_could_make_is_too_close_to_call(pair):
    """Mean 3, spread 30: the bound of +-6 holds 0."""
    assert verdict(pair(60 + 300 * STEADY, 63.0)) is Verdict.TOO_CLOSE
    assert verdict(pair(63 + 300 * STEADY, 60.0)) is Verdict.TOO_CLOSE


def test_a_difference_within_half_an_hour_is_alike_though_it_excludes_0(pair):
    """Mean 0.4 h with a bound of 0.02 h."""
    for first_h, second_h in ((2.0, 2.4), (2.4, 2.0)):
        found = pair(first_h + STEADY, second_h)
        assert not found.difference.low <= 0 <= found.difference.high
        assert found.verdict is Verdict.ALIKE
    assert verdict(pair(2.0 + STEADY, 2.6)) is Verdict.BETTER


def test_a_difference_within_5_percent_of_the_better_is_alike(pair):
    """Of 100 h, 4.5 h are and 5.1 h are not; of 80 h, 4.5 h are not, whichever stands first."""
    assert verdict(pair(100 + STEADY, 104.5)) is Verdict.ALIKE
    assert verdict(pair(104.5 + STEADY, 100.0)) is Verdict.ALIKE
    assert verdict(pair(100 + STEADY, 105.1)) is Verdict.BETTER
    assert verdict(pair(80 + STEADY, 84.5)) is Verdict.BETTER
    assert verdict(pair(84.5 + STEADY, 80.0)) is Verdict.WORSE


def test_a_bound_that_reaches_beyond_indifference_is_not_alike(pair):
    """Mean 0.45 h, bound +-0.1 h, from 0.35 to 0.55 h: it excludes 0 and is then a difference."""
    assert verdict(pair(2.0 + 5 * STEADY, 2.45)) is Verdict.BETTER


@pytest.mark.parametrize(("n_differing", "expected"), [(99, "too close to call"), (100, "better")])
def test_no_pair_is_called_on_fewer_than_100_buildings_that_differ(pair, n_differing, expected):
    first_h = 10 + STEADY
    first_h[n_differing:] = 20.0
    found = pair(first_h, 20.0)
    assert found.difference.high < 0  # the bound alone would have called it
    assert found.verdict == expected


@pytest.mark.parametrize(("n_heavy", "expected"), [(49, "too close to call"), (51, "better")])
def test_no_pair_is_called_on_a_few_buildings_that_outweigh_all_others(pair, n_heavy, expected):
    """(sum |d|)^2 / sum d^2 is 49.1 and 51.1, against 50."""
    first_h = np.full(N, 199.9)
    first_h[:n_heavy] -= 99.9
    d = 200 - first_h
    assert (d.sum() ** 2 / (d**2).sum() > 50) == (expected == "better")
    found = pair(first_h, 200.0)
    assert found.difference.high < 0
    assert found.verdict == expected


def test_layouts_that_never_differed_are_not_yet_proven_alike(pair):
    """100 of 100 alike leaves (0.5238565 - 0.5) x 17532 h open (package confseq 0.0.11)."""
    found = pair(5.0, 5.0)
    assert found.verdict is Verdict.TOO_CLOSE
    assert found.difference.high == pytest.approx(0.0238564611 * 17532, rel=1e-7)


def test_a_single_building_decides_nothing(made_study):
    found = pair_of(made_study("a", orphan=[1.0]), made_study("b", orphan=[100.0]), 0.95)
    assert found.verdict is Verdict.TOO_CLOSE
    assert (found.difference.low, found.difference.high) == (-8766.0, 8766.0)


def test_fewer_orphan_hours_with_provenly_more_dark_hours_are_not_called_better(pair):
    found = pair(10 + STEADY, 13.0, first_dark_h=50 + STEADY, second_dark_h=49.0)
    assert found.verdict is Verdict.MIXED
    assert found.dark_difference.low > 0
    assert found.verdict.value == "fewer orphan hours, more dark hours"


def test_dark_hours_that_prove_nothing_leave_the_verdict_as_it_is(pair):
    """1 h more with a bound of +-6 h."""
    found = pair(10 + STEADY, 13.0, first_dark_h=250 + 300 * STEADY, second_dark_h=249.0)
    assert found.dark_difference.low < 0 < found.dark_difference.mean
    assert found.verdict is Verdict.BETTER


def test_the_share_of_buildings_with_fewer_orphan_hours_leaves_out_ties(pair):
    first_h = np.full(N, 5.0)
    first_h[:20], first_h[20:30] = 4.0, 6.0
    assert pair(first_h, 5.0).fewer_orphan_share == 0.20


HELD_FIRST = {
    ("hardware", "r1"): [2.0, 1.0],
    ("battery", "r1"): [4.0, 4.0],
    ("link_blockage", "g1~s1"): [0.5, 1.0],
    ("layout", ""): [1.0, 1.0],
}
HELD_SECOND = {
    ("link_blockage", "g1~s1"): [3.0, 3.25],
    ("radio draw", ""): [0.25, 0.0],
    ("layout", ""): [1.0, 1.0],
    ("hardware", "s9"): [0.125, 0.0],
}


@pytest.fixture(scope="module")
def reasons(made_study):
    studies = [
        made_study(name, orphan=np.sum(list(held.values()), axis=0), blame_h=held)
        for name, held in (("a", HELD_FIRST), ("b", HELD_SECOND))
    ]
    return pair_of(*studies, 0.95)


def test_reasons_add_up_to_the_difference_exactly(reasons):
    """All are multiples of 1/16 h, so that the floats are exact: 7.25 less 4.3125 h."""
    assert sum(reason.hours for reason in reasons.reasons) == reasons.difference.mean == 2.9375


def test_reasons_are_put_down_to_what_is_away_whatever_took_it(reasons):
    """By hand, per building: r1 5.5 less 0, the link 0.75 less 3.125, the draw 0 less 0.125."""
    told = [(one.subject, one.first_hours, one.second_hours) for one in reasons.reasons]
    assert told[:3] == [
        ("r1", 5.5, 0.0),
        ("g1~s1", 0.75, 3.125),
        ("radio draw", 0.0, 0.125),
    ]
    assert reasons.reasons[0].causes == ("battery", "hardware")  # the heavier first


def test_a_pair_is_told_under_stable_keys(reasons):
    form = reasons.to_json()
    assert form["layouts"] == ["a", "b"]
    assert (form["difference"], form["verdict"]) == (2.9375, "too close to call")
    assert form["low"] < 2.9375 < form["high"]
    assert set(form["dark_difference"]) == {"mean", "low", "high"}
    assert form["reasons"][0] == {"subject": "r1", "causes": ["battery", "hardware"], "hours": 5.5}
    assert form["fewer_orphan_hours_in_share_of_buildings"] == 0.0


def test_the_two_orders_of_a_pair_tell_the_same(pair):
    first_h, second_h = 13 + STEADY, 10.0
    one, other = pair(first_h, second_h), pair(second_h, first_h)
    assert one.difference.mean == -other.difference.mean
    assert (one.difference.low, one.difference.high) == (
        -other.difference.high,
        -other.difference.low,
    )
    assert (one.verdict, other.verdict) == (Verdict.WORSE, Verdict.BETTER)
    assert math.isclose(one.fewer_orphan_share, 0.0)
    assert other.fewer_orphan_share == 1.0
