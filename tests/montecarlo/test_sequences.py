"""Bounds over all looks against their published forms, quadrature, and another implementation."""

import math
import time

import numpy as np
import pytest
import scipy.integrate
import scipy.optimize
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.montecarlo.estimates import (
    ANY,
    SHARE,
    TOO_FEW,
    Estimate,
    Limits,
)
from resilience.montecarlo.sequences import (
    ASYMPTOTIC,
    ASYMPTOTIC_RATIO,
    BETTING,
    TUNED_FOR_UNITS,
    asymptotic_bound,
    asymptotic_ratio,
    asymptotic_sequence,
    betting_sequence,
    boundary,
    is_informative,
)

LOOKS = (64, 128, 256, 384, 576, 832)

# confseq 0.0.11 (the package of Howard, Waudby-Smith and others), its boundaries compiled and run
# under numpy 1.26, because it neither builds for Python 3.11 as published nor runs with numpy 2:
# normal_mixture_bound(n, miss, v_opt, 0.05, False) / n, with v_opt such that its rho is the best
# for 576 units.
BOUNDARIES = {
    0.05: (0.4663163268, 0.2915770375, 0.1935579416, 0.1264634339, 0.0879861640, 0.0326736650),
    0.05 / 3: (0.5085748682, 0.3232812959, 0.2168183044, 0.1421769688, 0.0987140575, 0.0361103243),
    0.05 / 6: (0.5325944408, 0.3413415040, 0.2300479371, 0.1511042738, 0.1048146577, 0.0380816522),
}


@pytest.mark.parametrize("miss", BOUNDARIES)
def test_the_boundary_is_that_of_an_independent_implementation(miss):
    found = [boundary(n, 1 - miss) for n in (64, 128, 256, 576, 1216, 10368)]
    assert found == pytest.approx(BOUNDARIES[miss], rel=1e-8)


def published_half(t, log_rho, miss):
    """Half width in standard deviations, Theorem 2.2 of Waudby-Smith et al. 2024."""
    rho2 = math.exp(2 * log_rho)
    inside = 2 * (t * rho2 + 1) / (t**2 * rho2) * math.log(math.sqrt(t * rho2 + 1) / miss)
    return math.sqrt(inside)


@pytest.mark.parametrize("miss", [0.05, 0.01, 0.05 / 45])
@pytest.mark.parametrize("n", [64, 576, 20000])
def test_at_the_boundary_the_mixture_of_bets_has_just_grown_enough(n, miss):
    """Robbins 1970: the integral of exp(s x - n x^2 / 2) over x normal(0, rho^2) is 1 / miss there.

    rho is the one whose closed form is least at 576 units, found by scipy.
    """
    log_rho = scipy.optimize.minimize_scalar(
        lambda at: published_half(576, at, miss), bounds=(-9, 2), options={"xatol": 1e-9}
    ).x
    rho2 = math.exp(2 * log_rho)

    def log_mixture(total):
        centre, width = total * rho2 / (1 + n * rho2), math.sqrt(rho2 / (1 + n * rho2))
        exponent = total * centre / 2

        def integrand(x):
            prior = math.exp(-(x**2) / (2 * rho2) + total * x - n * x**2 / 2 - exponent)
            return prior / math.sqrt(2 * math.pi * rho2)

        whole, _ = scipy.integrate.quad(integrand, centre - 12 * width, centre + 12 * width)
        return exponent + math.log(whole)

    total = scipy.optimize.brentq(lambda s: log_mixture(s) + math.log(miss), 1.0, 100 * n**0.5)
    assert boundary(n, 1 - miss) == pytest.approx(total / n, rel=1e-6)


@pytest.mark.parametrize("miss", [0.05, 0.001])
def test_the_boundary_is_tuned_exactly(miss):
    """No other rho gives a narrower bound at its number of units, as scipy finds."""
    best = scipy.optimize.minimize_scalar(
        lambda at: published_half(300, at, miss), bounds=(-8, 2), method="bounded"
    )
    assert boundary(300, 1 - miss, tuned_for=300) == pytest.approx(best.fun, rel=1e-9)


def test_it_is_tuned_for_the_look_after_the_start_that_its_authors_advise():
    """m log m = 460.5 at m = 100, the least number of informative units."""
    assert 384 < 100 * math.log(100) < TUNED_FOR_UNITS == 576


@pytest.mark.parametrize("n", [64, 576, 10368])
def test_looking_often_costs_width(n):
    """Against one look only; between 1.5 and 2 times Student's bound at 95 %."""
    assert 1.5 < boundary(n) * math.sqrt(n) / scipy.stats.t.ppf(0.975, n - 1) < 2


