"""How many lifetimes a second a study plays, beside an earlier state of the project."""

import json
import os
import statistics
import subprocess
import sys
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import IO, Any

from benchmarks.layouts import Scatter
from benchmarks.measuring import Page, median_ratio, number

TOP = Path(__file__).parent.parent
PLAYER = Path(__file__).parent / "player.py"
AIM_DENSE = 20.0  # times the state before


class Child:
    """One layout in a process of its own, played by one state of the project.

    Parameters
    ----------
    folder : Path
        Where that state is. [-]
    scatter : Scatter
        The layout. [-]
    """

    def __init__(self, folder: Path, scatter: Scatter) -> None:
        numbers = (
            scatter.n_sensors, scatter.spacing_m, scatter.years, scatter.n_lifetimes,
            int(scatter.is_cut),
        )  # fmt: skip
        self._process = subprocess.Popen(
            [sys.executable, "-P", str(PLAYER), *map(str, numbers)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(folder)},
        )
        ready = self._read()
        if not Path(ready["file"]).is_relative_to(folder):
            raise RuntimeError(f"{ready['file']} was played, not what is in {folder}")
        self.prepared_s: float = ready["prepared_s"]
        self.n_steps: float = ready["steps"]

    def __enter__(self) -> "Child":
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: object, _trace: TracebackType | None
    ) -> None:
        self._pipe(self._process.stdin).close()
        self._process.wait()
        self._pipe(self._process.stdout).close()

    def lifetime_s(self) -> float:
        """Play a study and return what a lifetime took."""
        stdin = self._pipe(self._process.stdin)
        stdin.write("\n")
        stdin.flush()
        return float(self._read())

    def _read(self) -> Any:
        line = self._pipe(self._process.stdout).readline()
        if not line:
            raise RuntimeError(f"a player gave up with status {self._process.wait()}")
        return json.loads(line)

    @staticmethod
    def _pipe(pipe: IO[str] | None) -> IO[str]:
        assert pipe is not None
        return pipe


def tell_studies(
    scatters: tuple[Scatter, ...], before: Path | None, repeats: int, page: Page
) -> None:
    """How long a lifetime of a study takes, building draws included, and to get ready for one.

    Parameters
    ----------
    scatters : tuple of Scatter
        Layouts. [-]
    before : Path or None
        Folder of an earlier state of the project that plays them too. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the tables and the targets. [-]
    """
    states = {"now": TOP} | ({} if before is None else {"before": before.resolve()})
    rows, ratios = [], []
    for scatter in scatters:
        with ExitStack() as stack:
            children = {
                who: stack.enter_context(Child(folder, scatter)) for who, folder in states.items()
            }
            spent_s: dict[str, list[float]] = {who: [] for who in children}
            for _ in range(repeats):
                for who, child in children.items():
                    spent_s[who].append(child.lifetime_s())
        rows.extend(_row(scatter, who, child, spent_s[who]) for who, child in children.items())
        if before is not None:
            ratios.append(_compared(scatter, children, spent_s, page))
    page.table(
        (
            "a study, buildings drawn", "state", "years", "ms a lifetime", "lifetimes a second",
            "steps a lifetime", "us a step", "s from site to first lifetimes",
        ),
        rows,
    )  # fmt: skip
    if ratios:
        page.table(
            ("times the state before", "lifetimes a second", "steps", "getting ready"), ratios
        )


def _row(scatter: Scatter, who: str, child: Child, spent_s: list[float]) -> tuple[str, ...]:
    each_s = statistics.median(spent_s)
    return (
        scatter.name, who, f"{scatter.years:g}", number(1000 * each_s), number(1 / each_s),
        f"{child.n_steps:,.0f}", number(1e6 * each_s / child.n_steps), number(child.prepared_s),
    )  # fmt: skip


def _compared(
    scatter: Scatter, children: dict[str, Child], spent_s: dict[str, list[float]], page: Page
) -> tuple[str, ...]:
    now, before = children["now"], children["before"]
    faster = median_ratio(spent_s["before"], spent_s["now"])
    aim = AIM_DENSE if "dense" in scatter.name else 1.0
    page.aim(f"{scatter.name}: lifetimes a second, times the state before", faster, aim)
    return (
        scatter.name, number(faster), number(now.n_steps / before.n_steps),
        number(now.prepared_s / before.prepared_s),
    )  # fmt: skip
