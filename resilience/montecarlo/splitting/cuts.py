"""Minimal cut sets: devices that, down together, leave more than so many sensors without a way.

They say how near a lifetime is to a loss. A set that is overlooked costs precision and moves no
mean, so the search may be cut short.
"""

from collections.abc import Collection, Iterator, Set
from dataclasses import dataclass

from resilience.lifetime.mesh import Mesh

MOST_LOSSES = 4  # devices of a cut
MOST_LOOKED_AT = 20_000  # sets of devices, some seconds of a large layout
MOST_CUTS = 4_000

Cut = frozenset[str]


@dataclass(frozen=True, slots=True)
class Loss:
    """What counts as a loss that is looked for.

    Parameters
    ----------
    max_count : int
        So many sensors may be lost. [-]
    counts_down : bool
        Whether a sensor that is down itself is lost. [-]
    counts_outages : bool
        Whether sensors are lost while no gateway is up at all. [-]
    """

    max_count: int
    counts_down: bool
    counts_outages: bool


def minimal_cuts(mesh: Mesh, fallible: Set[str], loss: Loss) -> frozenset[Cut]:
    """Smallest sets of devices whose loss is too much, and those of one device more.

    A set that has no cut yet is enlarged by devices on one tree of ways alone: whatever loses one
    more sensor takes a device of its way there. So none is overlooked up to the sizes looked at.

    Parameters
    ----------
    mesh : Mesh
        The layout, its links at their calm strength. [-]
    fallible : set of str
        Devices that can be down. [-]
    loss : Loss
        What is looked for. [-]
    """
    ways = _Ways(mesh)
    found: set[Cut] = set()
    smaller: Collection[Cut] = [frozenset()]
    n_left = MOST_LOOKED_AT
    for size in range(1, MOST_LOSSES + 1):
        if found and size > min(map(len, found)) + 1:
            break
        sets = _enlarged(ways, smaller, fallible, found)
        smaller = []
        for one in sets:
            if n_left == 0 or len(found) >= MOST_CUTS:
                return frozenset(found)
            n_left -= 1
            if ways.lost(one, loss) > loss.max_count:
                found.add(one)
            else:
                smaller.append(one)
    return frozenset(found)


def _enlarged(
    ways: "_Ways", smaller: Collection[Cut], fallible: Set[str], found: Collection[Cut]
) -> Iterator[Cut]:
    """Yield each set with a device more, that holds no cut found before; each once."""
    seen: set[Cut] = set()
    known = tuple(found)
    for one in smaller:
        for device in ways.carriers(one) & fallible:
            larger = one | {device}
            if larger not in seen:
                seen.add(larger)
                if not any(cut <= larger for cut in known):
                    yield larger


class _Ways:
    """Who has a way to a gateway over calm links, with sets of devices as bits of a number."""

    def __init__(self, mesh: Mesh) -> None:
        self._ids = [device.id for device in mesh.devices]
        self._bit = {id: 1 << place for place, id in enumerate(self._ids)}
        self._near = dict.fromkeys(self._ids, 0)
        for link in mesh.links:
            if link.path.cost(0) is not None:
                self._near[link.a] |= self._bit[link.b]
                self._near[link.b] |= self._bit[link.a]
        self._gateways = self._bits(mesh.gateways)
        self._sensors = self._bits(mesh.sensors)
        self._relays = self._bits(mesh.relays)

    def _bits(self, ids: Collection[str]) -> int:
        return sum(self._bit[id] for id in ids)

    def _members(self, bits: int) -> Iterator[str]:
        while bits:
            lowest = bits & -bits
            yield self._ids[lowest.bit_length() - 1]
            bits ^= lowest

    def lost(self, down: Cut, loss: Loss) -> int:
        """How many sensors are lost while a set of devices is down."""
        gone = self._bits(down)
        if not self._gateways & ~gone and not loss.counts_outages:
            return 0
        unreached, _ = self._tree(gone)
        lost = (self._sensors & unreached & ~gone).bit_count()
        return lost + (self._sensors & gone).bit_count() if loss.counts_down else lost

    def carriers(self, down: Cut) -> Set[str]:
        """Devices that carry somebody on one tree of ways while a set of devices is down."""
        return self._tree(self._bits(down))[1]

    def _tree(self, gone: int) -> tuple[int, Set[str]]:
        """Devices without a way, and those that carry the others: as few as are soon found."""
        layer = self._gateways & ~gone
        unreached = (1 << len(self._ids)) - 1 & ~gone & ~layer
        carriers: set[str] = set()
        while layer:
            following = 0
            near = [(self._near[id], id) for id in self._members(layer & self._relays)]
            for bits, id in sorted(near, key=lambda one: -(one[0] & unreached).bit_count()):
                taken = bits & unreached
                if taken:
                    carriers.add(id)
                    unreached ^= taken
                    following |= taken
            layer = following
        return unreached, carriers
