"""Which layout of a site is more robust, how surely, and why."""

import typer

from resilience.terminal.group import INTERRUPTED
from resilience.terminal.options import (
    DEFAULT_LIFETIMES,
    DEFAULT_SECONDS,
    DEFAULT_SEED,
    Json,
    Lifetimes,
    Quiet,
    Seconds,
    Seed,
    SiteFolder,
    Workers,
    allowed_cores,
)


def compare(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    lifetimes: Lifetimes = DEFAULT_LIFETIMES,
    seconds: Seconds = DEFAULT_SECONDS,
    seed: Seed = DEFAULT_SEED,
    workers: Workers = None,
    quiet: Quiet = False,
    json: Json = False,
) -> None:
    """Rank the layouts of a site on the same simulated lifetimes."""
    from resilience.building.files.folder import read_site
    from resilience.montecarlo import running
    from resilience.ranking.comparison import compare as compared
    from resilience.report.ranking import comparison_page
    from resilience.terminal.progress import watched
    from resilience.terminal.screen import show, show_json

    found = read_site(site)
    budget = running.Budget(lifetimes, seconds)
    with watched(seconds, quiet) as report:
        comparison = compared(found, seed, budget, workers or allowed_cores(), report)
    if json:
        show_json(comparison.to_json())
    else:
        show(comparison_page(comparison))
    if comparison.leader.stopped_because == running.INTERRUPTED:
        raise typer.Exit(INTERRUPTED)
