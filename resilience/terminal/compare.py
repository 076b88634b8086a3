"""Which layout of a site is more robust, how surely, and why."""

import typer

from resilience.terminal.group import INTERRUPTED
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
    allowed_cores,
)


def compare(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    lifetimes: Lifetimes = DEFAULT_LIFETIMES,
    seconds: Seconds = DEFAULT_SECONDS,
    seed: Seed = DEFAULT_SEED,
    workers: Workers = None,
    engine: EngineChoice = Engine.COMPILED,
    keep: Keep = None,
    no_keep: NoKeep = False,
    fresh: Fresh = False,
    quiet: Quiet = False,
    json: Json = False,
) -> None:
    """Rank the layouts of a site on the same simulated lifetimes."""
    from resilience.building.files.folder import read_site
    from resilience.montecarlo import running
    from resilience.montecarlo.study import studies
    from resilience.ranking.comparison import outages_matter, ranked
    from resilience.ranking.settling import Settling
    from resilience.report.answers.ranking import comparison_page
    from resilience.terminal.engine import beginning, engine_at_hand, tell_of_many_paths
    from resilience.terminal.keeping import Keeping, kept
    from resilience.terminal.progress import watched
    from resilience.terminal.screen import show, show_json, tell

    keeping = Keeping(keep, no_keep, fresh)
    found = read_site(site)
    n_workers = workers or allowed_cores()
    name = engine_at_hand(engine, quiet)
    if not quiet:
        tell_of_many_paths(found)
    undertaking = running.Undertaking(
        found, found.layouts, seed, outages_matter(found.layouts), name
    )
    settling = Settling()
    options = {"lifetimes": lifetimes, "seconds": seconds, "workers": n_workers}
    with kept(undertaking, keeping, options, quiet) as run:
        with watched(seconds, quiet, beginning(name)) as report:
            budget = running.Budget(lifetimes, seconds)
            comparison = ranked(
                found, studies(run.undertaking, budget, settling, n_workers, report), settling.pair
            )
        run.end(comparison.leader)
    if json:
        show_json({**comparison.to_json(), "engine": name})
    else:
        show(comparison_page(comparison))
    if comparison.leader.stopped_because == running.INTERRUPTED:
        if not (quiet or no_keep):
            tell("Interrupted: the same command goes on from here.")
        raise typer.Exit(INTERRUPTED)
