import os
import signal
import sys
import threading
from io import StringIO

import pytest

from resilience.terminal.describe.new import _answered
from resilience.terminal.runs import progress
from resilience.terminal.runs.progress import Pace, doing, lines, watched
from resilience.terminal.screen import finite


class Clock:
    """A clock that the test sets."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


def pace_of(clock, seconds=600.0, *told):
    """A pace that was told so many lifetimes, ten seconds apart."""
    pace = Pace(seconds, lambda: False, clock)
    for k, both in enumerate(told):
        clock.now += 10 * (k > 0)
        pace.report(*both)
    return pace


def test_rate_and_time_left_follow_the_clock():
    assert pace_of(Clock(), 600.0, (0, 100), (20, 100)).words == ("2 lifetimes a second, 40 s left")


def test_time_left_is_never_longer_than_the_time_allowed():
    assert pace_of(Clock(), 15.0, (0, 100), (20, 100)).words == "2 lifetimes a second, 5 s left"


def test_what_comes_before_layouts_are_ready_takes_none_of_the_time_allowed():
    """As a study has it: a compiler may take longer than that."""
    clock = Clock()
    pace = Pace(15.0, lambda: True, clock)
    clock.now += 60
    pace.report(0, 100)
    clock.now += 10
    pace.report(20, 100)
    assert pace.words == "2 lifetimes a second, 5 s left"
    assert pace.elapsed_seconds == 70


@pytest.mark.parametrize("seconds", [0.0, 3.0, 10.0, 10.25, 10.875, 11.5, 3600.0])
@pytest.mark.parametrize("done", [1, 50, 98, 99, 100])
@pytest.mark.parametrize("waited", [0.0, 0.25, 40.0])
def test_work_that_goes_on_never_has_no_time_left(seconds, done, waited):
    clock = Clock()
    pace = pace_of(clock, seconds, (0, 100), (done, 100))
    clock.now += waited
    assert " 0 s" not in pace.words
    assert pace.words.endswith((" s left", "a moment left", "time is up, the last piece ends"))
    assert ("time is up" in pace.words) == (10.0 + waited >= seconds)


def test_less_than_a_second_is_a_moment():
    assert pace_of(Clock(), 600.0, (0, 100), (99, 100)).words.endswith(", a moment left")


def test_a_piece_that_is_waited_for_lowers_the_rate():
    """20 lifetimes in 10 s, then nothing for 30 s: 0.5 a second, and 80 more take 160 s."""
    clock = Clock()
    pace = pace_of(clock, 600.0, (0, 100), (20, 100))
    clock.now += 30
    assert pace.words == "0.5 lifetimes a second, 160 s left"


def test_the_present_rate_forgets_what_was_slow_at_the_beginning():
    """The first piece waits ten seconds for a compiler; later ones bring 30 a second."""
    told = [(0, 1000), (2, 1000), (302, 1000), (602, 1000)]
    assert pace_of(Clock(), 600.0, *told).words == "30 lifetimes a second, 13 s left"


def test_lifetimes_that_were_found_finished_do_not_count_as_speed():
    assert pace_of(Clock(), 600.0, (40, 100), (60, 100)).words == "2 lifetimes a second, 20 s left"


def test_quick_rates_are_whole_numbers():
    told = pace_of(Clock(), 600.0, (0, 10**6), (123_456, 10**6)).words
    assert told.startswith("12346 lifetimes a second, ")


def test_what_is_done_before_the_first_piece_is_told_by_name():
    clock = Clock()
    pace = pace_of(clock)
    assert (pace.what, pace.words, pace.share) == ("predicting links", "", None)
    pace.report(40, 100)
    assert (pace.what, pace.words, pace.share) == ("playing the first lifetimes", "", None)
    clock.now += 1
    pace.report(60, 100)
    assert (pace.what, pace.share) == ("60 of 100 lifetimes", 0.6)


def test_plain_lines_come_with_pieces_at_most_every_five_seconds():
    clock, said = Clock(), []
    report = lines(Pace(600.0, lambda: False, clock), said.append)
    for done in range(26):
        clock.now += 1
        report(done, 100)
    assert [line.split()[0] for line in said] == ["1", "6", "11", "16", "21"]


def test_quiet_says_nothing(capsys):
    with watched(60.0, is_quiet=True, is_compiling=lambda: False) as report:
        report(0, 2)
        report(1, 2)
    assert capsys.readouterr() == ("", "")


class Screen(StringIO):
    """A terminal that remembers, and can be waited for."""

    def __init__(self):
        super().__init__()
        self._is_written = threading.Condition()

    def isatty(self):
        return True

    def write(self, text):
        with self._is_written:
            self._is_written.notify_all()
            return super().write(text)

    def shows(self, text):
        """Wait until it does; the patience is only there to fail."""
        with self._is_written:
            return self._is_written.wait_for(lambda: text in self.getvalue(), timeout=60)


@pytest.fixture
def on_screen(monkeypatch):
    """Make a terminal of standard error, after so many seconds of silence.

    Called by the test itself: pytest puts its own in place when a test begins.
    """

    def made(seconds_of_silence):
        monkeypatch.setattr(progress, "SECONDS_OF_SILENCE", seconds_of_silence)
        monkeypatch.setenv("TERM", "xterm")
        screen = Screen()
        monkeypatch.setattr("sys.stderr", screen)
        return screen

    return made


def test_what_takes_long_is_told_while_it_is_done_and_gone_afterwards(on_screen, capsys):
    screen = on_screen(0.0)
    with doing("predicting links"):
        assert screen.shows("predicting links, 0 s")
        sys.stdout.write("an answer")
    assert "\x1b[2K" in screen.getvalue().rpartition("predicting links")[2]  # erased (ECMA-48, EL)
    assert capsys.readouterr().out == "an answer"


def test_what_is_quick_is_not_told(on_screen):
    screen = on_screen(3600.0)
    with doing("predicting links"):
        pass
    with watched(60.0, False, lambda: False) as report:
        report(0, 2)
    assert screen.getvalue() == ""


def test_a_study_on_a_terminal_tells_every_step(on_screen):
    screen = on_screen(0.0)
    compiling = threading.Event()
    with watched(3600.0, False, compiling.is_set) as report:
        assert screen.shows("predicting links")
        compiling.set()
        assert screen.shows("compiling the engine")
        compiling.clear()
        report(0, 10_000)
        assert screen.shows("playing the first lifetimes")
        report(10, 10_000)
        assert screen.shows("10 of 10000 lifetimes")
        assert screen.shows("lifetimes a second, ")


def test_what_takes_long_is_one_line_where_no_terminal_is(monkeypatch, capsys):
    told = threading.Event()
    monkeypatch.setattr(progress, "SECONDS_BETWEEN_LINES", 0.0)
    monkeypatch.setattr(progress, "tell", lambda line: (print(line), told.set()))  # noqa: T201
    with doing("predicting links"):
        assert told.wait(60)
    assert capsys.readouterr().out == "predicting links takes a while\n"


def test_nothing_is_told_of_what_is_quick_where_no_terminal_is(monkeypatch, capsys):
    monkeypatch.setattr(progress, "SECONDS_OF_SILENCE", 0.0)
    with doing("predicting links"):
        threading.Event().wait(0.05)  # long enough for what must not happen
    with watched(60.0, False, lambda: False) as report:
        report(0, 2)
    assert capsys.readouterr() == ("", "")


def test_an_error_takes_the_line_away(on_screen):
    screen = on_screen(0.0)

    def failing():
        with doing("predicting links"):
            assert screen.shows("predicting links")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        failing()
    assert "\x1b[?25h" in screen.getvalue()  # the cursor is back (ECMA-48, DEC private mode 25)


def test_what_json_cannot_hold_becomes_null():
    assert finite({"a": [float("nan"), 1.5, (float("inf"),)], 2: "x"}) == {
        "a": [None, 1.5, [None]],
        "2": "x",
    }


def test_missing_answers_are_asked_for_where_somebody_can_answer(monkeypatch):
    class Terminal:
        def isatty(self):
            return True

    asked = []

    def prompt(text, **_):
        asked.append(text)
        return "centre"

    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr("typer.prompt", prompt)
    assert _answered({"name": "Mill", "gateway": None}) == ["Mill", "centre"]
    assert len(asked) == 1


@pytest.mark.parametrize("workers", [1, 2])
def test_an_interrupt_ends_the_study_and_shows_what_is_done(chain, waiting, workers):
    """A real SIGINT to the whole group, as a terminal sends it."""
    words = ("--lifetimes", 100_000, "--seconds", 600, "--workers", workers, "--no-keep")
    with waiting("compare", chain, *words) as child:
        os.killpg(child.pid, signal.SIGINT)
        told, rest = child.communicate(timeout=600)
    assert child.returncode == 130, rest
    assert told.startswith("! Interrupted: what follows rests on the lifetimes that were complete.")
    assert "It stopped because it was interrupted" in " ".join(told.split())
    assert "Traceback" not in rest
