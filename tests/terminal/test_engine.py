"""What a person is told before a slow beginning."""

import subprocess
import sys
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.compiling import compiler, hear_of_compiling
from resilience.connectivity.shapes import compiled
from resilience.terminal.runs.engine import (
    PLAYING,
    SLOW,
    Compilation,
    compiling,
    tell_of_many_paths,
)

TOLD = "What finds the things in the way of so many paths is compiled first: ten seconds.\n"
ASK = """
import sys
from resilience.building.files.folder import read_site
from resilience.connectivity.shapes import compiled
from resilience.connectivity.links import link_table
from resilience.terminal.runs.engine import tell_of_many_paths
compiled.MUCH = 1
site = read_site(sys.argv[1])
tell_of_many_paths(site)
link_table(site, site.layouts[0])
"""


@pytest.fixture
def hall() -> Path:
    return Path(__file__).parent.parent.parent / "sites/market-hall"


def test_few_paths_are_compiled_for_nobody(hall, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    tell_of_many_paths(read_site(hall))
    assert capsys.readouterr() == ("", "")


def test_a_site_without_a_drawing_has_nothing_to_compile(chain, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(compiled, "MUCH", 1)
    tell_of_many_paths(read_site(chain))
    assert capsys.readouterr() == ("", "")


def test_many_paths_say_that_they_are_compiled_the_first_time_alone(hall, environment, tmp_path):
    here = environment(XDG_CACHE_HOME=str(tmp_path))
    for told in (TOLD, ""):
        done = subprocess.run(
            [sys.executable, "-c", ASK, str(hall)],
            env=here,
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stderr == told


def test_what_is_compiled_is_heard_of_and_what_is_loaded_is_not(tmp_path):
    """numba says itself whether it compiles: the second of two equal compilers loads."""
    heard = Compilation()
    states = []
    hear_of_compiling(heard.begin, heard.end)

    def begun(module: str) -> None:
        states.append((module, heard.is_under_way))

    hear_of_compiling(begun, states.append)
    for _ in range(2):
        assert compiler(tmp_path)(_twice)(2) == 4
        assert states == [(__name__, True), False]
    assert not heard.is_under_way
    assert not heard.was_cut_short


def test_the_end_of_what_began_before_anybody_listened_is_let_pass():
    """A first look from another thread may come while something is being compiled."""
    from numba.core.event import trigger_event

    heard = Compilation()
    with trigger_event("numba:compile", data={"dispatcher": compiler(None)(_twice)}):
        hear_of_compiling(heard.begin, heard.end)
    assert not heard.is_under_way
    assert not heard.was_cut_short


def _twice(number: int) -> int:
    return 2 * number


def _unfit(number: int) -> int:
    return number + "one"


def test_what_cannot_be_compiled_ends_as_cut_short():
    heard = Compilation()
    hear_of_compiling(heard.begin, heard.end)
    with pytest.raises(Exception, match="No implementation"):
        compiler(None)(_unfit)(2)
    assert heard.was_cut_short
    assert not heard.is_under_way


def test_a_person_is_told_of_each_slow_thing_once(capsys):
    heard = Compilation()
    heard.tell_of(PLAYING)
    heard.begin("resilience.connectivity.shapes.meetings")
    assert capsys.readouterr() == ("", ""), "nobody asked for that"
    for _ in range(2):
        heard.begin("resilience.lifetime.fast.play")
    assert capsys.readouterr() == ("", f"{SLOW[PLAYING]}\n")


def test_what_was_cut_short_was_being_compiled():
    heard = Compilation()
    heard.begin("resilience.lifetime.fast.play")
    assert heard.is_under_way
    heard.end(True)
    assert not heard.is_under_way
    assert heard.was_cut_short


def test_only_the_compiled_engine_is_compiled_and_that_is_known_at_any_time(monkeypatch):
    heard = Compilation()
    monkeypatch.setattr("resilience.terminal.runs.engine.compilation", lambda: heard)
    compiled, reference = compiling("compiled"), compiling("reference")
    assert not compiled()
    heard.begin("resilience.lifetime.fast.play")
    assert compiled()
    assert not reference()
    heard.end(False)
    assert not compiled()
