"""Who hears whom."""

from typing import Annotated

import typer

from resilience.terminal.options import Json, SiteFolder


def links(
    site: SiteFolder,
    layout: Annotated[str | None, typer.Option(help="Its name; the first if left out.")] = None,
    json: Json = False,
) -> None:
    """Show every device's neighbours, how well it hears them and what stands in the way."""
    from resilience.building.files.folder import read_site
    from resilience.connectivity.links import links as links_of
    from resilience.report.radio import links_page
    from resilience.terminal.screen import show, show_json

    found = read_site(site)
    names = [one.name for one in found.layouts]
    chosen = layout or names[0]
    table = links_of(found, chosen)
    if json:
        show_json(table.to_json())
    else:
        show(links_page(table, [name for name in names if name != chosen]))
