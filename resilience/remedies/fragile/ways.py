"""Which devices and links all ways of a sensor lead through, by the theory of dominators.

A device that every path from the gateways to a sensor passes is a dominator of that sensor in the
graph of who can pass readings on to whom; networkx finds them all at once.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from typing import TYPE_CHECKING

import numpy as np

from resilience.building.site import Kind
from resilience.connectivity.luck.routes import Flags, forwards, of_kind
from resilience.connectivity.table import LinkTable

if TYPE_CHECKING:
    import networkx

START = -1  # stands before all gateways


class Ways:
    """Who can pass readings on to whom, as a directed graph from the gateways outwards.

    Parameters
    ----------
    table : LinkTable
        Devices, and ends of the links. [-]
    usable : Flags
        Which links are usable, shape (links,). [-]
    """

    def __init__(self, table: LinkTable, usable: Flags) -> None:
        import networkx

        self._is_sensor = of_kind(table, Kind.SENSOR)
        self._links: dict[tuple[int, int], int] = {}
        self.gateways = frozenset(np.flatnonzero(of_kind(table, Kind.GATEWAY)).tolist())
        self.graph = networkx.DiGraph()
        self.graph.add_edges_from((START, gateway) for gateway in self.gateways)
        passes = forwards(table)
        for row in np.flatnonzero(usable).tolist():
            a, b = table.ends[row].tolist()
            for here, there in ((a, b), (b, a)):
                if passes[here] and there not in self.gateways:
                    self.graph.add_edge(here, there)
                    self._links[here, there] = row

    def sensors_behind(self, without: int | None = None) -> "Behind":
        """Return what stands between the gateways and each sensor.

        Parameters
        ----------
        without : int or None
            Row of a device that is left out. [-]
        """
        import networkx

        graph = self.graph
        if without is not None:
            graph = networkx.restricted_view(graph, [without], [])
        # MODELS.md, "dominators".
        above: dict[int, int] = networkx.immediate_dominators(graph, START)
        above.pop(START, None)  # releases of networkx differ in whether it is there
        return Behind(graph, above, self._is_sensor, self._links)


class Behind:
    """Dominators of everything that the gateways reach.

    Parameters
    ----------
    graph : networkx.DiGraph
        Who can pass readings on to whom. [-]
    above : mapping of int to int
        The last device that all ways to a device lead through, by row. [-]
    is_sensor : Flags
        Shape (devices,). [-]
    links : mapping of (int, int) to int
        Row of the link from one device to another. [-]
    """

    def __init__(
        self,
        graph: "networkx.DiGraph",
        above: Mapping[int, int],
        is_sensor: Flags,
        links: Mapping[tuple[int, int], int],
    ) -> None:
        self._graph, self._above, self._links = graph, above, links
        self._is_sensor = is_sensor
        self.reached = frozenset(row for row in above if is_sensor[row])

    def _all_above(self, row: int) -> Iterator[int]:
        """Yield everything that all ways to a device lead through, the nearest first."""
        while (row := self._above.get(row, START)) != START:
            yield row

    @property
    def devices(self) -> Mapping[int, Set[int]]:
        """Sensors behind each device that all of their ways lead through, itself left out."""
        found: dict[int, set[int]] = defaultdict(set)
        for sensor in self.reached:
            for row in self._all_above(sensor):
                found[row].add(sensor)
        return found

    @property
    def links(self) -> Mapping[int, Set[int]]:
        """Sensors behind each link that all of their ways lead through."""
        behind = self.devices
        found = {}
        for row, last in self._above.items():
            # All ways use the link if whatever else leads to its end comes from behind it.
            others = set(self._graph.predecessors(row)) - {last}
            is_only = last != START and self._graph.has_edge(last, row)
            if is_only and all(row in self._all_above(one) for one in others & self._above.keys()):
                sensors = set(behind.get(row, ())) | ({row} if self._is_sensor[row] else set())
                if sensors:
                    found[self._links[last, row]] = sensors
        return found


def next_hops(table: LinkTable) -> dict[str, str]:
    """Return the neighbour through which each device's cheapest way as drawn leads.

    Parameters
    ----------
    table : LinkTable
        Links of the layout; what has no way is left out. [-]
    """
    import networkx

    graph = Ways(table, table.usable).graph
    costs = table.costs
    rows = {frozenset(ends): row for row, ends in enumerate(table.ends.tolist())}

    def cost(here: int, there: int, _: object) -> int:
        return 0 if here == START else int(costs[rows[frozenset((here, there))]])

    ways: dict[int, list[int]] = networkx.single_source_dijkstra_path(graph, START, weight=cost)
    return {table.ids[row]: table.ids[way[-2]] for row, way in ways.items() if len(way) > 2}
