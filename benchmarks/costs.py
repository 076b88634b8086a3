"""What the compiled engine's time depends on: events, hazards, pruning, threads, compiling."""

import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

from resilience.lifetime.fast.arrays import arrays_of, play

from benchmarks.contest import LUCK, compiled_player, n_events, prepared
from benchmarks.layouts import Case
from benchmarks.measuring import Page, interleaved, median_ratio, number
from resilience.connectivity.luck.prospect import mean_paths, prospect
from resilience.draws import DEFAULT_SEED
from resilience.hazards.table import HazardTable
from resilience.lifetime.engines import Many, many
from resilience.lifetime.mesh import mesh_of

TOP = Path(__file__).parent.parent
FIRST_LIFETIME = """
from benchmarks.layouts import SPACING_M, scattered_site
from resilience.lifetime.playing import Stage
site = scattered_site(20, SPACING_M[20])
Stage(site, site.layouts[0], 1, False).tally(0, 2)
"""


def a_study(case: Case) -> Many:
    """Return the compiled engine as a study uses it: it draws its buildings itself.

    Parameters
    ----------
    case : Case
        The layout. [-]
    """
    assert case.table is not None
    mean = mean_paths(case.table)
    everything = mesh_of(case.table.layout, mean, mean, only_usable=False)
    made = many(prospect(case.table), case.hazards, everything, case.rules)
    assert made is not None
    return made


def tell_studies(cases: list[tuple[Case, int]], repeats: int, page: Page) -> None:
    """How many lifetimes a second a study plays on one core, its building draws included.

    Parameters
    ----------
    cases : list of (Case, int)
        Layouts, with the number of lifetimes. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the table. [-]
    """
    rows = []
    for case, n in cases:
        task = partial(a_study(case).tally, DEFAULT_SEED, 0, n)
        spent_s = interleaved({"all": task}, repeats)["all"]
        each_s = statistics.median(spent_s) / n
        years = case.rules.horizon_ms / 3_600_000 / 8766
        rows.append((case.name, f"{years:.1f}", number(1000 * each_s), number(1 / each_s)))
    page.table(
        ("a study, buildings drawn", "years each", "ms a lifetime", "lifetimes a second"), rows
    )


def tell_growth(case: Case, repeats: int, page: Page) -> None:
    """How time grows with the number of events on one layout.

    Parameters
    ----------
    case : Case
        The layout. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the table. [-]
    """
    rows = []
    for often in (0.25, 1.0, 4.0):
        elements = tuple(
            replace(one, strikes=replace(one.strikes, scale=one.strikes.scale / often))
            if one.cause == "link_blockage"
            else one
            for one in case.hazards.elements
        )
        changed = prepared(case.struck_by(HazardTable(elements, case.hazards.cells)))
        spent_s = _played_s({"all": changed}, repeats)["all"]
        n = n_events(compiled_player(changed).lifetime(LUCK).history)
        each_s = statistics.median(spent_s)
        name = f"blockages x {often:g}"
        rows.append((name, f"{n:,}", number(1000 * each_s), number(1e6 * each_s / n)))
    page.table((f"{case.name}, 5 years", "events", "ms a lifetime", "us per event"), rows)


def tell_hazards(case: Case, repeats: int, page: Page) -> None:
    """What each hazard costs, and what leaving out saves.

    Parameters
    ----------
    case : Case
        The layout with all that can strike it. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the table. [-]
    """
    variants = {"all hazards": prepared(case)}
    variants.update((f"without {cause}", one) for cause, one in _without_each(prepared(case)))
    variants["all, nothing left out"] = case
    spent_s = _played_s(variants, repeats)
    whole_s = statistics.median(spent_s["all hazards"])
    rows = [
        (
            name,
            f"{len(one.hazards.elements) + len(one.hazards.cells):,}",
            f"{n_events(compiled_player(one).lifetime(LUCK).history):,}",
            number(1000 * statistics.median(spent_s[name])),
            f"{100 * (statistics.median(spent_s[name]) / whole_s - 1):+.0f} %",
        )
        for name, one in variants.items()
    ]
    page.table((f"{case.name}, 5 years", "elements", "events", "ms a lifetime", ""), rows)
    told = [compiled_player(one).record(LUCK).orphan_ms for one in (case, prepared(case))]
    same = page.agree(f"{case.name}: pruning", told[0] == told[1])
    saved = median_ratio(spent_s["all, nothing left out"], spent_s["all hazards"])
    page.say(
        f"Leaving out what cannot matter saves a factor of {number(saved)}; {same} orphan hours."
    )


def _without_each(case: Case) -> Iterator[tuple[str, Case]]:
    table = case.hazards
    for cause in sorted({one.cause for one in table.elements}):
        elements = tuple(one for one in table.elements if one.cause != cause)
        yield cause, case.struck_by(HazardTable(elements, table.cells))
    yield "battery", case.struck_by(HazardTable(table.elements, ()))


def _played_s(cases: dict[str, Case], repeats: int) -> dict[str, list[float]]:
    ready = {name: arrays_of(one.mesh, one.hazards, one.rules) for name, one in cases.items()}
    tasks = {name: (lambda arrays=arrays: play(arrays, LUCK)) for name, arrays in ready.items()}
    return interleaved(tasks, repeats)


def gains(case: Case, n: int, repeats: int) -> tuple[float, float]:
    """How many times more lifetimes two threads, and two processes, play at once than one thread.

    Two processes share nothing: their gain is what the machine had to give.

    Parameters
    ----------
    case : Case
        The layout. [-]
    n : int
        Lifetimes of each. [-]
    repeats : int
        How often. [-]
    """
    tasks = [partial(a_study(case).tally, DEFAULT_SEED, 0, n) for _ in range(2)]
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
    environment = {**os.environ, "XDG_CACHE_HOME": cache}
    wall_s, before = perf_counter(), os.times()
    subprocess.run([sys.executable, "-c", FIRST_LIFETIME], check=True, env=environment, cwd=TOP)
    after = os.times()
    processor_s = after.children_user - before.children_user
    processor_s += after.children_system - before.children_system
    return Start(perf_counter() - wall_s, processor_s)
