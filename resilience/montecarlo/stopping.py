"""When a study looks at what it has, and what may end it there."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from resilience.errors import UsageError
from resilience.montecarlo.estimates import Estimate

FIRST_LOOKS = (64, 128)
STEP = 64

SETTLED = "its question is settled"
PRECISE = "the precision asked for was reached"


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


def first_of(*questions: Question[T]) -> Question[T]:
    """Question that ends a study as soon as one of several does, and drops what any of them drops.

    Parameters
    ----------
    questions : Question
        The first that ends the study gives the reason. [-]
    """

    def asked(found: Sequence[T]) -> Ruling:
        rulings = [question(found) for question in questions]
        reasons = [ruling.ends_because for ruling in rulings if ruling.ends_because]
        dropped = frozenset[int]().union(*(ruling.dropped for ruling in rulings))
        return Ruling(reasons[0] if reasons else "", dropped)

    return asked


@dataclass(frozen=True, slots=True)
class Precision:
    """How near a figure must be known: half its bound within the larger of the two.

    Parameters
    ----------
    absolute : float
        In the figure's unit. [unit]
    share : float
        Of the figure itself. [-]
    """

    absolute: float
    share: float = 0.0

    def __post_init__(self) -> None:
        if not (self.absolute >= 0 and self.share >= 0 and self.absolute + self.share > 0):
            raise UsageError("a precision is above 0")

    def is_reached_by(self, estimate: Estimate) -> bool:
        """Whether a figure is known as nearly as that.

        Parameters
        ----------
        estimate : Estimate
            The figure. [-]
        """
        half = (estimate.high - estimate.low) / 2
        return half <= max(self.absolute, self.share * abs(estimate.mean))


def known_to(precision: Precision, figure: Callable[[T], Estimate]) -> Question[T]:
    """Question that is answered when a figure of every layout is known nearly enough.

    Parameters
    ----------
    precision : Precision
        How nearly. [-]
    figure : callable
        Takes the figure from what a layout has shown. [-]
    """

    def asked(found: Sequence[T]) -> Ruling:
        is_reached = all(precision.is_reached_by(figure(one)) for one in found)
        return Ruling(PRECISE if is_reached else "")

    return asked
