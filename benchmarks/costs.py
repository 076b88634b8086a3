"""What the compiled engine's time depends on: events, hazards, threads, compiling."""

import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

from benchmarks.contest import Case, Lifetime
from benchmarks.layouts import Scatter
from benchmarks.measuring import Page, interleaved, median_ratio, number
from resilience.draws import DEFAULT_SEED
from resilience.hazards.elements import Clock, Drawn
from resilience.hazards.table import HazardTable
from resilience.lifetime.playing import Stage

TOP = Path(__file__).parent.parent
FIRST_LIFETIMES = """
from benchmarks.layouts import SCATTERS
from resilience.lifetime.playing import Stage
site = SCATTERS[0].site()
Stage(site, site.layouts[0], 1, False).tally(0, 2)
"""


def tell_growth(scatter: Scatter, repeats: int, page: Page) -> None:
    """How time grows with the rate of blockages on one layout.

    Parameters
    ----------
    scatter : Scatter
        The layout. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the table. [-]
    """
    case = Case.of(scatter)
    _tell(
        {f"blockages x {often:g}": _blocked(case, often) for often in (1, 0.25, 4)}, repeats, page
    )


def _blocked(case: Case, often: float) -> Case:
    elements = tuple(
        replace(one, clock=_faster(one.clock, often)) if one.cause == "link_blockage" else one
        for one in case.hazards.elements
    )
    return replace(case, hazards=HazardTable(elements, case.hazards.cells))


def _faster(clock: Clock, often: float) -> Clock:
    if not isinstance(clock, Drawn):
        return clock
    return replace(clock, strikes=replace(clock.strikes, scale=clock.strikes.scale / often))


def tell_hazards(scatter: Scatter, repeats: int, page: Page) -> None:
    """What each hazard costs, the swing of links among them.

    Parameters
    ----------
    scatter : Scatter
        The layout. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the table. [-]
    """
    case = Case.of(scatter)
    variants = {"all hazards": case}
    for cause in sorted({one.cause for one in case.hazards.elements}):
        elements = tuple(one for one in case.hazards.elements if one.cause != cause)
        table = HazardTable(elements, case.hazards.cells)
        variants[f"without {cause}"] = replace(case, hazards=table)
    table = HazardTable(case.hazards.elements, ())
    variants["without battery"] = replace(case, hazards=table)
    variants["without swing"] = Case.of(scatter, swing_db=0.0)
    _tell(variants, repeats, page)


def _tell(variants: dict[str, Case], repeats: int, page: Page) -> None:
    """One row for each variant, compared with the first."""
    lifetimes = {name: Lifetime(one) for name, one in variants.items()}
    spent_s = interleaved(dict(lifetimes), repeats)
    first_s, *_ = spent_s.values()
    name, *_ = (one.name for one in variants.values())
    rows = [
        (
            variant, f"{len(one.hazards.elements) + len(one.hazards.cells):,}",
            f"{lifetimes[variant].n_steps:,}", number(1000 * statistics.median(spent_s[variant])),
            f"{100 * (median_ratio(spent_s[variant], first_s) - 1):+.0f} %",
        )
        for variant, one in variants.items()
    ]  # fmt: skip
    page.table((f"{name}, one lifetime", "elements", "steps", "ms", ""), rows)


def gains(scatter: Scatter, repeats: int) -> tuple[float, float]:
    """How many times more lifetimes two threads, and two processes, play at once than one thread.

    Two processes share nothing: their gain is what the machine had to give.

    Parameters
    ----------
    scatter : Scatter
        The layout. [-]
    repeats : int
        How often. [-]
    """
    site = scatter.site()
    stage = Stage(site, site.layouts[0], DEFAULT_SEED, count_site_outages=False)
    tasks = [partial(one.tally, 0, scatter.n_lifetimes) for one in (stage, stage.twin())]
    tasks[0]()  # compiled before processes are forked
    forked = ProcessPoolExecutor(2, get_context("fork"), _remember, (tasks[0],))
    with forked as processes, ThreadPoolExecutor(2) as threads:
        spent_s = interleaved(
            {
                "processes": lambda: wait([processes.submit(_play) for _ in tasks]),
                "one": tasks[0],
                "threads": lambda: wait([threads.submit(task) for task in tasks]),
            },
            repeats,
            perf_counter,
        )
    together = (2 * median_ratio(spent_s["one"], spent_s[who]) for who in ("threads", "processes"))
    return next(together), next(together)


_TASKS: list[Callable[[], object]] = []  # what a forked process has to play


def _remember(task: Callable[[], object]) -> None:
    _TASKS.append(task)


def _play() -> None:
    _TASKS[0]()


@dataclass(frozen=True, slots=True)
class Start:
    """From nothing to the first two lifetimes of a study, in a process of its own.

    Parameters
    ----------
    wall_s, processor_s : float
        Time on the wall, and with a processor; the same where nobody else uses the machine. [s]
    """

    wall_s: float
    processor_s: float


def starts(repeats: int) -> tuple[Start, Start]:
    """Start with nothing compiled, and the median one of those with a full cache.

    Parameters
    ----------
    repeats : int
        How often from the cache. [-]
    """
    with tempfile.TemporaryDirectory() as folder:
        fresh = _start(folder)
        cached = sorted((_start(folder) for _ in range(repeats)), key=lambda one: one.processor_s)
        return fresh, cached[repeats // 2]


def _start(cache: str) -> Start:
    environment = {**os.environ, "XDG_CACHE_HOME": cache, "PYTHONPATH": str(TOP)}
    wall_s, before = perf_counter(), os.times()
    subprocess.run([sys.executable, "-Pc", FIRST_LIFETIMES], check=True, env=environment, cwd=TOP)
    after = os.times()
    processor_s = after.children_user - before.children_user
    processor_s += after.children_system - before.children_system
    return Start(perf_counter() - wall_s, processor_s)
