"""The real command line in a process of its own, and a tiny site of given links."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent.parent
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


def _run(*words: object, **options: object) -> subprocess.CompletedProcess[str]:
    """Each run has a folder of its own, so that none finds what another has kept."""
    command = [sys.executable, "-m", "resilience", *(str(word) for word in words)]
    settings = {"env": _environment(), "stdin": subprocess.DEVNULL, "capture_output": True}
    settings |= {"encoding": "utf-8", "timeout": 120}
    with tempfile.TemporaryDirectory() as desk:
        return subprocess.run(command, check=False, **(settings | {"cwd": desk} | options))


def _written(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def run() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run the command line with these words and nobody to answer questions."""
    return _run


@pytest.fixture(scope="session")
def environment() -> Callable[..., dict[str, str]]:
    return _environment


@pytest.fixture(scope="session")
def chain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A gateway and two sensors in a row; the other layout closes the ring with a repeater."""
    return _written(tmp_path_factory.mktemp("sites") / "chain", FILES)


@pytest.fixture
def written() -> Callable[[Path, dict[str, str]], Path]:
    return _written
