"""The middle way: simpy keeps the time, and a small compiled function repairs the tree."""

import heapq
from collections.abc import Generator, Iterable

import numba
import numpy as np
import simpy

from benchmarks.loops import Loop
from benchmarks.searches import UNREACHED, Graph
from resilience.lifetime.mesh import Luck

AFTER_ALL_ELSE = 2  # simpy runs lower numbers first; its own are 0 and 1
FAR = 1 << 60


class SimpyLoop(Loop):
    """The same loop, with a simpy event for everything that is to come."""

    def _begin(self, luck: Luck) -> None:
        self._env = simpy.Environment()
        self._due: list[tuple[int, int, int]] = []
        super()._begin(luck)

    def _schedule(self, time_ms: int, what: int, row: int) -> None:
        if time_ms < self._case.rules.horizon_ms:
            self._env.process(self._coming(time_ms, what, row))

    def _coming(self, time_ms: int, what: int, row: int) -> Generator[simpy.Event, object, None]:
        yield self._env.timeout(time_ms - self._env.now)
        if not self._due:
            end = simpy.Event(self._env)
            end._ok, end._value = True, None
            end.callbacks.append(self._gathered)
            self._env.schedule(end, priority=AFTER_ALL_ELSE)
        self._due.append((time_ms, what, row))

    def _gathered(self, _: simpy.Event) -> None:
        """Settle what this millisecond brought, in the order of the plain loop."""
        due, self._due = sorted(self._due), []
        self._step(int(self._env.now), due)

    def _run(self) -> None:
        self._env.run(until=self._case.rules.horizon_ms)


class TreeRepair:
    """Routes kept from step to step: what lost its way is attached anew, what gains moves."""

    def __init__(self, graph: Graph) -> None:
        n, ends = graph.n_devices, graph.ends
        self._all_costs = np.array(graph.costs, np.int64)
        self._costs = np.full(len(ends), -1, np.int64)  # -1 while a link is not usable
        self._ends = np.array(ends, np.int64).reshape(-1, 2)
        ways = sorted((a, b, link) for link, ab in enumerate(ends) for a, b in (ab, (ab[1], ab[0])))
        self._adj = np.array([way[1:] for way in ways], np.int64).reshape(-1, 2)
        self._adj_start = np.searchsorted([way[0] for way in ways], np.arange(n + 1))
        self._paths = np.full(n, FAR, np.int64)
        self._paths[graph.gateway] = 0
        self._parent = np.full(n, -1, np.int64)
        self._loads = np.full(n, UNREACHED, np.int64)
        self._turned: set[int] = set()
        for link in range(len(ends)):
            self.turn(link, True)

    def turn(self, link: int, is_usable: bool) -> None:
        """Let a link become usable or unusable."""
        self._costs[link] = self._all_costs[link] if is_usable else -1
        self._turned.add(link)

    def changed_loads(self) -> Iterable[tuple[int, int]]:
        """Repair the tree and compare loads with the last time."""
        turned = np.array(sorted(self._turned), np.int64)
        self._turned.clear()
        changed = _repair(
            turned, self._costs, self._ends, self._adj_start, self._adj, self._paths,
            self._parent, self._loads,
        )  # fmt: skip
        return [(device, int(self._loads[device])) for device in changed]


@numba.njit(cache=False)
def _repair(turned, costs, ends, adj_start, adj, paths, parent, loads):
    """Repair paths and parents in place; return the devices whose load has changed."""
    n = paths.shape[0]
    state = np.zeros(n, np.int8)  # 0 not looked at, 1 intact, 2 lost
    chain = np.zeros(n, np.int64)
    for link in turned:
        a, b = ends[link]
        if costs[link] < 0:
            if parent[a] == b:
                state[a] = 2
            if parent[b] == a:
                state[b] = 2
    for device in range(n):
        here, length = device, 0
        while state[here] == 0 and parent[here] >= 0:
            chain[length] = here
            length += 1
            here = parent[here]
        found = max(state[here], 1)
        for place in range(length):
            state[chain[place]] = found
    waiting = [(0, 0, 0)]
    waiting.clear()
    for device in range(n):
        if state[device] == 2:
            paths[device], parent[device] = FAR, -1
    for device in range(n):
        if state[device] == 2:
            for k in range(adj_start[device], adj_start[device + 1]):
                other, cost = adj[k, 0], costs[adj[k, 1]]
                if cost >= 0 and paths[other] < FAR:
                    heapq.heappush(waiting, (paths[other] + cost, device, other))
    for link in turned:
        a, b = ends[link]
        if costs[link] >= 0:  # from afar it gains nothing: a sum beyond FAR is never less
            heapq.heappush(waiting, (paths[a] + costs[link], b, a))
            heapq.heappush(waiting, (paths[b] + costs[link], a, b))
    while len(waiting) > 0:
        path, device, via = heapq.heappop(waiting)
        if path >= paths[device]:
            continue
        paths[device], parent[device] = path, via
        for k in range(adj_start[device], adj_start[device + 1]):
            other, cost = adj[k, 0], costs[adj[k, 1]]
            if cost >= 0 and path + cost < paths[other]:
                heapq.heappush(waiting, (path + cost, other, device))
    return _count_loads(paths, parent, loads)


@numba.njit(cache=False)
def _count_loads(paths, parent, loads):
    """Count who is behind whom, from the leaves up."""
    n = paths.shape[0]
    n_children = np.zeros(n, np.int64)
    behind = np.zeros(n, np.int64)
    leaves = np.zeros(n, np.int64)
    for device in range(n):
        if parent[device] >= 0:
            n_children[parent[device]] += 1
    n_leaves = 0
    for device in range(n):
        if n_children[device] == 0:
            leaves[n_leaves] = device
            n_leaves += 1
    place = 0
    while place < n_leaves:
        device = leaves[place]
        place += 1
        above = parent[device]
        if above >= 0:
            behind[above] += behind[device] + 1
            n_children[above] -= 1
            if n_children[above] == 0:
                leaves[n_leaves] = above
                n_leaves += 1
    n_changed = 0
    for device in range(n):
        load = behind[device] if paths[device] < FAR else UNREACHED
        if load != loads[device]:
            loads[device] = load
            leaves[n_changed] = device
            n_changed += 1
    return leaves[:n_changed].copy()
