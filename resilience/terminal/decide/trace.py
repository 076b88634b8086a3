"""One lifetime, told event by event."""

from typing import Annotated

import typer

from resilience.terminal.options import (
    DEFAULT_SEED,
    Engine,
    EngineChoice,
    Json,
    Seed,
    SiteFolder,
)


def trace(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    layout: Annotated[str | None, typer.Option(help="Its name; the first if left out.")] = None,
    lifetime: Annotated[int, typer.Option(min=0, help="Number of the lifetime.")] = 0,
    seed: Seed = DEFAULT_SEED,
    engine: EngineChoice = Engine.COMPILED,
    full: Annotated[bool, typer.Option("--full", help="Every step, however many.")] = False,
    json: Json = False,
) -> None:
    """Tell one lifetime of a layout in words, the same that compare plays under this number."""
    from resilience.building.files.folder import read_site
    from resilience.lifetime.playing import Stage
    from resilience.lifetime.tracing import told
    from resilience.ranking.comparison import outages_matter
    from resilience.report.answers.story import story_page
    from resilience.terminal.runs.engine import beginning, engine_at_hand
    from resilience.terminal.runs.progress import PREDICTING, doing
    from resilience.terminal.screen import show, show_json

    found = read_site(site)
    chosen = found.layout(layout) if layout else found.layouts[0]
    name = engine_at_hand(engine)
    with doing(PREDICTING):
        stage = Stage(found, chosen, seed, outages_matter(found.layouts), name)
    with doing(beginning(name)):
        lived = told(found, stage, lifetime)
    if json:
        show_json({**lived.to_json(), "engine": name})
    else:
        show(story_page(lived, full))
