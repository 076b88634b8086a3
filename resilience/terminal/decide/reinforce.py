"""Which few changes to a layout buy most, what of it could go, or a layout from nothing."""

from pathlib import Path
from typing import Annotated

import typer

from resilience.errors import UsageError
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
LIMITS = "1024; 20000 of each that is judged --from-sensors"

Layout = Annotated[
    str | None, typer.Option(help="Its name.", show_default="the only one, if there is one")
]
Devices = Annotated[
    int | None,
    typer.Option(
        min=1,
        help="Changes at most: a device added, moved, or put on mains.",
        show_default="2; 10 gateways and repeaters --from-sensors",
    ),
]
Lifetimes = Annotated[
    int | None,
    typer.Option(
        min=2,
        help="Lifetimes of each option, on average: those that fall behind leave theirs to the "
        "others.",
        show_default=LIMITS,
    ),
]
FromSensors = Annotated[
    bool,
    typer.Option(
        "--from-sensors",
        help="From nothing but the sensors: the cheapest layouts found that keep a promise.",
    ),
]
Gateway = Annotated[
    list[str] | None,
    typer.Option(
        metavar="PLACE",
        help="Where a gateway may hang: a place of places.csv, or a gateway of the layout; more "
        "than once if you like.",
        show_default="the layout's, and places of kind gateway",
    ),
]
Until = Annotated[
    Path | None,
    typer.Option(metavar="POLICY", help="The promise to keep.", show_default="SITE/policy.yaml"),
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
    devices: Devices = None,
    remove: Remove = False,
    from_sensors: FromSensors = False,
    gateway: Gateway = None,
    until: Until = None,
    write: Write = None,
    lifetimes: Lifetimes = None,
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
    from resilience.terminal.decide.outset import Wanted, lay_out
    from resilience.terminal.runs.engine import engine_at_hand
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.screen import show, show_json, tell

    _refuse_mixed(from_sensors, remove, (gateway, until))
    described = read_site(site)
    if write is not None:
        refuse_name(site, write)
    if from_sensors:
        wanted = Wanted(layout, tuple(gateway or ()), until, devices, write, json)
        how = (lifetimes, seconds, seed, workers or allowed_cores(), engine)
        lay_out(site, described, wanted, how, quiet)
        return
    places = read_places(site, described)
    named = engine_at_hand(engine, quiet)
    n_lifetimes, n_devices = lifetimes or MOST_LIFETIMES, devices or DEFAULT_DEVICES
    effort = Effort(n_lifetimes, seconds, workers or allowed_cores(), named)
    with doing("trying what could be left out" if remove else "trying what could be changed"):
        if remove:
            found = leave_out(described, layout, n_devices, seed, effort)
        else:
            found = reinforced(described, layout, n_devices, places, seed, effort)
    written = write_layout(site, write, found) if write is not None and found.taken else None
    if json:
        show_json({**found.to_json(), "engine": named, "written": written and str(written)})
    else:
        show(reinforcement_page(found))
    if write is not None:
        tell(f"Written: {written}" if written else "Nothing was taken, so nothing is written.")
    if found.stopped_because == CUT:
        raise typer.Exit(INTERRUPTED)


def _refuse_mixed(from_sensors: bool, remove: bool, others: tuple[object, object]) -> None:
    """Refuse options that do not go together."""
    gateway, until = others
    if from_sensors and remove:
        raise UsageError("--from-sensors begins without devices: there is nothing to --remove")
    if not from_sensors and (gateway or until is not None):
        raise UsageError("--gateway and --until say what a layout --from-sensors has to keep")
