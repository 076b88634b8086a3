"""Independent runs of lifetimes with all their branches, and what they say together."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
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
PILOTS_SHARE = 0.5  # of the time, at most
N_SEEN, N_TIMED = 4, 16  # lifetimes that tell how many branches there are, and how long they take
SPARE = 2  # times that a sweep is to fit into what is left
FIRST_BRANCHES = 60_000  # of all runs together before the first look
BRANCHES_A_LIFETIME = 10  # that take as long as a lifetime does by itself, roughly
METHOD = f"splitting, t interval of {RUNS} independent runs"

# Lifetimes of a plain study begin with 0: those of runs and pilots are others, so all are apart.
FIRST_OF_RUNS, FIRST_OF_PILOTS, SPAN = 1 << 40, 1 << 39, 1 << 30


@dataclass(frozen=True, slots=True)
class RareFigure:
    """Share of lifetimes in which something rare comes about, or time lost by it, by splitting.

    Parameters
    ----------
    estimate : Estimate
        The share, or the time lost of a lifetime; its bounds hold as far as means of a run are
        normal. [-]
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

    @property
    def why_not_told(self) -> str:
        """Why it is not, as a clause; empty where it is."""
        if self.is_told:
            return ""
        if self.n_lifetimes == 0:
            return f"there was no time for {RUNS} runs"
        if self.n_reached == 0:
            return f"none of {RUNS} runs came to such a loss"
        return f"only {self.n_reached} of {RUNS} runs came to such a loss"

    def scaled(self, by: float) -> "RareFigure":
        """Return it in another unit.

        Parameters
        ----------
        by : float
            How many of the new unit are one of the old. [-]
        """
        one = self.estimate
        scaled = replace(one, mean=by * one.mean, low=by * one.low, high=by * one.high)
        return replace(self, estimate=scaled, standard_error=by * self.standard_error)

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


def rare_figure(
    splitter: "Splitter",
    seed: int,
    is_sure: Callable[[Estimate], bool],
    left_s: Callable[[], float],
    level_share: float = LEVEL,
) -> RareFigure:
    """Play runs, each twice as long at every look, until what they say is sure or time is up.

    They say in what share of lifetimes it comes about; with an aim that ends none, how much time a
    lifetime loses, of all sensors together [ms].

    Parameters
    ----------
    splitter : Splitter
        Plays the layout. [-]
    seed : int
        Seed of the study. [-]
    is_sure : callable
        Whether an estimate answers the question. [-]
    left_s : callable
        How much time is left; 0 or less is none. [s]
    level_share : float
        Of the bounds, at all looks together. [-]
    """
    play, for_runs_s = partial(splitter.play, seed), left_s() * (1 - PILOTS_SHARE)

    def is_late() -> bool:
        return left_s() < for_runs_s or left_s() <= 0

    copies = tuned_copies(play, splitter.aim.n_levels, FIRST_OF_PILOTS, is_late)
    runs = _Runs(splitter, seed, copies, left_s)
    n = runs.first_lifetimes()
    for look in range(1, LOOKS + 1):
        runs.play_to(n)
        found = runs.told(1 - (1 - level_share) / (look * (look + 1)), level_share)
        is_answered = found.is_told and is_sure(found.estimate)
        is_hopeless = look == LAST_HOPE and found.n_reached == 0
        if is_answered or is_hopeless or runs.is_late():
            break
        n *= 2
    return found


class _Runs:
    """Independent runs of equally many lifetimes.

    How many is settled by pilots, which count for nothing, and by the clock. A sweep over all runs
    that is cut short is dropped whole: MODELS.md, "multilevel splitting", says why that is fair.
    """

    def __init__(
        self,
        splitter: "Splitter",
        seed: int,
        copies: tuple[int, ...],
        left_s: Callable[[], float],
    ) -> None:
        self._splitter, self._seed, self._copies = splitter, seed, copies
        self._left_s, self._most = left_s, math.inf
        self._n = self._branches = self._steps = 0
        self._sums, self._is_time = np.zeros(RUNS), splitter.aim.is_open_ended

    def is_late(self) -> bool:
        """Whether there is no time for another sweep, however short."""
        return self._left_s() <= 0 or self._most < 2

    def first_lifetimes(self) -> int:
        """Lifetimes of each run before the first look."""
        before_s = self._left_s()
        seen = self._play(FIRST_OF_PILOTS, N_SEEN)
        if seen is None or self._play(FIRST_OF_PILOTS + N_SEEN, N_TIMED - N_SEEN) is None:
            self._most = 0.0
            return 0
        after_s = self._left_s()
        if after_s < before_s:
            a_sweep_s = SPARE * RUNS * (before_s - after_s) / N_TIMED
            self._most = after_s / a_sweep_s
        a_lifetime = BRANCHES_A_LIFETIME + seen.branches / seen.n_lifetimes
        return max(2, int(FIRST_BRANCHES / a_lifetime / RUNS) // 2 * 2)

    def _play(self, first: int, n: int) -> "Branched | None":
        is_late = self.is_late
        return self._splitter.play(self._seed, first, n, self._copies, is_late)

    def play_to(self, n: int) -> None:
        """Let every run have so many lifetimes, or fewer, but equally many, if time is up."""
        while self._n < n and not self.is_late():
            more = min(n - self._n, max(2, n // SWEEPS // 2 * 2))
            if self._most < more:
                more = int(self._most) // 2 * 2
            found: list[Branched] = []
            for run in range(RUNS):
                one = self._play(FIRST_OF_RUNS + run * SPAN + self._n, more)
                if one is None:
                    return
                found.append(one)
            values = [one.lost_ms if self._is_time else one.share for one in found]
            self._sums += np.array(values) * more
            self._branches += sum(one.branches for one in found)
            self._steps += sum(one.steps for one in found)
            self._n += more

    def told(self, level_now: float, level_share: float) -> RareFigure:
        """What the runs say at one look."""
        means = self._sums / max(1, self._n)
        mean, error = math.fsum(means) / RUNS, float(means.std(ddof=1)) / math.sqrt(RUNS)
        half = _students_t(level_now) * error
        most = math.inf if self._is_time else 1.0
        low, high = max(0.0, mean - half), min(most, mean + half)
        return RareFigure(
            Estimate(mean, low, high, level_share, METHOD),
            error,
            self._n,
            self._branches,
            self._steps,
            int((means > 0).sum()),
            self._copies,
        )


def _students_t(level_share: float) -> float:
    """Two-sided quantile of Student's law for the mean of all runs."""
    from scipy.stats import t

    return float(t.ppf((1 + level_share) / 2, RUNS - 1))
