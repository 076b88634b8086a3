"""What averaging takes off the error of a survey: integrals and simulation beside the formula."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate

from resilience.connectivity.paths.averaging import shortest_h, survey_spread_db, variance_left

STRETCHES = (0.05, 0.5, 1.0, 1.7, 6.0, 42.0)


@pytest.mark.parametrize("n_holds", STRETCHES)
def test_the_variance_of_a_mean_is_the_integral_of_the_correlation(n_holds):
    """Papoulis: var of a mean over T is (2 / T) times the integral of (1 - t / T) R(t) over it.

    Levels that hold for 1 and begin at a random phase have the correlation 1 - t up to 1 (random
    telegraph of fixed slots, any text on signals; from memory).
    """
    area, _ = integrate.quad(lambda t: (1 - t / n_holds) * (1 - t), 0, min(1.0, n_holds))
    assert variance_left(n_holds) == pytest.approx(2 / n_holds * area)


@pytest.mark.parametrize("n_holds", STRETCHES)
def test_the_variance_of_a_mean_is_that_of_simulated_swings(n_holds):
    """Exact means of drawn levels, each weighted with its part in the stretch."""
    rng, n_runs = np.random.default_rng(1), 20_000
    edges = np.arange(math.ceil(n_holds) + 2) - rng.uniform(0, 1, (n_runs, 1))
    parts = np.diff(np.clip(edges, 0, n_holds), axis=1) / n_holds
    assert parts.sum(axis=1) == pytest.approx(1.0)
    squares = (parts * rng.normal(size=parts.shape)).sum(axis=1) ** 2
    error = squares.std(ddof=1) / math.sqrt(n_runs)
    assert abs(variance_left(n_holds) - squares.mean()) < 4 * error


def test_a_spot_reading_is_as_unsure_as_the_site_states_and_a_long_one_hardly(radio):
    """1 dB is left of 3 dB in the end; in 4 h, one hold, two thirds of 1.8^2 are left."""
    assert survey_spread_db(radio, None) == 3.0
    assert survey_spread_db(radio, 1e-6) == pytest.approx(math.hypot(1.0, 1.8), abs=1e-4)
    assert survey_spread_db(radio, 4.0) == pytest.approx(math.sqrt(1 + 1.8**2 * 2 / 3))
    assert survey_spread_db(radio, 24 * 14) == pytest.approx(1.0, abs=0.02)


def test_the_longer_the_surer_and_never_less_sure_than_a_spot(radio):
    hours = np.geomspace(0.01, 5000, 200)
    for one in (radio, replace(radio, swing_db=9.0), replace(radio, survey_spread_db=0.5)):
        spreads = [survey_spread_db(one, hour) for hour in hours]
        assert all(earlier >= later for earlier, later in pairwise(spreads))
        assert max(spreads) <= one.survey_spread_db


def test_of_several_times_the_shortest_counts_and_a_spot_is_shortest():
    assert shortest_h([30.0, 2.0, 8.0]) == 2.0
    assert shortest_h([30.0, None]) is None
