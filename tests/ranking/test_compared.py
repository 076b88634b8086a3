"""Whoever plays, the same question is asked and the same order comes out."""

from functools import partial

import pytest

from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import studies
from resilience.ranking.comparison import compare, compared


@pytest.fixture
def site(small_site):
    near = small_site.layout("near", links="g1~s1=0.9")
    return small_site(near, small_site.layout("twin", links="g1~s1=0.8"))


def test_the_reference_and_threads_serve_alike(site):
    budget = Budget(lifetimes=6)
    expected = compare(site, seed=3, budget=budget).to_json()
    for engine, workers in ((REFERENCE, 1), (COMPILED, 3)):
        undertaking = Undertaking(site, site.layouts, 3, False, engine)
        play = partial(studies, undertaking, budget, workers=workers)
        assert compared(site, play).to_json() == expected


def test_who_plays_is_told_when_the_order_is_clear(site, made_study):
    """600 buildings in which one loses 30 h and the other 10 h, give or take 0.1 h."""
    told: list[Ruling] = []

    def play(question):
        found = [
            made_study("near", orphan=[29.9, 30.1] * 300),
            made_study("twin", orphan=[10.1, 9.9] * 300),
        ]
        told.append(question(found))
        return found

    comparison = compared(site, play)
    assert [one.layout.name for one in comparison.placed] == ["twin", "near"]
    assert told == [Ruling(SETTLED, frozenset({0}))]
