"""Ranks of many sites, and who is surely or perhaps among the worst."""

import random

import pytest

from resilience.ranking.many.sites import Among, Figure, n_worst_of, placed, site_level_share


def figures(*bounds):
    return [Figure((low + high) / 2, low, high) for low, high in bounds]


def test_sites_whose_bounds_lie_apart_have_one_rank_each():
    places = placed(figures((0, 1), (4, 5), (2, 3), (6, 7)))
    assert [place.position for place in places] == [3, 1, 2, 0]
    assert [(one.rank, one.best_rank, one.worst_rank) for one in places] == [
        (k, k, k) for k in (1, 2, 3, 4)
    ]
    assert [one.among_worst for one in places] == [Among.SURELY, *[Among.NO] * 3]


def test_two_sites_that_overlap_may_each_be_the_worst():
    places = placed(figures((4, 8), (5, 9), (0, 1), (0, 2)))
    assert [(one.best_rank, one.worst_rank) for one in places] == [(1, 2), (1, 2), (3, 4), (3, 4)]
    assert [one.among_worst for one in places] == [
        *[Among.PERHAPS] * 2,
        *[Among.NO] * 2,
    ]


def test_no_truth_within_the_bounds_contradicts_what_is_said():
    """Any true values between the bounds, tried at random, leave each site within its ranks."""
    luck = random.Random(1)
    bounds = [sorted((luck.random(), luck.random())) for _ in range(40)]
    places = {one.position: one for one in placed(figures(*bounds))}
    for _ in range(300):
        truth = [luck.uniform(low, high) for low, high in bounds]
        for k, value in enumerate(truth):
            rank = 1 + sum(other > value for other in truth)
            assert places[k].best_rank <= rank <= places[k].worst_rank
            if rank <= n_worst_of(40):
                assert places[k].among_worst is not Among.NO
            else:
                assert places[k].among_worst is not Among.SURELY


def test_equal_sites_are_told_apart_by_nobody():
    assert {one.among_worst for one in placed(figures(*[(0, 0)] * 8))} == {Among.PERHAPS}


@pytest.mark.parametrize(("n_sites", "n_worst"), [(0, 1), (1, 1), (8, 2), (40, 10), (5000, 10)])
def test_the_worst_are_ten_or_a_quarter_of_few(n_sites, n_worst):
    assert n_worst_of(n_sites) == n_worst


def test_the_miss_is_shared_by_all_layouts_of_all_sites():
    # Bonferroni: the misses add up to 5 % at most.
    assert (1 - site_level_share(1000)) * 1000 == pytest.approx(0.05)
