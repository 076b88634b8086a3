"""Whether each layout of a site keeps a promise, how surely, and what could be promised."""

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import (
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
from resilience.terminal.statuses import BROKEN, UNDECIDED

if TYPE_CHECKING:
    from resilience.building.service.policy import Policy
    from resilience.building.site import Site
    from resilience.policy.judgement import Judgement
    from resilience.terminal.runs.asking import Wish

DEFAULT_LIFETIMES = 20_000

MaxOrphans = Annotated[
    int | None,
    typer.Option(min=0, help="Sensors that may be lost at once.", show_default="policy.yaml"),
]
LongerThan = Annotated[
    float | None,
    typer.Option("--longer-than-h", help="For no longer than this.", show_default="policy.yaml"),
]
KeptWith = Annotated[
    float | None,
    typer.Option(help="Probability, over the horizon.", show_default="policy.yaml"),
]

Propose = Annotated[
    str | None,
    typer.Option(metavar="LAYOUT", help="Write the strictest policy that a layout keeps."),
]
To = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Where a proposal goes.", show_default="policy.yaml"),
]
Replace = Annotated[bool, typer.Option("--replace", help="Write over a policy that is there.")]

OverDefaults = Annotated[
    bool,
    typer.Option(
        "--over-defaults",
        help="Try the verdicts under other defaults: each uncertain one that the site does not "
        "state at both ends of its range, and all together; and find up to which value of those "
        "that matter most the promise is kept. It takes up to --seconds more.",
    ),
]


def judge(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteFolder,
    max_orphans: MaxOrphans = None,
    longer_than_h: LongerThan = None,
    kept_with: KeptWith = None,
    propose: Propose = None,
    to: To = None,
    replace: Replace = False,
    over_defaults: OverDefaults = False,
    lifetimes: Lifetimes = DEFAULT_LIFETIMES,
    seconds: Seconds = DEFAULT_SECONDS,
    seed: Seed = DEFAULT_SEED,
    workers: Workers = None,
    engine: EngineChoice = Engine.COMPILED,
    keep: Keep = None,
    no_keep: NoKeep = False,
    fresh: Fresh = False,
    quiet: Quiet = False,
    json: Json = False,
) -> None:
    """Judge which layouts keep the promise of policy.yaml, or of the options.

    It ends with 0 if some layout keeps it, 1 if all break it, 3 if that stays open.
    """
    from resilience.building.files.folder import read_site
    from resilience.terminal.decide.proposing import Target, propose_policy
    from resilience.terminal.runs.asking import Wish
    from resilience.terminal.runs.keeping import Keeping

    if propose is None and (to is not None or replace):
        raise UsageError("--to and --replace say where a proposal goes: name a layout, --propose")
    found = read_site(site)
    wish = Wish(lifetimes, seconds, seed, workers, engine, Keeping(keep, no_keep, fresh), quiet)
    if propose is None:
        policy = stated_policy(site, found, max_orphans, longer_than_h, kept_with)
        _judge(found, policy, wish, json, site if over_defaults else None)
        return
    if over_defaults:
        raise UsageError("--over-defaults tries a promise that is stated: leave --propose out")
    if max_orphans is not None:
        raise UsageError("--propose finds how many sensors may be lost: leave --max-orphans out")
    base = stated_policy(site, found, 0, longer_than_h, kept_with)
    target = to or site / "policy.yaml"
    propose_policy(found, propose, base, wish, Target(target, replace, json))


def _judge(
    site: "Site", policy: "Policy", wish: "Wish", is_json: bool, varied: Path | None
) -> None:
    """Show which layouts keep a policy, and end with its status; vary the defaults of a folder."""
    from resilience.montecarlo.runs.running import INTERRUPTED
    from resilience.policy.bounds import watch_of
    from resilience.policy.hanging.conditions import judgement_json
    from resilience.policy.judging import judged
    from resilience.report.promised.judging import judgement_page
    from resilience.terminal.runs.asking import answered
    from resilience.terminal.runs.gathering import SECONDS_OF_TELLING, splitting_within, too_late
    from resilience.terminal.runs.varying import end_of, hanging_of
    from resilience.terminal.screen import show, show_json

    splitting = splitting_within(wish.seconds, len(site.layouts), wish.is_quiet)
    is_late = too_late(SECONDS_OF_TELLING)
    ask = partial(judged, policy=policy, is_late=is_late, splitting=splitting)
    answer = answered(site, wish, lambda asked, play: ask(asked, play=play), watch_of(policy))
    is_cut = answer.stopped_because == INTERRUPTED  # who interrupts wants no more to be played
    hanging = hanging_of(varied, answer) if varied and not is_cut else None
    if is_json:
        show_json({**judgement_json(answer.answer, hanging), "engine": answer.engine})
    else:
        show(judgement_page(answer.answer, hanging))
    answer.end()
    end_of(hanging)
    _end_as(answer.answer)


def _end_as(judgement: "Judgement") -> None:
    """End with the status of a verdict."""
    from resilience.policy.judgement import Verdict

    statuses = {Verdict.BROKEN: BROKEN, Verdict.UNDECIDED: UNDECIDED}
    if (status := statuses.get(judgement.verdict)) is not None:
        raise typer.Exit(status)


def stated_policy(
    folder: Path,
    site: "Site",
    max_orphans: int | None,
    longer_than_h: float | None,
    kept_with: float | None,
) -> "Policy":
    """Return what ``policy.yaml`` promises, with what options say in its place.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    site : Site
        The same, read. [-]
    max_orphans : int or None
        Sensors that may be lost at once. [-]
    longer_than_h : float or None
        For no longer than this. [h]
    kept_with : float or None
        Probability. [-]

    Raises
    ------
    UsageError
        Nothing is promised, or what options say makes no sense.
    """
    from resilience.building.files.policies import read_policy
    from resilience.building.service.policy import Policy
    from resilience.units import HOURS_PER_YEAR

    policy = read_policy(folder, site)
    if policy is None:
        if max_orphans is None or longer_than_h is None or kept_with is None:
            raise UsageError(
                f"{folder} promises nothing: write a policy.yaml (resilience schema policy), or "
                "say --max-orphans, --longer-than-h and --kept-with"
            )
        policy = Policy(longer_than_h, kept_with, max_orphans)
    else:
        if max_orphans is not None:
            policy = replace(policy, max_orphans=max_orphans, max_orphan_share=None)
        if longer_than_h is not None:
            policy = replace(policy, longer_than_h=longer_than_h)
        if kept_with is not None:
            policy = replace(policy, kept_with_probability=kept_with)
    policy.check(len(site.layouts[0].sensors), site.horizon_years * HOURS_PER_YEAR)
    return policy
