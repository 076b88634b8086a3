"""Bounds against published intervals, scipy, the bootstrap, and how often they hold."""

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.montecarlo.estimates import (
    ALL_ALIKE,
    ANY,
    NOT_NEGATIVE,
    PLAIN_MEAN,
    PLAIN_RATIO,
    SHARE,
    TOO_FEW,
    Estimate,
    Limits,
    bounded,
    mean_estimate,
    quantile_estimate,
    ratio_estimate,
    student,
)

COUNTS = Limits(0.0, 1e9)


def test_student_bounds_are_those_of_the_sleep_data():
    """Student 1908 (R documentation of `sleep`): mean difference 1.58, 0.7001 to 2.4599."""
    without = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
    drugged = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])
    found = mean_estimate(drugged - without, ANY)
    assert found.mean == pytest.approx(1.58, abs=1e-12)
    assert (found.low, found.high) == pytest.approx((0.700114, 2.459886), abs=5e-7)
    assert (found.method, found.level_share) == (PLAIN_MEAN, 0.95)


def test_a_paired_bound_is_that_of_scipy():
    """Made-up data; scipy's interval of the differences is 1.1110662584 to 2.2889337416."""
    a = np.array([12, 15, 11, 18, 14, 16, 13, 17, 12, 15], float)
    b = np.array([10, 14, 10, 15, 13, 13, 12, 15, 11, 13], float)
    found = mean_estimate(a - b, ANY)
    assert (found.low, found.high) == pytest.approx((1.1110662584, 2.2889337416), abs=1e-9)
    interval = scipy.stats.ttest_rel(a, b).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx(tuple(interval), abs=1e-12)


@pytest.mark.parametrize("level", [0.8, 0.95, 1 - 0.05 / 3, 0.999])
@pytest.mark.parametrize("n", [2, 3, 30, 400])
def test_any_level_and_number_gives_scipys_interval(n, level):
    values = np.random.default_rng(n).gamma(2.0, size=n)
    found = mean_estimate(values, ANY, level)
    expected = scipy.stats.t.interval(level, n - 1, values.mean(), scipy.stats.sem(values))
    assert (found.low, found.high) == pytest.approx(expected, rel=1e-9)


def test_students_quantile_is_the_tabled_one():
    """Tables of Student's t: 12.706 at 1 degree, 2.262 at 9, 1.960 in the limit."""
    assert [student(0.95, n) for n in (1, 9, 10**9)] == pytest.approx(
        [12.706, 2.262, 1.960], abs=5e-4
    )


def test_moments_give_the_bound_that_the_values_give():
    values = np.array([0.1, 0.2, 0.4, 0.1])
    from_moments = bounded(values.mean(), values.var(ddof=1), 4, SHARE)
    from_values = mean_estimate(values, SHARE)
    assert (from_moments.low, from_moments.high) == pytest.approx(
        (from_values.low, from_values.high)
    )


def test_a_bound_never_leaves_what_is_possible():
    found = mean_estimate(np.array([0.0, 0.0, 1.0]), SHARE)
    assert (found.low, found.high) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("n", "high"), [(10, 0.308497), (20, 0.168433), (100, 0.036217), (1000, 0.003682)]
)
def test_shares_that_are_all_0_have_clopper_and_pearsons_bound(n, high):
    """Clopper and Pearson 1934, 0 of n (Newcombe 1998, Table I, for 0 of 20)."""
    found = mean_estimate(np.zeros(n), SHARE)
    assert (found.mean, found.low, found.method) == (0.0, 0.0, ALL_ALIKE)
    assert found.high == pytest.approx(high, abs=5e-7)


def test_shares_that_are_all_1_have_clopper_and_pearsons_bound():
    """Clopper and Pearson 1934, 29 of 29 (Newcombe 1998 gives 1 of 29 and 0 of 20 beside it)."""
    found = mean_estimate(np.ones(29), SHARE)
    assert (found.low, found.high) == (pytest.approx(0.880555, abs=5e-7), 1.0)


@pytest.mark.parametrize("n", [20, 100, 1000])
def test_the_one_sided_bound_of_none_is_near_the_rule_of_three(n):
    """0 of n: 3 / n at 95 % one-sided (Hanley and Lippman-Hand 1983), always on the safe side."""
    high = mean_estimate(np.zeros(n), SHARE, level_share=0.90).high
    assert high == pytest.approx(1 - 0.05 ** (1 / n), abs=1e-12)
    assert 0.92 * 3 / n < high < 3 / n


@pytest.mark.parametrize("n", [2, 17, 300])
def test_a_truth_beyond_the_bound_of_equal_values_would_have_shown_itself(n):
    """Even if every unit that differs lay at the limit, seeing none has half the tolerated miss."""
    found = mean_estimate(np.full(n, 0.3), Limits(-2.0, 5.0))
    for bound, limit in ((found.low, -2.0), (found.high, 5.0)):
        differing_share = (bound - 0.3) / (limit - 0.3)
        assert (1 - differing_share) ** n == pytest.approx(0.025)