def test_an_asymptotic_bound_is_mean_and_spread_times_boundary():
    """Mean 5, variance 4.0063 with n - 1; 0.1935579416 standard deviations at 256 units."""
    values = np.tile([3.0, 7.0, 5.0, 5.0], 64)
    half = 0.1935579416 * math.sqrt(2 * 256 / 255)
    found = asymptotic_sequence(2 * values - 5, ANY)
    assert (found.mean, found.method, found.level_share) == (5.0, ASYMPTOTIC, 0.95)
    assert (found.low, found.high) == pytest.approx((5 - 2 * half, 5 + 2 * half), rel=1e-8)
    assert found == asymptotic_bound(5.0, 4 * 2 * 256 / 255, 256, ANY)


def test_an_asymptotic_bound_never_leaves_what_is_possible():
    values = np.array([0.0] * 63 + [1.0])
    found = asymptotic_sequence(values, SHARE)
    assert (found.low, found.method) == (0.0, ASYMPTOTIC)
    assert asymptotic_sequence(1 - values, SHARE).high == 1.0


def test_the_two_orders_of_a_difference_have_mirrored_bounds():
    values = np.random.default_rng(2).gamma(0.5, size=128)
    one, other = (asymptotic_sequence(sign * values, ANY) for sign in (1, -1))
    assert (one.low, one.high) == (-other.high, -other.low)


def test_units_that_are_all_alike_have_the_bound_of_bets():
    """Zero spread proves little: 64 zeros leave 0.0733101 open, by the independent package."""
    found = asymptotic_sequence(np.zeros(64), SHARE)
    assert (found.low, found.method) == (0.0, BETTING)
    assert found.high == pytest.approx(0.073310108, abs=1e-8)
    assert asymptotic_bound(0.0, 0.0, 64, SHARE) == found
    endless = asymptotic_sequence(np.full(64, 2.0), Limits(0.0, math.inf))
    assert (endless.low, endless.high) == (0.0, math.inf)


def test_a_ratio_has_the_error_of_the_delta_method_times_the_boundary():
    """Var(R) is about Var(a - R b) / (n mean(b)^2) (delta method; Cochran 1977, from memory)."""
    random = np.random.default_rng(8)
    below = random.gamma(9.0, size=256)
    above = below * random.uniform(1.5, 3.0, size=256)
    ratio = above.sum() / below.sum()
    spread = np.std(above - ratio * below, ddof=1) / below.mean()
    found = asymptotic_ratio(above, below, Limits(0.0, math.inf))
    assert found.method == ASYMPTOTIC_RATIO
    assert found.mean == pytest.approx(ratio, rel=1e-12)
    assert found.high - found.mean == pytest.approx(0.1935579416 * spread, rel=1e-8)
    assert found.mean - found.low == pytest.approx(found.high - found.mean, rel=1e-9)


def test_a_ratio_that_is_the_same_in_every_unit_has_the_bound_of_bets():
    """Only the units with a denominator count: of 65, one has none."""
    below = np.append(np.arange(1.0, 65.0), 0.0)
    found = asymptotic_ratio(2 * below, below, Limits(2.0, 12.0))
    assert (found.mean, found.low, found.method) == (2.0, 2.0, BETTING)
    assert found.high == pytest.approx(2 + 10 * 0.073310108, abs=1e-7)


def test_too_little_says_so():
    alone = Estimate(0.4, 0.0, 1.0, 0.95, TOO_FEW)
    assert asymptotic_sequence(np.array([0.4]), SHARE) == alone
    assert asymptotic_ratio(np.array([2.0]), np.array([5.0]), SHARE) == alone
    nothing = asymptotic_ratio(np.zeros(5), np.zeros(5), Limits(1.0, 12.0))
    assert math.isnan(nothing.mean)
    assert (nothing.low, nothing.high, nothing.method) == (1.0, 12.0, TOO_FEW)


# The same package's betting_mart(..., trunc_scale=0.75), its crossings with 1 / miss found by
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
    for bound in (asymptotic_sequence, betting_sequence):
        found = bound(np.array(values), SHARE, level)
        assert 0 <= found.low <= found.mean <= found.high <= 1
        assert found.high - found.low > 1e-10


@pytest.mark.parametrize(("n_differing", "is_enough"), [(99, False), (100, True)])
def test_fewer_than_100_units_that_differ_are_not_informative(n_differing, is_enough):
    assert is_informative(np.repeat([-3.0, 0.0], [n_differing, 400])) is is_enough


@pytest.mark.parametrize(("n_heavy", "is_enough"), [(49, False), (51, True)])
def test_a_few_units_that_outweigh_all_others_are_not_informative(n_heavy, is_enough):
    """(sum |d|)^2 / sum d^2 is 49.2 and 51.2 where the others weigh a ten thousandth."""
    values = np.repeat([10.0, -0.001], [n_heavy, 1000])
    effective = float(abs(values).sum() ** 2 / (values**2).sum())
    assert (effective >= 50) is is_enough
    assert is_informative(values) is is_enough


def test_units_that_never_differ_are_not_informative():
    assert not is_informative(np.zeros(1000))
