import os
import signal
import subprocess
import sys

import pytest

from resilience.terminal.new import _answered
from resilience.terminal.progress import Pace, lines, watched
from resilience.terminal.screen import finite


class Clock:
    """A clock that the test sets."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


def test_rate_and_time_left_follow_the_clock():
    clock = Clock()
    pace = Pace(600.0, clock)
    clock.now += 10
    assert pace.words(20, 100) == "2 lifetimes a second, 40 s left"


def test_time_left_is_never_longer_than_the_time_allowed():
    clock = Clock()
    pace = Pace(15.0, clock)
    clock.now += 10
    assert pace.words(20, 100) == "2 lifetimes a second, 5 s left"
    clock.now += 10
    assert pace.words(20, 100).endswith(", 0 s left")


def test_lifetimes_that_were_found_finished_do_not_count_as_speed():
    clock = Clock()
    pace = Pace(600.0, clock, n_found=40)
    clock.now += 10
    assert pace.words(40, 100) == "found finished"
    assert pace.words(60, 100) == "2 lifetimes a second, 20 s left"


def test_plain_lines_come_at_most_every_five_seconds():
    clock, said = Clock(), []
    report = lines(Pace(600.0, clock), said.append)
    for done in range(1, 26):
        clock.now += 1
        report(done, 100)
    assert [line.split()[0] for line in said] == ["1", "6", "11", "16", "21"]


def test_quiet_says_nothing(capsys):
    with watched(60.0, is_quiet=True) as report:
        report(1, 2)
    assert capsys.readouterr() == ("", "")


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
def test_an_interrupt_ends_the_study_and_shows_what_is_done(chain, environment, workers):
    """A real SIGINT to the whole group, as a terminal sends it."""
    words = ("--lifetimes", "100000", "--seconds", "600", "--workers", str(workers), "--no-keep")
    with subprocess.Popen(
        [sys.executable, "-m", "resilience", "compare", str(chain), *words],
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        start_new_session=True,
    ) as child:
        while "of 200000 lifetimes" not in child.stderr.readline():  # compiling is told before
            assert child.poll() is None
        os.killpg(child.pid, signal.SIGINT)
        told, rest = child.communicate(timeout=60)
    assert child.returncode == 130
    assert told.startswith("! Interrupted: what follows rests on the lifetimes that were complete.")
    assert "It stopped because it was interrupted" in " ".join(told.split())
    assert "Traceback" not in rest
