"""Runs the benchmarks: ``python -m benchmarks.run [--quick] [--write]``."""

import argparse
import math
import os
import platform
import subprocess
import sys
from datetime import UTC, datetime
from importlib import metadata
from itertools import pairwise
from pathlib import Path

from benchmarks.contest import Outcome, Plan, against_reference, against_the_rest
from benchmarks.costs import gains, starts, tell_growth, tell_hazards, tell_studies
from benchmarks.layouts import Case, office, scattered, sparse
from benchmarks.measuring import Page, number
from benchmarks.searches import searches

HERE = Path(__file__).parent
LIBRARIES = ("numpy", "numba", "scipy", "networkx", "simpy", "igraph", "rustworkx")

FULL = {20: Plan(100_000, 4_000, 5), 200: Plan(200_000, 2_000, 5), 2000: Plan(300_000, 400, 3)}
QUICK = {20: Plan(2_000, 400, 1), 200: Plan(2_000, 100, 1)}

# How many times faster than the reference and than the best loop; how many times the floor.
AIMS = {20: (1_000, 300, 2), 200: (3_000, 600, 4), 2000: (6_000, 500, 6)}
AIM_THREADS, AIM_COMPILE_S, AIM_START_S = 1.9, 10.0, 1.5


def main() -> int:
    """Run, tell, and return 1 where contenders disagree."""
    parser = argparse.ArgumentParser(description="How fast lifetimes are played.")
    parser.add_argument("--quick", action="store_true", help="short parts of small layouts")
    parser.add_argument("--write", action="store_true", help="keep the page as RESULTS.md")
    options = parser.parse_args()
    page = Page()
    page.say("# Benchmark results", *_circumstances())
    plans = QUICK if options.quick else FULL
    cases = {n: scattered(n) for n in plans}
    _contests(cases, plans, page)
    if not options.quick:
        _costs(cases, page)
        page.say("## Targets")
        page.tell_targets()
    _agreement(page)
    if options.write:
        (HERE / "RESULTS.md").write_text("\n".join(page.lines))
    return 1 if page.disagreements else 0


def _circumstances() -> list[str]:
    versions = [f"Python {platform.python_version()}"]
    for library in LIBRARIES:
        try:
            versions.append(f"{library} {metadata.version(library)}")
        except metadata.PackageNotFoundError:
            versions.append(f"{library} missing")
    load = "" if not hasattr(os, "getloadavg") else f", load {os.getloadavg()[0]:.1f} at the start"
    return [
        f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, sources {_sources()}.",
        f"{_processor()}, {os.cpu_count()} cores{load}. {', '.join(versions)}.",
        "Medians of interleaved repeats, in time with a processor where not said otherwise, on a "
        "machine that others use: trust ratios, not times. An event is a strike or an end.",
    ]


def _sources() -> str:
    described = subprocess.run(
        ["git", "describe", "--always", "--dirty", "--tags"],
        cwd=HERE,
        capture_output=True,
        text=True,
        check=False,
    )
    return described.stdout.strip() or "unknown"


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        lines = []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()


def _contests(cases: dict[int, Case], plans: dict[int, Plan], page: Page) -> None:
    entries = [(cases[n], plan, n) for n, plan in plans.items()]
    if plans is FULL:
        entries.append((sparse(), plans[2000], 2000))
    folder = os.environ.get("RESILIENCE_FIELD_DATA")
    if folder:
        entries.append((office(Path(folder)), next(iter(plans.values())), 0))
    else:
        page.say("The measured office is left out: RESILIENCE_FIELD_DATA is not set.")
    for library in searches()[1]:
        page.say(f"{library} is left out: it is not installed.")
    page.say("## Product's rule: compiled against reference")
    outcomes = {case.name: against_reference(case, plan, page) for case, plan, _ in entries}
    _tell(outcomes, page)
    page.say("## No hysteresis, least id: compiled against loops and floor")
    plain = {case.name: against_the_rest(case, plan, page) for case, plan, _ in entries}
    _tell(plain, page)
    sized = [(n, case.name) for case, _, n in entries if n]
    if plans is FULL:
        _tell_size([(n, outcomes[case.name]) for n, case in cases.items()], page)
    page.uneventful = [
        f"{name} ({rule})"
        for rule, told in (("product's rule", outcomes), ("no hysteresis", plain))
        for name, one in told.items()
        if not one.common_orphan_h
    ]
    for n, name in sized:
        _aim(n, name, outcomes[name], plain[name], page)


