"""Bounds of all promises of a study hold together, and the frontier never contradicts a verdict."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.building.service.policy import Policy
from resilience.montecarlo.estimates import SHARE
from resilience.montecarlo.sequences import BOLD_BET_SHARE, betting_sequence
from resilience.policy.bounds import Bounds, broken_share, level_shares
from resilience.policy.frontier import frontier
from resilience.policy.judgement import Verdict
from resilience.policy.judging import verdict_of
from resilience.units import MS_PER_H

DAY_MS = 24 * MS_PER_H


@st.composite
def _lifetimes(draw):
    """Largest numbers lost by duration: they fall as durations grow, as those of a lifetime do."""
    n = 2 * draw(st.sampled_from([1, 20, 64, 150]))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    is_bad = random.random(n) < draw(st.sampled_from([0.0, 0.02, 0.1, 0.5, 1.0]))
    most = np.sort(random.integers(0, 6, size=(n, 12)), axis=1)[:, ::-1]
    return most * is_bad[:, None]


@settings(max_examples=25, deadline=None)
@given(most=_lifetimes(), probability=st.sampled_from([0.5, 0.9, 0.95]), data=st.data())
def test_the_frontier_falls_with_the_duration_and_agrees_with_every_verdict(
    lost_study, most, probability, data
):
    own_ms = data.draw(st.sampled_from([1, 24, 1440])) * MS_PER_H
    bounds = Bounds(lost_study("a", most), "orphans", own_ms, 3)
    steps = frontier(bounds, probability)
    promised = [5 if step.promised is None else step.promised for step in steps]
    refuted = [-1 if step.refuted is None else step.refuted for step in steps]
    assert promised == sorted(promised, reverse=True)
    assert refuted == sorted(refuted, reverse=True)
    own = next(step for step in steps if step.longer_than_h * MS_PER_H == own_ms)
    for max_count in range(5):
        policy = Policy(own.longer_than_h, probability, max_orphans=max_count)
        verdict = verdict_of(bounds.estimate(max_count), policy)
        is_promised = own.promised is not None and max_count >= own.promised
        assert (verdict is Verdict.KEPT) == is_promised
        is_refuted = own.refuted is not None and max_count <= own.refuted
        assert (verdict is Verdict.BROKEN) == is_refuted


def test_all_levels_together_miss_no_more_than_one_in_twenty():
    """Boole: three layouts, each with its own duration and eleven others."""
    own, other = level_shares(3)
    assert math.isclose(3 * ((1 - own) + 11 * (1 - other)), 0.05)


def test_what_never_happens_is_rarer_than_5_in_100_after_128_buildings_for_six_layouts_at_once():
    """A miss of 1 in 480 on the upper side: 0.95^n has to fall below it, which takes 121 at least.

    Bets of 0.95 of the capital make 1.05 of 1 with every building: 1.05^127 is above 480.
    """
    assert 0.95**121 < 1 / 480 < 0.95**120
    assert 1.05**126 < 480 < 1.05**127
    own, _ = level_shares(6)
    assert broken_share(np.zeros(2 * 128, np.int64), 0, own).high <= 0.05
    assert broken_share(np.zeros(2 * 120, np.int64), 0, own).high > 0.05


def test_the_bound_is_that_of_buildings_and_not_of_lifetimes():
    """Two lifetimes that always break together are worth one."""
    paired = np.repeat([1, 0, 0, 0, 0, 0, 0, 0] * 8, 2)
    expected = betting_sequence(paired[::2].astype(float), SHARE, 0.9, BOLD_BET_SHARE)
    assert broken_share(paired, 0, 0.9) == expected
    apart = np.tile([1, 0, 0, 0, 0, 0, 0, 0], 16)
    assert broken_share(apart, 0, 0.9).high < expected.high


def test_what_was_never_broken_is_promised_once_enough_was_played(lost_study):
    """Bets of 0.75 on a share of 0.05 take ln(2 / miss) / ln(1 + 0.75 * 0.05 / 0.95) units.

    Looks come at 64, 128 and 256 of them.
    """
    own, other = level_shares(1)
    units = [math.log(2 / (1 - level)) / math.log1p(0.75 * 0.05 / 0.95) for level in (own, other)]
    assert [math.ceil(one) for one in units] == [114, 176]
    none = lost_study("a", np.zeros((2 * 256, 12), np.int64))
    assert {step.promised for step in frontier(Bounds(none, "orphans", DAY_MS, 1), 0.95)} == {0}
    few = lost_study("a", np.zeros((2 * 128, 12), np.int64))
    steps = frontier(Bounds(few, "orphans", DAY_MS, 1), 0.95)
    assert [step.promised for step in steps] == [None] * 5 + [0] * 7  # from the policy's own on


def test_a_count_that_all_sensors_fit_into_is_never_broken(lost_study):
    bounds = Bounds(lost_study("a", np.full((2, 12), 5)), "orphans", DAY_MS, 1)
    assert bounds.estimate(5).high == 0
    assert bounds.estimate(4).mean == pytest.approx(1)
