"""What a cluster and a ledger cost beside a bare loop, and what a second process brings.

Run it as ``python -m benchmarks.portfolio --sites 20 --lifetimes 512``. Time is time with a
processor, of the client and of all processes that play, since others may use the machine; only the
last line is by the wall.
"""

import argparse
import resource
import tempfile
import time
from pathlib import Path

import psutil

from resilience.montecarlo.runs.ledger import Ledger
from resilience.sweep.crew import Crew, Where
from resilience.sweep.finding import Asked, Terms, asked_of, id_of, site_folders
from resilience.sweep.inventing.portfolios import invent
from resilience.sweep.orders import Order, _stages, carried_out
from resilience.sweep.results import Tables
from resilience.sweep.running import Plan, played_portfolio

SEED = 7


class Measured(Crew):
    """A crew that knows how long its processes had a processor."""

    cpu_s = 0.0

    def __exit__(self, *what):
        self.cpu_s = sum(
            sum(psutil.Process(pid).cpu_times()[:2]) for pid in self.pids if psutil.pid_exists(pid)
        )
        super().__exit__(*what)


class Nobody:
    """Is told everything."""

    def told(self, *what):
        """Take no notice."""

    checked = scored = failed = told


def bare(asked: list[Asked], lifetimes: int) -> float:
    """Play all sites in a loop, without ledger, packing and scores, and return the time."""
    began = time.process_time()
    for one in asked:
        for stage in _stages(one.packed()):
            for first in range(0, lifetimes, 64):
                stage.tally(first, min(64, lifetimes - first))
    return time.process_time() - began


def swept(top: Path, folder: Path, lifetimes: int, workers: int) -> tuple[float, float, float]:
    """Score all sites, and return the time of the client, of its processes, and by the wall."""
    wall, own = time.perf_counter(), time.process_time()
    crew = Measured(Where(workers))
    plan = Plan(top, site_folders(top), Terms(SEED, "compiled"), lifetimes)
    with Ledger.open(folder, "benchmark") as ledger:
        played_portfolio(plan, ledger, lambda: crew, Nobody(), Tables(folder).keep)
    return time.process_time() - own, crew.cpu_s, time.perf_counter() - wall


def memory(n_orders: int, packed: bytes, code: str) -> int:
    """Send orders that play nothing, and return the most memory that the client had so far."""
    left = iter(range(n_orders))
    with Crew(Where(2)) as crew:
        for _ in range(crew.n_wanted):
            crew.ask(Order(packed, (), 1.0, code), next(left))
        for _ in crew.answers(lambda: False):
            if (number := next(left, None)) is not None:
                crew.ask(Order(packed, (), 1.0, code), number)
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def main() -> None:
    """Measure and print."""
    from resilience.montecarlo.runs.manifest import code_digest

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sites", type=int, default=20)
    parser.add_argument("--lifetimes", type=int, default=512)
    parser.add_argument("--orders", type=int, nargs="*", default=[])
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        top = Path(made) / "sites"
        invent(top, given.sites, SEED)
        terms = Terms(SEED, "compiled")
        asked = [asked_of(one, id_of(one, top), terms) for one in site_folders(top)]
        carried_out(Order(asked[0].packed(), ((0, 2),), 1.0, code_digest()))  # loads the engine
        _stages.cache_clear()
        loop_s = bare(asked, given.lifetimes)
        n = sum(len(one.undertaking.layouts) for one in asked) * given.lifetimes
        print(f"{given.sites} sites, {n} lifetimes: bare loop {loop_s:.1f} s")
        walls = []
        for workers in (1, 2):
            client_s, players_s, wall_s = swept(
                top, Path(made) / f"run-{workers}", given.lifetimes, workers
            )
            more = (client_s + players_s) / loop_s - 1
            walls.append(wall_s)
            print(
                f"{workers} process(es): client {client_s:.1f} s, processes {players_s:.1f} s with "
                f"their start, {100 * more:+.1f} % of the loop; {wall_s:.1f} s by the wall"
            )
        print(f"two against one, by the wall: {walls[0] / walls[1]:.2f}")
        for n_orders in given.orders:
            began = time.process_time()
            peak_mb = memory(n_orders, asked[0].packed(), code_digest())
            each_ms = 1000 * (time.process_time() - began) / n_orders
            print(f"{n_orders} orders: client at most {peak_mb} MB, {each_ms:.2f} ms each")


if __name__ == "__main__":
    main()