@pytest.mark.parametrize("value", [0.1, 1 / 3, 437.42026950694446, 8766.0])
def test_equal_values_are_seen_as_equal_however_their_sum_is_rounded(value):
    for n in range(2, 200):
        found = mean_estimate(np.full(n, value), Limits(0.0, 8766.0))
        assert (found.mean, found.method) == (value, ALL_ALIKE)


def test_values_without_a_limit_are_not_bounded_by_being_equal():
    found = mean_estimate(np.full(100, 2.0), NOT_NEGATIVE)
    assert (found.mean, found.high) == (2.0, math.inf)
    assert 0 < found.low < 2


def test_a_single_unit_proves_nothing():
    assert mean_estimate(np.array([0.4]), SHARE) == Estimate(0.4, 0.0, 1.0, 0.95, TOO_FEW)
    alone = ratio_estimate(np.array([6.0]), np.array([4.0]), Limits(1.0, 9.0))
    assert alone == Estimate(1.5, 1.0, 9.0, 0.95, TOO_FEW)


def test_what_is_unknown_or_endless_is_null_in_json():
    """RFC 8259: JSON has neither NaN nor infinity."""
    endless = Estimate(math.nan, 1.0, math.inf, 0.95, TOO_FEW)
    assert endless.to_json() == {"mean": None, "low": 1.0, "high": None}


@pytest.fixture
def routed():
    """Hours with a route and hours weighted with depth, which go together."""
    random = np.random.default_rng(8)
    below = random.gamma(9.0, size=200)
    return below * random.uniform(1.5, 3.0, size=200), below


def test_a_ratio_bound_is_that_of_the_delta_method(routed):
    """Var(R) = (Var a - 2 R Cov + R^2 Var b) / (n mean(b)^2), Cochran 1977 (from memory)."""
    above, below = routed
    found = ratio_estimate(above, below, NOT_NEGATIVE)
    ratio = above.mean() / below.mean()
    variance = np.array([1.0, -ratio]) @ np.cov(above, below) @ np.array([1.0, -ratio])
    half = scipy.stats.t.ppf(0.975, 199) * math.sqrt(variance / 200) / below.mean()
    assert (found.mean, found.low, found.high) == pytest.approx((ratio, ratio - half, ratio + half))
    assert found.method == PLAIN_RATIO


def test_a_ratio_bound_is_as_wide_as_the_bootstrap_says(routed):
    """Efron's bootstrap of 4,000 resamples: its own error is 1.1 %, the bound's shape adds some."""
    above, below = routed
    found = ratio_estimate(above, below, NOT_NEGATIVE)
    chosen = np.random.default_rng(5).integers(0, 200, size=(4000, 200))
    ratios = above[chosen].sum(axis=1) / below[chosen].sum(axis=1)
    error = (found.high - found.low) / 2 / scipy.stats.t.ppf(0.975, 199)
    assert abs(error / ratios.std() - 1) < 0.05


def test_equal_ratios_are_not_taken_for_certainty():
    """10 of 10 alike, as for shares: Clopper and Pearson's 0.308497 of the way to the limit."""
    below = np.array([3.0, 5.0, 0.0, 7.0, 2.0, 9.0, 8.0, 1.0, 6.0, 4.0, 11.0])
    found = ratio_estimate(2 * below, below, Limits(1.0, 12.0))
    assert (found.mean, found.method) == (2.0, ALL_ALIKE)
    assert found.low == pytest.approx(2 - 0.308497, abs=1e-6)
    assert found.high == pytest.approx(2 + 10 * 0.308497, abs=1e-5)


def test_a_ratio_to_nothing_is_unknown():
    found = ratio_estimate(np.zeros(5), np.zeros(5), Limits(1.0, 12.0))
    assert math.isnan(found.mean)
    assert (found.low, found.high, found.method) == (1.0, 12.0, TOO_FEW)


@pytest.mark.parametrize(
    ("n", "share", "first", "last"),
    [
        (10, 0.5, 2, 9),
        (20, 0.5, 6, 15),
        (50, 0.5, 18, 33),
        (100, 0.5, 40, 61),
        (100, 0.9, 84, 96),
        (200, 0.9, 171, 189),
        (200, 0.95, 184, 197),
        (500, 0.95, 465, 485),
        (1000, 0.95, 936, 964),
        (1000, 0.99, 983, 997),
    ],
)
def test_a_quantile_is_bounded_by_the_tabled_ranks(n, share, first, last):
    """Order statistics, at most 2.5 % missed on each side (binomial law; David, textbook).

    The two lifetimes of a building are alike here, so that they count as one.
    """
    ranks = np.repeat(np.arange(1, n + 1), 2)
    found = quantile_estimate(np.random.default_rng(1).permutation(ranks), share, COUNTS)
    assert (found.low, found.high) == (first, last)
    assert found.mean == round(share * n)


