"""One lifetime, told event by event."""

from enum import StrEnum
from typing import Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import (
    DEFAULT_SEED,
    Engine,
    EngineChoice,
    Json,
    Seed,
    SiteFolder,
)

LIFETIMES_TO_PICK_FROM = 128


class Pick(StrEnum):
    """What a lifetime is to stand for, by the names that ``lifetime.picking`` knows them by."""

    TYPICAL = "typical"
    BAD = "bad"
    FIRST_ORPHAN = "first-orphan"
    BREACH = "breach"


def trace(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    layout: Annotated[str | None, typer.Option(help="Its name; the first if left out.")] = None,
    lifetime: Annotated[
        int | None, typer.Option(min=0, help="Number of the lifetime.", show_default="0")
    ] = None,
    pick: Annotated[
        Pick | None,
        typer.Option(help=f"A lifetime that stands for the first {LIFETIMES_TO_PICK_FROM}."),
    ] = None,
    seed: Seed = DEFAULT_SEED,
    engine: EngineChoice = Engine.COMPILED,
    full: Annotated[bool, typer.Option("--full", help="Every step, however many.")] = False,
    json: Json = False,
) -> None:
    """Tell one lifetime of a layout in words, the same that compare plays under this number."""
    from resilience.building.files.folder import read_site
    from resilience.building.files.policies import read_policy
    from resilience.building.site import outages_matter
    from resilience.lifetime import picking
    from resilience.lifetime.playing import Stage
    from resilience.lifetime.record import USUAL_WATCH
    from resilience.lifetime.tracing import told
    from resilience.policy.bounds import breaks, watch_of
    from resilience.report.told.story import story_page
    from resilience.terminal.runs.engine import compiling, engine_at_hand, tell_of_many_paths
    from resilience.terminal.runs.progress import COMPILING, PREDICTING, doing
    from resilience.terminal.screen import show, show_json

    if pick is not None and lifetime is not None:
        raise UsageError("--pick chooses the lifetime, so --lifetime makes no sense with it")
    found = read_site(site)
    policy = read_policy(site, found) if pick is Pick.BREACH else None
    if pick is Pick.BREACH and policy is None:
        raise UsageError(f"{site} promises nothing, as it has no policy.yaml: nothing breaks it")
    chosen = found.layout(layout) if layout else found.layouts[0]
    name = engine_at_hand(engine)
    tell_of_many_paths(found)
    with doing(PREDICTING):
        watch = watch_of(policy) if policy else USUAL_WATCH
        counts = outages_matter(found.layouts)
        stage = Stage(found, chosen, seed, counts, name, watch=watch)
    choice = None
    if pick is not None:
        with doing(f"playing {LIFETIMES_TO_PICK_FROM} lifetimes to pick from"):
            tally = stage.tally(0, LIFETIMES_TO_PICK_FROM)
            is_broken = breaks(tally, policy, len(chosen.sensors)) if policy else None
            choice = picking.picked(tally, picking.Pick(pick.value), is_broken)
    number, is_compiling = choice.number if choice else lifetime or 0, compiling(name)
    with doing(lambda: COMPILING if is_compiling() else f"playing lifetime {number}"):
        lived = told(found, stage, number)
    if json:
        picked = None if choice is None else choice.to_json()
        show_json({**lived.to_json(), "engine": name, "picked": picked})
    else:
        show(story_page(lived, full, choice))
