"""Plain event loops, the other ways to play a lifetime: only orphan time is told.

One loop plays all that can strike and asks a ``Search`` for the routes after every step. The
searches of this module start from nothing each time. Routes have the least cost, and of equal ones
the parent with the least id; there is no hysteresis, so there is nothing to remember.
"""

import heapq
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from time import perf_counter
from typing import Protocol

import networkx
import numpy as np
from scipy.sparse import csgraph, csr_array

from benchmarks.layouts import Case
from resilience.hazards.elements import DeviceFate, Element, Fate
from resilience.lifetime.mesh import Luck, Mesh

UNREACHED = -1  # load of a device without a route


@dataclass(frozen=True, slots=True)
class Graph:
    """A mesh by position in its lists; ids are in order, so the least position is the least id.

    Parameters
    ----------
    n_devices : int
        How many. [-]
    gateway : int
        The only gateway. [-]
    ends : tuple of (int, int)
        Both ends of each link. [-]
    costs : tuple of int
        Cost of each link. [-]
    """

    n_devices: int
    gateway: int
    ends: tuple[tuple[int, int], ...]
    costs: tuple[int, ...]

    @classmethod
    def of(cls, mesh: Mesh) -> "Graph":
        """Return the graph of a mesh with one gateway, in which everybody forwards."""
        place = {device.id: position for position, device in enumerate(mesh.devices)}
        assert len(mesh.gateways) == 1
        assert len(mesh.relays) == len(place)
        costs = tuple(link.path.cost(0) for link in mesh.links)
        assert None not in costs
        return cls(
            len(place),
            place[mesh.gateways[0]],
            tuple((place[link.a], place[link.b]) for link in mesh.links),
            costs,
        )


class Search(Protocol):
    """Finds routes on the links that are usable now; everything is usable at first."""

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        ...

    def changed_loads(self) -> Iterable[tuple[int, int]]:
        """Devices whose load is another than at the last call, with that load.

        The load is the number of devices behind a device, ``UNREACHED`` where it has no route.
        """
        ...


class FromScratch:
    """What the searches that start from nothing have in common."""

    def __init__(self, graph: Graph) -> None:
        self._graph = graph
        self._loads = [UNREACHED] * graph.n_devices

    def routes(self) -> tuple[list[int], list[int]]:
        """Return the devices with a route, nearest first, and the parent of every device."""
        raise NotImplementedError

    def changed_loads(self) -> Iterable[tuple[int, int]]:
        """Count who is behind whom, and compare with the last time."""
        order, parent = self.routes()
        loads = [UNREACHED] * self._graph.n_devices
        for device in order:
            loads[device] = 0
        for device in reversed(order[1:]):
            loads[parent[device]] += loads[device] + 1
        before, self._loads = self._loads, loads
        if loads == before:
            return ()
        return [
            (device, new)
            for device, (old, new) in enumerate(zip(before, loads, strict=True))
            if old != new
        ]


class HeapSearch(FromScratch):
    """Dijkstra's algorithm on a binary heap of Python's own library."""

    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        self._costs_to: list[dict[int, int]] = [{} for _ in range(graph.n_devices)]
        for link in range(len(graph.ends)):
            self.turn(link, True)

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        a, b = self._graph.ends[link]
        if is_usable:
            self._costs_to[a][b] = self._costs_to[b][a] = self._graph.costs[link]
        else:
            del self._costs_to[a][b], self._costs_to[b][a]

    def routes(self) -> tuple[list[int], list[int]]:
        """Return the devices with a route, nearest first, and the parent of every device."""
        n_devices, gateway = self._graph.n_devices, self._graph.gateway
        least: list[float] = [math.inf] * n_devices
        is_settled = [False] * n_devices
        parent = [-1] * n_devices
        order = []
        waiting = [(0, gateway, -1)]
        while waiting:
            cost, here, via = heapq.heappop(waiting)
            if is_settled[here]:
                continue
            is_settled[here] = True
            parent[here] = via
            order.append(here)
            for other, link_cost in self._costs_to[here].items():
                if not is_settled[other] and cost + link_cost <= least[other]:
                    least[other] = cost + link_cost
                    heapq.heappush(waiting, (cost + link_cost, other, here))
        return order, parent


class NetworkxSearch(FromScratch):
    """networkx, which gives all predecessors on shortest paths."""

    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        self._net = networkx.Graph()
        self._net.add_nodes_from(range(graph.n_devices))
        for link in range(len(graph.ends)):
            self.turn(link, True)

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        if is_usable:
            self._net.add_edge(*self._graph.ends[link], weight=self._graph.costs[link])
        else:
            self._net.remove_edge(*self._graph.ends[link])

    def routes(self) -> tuple[list[int], list[int]]:
        """Return the devices with a route, nearest first, and the parent of every device."""
        before, costs = networkx.dijkstra_predecessor_and_distance(self._net, self._graph.gateway)
        parent = [-1] * self._graph.n_devices
        order = list(costs)
        for device in order[1:]:
            parent[device] = min(before[device])
        return order, parent


