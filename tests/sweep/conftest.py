"""A portfolio of tiny sites, and a crew that carries out orders here, one after another."""

import zlib
from collections import Counter, deque
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from resilience.lifetime.tally import COLUMNS, SENSOR_FIGURES, SensorSums, Tally
from resilience.montecarlo.runs.ledger import Ledger
from resilience.sweep import orders
from resilience.sweep.finding import Asked, Terms, site_folders
from resilience.sweep.kept.results import Tables
from resilience.sweep.orders import carried_out
from resilience.sweep.running import Plan, played_portfolio

SITE = """\
format: 1
name: {name}
horizon_years: 0.25
radio: {{predict: off}}
routing: {{objective: hops}}
hazards:
  hardware: {{mttf_h: {mttf_h}}}
  gateway_outage: {{per_year: 8}}
  all_others: off
upkeep:
  repair: {{mean_h: 72, distribution: exponential}}
"""
POLICY = "format: 1\nmax_orphans: 0\nlonger_than_h: 24\nkept_with_probability: 0.5\n"
REST = {
    "sensors.csv": "id\nS1\nS2\n",
    "links.csv": "a,b,prr\nG1,S1,0.95\nS1,S2,0.9\n",
    "layouts/chain/devices.csv": "id,kind\nG1,gateway\n",
    "layouts/ring/devices.csv": "id,kind\nG1,gateway\nR1,repeater\n",
    "layouts/ring/links.csv": "a,b,prr\nG1,R1,0.95\nR1,S2,0.9\n",
}


def _write_site(
    folder: Path, mttf_h: float, name: str = "Invented chain", promises: bool = True
) -> Path:
    files = REST | {"site.yaml": SITE.format(name=name, mttf_h=mttf_h)}
    if promises:  # which takes most of the time of a score
        files |= {"policy.yaml": POLICY}
    for file, text in files.items():
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


MS_PER_H = 3_600_000
SMALL = ("most_orphans", "unreached", *(one for one in COLUMNS if "_beyond_" in one))


class MadeUp:
    """A layout whose lifetimes follow from site, layout and number, at once."""

    def __init__(self, name, layout):
        self.name, self.layout = name, layout

    def tally(self, first, n):
        key = zlib.crc32(f"{self.name}/{self.layout.name}".encode())
        rows = np.array(
            [
                np.random.default_rng((key, first + k)).integers(0, MS_PER_H, len(COLUMNS))
                for k in range(n)
            ]
        )
        rows[:, COLUMNS.index("depth_ms")] += rows[:, COLUMNS.index("routed_ms")]
        rows[:, [COLUMNS.index(name) for name in SMALL]] %= 2
        times_ms = rows[:, 0].reshape(-1, 2).sum(axis=1).tolist()
        sums = SensorSums(sum(times_ms), sum(time_ms**2 for time_ms in times_ms))
        ids = [sensor.id for sensor in self.layout.sensors]
        sensors = {(figure, id): sums for figure in SENSOR_FIGURES for id in ids}
        blame_ms = Counter({("hardware", "S1"): sum(times_ms)})
        return Tally(first, rows, sensors, blame_ms, Counter({("hardware", "S1"): n}))


@pytest.fixture
def made_up(monkeypatch):
    """Let lifetimes be made up."""

    def stages(asked):
        site = Asked.unpacked(asked).undertaking.site
        return tuple(MadeUp(site.name, layout) for layout in site.layouts)

    monkeypatch.setattr(orders, "_stages", stages)


class CrewHere:
    """Carries out orders in this process, and keeps those that it was asked for."""

    def __init__(self, carry_out=carried_out, n_wanted=3):
        self.orders, self.n_wanted = [], n_wanted
        self._carry_out, self._waiting = carry_out, deque()

    def __enter__(self):
        return self

    def __exit__(self, *what):
        pass

    def __len__(self):
        return len(self._waiting)

    def ask(self, order, of):
        self.orders.append(order)
        self._waiting.append((order, of))

    def answers(self, is_over):
        while self._waiting and not is_over():
            order, of = self._waiting.pop()  # the last first: any order must do
            try:
                answer = self._carry_out(order)
            except Exception as error:
                answer = error
            yield of, answer


class Quiet:
    """Is told everything and keeps it."""

    def __init__(self):
        self.played, self.kept, self.failures = [], [], []

    def checked(self, done, to_do):
        pass

    def scored(self, score, was_kept):
        (self.kept if was_kept else self.played).append(score.id)

    def failed(self, failure):
        self.failures.append(failure)


@pytest.fixture(scope="session")
def write_site() -> Callable[..., Path]:
    return _write_site


@pytest.fixture
def top(tmp_path: Path) -> Path:
    """Three sites, two of them a folder deeper; the first promises something."""
    for name, mttf_h in (("a", 500), ("north/b", 2000), ("north/c", 8000)):
        _write_site(tmp_path / "sites" / name, mttf_h, f"Invented {name[-1]}", name == "a")
    return tmp_path / "sites"


@pytest.fixture
def crew_here() -> type[CrewHere]:
    return CrewHere


@pytest.fixture
def score_all(tmp_path: Path):
    """Score a portfolio into a run folder, and return what came of it and who was told."""

    def scored(top, folder="run", lifetimes=16, crew=None, **more):
        watcher, target = Quiet(), tmp_path / folder
        engine = more.pop("engine", "reference")
        terms = Terms(3, engine, more.pop("policy", None))
        plan = Plan(top, site_folders(top, more.pop("only", ())), terms, lifetimes, **more)
        with Ledger.open(target, "many") as ledger:
            made = CrewHere() if crew is None else crew
            found = played_portfolio(plan, ledger, lambda: made, watcher, Tables(target).keep)
        return found, watcher

    return scored


@pytest.fixture
def tables() -> Callable[[Path], dict[str, bytes]]:
    """Return every table of a run folder, by its path."""

    def of(folder: Path) -> dict[str, bytes]:
        found = [path for kind in ("csv", "json") for path in folder.rglob(f"*.{kind}")]
        return {
            path.relative_to(folder).as_posix(): path.read_bytes()
            for path in found
            if path.name != "manifest.json"
        }

    return of
