"""The floor: what no engine on these draws can do without.

It draws every fate, keeps the calendar, and passes once over the row of links of each device that
a step gives another parent or path cost; which devices these are is read from a history beforehand,
and so are the deaths of batteries. No tree, no accounts.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.layouts import Case
from benchmarks.searches import Graph
from resilience.draws import element_key
from resilience.lifetime.mesh import Luck
from resilience.lifetime.record import History
from resilience.lifetime.state.compiled import (
    at_risk_ms,
    away_ms,
    jit,
    jit_entry,
    quantile,
    stream,
    uniform,
    whole_ms,
)
from resilience.lifetime.state.queues import SLOT_BITS, SLOT_MASK, schedule

Ints = NDArray[np.int64]
NEVER_MS = 1 << 61
LABEL_MASK = (1 << 30) - 1


@dataclass
class Floor:
    """One lifetime of one case, ready to be paced.

    Parameters
    ----------
    case : Case
        The layout. [-]
    luck : Luck
        Which lifetime. [-]
    history : History
        What happens in it. [-]
    """

    case: Case
    luck: Luck
    history: History

    def __post_init__(self) -> None:
        graph = Graph.of(self.case.mesh)
        place = {device.id: row for row, device in enumerate(self.case.mesh.devices)}
        deaths = [cells.death for cells in self.case.hazards.cells]
        elements = sorted((*self.case.hazards.elements, *deaths), key=lambda one: one.name)
        self.keys = np.array([element_key(*one.luck) for one in elements], np.uint64)
        self.repairs = np.array([element_key("device", id, "repair") for id in place], np.uint64)
        self.laws = np.array(
            [
                (*one.strikes.numbers, *one.lasts.numbers, one.weak_share, one.weak_ms)
                for one in elements
            ]
        )
        self.device = np.array(
            [place[one.id] if one.is_mended else -1 for one in elements], np.int64
        )
        self._read_deaths(elements)
        self._read_steps(place)
        ways = sorted(
            (a, b, link) for link, ab in enumerate(graph.ends) for a, b in (ab, (ab[1], ab[0]))
        )
        self.adj = np.array([way[1:] for way in ways], np.int64).reshape(-1, 2)
        self.adj_start = np.searchsorted([way[0] for way in ways], np.arange(len(place) + 1))
        self.costs = np.array(graph.costs, np.int64)
        self.labels = np.zeros(len(place), np.int64)
        self.calendar = np.zeros(2 << len(elements).bit_length(), np.int64)
        self.starts = np.zeros(len(elements), np.uint64)
        self.repair_starts = np.zeros(len(place), np.uint64)
        self.n_away = np.zeros(len(elements), np.int64)
        self.is_away = np.zeros(len(elements), np.bool_)
        self.visit_end = np.zeros(len(place), np.int64)
        self.n_visits = np.zeros(len(place), np.int64)

    def _read_deaths(self, elements: list) -> None:
        """Absences by battery, the only ones that depend on routes, are taken as they were."""
        deaths: list[list[tuple[int, int]]] = [[] for _ in elements]
        row = {one.name: k for k, one in enumerate(elements)}
        for absence in self.history.absences:
            if absence.element.cause == "battery":
                end_ms = NEVER_MS if absence.end_ms is None else absence.end_ms
                deaths[row[absence.element.name]].append((absence.start_ms, end_ms))
        self.death_start = np.cumsum([0, *map(len, deaths)])
        self.deaths = np.array([one for many in deaths for one in many], np.int64).reshape(-1, 2)
        self.is_death = np.array([one.cause == "battery" for one in elements])

    def _read_steps(self, place: dict[str, int]) -> None:
        """For each step the devices that it gives another label: who moves, and all behind."""
        times = {absence.start_ms for absence in self.history.absences}
        times.update(one.end_ms for one in self.history.absences if one.end_ms is not None)
        self.times = np.array(sorted(times), np.int64)
        self.n_events = sum(1 + (one.end_ms is not None) for one in self.history.absences)
        changes: dict[int, list[tuple[int, int]]] = {}
        for one in self.history.parents:
            step = int(np.searchsorted(self.times, one.time_ms))  # re-formation: the step after
            new = -1 if one.new is None else place[one.new]
            changes.setdefault(step, []).append((place[one.device], new))
        parent = {
            place[id]: -1 if up is None else place[up]
            for id, up in self.history.first_parents.items()
        }
        children: dict[int, set[int]] = {}
        for device, up in parent.items():
            children.setdefault(up, set()).add(device)
        rows, n_rows = [], [0] * (len(times) + 1)
        for step, moves in changes.items():
            for device, up in moves:
                children[parent[device]].discard(device)
                children.setdefault(up, set()).add(device)
                parent[device] = up
            to_do, found = [device for device, _ in moves], set()
            while to_do:
                device = to_do.pop()
                if device not in found:
                    found.add(device)
                    to_do.extend(children.get(device, ()))
            rows.extend(found)
            n_rows[step] = len(found)
        self.rows = np.array(rows, np.int64)
        self.row_start = np.cumsum([0, *n_rows])

    def pace(self) -> int:
        """Play the lifetime as far as the floor goes and return its number of steps."""
        return pace(
            np.uint64(self.luck.seed), self.luck.lifetime, self.case.rules.horizon_ms,
            self.keys, self.repairs, self.laws, self.device, self.is_death, self.death_start,
            self.deaths, self.row_start, self.rows, self.adj_start, self.adj, self.costs,
            self.labels, self.calendar, self.starts, self.repair_starts, self.n_away,
            self.is_away, self.visit_end, self.n_visits,
        )  # fmt: skip


@jit_entry
def pace(
    seed, lifetime, horizon, keys, repairs, laws, device, is_death, death_start, deaths,
    row_start, rows, adj_start, adj, costs, labels, calendar, starts, repair_starts, n_away,
    is_away, visit_end, n_visits,
):  # fmt: skip
    """Draws, calendar and row passes of one lifetime; returns the number of steps."""
    calendar[:] = NEVER_MS
    for row in range(repairs.shape[0]):
        repair_starts[row] = stream(seed, lifetime, repairs[row])
        n_visits[row] = visit_end[row] = 0
    for row in range(keys.shape[0]):
        starts[row] = stream(seed, lifetime, keys[row])
        n_away[row], is_away[row] = 0, False
        _schedule_strike(
            0, row, horizon, starts, n_away, laws, is_death, death_start, deaths, calendar
        )
    step = 0
    while calendar[1] < NEVER_MS:
        now = calendar[1] >> SLOT_BITS
        while calendar[1] >> SLOT_BITS == now:
            row = calendar[1] & SLOT_MASK
            n = n_away[row]
            is_away[row] = not is_away[row]
            if not is_away[row]:
                n_away[row] += 1
                _schedule_strike(
                    now, row, horizon, starts, n_away, laws, is_death, death_start, deaths, calendar
                )
                continue
            here = device[row]
            if here < 0:
                law = (int(laws[row, 3]), laws[row, 4], laws[row, 5])
                end_ms = now + away_ms(starts[row], n, law)
            else:
                if visit_end[here] <= now:
                    if is_death[row]:
                        visit_end[here] = deaths[death_start[row] + n, 1]
                    else:
                        u = uniform(repair_starts[here], n_visits[here])
                        lasts_ms = quantile(int(laws[row, 3]), laws[row, 4], laws[row, 5], u)
                        visit_end[here] = now + whole_ms(lasts_ms)
                    n_visits[here] += 1
                end_ms = visit_end[here]
            schedule(calendar, row, end_ms, horizon)
        for place in range(row_start[step], row_start[step + 1]):
            best = NEVER_MS
            for k in range(adj_start[rows[place]], adj_start[rows[place] + 1]):
                best = min(best, labels[adj[k, 0]] + costs[adj[k, 1]])
            labels[rows[place]] = best & LABEL_MASK
        step += 1
    return step


@jit
def _schedule_strike(
    now, row, horizon, starts, n_away, laws, is_death, death_start, deaths, calendar
):
    n = n_away[row]
    if is_death[row]:
        place = death_start[row] + n
        strike_ms = deaths[place, 0] if place < death_start[row + 1] else NEVER_MS
    else:
        law = (int(laws[row, 0]), laws[row, 1], laws[row, 2])
        strike_ms = now + at_risk_ms(starts[row], n, law, laws[row, 6], laws[row, 7])
    schedule(calendar, row, strike_ms, horizon)
