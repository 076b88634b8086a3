"""Many sites scored: which are at most risk, how surely, and which few deserve a visit."""

from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import (
    DEFAULT_SEED,
    Engine,
    EngineChoice,
    Fresh,
    Json,
    Keep,
    Quiet,
    Seed,
    allowed_cores,
)
from resilience.terminal.statuses import BROKEN, INTERRUPTED, SOME_FAILED, UNDECIDED

if TYPE_CHECKING:
    from resilience.montecarlo.runs.ledger import Ledger
    from resilience.ranking.many.portfolio import Portfolio
    from resilience.sweep.crew import Where
    from resilience.sweep.running import Outcome, Plan

DEFAULT_LIFETIMES = 512
PAGE = "portfolio.html"  # in the run folder
PAGE_OF_SITE = "report.html"  # in the folder of a site below it, where somebody has put one


class By(StrEnum):
    """By what sites are ranked, under the names that ``ranking.many.sites`` knows."""

    HOURS = "hours"
    BREACH = "breach"
    SENSOR = "sensor"


Top = Annotated[Path, typer.Argument(metavar="FOLDER", help="Holds site folders, at any depth.")]
SharedPolicy = Annotated[
    Path | None,
    typer.Option(
        "--policy", metavar="FILE", help="One promise for all.", show_default="each site's own"
    ),
]
Only = Annotated[
    list[str] | None,
    typer.Option(
        metavar="PATTERN", help="Sites whose path fits, as in 'north/*'; may be repeated."
    ),
]
Lifetimes = Annotated[int, typer.Option(min=1, help="Lifetimes of each layout, at least.")]
Tag = Annotated[
    list[str] | None,
    typer.Option(
        metavar="TAG", help="Sites whose site.yaml has this tag; may be repeated, to have all."
    ),
]
ByRisk = Annotated[By, typer.Option("--by", help="What sites are ranked by.")]
Until = Annotated[
    str | None,
    typer.Option(
        metavar="HH:MM", help="Give spare time to undecided sites, and end by then, local time."
    ),
]
Processes = Annotated[
    int | None,
    typer.Option("--workers", min=1, help="Processes.", show_default="cores this process may use"),
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS",
        help="Play on a cluster that is there already.",
        show_default="a cluster of this machine",
    ),
]
Gate = Annotated[
    bool, typer.Option("--gate", help="End with 1 if a promise is broken, 3 if one is undecided.")
]
Since = Annotated[
    Path | None,
    typer.Option(
        metavar="RUN",
        help="Run folder of an earlier time: play only what has changed since.",
        show_default="play all",
    ),
]


class TableKind(StrEnum):
    """How tables are written beside their CSV, by the names that ``sweep.kept.copies`` knows."""

    XLSX = "xlsx"
    PARQUET = "parquet"


Tables = Annotated[
    list[TableKind] | None,
    typer.Option(
        "--tables",
        help="Write each table like this, too; may be repeated.",
        show_default="CSV only",
    ),
]


def portfolio(  # noqa: PLR0913, PLR0917 - one parameter an option
    folder: Top,
    policy: SharedPolicy = None,
    only: Only = None,
    tag: Tag = None,
    by: ByRisk = By.HOURS,
    lifetimes: Lifetimes = DEFAULT_LIFETIMES,
    until: Until = None,
    seed: Seed = DEFAULT_SEED,
    workers: Processes = None,
    scheduler: Scheduler = None,
    engine: EngineChoice = Engine.COMPILED,
    since: Since = None,
    tables: Tables = None,
    keep: Keep = None,
    fresh: Fresh = False,
    gate: Gate = False,
    quiet: Quiet = False,
    json: Json = False,
) -> None:
    """Score every site of a folder and rank them by risk; the same command goes on where it ended.

    It ends with 4 if some site has no answer, else with 0 whatever the verdicts, unless --gate.
    """
    from resilience.ranking.many.sites import Risk
    from resilience.sweep.crew import Where
    from resilience.sweep.finding import Terms, site_folders
    from resilience.sweep.kept.copies import Kind, copy_tables, refuse_missing
    from resilience.sweep.running import Plan
    from resilience.terminal.keep_up.keeping import portfolio_folder
    from resilience.terminal.keep_up.moments import seconds_until
    from resilience.terminal.runs.engine import engine_at_hand

    if policy is not None and not policy.is_file():
        raise UsageError(f"{policy} is no file; name a policy.yaml (resilience schema policy)")
    kinds = [Kind(one.value) for one in dict.fromkeys(tables or ())]
    refuse_missing(kinds)
    left_s = seconds_until(until) if until else None
    picked = (tuple(only or ()), tuple(tag or ()))
    folders = site_folders(folder, *picked)
    terms = Terms(seed, engine_at_hand(engine, quiet), policy)
    plan = Plan(folder, folders, terms, lifetimes, Risk(by.value), left_s)
    place = portfolio_folder(keep, folder, (seed, *picked), fresh, since)
    with _earlier(since, seed, quiet) as ledger:
        where = Where(workers or allowed_cores(), scheduler)
        outcome = _played(replace(plan, since=ledger), where, place, quiet)
    copy_tables(place, outcome.standings, kinds)
    _show(outcome, place, json, quiet)
    _end(outcome.portfolio(), gate)


