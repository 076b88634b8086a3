"""Which few changes to a layout buy most, or what of it could be left out."""

from typing import Annotated

import typer

from resilience.terminal.options import (
    DEFAULT_SECONDS,
    DEFAULT_SEED,
    Engine,
    EngineChoice,
    Json,
    Quiet,
    Seconds,
    Seed,
    SiteFolder,
    Workers,
    allowed_cores,
)
from resilience.terminal.statuses import INTERRUPTED

DEFAULT_DEVICES = 2
MOST_LIFETIMES = 1024

Layout = Annotated[
    str | None, typer.Option(help="Its name.", show_default="the only one, if there is one")
]
Devices = Annotated[
    int, typer.Option(min=1, help="Changes at most: a device added, moved, or put on mains.")
]
Lifetimes = Annotated[
    int,
    typer.Option(
        min=2,
        help="Lifetimes of each option, on average: those that fall behind leave theirs to the "
        "others.",
    ),
]
Remove = Annotated[
    bool, typer.Option("--remove", help="The opposite: which could be left out, losing least.")
]
Write = Annotated[
    str | None,
    typer.Option("--write", metavar="NAME", help="Write what was found as a new layout."),
]


def reinforce(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    layout: Layout = None,
    devices: Devices = DEFAULT_DEVICES,
    remove: Remove = False,
    write: Write = None,
    lifetimes: Lifetimes = MOST_LIFETIMES,
    seconds: Seconds = DEFAULT_SECONDS,
    seed: Seed = DEFAULT_SEED,
    workers: Workers = None,
    engine: EngineChoice = Engine.COMPILED,
    quiet: Quiet = False,
    json: Json = False,
) -> None:
    """Say where one more device, or a move, buys most; places.csv lists where devices could hang.

    Without places.csv repeaters are tried on a grid inside the building, clear of walls and shafts.
    """
    from resilience.building.files.folder import read_site
    from resilience.building.service.places import read_places
    from resilience.montecarlo.runs.running import INTERRUPTED as CUT
    from resilience.remedies.reinforcing.confirming import Effort
    from resilience.remedies.reinforcing.folders import refuse_name, write_layout
    from resilience.remedies.reinforcing.steps import leave_out
    from resilience.remedies.reinforcing.steps import reinforce as reinforced
    from resilience.report.advising.reinforcing import reinforcement_page
    from resilience.terminal.runs.engine import engine_at_hand
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.screen import show, show_json, tell

    described = read_site(site)
    places = read_places(site, described)
    if write is not None:
        refuse_name(site, write)
    named = engine_at_hand(engine, quiet)
    effort = Effort(lifetimes, seconds, workers or allowed_cores(), named)
    with doing("trying what could be left out" if remove else "trying what could be changed"):
        if remove:
            found = leave_out(described, layout, devices, seed, effort)
        else:
            found = reinforced(described, layout, devices, places, seed, effort)
    written = None
    if write is not None and found.taken:
        written = write_layout(site, write, found)
    if json:
        show_json({**found.to_json(), "engine": named, "written": written and str(written)})
    else:
        show(reinforcement_page(found))
    if write is not None:
        tell(f"Written: {written}" if written else "Nothing was taken, so nothing is written.")
    if found.stopped_because == CUT:
        raise typer.Exit(INTERRUPTED)
