"""Lifetimes in a row of one layout: how many make a piece, and who plays it."""

import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from functools import cached_property
from types import TracebackType
from typing import Self

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import Tally

SECONDS_A_PIECE = 1.0  # so long may an end be waited for, unless one building draw takes longer
MOST_DRAWS = 256  # more would save no time, and rows are held unpacked until they are added up
MOST_GROWTH = 2  # from one round to the next


@dataclass(frozen=True, slots=True)
class Piece:
    """Some lifetimes in a row of one layout.

    Parameters
    ----------
    layout : int
        Its position in the undertaking. [-]
    first : int
        Number of the first lifetime; begins a building draw. [-]
    n : int
        Lifetimes, of whole building draws. [-]
    """

    layout: int
    first: int
    n: int


class Sizes:
    """How many building draws a piece has, by the time that pieces took.

    Sizes show in no result: tallies add exactly.
    """

    def __init__(self) -> None:
        self._draws = 1
        self._draw_s: dict[int, float] = {}  # of each layout, in the last round

    def draws_within(self, seconds: float) -> int:
        """Building draws of each layout for one worker: no more than there is time for."""
        needed_s = sum(self._draw_s.values())
        affordable = int(max(seconds, 0.0) / needed_s) if needed_s else self._draws
        return max(1, min(self._draws, affordable))

    def learn(self, times_s: Mapping[Piece, float]) -> None:
        """Size the next pieces by the slowest of a round.

        A quick one never makes them smaller: it may have been cut short by a look.
        """
        if not times_s:
            return
        self._draw_s = {
            piece.layout: seconds * LIFETIMES_PER_BUILDING / piece.n
            for piece, seconds in times_s.items()
        }
        slowest, seconds = max(times_s.items(), key=lambda one: one[1])
        draws = slowest.n // LIFETIMES_PER_BUILDING
        fitting = int(draws * SECONDS_A_PIECE / seconds) if seconds else MOST_DRAWS
        if seconds <= SECONDS_A_PIECE:
            fitting = max(self._draws, min(fitting, MOST_GROWTH * self._draws))
        self._draws = max(1, min(fitting, MOST_DRAWS))


class Players:
    """Plays pieces here, or spread over threads: the compiled engine lets them run side by side.

    Parameters
    ----------
    stages : callable
        Makes the layouts ready, which takes a while: not called before one has to be played. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    def __init__(
        self,
        stages: Callable[[], tuple[Stage, ...]],
        workers: int,
        clock: Callable[[], float],
    ) -> None:
        self.workers, self.clock = workers, clock
        self.made_ready_s = 0.0  # what that took
        self._made_ready = stages
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
        began = self.clock()
        stages = self._made_ready()
        self.made_ready_s = self.clock() - began
        return stages

    def tallies(
        self, pieces: Sequence[Piece], is_over: Callable[[], bool]
    ) -> Iterator[tuple[Piece, Tally, float]]:
        """Yield each piece as soon as it is finished, in any order, and the seconds it took.

        Once it is over none begins; those under way are finished.
        """
        if not pieces or is_over():
            return
        stages = self._stages
        if not self._pool:
            for piece in pieces:
                if is_over():
                    return
                yield piece, *self._played(stages[piece.layout], piece)
            return
        waiting = {self._pool.submit(self._on_twin, stages, piece): piece for piece in pieces}
        for future in as_completed(waiting):
            if not future.cancelled():
                yield waiting[future], *future.result()
            if is_over():
                for other in waiting:
                    other.cancel()

    def _on_twin(self, stages: tuple[Stage, ...], piece: Piece) -> tuple[Tally, float]:
        """Play a piece on this thread's own twin of a stage."""
        if not hasattr(self._own, "stages"):
            self._own.stages = tuple(stage.twin() for stage in stages)
        twins: tuple[Stage, ...] = self._own.stages
        return self._played(twins[piece.layout], piece)

    def _played(self, stage: Stage, piece: Piece) -> tuple[Tally, float]:
        began = self.clock()
        tally = stage.tally(piece.first, piece.n)
        return tally, self.clock() - began
