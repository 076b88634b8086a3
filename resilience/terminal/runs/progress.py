"""What is being done and how far it has come, after a second of silence on a terminal.

Elsewhere a study writes a line every few seconds, and what else takes long one line.
"""

import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Timer
from typing import TYPE_CHECKING

from resilience.terminal.screen import console, tell

if TYPE_CHECKING:
    from rich.console import RenderableType

SECONDS_OF_SILENCE = 1.0
SECONDS_BETWEEN_LINES = 5.0
SECONDS_OF_RATE = 10.0  # how far back the present rate is taken from
BAR_WIDTH = 24

PREDICTING = "predicting links"
COMPILING = "compiling the engine"
BEGINNING = "playing the first lifetimes"

Report = Callable[[int, int], None]  # lifetimes done, lifetimes to do


class Pace:
    """What a study does, how fast it plays lifetimes, and how long the rest will take.

    Parameters
    ----------
    seconds : float
        Time after which the study ends by itself, counted from when layouts are ready. [s]
    is_compiling : callable
        Says whether the engine is being compiled. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    def __init__(
        self,
        seconds: float,
        is_compiling: Callable[[], bool],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._clock = clock
        self._seconds = seconds
        self._is_compiling = is_compiling
        self._start = clock()
        self._ready_at = self._start
        self._reports: deque[tuple[float, int]] = deque()  # when, and lifetimes done by then
        self._to_do = 0
        self.has_played = False

    def report(self, done: int, to_do: int) -> None:
        """Take what a study tells: first that layouts are ready, with what was found finished.

        Parameters
        ----------
        done, to_do : int
            Lifetimes, over all layouts. [-]
        """
        now = self._clock()
        self.has_played = bool(self._reports)
        if not self.has_played:
            self._ready_at = now
        self._to_do = to_do
        self._reports.append((now, done))
        while len(self._reports) > 2 and self._reports[1][0] <= now - SECONDS_OF_RATE:
            self._reports.popleft()

    @property
    def elapsed_seconds(self) -> float:
        """Time since the study began."""
        return self._clock() - self._start

    @property
    def share(self) -> float | None:
        """Share of the lifetimes that is done; None before any is played."""
        return self._reports[-1][1] / self._to_do if self.has_played else None

    @property
    def what(self) -> str:
        """What is being done."""
        if self.has_played:
            return f"{self._reports[-1][1]} of {self._to_do} lifetimes"
        if self._is_compiling():
            return COMPILING
        return BEGINNING if self._reports else PREDICTING

    @property
    def words(self) -> str:
        """Present rate, and time left by the limit that comes first; empty before any is known."""
        if not self.has_played:
            return ""
        (since, before), (_, done) = self._reports[0], self._reports[-1]
        rate = (done - before) / max(self._clock() - since, 1e-3)
        allowed = self._seconds - (self._clock() - self._ready_at)
        left = min((self._to_do - done) / rate, allowed) if rate else allowed
        rate_words = f"{rate:.3g}" if rate < 100 else f"{rate:.0f}"
        return f"{rate_words} lifetimes a second, {_left_in_words(left, allowed)}"


def _left_in_words(left: float, allowed: float) -> str:
    if allowed <= 0:
        return "time is up, the last piece ends"
    return "a moment left" if left < 1 else f"{left:.0f} s left"


@contextmanager
def watched(seconds: float, is_quiet: bool, is_compiling: Callable[[], bool]) -> Iterator[Report]:
    """Give a callback that shows how far a study has come.

    Parameters
    ----------
    seconds : float
        Time after which the study ends by itself, counted from when layouts are ready. [s]
    is_quiet : bool
        Whether to show nothing. [-]
    is_compiling : callable
        Says whether the engine is being compiled. [-]
    """
    pace = Pace(seconds, is_compiling)
    if is_quiet:
        yield lambda done, to_do: None  # noqa: ARG005 - nobody is told
    elif sys.stderr.isatty():
        with moving(lambda: _bar(pace)):
            yield pace.report
    else:
        yield lines(pace, tell)


def lines(pace: Pace, say: Callable[[str], None]) -> Report:
    """Report of plain lines, at most one every five seconds and none before the first piece.

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
        pace.report(done, to_do)
        if pace.has_played and pace.elapsed_seconds - last >= SECONDS_BETWEEN_LINES:
            last = pace.elapsed_seconds
            say(f"{pace.what}, {pace.words}")

    return report


@contextmanager
def steps(what: str, is_quiet: bool) -> Iterator[Callable[[int, int, str], None]]:
    """Give a callback that shows which of many steps is under way: done before, all, its name.

    Parameters
    ----------
    what : str
        What the steps are, as in ``variants``. [-]
    is_quiet : bool
        Whether to show nothing. [-]
    """
    line, last = "", time.monotonic()

    def report(done: int, to_do: int, name: str) -> None:
        nonlocal line, last
        line = f"{done} of {to_do} {what}, now {name}"
        is_due = time.monotonic() - last >= SECONDS_BETWEEN_LINES
        if is_due and not (is_quiet or sys.stderr.isatty()):
            last = time.monotonic()
            tell(line)

    if is_quiet or not sys.stderr.isatty():
        yield report
    else:
        with moving(lambda: line):
            yield report


@contextmanager
def doing(what: str | Callable[[], str]) -> Iterator[None]:
    """Say what is being done: on a terminal once it has taken a second, elsewhere after five.

    Parameters
    ----------
    what : str or callable
        As in ``predicting links``, or what says that at any time. [-]
    """
    said = what if callable(what) else lambda: what
    if not sys.stderr.isatty():
        with _late(SECONDS_BETWEEN_LINES, lambda: tell(f"{said()} takes a while")):
            yield
        return
    began = time.monotonic()
    with moving(lambda: f"{said()}, {time.monotonic() - began:.0f} s"):
        yield


@contextmanager
def moving(shown: Callable[[], "RenderableType"]) -> Iterator[None]:
    """Show a line that is kept up to date, from a second on; it is gone at the end."""
    from rich.live import Live

    live = Live(
        get_renderable=shown,
        console=console(sys.stderr),
        transient=True,
        redirect_stdout=False,  # an answer may go elsewhere
    )
    try:
        with _late(SECONDS_OF_SILENCE, live.start):
            yield
    finally:
        live.stop()


@contextmanager
def _late(seconds: float, begin: Callable[[], None]) -> Iterator[None]:
    """Begin something unless all is over before."""
    timer = Timer(seconds, begin)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()


def _bar(pace: Pace) -> "RenderableType":
    from rich.progress_bar import ProgressBar
    from rich.table import Table

    from resilience.report.screen import SKY_BLUE

    share = pace.share
    bar = ProgressBar(
        total=1.0,
        completed=share or 0.0,
        width=BAR_WIDTH,
        pulse=share is None,
        complete_style=SKY_BLUE,
        finished_style=SKY_BLUE,
        pulse_style=SKY_BLUE,
    )
    row = Table.grid(padding=(0, 1))
    row.add_row(pace.what, bar, pace.words, f"{pace.elapsed_seconds:.0f} s")
    return row
