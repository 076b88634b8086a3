"""Everything that was found of a site as one page, and the papers that are handed over."""

import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import (
    DEFAULT_LIFETIMES,
    DEFAULT_SECONDS,
    DEFAULT_SEED,
    Engine,
    EngineChoice,
    Fresh,
    Json,
    Keep,
    Lifetimes,
    NoKeep,
    Quiet,
    Seconds,
    Seed,
    SiteFolder,
    Workers,
)

if TYPE_CHECKING:
    from resilience.report.showing.facts import Shown
    from resilience.terminal.runs.asking import Answered

KINDS = (".html", ".svg")

VaryDefaults = Annotated[
    bool,
    typer.Option(
        "--vary-defaults",
        help="Try the order under other defaults, too, as compare does: it takes minutes.",
    ),
]
Write = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE",
        help="Where to: the page (.html), or a picture of it in short (.svg).",
        show_default="below results",
    ),
]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="Replace a file that is not of this verb.")
]


PapersTo = Annotated[
    Path | None,
    typer.Option(
        "--papers",
        metavar="FOLDER",
        help="Write what is handed over, too: papers.html to print, and its tables as CSV.",
    ),
]
PapersOf = Annotated[
    str | None,
    typer.Option(metavar="LAYOUT", help="Whose papers.", show_default="the one placed first"),
]
Since = Annotated[
    Path | None,
    typer.Option(
        metavar="RUN",
        help="Tell what has moved since this run of portfolio; SITE is then a later one.",
    ),
]


def report(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    write: Write = None,
    overwrite: Overwrite = False,
    lifetimes: Lifetimes = DEFAULT_LIFETIMES,
    seconds: Seconds = DEFAULT_SECONDS,
    seed: Seed = DEFAULT_SEED,
    workers: Workers = None,
    engine: EngineChoice = Engine.COMPILED,
    keep: Keep = None,
    no_keep: NoKeep = False,
    fresh: Fresh = False,
    quiet: Quiet = False,
    vary_defaults: VaryDefaults = False,
    papers: PapersTo = None,
    layout: PapersOf = None,
    since: Since = None,
    json: Json = False,
) -> None:
    """Show everything that was found of a site as one page that opens without a network.

    It goes on from the lifetimes that compare, or judge where there is a promise, have kept.
    """
    from resilience.building.files.folder import read_site
    from resilience.building.files.policies import read_policy
    from resilience.lifetime.record import USUAL_WATCH
    from resilience.policy.bounds import watch_of
    from resilience.terminal.runs.asking import Wish, answered
    from resilience.terminal.runs.gathering import gathered
    from resilience.terminal.runs.keeping import Keeping
    from resilience.terminal.runs.varying import end_of, refuse_one_layout
    from resilience.terminal.writing import usual_place

    if since is not None:
        _tell_moves(site, since, (write, papers), json)
        return
    _refuse_run(site)
    described = read_site(site)
    target = write or usual_place(described.name, "report")
    _refuse_target(target, overwrite)
    if layout is not None:
        described.layout(layout)
    _refuse_papers(papers, overwrite, layout)
    if vary_defaults:
        refuse_one_layout(described)
    policy = read_policy(site, described)
    wish = Wish(lifetimes, seconds, seed, workers, engine, Keeping(keep, no_keep, fresh), quiet)
    began = time.monotonic()
    watch = watch_of(policy) if policy else USUAL_WATCH
    found = answered(
        described, wish, lambda asked, play: gathered(asked, play, policy, seconds, quiet), watch
    )
    shown = found.answer
    if vary_defaults:
        shown = _varied(site, found, time.monotonic() - began)
    handed = _hand_over(shown, papers, layout)
    _write(shown, target, handed, json)
    found.end()
    end_of(shown.variation)


def _tell_moves(
    run: Path, since: Path, files: tuple[Path | None, Path | None], is_json: bool
) -> None:
    from resilience.terminal.keep_up.moving import tell_moves

    if any(files):
        raise UsageError("--since answers here and with --json: leave --write and --papers out")
    tell_moves(run, since, is_json)


