"""All answers that a report shows, gathered from the same lifetimes."""

import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from resilience.building.service.policy import Policy
    from resilience.montecarlo.runs.running import Undertaking
    from resilience.montecarlo.study import Play
    from resilience.policy.rare import Splitting
    from resilience.ranking.comparison import Comparison
    from resilience.ranking.seldom.order import SeldomOrder
    from resilience.report.showing.facts import Shown
    from resilience.terminal.runs.asking import Answered

SECONDS_OF_TELLING = 10.0  # lifetimes once more, for what breaks the promise
TELLING_SHARE = 0.25  # of the time allowed: for all layouts year by year, and for what is weak


def gathered(
    asked: "Undertaking",
    play: "Play",
    policy: "Policy | None",
    seconds: float,
    is_quiet: bool = True,
) -> "Shown":
    """Let lifetimes answer everything that a report shows.

    Parameters
    ----------
    asked : Undertaking
        What is played, with the watch of the policy. [-]
    play : callable
        Gives a study of each layout, in their order. [-]
    policy : Policy or None
        What the site promises; None promises nothing. [-]
    seconds : float
        Time allowed for playing; half as much may go into telling some lifetimes once more. [s]
    is_quiet : bool
        Whether to tell nothing on the way. [-]
    """
    from resilience.connectivity.links import site_table
    from resilience.connectivity.luck.routes import routes
    from resilience.montecarlo.retelling import retold
    from resilience.montecarlo.runs.running import INTERRUPTED
    from resilience.policy.judging import judged
    from resilience.ranking.comparison import compared
    from resilience.remedies.weakest import Effort, weakness_of
    from resilience.report.showing.facts import Shown, Within
    from resilience.terminal.runs.progress import doing

    comparison = compared(asked.site, play)
    is_cut, judgement = comparison.leader.stopped_because == INTERRUPTED, None
    if policy and not is_cut:
        splitting = splitting_within(seconds, len(asked.layouts), is_quiet)
        judgement = judged(asked, policy, play, too_late(SECONDS_OF_TELLING), splitting)
    share_s = 0.0 if is_cut else TELLING_SHARE * seconds / len(comparison.placed)
    paths, layouts = site_table(asked.site, asked.layouts), []
    with nullcontext() if is_quiet else doing("telling lifetimes once more"):
        for one in comparison.placed:
            links = paths.of(one.layout)
            stage = asked.stage(one.layout, links)
            told = retold(stage, one.study.n_lifetimes, too_late(share_s))
            effort = Effort(seconds=share_s)
            weak = None if is_cut else weakness_of(asked, comparison, one.layout.name, effort)
            layouts.append(Within(one, links, routes(links, asked.seed), told, weak))
    return Shown(
        comparison, tuple(layouts), judgement, None, date.today(), asked.engine, _versions()
    )


def too_late(seconds: float) -> Callable[[], bool]:
    """Return what says, from its first question on, whether so much time has passed.

    Parameters
    ----------
    seconds : float
        That may pass. [s]
    """
    first: list[float] = []

    def is_late() -> bool:
        first.append(time.monotonic())
        return first[-1] - first[0] > seconds

    return is_late


def splitting_within(seconds: float, n_layouts: int, is_quiet: bool) -> "Splitting":
    """Return how promises are split that are too rare for plain lifetimes.

    Parameters
    ----------
    seconds : float
        That all layouts may take together. [s]
    n_layouts : int
        Layouts that are judged. [-]
    is_quiet : bool
        Whether to tell nothing on the way. [-]
    """
    from resilience.policy.rare import Splitting
    from resilience.terminal.screen import tell

    def begin(layout: str) -> Callable[[], float]:
        if not is_quiet:
            tell(f"Splitting lifetimes of {layout}, for what is too rare to be seen otherwise.")
        end_s = time.monotonic() + seconds / n_layouts
        return lambda: end_s - time.monotonic()

    return Splitting(begin)


def seldom_of(found: "Answered[Comparison]") -> "SeldomOrder | None":
    """Split lifetimes of layouts that lost next to nothing; None where there is none.

    Parameters
    ----------
    found : Answered
        The comparison, and how it was asked for. [-]
    """
    from resilience.montecarlo.runs.running import INTERRUPTED, Undertaking
    from resilience.ranking.seldom.order import seldom_layouts, seldom_order

    wish, comparison = found.wish, found.answer
    undertaking = replace(Undertaking.whole(comparison.site, wish.seed), engine=found.engine)
    names = seldom_layouts(undertaking, comparison)
    if not names or found.stopped_because == INTERRUPTED:
        return None
    splitting = splitting_within(wish.seconds, len(names), wish.is_quiet)
    return seldom_order(undertaking, comparison, splitting.begin)


def _versions() -> dict[str, str]:
    """Versions of what played."""
    import platform
    from importlib.metadata import PackageNotFoundError, version

    from resilience import __version__

    found = {"resilience": __version__, "Python": platform.python_version()}
    for name in ("numpy", "numba"):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found
