"""The real command line in a process of its own, and a tiny site of given links."""

import fcntl
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent.parent
MADE_UP = Path(__file__).parent / "made_up.py"
PLAYING = ("compare", "judge", "reinforce", "trace", "weakest")  # what needs a compiled engine
SITE = """\
format: 1
name: Invented chain
horizon_years: 2
radio: {predict: off}
routing: {objective: hops}
hazards:
  hardware: {mttf_h: 4383}
  link_blockage: {per_year: 3, mean_h: 12}
  gateway_outage: {per_year: 4}
  all_others: off
upkeep:
  repair: {mean_h: 72, distribution: exponential}
"""
FILES = {
    "site.yaml": SITE,
    "sensors.csv": "id\nS1\nS2\n",
    "links.csv": "a,b,prr\nG1,S1,0.95\nS1,S2,0.9\n",
    "layouts/chain/devices.csv": "id,kind\nG1,gateway\n",
    "layouts/ring/devices.csv": "id,kind\nG1,gateway\nR1,repeater\n",
    "layouts/ring/links.csv": "a,b,prr\nG1,R1,0.95\nR1,S2,0.9\n",
}


def _environment(**changes: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if "COLOR" not in name}
    return kept | {"PYTHONPATH": str(TOP), "PYTHONDONTWRITEBYTECODE": "1"} | changes


def _command(*words: object) -> list[str]:
    return [sys.executable, *(str(word) for word in words)]


def _run(*words: object, **options: object) -> subprocess.CompletedProcess[str]:
    return _ended(_command("-m", "resilience", *words), **options)


def _run_made_up(*words: object, **options: object) -> subprocess.CompletedProcess[str]:
    return _ended(_command(MADE_UP, *words), **options)


def _ended(command: list[str], **options: object) -> subprocess.CompletedProcess[str]:
    """Each run has a folder of its own, so that none finds what another has kept."""
    settings = {"env": _environment(), "stdin": subprocess.DEVNULL, "capture_output": True}
    settings |= {"encoding": "utf-8", "timeout": 600}
    with tempfile.TemporaryDirectory() as desk:
        return subprocess.run(command, check=False, **(settings | {"cwd": desk} | options))


def _written(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def chain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A gateway and two sensors in a row; the other layout closes the ring with a repeater."""
    return _written(tmp_path_factory.mktemp("sites") / "chain", FILES)


@pytest.fixture(scope="session")
def run(request: pytest.FixtureRequest) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run the command line with these words and nobody to answer questions."""

    def ran(*words: object, **options: object) -> subprocess.CompletedProcess[str]:
        if words and words[0] in PLAYING:
            request.getfixturevalue("compiled")
        return _run(*words, **options)

    return ran


@pytest.fixture(scope="session")
def compiled(tmp_path_factory: pytest.TempPathFactory, chain: Path) -> None:
    """Compile the engine once for all processes and all workers of the tests, if it is not yet.

    It goes where compiled code is always kept, so that a second session finds it.
    """
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    with (shared / "compiled").open("a") as sign:
        fcntl.flock(sign, fcntl.LOCK_EX)
        if sign.tell() == 0:
            for words in (("compare", chain, "--lifetimes", 2, "--no-keep"), ("trace", chain)):
                _run(*words, timeout=1200).check_returncode()
            sign.write("done")


@pytest.fixture(scope="session")
def run_made_up() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run it with layouts whose lifetimes are made up; nothing is compiled."""
    return _run_made_up


@pytest.fixture
def waiting(tmp_path: Path) -> Callable[..., AbstractContextManager[subprocess.Popen[str]]]:
    """Start it with lifetimes that are made up, and go on when its sixth piece waits."""

    @contextmanager
    def started(*words: object) -> Iterator[subprocess.Popen[str]]:
        with subprocess.Popen(
            _command(MADE_UP, *words),
            cwd=tmp_path,
            env=_environment(MADE_UP_PIECES="5"),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            start_new_session=True,
        ) as child:
            try:
                assert child.stderr is not None
                assert "WAITING\n" in child.stderr  # reads line by line, until it comes or all ends
                yield child
            finally:
                child.kill()

    return started


@pytest.fixture(scope="session")
def environment() -> Callable[..., dict[str, str]]:
    return _environment


@pytest.fixture
def written() -> Callable[[Path, dict[str, str]], Path]:
    return _written
