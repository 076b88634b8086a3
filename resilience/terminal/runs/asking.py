"""A question put to many lifetimes, with engine, run folder and progress as they were asked for."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

import typer

from resilience.terminal.options import Engine, allowed_cores
from resilience.terminal.statuses import INTERRUPTED

if TYPE_CHECKING:
    from resilience.building.site import Site
    from resilience.lifetime.record import Watch
    from resilience.montecarlo.runs.running import Undertaking
    from resilience.montecarlo.stopping import Question
    from resilience.montecarlo.study import Play, Study
    from resilience.terminal.runs.keeping import Keeping

Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True)
class Wish:
    """How lifetimes are to be played.

    Parameters
    ----------
    lifetimes : int
        Of each layout, at most. [-]
    seconds : float
        Time after which no further round begins. [s]
    seed : int
        Of the study. [-]
    workers : int or None
        Threads; None takes the cores that this process may use. [-]
    engine : Engine
        Which plays. [-]
    keeping : Keeping
        Where the run is kept. [-]
    is_quiet : bool
        Whether to tell nothing on the way. [-]
    """

    lifetimes: int
    seconds: float
    seed: int
    workers: int | None
    engine: Engine
    keeping: "Keeping"
    is_quiet: bool

    @property
    def n_threads(self) -> int:
        """Threads that play."""
        return self.workers or allowed_cores()


@dataclass(frozen=True, slots=True)
class Answered(Generic[Answer]):
    """What lifetimes answered.

    Parameters
    ----------
    answer : Answer
        What was asked for. [-]
    engine : str
        Which played. [-]
    stopped_because : str
        Why no more lifetimes were played. [-]
    wish : Wish
        How they were to be played. [-]
    """

    answer: Answer
    engine: str
    stopped_because: str
    wish: Wish

    def end(self) -> None:
        """End as interrupted, if it was: once the answer is shown."""
        from resilience.montecarlo.runs import running
        from resilience.terminal.screen import tell

        if self.stopped_because == running.INTERRUPTED:
            if not (self.wish.is_quiet or self.wish.keeping.is_off):
                tell("Interrupted: the same command goes on from here.")
            raise typer.Exit(INTERRUPTED)


def answered(
    site: "Site",
    wish: Wish,
    ask: "Callable[[Undertaking, Play], Answer]",
    watch: "Watch | None" = None,
    counts_outages: bool | None = None,
) -> Answered[Answer]:
    """Let lifetimes of all layouts answer.

    Parameters
    ----------
    site : Site
        The site. [-]
    wish : Wish
        How they are played. [-]
    ask : callable
        Takes what is played, and what plays it until a question is settled. [-]
    watch : Watch or None
        What lifetimes tell of many being lost at once; None takes the usual. [-]
    counts_outages : bool or None
        Whether a site outage makes orphans; None goes by the layouts. [-]
    """
    from resilience.building.site import outages_matter
    from resilience.lifetime.record import USUAL_WATCH
    from resilience.montecarlo.runs.running import Undertaking
    from resilience.terminal.runs.engine import engine_at_hand, tell_of_many_paths
    from resilience.terminal.runs.keeping import kept

    engine = engine_at_hand(wish.engine, wish.is_quiet)
    if not wish.is_quiet:
        tell_of_many_paths(site)
    counts = outages_matter(site.layouts) if counts_outages is None else counts_outages
    undertaking = Undertaking(
        site, site.layouts, wish.seed, counts, engine, watch=watch or USUAL_WATCH
    )
    options = {"lifetimes": wish.lifetimes, "seconds": wish.seconds, "workers": wish.n_threads}
    with kept(undertaking, wish.keeping, options, wish.is_quiet) as run:
        player = _Player(run.undertaking, wish)
        answer = ask(run.undertaking, player)
        run.end(player.longest)
    return Answered(answer, engine, player.longest.stopped_because, wish)


class _Player:
    """Plays until a question is settled, and tells a person how far it has come."""

    def __init__(self, undertaking: "Undertaking", wish: Wish) -> None:
        self._undertaking, self._wish = undertaking, wish
        self._found: Sequence[Study] = ()

    def __call__(self, question: "Question[Study]") -> "Sequence[Study]":
        from resilience.montecarlo.runs.running import Budget
        from resilience.montecarlo.study import studies
        from resilience.terminal.runs.engine import compiling
        from resilience.terminal.runs.progress import watched

        wish = self._wish
        budget = Budget(wish.lifetimes, wish.seconds)
        with watched(wish.seconds, wish.is_quiet, compiling(self._undertaking.engine)) as report:
            self._found = studies(self._undertaking, budget, question, wish.n_threads, report)
        return self._found

    @property
    def longest(self) -> "Study":
        """The layout that played most lifetimes, or one of them."""
        return max(self._found, key=lambda study: study.n_lifetimes)
