"""How a door or an obstacle changes: as its row, its kind or the catalogue says."""

import math
from dataclasses import replace

from resilience.assumptions.changes import HABITS
from resilience.building.parts import CHANGES, Holds
from resilience.building.sections.plan import Habits, Plan
from resilience.building.settings import Duration
from resilience.building.stated.sections import (
    Given,
    assumed_of,
    filled,
    given_values,
    values_in,
)
from resilience.building.structure import Change
from resilience.building.text.documents import Mapping, mapping
from resilience.building.text.entries import Findings, TableRow
from resilience.building.timetable import TIMES

NUMBER_KEYS = tuple(key.name for key in CHANGES if key.holds is Holds.HABIT)
RANDOM_KEYS = tuple(key for key in NUMBER_KEYS if key not in ("adds_db", *TIMES))
DURATION_KEYS = tuple(key for key in RANDOM_KEYS if key != "per_year")
Z90 = 1.2815515655446004  # 90 % point of the standard normal law


def habits_of(found: Mapping | None, findings: Findings) -> Habits:
    """Return what section ``changes`` states, of each kind and of all doors.

    Parameters
    ----------
    found : Mapping or None
        The section. [-]
    findings : Findings
        Where faults go. [-]
    """
    entries = found.entries if found else {}
    whole = given_values("changes", found, findings, tuple(HABITS))
    kinds = {
        kind: given_values(f"changes.{kind}", mapping(entries.get(kind), findings), findings)
        for kind in HABITS
    }
    return Habits(kinds, bool(whole.get("all_doors", False)))


def is_swung(row: TableRow, leaf: str, plan: Plan) -> bool:
    """Whether a door changes because all doors do, and so stands open as drawn.

    Parameters
    ----------
    row : TableRow
        The door. [-]
    leaf : str
        Kind of its leaf; empty where nothing known moves in it. [-]
    plan : Plan
        What was read so far. [-]
    """
    is_silent = not any(row.has(key) for key in ("changes", *NUMBER_KEYS))
    if not (plan.habits.all_doors and is_silent):
        return False
    plan.n_swung += bool(leaf)
    plan.n_leafless += not leaf
    return bool(leaf)


def door_change(row: TableRow, kind: str, plan: Plan, swung: bool = False) -> Change | None:
    """Return how a door changes, with a rate of 0 if never; None where nobody says that it does.

    Parameters
    ----------
    row : TableRow
        The door. [-]
    kind : str
        What moves in it, for what the row does not say. [-]
    plan : Plan
        What was read so far. [-]
    swung : bool
        Whether it does because all doors do. [-]
    """
    stated = [key for key in NUMBER_KEYS if row.has(key)]
    if not row.switch("changes", swung or bool(stated)):
        if stated:
            row.fault("changes", f"expected on, or no {stated[0]} beside it")
        return None
    return _change(row, kind, plan)


def obstacle_change(row: TableRow, kind: str, plan: Plan) -> Change:
    """Return how an obstacle changes; with a rate of 0 it stands as drawn for good.

    Parameters
    ----------
    row : TableRow
        The obstacle. [-]
    kind : str
        What it is, for what the row does not say. [-]
    plan : Plan
        What was read so far. [-]
    """
    if not row.switch("changes", True):
        row.fault("changes", "expected on, or a pillar: that is what never changes")
    return _change(row, kind, plan)


def _change(row: TableRow, kind: str, plan: Plan) -> Change:
    path = f"changes.{kind}"
    own, usual = values_in(row, path), plan.habits.kinds.get(kind, {})
    if any(row.has(key) for key in DURATION_KEYS):  # a duration is stated as a whole or not at all
        usual = {key: value for key, value in usual.items() if key not in DURATION_KEYS}
    given = usual | own
    change = filled(Change, path, given)
    told = own.keys() | (usual.keys() - assumed_of(path, plan.findings).keys())
    if not change.when.is_always and told.isdisjoint(RANDOM_KEYS):
        change = _by_timetable(change)
    if change.per_year > 0:
        if " " in row.entries["id"].text:
            row.fault("id", "expected an id without blanks, as links.csv lists it in column state")
        _check_rest(row, change, plan)
        plan.n_movers += 1
        is_told = "per_year" in given and _has_duration(given)
        plan.n_assumed += not ("adds_db" in given and (is_told or change.is_fixed))
    return change


def _by_timetable(change: Change) -> Change:
    """Return a change that stands in its hours and at no other time."""
    mean = Duration("fixed", mean_h=change.when.mean_h)
    return replace(change, per_year=change.when.per_year, lasts=mean, is_fixed=True)


def _has_duration(given: Given) -> bool:
    return "mean_h" in given or "median_h" in given


def _check_rest(row: TableRow, change: Change, plan: Plan) -> None:
    if mean_h(change.lasts) >= plan.rejoin_h:
        return
    key = next((key for key in ("mean_h", "median_h", *TIMES) if row.has(key)), "changes")
    row.fault(
        key,
        f"expected {plan.rejoin_h:g} h or more on average, as long as a sensor takes to find "
        "another parent (routing.rejoin_long_h); state how long it rests while changed, or leave "
        "it out: what moves faster is part of the fading",
    )


def mean_h(duration: Duration) -> float:
    """Mean of a duration; that of a lognormal is median exp(s^2 / 2), s its spread in logarithms.

    Parameters
    ----------
    duration : Duration
        As stated. [-]
    """
    if duration.mean_h is not None:
        return duration.mean_h
    assert duration.median_h is not None
    assert duration.p90_h is not None
    spread = math.log(duration.p90_h / duration.median_h) / Z90
    # Beyond 600 the exponential overflows: such a duration is longer than anything it is held to.
    return duration.median_h * math.exp(min(spread**2 / 2, 600.0))
