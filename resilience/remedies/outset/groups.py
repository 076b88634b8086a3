"""What could hang in groups: as many devices of each price, the cheapest groups first."""

import heapq
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from resilience.building.site import Device, Kind
from resilience.building.upkeep import Prices
from resilience.montecarlo.costs import installation
from resilience.remedies.outset.allowed import Allowed

Key = tuple[int, ...]  # how many devices of each sort

MOST_WHOLE = 400  # layouts of a group, up to which all of them are looked at
ROUNDED = 9  # decimal places of costs that count as alike


@dataclass(frozen=True, slots=True)
class Sort:
    """Devices of one kind and price.

    Parameters
    ----------
    kind : Kind
        Gateway or repeater. [-]
    cost : float
        Of one to install; 1 where prices do not say. [currency]
    ids : tuple of str
        Where one could hang. [-]
    """

    kind: Kind
    cost: float
    ids: tuple[str, ...]


def is_priced(allowed: Allowed, prices: Prices) -> bool:
    """Whether everything that could hang has a price, so that money decides.

    Parameters
    ----------
    allowed : Allowed
        What could hang. [-]
    prices : Prices
        What parts cost. [currency]
    """
    made = allowed.made("all", allowed.could)
    return installation(made, prices).whole_cost is not None


def sorts_of(allowed: Allowed, prices: Prices) -> tuple[Sort, ...]:
    """Return what could hang by kind and price, gateways first and the cheaper first.

    Parameters
    ----------
    allowed : Allowed
        What could hang. [-]
    prices : Prices
        What parts cost. [currency]
    """
    by_money = is_priced(allowed, prices)
    found: dict[tuple[Kind, float], list[str]] = {}
    for one in allowed.could:
        cost = _cost(allowed, one, prices) if by_money else 1.0
        found.setdefault((one.kind, cost), []).append(one.id)
    order = sorted(found, key=lambda key: (key[0] is not Kind.GATEWAY, key[1]))
    return tuple(Sort(kind, cost, tuple(found[kind, cost])) for kind, cost in order)


def _cost(allowed: Allowed, device: Device, prices: Prices) -> float:
    with_it = installation(allowed.made("one", [device]), prices).whole_cost
    without = installation(allowed.bare, prices).whole_cost
    assert with_it is not None  # as all that could hang has a price
    assert without is not None
    return round(with_it - without, ROUNDED)


class Groups:
    """Groups in order of cost; those of one more device wait behind each.

    Parameters
    ----------
    sorts : sequence of Sort
        What could hang. [-]
    most : int
        Devices at most. [-]
    """

    def __init__(self, sorts: Sequence[Sort], most: int) -> None:
        self._sorts, self._most = sorts, most

    def __iter__(self) -> Iterator[Key]:
        """Yield every group that has a gateway, the cheapest first, then the smallest."""
        nobody = (0,) * len(self._sorts)
        waiting = [(0.0, 0, nobody)]
        known = {nobody}
        while waiting:
            _, n, key = heapq.heappop(waiting)
            if self.n_of(key, Kind.GATEWAY):
                yield key
            for place in range(len(key)) if n < self._most else ():
                more = (*key[:place], key[place] + 1, *key[place + 1 :])
                if more not in known and more[place] <= len(self._sorts[place].ids):
                    known.add(more)
                    heapq.heappush(waiting, (self.cost(more), n + 1, more))

    def n_of(self, key: Key, kind: Kind) -> int:
        """How many devices of a kind a group has.

        Parameters
        ----------
        key : Key
            The group. [-]
        kind : Kind
            Gateway or repeater. [-]
        """
        return sum(n for n, one in zip(key, self._sorts, strict=True) if one.kind is kind)

    def cost(self, key: Key) -> float:
        """Cost of the devices of a group, or their number. [currency].

        Parameters
        ----------
        key : Key
            The group. [-]
        """
        costs = (n * one.cost for n, one in zip(key, self._sorts, strict=True))
        return round(math.fsum(costs), ROUNDED)

    def n_possible(self, key: Key) -> int:
        """How many layouts a group has.

        Parameters
        ----------
        key : Key
            The group. [-]
        """
        return math.prod(
            math.comb(len(one.ids), n) for n, one in zip(key, self._sorts, strict=True)
        )

    def members(
        self, key: Key, leading: Mapping[Key, Sequence[frozenset[str]]]
    ) -> set[frozenset[str]]:
        """Return all layouts of a group, or those one device above the best of smaller groups.

        Parameters
        ----------
        key : Key
            The group. [-]
        leading : mapping of Key to sequence of frozenset
            The best layouts of groups looked at before. [-]
        """
        if self.n_possible(key) <= MOST_WHOLE:
            each = [combinations(one.ids, n) for n, one in zip(key, self._sorts, strict=True)]
            return {frozenset(id for part in parts for id in part) for parts in product(*each)}
        found = set[frozenset[str]]()
        for place, one in enumerate(self._sorts):
            less = (*key[:place], key[place] - 1, *key[place + 1 :])
            for ids in leading.get(less, ()):
                found |= {ids | {id} for id in one.ids if id not in ids}
        return found
