"""Which of many lifetimes to tell: a usual one, a bad one, or the first of a kind."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from resilience.errors import UsageError
from resilience.lifetime.tally import Tally
from resilience.units import h_from_ms

Bools = NDArray[np.bool_]

BAD_SHARE = 0.05  # so many lifetimes are as bad or worse


class Pick(StrEnum):
    """What a lifetime is to stand for."""

    TYPICAL = "typical"
    BAD = "bad"
    FIRST_ORPHAN = "first-orphan"
    BREACH = "breach"


@dataclass(frozen=True, slots=True)
class Picked:
    """A lifetime, and what it stands for.

    Parameters
    ----------
    pick : Pick
        What was asked for. [-]
    number : int
        Of the lifetime. [-]
    orphan_h : float
        Orphan time in it, over all sensors. [h]
    place : int
        Its place among those picked from, the one with the least orphan time first. [-]
    n_lifetimes : int
        How many it was picked from. [-]
    """

    pick: Pick
    number: int
    orphan_h: float
    place: int
    n_lifetimes: int

    def to_json(self) -> dict[str, object]:
        """Return the pick under stable keys."""
        return {
            "as": self.pick.value,
            "lifetime": self.number,
            "orphan_hours": self.orphan_h,
            "place": self.place,
            "among": self.n_lifetimes,
        }


def picked(tally: Tally, pick: Pick, is_broken: Bools | None = None) -> Picked:
    """Pick one of the lifetimes that a tally begins with.

    Lifetimes are ordered by orphan time, then dark time, then number: the middle one is typical,
    and of a bad one one in twenty are as bad or worse.

    Parameters
    ----------
    tally : Tally
        Lifetimes in a row, from the first. [-]
    pick : Pick
        What it is to stand for. [-]
    is_broken : Bools or None
        Which lifetimes break a promise, shape (lifetimes,); only a breach needs it. [-]

    Raises
    ------
    UsageError
        A lifetime was asked for with an orphan, or that breaks the promise, and there is none.
    """
    orphan_ms, dark_ms = tally.column("orphan_ms"), tally.column("dark_ms")
    order = np.lexsort((np.arange(len(orphan_ms)), dark_ms, orphan_ms)).tolist()
    n = len(order)
    if pick is Pick.BREACH:
        broken = [] if is_broken is None else np.flatnonzero(is_broken).tolist()
        if not broken:
            raise UsageError(
                f"none of the first {n} lifetimes breaks the promise; judge names some that do if "
                "it finds any, and --lifetime tells them"
            )
        number = broken[0]
    elif pick is Pick.FIRST_ORPHAN:
        lost = np.flatnonzero(orphan_ms).tolist()
        if not lost:
            raise UsageError(
                f"in none of the first {n} lifetimes was a sensor ever without a way to a gateway; "
                "--pick typical shows a usual one"
            )
        number = lost[0]
    else:
        number = order[n // 2 if pick is Pick.TYPICAL else n - 1 - int(BAD_SHARE * n)]
    orphan_h = h_from_ms(int(orphan_ms[number]))
    return Picked(pick, number, orphan_h, 1 + order.index(number), n)
