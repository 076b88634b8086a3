"""When a study looks at what it has, and what may end it there."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

FIRST_LOOKS = (64, 128)
STEP = 64

SETTLED = "its question is settled"


def looks() -> Iterator[int]:
    """Numbers of building draws at which a question is asked, whoever plays and in what pieces.

    Time that is used up ends a study anywhere.

    64, 128, 256, and then each times the square root of 2, rounded up to 64.
    """
    yield from FIRST_LOOKS
    steps = 4
    while True:
        yield STEP * steps
        steps = math.isqrt(2 * steps**2) + 1  # twice a square is never a square


@dataclass(frozen=True, slots=True)
class Ruling:
    """What a look has shown.

    Parameters
    ----------
    ends_because : str
        Why the study ends here; empty where it goes on. [-]
    dropped : frozenset of int
        Positions of layouts that need play no further, once dropped for good. [-]
    """

    ends_because: str = ""
    dropped: frozenset[int] = frozenset()


T = TypeVar("T")
Question = Callable[[Sequence[T]], Ruling]  # asked at a look of what each layout has shown so far


def open_question(found: Sequence[object]) -> Ruling:  # noqa: ARG001 - a question is asked of it
    """Nothing ends the study but its budget."""
    return Ruling()
