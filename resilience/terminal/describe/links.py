"""Who hears whom."""

from typing import Annotated

import typer

from resilience.terminal.options import Json, SiteFolder


def links(
    site: SiteFolder,
    layout: Annotated[str | None, typer.Option(help="Its name; the first if left out.")] = None,
    device: Annotated[
        str | None, typer.Option(help="Id of one device: all of its neighbours.")
    ] = None,
    second_opinion: Annotated[
        bool, typer.Option(help="Add where the COST 231 multi-wall model says otherwise.")
    ] = False,
    json: Json = False,
) -> None:
    """Show every device's neighbours, how well it hears them and what stands in the way."""
    from resilience.building.files.folder import read_site
    from resilience.connectivity.links import links as links_of
    from resilience.report.answers.radio import links_json, links_page
    from resilience.terminal.runs.engine import tell_of_many_paths
    from resilience.terminal.runs.progress import PREDICTING, doing
    from resilience.terminal.screen import show, show_json

    found = read_site(site)
    names = [one.name for one in found.layouts]
    chosen = layout or names[0]
    tell_of_many_paths(found)
    with doing(PREDICTING):
        table = links_of(found, chosen)
    if json:
        show_json(links_json(table, second_opinion))
    else:
        others = [name for name in names if name != chosen]
        show(links_page(table, others, second_opinion, device, found))
