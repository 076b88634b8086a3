"""One lifetime that is stopped, copied and continued."""

import numpy as np

from resilience.draws import MASK
from resilience.lifetime.branching.aims import Aim
from resilience.lifetime.branching.blocks import copied, in_one_block
from resilience.lifetime.branching.courses import course_of
from resilience.lifetime.branching.families import FIRST_LEVEL, branch_out
from resilience.lifetime.casting.records import NO_LOTS, NO_STRENGTHS
from resilience.lifetime.casting.worlds import Cast
from resilience.lifetime.fast.play import Row
from resilience.lifetime.mesh import Luck
from resilience.lifetime.state.compiled import table_of
from resilience.lifetime.state.world import NEVER, World

NOWHERE = Aim("orphans", 1 << 30, 0)  # so many are never lost


class Journey:
    """A lifetime in one possible building, on a world of its own.

    Parameters
    ----------
    cast : Cast
        The world, and the names of its rows; it is left as it is. [-]
    luck : Luck
        Which lifetime. [-]
    """

    def __init__(self, cast: Cast, luck: Luck) -> None:
        self._cast, self._luck = cast, luck
        self.world, self._block = in_one_block(copied(cast.world))
        self._go(1, 0, 0)

    def copy(self) -> "Journey":
        """Return a journey that is as far, and goes on by itself."""
        other = object.__new__(Journey)
        other._cast, other._luck = self._cast, self._luck
        other.world, other._block = in_one_block(copied(self.world))
        return other

    def go_on(self, until_ms: int, branch: int = 0) -> None:
        """Play on, up to the last step before a time.

        Parameters
        ----------
        until_ms : int
            The time. [ms]
        branch : int
            Number of another future to draw before; 0 keeps the one there is. [-]
        """
        self._go(0, until_ms, branch)

    def end(self, branch: int = 0) -> World:
        """Play to the horizon, close all accounts, and return the world; comes last.

        Parameters
        ----------
        branch : int
            Number of another future to draw before; 0 keeps the one there is. [-]
        """
        self._go(0, NEVER, branch)
        return self.world

    def _go(self, n: int, until_ms: int, branch: int) -> None:
        course = course_of(NOWHERE, self._cast.devices, self._block, ())
        course = course._replace(until_ms=until_ms, branch=branch)
        sums = np.zeros(FIRST_LEVEL + 2, np.int64)
        seed = np.uint64(self._luck.seed & MASK)
        row = Row(seed, self._luck.lifetime, n, NO_LOTS, NO_STRENGTHS)
        branch_out(table_of(self.world), course, row, sums)
