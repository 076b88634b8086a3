"""A portfolio from the command line: real processes, really killed."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

import psutil
import pytest

from resilience.errors import UsageError
from resilience.sweep.kept.earlier import is_of_another_program
from resilience.terminal.decide.report import report
from resilience.terminal.keep_up.keeping import facts, portfolio_folder, run_digest
from resilience.terminal.keep_up.moments import seconds_until

SITE = """\
format: 1
name: Invented {name}
horizon_years: 0.25
radio: {{predict: off}}
routing: {{objective: hops}}
hazards:
  hardware: {{mttf_h: {mttf_h}}}
  all_others: off
"""
FILES = {
    "policy.yaml": "format: 1\nmax_orphans: 0\nlonger_than_h: 24\nkept_with_probability: 0.5\n",
    "sensors.csv": "id\nS1\nS2\n",
    "links.csv": "a,b,prr\nG1,S1,0.95\nS1,S2,0.9\n",
    "layouts/chain/devices.csv": "id,kind\nG1,gateway\n",
}
N_TIMES = 50 if os.environ.get("RESILIENCE_SIZE", "gate") == "soak" else 1
WORDS = ("--lifetimes", 16, "--engine", "reference", "--seed", 3, "--json")


@pytest.fixture(scope="module")
def top(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("portfolio")
    for name, mttf_h in (("a", 500), ("b", 2000)):
        files = FILES | {"site.yaml": SITE.format(name=name, mttf_h=mttf_h)}
        for file, text in files.items():
            (folder / name / file).parent.mkdir(parents=True, exist_ok=True)
            (folder / name / file).write_text(text, encoding="utf-8")
    return folder


def tables(folder: Path) -> dict[str, bytes]:
    found = (path for kind in ("csv", "json") for path in folder.rglob(f"*.{kind}"))
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in found
        if path.name != "manifest.json"
    }


def played_here(top: Path, folder: Path, lifetimes: int = 16) -> dict[str, bytes]:
    """Tables of the same portfolio, played by a bare loop without any cluster."""
    from resilience.montecarlo.runs.ledger import Ledger
    from resilience.sweep.crew import Where
    from resilience.sweep.finding import Terms, site_folders
    from resilience.sweep.kept.results import Tables
    from resilience.sweep.orders import carried_out
    from resilience.sweep.running import Plan, played_portfolio

    class Here(list):
        n_wanted = 1

        def __enter__(self):
            return self

        def __exit__(self, *what):
            pass

        def ask(self, order, of):
            self.append((of, order))

        def answers(self, is_over):
            while self and not is_over():
                of, order = self.pop()
                yield of, carried_out(order)

    class Nobody:
        def told(self, *what):
            pass

        checked = scored = failed = told

    plan = Plan(top, site_folders(top), Terms(3, "reference"), lifetimes)
    with Ledger.open(folder, run_digest()) as ledger:
        outcome = played_portfolio(plan, ledger, Here, Nobody(), Tables(folder).keep)
    Tables(folder).put_manifest(facts(plan, Where(1, None), outcome))
    return tables(folder)


def test_a_run_goes_on_from_an_earlier_one_and_report_says_what_has_moved(
    run, top, written, tmp_path, capsys
):
    sites = tmp_path / "sites"
    shutil.copytree(top, sites)
    written(sites / "c", FILES | {"site.yaml": SITE.format(name="c", mttf_h=900)})
    then = tmp_path / "then"
    played_here(sites, then, 32)
    written(sites / "a", {"site.yaml": SITE.format(name="a", mttf_h=50_000)})
    with (sites / "b/site.yaml").open("a", encoding="utf-8") as stream:
        stream.write("# a remark\n")
    shutil.rmtree(sites / "c")
    words = ("portfolio", sites, *WORDS, "--workers", 1, "--lifetimes", 32, "--since", then)
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["since"] == {"run": str(then), "taken_over": ["b"], "gone_on": []}
    now = tmp_path / told["kept_in"]
    report(now, since=then, json=True)
    moves = json.loads(capsys.readouterr().out)["sites"]
    assert [(one["id"], one["presence"], one["because_of"]) for one in moves] == [
        ("a", "both", ["site"]),  # a hundred times the life that it had
        ("b", "both", []),
        ("c", "gone", []),
    ]
    assert moves[0]["moves"]["breach"] == "less"
    assert set(moves[1]["moves"].values()) == {"same"}
    report(now, since=then)
    shown = capsys.readouterr().out
    assert "1 on the same grounds, 1 on others, of which 1 moved beyond noise" in shown
    assert "Gone: c." in shown
    with pytest.raises(UsageError, match="say --seed 3, or leave --since out"):
        is_of_another_program(then, 4)
    assert not is_of_another_program(then, 3)
    with pytest.raises(UsageError, match="leave --write and --papers out"):
        report(now, since=then, papers=tmp_path)


def test_a_run_that_goes_on_from_another_is_kept_beside_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first = portfolio_folder(None, tmp_path, (3,), False)
    first.mkdir(parents=True)
    second = portfolio_folder(None, tmp_path, (3,), False, since=first)
    assert second == first.with_name(f"{first.name}-2")
    second.mkdir()
    assert portfolio_folder(None, tmp_path, (3,), False, since=first) == second  # it goes on
    assert portfolio_folder(Path("here"), tmp_path, (3,), False, since=first) == Path("here")
    with pytest.raises(UsageError, match="stays as it is: name another folder with --keep"):
        portfolio_folder(second, tmp_path, (3,), False, since=second)


def workers_of(pid: int) -> list[psutil.Process]:
    """Processes that play: those of a run that are not there to watch others."""
    found = psutil.Process(pid).children(recursive=True)
    return [one for one in found if "spawn_main" in " ".join(one.cmdline())]


def killed_workers(child: subprocess.Popen[str], luck: random.Random, n: int) -> int:
    """Kill processes that play at random moments, and say how many it were."""
    n_killed, end = 0, time.monotonic() + 120
    while n_killed < n and child.poll() is None and time.monotonic() < end:
        time.sleep(luck.uniform(0.1, 2.0))
        try:
            workers = workers_of(child.pid)
            if workers:
                luck.choice(workers).kill()
                n_killed += 1
        except psutil.Error:  # it has just ended
            continue
    return n_killed


@pytest.mark.parametrize("number", range(N_TIMES))
def test_runs_and_processes_killed_at_random_end_in_the_tables_of_a_bare_loop(
    run, environment, top, tmp_path, number
):
    luck = random.Random(number)
    words = ("portfolio", top, *WORDS, "--keep", "kept", "--workers")
    command = [sys.executable, "-m", "resilience", *map(str, words), "2"]
    with subprocess.Popen(
        command,
        cwd=tmp_path,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    ) as child:
        killed_workers(child, luck, 1)
        time.sleep(luck.uniform(0.0, 3.0))
        players = workers_of(child.pid) if child.poll() is None else []
        child.send_signal(signal.SIGKILL)
    _, alive = psutil.wait_procs(players, timeout=30)
    assert not alive  # nobody is left behind
    done = run(*words, 1, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert tables(tmp_path / "kept") == played_here(top, tmp_path / "here")
    told = json.loads(done.stdout)
    assert [site["id"] for site in told["sites"]] == ["a", "b"]
    assert "<title>" in (tmp_path / told["written"]).read_text(encoding="utf-8")


def test_a_run_is_no_site_but_has_a_page(run, tmp_path):
    (tmp_path / "sites.csv").touch()
    done = run("report", tmp_path)
    assert done.returncode == 2
    assert f"whose page of all sites is {tmp_path / 'portfolio.html'}" in done.stderr


# A shell that starts the tests in the background has them, and all they start, ignore Ctrl-C.
AS_AT_A_TERMINAL = """
import runpy, signal
signal.signal(signal.SIGINT, signal.default_int_handler)
runpy.run_module("resilience", run_name="__main__", alter_sys=True)
"""


def test_an_interrupt_ends_within_seconds_and_says_how_to_go_on(environment, top, tmp_path):
    words = ("portfolio", top, "--lifetimes", 400_000, "--engine", "reference", "--workers", 1)
    with subprocess.Popen(
        [sys.executable, "-c", AS_AT_A_TERMINAL, *map(str, words)],
        cwd=tmp_path,
        env=environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        start_new_session=True,
    ) as child:
        end = time.monotonic() + 120
        while not workers_of(child.pid) and time.monotonic() < end:
            time.sleep(0.2)
        time.sleep(1.0)
        players = workers_of(child.pid)
        began = time.monotonic()
        os.killpg(child.pid, signal.SIGINT)  # as Ctrl-C does
        try:
            out, told = child.communicate(timeout=60)
        finally:
            child.kill()
        took_s = time.monotonic() - began
    assert child.returncode == 130
    assert "the same command goes on from here" in told
    assert "Traceback" not in told, told
    assert "Not every site has an answer: 2 sites not reached" in out
    assert took_s < 10  # two seconds on a machine that has time
    _, alive = psutil.wait_procs(players, timeout=10)
    assert not alive


def test_a_time_that_is_none_is_refused_and_one_that_is_past_means_tomorrow():
    with pytest.raises(UsageError, match="expected a time of day, as in 06:00"):
        seconds_until("6 o'clock")
    just_past = (datetime.now() - timedelta(minutes=2)).strftime("%H:%M")
    assert 23 * 3600 < seconds_until(just_past)() <= 24 * 3600


def test_sites_that_fail_end_with_4(run, written, tmp_path):
    written(tmp_path / "bad" / "x", {"site.yaml": "format: 1\nnmae: x\n"})
    done = run("portfolio", tmp_path / "bad", "--engine", "reference", cwd=tmp_path)
    assert done.returncode == 4
    assert "1 site failed" in done.stdout
    assert "site.yaml: found" in done.stdout
    assert "see it with resilience check" in done.stdout
