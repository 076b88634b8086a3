"""The compiled engine against the reference: one building, one short horizon, one law."""

import statistics
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from resilience.lifetime.fast.records import NO_LOTS, NO_STRENGTHS
from resilience.lifetime.fast.worlds import cast_of

from benchmarks.layouts import Scatter, near_links
from benchmarks.measuring import Page, interleaved, number
from resilience.draws import DEFAULT_SEED
from resilience.hazards.table import HazardTable
from resilience.lifetime.engines import COMPILED, REFERENCE, player
from resilience.lifetime.fast.play import Row, play
from resilience.lifetime.fast.sums import Sums
from resilience.lifetime.mesh import Luck, Mesh, Rules
from resilience.lifetime.playing import Stage
from resilience.lifetime.state.passing import table_of
from resilience.units import MS_PER_H

LUCK = Luck(DEFAULT_SEED, 0)


@dataclass(frozen=True)
class Case:
    """One layout in its first possible building, with all that can matter there.

    Parameters
    ----------
    name : str
        How tables call it. [-]
    mesh : Mesh
        The layout. [-]
    hazards : HazardTable
        What can strike it. [-]
    rules : Rules
        Horizon and routing. [-]
    """

    name: str
    mesh: Mesh
    hazards: HazardTable
    rules: Rules

    @classmethod
    def of(cls, scatter: Scatter, **radio: float) -> "Case":
        """Draw the building; ``radio`` replaces settings."""
        site = scatter.site()
        site = replace(site, radio=replace(site.radio, **radio))
        table = near_links(site) if scatter.is_cut else None
        stage = Stage(site, site.layouts[0], DEFAULT_SEED, count_site_outages=False, table=table)
        return cls(scatter.name, *stage.building(0), stage.rules)

    def until(self, horizon_ms: int) -> "Case":
        """Return the same case, ended earlier."""
        return replace(self, rules=replace(self.rules, horizon_ms=horizon_ms))


class Lifetime:
    """One lifetime on the compiled engine's own world, as studies play it: without a record.

    Parameters
    ----------
    case : Case
        The layout. [-]
    """

    def __init__(self, case: Case) -> None:
        self.world = cast_of(case.mesh, case.hazards, case.rules).world
        self._table = table_of(self.world)

    def __call__(self) -> None:
        """Play it."""
        row = Row(np.uint64(LUCK.seed), LUCK.lifetime, 1, NO_LOTS, NO_STRENGTHS)
        play(self._table, Sums.of(1, self.world.devices.size), row)
        assert not self.world.now["heap_is_full"][0]

    @property
    def n_steps(self) -> int:
        """Steps of the lifetime played last."""
        return int(self.world.now["step"][0])


@dataclass(frozen=True, slots=True)
class Match:
    """How one layout is played against the reference.

    Parameters
    ----------
    scatter : Scatter
        The layout. [-]
    horizon_h : int
        How much of a lifetime both play. [h]
    n_compiled : int
        How often the compiled engine plays it for each time the reference does. [-]
    aim : float
        How many times faster it has to be. [-]
    """

    scatter: Scatter
    horizon_h: int
    n_compiled: int
    aim: float


def tell_contest(matches: list[Match], repeats: int, page: Page) -> None:
    """How many times faster the compiled engine is; both must leave the same record.

    What either needs for the first millisecond, in which a lifetime is made ready and its first
    tree built, is measured by itself and left out: it would hide what a short horizon costs.

    Parameters
    ----------
    matches : list of Match
        Layouts and horizons. [-]
    repeats : int
        How often. [-]
    page : Page
        Takes the table, the targets and disagreements. [-]
    """
    rows = []
    for match in matches:
        case, first = _played(match)
        agreed = page.agree(f"{case.name}: reference", _records_agree(case, page))
        spent_s = interleaved(_tasks(match, case, first), repeats)
        fast_s, fast_first_s, slow_s, slow_first_s = (
            statistics.median(one) for one in spent_s.values()
        )
        fast_s, fast_first_s = fast_s / match.n_compiled, fast_first_s / match.n_compiled
        faster = (slow_s - slow_first_s) / (fast_s - fast_first_s)
        page.aim(f"{case.name}: times faster than the reference", faster, match.aim)
        lifetime = Lifetime(case)
        lifetime()
        rows.append(
            (
                case.name, f"{match.horizon_h:,}", f"{lifetime.n_steps:,}", number(1000 * fast_s),
                number(1000 * slow_s), number(slow_s / fast_s), number(faster), agreed,
            )
        )  # fmt: skip
    page.table(
        (
            "against the reference", "hours", "steps", "compiled, ms", "reference, ms", "times",
            "times, first ms left out", "records",
        ),
        rows,
    )  # fmt: skip


def _played(match: Match) -> tuple[Case, Case]:
    case = Case.of(match.scatter).until(match.horizon_h * MS_PER_H)
    return case, case.until(1)


def _tasks(match: Match, case: Case, first: Case) -> dict[str, Callable[[], Any]]:
    fast, fast_first = Lifetime(case), Lifetime(first)
    slow, slow_first = (
        player(REFERENCE, one.mesh, one.hazards, one.rules) for one in (case, first)
    )
    return {
        "compiled": lambda: [fast() for _ in range(match.n_compiled)],
        "compiled, first ms": lambda: [fast_first() for _ in range(match.n_compiled)],
        "reference": lambda: slow.record(LUCK),
        "reference, first ms": lambda: slow_first.record(LUCK),
    }


def _records_agree(case: Case, page: Page) -> bool:
    fast, slow = (
        player(engine, case.mesh, case.hazards, case.rules).record(LUCK)
        for engine in (COMPILED, REFERENCE)
    )
    if not any(fast.orphan_ms.values()):
        page.uneventful.append(case.name)
    return fast == slow