class ArraySearch(FromScratch):
    """What the searches of compiled libraries have in common: they tell costs, as an array."""

    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        directed = sorted(
            (b, a, link) for link, (one, two) in enumerate(graph.ends) for a, b in _ways(one, two)
        )
        self._to, self._from, self._link = np.array(directed, np.int64).reshape(-1, 3).T
        self._costs = np.array(graph.costs, np.float64)

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        self._costs[link] = self._graph.costs[link] if is_usable else math.inf

    def path_costs(self) -> np.ndarray:
        """Return the path cost of every device, infinite where it has no route."""
        raise NotImplementedError

    def routes(self) -> tuple[list[int], list[int]]:
        """Return the devices with a route, nearest first, and the parent of every device."""
        costs = self.path_costs()
        through = costs[self._from] + self._costs[self._link]
        is_best = (through == costs[self._to]) & (through < math.inf)
        parent = np.full(self._graph.n_devices, -1)
        # Ways are in order of (to, from) and the last of equal places is kept: the least id.
        parent[self._to[is_best][::-1]] = self._from[is_best][::-1]
        n_reached = int(np.count_nonzero(costs < math.inf))
        return np.argsort(costs, kind="stable")[:n_reached].tolist(), parent.tolist()


def _ways(a: int, b: int) -> tuple[tuple[int, int], tuple[int, int]]:
    return ((a, b), (b, a))


class ScipySearch(ArraySearch):
    """scipy.sparse.csgraph."""

    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        n = graph.n_devices
        self._matrix = csr_array((self._costs[self._link], (self._to, self._from)), shape=(n, n))
        places: list[list[int]] = [[] for _ in graph.ends]
        for place, link in enumerate(self._link.tolist()):  # by (to, from), as rows are stored
            places[link].append(place)
        self._places = places

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        super().turn(link, is_usable)
        self._matrix.data[self._places[link]] = self._costs[link]

    def path_costs(self) -> np.ndarray:
        """Return the path cost of every device, infinite where it has no route."""
        return csgraph.dijkstra(self._matrix, indices=self._graph.gateway)


class IgraphSearch(ArraySearch):
    """igraph."""

    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        import igraph

        self._net = igraph.Graph(graph.n_devices, graph.ends)
        self._weights = list(map(float, graph.costs))

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        super().turn(link, is_usable)
        self._weights[link] = float(self._costs[link])

    def path_costs(self) -> np.ndarray:
        """Return the path cost of every device, infinite where it has no route."""
        return np.array(self._net.distances(self._graph.gateway, weights=self._weights)[0])


class RustworkxSearch(ArraySearch):
    """rustworkx."""

    def __init__(self, graph: Graph) -> None:
        super().__init__(graph)
        import rustworkx

        self._lengths = rustworkx.dijkstra_shortest_path_lengths
        self._net = rustworkx.PyGraph(multigraph=False)
        self._net.add_nodes_from(range(graph.n_devices))
        for link in range(len(graph.ends)):
            self.turn(link, True)

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        super().turn(link, is_usable)
        if is_usable:
            self._net.add_edge(*self._graph.ends[link], float(self._costs[link]))
        else:
            self._net.remove_edge(*self._graph.ends[link])

    def path_costs(self) -> np.ndarray:
        """Return the path cost of every device, infinite where it has no route."""
        lengths = self._lengths(self._net, self._graph.gateway, float)
        costs = np.full(self._graph.n_devices, math.inf)
        costs[self._graph.gateway] = 0.0
        for device, cost in lengths.items():
            costs[device] = cost
        return costs


def searches() -> tuple[dict[str, Callable[[Graph], Search]], list[str]]:
    """Return the searches that can run here by name, and the names of those that cannot."""
    found: dict[str, Callable[[Graph], Search]] = {
        "loop + networkx": NetworkxSearch,
        "loop + heapq": HeapSearch,
        "loop + scipy": ScipySearch,
    }
    missing = []
    for library, search in (("igraph", IgraphSearch), ("rustworkx", RustworkxSearch)):
        try:
            __import__(library)
        except ImportError:
            missing.append(library)
        else:
            found[f"loop + {library}"] = search
    return found, missing


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
        self.search_s = 0.0  # time spent in the search by the last lifetime

    def orphan_ms(self, luck: Luck) -> dict[str, int]:
        """Play one lifetime and return the orphan time of every sensor."""
        self._begin(luck)
        self._run()
        end_ms = self._promise_ms(self._case.rules.horizon_ms)
        for device, since_ms in self._orphan_since.items():
            self._orphan_ms[device] += end_ms - since_ms
        devices = self._case.mesh.devices
        return {devices[row].id: self._orphan_ms[row] for row in sorted(self._sensors)}

    def _begin(self, luck: Luck) -> None:
        n = self._graph.n_devices
        self._search = self._new_search(self._graph)
        self.search_s = 0.0
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
        started_s = perf_counter()
        changed = list(self._search.changed_loads())
        self.search_s += perf_counter() - started_s
        for device, load in changed:
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
