"""A layout as a drawing."""

from pathlib import Path
from typing import Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json, SiteFolder

KINDS = (".html", ".svg")


def plan(
    site: SiteFolder,
    layout: Annotated[str | None, typer.Option(help="Its name; the first if left out.")] = None,
    write: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Where to: a page (.html) or a picture (.svg).",
            show_default="below results",
        ),
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace a file that is no drawing of this verb.")
    ] = False,
    json: Json = False,
) -> None:
    """Draw each level and a section, with devices, links and what stands in the way."""
    from resilience.building.files.folder import read_site
    from resilience.connectivity.links import links as links_of
    from resilience.report.answers.plan import plan as drawn
    from resilience.report.answers.plan import plan_page, plan_sheet
    from resilience.report.sheet import html, is_ours, svg
    from resilience.terminal.runs.engine import tell_of_many_paths
    from resilience.terminal.runs.progress import PREDICTING, doing
    from resilience.terminal.screen import show, show_json
    from resilience.terminal.writing import put, refuse_others, usual_place

    found = read_site(site)
    names = [one.name for one in found.layouts]
    chosen = layout or names[0]
    target = write or usual_place(found.name, "plan", chosen)
    if target.suffix.lower() not in KINDS:
        raise UsageError(f"{target} is neither a page nor a picture: end its name in .html or .svg")
    tell_of_many_paths(found)
    with doing(PREDICTING):
        table = links_of(found, chosen)
    with doing("drawing"):
        planned = drawn(found, table)
        sheet = plan_sheet(planned)
        text = svg(sheet) if target.suffix.lower() == ".svg" else html(sheet)
    refuse_others(target, overwrite, is_ours, "plan")
    put(target, text)
    if json:
        show_json({**planned.to_json(), "written": str(target)})
    else:
        show(plan_page(planned, target, [name for name in names if name != chosen]))
