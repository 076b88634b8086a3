"""Many lifetimes with all their branches, added up."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.connectivity.luck.prospect import Prospect
from resilience.draws import MASK
from resilience.lifetime.branching.aims import Aim
from resilience.lifetime.branching.blocks import in_one_block
from resilience.lifetime.branching.courses import course_of
from resilience.lifetime.branching.families import (
    BRANCHES,
    FIRST_LEVEL,
    HEAP_WAS_FULL,
    LIFETIME,
    STEPS,
    Course,
    branch_out,
)
from resilience.lifetime.casting.records import NO_LOTS, NO_STRENGTHS
from resilience.lifetime.casting.worlds import Cast
from resilience.lifetime.fast.play import Row
from resilience.lifetime.state.compiled import table_of

Ints = NDArray[np.int64]

PIECE_STEPS = 20_000  # between two looks at the clock


def never() -> bool:
    """It is never too late."""
    return False


@dataclass(frozen=True, slots=True)
class Branched:
    """What some lifetimes with their branches came to.

    Parameters
    ----------
    n_lifetimes : int
        Lifetimes that were not branches. [-]
    reached : tuple of int
        How often each level was come to from below, from level 1 on; and last, how often what is
        looked for came about. [-]
    weight : float
        What one lifetime or branch counts for in the last of these. [-]
    steps, branches : int
        Steps played, and branches begun. [-]
    lost_ms : float
        Time lost of a lifetime, of all sensors together; free of bias where nothing ends one. [ms]
    """

    n_lifetimes: int
    reached: tuple[int, ...]
    weight: float
    steps: int
    branches: int
    lost_ms: float = 0.0

    @property
    def share(self) -> float:
        """Share of lifetimes in which it comes about; free of bias."""
        return self.reached[-1] * self.weight / self.n_lifetimes


class Splitter:
    """Plays lifetimes of a layout with branches wherever they come nearer to an aim.

    Parameters
    ----------
    cast : Cast
        The world of the layout. [-]
    aim : Aim
        What is looked for. [-]
    prospect : Prospect or None
        What the luck of a building works on; None where the building is given. [-]
    """

    def __init__(self, cast: Cast, aim: Aim, prospect: Prospect | None = None) -> None:
        self.aim = aim
        self._cast = cast
        self._lots = NO_LOTS if prospect is None else prospect.lots.apart()
        n_links = len(cast.links)
        self._strengths_cdbm = (
            NO_STRENGTHS if prospect is None else np.zeros((n_links, 2), np.int64)
        )

    def make_ready(self) -> None:
        """Have everything compiled that the first lifetime would wait for."""
        world, block = in_one_block(self._cast.world)
        world.now["latest"] = -1  # of a lifetime that has not begun, nothing is away
        course = course_of(self.aim, self._cast.devices, block, ())._replace(until_ms=0)
        sums = np.zeros(FIRST_LEVEL + 2, np.int64)
        row = Row(np.uint64(0), 0, 0, self._lots, self._strengths_cdbm)
        branch_out(table_of(world), course, row, sums)

    def play(
        self,
        seed: int,
        first: int,
        n: int,
        copies: Sequence[int],
        is_late: Callable[[], bool] = never,
    ) -> Branched | None:
        """Play lifetimes in a row with all their branches; None if that was cut short.

        Parameters
        ----------
        seed : int
            Seed of the study. [-]
        first : int
            Number of the first lifetime; begins a building. [-]
        n : int
            Lifetimes, not counting branches. [-]
        copies : sequence of int
            How many lifetimes one becomes at each level from level 1 on. [-]
        is_late : callable
            Asked every so many steps whether to give up. [-]
        """
        world, block = in_one_block(self._cast.world)
        course = course_of(self.aim, self._cast.devices, block, copies)._replace(until_steps=0)
        sums = np.zeros(FIRST_LEVEL + len(course.copies) + 1, np.int64)
        world.now["heap_is_full"] = 0
        row = Row(np.uint64(seed & MASK), first, n, self._lots, self._strengths_cdbm)
        while course.at[LIFETIME] < n:
            if sums[STEPS] and is_late():
                return None
            course = course._replace(until_steps=course.until_steps + PIECE_STEPS)
            branch_out(table_of(world), course, row, sums)
        if sums[HEAP_WAS_FULL]:  # too small for one of these: again, with a larger
            heap = np.zeros(2 * len(world.heap), np.int64)
            self._cast = self._cast.with_world(self._cast.world._replace(heap=heap))
            return self.play(seed, first, n, copies, is_late)
        return self._told(n, course, sums)

    def _told(self, n: int, course: Course, sums: Ints) -> Branched:
        """What lifetimes came to that are all over."""
        reached = tuple(sums[FIRST_LEVEL + 1 :].tolist())
        if self.aim.is_open_ended:
            reached = reached[:-1]  # coming to an excess is what is looked for
        by_level = np.cumprod(np.array(course.copies, float))
        lost_ms = float((course.lost_ms / by_level).sum()) / n
        steps, branches = int(sums[STEPS]), int(sums[BRANCHES])
        return Branched(n, reached, 1 / float(by_level[-1]), steps, branches, lost_ms)
