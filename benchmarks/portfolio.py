"""What a cluster and a ledger cost beside a bare loop, and what a second process brings.

Run it as ``python -m benchmarks.portfolio --sites 20 --lifetimes 512``. Time is time with a
processor, of the client and of all processes that play, since others may use the machine. What a
cluster takes to start is measured in the same run, with one process, and told apart.
"""

import argparse
import os
import resource
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import psutil

from resilience.montecarlo.runs.ledger import Ledger
from resilience.sweep.crew import Crew, Where
from resilience.sweep.finding import Asked, Found, Terms, asked_of, id_of, site_folders
from resilience.sweep.inventing.portfolios import invent
from resilience.sweep.kept.results import LAYOUTS, SITES, Tables
from resilience.sweep.orders import Order, _stages, carried_out
from resilience.sweep.running import Outcome, Plan, Standing, played_portfolio

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
    """Play all sites in a loop, without ledger, packing and scores, and return the time.

    Each layout is played in one go, which is the quickest way.
    """
    _stages.cache_clear()
    began = time.process_time()
    for one in asked:
        for stage in _stages(one.packed()):
            stage.tally(0, lifetimes)
    return time.process_time() - began


def swept(
    top: Path, folder: Path, lifetimes: int, workers: int
) -> tuple[Outcome, float, float, float]:
    """Score all sites, and return how long that took the client, its processes, and by the wall."""
    wall, own = time.perf_counter(), time.process_time()
    crew = Measured(Where(workers))
    plan = Plan(top, site_folders(top), Terms(SEED, "compiled"), lifetimes)
    with Ledger.open(folder, "benchmark") as ledger:
        outcome = played_portfolio(plan, ledger, lambda: crew, Nobody(), Tables(folder).keep)
    return outcome, time.process_time() - own, crew.cpu_s, time.perf_counter() - wall


def begun(order: Order) -> tuple[float, float]:
    """Start a cluster of one process that loads the engine, and return its time and the client's.

    Parameters
    ----------
    order : Order
        Of a few lifetimes. [-]
    """
    own = time.process_time()
    crew = Measured(Where(1))
    with crew:
        crew.ask(order, None)
        for _, answer in crew.answers(lambda: False):
            assert not isinstance(answer, Exception), answer
    return time.process_time() - own, crew.cpu_s


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


def held(n_sites: int, outcome: Outcome, folder: Path) -> tuple[float, int, float]:
    """Hold the scores of a portfolio under so many names, and write the tables of all.

    Returns
    -------
    tuple of float, int and float
        Room that each takes, the most memory so far, and how long the tables took. [kB, MB, s]
    """
    known, process = list(outcome.standings.values()), psutil.Process()
    before = process.memory_info().rss
    many = Outcome(outcome.plan)
    for k in range(n_sites):
        one = known[k % len(known)]
        id = f"{one.found.id}-{k}"
        found = Found(id, f"{k:064x}", one.found.layouts, f"{k:016x}", f"{k:016x}")
        many.found.append(found)
        score = replace(one.score, id=id)
        many.standings[id] = Standing.of(found, score, one.lifetimes, outcome.plan.by)
    each_kb = (process.memory_info().rss - before) / 1000 / n_sites
    began = time.perf_counter()
    Tables(folder).keep(many, None)
    took_s = time.perf_counter() - began
    return each_kb, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, took_s


def main() -> None:
    """Measure and print."""
    from resilience.montecarlo.runs.manifest import code_digest, digest_of

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sites", type=int, default=20)
    parser.add_argument("--lifetimes", type=int, default=512)
    parser.add_argument("--orders", type=int, nargs="*", default=[])
    parser.add_argument("--held", type=int, nargs="*", default=[])
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        top = Path(made) / "sites"
        invent(top, given.sites, SEED)
        terms = Terms(SEED, "compiled")
        began = time.process_time()
        asked = [asked_of(one, id_of(one, top), terms) for one in site_folders(top)]
        for one in asked:
            digest_of(one.undertaking)
        reading_s = time.process_time() - began
        few = Order(asked[0].packed(), ((0, 2),), 1.0, code_digest())
        begun(few)  # loads what only the first start of a program loads
        start_s, process_start_s = begun(few)
        carried_out(few)  # loads the engine
        process_start_s -= bare(asked[:1], 2)  # what the first order played is no start
        print(f"start: client {start_s:.1f} s, each process {process_start_s:.1f} s")
        loops_s = [bare(asked, given.lifetimes)]
        n = sum(len(one.undertaking.layouts) for one in asked) * given.lifetimes
        print(f"{given.sites} sites, {n} lifetimes; reading and checking them {reading_s:.1f} s")
        walls, tables = [], []
        for workers in (1, 2):
            folder, load = Path(made) / f"run-{workers}", os.getloadavg()[0]
            outcome, client_s, players_s, wall_s = swept(top, folder, given.lifetimes, workers)
            client_s, players_s = client_s - start_s, players_s - workers * process_start_s
            loops_s.append(bare(asked, given.lifetimes))  # before and after: others come and go
            loop_s = sum(loops_s[-2:]) / 2
            more = (client_s + players_s) / loop_s - 1
            walls.append(wall_s)
            tables.append([(folder / name).read_bytes() for name in (SITES, LAYOUTS)])
            print(
                f"{workers} process(es) beside their start: client {client_s:.1f} s, processes "
                f"{players_s:.1f} s, {100 * more:+.1f} % of the loop "
                f"({loops_s[-2]:.1f} s before, {loops_s[-1]:.1f} s after); {wall_s:.1f} s by the "
                f"wall with the start, at a load of {load:.1f} before it"
            )
        print(f"two against one, by the wall: {walls[0] / walls[1]:.2f}")
        print(f"same bytes in the tables: {tables[0] == tables[1]}")
        for n_orders in given.orders:
            began = time.process_time()
            peak_mb = memory(n_orders, asked[0].packed(), code_digest())
            each_ms = 1000 * (time.process_time() - began) / n_orders
            print(f"{n_orders} orders: client at most {peak_mb} MB, {each_ms:.2f} ms each")
        for n_sites in given.held:
            each_kb, peak_mb, took_s = held(n_sites, outcome, Path(made) / f"held-{n_sites}")
            print(
                f"{n_sites} scores: {each_kb:.2f} kB each, client at most {peak_mb} MB, tables in "
                f"{took_s:.1f} s"
            )


if __name__ == "__main__":
    main()