def _earlier(
    run: Path | None, seed: int, is_quiet: bool
) -> AbstractContextManager["Ledger | None"]:
    """Open the ledger of an earlier run, if one was named."""
    from resilience.montecarlo.runs.ledger import Ledger
    from resilience.sweep.kept.earlier import is_of_another_program
    from resilience.terminal.keep_up.keeping import run_digest
    from resilience.terminal.screen import tell

    if run is None:
        return nullcontext()
    if is_of_another_program(run, seed) and not is_quiet:
        tell(f"Another version of this program made {run}, so that every site is played anew.")
    return Ledger.open_to_read(run, run_digest())


def _played(plan: "Plan", where: "Where", place: Path, is_quiet: bool) -> "Outcome":
    """Play a portfolio in its run folder, which no other run may use meanwhile."""
    from resilience.montecarlo.runs.folders import alone_in
    from resilience.montecarlo.runs.ledger import Ledger
    from resilience.sweep.crew import Crew
    from resilience.sweep.kept.results import Tables
    from resilience.sweep.running import played_portfolio
    from resilience.terminal.keep_up.keeping import facts, run_digest
    from resilience.terminal.keep_up.telling import watching
    from resilience.terminal.screen import tell

    if not is_quiet:
        tell(f"Kept in {place}")
    with alone_in(place), Ledger.open(place, run_digest()) as ledger:
        tables = Tables(place)
        tables.put_manifest(facts(plan, where, None))
        with watching(len(plan.folders), is_quiet, plan.left_s is not None) as watcher:
            outcome = played_portfolio(plan, ledger, lambda: Crew(where), watcher, tables.keep)
        tables.put_manifest(facts(plan, where, outcome))
        _bind(outcome.portfolio(), place)
    return outcome


def _bind(known: "Portfolio", place: Path) -> None:
    """Write all sites at a glance, with links to the pages of single sites that are there."""
    from resilience.report.binding.html import html
    from resilience.report.many.overview import overview
    from resilience.sweep.kept.results import folder_name
    from resilience.terminal.writing import put

    pages = {one.id: f"sites/{folder_name(one.id)}/{PAGE_OF_SITE}" for one in known.scores()}
    there = {id: page for id, page in pages.items() if (place / page).is_file()}
    put(place / PAGE, html(overview(known, str(place), there)))


def _show(outcome: "Outcome", place: Path, is_json: bool, is_quiet: bool) -> None:
    from resilience.montecarlo.runs import running
    from resilience.report.many.portfolio import portfolio_page
    from resilience.terminal.screen import show, show_json, tell

    known = outcome.portfolio()
    if is_json:
        show_json({**known.to_json(), "kept_in": str(place), "written": str(place / PAGE)})
    else:
        show(portfolio_page(known, str(place), str(place / PAGE)))
    if known.stopped_because == running.INTERRUPTED:
        if not is_quiet:
            tell("Interrupted: what is finished is kept, and the same command goes on from here.")
        raise typer.Exit(INTERRUPTED)


def _end(known: "Portfolio", is_gate: bool) -> None:
    """End with the status that tells what became of it."""
    from resilience.policy.judgement import Verdict

    if known.failures or known.not_reached:
        raise typer.Exit(SOME_FAILED)
    for verdict, status in ((Verdict.BROKEN, BROKEN), (Verdict.UNDECIDED, UNDECIDED)):
        if is_gate and known.verdicts[verdict]:
            raise typer.Exit(status)