def _refuse_run(folder: Path) -> None:
    """Raise UsageError where a run folder is named: it holds lifetimes, and no site to be read."""
    from resilience.montecarlo.runs.manifest import FILE
    from resilience.sweep.kept.results import SITES
    from resilience.terminal.keep_up.portfolio import PAGE

    if (folder / SITES).is_file():
        raise UsageError(
            f"{folder} is a run of portfolio, whose page of all sites is {folder / PAGE}: the same "
            "portfolio command makes it anew; --since ANOTHER-RUN tells what has moved between the "
            "two; for the page of one site name its folder"
        )
    if (folder / FILE).is_file():
        raise UsageError(
            f"{folder} is a run, which does not keep the files of its site: name the site folder, "
            f"and the run with --keep {folder}; its lifetimes are then shown and not played again"
        )


def _refuse_target(target: Path, overwrite: bool) -> None:
    """Raise UsageError where neither a page nor a picture is asked for, or another file stands."""
    from resilience.report.binding.html import is_ours
    from resilience.report.sheet import is_ours as is_drawing
    from resilience.terminal.writing import refuse_others

    if target.suffix.lower() not in KINDS:
        raise UsageError(f"{target} is neither: end its name in .html or, for a picture, .svg")
    is_page = target.suffix.lower() == KINDS[0]
    refuse_others(target, overwrite, is_ours if is_page else is_drawing, "report")


def _varied(folder: Path, found: "Answered[Shown]", spent_seconds: float) -> "Shown":
    """Add what other defaults show of the order."""
    from resilience.terminal.runs.asking import Answered
    from resilience.terminal.runs.varying import variation_of

    comparison = found.answer.comparison
    order = Answered(comparison, found.engine, found.stopped_because, found.wish)
    return replace(found.answer, variation=variation_of(folder, order, spent_seconds))


def _refuse_papers(folder: Path | None, may_replace: bool, layout: str | None) -> None:
    """Raise UsageError where papers would take the place of what somebody may have filled in."""
    from resilience.report.papers.whole import PAGE, TABLES

    if folder is None:
        if layout is not None:
            raise UsageError("--layout says whose papers: name a folder for them with --papers")
        return
    names = [PAGE, *(f"{name}.csv" for name in TABLES)]
    found = [name for name in names if (folder / name).exists()]
    if found and not may_replace:
        raise UsageError(
            f"{folder / found[0]} is there and may have been filled in, so it stays: name another "
            "folder, or add --overwrite"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{folder} cannot be written: {error.strerror}") from error


def _hand_over(shown: "Shown", folder: Path | None, layout: str | None) -> list[str]:
    """Write the papers of a layout; returns the files, none where nobody asked."""
    from resilience.report.binding.html import html
    from resilience.report.papers.whole import PAGE, layout_of, papers
    from resilience.terminal.writing import put

    if folder is None:
        return []
    made = papers(shown, layout_of(shown, layout))
    files = {PAGE: html(made.document), **made.tables}
    for name, text in files.items():
        put(folder / name, text)
    return [str(folder / name) for name in files]


def _write(shown: "Shown", target: Path, handed: list[str], is_json: bool) -> None:
    """Write the page or the picture, and say what is in it."""
    from resilience.report.binding.html import html
    from resilience.report.showing.whole import picture, report_page
    from resilience.report.showing.whole import report as shown_as
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.runs.varying import varied_json
    from resilience.terminal.screen import show, show_json
    from resilience.terminal.writing import put

    with doing("drawing"):
        is_page = target.suffix.lower() == KINDS[0]
        text = html(shown_as(shown)) if is_page else picture(shown)
    put(target, text)
    if is_json:
        varied = varied_json(shown.variation)
        written = {"written": str(target), "papers": handed}
        show_json({**shown.to_json(), "varied_defaults": varied, **written})
    else:
        show(report_page(shown, target, handed))
