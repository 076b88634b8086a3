"""Routes found from nothing at every call, with Python's own heap and with libraries.

Routes have the least cost, and of equal ones the parent with the least id; there is no hysteresis,
so there is nothing to remember.
"""

import heapq
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

import networkx
import numpy as np
from scipy.sparse import csgraph, csr_array

from resilience.lifetime.mesh import Mesh

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
