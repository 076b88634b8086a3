"""Runs in folders: killed, interrupted, resumed, refused; and what the engines need to run."""

import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tracemalloc
from pathlib import Path
from typing import NamedTuple

import pytest

from resilience.building.files.folder import read_site
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.montecarlo.runs.running import Budget, Undertaking, played
from resilience.terminal.options import Engine
from resilience.terminal.runs.keeping import run_folder, safe_name

IS_SOAK = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
# So few lifetimes end before the first look; the reference engine needs no compiling.
LONG = ("--lifetimes", 48, "--seconds", 600, "--engine", "reference", "--json", "--seed", 3)


def n_kept(folder: Path) -> int:
    """Lifetimes in the committed pieces of a run that has ended somehow."""
    with sqlite3.connect(folder / "ledger.sqlite") as ledger:
        (found,) = ledger.execute("SELECT total(lifetimes) FROM pieces").fetchone()
    ledger.close()
    return int(found)


class Compared(NamedTuple):
    """A long comparison and what it tells where it is kept nowhere and nothing cuts it."""

    words: tuple[object, ...]
    told: str


@pytest.fixture
def compared(run_made_up, chain, tmp_path_factory) -> Compared:
    words, desk = ("compare", chain, *LONG), tmp_path_factory.mktemp("desk")
    told = run_made_up(*words, "--no-keep", "--workers", 2, cwd=desk).stdout
    assert not list(desk.iterdir())
    return Compared(words, told)


@pytest.mark.parametrize("way", [(signal.SIGKILL, 2), (signal.SIGINT, 1)])
def test_a_cut_run_gives_the_same_bytes_when_it_is_asked_for_again(
    run_made_up, compared, waiting, tmp_path, way
):
    ending, workers = way
    words = (*compared.words, "--workers", workers, "--keep", "kept")
    with waiting(*words) as child:
        os.killpg(child.pid, ending)
        child.communicate(timeout=600)
    assert child.returncode == (130 if ending == signal.SIGINT else -signal.SIGKILL)
    before = n_kept(tmp_path / "kept")
    assert 8 <= before < 2 * 48  # the round that was complete when the sixth piece began
    again = run_made_up(*words, cwd=tmp_path)
    assert again.returncode == 0
    assert again.stdout == compared.told
    found = int(re.search(r"Kept in kept; (\d+) lifetimes found finished", again.stderr)[1])
    assert found == before
    manifest = json.loads((tmp_path / "kept/manifest.json").read_text(encoding="utf-8"))
    assert (manifest["lifetimes"], manifest["seed"]) == (48, 3)
    assert manifest["stopped_because"] == json.loads(compared.told)["stopped_because"]
    assert manifest["ended"] >= manifest["started"]
    assert manifest["wall_seconds"] > 0
    assert manifest["options"] == {"lifetimes": 48, "seconds": 600.0, "workers": workers}
    for key in ("version", "python", "numpy", "numba", "platform", "engine", "digest"):
        assert manifest[key], key


def test_a_run_that_was_interrupted_says_how_far_it_came(chain, waiting, tmp_path):
    """Pieces of 1, 1, 2, 2 and 4 building draws: both layouts have three."""
    words = ("compare", chain, *LONG, "--workers", 1, "--keep", "kept")
    with waiting(*words) as child:
        os.killpg(child.pid, signal.SIGINT)
        answer, beside = child.communicate(timeout=600)
    assert json.loads(answer)["lifetimes"] == 6
    assert "the same command goes on from here" in beside
    manifest = json.loads((tmp_path / "kept/manifest.json").read_text(encoding="utf-8"))
    assert manifest["lifetimes"] == 6
    assert manifest["stopped_because"] == "it was interrupted"


SHORT = ("--lifetimes", 16, "--json", "--workers", 1)


