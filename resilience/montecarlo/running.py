"""Lifetimes in rounds: every layout plays the same lifetimes before a study may stop."""

import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from types import TracebackType
from typing import Self

from resilience.building.site import Layout, Site
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.errors import UsageError
from resilience.lifetime.engines import COMPILED
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import Tally, joined
from resilience.montecarlo.ledger import Ledger
from resilience.montecarlo.stopping import Question, looks, open_question

PIECE_LIFETIMES = 4 * LIFETIMES_PER_BUILDING
ROUNDS_ADDED_AT_ONCE = 64

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
        Time after which no further look is played for. [s]
    clock : callable
        Seconds that only go up. [s]
    """

    lifetimes: int = 2000
    seconds: float = 60.0
    clock: Callable[[], float] = time.monotonic

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
    ledger : Ledger or None
        Where finished pieces are found and kept; None keeps nothing. [-]
    """

    site: Site
    layouts: tuple[Layout, ...]
    seed: int
    count_site_outages: bool
    engine: str = COMPILED
    ledger: Ledger | None = None


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
    question: Question[Tally] = open_question,
    workers: int = 1,
    progress: Progress = no_progress,
) -> Played:
    """Play lifetimes of every layout until a question is settled or the budget is spent.

    Only looks end it, and the last lifetime asked for.

    The result depends on the number of lifetimes reached, never on workers, rounds or ledger.
    KeyboardInterrupt ends it after the rounds that are complete; if none is, it is raised again.

    Parameters
    ----------
    plan : Plan
        What to play. [-]
    budget : Budget
        When to stop; what a ledger holds takes no time. [-]
    question : callable
        Asked at every look. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    progress : callable
        Told the lifetimes done and to do, over all layouts. [-]
    """
    deadline = budget.clock() + budget.seconds
    to_do = -(-budget.lifetimes // LIFETIMES_PER_BUILDING) * LIFETIMES_PER_BUILDING
    course = _Course(plan, to_do, progress)
    why = REACHED
    try:
        with _Players(plan, workers) as players:
            for look in _looks_until(to_do):
                if course.done and course.is_missing(look) and budget.clock() >= deadline:
                    why = OUT_OF_TIME
                    break
                while course.done < look:
                    course.play(players, min(course.done + PIECE_LIFETIMES * workers, look))
                ruling = question(course.tallies)
                if ruling.ends_because:
                    why = ruling.ends_because
                    break
                course.playing -= ruling.dropped
    except KeyboardInterrupt:
        if not course.done:
            raise
        why = INTERRUPTED
    return Played(course.tallies, why)


def _looks_until(lifetimes: int) -> Iterator[int]:
    """Looks in lifetimes, and the end."""
    for look in looks():
        yield min(look * LIFETIMES_PER_BUILDING, lifetimes)
        if look * LIFETIMES_PER_BUILDING >= lifetimes:
            return


class _Course:
    """What is played so far."""

    def __init__(self, plan: Plan, to_do: int, progress: Progress) -> None:
        self.plan, self.to_do, self.progress = plan, to_do, progress
        self.playing = frozenset(range(len(plan.layouts)))
        self.done = self.done_by_all = 0
        self._rounds: list[_Round] = []

    @property
    def tallies(self) -> tuple[Tally, ...]:
        """What each layout has shown; fewer lifetimes of those that were dropped."""
        self._rounds = [_added(self._rounds)]
        return tuple(tally for (tally,) in self._rounds[0])

    def pieces(self, end: int) -> list["_Piece"]:
        """Pieces up to a number of lifetimes, of the layouts that still play."""
        return [one for one in _pieces(self.plan, self.done, end) if one.layout in self.playing]

    def is_missing(self, end: int) -> bool:
        """Whether anything up to a number of lifetimes is still to be played."""
        pieces = self.pieces(end)
        return len(_finished(self.plan, pieces)) < len(pieces)

    def play(self, players: "_Players", end: int) -> None:
        """Play up to a number of lifetimes; what the ledger holds is taken from it."""
        plan, pieces = self.plan, self.pieces(end)
        found = _finished(plan, pieces)
        for piece, tally in players.tallies([piece for piece in pieces if piece not in found]):
            if plan.ledger is not None:
                plan.ledger.keep(plan.layouts[piece.layout].name, tally)
            found[piece] = tally
        self._rounds.append(_by_layout(plan, found))
        if len(self._rounds) > ROUNDS_ADDED_AT_ONCE:
            self._rounds = [_added(self._rounds)]
        self.done_by_all += (end - self.done) * len(self.playing)
        self.done = end
        to_come = (self.to_do - end) * len(self.playing)
        self.progress(self.done_by_all, self.done_by_all + to_come)


@dataclass(frozen=True, slots=True)
class _Piece:
    """Some lifetimes in a row of one layout, by its position in the plan."""

    layout: int
    first: int
    n: int


def _pieces(plan: Plan, first: int, end: int) -> list[_Piece]:
    """Pieces of all layouts; where they begin depends neither on workers nor on the ledger."""
    return [
        _Piece(layout, start, min(PIECE_LIFETIMES, end - start))
        for start in range(first, end, PIECE_LIFETIMES)
        for layout in range(len(plan.layouts))
    ]


def _finished(plan: Plan, pieces: Sequence[_Piece]) -> dict[_Piece, Tally]:
    """Return those of some pieces that the ledger holds."""
    if plan.ledger is None:
        return {}
    found = {}
    for piece in pieces:
        tally = plan.ledger.tally(plan.layouts[piece.layout].name, piece.first, piece.n)
        if tally is not None:
            found[piece] = tally
    return found


_Round = tuple[list[Tally], ...]  # pieces of each layout that hold the same lifetimes


def _by_layout(plan: Plan, found: Mapping[_Piece, Tally]) -> _Round:
    return tuple(
        [tally for piece, tally in found.items() if piece.layout == layout]
        for layout in range(len(plan.layouts))
    )


def _added(rounds: Sequence[_Round]) -> _Round:
    """Add rounds up as they come, so that few pieces are held at once."""
    return tuple([joined(chain.from_iterable(pieces))] for pieces in zip(*rounds, strict=True))


class _Players:
    """Plays pieces here, or spread over threads: the compiled engine lets them run side by side.

    Parameters
    ----------
    plan : Plan
        What is played. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    """

    def __init__(self, plan: Plan, workers: int) -> None:
        self._plan = plan
        self._pool = ThreadPoolExecutor(workers) if workers > 1 else None
        self._own = threading.local()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._pool:
            self._pool.shutdown(cancel_futures=True)

    @cached_property
    def _stages(self) -> tuple[Stage, ...]:
        """Layouts made ready, which takes a while: not before one of them has to be played."""
        plan = self._plan
        return tuple(
            Stage(plan.site, layout, plan.seed, plan.count_site_outages, plan.engine)
            for layout in plan.layouts
        )

    def tallies(self, pieces: Sequence[_Piece]) -> Iterator[tuple[_Piece, Tally]]:
        """Yield each piece as soon as it is finished, in any order."""
        if not self._pool:
            for piece in pieces:
                yield piece, self._stages[piece.layout].tally(piece.first, piece.n)
        elif pieces:
            stages = self._stages
            waiting = {self._pool.submit(self._played, stages, piece): piece for piece in pieces}
            for future in as_completed(waiting):
                yield waiting[future], future.result()

    def _played(self, stages: tuple[Stage, ...], piece: _Piece) -> Tally:
        """Play a piece on this thread's own twin of a stage."""
        if not hasattr(self._own, "stages"):
            self._own.stages = tuple(stage.twin() for stage in stages)
        twins: tuple[Stage, ...] = self._own.stages
        return twins[piece.layout].tally(piece.first, piece.n)
