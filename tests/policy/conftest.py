"""Studies put together by hand from how many sensors each lifetime lost, and for how long."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from resilience.lifetime.tally import COLUMNS, Tally

N_SENSORS = 5


@pytest.fixture(scope="session")
def lost_study(made_study):
    """Return a builder of studies of five sensors from ``most`` of shape (lifetimes, durations)."""

    def made(layout, most, counted="orphans"):
        most = np.asarray(most)
        rows = np.zeros((len(most), len(COLUMNS)), np.int64)
        first = COLUMNS.index(f"most_{counted}_beyond_0")
        rows[:, first : first + most.shape[1]] = most
        plain = made_study(layout, orphan=[0.0])
        sensors = tuple(f"s{n}" for n in range(N_SENSORS))
        return replace(plain, sensors=sensors, tally=Tally(0, rows, {}, Counter(), Counter()))

    return made


@pytest.fixture(scope="session")
def broken_study(lost_study):
    """Return a builder of studies in which lifetimes lose two sensors for 2 days, or none.

    Breaks are given as shape (lifetimes,).
    """

    def made(layout, is_broken):
        most = np.zeros((len(is_broken), 12), np.int64)
        most[np.asarray(is_broken, bool), :7] = 2  # beyond 48 h, not beyond 72 h
        return lost_study(layout, most)

    return made