def test_a_run_is_kept_below_results_if_nothing_is_said(run, chain, tmp_path):
    done = run("compare", chain, *SHORT, cwd=tmp_path)
    (folder,) = (tmp_path / "results").iterdir()
    assert re.fullmatch("invented-chain-[0-9a-f]{8}", folder.name)
    assert {path.name for path in folder.iterdir()} == {"manifest.json", "ledger.sqlite"}
    assert f"Kept in results/{folder.name}\n" in done.stderr
    again = run("compare", chain, *SHORT, cwd=tmp_path)
    assert f"Kept in results/{folder.name}; 32 lifetimes found finished." in again.stderr
    assert again.stdout == done.stdout


def test_another_seed_gets_a_folder_of_its_own(run, chain, tmp_path):
    one, two = (
        json.loads(run("compare", chain, *SHORT, "--seed", seed, cwd=tmp_path).stdout)
        for seed in (1, 2)
    )
    assert one["layouts"] != two["layouts"]
    folders = list((tmp_path / "results").iterdir())
    assert len(folders) == 2
    words = ("--seed", 3, "--keep", folders[0])
    refused = run("compare", chain, *SHORT, *words, cwd=tmp_path)
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert "--fresh starts over" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_folder_with_the_run_of_another_site_is_named_as_such(run_made_up, chain, tmp_path):
    words = ("--lifetimes", 4, "--quiet", "--keep", tmp_path / "kept")
    assert run_made_up("compare", chain, *words).returncode == 0
    other = shutil.copytree(chain, tmp_path / "other")
    page = (other / "site.yaml").read_text().replace("Invented chain", "Invented barn")
    (other / "site.yaml").write_text(page)
    done = run_made_up("compare", other, *words)
    assert done.returncode == 2
    assert "kept keeps a run of Invented chain, and this is Invented barn: name" in done.stderr


def test_fresh_starts_over_beside_a_damaged_run(run, chain, tmp_path):
    words = ("compare", chain, *SHORT, "--keep", "mine")
    first = run(*words, cwd=tmp_path)
    (tmp_path / "mine/ledger.sqlite").write_bytes(b"spoilt " * 1000)
    refused = run(*words, cwd=tmp_path)
    assert refused.returncode == 2
    assert "is damaged" in refused.stderr
    fresh = run(*words, "--fresh", cwd=tmp_path)
    assert "Kept in mine-2\n" in fresh.stderr
    assert fresh.stdout == first.stdout


def test_keeping_and_not_keeping_at_once_makes_no_sense(run, chain, tmp_path):
    done = run("compare", chain, "--no-keep", "--fresh", cwd=tmp_path)
    assert done.returncode == 2
    assert "make no sense" in done.stderr


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Seed library", "seed-library"),
        ("../../etc/passwd", "etc-passwd"),
        ("..", "site"),
        ("/", "site"),
        ("C:\\x|y\x00\u202e", "c-x-y"),
        ("Zählerhaus №5", "zahlerhaus-no5"),
        ("東京", "site"),
        ("a" * 300, "a" * 40),
        ("a" * 39 + " b", "a" * 39),
    ],
)
def test_a_name_becomes_a_folder_that_cannot_lead_elsewhere(text, name):
    assert safe_name(text) == name


def test_the_last_of_the_numbered_folders_is_gone_on_with(tmp_path):
    base = tmp_path / "run"
    assert run_folder(base, False) == run_folder(base, True) == base
    for name in ("run", "run-2"):
        (tmp_path / name).mkdir()
    assert run_folder(base, False).name == "run-2"
    assert run_folder(base, True).name == "run-3"


def test_the_engines_are_offered_by_the_names_that_they_have():
    assert [engine.value for engine in Engine] == [COMPILED, REFERENCE]


def test_both_engines_give_the_same_answer_and_say_which_played(run, chain):
    for words in (("compare", chain, "--lifetimes", 2, "--no-keep"), ("trace", chain)):
        told = [
            json.loads(run(*words, "--json", "--engine", engine).stdout)
            for engine in ("compiled", "reference")
        ]
        assert [one.pop("engine") for one in told] == ["compiled", "reference"]
        assert told[0] == told[1]


BLOCKER = """
import sys
class Blocker:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("numba", "llvmlite"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
sys.meta_path.insert(0, Blocker())
"""


