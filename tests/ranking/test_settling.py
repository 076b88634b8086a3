"""When the order is clear: what ends a comparison, what is dropped, and what stays of it."""

import numpy as np
import pytest

from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.ranking.comparison import ranked
from resilience.ranking.pairs import RankedBy, Verdict, pair_of
from resilience.ranking.settling import Settling, pair_level_share

N = 1216
STEADY = np.tile([-0.1, 0.1], N)  # caps of 20 h leave 0.2 h open
WILD = 1000 * STEADY  # and these 11 h


@pytest.fixture(scope="module")
def studies(made_study):
    """Studies of the first n building draws of each layout."""

    def of(n=N, **hours):
        return [made_study(name, orphan=values[:n]) for name, values in hours.items()]

    return of


def test_the_level_of_a_pair_is_bonferronis():
    """4 layouts make 6 pairs; 1 - 0.05 / 6. One layout makes none and keeps the level."""
    assert pair_level_share(4) == pytest.approx(0.991666667)
    assert pair_level_share(2) == pair_level_share(1) == pytest.approx(0.95)


def test_a_comparison_is_settled_when_every_pair_is(studies):
    """b is better than both; a and c are 0.2 h apart, within the indifference."""
    ruling = Settling()(studies(a=20 + STEADY, b=10 - STEADY, c=20.2 - STEADY))
    assert ruling == Ruling(SETTLED, frozenset({0, 2}))


def test_a_comparison_goes_on_while_two_that_play_are_too_close_to_call(studies):
    ruling = Settling()(studies(a=120 + WILD, b=123 - WILD))
    assert ruling == Ruling()


def test_only_what_is_worse_than_the_leader_is_dropped(studies):
    """d is worse than the leader a; b may still lead; c is worse than neither beyond doubt."""
    ruling = Settling()(studies(a=120 + STEADY, b=121 + WILD, c=124 - WILD, d=140 - STEADY))
    assert ruling == Ruling("", frozenset({3}))


def test_a_single_layout_asks_nothing_and_plays_what_it_is_given(studies):
    assert Settling()(studies(a=20 + STEADY)) == Ruling()


def test_a_dropped_layout_holds_up_nothing_and_its_pairs_stay_as_they_were(studies, small_site):
    """c is dropped at 1,216 building draws, when b, which is wild there, is not told from it.

    From then on b settles down; the pair b-c still rests on 1,216.
    """
    b = np.concatenate([121 + WILD[:N], np.full(N, 121.0)])
    hours = {"a": 120 + STEADY, "b": b, "c": 128 - STEADY}
    settling, first = Settling(), studies(**hours)
    assert settling(first) == Ruling("", frozenset({2}))
    later = [*studies(n=2 * N, **hours)[:2], first[2]]
    assert settling(later).dropped == frozenset()
    site = small_site(*(small_site.layout(name, links="g1~s1=0.9") for name in hours))
    found = ranked(site, later, settling.pair)
    numbers = {(pair.first, pair.second): pair.n_buildings for pair in found.pairs}
    assert numbers == {("a", "b"): 2 * N, ("a", "c"): N, ("b", "c"): N}
    kept = found.pair("a", "c")
    assert kept == pair_of(first[0], first[2], 1 - 0.05 / 3, RankedBy.SERVICE)
    assert kept.verdict is Verdict.BETTER
    assert found.pair("b", "c").verdict is Verdict.TOO_CLOSE
    assert sum(one.hours for one in kept.reasons) == pytest.approx(kept.difference.mean)
    assert [placed.rank for placed in found.placed] == [1, 1, 2]
