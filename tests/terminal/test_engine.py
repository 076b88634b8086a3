"""What a person is told before a slow beginning."""

import subprocess
import sys
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.connectivity.shapes import compiled
from resilience.terminal.options import Engine
from resilience.terminal.runs.engine import engine_at_hand, tell_of_many_paths, was_compiling

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


def test_an_engine_that_is_not_kept_yet_was_being_compiled(tmp_path, monkeypatch):
    """Nothing was ever compiled into an empty folder, and no verb that plays asks for nothing."""
    engine_at_hand(Engine.COMPILED, is_quiet=True)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert was_compiling()
    monkeypatch.delitem(sys.modules, "resilience.lifetime.state.compiled")
    assert not was_compiling()
