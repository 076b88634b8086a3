"""How far a portfolio has come: a line for each site, and on a terminal rate and time left."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from resilience.terminal.runs.progress import moving
from resilience.terminal.screen import tell

if TYPE_CHECKING:
    from resilience.ranking.many.portfolio import Failure
    from resilience.ranking.many.sites import SiteScore

SECONDS_PER_MINUTE = 60
SECONDS_PER_H = 3600


class Watcher:
    """Tells a person of each site.

    Parameters
    ----------
    n_sites : int
        Of the portfolio. [-]
    say : callable
        Takes a line. [-]
    has_spare_time : bool
        Whether sites that stay undecided play on. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    def __init__(
        self,
        n_sites: int,
        say: Callable[[str], None],
        has_spare_time: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._n_sites, self._say, self._clock = n_sites, say, clock
        self._has_spare_time = has_spare_time
        self._n_checked = self._n_kept = self._n_played = self._n_failed = 0
        self._began_s: float | None = None  # to play

    def checked(self, done: int, to_do: int) -> None:  # noqa: ARG002 - they are known
        """Count another site that was checked."""
        self._n_checked = done

    def scored(self, score: "SiteScore", was_kept: bool) -> None:
        """Say what another site shows, unless an earlier run has said so."""
        from resilience.ranking.many.sites import Risk
        from resilience.report.many.portfolio import hours_words

        if was_kept:
            self._n_kept += 1
            return
        self._n_played += 1
        layout = score.best(Risk.HOURS)
        verdict = f", promise {score.verdict.value}" if score.verdict else ""
        self._say(f"{score.id}: {hours_words(layout.hours)} h cut off a sensor and year{verdict}")

    def failed(self, failure: "Failure") -> None:
        """Say what is wrong with another site."""
        self._n_failed += 1
        self._say(f"{failure.id}: failed: {failure.reason.partition(chr(10))[0]}")

    @property
    def words(self) -> str:
        """What is being done, how fast, and how long the rest takes."""
        if self._n_checked < self._n_sites:
            return f"checking {self._n_checked} of {self._n_sites} sites"
        now = self._clock()
        self._began_s = now if self._began_s is None else self._began_s
        done = self._n_kept + self._n_played + self._n_failed
        line = f"{min(done, self._n_sites)} of {self._n_sites} sites"
        if not self._n_played or now <= self._began_s:
            return f"{line}, playing the first"
        rate = self._n_played / (now - self._began_s)
        left = (self._n_sites - done) / rate
        if left <= 0:
            return f"{line}, and now those that are undecided" if self._has_spare_time else line
        return f"{line}, {rate * SECONDS_PER_MINUTE:.3g} a minute, {_left(left)} left"


def _left(seconds: float) -> str:
    if seconds < SECONDS_PER_MINUTE:
        return f"{seconds:.0f} s"
    if seconds < SECONDS_PER_H:
        return f"{seconds / SECONDS_PER_MINUTE:.0f} min"
    return f"{seconds / SECONDS_PER_H:.1f} h"


@contextmanager
def watching(n_sites: int, is_quiet: bool, has_spare_time: bool) -> Iterator[Watcher]:
    """Give somebody who tells how far a portfolio has come.

    Parameters
    ----------
    n_sites : int
        Of the portfolio. [-]
    is_quiet : bool
        Whether to tell nothing. [-]
    has_spare_time : bool
        Whether sites that stay undecided play on. [-]
    """
    watcher = Watcher(n_sites, (lambda _: None) if is_quiet else tell, has_spare_time)
    if is_quiet or not sys.stderr.isatty():
        yield watcher
        return
    with moving(lambda: watcher.words):
        yield watcher
