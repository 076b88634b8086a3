"""The command line with layouts whose lifetimes are made up, for tests that cut a run.

``MADE_UP_PIECES`` says after how many pieces the next one says WAITING on standard error and waits
to be killed or interrupted, however busy the machine is; without it none waits.
"""

import os
import signal
import sys
import threading
import zlib
from collections import Counter
from itertools import count

import numpy as np

from resilience.__main__ import main
from resilience.lifetime.tally import COLUMNS, SENSOR_FIGURES, SensorSums, Tally
from resilience.montecarlo.runs import running

MS_PER_H = 3_600_000


class Stage:
    """What a lifetime holds follows from seed, layout and number."""

    n_before_waiting = int(os.environ.get("MADE_UP_PIECES", "1000000"))
    numbers = count()
    interrupted = threading.Event()

    def __init__(self, *what):
        _, self.layout, self.seed, *_ = what

    def make_ready(self):
        pass

    def twin(self):
        return self

    def loses_like(self, other):
        return self is other

    def tally(self, first, n):
        if next(self.numbers) >= self.n_before_waiting:
            sys.stderr.write("WAITING\n")
            sys.stderr.flush()
            self.interrupted.wait()
        keys = [(self.seed, zlib.crc32(self.layout.name.encode()), first + k) for k in range(n)]
        rows = np.array(
            [np.random.default_rng(key).integers(0, MS_PER_H, len(COLUMNS)) for key in keys]
        )
        rows[:, COLUMNS.index("depth_ms")] += rows[:, COLUMNS.index("routed_ms")]
        rows[:, [COLUMNS.index(name) for name in ("most_orphans", "unreached")]] %= 2
        rows[:, COLUMNS.index("not_reached_ms")] //= 1000  # part of orphan time
        times_ms = rows[:, 0].reshape(-1, 2).sum(axis=1).tolist()
        sums = SensorSums(sum(times_ms), sum(time_ms**2 for time_ms in times_ms))
        ids = [sensor.id for sensor in self.layout.sensors]
        sensors = {(figure, id): sums for figure in SENSOR_FIGURES for id in ids}
        blame_ms = Counter({("hardware", "G1"): sum(times_ms)})
        return Tally(first, rows, sensors, blame_ms, Counter({("hardware", "G1"): n}))


def interrupted(number, frame):
    """Let waiting threads end, as those that play do, and interrupt the first thread as usual."""
    Stage.interrupted.set()
    signal.default_int_handler(number, frame)


if __name__ == "__main__":
    signal.signal(signal.SIGINT, interrupted)
    running.Stage = Stage
    main()
