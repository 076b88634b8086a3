"""How often the truth is left out at any look, on light tails and on rare, long losses.

Promised is 5 % over all looks together; allowed are three standard errors of so many studies.
"""

import math
import os
from itertools import takewhile

import numpy as np
import pytest

from resilience.montecarlo.estimates import SHARE, Limits
from resilience.montecarlo.sequences import betting_sequence, capped_sequence, shares_from_sums
from resilience.montecarlo.stopping import looks

N_STUDIES = 2000 if os.environ.get("RESILIENCE_SIZE", "gate") == "soak" else 200
MOST_MISSED = 0.05 + 3 * math.sqrt(0.05 * 0.95 / N_STUDIES)
LOOKS = list(takewhile(lambda look: look <= 1216, looks()))
HOURS = Limits(0.0, 8766.0)


def light_shares(random, n):
    """Mean of two uniform lifetimes."""
    return random.random((n, 2)).mean(axis=1)


def breaches(random, n):
    """Pair means of a breach that one lifetime in fifty has; the building decides over half."""
    chances = np.where(random.random(n) < 0.5, 0.035, 0.005)
    return (random.random((n, 2)) < chances[:, None]).mean(axis=1)


def heavy_shares(random, n):
    """Nothing in 19 buildings of 20; else a share with mean 1/9, mostly tiny and rarely large."""
    return np.where(random.random(n) < 0.05, random.random(n) ** 8, 0.0)


BOUNDED = {light_shares: 0.5, breaches: 0.02, heavy_shares: 0.05 / 9}


@pytest.mark.parametrize("draw", BOUNDED)
def test_bets_miss_no_more_often_than_promised(draw):
    """The bound after the last look is what all looks have left: it misses if any of them did."""
    random, truth, n_missed = np.random.default_rng(11), BOUNDED[draw], 0
    for _ in range(N_STUDIES):
        found = betting_sequence(draw(random, LOOKS[-1]), SHARE)
        n_missed += not found.low <= truth <= found.high
    assert n_missed / N_STUDIES <= MOST_MISSED


@pytest.mark.parametrize("draw", [breaches, heavy_shares])
def test_bounds_from_sums_miss_no_more_often_than_promised(draw):
    """Without order of play, so that each look has to be asked."""
    random, truth, n_missed = np.random.default_rng(12), BOUNDED[draw], 0
    for _ in range(N_STUDIES):
        values = draw(random, LOOKS[-1])
        found = [
            shares_from_sums(*(np.array([(values[:n] ** k).sum()]) for k in (1, 2)), n)[0]
            for n in LOOKS
        ]
        n_missed += any(not one.low <= truth <= one.high for one in found)
    assert n_missed / N_STUDIES <= MOST_MISSED


def normal_hours(random, n):
    return random.normal(60.0, 15.0, size=n)


def lognormal_hours(share, spread):
    """Hours that only a share of buildings has at all, and those lognormal."""

    def draw(random, n):
        return np.where(random.random(n) < share, random.lognormal(0.0, spread, size=n), 0.0)

    return draw


def disasters(one_in, hours):
    """Small hours in every second building, and a disaster in one of so many."""

    def draw(random, n):
        small = np.where(random.random(n) < 0.5, random.exponential(2.0, size=n), 0.0)
        return np.where(random.random(n) < 1 / one_in, hours, small)

    return draw


TAILS = {
    "normal": normal_hours,
    "lognormal, spread 1, every fifth building": lognormal_hours(0.2, 1.0),
    "lognormal, spread 1, every twentieth building": lognormal_hours(0.05, 1.0),
    "lognormal, spread 2, every second building": lognormal_hours(0.5, 2.0),
    "lognormal, spread 2, every building": lognormal_hours(1.0, 2.0),
    "a disaster in one of 300": disasters(300, 90.0),
    "a disaster in one of 1,000": disasters(1000, 1500.0),
    "a disaster in one of 10,000": disasters(10_000, 8000.0),
}


@pytest.mark.parametrize("name", TAILS)
def test_both_parts_of_a_bound_of_hours_hold_together_at_every_look(name):
    """The capped mean and the share beyond the caps, against 4 million draws of the same law."""
    draw, random = TAILS[name], np.random.default_rng(13)
    many = np.sort(draw(np.random.default_rng(14), 4_000_000))
    sums, n_missed = np.cumsum(many), 0
    for _ in range(N_STUDIES):
        found = capped_sequence(draw(random, LOOKS[-1]), HOURS, 20.0)
        cap = found.beyond.caps.largest
        n_within = np.searchsorted(many, cap, side="right")
        share = 1 - n_within / many.size
        mean = sums[n_within - 1] / many.size + share * cap
        n_missed += not found.low <= mean <= found.high or share > found.beyond.share.high
    assert n_missed / N_STUDIES <= MOST_MISSED
