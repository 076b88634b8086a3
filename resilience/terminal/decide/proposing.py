"""The strictest policy that a layout keeps, confirmed on fresh lifetimes and written down."""

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from resilience.errors import UsageError
from resilience.terminal.statuses import UNDECIDED

if TYPE_CHECKING:
    from resilience.building.service.policy import Policy
    from resilience.building.site import Site
    from resilience.lifetime.record import Watch
    from resilience.policy.judgement import Judgement
    from resilience.terminal.runs.asking import Answered, Wish


@dataclass(frozen=True, slots=True)
class Target:
    """Where a proposal goes.

    Parameters
    ----------
    path : Path
        The file. [-]
    may_replace : bool
        Whether a file that is there may be lost. [-]
    is_json : bool
        Whether it is told as JSON. [-]
    """

    path: Path
    may_replace: bool
    is_json: bool


def propose_policy(site: "Site", layout: str, base: "Policy", wish: "Wish", target: Target) -> None:
    """Write the strictest policy of a layout, one sensor in reserve, if fresh lifetimes keep it.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : str
        Name of one of its layouts. [-]
    base : Policy
        States duration, probability and what counts. [-]
    wish : Wish
        How lifetimes are played, each time. [-]
    target : Target
        Where the proposal goes. [-]
    """
    from resilience.building.files.policies import write_policy
    from resilience.building.site import outages_matter
    from resilience.policy.bounds import watch_of
    from resilience.policy.judgement import Verdict
    from resilience.policy.proposing import Narrowing
    from resilience.report.promised.judging import judgement_page, proposal_words
    from resilience.terminal.runs.asking import answered
    from resilience.terminal.screen import show, show_json, tell

    if target.path.exists() and not target.may_replace:
        raise UsageError(
            f"{target.path} is there already and stays as it is; --replace writes over it, --to "
            "FILE writes elsewhere"
        )
    alone = replace(site, layouts=(site.layout(layout),))
    how = (watch_of(base), outages_matter(site.layouts))
    narrowing = Narrowing(base)
    first = answered(alone, wish, lambda _, play: play(narrowing)[0], *how)
    first.end()
    policy = narrowing.proposal(first.answer)
    if policy is None:
        tell(f"These lifetimes show no promise of {layout} that leaves one sensor in reserve.")
        raise typer.Exit(UNDECIDED)
    second = _again(alone, policy, replace(wish, seed=wish.seed + 1), how)
    is_confirmed = second.answer.verdict is Verdict.KEPT
    if is_confirmed:
        write_policy(target.path, policy, site, target.may_replace)
    if target.is_json:
        written = str(target.path) if is_confirmed else None
        show_json({**second.answer.to_json(), "engine": second.engine, "written": written})
    else:
        show(judgement_page(second.answer))
        tell(proposal_words(second.answer, first.answer, str(target.path)))
    second.end()
    if not is_confirmed:
        raise typer.Exit(UNDECIDED)


def _again(
    alone: "Site", policy: "Policy", wish: "Wish", how: "tuple[Watch, bool]"
) -> "Answered[Judgement]":
    """Judge one layout by a policy, on the lifetimes of a wish."""
    from resilience.policy.judging import judged
    from resilience.terminal.runs.asking import answered
    from resilience.terminal.runs.gathering import splitting_within

    splitting = splitting_within(wish.seconds, 1, wish.is_quiet)
    ask = partial(judged, policy=policy, splitting=splitting)
    return answered(alone, wish, lambda asked, play: ask(asked, play=play), *how)