def test_without_numba_the_reference_engine_answers_and_says_why(run, chain, environment, tmp_path):
    (tmp_path / "sitecustomize.py").write_text(BLOCKER, encoding="utf-8")
    here = environment()
    bare = here | {"PYTHONPATH": f"{tmp_path}{os.pathsep}{here['PYTHONPATH']}"}
    compare = ("compare", chain, "--lifetimes", 4, "--no-keep", "--json")
    answers = [run(*words, env=bare) for words in (compare, ("trace", chain, "--json"))]
    for done in answers:
        assert done.returncode == 0
        assert "Numba is not available (No module named 'numba')" in done.stderr
        assert "the reference engine plays" in done.stderr
        assert json.loads(done.stdout)["engine"] == "reference"
    usual = json.loads(run(*compare).stdout)
    assert json.loads(answers[0].stdout) == usual | {"engine": "reference"}


def test_without_a_writable_cache_it_says_so_compiles_and_runs_on(
    run, chain, environment, tmp_path
):
    """A cold start, all of it in the soak alone: it takes a minute.

    numba refuses a cache that it cannot write (docs of its option cache).
    """
    (tmp_path / "file").touch()
    nowhere = environment(XDG_CACHE_HOME=str(tmp_path / "file"))
    words = ("compare", chain, "--lifetimes", 2, "--no-keep", "--workers", 1, "--json")
    command = [sys.executable, "-m", "resilience", *map(str, words)]
    with subprocess.Popen(
        command, env=nowhere, stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8"
    ) as child:
        assert child.stderr.readline().startswith("No folder for compiled code can be written")
        if IS_SOAK:
            assert child.communicate(timeout=1200)[0] == run(*words).stdout
            assert child.returncode == 0
        else:
            assert child.poll() is None
            child.kill()


MEASURED = """
import json, resource, sys
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple
from resilience.building.files.folder import read_site
from resilience.montecarlo.runs.manifest import open_run
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.study import studies
from resilience.ranking.comparison import ranked
site, lifetimes = read_site(sys.argv[1]), int(sys.argv[2])
undertaking = Undertaking(site, site.layouts, 1, False)
with open_run(Path("kept") / sys.argv[2], undertaking) as ledger:
    found = studies(replace(undertaking, ledger=ledger), Budget(lifetimes, 36000.0), workers=2)
json.dumps(ranked(site, found).to_json())
assert [study.n_lifetimes for study in found] == [lifetimes] * 2
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


@pytest.fixture(scope="module")
def sizes() -> tuple[int, int]:
    """A short and a long study."""
    return (10_000, 1_000_000) if IS_SOAK else (2_000, 20_000)


def test_a_hundred_times_the_lifetimes_take_no_more_than_twice_the_memory(
    chain, environment, tmp_path, sizes
):
    """The whole process, ledger and ranking included; ten times the lifetimes in the gate."""

    def peak(lifetimes):
        done = subprocess.run(
            [sys.executable, "-c", MEASURED, str(chain), str(lifetimes)],
            cwd=tmp_path,
            env=environment(),
            capture_output=True,
            encoding="utf-8",
            check=True,
        )
        return int(done.stdout)

    short, long = (peak(lifetimes) for lifetimes in sizes)
    assert long <= 2 * short


def test_a_lifetime_more_takes_less_than_half_of_its_plain_row(chain):
    """54 whole numbers of 8 bytes are 432 bytes; the interpreter's own count of what it holds."""
    site = read_site(chain)
    undertaking = Undertaking(site, site.layouts, 1, count_site_outages=False)
    played(undertaking, Budget(2))  # compiled and loaded before the count begins

    def peak_bytes(lifetimes):
        tracemalloc.start()
        found = played(undertaking, Budget(lifetimes, 600.0))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert found.tallies[0].n_lifetimes == lifetimes
        return peak

    more = peak_bytes(10_000) - peak_bytes(2_000)
    assert more / 8_000 / len(undertaking.layouts) < 216
