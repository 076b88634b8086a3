"""Numbers that a seed gives, the same on every machine."""

import random
from collections.abc import Sequence
from typing import TypeVar

Thing = TypeVar("Thing")


class Luck:
    """Draws for one invented site.

    Parameters
    ----------
    seed : int
        Of the portfolio. [-]
    number : int
        Of the site. [-]
    """

    def __init__(self, seed: int, number: int) -> None:
        # Only random() itself is promised to stay the same from one Python to the next.
        self._random = random.Random(f"{seed}/{number}").random

    def between(self, least: float, most: float) -> float:
        """Any number between two."""
        return least + (most - least) * self._random()

    def whole(self, least: int, most: int) -> int:
        """A whole number from the least to the most."""
        return least + int((most - least + 1) * self._random())

    def one_of(self, things: Sequence[Thing]) -> Thing:
        """One of some things, each as likely as the others."""
        return things[int(len(things) * self._random())]

    def happens(self, share: float) -> bool:
        """Whether something happens that does in a share of all cases."""
        return self._random() < share
