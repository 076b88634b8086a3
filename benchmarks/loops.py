"""A plain event loop, the other way to play a lifetime: only orphan time is told.

It plays all that can strike, on the same draws, and asks a ``Search`` for the routes after every
step.
"""

import heapq
from collections.abc import Callable
from time import process_time

from benchmarks.layouts import Case
from benchmarks.searches import UNREACHED, Graph, Search
from resilience.hazards.elements import DeviceFate, Element, Fate
from resilience.lifetime.mesh import Luck

STRIKES, ENDS, LOOKS_AGAIN = range(3)  # in the order in which one millisecond takes them


class Loop:
    """One lifetime, step after step, with one gateway and uncounted site outages."""

    def __init__(self, case: Case, search: Callable[[Graph], Search]) -> None:
        mesh = case.mesh
        self._case = case
        self._graph = Graph.of(mesh)
        self._new_search = search
        self._place = {device.id: row for row, device in enumerate(mesh.devices)}
        self._links = {link.id: row for row, link in enumerate(mesh.links)}
        self._sensors = {self._place[sensor] for sensor in mesh.sensors}
        self._links_at: list[list[int]] = [[] for _ in mesh.devices]
        for link, ends in enumerate(self._graph.ends):
            for end in ends:
                self._links_at[end].append(link)
        deaths = [cells.death for cells in case.hazards.cells]
        self._elements = tuple(
            sorted((*case.hazards.elements, *deaths), key=lambda element: element.name)
        )
        rows = {element.name: row for row, element in enumerate(self._elements)}
        self._cells = {self._place[cells.device]: cells for cells in case.hazards.cells}
        self._deaths = {
            self._place[cells.device]: rows[cells.death.name] for cells in case.hazards.cells
        }
        self._device_of_death = {row: device for device, row in self._deaths.items()}
        self.played_s = 0.0  # time that the last lifetime took once it was ready

    def orphan_ms(self, luck: Luck) -> dict[str, int]:
        """Play one lifetime and return the orphan time of every sensor."""
        self._begin(luck)
        started_s = process_time()
        self._run()
        self.played_s = process_time() - started_s
        end_ms = self._promise_ms(self._case.rules.horizon_ms)
        for device, since_ms in self._orphan_since.items():
            self._orphan_ms[device] += end_ms - since_ms
        devices = self._case.mesh.devices
        return {devices[row].id: self._orphan_ms[row] for row in sorted(self._sensors)}

    def _begin(self, luck: Luck) -> None:
        n = self._graph.n_devices
        self._search = self._new_search(self._graph)
        self._calendar: list[tuple[int, int, int]] = []
        self._n_away = [0] * len(self._elements)  # absences so far
        self._down = [0] * n
        self._closed = [0] * len(self._graph.ends)  # what closes each link, both ends included
        self._loads = [UNREACHED] * n
        self._visit_end_ms = [0] * n
        self._n_visits = [0] * n
        self._orphan_since: dict[int, int] = {}  # on a clock that site outages stop
        self._orphan_ms = [0] * n
        self._outage_since_ms: int | None = None
        self._back_since_ms: int | None = None
        self._is_cut_off = True  # the first step looks at everybody
        self._paused_ms = 0
        self._fates = [Fate.of(element, luck.seed, luck.lifetime) for element in self._elements]
        self._device_fates = [
            DeviceFate.of(device.id, luck.seed, luck.lifetime) for device in self._case.mesh.devices
        ]
        self._is_dead = [False] * n
        self._n_sets = [1] * n
        self._drain_na = [0] * n
        self._drain_since_ms = [0] * n
        self._left_na_ms = [0] * n
        self._wakes_ms = [0] * n  # when the death of each battery is looked at; 0 is never
        for device, cells in self._cells.items():
            self._left_na_ms[device] = self._device_fates[device].charge_na_ms(cells, 0)
        for row, element in enumerate(self._elements):
            if row not in self._device_of_death:
                self._schedule(self._fates[row].at_risk_ms(element, 0), STRIKES, row)
        self._schedule(0, LOOKS_AGAIN, 0)

    def _schedule(self, time_ms: int, what: int, row: int) -> None:
        if time_ms < self._case.rules.horizon_ms:
            heapq.heappush(self._calendar, (time_ms, what, row))

    def _run(self) -> None:
        calendar = self._calendar
        while calendar:
            now = calendar[0][0]
            due = []
            while calendar and calendar[0][0] == now:
                due.append(heapq.heappop(calendar))
            self._step(now, due)

    def _step(self, now: int, due: list[tuple[int, int, int]]) -> None:
        """Settle all that happens in one millisecond, in order of (what, element)."""
        drains: set[int] = set()  # devices whose drain has to be looked at
        renewed: set[int] = set()
        is_step = False
        for _, what, row in due:
            if what == LOOKS_AGAIN:
                is_step = True
            elif what == ENDS:
                is_step = True
                self._end(now, row, drains, renewed)
            elif self._is_due(now, row):
                is_step = True
                self._strike(now, row, drains)
        if not is_step:
            return
        self._settle_outage(now)
        self._settle_routes(now, drains)
        for device in drains | renewed:
            if device in self._cells:
                self._settle_battery(now, device, device in renewed)

    def _is_due(self, now: int, row: int) -> bool:
        """Whether a strike happens; the death of a battery may have moved away."""
        device = self._device_of_death.get(row)
        if device is None:
            return True
        if self._wakes_ms[device] != now:
            return False
        self._wakes_ms[device] = 0
        death_ms = self._death_ms(device)
        if death_ms is not None and death_ms > now:
            self._wake(device, death_ms)
            return False
        return death_ms is not None

    def _strike(self, now: int, row: int, drains: set[int]) -> None:
        element = self._elements[row]
        n = self._n_away[row]
        self._n_away[row] += 1
        self._hold(element, 1, drains)
        if row in self._device_of_death:
            self._is_dead[self._device_of_death[row]] = True
        if element.is_mended:
            end_ms = self._visit(now, self._place[element.targets[0]], element)
        else:
            end_ms = now + self._fates[row].away_ms(element, n)
        self._schedule(end_ms, ENDS, row)

    def _end(self, now: int, row: int, drains: set[int], renewed: set[int]) -> None:
        element = self._elements[row]
        self._hold(element, -1, drains)
        if element.renews:
            renewed.add(self._place[element.targets[0]])
        if row in self._device_of_death:
            self._is_dead[self._device_of_death[row]] = False
        else:
            at_risk_ms = self._fates[row].at_risk_ms(element, self._n_away[row])
            self._schedule(now + at_risk_ms, STRIKES, row)

    def _visit(self, now: int, device: int, element: Element) -> int:
        """End of the visit that mends a device: the one on its way, or a new one."""
        if self._visit_end_ms[device] <= now:
            fate = self._device_fates[device]
            lasts_ms = fate.repair_ms(element.lasts, self._n_visits[device])
            self._n_visits[device] += 1
            self._visit_end_ms[device] = now + lasts_ms
        return self._visit_end_ms[device]

    def _hold(self, element: Element, by: int, drains: set[int]) -> None:
        target = element.targets[0]
        if target in self._links:
            self._close(self._links[target], by)
            return
        device = self._place[target]
        self._down[device] += by
        if self._down[device] == max(by, 0):  # it has just gone, or just come back
            drains.add(device)
            for link in self._links_at[device]:
                self._close(link, by)

    def _close(self, link: int, by: int) -> None:
        self._closed[link] += by
        if self._closed[link] == max(by, 0):
            self._search.turn(link, by < 0)

    def _settle_outage(self, now: int) -> None:
        rules = self._case.rules
        if self._down[self._graph.gateway]:
            self._back_since_ms = None
            if self._outage_since_ms is None:
                self._outage_since_ms = now
        elif self._outage_since_ms is not None:
            if self._back_since_ms is None:
                self._back_since_ms = now
            if now < self._back_since_ms + rules.reformation_ms:
                self._schedule(self._back_since_ms + rules.reformation_ms, LOOKS_AGAIN, 0)
            else:
                self._paused_ms += now - self._outage_since_ms
                self._outage_since_ms = self._back_since_ms = None

    def _promise_ms(self, now: int) -> int:
        return (now if self._outage_since_ms is None else self._outage_since_ms) - self._paused_ms

    def _settle_routes(self, now: int, drains: set[int]) -> None:
        is_cut_off = self._outage_since_ms is not None
        if is_cut_off != self._is_cut_off:
            self._is_cut_off = is_cut_off
            drains.update(range(self._graph.n_devices))
        if is_cut_off:
            return
        for device, load in self._search.changed_loads():
            self._loads[device] = load
            drains.add(device)
        promise_ms = self._promise_ms(now)
        for device in drains & self._sensors:
            is_orphan = self._loads[device] == UNREACHED and not self._down[device]
            if is_orphan:
                self._orphan_since.setdefault(device, promise_ms)
            elif device in self._orphan_since:
                self._orphan_ms[device] += promise_ms - self._orphan_since.pop(device)

    def _settle_battery(self, now: int, device: int, is_renewed: bool) -> None:
        cells = self._cells[device]
        self._left_na_ms[device] -= self._drain_na[device] * (now - self._drain_since_ms[device])
        self._drain_since_ms[device] = now
        load = self._loads[device]
        if self._down[device]:
            self._drain_na[device] = 0
        elif load == UNREACHED or self._is_cut_off:
            self._drain_na[device] = cells.searching_na
        else:
            self._drain_na[device] = cells.leaf_na + cells.forwarding_na * load
        if is_renewed:
            fate = self._device_fates[device]
            self._left_na_ms[device] = fate.charge_na_ms(cells, self._n_sets[device])
            self._n_sets[device] += 1
        death_ms = self._death_ms(device)
        if death_ms is not None and not self._is_dead[device]:
            wakes_ms = self._wakes_ms[device]
            if not wakes_ms or death_ms < wakes_ms:
                self._wake(device, death_ms)

    def _wake(self, device: int, time_ms: int) -> None:
        self._wakes_ms[device] = time_ms
        self._schedule(time_ms, STRIKES, self._deaths[device])

    def _death_ms(self, device: int) -> int | None:
        """First millisecond at which the charge is used up; None while nothing is drained."""
        drain_na = self._drain_na[device]
        if not drain_na:
            return None
        return self._drain_since_ms[device] - (-self._left_na_ms[device] // drain_na)
