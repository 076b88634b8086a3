"""Independent runs of lifetimes with all their branches, and what they say together."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.splitting.pilots import tuned_copies

if TYPE_CHECKING:
    from resilience.lifetime.branching.splitter import Branched, Splitter

RUNS, SWEEPS = 32, 8  # and into how many parts each is cut, so that time may end all of them
LEAST_REACHED = 24  # runs that came to it; of fewer, no mean is near enough to normal
LOOKS = 10
LAST_HOPE = 2  # look after which it is given up if no run has come to it
FIRST_BRANCHES = 60_000  # of all runs together before the first look
BRANCHES_A_LIFETIME = 10  # that take as long as a lifetime does by itself, roughly
METHOD = f"splitting, t interval of {RUNS} independent runs"

# Lifetimes of a plain study begin with 0: those of runs and pilots are others, so all are apart.
FIRST_OF_RUNS, FIRST_OF_PILOTS, SPAN = 1 << 40, 1 << 39, 1 << 30


@dataclass(frozen=True, slots=True)
class RareShare:
    """Share of lifetimes in which something rare comes about, by splitting.

    Parameters
    ----------
    estimate : Estimate
        The share; its bounds hold as far as means of a run are normal. [-]
    standard_error : float
        Of the mean of the runs. [-]
    n_lifetimes : int
        Lifetimes of each run, not counting branches. [-]
    n_branches, n_steps : int
        Branches and steps of all runs. [-]
    n_reached : int
        Runs that came to it. [-]
    copies : tuple of int
        How many lifetimes one became at each level. [-]
    """

    estimate: Estimate
    standard_error: float
    n_lifetimes: int
    n_branches: int
    n_steps: int
    n_reached: int
    copies: tuple[int, ...]

    @property
    def is_told(self) -> bool:
        """Whether enough runs came to it for bounds that mean something."""
        return self.n_reached >= LEAST_REACHED

    def to_json(self) -> dict[str, object]:
        """Return the share and how it was found under stable keys."""
        return {
            **self.estimate.to_json(),
            "method": self.estimate.method,
            "level": self.estimate.level_share,
            "runs": RUNS,
            "runs_that_reached_it": self.n_reached,
            "lifetimes_of_a_run": self.n_lifetimes,
            "branches": self.n_branches,
        }


def rare_share(
    splitter: "Splitter",
    seed: int,
    is_sure: Callable[[Estimate], bool],
    is_late: Callable[[], bool],
    level_share: float = LEVEL,
) -> RareShare:
    """Play runs, each twice as long at every look, until what they say is sure or time is up.

    Parameters
    ----------
    splitter : Splitter
        Plays the layout. [-]
    seed : int
        Seed of the study. [-]
    is_sure : callable
        Whether an estimate answers the question. [-]
    is_late : callable
        Whether there is no time for another look. [-]
    level_share : float
        Of the bounds, at all looks together. [-]
    """
    play = partial(splitter.play, seed)
    copies = tuned_copies(play, splitter.aim.n_levels, FIRST_OF_PILOTS, is_late)
    runs = _Runs(splitter, seed, copies)
    n = runs.first_lifetimes()
    for look in range(1, LOOKS + 1):
        runs.play_to(n, is_late)
        found = runs.told(1 - (1 - level_share) / (look * (look + 1)), level_share)
        is_answered = found.is_told and is_sure(found.estimate)
        is_hopeless = look == LAST_HOPE and found.n_reached == 0
        if is_answered or is_hopeless or is_late():
            break
        n *= 2
    return found


class _Runs:
    """Independent runs of equally many lifetimes."""

    def __init__(self, splitter: "Splitter", seed: int, copies: tuple[int, ...]) -> None:
        self._splitter, self._seed, self._copies = splitter, seed, copies
        self._n = self._branches = self._steps = 0
        self._hits = np.zeros(RUNS)

    def first_lifetimes(self) -> int:
        """Lifetimes of each run before the first look."""
        seen = self._splitter.play(self._seed, FIRST_OF_PILOTS, 4, self._copies)
        a_lifetime = BRANCHES_A_LIFETIME + seen.branches / seen.n_lifetimes
        return max(2, int(FIRST_BRANCHES / a_lifetime / RUNS) // 2 * 2)

    def play_to(self, n: int, is_late: Callable[[], bool]) -> None:
        """Let every run have so many lifetimes, or fewer, but equally many, if time is up."""
        while self._n < n and not (self._n and is_late()):
            more = min(n - self._n, max(2, n // SWEEPS // 2 * 2))
            found: list[Branched] = []
            for run in range(RUNS):
                if found and is_late():
                    return
                first = FIRST_OF_RUNS + run * SPAN + self._n
                found.append(self._splitter.play(self._seed, first, more, self._copies))
            self._hits += [one.share * more for one in found]
            self._branches += sum(one.branches for one in found)
            self._steps += sum(one.steps for one in found)
            self._n += more

    def told(self, level_now: float, level_share: float) -> RareShare:
        """What the runs say at one look."""
        shares = self._hits / max(1, self._n)
        mean, error = math.fsum(shares) / RUNS, float(shares.std(ddof=1)) / math.sqrt(RUNS)
        half = _students_t(level_now) * error
        low, high = max(0.0, mean - half), min(1.0, mean + half)
        return RareShare(
            Estimate(mean, low, high, level_share, METHOD),
            error,
            self._n,
            self._branches,
            self._steps,
            int((shares > 0).sum()),
            self._copies,
        )


def _students_t(level_share: float) -> float:
    """Two-sided quantile of Student's law for the mean of all runs."""
    from scipy.stats import t

    return float(t.ppf((1 + level_share) / 2, RUNS - 1))
