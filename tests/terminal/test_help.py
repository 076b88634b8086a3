import subprocess
import sys
from pathlib import Path

import pytest

from resilience.__main__ import VERBS
from resilience.errors import UsageError
from resilience.montecarlo.runs.running import Budget
from resilience.terminal.group import Verb, application
from resilience.terminal.options import DEFAULT_LIFETIMES, DEFAULT_SECONDS, allowed_cores

TOP = Path(__file__).parent.parent.parent
HEAVY = {
    *("numpy", "pandas", "networkx", "scipy", "simpy", "numba", "shapely"),
    *("ruamel", "ruamel.yaml", "pydantic", "rich", "dask", "distributed"),
}


def imported(*words: str) -> set[str]:
    """Top-level names that a run imports, by the interpreter's own account."""
    command = [sys.executable, "-X", "importtime", "-m", "resilience", *words]
    done = subprocess.run(
        command, cwd=TOP, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=True
    )
    lines = [line for line in done.stderr.splitlines() if line.startswith("import time:")]
    return {line.rpartition("|")[2].strip() for line in lines}


def test_help_loads_nothing_heavy():
    names = imported("--help")
    assert "typer" in names
    assert not names & HEAVY


def test_the_help_of_one_verb_loads_nothing_heavy_of_ours():
    """Pydantic is left out: typer loads it by itself to describe the options of a command."""
    names = imported("compare", "--help")
    assert "resilience.terminal.options" in names  # what the verb itself imports
    assert not names & (HEAVY - {"pydantic"})


def test_help_lists_the_verbs_by_task_without_loading_them(run):
    told = run("--help").stdout
    for verb in VERBS.values():
        assert verb.help in told
    assert told.index("Describe a site:") < told.index("Decide:") < told.index("Tools:")
    loaded = {name for name in imported("--help") if name.startswith("resilience.terminal.")}
    assert loaded == {"resilience.terminal.group", "resilience.terminal.statuses"}


def test_h_is_help(run):
    assert run("-h").stdout == run("--help").stdout
    assert "Usage: resilience check" in run("check", "-h").stdout


def test_no_words_at_all_show_the_help(run):
    done = run()
    assert "Usage: resilience" in done.stdout + done.stderr


def test_a_misspelt_verb_is_bad_usage_with_a_way_out(run):
    done = run("comapre")
    assert done.returncode == 2
    assert "Did you mean 'compare'?" in done.stderr
    assert done.stdout == ""


def test_the_version_is_told(run):
    import resilience

    assert run("--version").stdout == f"{resilience.__version__}\n"


def test_the_defaults_shown_are_those_of_the_budget():
    assert Budget(DEFAULT_LIFETIMES, DEFAULT_SECONDS) == Budget()


def test_at_least_one_core_may_be_used():
    assert allowed_cores() >= 1


def _interrupted() -> None:
    raise KeyboardInterrupt


def _asked_for_nonsense() -> None:
    raise UsageError("there is no layout \x1b[31m'x'")


def _broken() -> None:
    raise ZeroDivisionError("a fault of ours")


@pytest.fixture
def outcome(monkeypatch, capsys):
    """Status and standard error of a verb that is one of the functions above."""

    def outcome_of(function):
        monkeypatch.setattr("resilience.terminal.tools.schema.schema", function)
        verbs = {"go": Verb("trial", "resilience.terminal.tools.schema:schema", "Go.")}
        with pytest.raises(SystemExit) as ended:
            application(verbs, "A trial.").main(["go"], prog_name="resilience")
        return ended.value.code, capsys.readouterr().err

    return outcome_of


def test_an_interrupt_before_anything_is_complete_says_so(outcome, monkeypatch):
    monkeypatch.setattr("resilience.terminal.runs.engine.was_compiling", lambda: False)
    status, told = outcome(_interrupted)
    assert status == 130
    assert told == "Interrupted: nothing was complete, so there is nothing to show.\n"


def test_an_interrupt_while_the_engine_is_compiled_says_so(outcome, monkeypatch):
    monkeypatch.setattr("resilience.terminal.runs.engine.was_compiling", lambda: True)
    status, told = outcome(_interrupted)
    assert status == 130
    assert told.startswith("Interrupted before the engine was compiled")


def test_our_own_errors_show_their_message_and_no_traceback(outcome):
    status, told = outcome(_asked_for_nonsense)
    assert status == 2
    assert told == "there is no layout \\x1b[31m'x'\n"


def test_any_other_error_keeps_its_traceback(outcome):
    with pytest.raises(ZeroDivisionError):
        outcome(_broken)
