"""Two layouts: what their difference proves, and what it is made of."""

import math

import numpy as np
import pytest

from resilience.montecarlo.sequences import capped_sequence
from resilience.ranking.pairs import DIFFERENCE, RankedBy, Verdict, pair_of, ranked_by

N = 2000  # building draws
STEADY = np.tile([-0.1, 0.1], N // 2)  # caps of 20 h leave 0.08 h open
WILD = 1000 * STEADY  # and these 9 h


@pytest.fixture(scope="module")
def pair(made_study):
    """The pair of two layouts from their orphan hours, and dark hours where they matter."""

    def of(first_h, second_h, first_dark_h=None, second_dark_h=None, level_share=0.95):
        n = max(np.size(first_h), np.size(second_h))
        n = N if n == 1 else n  # single values stand for all building draws
        first_h, second_h = (np.broadcast_to(hours, n) for hours in (first_h, second_h))
        dark_h = [
            hours if dark is None else np.broadcast_to(dark, n)
            for hours, dark in ((first_h, first_dark_h), (second_h, second_dark_h))
        ]
        studies = [
            made_study(name, orphan=orphan, dark=dark)
            for name, orphan, dark in zip("ab", (first_h, second_h), dark_h, strict=True)
        ]
        return pair_of(*studies, level_share, RankedBy.ALL)

    return of


def verdict(pair):
    return pair.verdict


def test_the_difference_is_paired_building_by_building(pair):
    random = np.random.default_rng(2)
    first_h = np.round(random.gamma(2.0, 5.0, size=N), 3)
    second_h = np.round(first_h + random.normal(1.0, 0.5, size=N) + 3, 3)
    found = pair(first_h, second_h, level_share=0.99)
    expected = capped_sequence(first_h - second_h, DIFFERENCE, 20.0, 0.99)
    for name in ("mean", "low", "high"):
        assert getattr(found.difference, name) == pytest.approx(getattr(expected, name), abs=1e-6)
    assert (found.first, found.second, found.n_buildings) == ("a", "b", N)


def test_fewer_orphan_hours_beyond_chance_are_better_and_more_are_worse(pair):
    assert verdict(pair(10 + STEADY, 13.0)) is Verdict.BETTER
    assert verdict(pair(13 + STEADY, 10.0)) is Verdict.WORSE


def test_a_difference_that_chance_could_make_is_too_close_to_call(pair):
    """Mean 5, spread 100: the bound of +-9 holds 0."""
    assert verdict(pair(160 + WILD, 165.0)) is Verdict.TOO_CLOSE
    assert verdict(pair(165 + WILD, 160.0)) is Verdict.TOO_CLOSE


def test_a_difference_within_half_an_hour_is_alike_though_it_excludes_0(pair):
    """Mean 0.4 h with a bound of 0.08 h."""
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
    """Mean 0.45 h and a bound of 0.08 h: it excludes 0 and is then a difference."""
    assert verdict(pair(2.0 + STEADY, 2.45)) is Verdict.BETTER


def test_rare_large_losses_do_not_pass_for_alike(pair):
    """One building in 500 loses 2,000 h with the second: 4 h on average, ordinarily none."""
    second_h = np.zeros(N)
    second_h[100::500] = 2000.0
    found = pair(0.0, second_h)
    assert found.difference.mean == -4.0
    assert found.verdict is Verdict.TOO_CLOSE


def test_layouts_that_differ_in_few_buildings_are_alike_but_for_those(pair):
    """8 of 1,600 building draws differ, by 30 h: bounds of the mean reach past half an hour."""
    second_h = np.zeros(N)
    second_h[40::250] = 30.0
    found = pair(0.0, second_h[:400])
    assert found.verdict is Verdict.NEARLY_ALIKE
    assert not found.is_settled


def test_layouts_that_never_differ_are_the_same_once_few_buildings_could(pair):
    """log(40) / log(1 + 0.75 / (1 - 0.05) 0.05) = 95.3 units refute that 1 in 20 differs."""
    varied = np.abs(10 * STEADY)
    assert verdict(pair(varied[:96], varied[:96])) is Verdict.SAME
    assert verdict(pair(varied[:95], varied[:95])) is Verdict.TOO_CLOSE


def test_a_verdict_says_what_it_leaves_aside(pair):
    """1,968 building draws within the caps: at most 0.3 % may lie beyond, 26 h if they all did."""
    small, large = pair(10 + STEADY, 13.0), pair(10 + STEADY, 90.0)
    assert small.leaves_aside == int(1 / small.difference.beyond.share.high) > 250
    assert large.leaves_aside == 0
    assert small.to_json()["leaves_aside_what_is_rarer_than_one_in"] == small.leaves_aside
    assert large.to_json()["leaves_aside_what_is_rarer_than_one_in"] is None


def test_a_verdict_that_leaves_more_aside_than_1_building_in_20_settles_nothing(pair):
    few = pair(10 + STEADY[:80], np.full(80, 13.0))
    assert few.verdict is Verdict.BETTER
    assert few.leaves_aside < 20
    assert not few.is_settled


# Which hours decide: those in service, unless hand-over makes more of a difference.


def test_hours_in_service_decide_unless_hand_over_makes_more_of_a_difference(made_study):
    one = made_study("a", orphan=[12.0] * 40, not_reached=[2.0] * 40)
    other = made_study("b", orphan=[9.0] * 40, not_reached=[1.0] * 40)
    unreached = made_study("c", orphan=[40.0] * 40, not_reached=[30.0] * 40)
    assert ranked_by([one, other]) is RankedBy.SERVICE
    assert ranked_by([one, other, unreached]) is RankedBy.ALL
    assert RankedBy.SERVICE.estimate(one).mean == 10.0
    assert RankedBy.ALL.estimate(one).mean == 12.0


def test_only_the_pilot_says_which_hours_decide(made_study):
    """What follows the first 32 building draws counts for bounds, so it may not choose."""
    late = [0.0] * 32 + [500.0] * 32
    found = [
        made_study("a", orphan=[9.0] * 64, not_reached=[0.0] * 64),
        made_study("b", orphan=[10.0] * 32 + [510.0] * 32, not_reached=late),
    ]
    assert ranked_by(found) is RankedBy.SERVICE


def test_a_single_building_decides_nothing(made_study):
    found = pair_of(
        made_study("a", orphan=[1.0]), made_study("b", orphan=[100.0]), 0.95, RankedBy.ALL
    )
    assert found.verdict is Verdict.TOO_CLOSE
    assert (found.difference.low, found.difference.high) == (-8766.0, 8766.0)


def test_fewer_orphan_hours_with_provenly_more_dark_hours_are_not_called_better(pair):
    found = pair(10 + STEADY, 13.0, first_dark_h=50 + STEADY, second_dark_h=49.0)
    assert found.verdict is Verdict.MIXED
    assert found.dark_difference.low > 0
    assert found.verdict.value == "fewer orphan hours, more dark hours"


def test_dark_hours_that_prove_nothing_leave_the_verdict_as_it_is(pair):
    """1 h more with a bound of +-9 h."""
    found = pair(10 + STEADY, 13.0, first_dark_h=250 + WILD, second_dark_h=249.0)
    assert found.dark_difference.low < 0 < found.dark_difference.mean
    assert found.verdict is Verdict.BETTER


def test_the_share_of_buildings_with_fewer_orphan_hours_leaves_out_ties(pair):
    first_h = np.full(N, 5.0)
    first_h[:400], first_h[400:600] = 4.0, 6.0
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
    return pair_of(*studies, 0.95, RankedBy.ALL)


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
