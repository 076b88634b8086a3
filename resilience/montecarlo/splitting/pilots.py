"""How many copies a lifetime becomes at each level, found on lifetimes that count for nothing.

As many as it takes for about one of them to come to the next level: then neither few branches come
through nor more and more (Garvels 2000, "The splitting method in rare event simulation").
"""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from resilience.lifetime.branching.splitter import Branched

# First lifetime, how many, copies by level, and the clock, which may cut it short: None.
Play = Callable[[int, int, Sequence[int], Callable[[], bool]], "Branched | None"]

MOST_COPIES = 1_000
ENOUGH = 16  # times that the next level was reached, to say how often it is
GROWTH = 8  # of the copies where it was not reached so often
ROUNDS, ROUNDS_AT_FIRST = 24, 5  # in all, and until level 1 has to be reached
FIRST_LIFETIMES, MOST_LIFETIMES = 16, 4_096
MOST_BRANCHES = 8_000  # of a round
PIECE = 16  # lifetimes between two looks at the clock


def tuned_copies(
    play: Play, n_levels: int, first: int, is_late: Callable[[], bool]
) -> tuple[int, ...]:
    """Return copies by level, from level 1 on; where time is up, those of the last whole round.

    Parameters
    ----------
    play : callable
        Plays lifetimes with their branches. [-]
    n_levels : int
        Levels. [-]
    first : int
        Number of the first lifetime; those that count have others. [-]
    is_late : callable
        Whether there is no time for more. [-]
    """
    tried, came = [0] * n_levels, [0] * n_levels
    copies, n = [1] * n_levels, FIRST_LIFETIMES
    before = tuple(copies)
    for round_ in range(1, ROUNDS + 1):
        entered = played = 0
        while played < n and not (played and is_late()):
            found = play(first + played, min(PIECE, n - played), copies, is_late)
            if found is None:
                return before
            played += found.n_lifetimes
            entered += found.reached[0]
            for level in range(n_levels):
                tried[level] += found.reached[level] * copies[level]
                came[level] += found.reached[level + 1]
        first += n
        before = tuple(copies)
        is_enough = _learn(tried, came, copies)
        is_hopeless = round_ == ROUNDS_AT_FIRST and not tried[0]
        if is_enough or is_hopeless or is_late():
            break
        n = _lifetimes(n, entered, copies)
    return tuple(copies)


def _learn(tried: Sequence[int], came: Sequence[int], copies: list[int]) -> bool:
    """Set the copies of each level up to the first that is seldom left; whether none is."""
    for level in range(len(copies)):
        if came[level] >= ENOUGH:
            copies[level] = max(1, min(MOST_COPIES, round(tried[level] / came[level])))
        elif tried[level]:
            copies[level] = min(MOST_COPIES, GROWTH * copies[level])
            return False
        else:
            return False
    return True


def _lifetimes(n: int, entered: int, copies: Sequence[int]) -> int:
    """Lifetimes of the next round after one of ``n``: many where few branch."""
    branches = max(entered, 1) / n * sum(copies)
    more = min(MOST_LIFETIMES, GROWTH * n, MOST_BRANCHES / branches)
    return max(2, int(more) // 2 * 2)
