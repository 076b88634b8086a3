"""How often the truth is left out at any look, on light and on heavy tails.

Promised is 5 % over all looks together; allowed are three standard errors of so many studies.
"""

import math
import os
from itertools import takewhile

import numpy as np
import pytest

from resilience.montecarlo.estimates import ANY, SHARE
from resilience.montecarlo.sequences import asymptotic_sequence, betting_sequence, is_informative
from resilience.montecarlo.stopping import looks

N_STUDIES = 2000 if os.environ.get("RESILIENCE_SIZE", "gate") == "soak" else 200
MOST_MISSED = 0.05 + 3 * math.sqrt(0.05 * 0.95 / N_STUDIES)
LOOKS = list(takewhile(lambda look: look <= 1216, looks()))


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


def missed_shares(draw, truth, seed):
    """Shares of studies that leave out the truth at any look: whatever it has, and if informative.

    Returns the two, and the share of studies that are ever informative.
    """
    random, counts = np.random.default_rng(seed), np.zeros(3)
    for _ in range(N_STUDIES):
        values = draw(random, LOOKS[-1])
        seen = np.zeros(3, dtype=bool)
        for n in LOOKS:
            found = asymptotic_sequence(values[:n], ANY)
            is_missed = not found.low <= truth <= found.high
            is_called = is_informative(values[:n])
            seen |= (is_missed, is_missed and is_called, is_called)
        counts += seen
    return counts / N_STUDIES


def normal(random, n):
    return random.normal(1.0, 1.0, size=n)


def lognormal(share, spread):
    """Hours that only a share of buildings has at all, and those lognormal; and their mean."""

    def draw(random, n):
        return np.where(random.random(n) < share, random.lognormal(0.0, spread, size=n), 0.0)

    return draw, share * math.exp(spread**2 / 2)


def test_asymptotic_bounds_of_light_tails_miss_no_more_often_than_promised():
    missed, called_missed, informative = missed_shares(normal, 1.0, seed=12)
    assert max(missed, called_missed) <= MOST_MISSED
    assert informative == 1.0


@pytest.mark.parametrize("share", [0.2, 0.5])
def test_the_guard_makes_asymptotic_bounds_of_heavy_tails_hold(share):
    """A spread of 1 in the logarithm: one building in five struck, or every second.

    Over 2,000 studies 2.7 % and 3.0 % are missed with the guard, 10.1 % and 5.2 % without.
    """
    missed, called_missed, informative = missed_shares(*lognormal(share, 1.0), seed=13)
    assert called_missed <= MOST_MISSED
    assert called_missed < missed
    assert informative > 0.9


def test_the_guard_is_needed_where_few_buildings_carry_the_hours():
    """One building in twenty struck: without it the truth is left out far more often than promised.

    And hardly any of these studies may call anything before 1,216 building draws.
    """
    missed, called_missed, informative = missed_shares(*lognormal(0.05, 1.0), seed=14)
    assert missed > MOST_MISSED
    assert called_missed <= MOST_MISSED
    assert informative < 0.1


def test_asymptotic_bounds_of_heavier_tails_miss_more_often_than_promised():
    """Known shortfall: a spread of 2 in the logarithm, every second building struck.

    The guard sees what came and not what is still to come. So promises never rest on these bounds.
    """
    _, called_missed, _ = missed_shares(*lognormal(0.5, 2.0), seed=15)
    assert called_missed > MOST_MISSED  # it does fall short
    assert called_missed < 0.17  # 10.3 % over 2,000 studies, plus three errors of 200
