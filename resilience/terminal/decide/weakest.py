"""What a layout hangs on, and what would help."""

from contextlib import nullcontext
from typing import Annotated

import typer

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

SHARE_OF_SECONDS = 4  # so much less time is for telling lifetimes than for playing them

Layout = Annotated[
    str | None, typer.Option(help="Its name.", show_default="the one that compare places first")
]

WholeSurvey = Annotated[
    bool, typer.Option("--survey", help="All that is worth measuring, not only what tells most.")
]


def weakest(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    layout: Layout = None,
    lifetimes: Lifetimes = DEFAULT_LIFETIMES,
    seconds: Seconds = DEFAULT_SECONDS,
    seed: Seed = DEFAULT_SEED,
    workers: Workers = None,
    engine: EngineChoice = Engine.COMPILED,
    keep: Keep = None,
    no_keep: NoKeep = False,
    fresh: Fresh = False,
    quiet: Quiet = False,
    survey: WholeSurvey = False,
    json: Json = False,
) -> None:
    """Say on what a layout hangs most and what would help, on the lifetimes that compare plays."""
    from resilience.building.files.folder import read_site
    from resilience.ranking.comparison import compared
    from resilience.remedies.weakest import Effort, weakness_of
    from resilience.report.advising.weakness import weakness_page
    from resilience.terminal.runs.asking import Wish, answered
    from resilience.terminal.runs.keeping import Keeping
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.screen import show, show_json

    described = read_site(site)
    if layout is not None:
        described.layout(layout)
    wish = Wish(lifetimes, seconds, seed, workers, engine, Keeping(keep, no_keep, fresh), quiet)
    effort = Effort(seconds=seconds / SHARE_OF_SECONDS)
    found = answered(described, wish, lambda asked, play: (asked, compared(asked.site, play)))
    with nullcontext() if quiet else doing("telling lifetimes event by event"):
        weakness = weakness_of(*found.answer, layout, effort)
    if json:
        show_json({**weakness.to_json(), "engine": found.engine})
    else:
        show(weakness_page(weakness, survey))
    found.end()
