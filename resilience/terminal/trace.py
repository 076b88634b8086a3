"""One lifetime, told event by event."""

from typing import Annotated

import typer

from resilience.terminal.options import DEFAULT_SEED, Json, Seed, SiteFolder


def trace(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    layout: Annotated[str | None, typer.Option(help="Its name; the first if left out.")] = None,
    lifetime: Annotated[int, typer.Option(min=0, help="Number of the lifetime.")] = 0,
    seed: Seed = DEFAULT_SEED,
    full: Annotated[bool, typer.Option("--full", help="Every step, however many.")] = False,
    json: Json = False,
) -> None:
    """Tell one lifetime of a layout in words, the same that compare plays under this number."""
    from resilience.building.files.folder import read_site
    from resilience.lifetime.tracing import trace as traced
    from resilience.ranking.comparison import outages_matter
    from resilience.report.story import story_page
    from resilience.terminal.screen import show, show_json

    found = read_site(site)
    chosen = layout or found.layouts[0].name
    lived = traced(found, chosen, lifetime, seed, outages_matter(found.layouts))
    if json:
        show_json(lived.to_json())
    else:
        show(story_page(lived, full))
