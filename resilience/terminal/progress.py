"""How far a study has come: a moving bar on a terminal, a line every few seconds elsewhere."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from resilience.terminal.screen import console, tell

SECONDS_BETWEEN_LINES = 5.0

Report = Callable[[int, int], None]  # lifetimes done, lifetimes to do


class Pace:
    """How fast lifetimes are played, and how long the rest will take.

    Parameters
    ----------
    seconds : float
        Time after which the study ends by itself. [s]
    clock : callable
        Seconds that only go up. [s]
    n_found : int
        Lifetimes that were finished before and take no time. [-]
    """

    def __init__(
        self, seconds: float, clock: Callable[[], float] = time.monotonic, n_found: int = 0
    ) -> None:
        self._clock = clock
        self._seconds = seconds
        self._n_found = n_found
        self._start = clock()

    @property
    def elapsed_seconds(self) -> float:
        """Time since the study began."""
        return self._clock() - self._start

    def words(self, done: int, to_do: int) -> str:
        """Rate and time left, whichever limit comes first."""
        played = done - self._n_found
        if played <= 0:
            return "found finished"
        elapsed = max(self.elapsed_seconds, 1e-3)
        left = min(elapsed / played * (to_do - done), max(0.0, self._seconds - elapsed))
        return f"{played / elapsed:.3g} lifetimes a second, {left:.0f} s left"


@contextmanager
def watched(seconds: float, is_quiet: bool, n_found: int = 0) -> Iterator[Report]:
    """Give a callback that shows how far a study has come.

    Parameters
    ----------
    seconds : float
        Time after which the study ends by itself. [s]
    is_quiet : bool
        Whether to show nothing. [-]
    n_found : int
        Lifetimes that were finished before. [-]
    """
    pace = Pace(seconds, n_found=n_found)
    if is_quiet:
        yield lambda done, to_do: None  # noqa: ARG005 - nobody is told
    elif sys.stderr.isatty():
        with _bar(pace) as report:
            yield report
    else:
        yield lines(pace, tell)


def lines(pace: Pace, say: Callable[[str], None]) -> Report:
    """Report of plain lines, at most one every five seconds.

    Parameters
    ----------
    pace : Pace
        Since the study began. [-]
    say : callable
        Takes a line. [-]
    """
    last = -SECONDS_BETWEEN_LINES

    def report(done: int, to_do: int) -> None:
        nonlocal last
        if pace.elapsed_seconds - last >= SECONDS_BETWEEN_LINES:
            last = pace.elapsed_seconds
            say(f"{done} of {to_do} lifetimes, {pace.words(done, to_do)}")

    return report


@contextmanager
def _bar(pace: Pace) -> Iterator[Report]:
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from resilience.report.look import SKY_BLUE

    columns = (
        TextColumn("{task.description}"),
        BarColumn(complete_style=SKY_BLUE, finished_style=SKY_BLUE, pulse_style=SKY_BLUE),
        TextColumn("{task.fields[pace]}"),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=console(sys.stderr), transient=True) as bar:
        task = bar.add_task("getting ready", total=None, pace="")

        def report(done: int, to_do: int) -> None:
            words = pace.words(done, to_do)
            counts = f"{done} of {to_do} lifetimes"
            bar.update(task, total=to_do, completed=done, description=counts, pace=words)

        yield report