def test_an_upper_bound_of_a_quantile_needs_enough_buildings():
    """1 - 0.95^n reaches 0.975 at n = 72 (Wilks's tolerance limits; 59 at 0.95)."""
    many = Limits(0.0, 99.0)
    assert quantile_estimate(np.repeat(np.arange(71), 2), 0.95, many).high == 99.0
    assert quantile_estimate(np.repeat(np.arange(72), 2), 0.95, many).high == 71.0
    assert quantile_estimate(np.array([3, 3]), 0.95, many) == Estimate(
        3.0, 0.0, 99.0, 0.95, "order statistics over building draws"
    )


def test_a_quantile_of_unlike_lifetimes_is_bounded_on_the_safe_side():
    """Exact coverage of the ranks of 2 x 100 independent lifetimes, by the binomial law."""
    found = quantile_estimate(np.arange(1, 201), 0.9, COUNTS)
    covered = scipy.stats.binom.cdf(found.high - 1, 200, 0.9) - scipy.stats.binom.cdf(
        found.low - 1, 200, 0.9
    )
    assert 0.99 < covered < 1


values_in_limits = st.lists(st.sampled_from((0.0, 0.1, 0.3, 1 / 3, 1.0)), min_size=1, max_size=40)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(values=values_in_limits, level=st.sampled_from((0.5, 0.95, 0.9999)))
def test_no_mean_is_shown_as_certain_and_none_leaves_its_limits(values, level):
    found = mean_estimate(np.array(values), SHARE, level)
    assert 0 <= found.low <= found.mean <= found.high <= 1
    assert found.high - found.low > 1e-9


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    pairs=st.lists(
        st.tuples(st.sampled_from((0, 1, 3, 70_000_001)), st.sampled_from((2, 3, 8))),
        min_size=1,
        max_size=30,
    )
)
def test_no_ratio_is_shown_as_certain_and_none_leaves_its_limits(pairs):
    below = np.array([2.0 * weight for weight, _ in pairs])
    above = np.array([float(weight * depth) for weight, depth in pairs])
    found = ratio_estimate(above, below, Limits(1.0, 4.0))
    assert 1 <= found.low < found.high <= 4
    assert math.isnan(found.mean) or found.low - 1e-12 <= found.mean <= found.high + 1e-12
    assert found.high - found.low > 1e-9


def test_a_quantile_of_counts_may_be_known_exactly_but_only_from_enough_buildings():
    """0 of 72 above 2: that 95 % stay at 2 is proven at the level, for counts cannot be 2.1."""
    assert quantile_estimate(np.full(142, 2), 0.95, COUNTS).high == 1e9
    found = quantile_estimate(np.full(144, 2), 0.95, COUNTS)
    assert (found.low, found.high) == (2.0, 2.0)


def misses(studies, truth):
    """Share of studies, shape (studies, units), whose bound leaves out the truth."""
    found = [mean_estimate(values, NOT_NEGATIVE) for values in studies]
    return np.mean([not one.low <= truth <= one.high for one in found])


def test_a_plain_bound_of_light_tails_misses_as_often_as_it_says():
    """Buildings of two uniform lifetimes, 2,000 studies of 32: 5 % within three errors."""
    studies = np.random.default_rng(3).uniform(0, 1, size=(2000, 32, 2)).sum(axis=2)
    assert abs(misses(studies, truth=1.0) - 0.05) < 3 * math.sqrt(0.05 * 0.95 / 2000)


@pytest.mark.parametrize(("struck_share", "missed_most"), [(0.05, 0.26), (0.5, 0.12)])
def test_a_plain_bound_of_heavy_tails_misses_more_often_than_it_says(struck_share, missed_most):
    """Known shortfall: hours that only some buildings have at all, and those lognormal.

    Over 2,000 studies of 100 buildings each, with a standard deviation of 1 in the logarithm, the
    truth was left out in 22.6 % (one building in twenty struck) and 9.4 % (every second one)
    instead of 5 %, nearly always because the bound lay too low. So it says too much where few
    buildings carry the hours, and no pair of layouts is called on it before enough of them do.
    """
    random = np.random.default_rng(4)
    struck = random.uniform(size=(2000, 100)) < struck_share
    studies = struck * random.lognormal(0.0, 1.0, size=(2000, 100))
    missed_share = misses(studies, truth=struck_share * math.exp(0.5))
    assert missed_share > 0.05 + 3 * math.sqrt(0.05 * 0.95 / 2000)  # it does fall short
    assert missed_share < missed_most  # and no further than told here, plus three errors
