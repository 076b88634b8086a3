"""A layout from sensors alone: looked for, shown, and written down."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from resilience.errors import UsageError
from resilience.terminal.statuses import INTERRUPTED, UNDECIDED

if TYPE_CHECKING:
    from resilience.building.service.policy import Policy
    from resilience.building.site import Site
    from resilience.terminal.options import Engine

How = tuple[int | None, float, int, int, "Engine"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for.

    Parameters
    ----------
    layout : str or None
        Whose sensors; None takes the first, since all layouts have the same. [-]
    gateways : tuple of str
        Where a gateway may hang; none means everywhere that is marked for one. [-]
    until : Path or None
        The promise; None takes that of the site. [-]
    devices : int or None
        Gateways and repeaters at most. [-]
    write : str or None
        Name of the layout to be written. [-]
    is_json : bool
        Whether it is told as JSON. [-]
    """

    layout: str | None
    gateways: tuple[str, ...]
    until: Path | None
    devices: int | None
    write: str | None
    is_json: bool


def lay_out(folder: Path, site: "Site", wanted: Wanted, how: How, is_quiet: bool) -> None:
    """Look for the cheapest layouts that keep a promise; end with 3 where none is shown to.

    Parameters
    ----------
    folder : Path
        Of the site. [-]
    site : Site
        The same, read. [-]
    wanted : Wanted
        What is asked for. [-]
    how : tuple
        Lifetimes, seconds, seed, threads and engine. [-]
    is_quiet : bool
        Whether nothing is told meanwhile. [-]
    """
    from resilience.building.service.places import read_places
    from resilience.montecarlo.runs.running import INTERRUPTED as CUT
    from resilience.remedies.outset.allowed import allowed_of
    from resilience.remedies.outset.field import N_WORDS
    from resilience.remedies.outset.folders import write_proposal
    from resilience.remedies.outset.search import MOST_DEVICES, MOST_LIFETIMES, from_sensors
    from resilience.remedies.reinforcing.confirming import Effort
    from resilience.report.advising.outset import outset_page
    from resilience.terminal.runs.engine import engine_at_hand
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.screen import show, show_json, tell

    policy = _policy(folder, site, wanted.until)
    start = site.layouts[0] if wanted.layout is None else site.layout(wanted.layout)
    allowed = allowed_of(site, start, read_places(folder, site), wanted.gateways)
    n_lifetimes, seconds, seed, workers, engine = how
    named = engine_at_hand(engine, is_quiet)
    effort = Effort(n_lifetimes or MOST_LIFETIMES, seconds, workers, named, n_words=N_WORDS)
    with doing("looking for layouts that keep the promise"):
        n_devices = wanted.devices or MOST_DEVICES
        found = from_sensors(site, start, allowed, policy, n_devices, seed, effort)
    written = None
    if wanted.write is not None and found.proposals:
        written = write_proposal(folder, wanted.write, found)
    if wanted.is_json:
        show_json({**found.to_json(), "engine": named, "written": written and str(written)})
    else:
        show(outset_page(found))
    if wanted.write is not None:
        tell(f"Written: {written}" if written else "Nothing was found, so nothing is written.")
    if found.stopped_because == CUT:
        raise typer.Exit(INTERRUPTED)
    if not found.proposals:
        raise typer.Exit(UNDECIDED)


def _policy(folder: Path, site: "Site", named: Path | None) -> "Policy":
    from resilience.building.files.policies import policy_in, read_policy

    if named is not None and not named.is_file():
        raise UsageError(f"--until {named} is no file; name a policy.yaml (see resilience schema)")
    policy = read_policy(folder, site) if named is None else policy_in(named, site)
    if policy is None:
        raise UsageError(
            f"{folder} promises nothing: write a policy.yaml (resilience schema policy), or name "
            "one by --until"
        )
    return policy
