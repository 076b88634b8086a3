"""Bounds over all looks against their published forms, quadrature, and another implementation."""

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.montecarlo.estimates import SHARE, TOO_FEW, Limits
from resilience.montecarlo.sequences import (
    BERNSTEIN,
    BETTING,
    CAPPED,
    betting_quantile,
    betting_ratio,
    betting_sequence,
    capped_sequence,
    shares_from_sums,
)

LOOKS = (64, 128, 256, 384, 576, 832)

# confseq 0.0.11 (the package of Howard, Waudby-Smith and others), run under numpy 1.26: its
# betting_mart(..., trunc_scale=0.75), its crossings with 1 / miss found by
# halving, and their running intersection over the looks.
BETS = [
    (
        "even",
        0.05,
        (0.320882885, 0.381874634, 0.412409518, 0.425525896, 0.429010669, 0.441444328),
        (0.542470711, 0.542470711, 0.535639774, 0.530075306, 0.518089418, 0.518089418),
    ),
    (
        "even",
        0.05 / 6,
        (0.309417375, 0.373615022, 0.406498440, 0.420828159, 0.424999776, 0.438173628),
        (0.566906472, 0.562161389, 0.549162822, 0.541495838, 0.527772538, 0.527166412),
    ),
    (
        "breaches",
        0.05,
        (0.012377686, 0.017107049, 0.017107049, 0.017107049, 0.018352620, 0.020955791),
        (0.144451260, 0.093808630, 0.056594296, 0.048851687, 0.045713476, 0.044143160),
    ),
    (
        "breaches",
        0.05 / 6,
        (0.001635706, 0.009848912, 0.009848912, 0.011590240, 0.015220460, 0.018310541),
        (0.175246069, 0.109807332, 0.062064792, 0.052392806, 0.048389107, 0.046323240),
    ),
    (
        "heavy",
        0.05,
        (0.0, 0.0, 0.0, 0.002356887, 0.005883364, 0.007686482),
        (0.117207010, 0.062956251, 0.034631418, 0.030284852, 0.028820593, 0.026545869),
    ),
    (
        "none",
        0.05,
        (0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        (0.073310108, 0.037522095, 0.018984617, 0.012706789, 0.008493714, 0.005889894),
    ),
]


def made_up(name):
    """Shares of 832 building draws: even, pairs of rare breaches, mostly none with rare large."""
    uniform = np.random.default_rng(17).random((832, 3))
    return {
        "even": uniform[:, 0],
        "breaches": (uniform[:, :2] < 0.03).mean(axis=1),
        "heavy": np.where(uniform[:, 0] < 0.1, uniform[:, 1] ** 4, 0.0),
        "none": np.zeros(832),
    }[name]


@pytest.mark.parametrize(("name", "miss", "lows", "highs"), BETS)
def test_bets_leave_what_an_independent_implementation_leaves(name, miss, lows, highs):
    values = made_up(name)
    for n, low, high in zip(LOOKS, lows, highs, strict=True):
        found = betting_sequence(values[:n], SHARE, 1 - miss)
        assert (found.low, found.high) == pytest.approx((low, high), abs=2e-9)
        assert (found.method, found.level_share) == (BETTING, 1 - miss)


def test_bets_on_two_ones_are_worked_out_by_hand():
    """Stakes sqrt(2 log 40 / (v t log(1 + t))) with v = 1/4, then (1/4 + (1 - 3/4)^2) / 2 = 5/32.

    So 6.525 and 4.636, both below 0.75 / m for small m; (1 + 6.525 y)(1 + 4.636 y) = 40 has the
    root y = 1 - m = 0.9659. On the other side both units lose, and nothing is refuted.
    """
    a, b = (math.sqrt(2 * math.log(40) / x) for x in (math.log(2) / 4, 10 / 32 * math.log(3)))
    root = (-(a + b) + math.sqrt((a + b) ** 2 + 4 * 39 * a * b)) / (2 * a * b)
    assert (a, b, root) == pytest.approx((6.525, 4.636, 0.9659), abs=5e-4)
    found = betting_sequence(np.ones(2), SHARE)
    assert (found.low, found.high) == (pytest.approx(1 - root, abs=1e-9), 1.0)


def test_a_bound_in_other_limits_is_scaled():
    """Hours of a year instead of shares, and differences of both signs."""
    values = made_up("heavy")
    share = betting_sequence(values, SHARE)
    for limits in (Limits(0.0, 8766.0), Limits(-8766.0, 8766.0)):
        span = limits.largest - limits.least
        found = betting_sequence(limits.least + span * values, limits)
        for name in ("mean", "low", "high"):
            expected = limits.least + span * getattr(share, name)
            assert getattr(found, name) == pytest.approx(expected, abs=1e-5)


def test_limits_that_leave_one_value_or_no_end_are_the_bound():
    """A share of nothing else than 1 is known; hours without end are not bounded by bets."""
    found = betting_sequence(np.ones(64), Limits(1.0, 1.0))
    assert (found.mean, found.low, found.high) == (1.0, 1.0, 1.0)
    endless = betting_sequence(np.arange(64.0), Limits(0.0, math.inf))
    assert (endless.mean, endless.low, endless.high) == (31.5, 0.0, math.inf)


def test_both_sides_are_mirrored():
    values = made_up("breaches")
    one, other = betting_sequence(values, SHARE), betting_sequence(1 - values, SHARE)
    assert (one.low, one.high) == pytest.approx((1 - other.high, 1 - other.low), abs=1e-12)


def test_a_longer_study_never_loosens_the_bound():
    values = made_up("breaches")
    found = [betting_sequence(values[:n], SHARE) for n in LOOKS]
    assert all(np.diff([one.low for one in found]) >= 0)
    assert all(np.diff([one.high for one in found]) <= 0)


def test_units_that_no_one_mean_explains_leave_everything_open():
    """1,000 ones and then 9,000 zeros are no draws from one law: each half refutes the other."""
    values = np.repeat([1.0, 0.0], [1000, 9000])
    found = betting_sequence(values, SHARE)
    assert (found.low, found.mean, found.high) == (0.0, 0.1, 1.0)


def test_a_mean_that_left_what_earlier_looks_had_proven_is_taken_in():
    values = np.concatenate([np.tile([0.2, 0.8], 200), np.tile([0.1, 0.7], 2000)])
    found = betting_sequence(values, SHARE)
    assert found.low <= found.mean <= found.high


def test_a_hundred_thousand_units_are_bounded_in_well_under_a_second():
    values = (np.random.default_rng(3).random((100_000, 2)) < 0.02).mean(axis=1)
    begun = time.perf_counter()
    found = betting_sequence(values, SHARE)
    assert time.perf_counter() - begun < 1.0  # 0.1 s on one core of a small machine
    assert 0.0175 < found.low < 0.02 < found.high < 0.0225


shares = st.lists(st.sampled_from((0.0, 1e-9, 0.1, 1 / 3, 0.5, 1.0)), min_size=1, max_size=80)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(values=shares, level=st.sampled_from((0.5, 0.95, 0.9999)))
def test_no_mean_is_shown_as_certain_and_none_leaves_its_limits(values, level):
    found = betting_sequence(np.array(values), SHARE, level)
    assert 0 <= found.low <= found.mean <= found.high <= 1
    assert found.high - found.low > 1e-10


HOURS = Limits(-8766.0, 8766.0)


def test_before_the_pilot_is_over_nothing_is_bounded():
    found = capped_sequence(np.arange(32.0), HOURS, 20.0)
    assert (found.mean, found.low, found.high) == (15.5, -8766.0, 8766.0)
    assert found.method == TOO_FEW


def test_caps_are_twice_what_the_pilot_had_on_each_side_and_at_least_the_room():
    """Largest 70 and least -3 among the first 32; what comes later changes nothing."""
    pilot = np.linspace(-3.0, 70.0, 32)
    found = capped_sequence(np.concatenate([pilot, [5.0, 900.0, -100.0]]), HOURS, 20.0)
    assert found.beyond.caps == Limits(-20.0, 140.0)
    assert (found.beyond.n_seen, found.beyond.n_units) == (2, 3)
    assert capped_sequence(np.full(40, 7000.0), HOURS, 20.0).beyond.caps == Limits(-20.0, 8766.0)


def test_the_two_parts_of_a_bound_are_bets_at_half_the_miss_each():
    random = np.random.default_rng(4)
    values = np.concatenate([np.zeros(32), random.normal(3.0, 2.0, size=200), [500.0]])
    found = capped_sequence(values, HOURS, 20.0, 0.98)
    mean = betting_sequence(np.minimum(values[32:], 20.0), Limits(-20.0, 20.0), 0.99)
    share = betting_sequence((values[32:] > 20.0) * 1.0, SHARE, 0.99)
    assert (found.low, found.high) == pytest.approx((mean.low, max(mean.high, values.mean())))
    assert found.beyond.share == share
    assert (found.level_share, found.method) == (0.98, CAPPED)


def test_a_mean_that_rare_values_carry_lies_within_what_is_shown():
    """3 of 1,000 building draws lose 2,000 h: 6 h on average, and capped at 20 h next to none."""
    values = np.zeros(1000)
    values[[300, 600, 900]] = 2000.0
    found = capped_sequence(values, Limits(0.0, 8766.0), 20.0)
    assert (found.mean, found.high) == (6.0, 6.0)
    assert 3 / 968 < found.beyond.share.high < 0.015


def test_bounds_of_ordinary_hours_are_nearly_as_narrow_as_a_normal_law_allows():
    """1,000 normal units of spread 30: 3.10 standard errors are the asymptotic sequence's
    half width there (package confseq 0.0.11), which knows nothing of rare values."""
    values = np.random.default_rng(8).normal(43.0, 30.0, size=1000)
    found = capped_sequence(values, HOURS, 20.0)
    assert found.high - found.low < 1.35 * 2 * 3.10 * 30 / math.sqrt(1000)


def test_a_ratio_is_bounded_by_what_can_be_said_of_both_sums():
    """(10 + 90) h at depths 1 and 2, of at most 100 each: 190 / 100."""
    below, above = np.tile([10.0, 90.0], 200), np.tile([10.0, 180.0], 200)
    found = betting_ratio(above, below, 100.0, 5.0)
    excess = betting_sequence((above - below) / 100, Limits(0.0, 4.0), 0.975)
    denominator = betting_sequence(below / 100, SHARE, 0.975)
    assert found.mean == pytest.approx(1.9)
    assert found.low == 1 + excess.low / denominator.high
    assert found.high == 1 + excess.high / denominator.low
    assert 1.5 < found.low < 1.9 < found.high < 2.4


def test_a_ratio_to_nothing_is_unknown():
    nothing = betting_ratio(np.zeros(5), np.zeros(5), 1.0, 12.0)
    assert math.isnan(nothing.mean)
    assert (nothing.low, nothing.high, nothing.method) == (1.0, 12.0, TOO_FEW)


def test_shares_from_sums_are_bounded_as_by_hand():
    """Eight bets, each with an eighth of the miss; nothing seen leaves log(320) / (0.98 n)."""
    none, all_ = shares_from_sums(np.array([0.0, 1000.0]), np.array([0.0, 1000.0]), 1000)
    assert none.high == pytest.approx(math.log(320) / 980)
    assert (none.low, none.mean, none.method) == (0.0, 0.0, BERNSTEIN)
    assert all_.high == 1.0
    bet = 0.98 ** (6 / 7) * 0.01 ** (1 / 7)  # the last but one of eight in equal steps of ratio
    squares = 30.0
    half = ((-math.log(1 - bet) - bet) * squares + math.log(320)) / (bet * 1000)
    (found,) = shares_from_sums(np.array([60.0]), np.array([squares]), 1000)
    assert found.high == pytest.approx(0.06 + half)
    assert found.low == pytest.approx(0.06 - half)


def test_a_quantile_lies_between_values_that_bets_leave():
    """2 of 100 lifetimes above 3 of at most 9 orphans: surely not 0, surely at most 3 of them."""
    random = np.random.default_rng(2)
    values = random.choice([0, 1, 2, 3, 7], p=[0.4, 0.3, 0.2, 0.09, 0.01], size=(1500, 2))
    found = betting_quantile(values, 0.95, Limits(0.0, 9.0))
    assert found.mean == np.quantile(values, 0.95, method="inverted_cdf")
    assert (found.low, found.high) == (2, 3)
    none_above = betting_quantile(np.zeros((20, 2), np.int64), 0.95, Limits(0.0, 9.0))
    assert (none_above.low, none_above.mean, none_above.high) == (0.0, 0.0, 9.0)


@pytest.mark.parametrize(("n", "is_enough"), [(95, False), (96, True)])
def test_a_quantile_is_bounded_above_once_enough_lifetimes_lie_below(n, is_enough):
    """One bet of 0.75 / (1 - 0.05) refutes a share of 5 % above after log(40) / log(1.0395)
    = 95.3 units."""
    found = betting_quantile(np.full((n, 2), 2), 0.95, Limits(0.0, 99.0))
    assert (found.high == 2.0) is is_enough
