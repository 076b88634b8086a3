"""The compiled engine against the reference: one building, one lifetime, one law."""

import statistics
from dataclasses import dataclass, replace
from time import process_time

import numpy as np

from benchmarks.layouts import Scatter, near_links
from benchmarks.measuring import Page, interleaved, number
from resilience.draws import DEFAULT_SEED
from resilience.hazards.table import HazardTable
from resilience.lifetime.casting.records import NO_LOTS, NO_STRENGTHS
from resilience.lifetime.casting.worlds import cast_of
from resilience.lifetime.engines import COMPILED, REFERENCE, player
from resilience.lifetime.fast.play import Row, play
from resilience.lifetime.fast.sums import Sums
from resilience.lifetime.mesh import Luck, Mesh, Rules
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import Record
from resilience.lifetime.state.compiled import table_of
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
        play(self._table, Sums.of(1, self.world.devices.size, self.world.cells.size), row)
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
    reference_h, compiled_h : int
        How much of the same lifetime each plays. [h]
    aim : float or None
        How many times faster the compiled engine has to be; None where nothing is aimed at. [-]
    """

    scatter: Scatter
    reference_h: int
    compiled_h: int
    aim: float | None = None


def tell_contest(matches: list[Match], repeats: int, page: Page) -> None:
    """How many times faster the compiled engine plays an hour; records must be equal.

    What either needs for the first millisecond, in which a lifetime is made ready and its first
    tree built, is measured by itself and left out: it would hide what an hour costs. The reference
    is played once.

    Parameters
    ----------
    matches : list of Match
        Layouts and horizons. [-]
    repeats : int
        How often the compiled engine plays. [-]
    page : Page
        Takes the table, the targets and disagreements. [-]
    """
    page.table(
        (
            "against the reference", "hours", "steps", "reference, s", "us an hour",
            "compiled, hours", "us an hour", "times faster", "records",
        ),
        [_row(match, repeats, page) for match in matches],
    )  # fmt: skip


def _row(match: Match, repeats: int, page: Page) -> tuple[str, ...]:
    whole = Case.of(match.scatter)
    near, far, first = (
        whole.until(horizon_ms)
        for horizon_ms in (match.reference_h * MS_PER_H, match.compiled_h * MS_PER_H, 1)
    )
    record, slow_s = _reference(near)
    _, slow_first_s = _reference(first)
    told = player(COMPILED, near.mesh, near.hazards, near.rules).record(LUCK)
    agreed = page.agree(f"{whole.name}: reference", told == record)
    if not any(record.orphan_ms.values()):
        page.uneventful.append(whole.name)
    short = Lifetime(near)
    short()
    spent_s = interleaved({"far": Lifetime(far), "first": Lifetime(first)}, repeats)
    fast_s, fast_first_s = (statistics.median(one) for one in spent_s.values())
    slow_us = 1e6 * (slow_s - slow_first_s) / match.reference_h
    fast_us = 1e6 * (fast_s - fast_first_s) / match.compiled_h
    if match.aim is not None:
        page.aim(f"{whole.name}: times faster than the reference", slow_us / fast_us, match.aim)
    return (
        whole.name, f"{match.reference_h:,}", f"{short.n_steps:,}", number(slow_s), number(slow_us),
        f"{match.compiled_h:,}", number(fast_us), number(slow_us / fast_us), agreed,
    )  # fmt: skip


def _reference(case: Case) -> tuple[Record, float]:
    """Record of the reference, and the seconds that it took."""
    played = player(REFERENCE, case.mesh, case.hazards, case.rules)
    started_s = process_time()
    record = played.record(LUCK)
    return record, process_time() - started_s
