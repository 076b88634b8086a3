"""Which gateways serve, who is whose parent, and how a step settles both."""

import heapq
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass

import networkx

from resilience.lifetime.mesh import Mesh, MeshLink, Rules

Parents = Mapping[str, str | None]


class Gateways:
    """Follows the gateways from step to step."""

    def __init__(self, mesh: Mesh, rules: Rules) -> None:
        gateways = [device for device in mesh.devices if device.id in mesh.gateways]
        self._primaries = {device.id for device in gateways if not device.standby}
        self._all = {device.id for device in gateways}
        self._rules = rules
        self._without_primary_since: int | None = None
        self._back_since: int | None = None
        self.in_outage = False
        self.serving: Set[str] = frozenset()

    def settle(self, now: int, up: Set[str]) -> int | None:
        """Settle outage and service after a step; return when to look again, if ever.

        Parameters
        ----------
        now : int
            Time of the step. [ms]
        up : set of str
            Devices that are up. [-]
        """
        there = self._all & up
        has_primary = bool(self._primaries & there)
        if has_primary:
            self._without_primary_since = None
        elif self._without_primary_since is None:
            self._without_primary_since = now
        look_again = self._settle_outage(now, bool(there))
        if self.in_outage:
            self.serving = frozenset()
            return look_again
        if has_primary:
            self.serving = self._primaries & there
            return None
        return self._settle_standby(now, there)

    def _settle_outage(self, now: int, is_any_up: bool) -> int | None:
        if not is_any_up:
            self.in_outage, self._back_since = True, None
            return None
        if not self.in_outage:
            return None
        if self._back_since is None:
            self._back_since = now
        formed_ms = self._back_since + self._rules.reformation_ms
        if now < formed_ms:
            return formed_ms
        self.in_outage, self._back_since = False, None
        if self._without_primary_since is not None:  # once it is over, every up gateway serves
            self._without_primary_since = now - self._rules.standby_switch_ms
        return None

    def _settle_standby(self, now: int, there: Set[str]) -> int | None:
        assert self._without_primary_since is not None
        switched_ms = self._without_primary_since + self._rules.standby_switch_ms
        if now < switched_ms:
            self.serving = frozenset()
            return switched_ms
        self.serving = there
        return None


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

    def at_costs(self, usable: networkx.Graph, serving: Set[str]) -> "Routes":
        """Return the same tree at other costs of its links, as far as it holds together.

        Parameters
        ----------
        usable : networkx.Graph
            Devices up and links usable, with their ``cost``. [1/128 ETX]
        serving : set of str
            Gateways that serve. [-]
        """
        return Routes(self.parent, path_costs(self.parent, usable, serving))

    def is_branch(self, link: MeshLink) -> bool:
        """Whether a link joins a device with its parent."""
        return self.parent.get(link.a) == link.b or self.parent.get(link.b) == link.a

    def path(self, device: str) -> Iterator[str]:
        """Devices from this one up to its gateway, the gateway left out."""
        here: str | None = device
        while here in self.parent:
            yield here
            here = self.parent[here]

    def subtree(self, device: str) -> set[str]:
        """Return the device and all that hang on it."""
        children = children_of(self.parent)
        found, to_do = {device}, [device]
        while to_do:
            below = children.get(to_do.pop(), ())
            found.update(below)
            to_do.extend(below)
        return found

    def sensors_behind(self, sensors: Iterable[str]) -> Counter[str | None]:
        """Count the sensors whose readings each device forwards, gateways among them."""
        behind: Counter[str | None] = Counter()
        for sensor in sensors:
            if sensor in self.cost:
                behind.update(self.parent[device] for device in self.path(sensor))
        return behind

    def depths(self) -> dict[str, int]:
        """Hop depth of every device with a route; 1 beside the gateway."""
        return {
            device: sum(1 for _ in self.path(device))
            for device in self.parent
            if device in self.cost
        }


def children_of(parent: Parents) -> dict[str, list[str]]:
    """Return the children of every device that has any."""
    children: dict[str, list[str]] = {}
    for device, above in parent.items():
        if above is not None:
            children.setdefault(above, []).append(device)
    return children


def path_costs(parent: Parents, usable: networkx.Graph, serving: Set[str]) -> dict[str, int]:
    """Run link costs down the part of a tree that hangs together.

    Parameters
    ----------
    parent : mapping of str to str or None
        The tree. [-]
    usable : networkx.Graph
        Usable links with their ``cost``. [1/128 ETX]
    serving : set of str
        Gateways that serve; they cost 0. [-]
    """
    children = children_of(parent)
    cost = dict.fromkeys(sorted(serving), 0)
    to_do = list(cost)
    while to_do:
        above = to_do.pop()
        for child in children.get(above, ()):
            if usable.has_edge(above, child):
                cost[child] = cost[above] + usable.edges[above, child]["cost"]
                to_do.append(child)
    return cost


