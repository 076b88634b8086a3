"""Every command and every line of Python in the README runs."""

import doctest
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
README = (TOP / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```bash\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
LINES = [line for block in BLOCKS for line in block.splitlines()]
INSTALL, TESTS = LINES[0], LINES[1]
EXCERPT = re.search(r"^```text\n(.*?)^```", README, re.MULTILINE | re.DOTALL)[1]
QUICK = "--lifetimes 2"  # the README offers --lifetimes for a quick look
BRIEF = "--seconds 4"  # what is not tested by then is told as not tested
PATIENT = "--seconds 3600"  # and --seconds for a long one: a slow machine must not stop early


def commands() -> list[str]:
    """What the README asks the program after the install and the tests, in its order."""
    quick = [re.sub(" (compare|report|weakest) ", rf" \1 {QUICK} ", one) for one in LINES[2:]]
    quick = [one.replace(" portfolio ", f" portfolio {QUICK} --workers 1 ") for one in quick]
    quick = [one.replace(" --vary-defaults", f" --vary-defaults {BRIEF}") for one in quick]
    return [one.replace(" judge ", f" judge {PATIENT} ") for one in quick]


def answer(command: str, folder: Path) -> str:
    """Standard output of one command of the README, which must end well."""
    assert command.startswith(".venv/bin/resilience "), command
    program = f"{shlex.quote(sys.executable)} -m resilience "
    done = subprocess.run(
        command.replace(".venv/bin/resilience ", program),
        shell=True,
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(TOP)},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, (command, done.stderr)
    return done.stdout


def test_the_first_command_installs_and_compares_and_the_second_tests():
    # The gate makes the environment and installs by these words; it would be slow to do here.
    gate = (TOP / ".ci/run").read_text(encoding="utf-8")
    made, installed, compared = INSTALL.split(" && ")
    assert made == "python3 -m venv .venv"
    assert installed == ".venv/bin/pip install -e '.[dev]'"
    assert compared == ".venv/bin/resilience compare sites/seed-library"
    assert TESTS == ".venv/bin/pytest -n auto --dist worksteal"
    assert "-m venv" in gate
    assert "--editable '.[dev]'" in gate
    assert "pytest -n auto --dist worksteal" in gate


def test_the_readme_offers_the_options_that_its_commands_are_tested_with():
    assert "`--lifetimes 20`" in README
    assert "--seconds 3600`" in README


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder that looks like the project's own, where commands may write."""
    (tmp_path / "sites").symlink_to(TOP / "sites")
    return tmp_path


def test_the_first_command_gives_the_answer_that_the_readme_shows(desk: Path):
    lines = answer(f"{INSTALL.split(' && ')[-1]} {PATIENT}", desk).splitlines()
    shown = [line for line in EXCERPT.splitlines() if line]
    assert shown == [line.rstrip() for line in lines if line.strip()][: len(shown)]


def test_every_other_command_of_the_readme_runs(desk: Path):
    for command in commands():
        assert answer(command, desk) or ">" in command, command
    assert (desk / "my-site/site.yaml").exists()
    assert (desk / "site.schema.json").stat().st_size > 0
    assert (desk / "market-hall.json").stat().st_size > 0


def test_the_python_of_the_readme_runs_and_gives_what_it_says(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(TOP)
    outcome = doctest.testfile(str(TOP / "README.md"), module_relative=False)
    assert outcome.attempted >= 5
    assert outcome.failed == 0


def test_the_readme_names_every_verb():
    from resilience.__main__ import VERBS

    for verb in VERBS:
        assert f"| `{verb}` |" in README


def test_every_page_that_the_readme_points_at_exists():
    for page in re.findall(r"\]\(([^)]+)\)", README):
        assert (TOP / page).exists(), page
