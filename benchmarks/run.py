"""Runs the benchmarks: ``python -m benchmarks.run [--quick] [--write] [--before FOLDER]``."""

import argparse
import os
import platform
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

from benchmarks.contest import Match, tell_contest
from benchmarks.costs import gains, starts, tell_growth, tell_hazards
from benchmarks.layouts import SCATTERS
from benchmarks.measuring import Page, number
from benchmarks.rare import tell_rare
from benchmarks.reinforcing import tell_reinforcing
from benchmarks.studies import tell_studies

HERE = Path(__file__).parent
LIBRARIES = ("numpy", "numba", "scipy", "networkx", "simpy")

SMALL, MIDDLE, LARGE, SPARSE, DENSE = SCATTERS
FULL = [
    Match(SMALL, 2_000, 2_000, 500),
    Match(MIDDLE, 25, 2_000, 3_000),
    Match(LARGE, 1, 500, 10_000),
    Match(SPARSE, 1, 500, 10_000),
    Match(DENSE, 1, 2_000),
]
QUICK = [Match(SMALL, 200, 200), Match(MIDDLE, 2, 50)]
QUICK_STUDIES = (replace(SMALL, years=0.1, n_lifetimes=2),)
AIM_THREADS, AIM_COMPILE_S, AIM_START_S = 1.9, 10.0, 1.5


def main() -> int:
    """Run, tell, and return 1 where the engines disagree."""
    parser = argparse.ArgumentParser(description="How fast lifetimes are played.")
    parser.add_argument("--quick", action="store_true", help="short parts of small layouts")
    parser.add_argument("--write", action="store_true", help="keep the page as RESULTS.md")
    parser.add_argument("--before", type=Path, help="folder of an earlier state to compare with")
    options = parser.parse_args()
    page = Page()
    page.say("# Benchmark results", *_circumstances())
    page.say("## Studies")
    scatters = QUICK_STUDIES if options.quick else SCATTERS
    tell_studies(scatters, options.before, 1 if options.quick else 3, page)
    page.say("## Against the reference")
    tell_contest(QUICK if options.quick else FULL, 1 if options.quick else 5, page)
    _tell_agreement(page)
    if not options.quick:
        _tell_costs(page)
        page.say("## Rare losses")
        tell_rare(page)
        page.say("## Reinforcing")
        tell_reinforcing(page)
        page.say("## Targets")
        page.tell_targets()
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
        "machine that others use: trust ratios, not times.",
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


def _tell_agreement(page: Page) -> None:
    if page.disagreements:
        page.say("DIFFERENT: " + "; ".join(sorted(set(page.disagreements))) + ".")
    else:
        page.say("Both engines left the same record in every figure.")
    if page.uneventful:
        page.say(f"Nobody was an orphan in what was played of {', '.join(page.uneventful)}.")


def _tell_costs(page: Page) -> None:
    page.say("## Growth with blockages")
    tell_growth(MIDDLE, 3, page)
    page.say("## What hazards cost")
    tell_hazards(MIDDLE, 3, page)
    tell_hazards(DENSE, 3, page)
    page.say("## Threads, compiling, starting")
    threads, processes = gains(MIDDLE, 5)
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


if __name__ == "__main__":
    sys.exit(main())
