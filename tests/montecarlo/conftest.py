"""Layouts whose lifetimes are made up, and take as long as a test says."""

import zlib
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from resilience.lifetime.tally import COLUMNS, SENSOR_FIGURES, SensorSums, Tally
from resilience.montecarlo.runs import running

MS = 3_600_000


@pytest.fixture(scope="session")
def site(busy_site):
    return busy_site


class Workshop:
    """What is played, in order; time goes on only while something is."""

    def __init__(self):
        self.now = 1000.0
        self.draw_s = {}  # seconds that a building draw takes, by layout; 0 where not said
        self.piece_s = 0.0  # and each piece besides
        self.pieces = []  # layout, first lifetime, number
        self.ends = []  # when each of them was finished

    def clock(self):
        return self.now

    def stage(self, *what):
        _, layout, seed, *_ = what
        return Stage(self, layout, seed)

    def longest_s(self):
        return max(after - before for before, after in pairwise([1000.0, *self.ends]))


class Stage:
    """What a lifetime holds follows from seed, layout and number."""

    def __init__(self, workshop, layout, seed):
        self.workshop, self.layout, self.seed = workshop, layout, seed

    def make_ready(self):
        pass

    def twin(self):
        return self

    def tally(self, first, n):
        shop, name = self.workshop, self.layout.name
        shop.now += shop.piece_s + shop.draw_s.get(name, 0.0) * n / 2
        shop.pieces.append((name, first, n))
        shop.ends.append(shop.now)
        return made_up_tally(name, [one.id for one in self.layout.sensors], self.seed, first, n)


def made_up_tally(name, sensors, seed, first, n):
    keys = [(seed, zlib.crc32(name.encode()), number) for number in range(first, first + n)]
    rows = np.array(
        [np.random.default_rng(key).integers(0, MS, len(COLUMNS)) for key in keys], np.int64
    )
    rows[:, COLUMNS.index("depth_ms")] += rows[:, COLUMNS.index("routed_ms")]  # a hop at least
    rows[:, [COLUMNS.index(name) for name in ("most_orphans", "unreached")]] %= len(sensors) + 1
    rows[:, COLUMNS.index("not_reached_ms")] //= 1000  # part of orphan time
    pairs = rows.reshape(-1, 2, len(COLUMNS)).sum(axis=1)
    sums = {
        (figure, id): SensorSums(int(pairs[:, k].sum()), sum(int(one) ** 2 for one in pairs[:, k]))
        for k, figure in enumerate(SENSOR_FIGURES)
        for id in sensors
    }
    blame_ms = Counter({("hardware", "r1"): int(rows[:, 0].sum())})
    return Tally(first, rows, sums, blame_ms, Counter({("hardware", "r1"): n}))


@pytest.fixture(scope="session")
def new_workshop():
    def made(patched):
        workshop = Workshop()
        patched.setattr(running, "Stage", workshop.stage)
        return workshop

    return made


@pytest.fixture
def workshop(new_workshop, monkeypatch):
    return new_workshop(monkeypatch)
