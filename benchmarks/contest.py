"""The contest: who plays the same histories how fast."""

import statistics
from dataclasses import dataclass

from resilience.lifetime.fast.arrays import arrays_of, play

from benchmarks.floor import Floor
from benchmarks.layouts import Case, told_apart
from benchmarks.loops import Loop
from benchmarks.measuring import Page, Seconds, interleaved, median_ratio
from benchmarks.repair import SimpyLoop, TreeRepair
from benchmarks.searches import searches
from resilience.draws import DEFAULT_SEED
from resilience.lifetime.engines import COMPILED, REFERENCE, CompiledPlayer, player
from resilience.lifetime.mesh import Luck
from resilience.lifetime.pruning import pruned
from resilience.lifetime.record import History, Record
from resilience.units import h_from_ms

LUCK = Luck(DEFAULT_SEED, 0)


@dataclass(frozen=True)
class Plan:
    """How far each contender plays, in events of a lifetime.

    Parameters
    ----------
    n_fast, n_slow : int
        The compiled ones and the floor; the others. [-]
    repeats : int
        How often each plays. [-]
    """

    n_fast: int
    n_slow: int
    repeats: int


@dataclass(frozen=True)
class Outcome:
    """What one layout came to: microseconds per event, and ratios of the compiled engine.

    Parameters
    ----------
    n_events : int
        Strikes and ends that the compiled engine played. [-]
    common_orphan_h : float
        Orphan hours in what all played. [h]
    us : dict of str to float
        Medians, by contender. [us]
    against : dict of str to float
        How many times longer each contender takes than the compiled engine. [-]
    """

    n_events: int
    common_orphan_h: float
    us: dict[str, float]
    against: dict[str, float]

    @property
    def best_loop(self) -> str:
        """The fastest of those that start from nothing at every step."""
        return min((one for one in self.us if one.startswith("loop")), key=self.us.__getitem__)


def n_events(history: History) -> int:
    """Strikes and ends of a lifetime.

    Parameters
    ----------
    history : History
        What happened. [-]
    """
    return sum(1 + (absence.end_ms is not None) for absence in history.absences)


def prepared(case: Case) -> Case:
    """Return a case without the elements that cannot matter, as studies play it.

    Parameters
    ----------
    case : Case
        The layout. [-]
    """
    return case.struck_by(pruned(case.mesh, case.hazards))


def compiled_player(case: Case) -> CompiledPlayer:
    """Compiled engine for a case; raises where the case does not fit.

    Parameters
    ----------
    case : Case
        The layout. [-]
    """
    made = player(COMPILED, case.mesh, case.hazards, case.rules)
    assert isinstance(made, CompiledPlayer)
    return made


def against_reference(case: Case, plan: Plan, page: Page) -> Outcome:
    """Compiled engine against the reference, under the product's rule; records must be equal.

    Parameters
    ----------
    case : Case
        The layout with all that can strike it. [-]
    plan : Plan
        How far each plays. [-]
    page : Page
        Takes disagreements. [-]
    """
    case = prepared(case)
    far, near, still = (case.until(n) for n in (plan.n_fast, plan.n_slow, 0))
    fast, short = compiled_player(far), compiled_player(near)
    slow, idle = (player(REFERENCE, one.mesh, one.hazards, one.rules) for one in (near, still))
    arrays = arrays_of(far.mesh, far.hazards, far.rules)
    n_far = n_events(fast.lifetime(LUCK).history)
    n_near = n_events(short.lifetime(LUCK).history)
    record = short.record(LUCK)
    page.agree(f"{case.name}: reference", slow.record(LUCK) == record)
    seconds = interleaved(
        {
            "compiled": lambda: play(arrays, LUCK),
            "compiled, with a record": lambda: fast.record(LUCK),
            "idle": lambda: idle.record(LUCK),
            "reference": lambda: slow.record(LUCK),
        },
        plan.repeats,
    )
    # The reference plays a short part only: what it needs to get ready is left out.
    ready_s = seconds.pop("idle")
    seconds["reference"] = [
        all_s - one_s for all_s, one_s in zip(seconds["reference"], ready_s, strict=True)
    ]
    return _outcome(seconds, {"reference": n_near}, n_far, record)


def against_the_rest(case: Case, plan: Plan, page: Page) -> Outcome:
    """Compiled engine against loops and the floor, on a twin of the case without equal routes.

    Parameters
    ----------
    case : Case
        The layout with all that can strike it. [-]
    plan : Plan
        How far each plays. [-]
    page : Page
        Takes disagreements. [-]
    """
    twin = told_apart(case)
    far, near = twin.until(plan.n_fast), twin.until(plan.n_slow)
    history = compiled_player(far).lifetime(LUCK).history
    short = compiled_player(near)
    record = short.record(LUCK)
    floor, arrays = Floor(far, LUCK, history), arrays_of(far.mesh, far.hazards, far.rules)
    page.agree(f"{case.name}: floor", floor.pace() == len(floor.times))
    loops = {name: Loop(near, search) for name, search in searches()[0].items()}
    loops["simpy + compiled repair"] = SimpyLoop(near, TreeRepair)

    def played_s(name: str) -> float:
        is_same = loops[name].orphan_ms(LUCK) == record.orphan_ms
        page.agree(f"{case.name}: {name}", is_same)
        return loops[name].played_s

    seconds = interleaved(
        {
            "compiled": lambda: play(arrays, LUCK),
            "floor": floor.pace,
            **{name: (lambda name=name: played_s(name)) for name in loops},
        },
        plan.repeats,
    )
    n_near = n_events(short.lifetime(LUCK).history)
    return _outcome(seconds, dict.fromkeys(loops, n_near), n_events(history), record)


def _outcome(seconds: Seconds, n_of: dict[str, int], n_far: int, record: Record) -> Outcome:
    each_us = {
        name: [1e6 * one_s / n_of.get(name, n_far) for one_s in many_s]
        for name, many_s in seconds.items()
    }
    return Outcome(
        n_far,
        orphan_h(record),
        {name: statistics.median(many) for name, many in each_us.items()},
        {name: median_ratio(many, each_us["compiled"]) for name, many in each_us.items()},
    )


def orphan_h(record: Record) -> float:
    """Orphan hours of all sensors together.

    Parameters
    ----------
    record : Record
        Of one lifetime. [-]
    """
    return h_from_ms(sum(record.orphan_ms.values()))
