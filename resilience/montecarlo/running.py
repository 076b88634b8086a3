"""Lifetimes in rounds: every layout plays the same lifetimes before a study may stop."""

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass

from resilience.building.site import Layout, Site
from resilience.errors import UsageError
from resilience.hazards.buildings import LIFETIMES_PER_BUILDING
from resilience.lifetime.engines import COMPILED
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import Tally, joined

PIECE_LIFETIMES = 4 * LIFETIMES_PER_BUILDING

REACHED = "the lifetimes asked for were played"
OUT_OF_TIME = "the time allowed was used up"
INTERRUPTED = "it was interrupted"

Progress = Callable[[int, int], None]  # lifetimes done, lifetimes to do


def no_progress(done: int, to_do: int) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Budget:
    """When to stop.

    Parameters
    ----------
    lifetimes : int
        Lifetimes of each layout, at least 1; rounded up to whole building draws. [-]
    seconds : float
        Time after which no further round begins. [s]
    """

    lifetimes: int = 200
    seconds: float = 60.0

    def __post_init__(self) -> None:
        if self.lifetimes < 1:
            raise UsageError(f"{self.lifetimes} lifetimes were asked for; at least 1 is needed")


@dataclass(frozen=True, slots=True)
class Plan:
    """What is played.

    Parameters
    ----------
    site : Site
        The site. [-]
    layouts : tuple of Layout
        Layouts that play the same lifetimes. [-]
    seed : int
        Seed of the study. [-]
    count_site_outages : bool
        Whether a site outage makes orphans. [-]
    engine : str
        Which engine plays; both tell the same story. [-]
    """

    site: Site
    layouts: tuple[Layout, ...]
    seed: int
    count_site_outages: bool
    engine: str = COMPILED


@dataclass(frozen=True, slots=True)
class Played:
    """What was played.

    Parameters
    ----------
    tallies : tuple of Tally
        One for each layout of the plan, of equally many lifetimes. [-]
    stopped_because : str
        Why it ended. [-]
    """

    tallies: tuple[Tally, ...]
    stopped_because: str


def played(
    plan: Plan,
    budget: Budget,
    workers: int = 1,
    progress: Progress = no_progress,
    clock: Callable[[], float] = time.monotonic,
) -> Played:
    """Play lifetimes of every layout until the budget is spent.

    The result depends on the number of lifetimes reached, never on workers or rounds.
    KeyboardInterrupt ends it after the rounds that are complete; if none is, it is raised again.

    Parameters
    ----------
    plan : Plan
        What to play. [-]
    budget : Budget
        When to stop. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    progress : callable
        Told the lifetimes done and to do, over all layouts. [-]
    clock : callable
        Seconds that only go up. [s]
    """
    deadline = clock() + budget.seconds
    to_do = -(-budget.lifetimes // LIFETIMES_PER_BUILDING) * LIFETIMES_PER_BUILDING
    rounds: list[tuple[Tally, ...]] = []
    done, why = 0, REACHED
    try:
        with _players(plan, workers) as play_round:
            while done < to_do:
                if rounds and clock() >= deadline:
                    why = OUT_OF_TIME
                    break
                n = min(PIECE_LIFETIMES * workers, to_do - done)
                rounds.append(play_round(done, n))
                done += n
                progress(done * len(plan.layouts), to_do * len(plan.layouts))
    except KeyboardInterrupt:
        if not rounds:
            raise
        why = INTERRUPTED
    return Played(tuple(joined(tallies) for tallies in zip(*rounds, strict=True)), why)


PlayRound = Callable[[int, int], tuple[Tally, ...]]


@contextmanager
def _players(plan: Plan, workers: int) -> Iterator[PlayRound]:
    """Play a round here, or spread over threads: the compiled engine lets them run side by side."""
    stages = tuple(
        Stage(plan.site, layout, plan.seed, plan.count_site_outages, plan.engine)
        for layout in plan.layouts
    )
    if workers == 1:
        yield lambda first, n: tuple(stage.tally(first, n) for stage in stages)
        return
    own = threading.local()

    def own_piece(k: int, first: int, n: int) -> Tally:
        if not hasattr(own, "stages"):
            own.stages = tuple(stage.twin() for stage in stages)
        return own.stages[k].tally(first, n)

    with ThreadPoolExecutor(workers) as pool:

        def play_round(first: int, n: int) -> tuple[Tally, ...]:
            starts = range(first, first + n, PIECE_LIFETIMES)
            pieces = [
                [
                    pool.submit(own_piece, k, start, min(PIECE_LIFETIMES, first + n - start))
                    for start in starts
                ]
                for k in range(len(stages))
            ]
            return tuple(joined(piece.result() for piece in layout) for layout in pieces)

        try:
            yield play_round
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
