"""Who passes readings to whom with everything calm, and what moves when one device is off."""

import heapq
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from resilience.building.site import Kind
from resilience.connectivity.table import LinkTable

Parents = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class SwitchedOff:
    """What follows when one device is switched off, everything else calm.

    Parameters
    ----------
    id : str
        The device. [-]
    silent : tuple of str
        Sensors that then have no way to a gateway, itself left out. [-]
    moves : tuple of (str, str, str)
        Devices that find another parent, with the old and the new one. [-]
    """

    id: str
    silent: tuple[str, ...]
    moves: tuple[tuple[str, str, str], ...]


class CalmTree:
    """Tree of a layout at hand-over, as routing grows it with links as predicted on average.

    Parameters
    ----------
    table : LinkTable
        Who hears whom. [-]
    """

    def __init__(self, table: LinkTable) -> None:
        self._devices = {one.id: one for one in table.devices}
        self._near: dict[str, list[tuple[int, str]]] = defaultdict(list)
        costs, ids = table.costs, table.ids
        for cost, (a, b) in zip(costs.tolist(), table.ends.tolist(), strict=True):
            if cost:
                self._near[ids[a]].append((cost, ids[b]))
                self._near[ids[b]].append((cost, ids[a]))
        self._costs: dict[str, int] = {}
        self.parents: Parents = {}
        self.parents, self._costs = self._grown({}, {}, frozenset())

    def _serving(self, absent: frozenset[str]) -> list[str]:
        """Gateways that serve: a standby one only while no other is there."""
        there = [
            one
            for one in self._devices.values()
            if one.kind is Kind.GATEWAY and one.id not in absent
        ]
        active = [one.id for one in there if not one.standby]
        return active or [one.id for one in there]

    def _grown(
        self, parents: Parents, costs: Mapping[str, int], absent: frozenset[str]
    ) -> tuple[dict[str, str], dict[str, int]]:
        """Attach whoever has no parent yet to those that have a route, the cheapest way first."""
        found, paid = dict(parents), dict(costs)
        paid |= {id: 0 for id in self._serving(absent) if id not in paid}
        tried: list[tuple[int, str, str]] = []
        for id in list(paid):
            self._offer(tried, id, paid)
        while tried:
            cost, id, parent = heapq.heappop(tried)
            if id in paid or id in absent:
                continue
            found[id], paid[id] = parent, cost
            self._offer(tried, id, paid)
        return found, paid

    def _offer(self, tried: list[tuple[int, str, str]], id: str, paid: Mapping[str, int]) -> None:
        """Note all ways by one device that has a route and passes on what others send."""
        device = self._devices[id]
        if device.kind is not Kind.GATEWAY and not device.model.forwards:
            return
        for cost, other in self._near[id]:
            if other not in paid and self._devices[other].kind is not Kind.GATEWAY:
                heapq.heappush(tried, (paid[id] + cost, other, id))

    def without(self, id: str) -> SwitchedOff:
        """Switch one device off: all that passed readings over it look for another parent.

        Parameters
        ----------
        id : str
            The device. [-]
        """
        behind = {id, *self.behind(id)}
        kept = {one: parent for one, parent in self.parents.items() if one not in behind}
        paid = {one: cost for one, cost in self._costs.items() if one not in behind}
        after, reached = self._grown(kept, paid, frozenset({id}))
        silent = [
            one
            for one in sorted(behind - {id})
            if one not in reached and self._devices[one].kind is Kind.SENSOR
        ]
        moves = [
            (one, self.parents[one], after[one])
            for one in sorted(behind - {id})
            if one in after and after[one] != self.parents[one]
        ]
        return SwitchedOff(id, tuple(silent), tuple(moves))

    def behind(self, id: str) -> tuple[str, ...]:
        """Devices whose readings pass over one, in order of id.

        Parameters
        ----------
        id : str
            Of that device. [-]
        """
        return tuple(sorted(one for one in self.parents if id in self._path(one)))

    def _path(self, id: str) -> Iterable[str]:
        while id in self.parents:
            id = self.parents[id]
            yield id
