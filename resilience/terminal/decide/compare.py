"""Which layout of a site is more robust, how surely, and why."""

import time
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

AllPairs = Annotated[
    bool, typer.Option("--all-pairs", help="Every two layouts, not only each against the first.")
]

VaryDefaults = Annotated[
    bool,
    typer.Option(
        "--vary-defaults",
        help="Try the order under other defaults: each uncertain one that the site does not state "
        "at both ends of its range, and all together. Both take up to twice --seconds together.",
    ),
]

If = Annotated[
    list[str] | None,
    typer.Option(
        "--if",
        metavar="CHANGE",
        help="What if: 'without R1', 'R1 on mains', 'crew in 2 days', '2 crews', 'no gateway "
        "outages', 'radio.swing_db = 3'; several joined by ';', 'LAYOUT:' before them for that "
        "layout. May be given more than once.",
    ),
]


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
    all_pairs: AllPairs = False,
    vary_defaults: VaryDefaults = False,
    if_: If = None,
    json: Json = False,
) -> None:
    """Rank the layouts of a site on the same simulated lifetimes."""
    from resilience.building.files.folder import read_site
    from resilience.ranking.comparison import compared
    from resilience.report.comparing.ranking import comparison_page
    from resilience.terminal.runs.asking import Wish, answered
    from resilience.terminal.runs.gathering import seldom_of
    from resilience.terminal.runs.keeping import Keeping
    from resilience.terminal.runs.supposing import suppositions, whatifs_of
    from resilience.terminal.runs.varying import (
        end_of,
        refuse_one_layout,
        variation_of,
        varied_json,
    )
    from resilience.terminal.screen import show, show_json

    keeping = Keeping(keep, no_keep, fresh)
    wish = Wish(lifetimes, seconds, seed, workers, engine, keeping, quiet)
    described = read_site(site)
    if vary_defaults:
        refuse_one_layout(described)
    supposed = suppositions(if_ or (), described)
    began = time.monotonic()
    found = answered(described, wish, lambda asked, play: compared(asked.site, play))
    spent_seconds = time.monotonic() - began
    variation = variation_of(site, found, spent_seconds) if vary_defaults else None
    what_ifs = whatifs_of(found, supposed)
    seldom = seldom_of(found)
    if json:
        more = {"engine": found.engine, "varied_defaults": varied_json(variation)}
        told = {} if what_ifs is None else {"what_ifs": what_ifs.to_json()}
        rare = {"rare_hours": None if seldom is None else seldom.to_json()}
        show_json({**found.answer.to_json(), **more, **rare, **told})
    else:
        show(comparison_page(found.answer, all_pairs, variation, what_ifs, seldom))
    found.end()
    end_of(variation)
    end_of(what_ifs)
