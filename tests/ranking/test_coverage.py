"""No verdict is false more often than promised, by the program's own stop, on rare long losses.

Promised is 5 %; allowed are three standard errors of so many studies. A verdict that leaves aside
what is rarer than 1 in N is false if the rest says otherwise, or if more than that lies beyond.
"""

import math
import os
from itertools import takewhile

import numpy as np
import pytest

from resilience.montecarlo.stopping import looks
from resilience.ranking.pairs import INDIFFERENCE_H, RankedBy, Verdict, pair_of
from resilience.ranking.settling import Settling

N_STUDIES = 400 if os.environ.get("RESILIENCE_SIZE", "gate") == "soak" else 30
MOST_FALSE = 0.05 + 3 * math.sqrt(0.05 * 0.95 / N_STUDIES)
LOOKS = list(takewhile(lambda look: look <= 1216, looks()))


def small(random, n):
    """Minor hours that both layouts have in every second building, not the same ones."""
    return np.where(random.random((2, n)) < 0.5, random.exponential(2.0, size=(2, n)), 0.0)


def disaster(one_in, hours):
    """The first layout loses so many hours in one of so many buildings."""

    def draw(random, n):
        first, second = small(random, n)
        return np.where(random.random(n) < 1 / one_in, hours, first), second

    return draw


def lognormal(random, n):
    """Both lose lognormal hours of spread 2, the second a tenth more, on the same luck."""
    shared = random.lognormal(0.0, 2.0, size=n)
    return shared + small(random, n)[0], 1.1 * shared


def relays(random, n):
    """A repeater that dies in one building of 40 for long, against a pair that does in 1,600."""
    first, second = small(random, n)
    return (
        np.where(random.random(n) < 1 / 40, random.uniform(50, 500, n), first),
        np.where(random.random(n) < 1 / 1600, random.uniform(50, 500, n), second),
    )


SITES = {
    "a disaster in one of 300": disaster(300, 90.0),
    "a disaster in one of 1,000": disaster(1000, 1500.0),
    "a disaster in one of 10,000": disaster(10_000, 8000.0),
    "lognormal hours of spread 2": lognormal,
    "one repeater against two": relays,
    "alike": small,
}


def last_pair(draw, random, made_study):
    """The pair of one study when it ends by itself, or after the last look."""
    hours = np.round(draw(random, LOOKS[-1]), 4)
    settling = Settling()
    for n in LOOKS:
        found = [
            made_study(name, orphan=values[:n]) for name, values in zip("ab", hours, strict=True)
        ]
        if settling(found).ends_because:
            break
    ordered = sorted(found, key=lambda study: study.orphan_hours.mean)
    pair = pair_of(*ordered, 0.95, RankedBy.SERVICE)
    return pair, 1.0 if pair.first == "a" else -1.0


def is_false(pair, differences):
    """Whether a verdict says what is not so of what it does not leave aside."""
    caps = pair.difference.beyond.caps
    mean = np.clip(differences, caps.least, caps.largest).mean()
    beyond = ((differences < caps.least) | (differences > caps.largest)).mean()
    if pair.leaves_aside and beyond > 1 / pair.leaves_aside:
        return True
    if pair.verdict is Verdict.BETTER:
        return mean >= 0
    if pair.verdict is Verdict.NEARLY_ALIKE:
        return (abs(differences) > INDIFFERENCE_H).mean() > 0.05
    return pair.verdict is Verdict.ALIKE and abs(mean) > INDIFFERENCE_H


@pytest.mark.parametrize("name", SITES)
def test_no_verdict_is_false_more_often_than_promised(name, made_study):
    """Against a million building draws of the same law."""
    draw, random = SITES[name], np.random.default_rng(21)
    first, second = draw(np.random.default_rng(22), 1_000_000)
    n_false = 0
    for _ in range(N_STUDIES):
        pair, sign = last_pair(draw, random, made_study)
        n_false += is_false(pair, sign * (first - second))
    assert n_false / N_STUDIES <= MOST_FALSE