def _tell(outcomes: dict[str, Outcome], page: Page) -> None:
    """One column for each layout: microseconds per event, and how many times the compiled."""
    some = next(iter(outcomes.values()))
    every = outcomes.values()
    rows = [
        ("events of the compiled", *(f"{one.n_events:,}" for one in every)),
        ("its events a second", *(number(1e6 / one.us["compiled"]) for one in every)),
        ("orphan hours in common", *(number(one.common_orphan_h) for one in every)),
    ]
    for who in some.us:
        cells = [f"{number(one.us[who])} ({number(one.against[who])})" for one in every]
        rows.append((who, *cells))
    page.table(("us per event (times the compiled)", *outcomes), rows)


def _tell_size(outcomes: list[tuple[int, Outcome]], page: Page) -> None:
    for (n, less), (m, more) in pairwise(outcomes):
        powers = [
            f"{who} {math.log(more.us[who] / less.us[who]) / math.log(m / n):.2f}"
            for who in ("compiled", "reference")
        ]
        page.say(
            f"From {n:,} to {m:,} sensors time per event grows as sensors to the power of "
            f"{', '.join(powers)}."
        )


def _aim(n: int, name: str, ruled: Outcome, plain: Outcome, page: Page) -> None:
    reference, loop, floor = AIMS[n]
    page.aim(f"{name}: times faster than the reference", ruled.against["reference"], reference)
    best = plain.best_loop
    page.aim(f"{name}: than the best from scratch ({best})", plain.against[best], loop)
    page.aim(f"{name}: times the floor", 1 / plain.against["floor"], floor, at_most=True)


def _costs(cases: dict[int, Case], page: Page) -> None:
    page.say("## Studies")
    tell_studies([(cases[20], 64), (cases[200], 8), (cases[2000].until(300_000), 2)], 3, page)
    page.say("## Growth with events")
    tell_growth(cases[200], 5, page)
    page.say("## What hazards cost and what leaving out saves")
    tell_hazards(cases[200], 5, page)
    page.say("## Threads, compiling, starting")
    threads, processes = gains(cases[200], 8, 5)
    what = "two threads: times one"
    if processes >= AIM_THREADS:
        page.aim(what, threads, AIM_THREADS)
    else:
        page.cannot_aim(what, threads, AIM_THREADS, "two processes did not reach it either")
    fresh, cached = starts(3)
    compiling_s = fresh.processor_s - cached.processor_s
    page.aim("compiling, s with a processor", compiling_s, AIM_COMPILE_S, at_most=True)
    start_s = cached.processor_s
    page.aim("start from the cache, s with a processor", start_s, AIM_START_S, at_most=True)
    page.say(
        f"Two threads play {number(threads)} times the lifetimes of one (200 sensors); two "
        f"processes, which share nothing, {number(processes)} times: what the machine had to give.",
        f"From nothing to the first two lifetimes of a study: {number(fresh.processor_s)} s with "
        f"nothing compiled ({number(fresh.wall_s)} s on the wall), {number(start_s)} s from the "
        f"cache ({number(cached.wall_s)} s on the wall).",
    )


def _agreement(page: Page) -> None:
    page.say("## Agreement")
    if page.disagreements:
        page.say("DIFFERENT: " + "; ".join(sorted(set(page.disagreements))) + ".")
    else:
        page.say(
            "All contenders told the same orphan time of every sensor to the millisecond on what "
            "they played in common; the reference told the same record in every figure; the floor "
            "took the same number of steps."
        )
    if page.uneventful:
        page.say(
            "In these nobody was an orphan in what was played in common, so that agreement on "
            f"orphan time says little there: {', '.join(page.uneventful)}."
        )


if __name__ == "__main__":
    sys.exit(main())
