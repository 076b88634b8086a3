"""The routing tree: who is whose parent, and how a step settles it."""

import heapq
from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass

import networkx

from resilience.lifetime.mesh import Mesh, Rules
from resilience.lifetime.reference.holds import Holds


@dataclass(frozen=True, slots=True)
class Routes:
    """The tree at one moment.

    Parameters
    ----------
    parent : dict of str to str or None
        Of every device that is not a gateway. [-]
    cost : dict of str to int
        Path cost of every device with a route, serving gateways (0) among them. [1/128 ETX]
    """

    parent: dict[str, str | None]
    cost: dict[str, int]

    def path(self, device: str) -> Iterator[str]:
        """Devices from this one up to its gateway, the gateway left out."""
        here: str | None = device
        while here in self.parent:
            yield here
            here = self.parent[here]

    def subtree(self, device: str) -> set[str]:
        """Return the device and all that hang on it."""
        children = self.children()
        found, to_do = {device}, [device]
        while to_do:
            below = children.get(to_do.pop(), ())
            found.update(below)
            to_do.extend(below)
        return found

    def children(self) -> dict[str, list[str]]:
        """Return the children of every device that has any."""
        children: dict[str, list[str]] = {}
        for device, parent in self.parent.items():
            if parent is not None:
                children.setdefault(parent, []).append(device)
        return children

    def depths(self) -> dict[str, int]:
        """Hop depth of every device with a route; 1 beside the gateway."""
        return {
            device: sum(1 for _ in self.path(device))
            for device in self.parent
            if device in self.cost
        }


class RoutingTree:
    """Keeps the routes settled, one step at a time."""

    def __init__(self, mesh: Mesh, hysteresis: int) -> None:
        self._relays = mesh.relays
        self._hysteresis = hysteresis
        self.routes = Routes(
            {device.id: None for device in mesh.devices if device.id not in mesh.gateways}, {}
        )

    def settle(
        self, graph: networkx.Graph, up: Set[str], serving: Set[str], touched: Set[str]
    ) -> set[str]:
        """Settle the routes after a step and return the devices that it detached.

        Parameters
        ----------
        graph : networkx.Graph
            Usable links with their ``cost``. [-]
        up : set of str
            Devices that are up. [-]
        serving : set of str
            Gateways that serve; none during a site outage. [-]
        touched : set of str
            Ends of the links that the step changed. [-]
        """
        parent = dict(self.routes.parent)
        routes = Routes(parent, self._intact_costs(graph, serving))
        detached = {device for device in parent if device in up and device not in routes.cost}
        for device in parent:
            if device not in routes.cost:
                parent[device] = None
        self._attach(graph, routes, detached)
        # Nobody wanted to move before the step, so while no path cost differs only the ends of a
        # changed link can want to now.
        self._improve(graph, routes, touched if routes.cost == self.routes.cost else parent)
        self.routes = routes
        return detached

    def _intact_costs(self, graph: networkx.Graph, serving: Set[str]) -> dict[str, int]:
        """Run new link costs down the part of the tree that still hangs together."""
        children = self.routes.children()
        cost = dict.fromkeys(sorted(serving), 0)
        to_do = list(cost)
        while to_do:
            parent = to_do.pop()
            for child in children.get(parent, ()):
                if graph.has_edge(parent, child):
                    cost[child] = cost[parent] + graph.edges[parent, child]["cost"]
                    to_do.append(child)
        return cost

    def _attach(self, graph: networkx.Graph, routes: Routes, detached: Set[str]) -> None:
        """Attach, again and again, the detached device with the least (cost, id, parent id)."""
        waiting = [
            (routes.cost[parent] + link["cost"], device, parent)
            for device in detached
            for parent, link in graph.adj[device].items()
            if parent in routes.cost and parent in self._relays
        ]
        heapq.heapify(waiting)
        while waiting:
            cost, device, parent = heapq.heappop(waiting)
            if device in routes.cost:
                continue
            routes.cost[device], routes.parent[device] = cost, parent
            if device in self._relays:
                for other, link in graph.adj[device].items():
                    if other in detached and other not in routes.cost:
                        heapq.heappush(waiting, (cost + link["cost"], other, device))

    def _improve(self, graph: networkx.Graph, routes: Routes, may_want: Iterable[str]) -> None:
        """Move, again and again, the device with the least (new cost, id, parent id)."""
        while moves := list(self._wanted_moves(graph, routes, may_want)):
            cost, device, parent = min(moves)
            gain = routes.cost[device] - cost
            routes.parent[device] = parent
            for below in routes.subtree(device):
                routes.cost[below] -= gain
            may_want = routes.parent

    def _wanted_moves(
        self, graph: networkx.Graph, routes: Routes, may_want: Iterable[str]
    ) -> Iterator[tuple[int, str, str]]:
        for device in may_want:
            cost = routes.cost.get(device)
            if not cost:  # no route, or a gateway
                continue
            for parent, link in graph.adj[device].items():
                if parent in routes.cost and parent in self._relays:
                    new_cost = routes.cost[parent] + link["cost"]
                    if cost - new_cost > self._hysteresis:
                        yield new_cost, device, parent


class Rejoining:
    """How long the sensors that one step detached are silent while they move."""

    def __init__(self, mesh: Mesh, rules: Rules) -> None:
        self._mesh = mesh
        self._rules = rules

    def interruptions_ms(
        self, holds: Holds, before: Routes, after: Routes, detached: Set[str]
    ) -> dict[str, int]:
        """Silence of each detached sensor that had a route before the step and has one after it.

        Parameters
        ----------
        holds : Holds
            Knows what the links cost before the step. [-]
        before, after : Routes
            The tree on both sides of the step. [-]
        detached : set of str
            What the step detached. [-]
        """
        moved = [
            sensor
            for sensor in self._mesh.sensors
            if sensor in detached and sensor in before.cost and sensor in after.cost
        ]
        return {
            sensor: max(
                self._rejoin_ms(holds, before, after, device)
                for device in after.path(sensor)
                if device == sensor or after.parent[device] != before.parent[device]
            )
            for sensor in moved
        }

    def _rejoin_ms(self, holds: Holds, before: Routes, after: Routes, device: str) -> int:
        parent = after.parent[device]
        if parent == before.parent[device]:
            return 0
        if before.parent[device] is None or parent not in self._backups(holds, before, device):
            return self._rules.rejoin_long_ms
        return self._rules.rejoin_short_ms

    def _backups(self, holds: Holds, before: Routes, device: str) -> list[str]:
        """Neighbours that the device kept ready before the step, best first."""
        left_out = before.subtree(device) | {before.parent[device]}
        ready = []
        for link in self._mesh.links_of[device]:
            other = link.b if link.a == device else link.a
            cost = holds.cost_before.get(link.id, holds.cost(link))
            if cost is None or other in left_out or other not in self._mesh.relays:
                continue
            if other in before.cost:
                ready.append((before.cost[other] + cost, other))
        return [other for _, other in sorted(ready)[: self._rules.backups]]
