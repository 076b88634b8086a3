"""No verdict is false more often than promised, on sites whose truth lies just beyond the line."""

import math
import os
from itertools import takewhile

import numpy as np
import pytest

from resilience.building.service.policy import Policy
from resilience.montecarlo.stopping import looks
from resilience.policy.judgement import Verdict
from resilience.policy.judging import Judging, verdict_of

IS_SOAK = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
N_STUDIES = 1000 if IS_SOAK else 40
MOST_FALSE = 0.05 + 3 * math.sqrt(0.05 * 0.95 / N_STUDIES)
LOOKS = list(takewhile(lambda look: look <= 1216, looks()))
POLICY = Policy(24.0, 0.9, max_orphans=1)


def alone(random, n, share):
    """Lifetimes that break it independently of their building."""
    return random.random((n, 2)) < share


def together(random, n, share):
    """Buildings of which both lifetimes break it, or none."""
    return np.repeat(random.random((n, 1)) < share, 2, axis=1)


def ended(draw, share, random, broken_study):
    """The verdict of one study when it ends by itself, or after the last look."""
    is_broken = draw(random, LOOKS[-1], share)
    judging = Judging(POLICY)
    for n in LOOKS:
        study = broken_study("a", is_broken[:n].reshape(-1))
        if judging([study]).ends_because:
            break
    return verdict_of(judging.bounds(study, 1).estimate(1), POLICY)


@pytest.mark.parametrize("draw", [alone, together])
@pytest.mark.parametrize(
    ("share", "false"), [(0.11, Verdict.KEPT), (0.09, Verdict.BROKEN)], ids=["worse", "better"]
)
def test_a_verdict_is_false_no_more_often_than_promised(draw, share, false, broken_study):
    random = np.random.default_rng(5)
    found = [ended(draw, share, random, broken_study) for _ in range(N_STUDIES)]
    assert found.count(false) / N_STUDIES <= MOST_FALSE


@pytest.mark.parametrize(("share", "expected"), [(0.02, Verdict.KEPT), (0.3, Verdict.BROKEN)])
def test_what_is_clear_is_decided(share, expected, broken_study):
    """Guards the test above against a judge that never says anything."""
    random = np.random.default_rng(6)
    assert {ended(alone, share, random, broken_study) for _ in range(5)} == {expected}
