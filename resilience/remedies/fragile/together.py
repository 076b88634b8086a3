"""Two devices whose loss together cuts off sensors that the loss of neither does.

In the calm drawing; the sensors' least cut sets say how many devices have to be lost at all.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from resilience.building.site import Kind
from resilience.connectivity.table import LinkTable
from resilience.remedies.fragile.ways import START, Ways

PAIR = 2
MOST_WORK = 100_000  # devices times usable links, up to which they are looked for: some seconds


@dataclass(frozen=True, slots=True)
class Together:
    """Two devices that are worse together than apart.

    Parameters
    ----------
    first, second : str
        Ids. [-]
    only_together : tuple of str
        Sensors that are cut off if both are away, and not if either is. [-]
    """

    first: str
    second: str
    only_together: tuple[str, ...]

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "devices": [self.first, self.second],
            "sensors_cut_off_only_by_both": list(self.only_together),
        }


@dataclass(frozen=True, slots=True)
class Cuts:
    """How many devices have to be lost before sensors are.

    Parameters
    ----------
    pairs : tuple of Together
        Those that cut off most sensors only together first. [-]
    least : dict of str to tuple of str
        A least set of devices that cuts off each sensor, one of several perhaps; sensors that hear
        a gateway that is alone, or more gateways than could be lost, are left out. [-]
    is_known : bool
        Whether the layout is small enough for them to be looked for. [-]
    """

    pairs: tuple[Together, ...]
    least: dict[str, tuple[str, ...]]
    is_known: bool = True

    @property
    def n_by_size(self) -> Mapping[int, int]:
        """Number of sensors by the size of their least cut set."""
        return dict(sorted(Counter(map(len, self.least.values())).items()))


def cuts(table: LinkTable) -> Cuts:
    """Look for what has to be lost together, the gateway left out where it is alone.

    Parameters
    ----------
    table : LinkTable
        Links of the layout. [-]
    """
    if len(table.devices) * int(table.usable.sum()) > MOST_WORK:
        return Cuts((), {}, is_known=False)
    ways = Ways(table, table.usable)
    spared = ways.gateways if len(ways.gateways) == 1 else frozenset()
    least = _least(table, ways, spared)
    has_pairs = any(len(one) <= PAIR for one in least.values())
    return Cuts(_pairs(table, ways, spared) if has_pairs else (), least)


def _pairs(table: LinkTable, ways: Ways, spared: frozenset[int]) -> tuple[Together, ...]:
    behind = ways.sensors_behind()
    alone = {row: set(sensors) | {row} for row, sensors in behind.devices.items()}
    passing = sorted(row for row in ways.graph if row != START and ways.graph.out_degree(row))
    found = []
    for first in (row for row in passing if row not in spared):
        left = ways.sensors_behind(first)
        for second, sensors in left.devices.items():
            if second > first and second not in spared:
                only = set(sensors) - alone.get(second, set()) - {first, second}
                if only:
                    names = tuple(table.ids[row] for row in sorted(only))
                    found.append(Together(table.ids[first], table.ids[second], names))
    found.sort(key=lambda one: (-len(one.only_together), one.first, one.second))
    return tuple(found)


def _least(table: LinkTable, ways: Ways, spared: frozenset[int]) -> dict[str, tuple[str, ...]]:
    import networkx

    graph = ways.graph
    if spared:  # the gateway stands in the place of the start
        graph = networkx.contracted_nodes(graph, START, next(iter(spared)), self_loops=False)
    found = {}
    for row, device in enumerate(table.devices):
        is_asked = device.kind is Kind.SENSOR and row in graph and not graph.has_edge(START, row)
        if is_asked and networkx.has_path(graph, START, row):
            least = networkx.minimum_node_cut(graph, START, row)
            found[device.id] = tuple(table.ids[one] for one in sorted(least))
    return found