class RoutingTree:
    """Keeps the routes settled, one step at a time."""

    def __init__(self, mesh: Mesh, hysteresis: int) -> None:
        self._relays = mesh.relays
        self._hysteresis = hysteresis
        self.routes = Routes(
            {device.id: None for device in mesh.devices if device.id not in mesh.gateways}, {}
        )

    def settle(
        self, usable: networkx.Graph, serving: Set[str], *, looks_around: bool
    ) -> frozenset[str]:
        """Settle the routes after a step and return the devices that it found detached.

        Parameters
        ----------
        usable : networkx.Graph
            Devices that are up, and usable links with their ``cost``. [1/128 ETX]
        serving : set of str
            Gateways that serve; none during a site outage. [-]
        looks_around : bool
            Whether devices compare their neighbours in this step. [-]
        """
        parent = dict(self.routes.parent)
        routes = Routes(parent, path_costs(parent, usable, serving))
        cut_off = {device for device in parent if device not in routes.cost}
        for device in cut_off:
            parent[device] = None
        detached = frozenset(cut_off.intersection(usable))
        self._attach(usable, routes, detached)
        if looks_around:
            self._improve(usable, routes)
        self.routes = routes
        return detached

    def _attach(self, usable: networkx.Graph, routes: Routes, detached: Set[str]) -> None:
        """Attach, again and again, the detached device with the least (cost, id, parent id)."""
        waiting = [
            (routes.cost[parent] + link["cost"], device, parent)
            for device in detached
            for parent, link in usable.adj[device].items()
            if parent in routes.cost and parent in self._relays
        ]
        heapq.heapify(waiting)
        while waiting:
            cost, device, parent = heapq.heappop(waiting)
            if device in routes.cost:
                continue
            routes.cost[device], routes.parent[device] = cost, parent
            if device in self._relays:
                for other, link in usable.adj[device].items():
                    if other in detached and other not in routes.cost:
                        heapq.heappush(waiting, (cost + link["cost"], other, device))

    def _improve(self, usable: networkx.Graph, routes: Routes) -> None:
        """Move, again and again, the device with the least (new cost, id, parent id)."""
        while moves := list(self._wanted_moves(usable, routes)):
            cost, device, parent = min(moves)
            gain = routes.cost[device] - cost
            routes.parent[device] = parent
            for below in routes.subtree(device):
                routes.cost[below] -= gain

    def _wanted_moves(
        self, usable: networkx.Graph, routes: Routes
    ) -> Iterator[tuple[int, str, str]]:
        for device in routes.parent:
            cost = routes.cost.get(device)
            if cost is None:
                continue
            for parent, link in usable.adj[device].items():
                if parent in routes.cost and parent in self._relays:
                    new_cost = routes.cost[parent] + link["cost"]
                    if cost - new_cost > self._hysteresis:
                        yield new_cost, device, parent


class Rejoining:
    """How long sensors are silent while they, or those before them, move."""

    def __init__(self, mesh: Mesh, rules: Rules) -> None:
        self._relays = mesh.relays
        self._rules = rules

    def interruptions_ms(
        self, moved: list[str], before: Routes, usable_before: networkx.Graph, after: Routes
    ) -> dict[str, int]:
        """Silence of sensors that were detached, with a route before the step and one after it.

        Parameters
        ----------
        moved : list of str
            Those sensors. [-]
        before : Routes
            The tree before the step, at the costs of then. [-]
        usable_before : networkx.Graph
            Devices up and links usable before the step, with their ``cost``. [1/128 ETX]
        after : Routes
            The tree after it. [-]
        """
        return {
            sensor: max(
                self._rejoin_ms(device, before, usable_before, after)
                for device in after.path(sensor)
            )
            for sensor in moved
        }

    def _rejoin_ms(
        self, device: str, before: Routes, usable_before: networkx.Graph, after: Routes
    ) -> int:
        old, new = before.parent[device], after.parent[device]
        if new == old:
            return 0
        if old is None or new not in self._backups(device, before, usable_before):
            return self._rules.rejoin_long_ms
        return self._rules.rejoin_short_ms

    def _backups(self, device: str, before: Routes, usable_before: networkx.Graph) -> list[str]:
        """Neighbours that the device kept ready before the step, best first."""
        left_out = before.subtree(device) | {before.parent[device]}
        ready = sorted(
            (before.cost[other] + link["cost"], other)
            for other, link in usable_before.adj[device].items()
            if other in before.cost and other in self._relays and other not in left_out
        )
        return [other for _, other in ready[: self._rules.backups]]
