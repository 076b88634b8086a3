"""What branching looks for: many sensors lost for long, and how near a lifetime is to that."""

from collections.abc import Collection
from dataclasses import dataclass
from itertools import pairwise

MARKS = 8  # parts of the duration, each a level
FOR_EVER_MS = 1 << 60  # no excess lasts for so long, so none ends a lifetime


@dataclass(frozen=True)
class Aim:
    """More than so many sensors lost at once, without a break, for longer than a duration.

    Parameters
    ----------
    counted : str
        Which are lost: one of ``record.COUNTED`` with a clock that an outage may stop. [-]
    max_count : int
        So many may be lost. [-]
    longer_than_ms : int
        For so long; ``FOR_EVER_MS`` where all time lost is looked for. [ms]
    cuts : collection of frozenset of str
        Sets of devices; when all of one are down, more than so many are lost. They say how near a
        lifetime is, so a set that is missing or wrong costs precision and moves no mean. [-]
    furthest : int
        Losses of sensors one by one, from which on a lifetime counts as far; 0 where such losses
        bring none nearer. [-]
    """

    counted: str
    max_count: int
    longer_than_ms: int
    cuts: Collection[frozenset[str]] = ()
    furthest: int = 0

    @property
    def distance(self) -> int:
        """Further losses that it takes while nothing is down, at least 1."""
        found = [len(cut) for cut in self.cuts]
        if self.furthest:
            found.append(min(self.furthest, self.max_count + 1))
        return min(found, default=1)

    @property
    def is_open_ended(self) -> bool:
        """Whether no excess ends a lifetime: what is looked for is how long it lasts."""
        return self.longer_than_ms == FOR_EVER_MS

    @property
    def marks_ms(self) -> tuple[int, ...]:
        """Times in excess that are levels of their own, before the one that ends it."""
        if self.is_open_ended:
            return ()
        parts = [self.longer_than_ms * n // MARKS for n in range(1, MARKS)]
        return tuple(part for before, part in pairwise([0, *parts]) if part > before)

    @property
    def n_levels(self) -> int:
        """Levels with copies: one for each loss but the last, in excess, and each mark.

        Time in excess that ends nothing is not copied: coming to it is what was looked for.
        """
        return self.distance - 1 if self.is_open_ended else self.distance + len(self.marks_ms)
