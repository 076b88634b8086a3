"""What holds devices and links: counters and sums, so that undoing is exact."""

from collections import Counter
from copy import copy

import networkx

from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.lifetime.mesh import Mesh, MeshLink
from resilience.lifetime.record import Holder
from resilience.lifetime.reference.levels import Levels


class Holds:
    """Devices up and links usable, as absences begin and end and links swing."""

    def __init__(self, mesh: Mesh, levels: Levels) -> None:
        self._mesh = mesh
        self._levels = levels
        self._down: Counter[str] = Counter()
        self._mute: Counter[str] = Counter()
        self._cuts: Counter[str] = Counter()
        self._loss_cdb: Counter[str] = Counter()
        self._extra: Counter[str] = Counter()
        self.away: dict[Holder, tuple[int, Element]] = {}  # by cause and id: strike time, element

    def snapshot(self) -> "Holds":
        """Return what holds now, unmoved by what comes and goes afterwards."""
        twin = copy(self)
        twin._down, twin._mute = copy(self._down), copy(self._mute)
        twin._cuts, twin._loss_cdb, twin._extra = (
            copy(self._cuts),
            copy(self._loss_cdb),
            copy(self._extra),
        )
        twin.away = copy(self.away)
        return twin

    def is_up(self, device: str) -> bool:
        """Whether nothing holds the device down."""
        return not self._down[device]

    def is_mute(self, device: str) -> bool:
        """Whether the device forwards but does not measure."""
        return bool(self._mute[device])

    def is_silent(self, device: str, is_served: bool) -> bool:
        """Whether the device is down or mute, though nobody serves it."""
        return self._down[device] > is_served or self.is_mute(device)

    def cost(self, link: MeshLink, time_ms: int) -> int | None:
        """Cost of a link at the level of a moment, None where it is not usable.

        Parameters
        ----------
        link : MeshLink
            One of the mesh. [-]
        time_ms : int
            The moment whose level counts; what holds is what holds now. [ms]
        """
        if self._cuts[link.id] or not (self.is_up(link.a) and self.is_up(link.b)):
            return None
        level_cdb = self._levels.level_cdb(link, time_ms)
        cost = link.path.cost(self._loss_cdb[link.id] - level_cdb)
        return None if cost is None else cost + self._extra[link.id]

    def has_faded(self, link: MeshLink, time_ms: int) -> bool:
        """Whether a link is closed that would not be at its level of a millisecond earlier."""
        return self.cost(link, time_ms) is None and self.cost(link, time_ms - 1) is not None

    def usable(self, time_ms: int) -> networkx.Graph:
        """Graph of the devices that are up and the links usable at a moment, with their ``cost``.

        Parameters
        ----------
        time_ms : int
            The moment whose levels count; what holds is what holds now. [ms]
        """
        graph = networkx.Graph()
        graph.add_nodes_from(device.id for device in self._mesh.devices if self.is_up(device.id))
        for link in self._mesh.links:
            cost = self.cost(link, time_ms)
            if cost is not None:
                graph.add_edge(link.a, link.b, cost=cost)
        return graph

    def closes_alone(self, element: Element, link: MeshLink, time_ms: int) -> bool:
        """Whether an absence that strikes a link would close it by itself, at a moment's level.

        Parameters
        ----------
        element : Element
            What is away. [-]
        link : MeshLink
            One of its targets. [-]
        time_ms : int
            The moment. [ms]
        """
        if element.effect is Effect.LOSS:
            level_cdb = self._levels.level_cdb(link, time_ms)
            return link.path.cost(element.loads[link.id] - level_cdb) is None
        return element.effect is Effect.CUT

    def strike(self, element: Element, now_ms: int) -> None:
        """Let an absence begin."""
        self.away[element.name] = (now_ms, element)
        self._hold(element, 1)

    def end(self, element: Element) -> None:
        """Let an absence end."""
        del self.away[element.name]
        self._hold(element, -1)

    def _hold(self, element: Element, step: int) -> None:
        held = {
            Effect.DOWN: self._down,
            Effect.MUTE: self._mute,
            Effect.CUT: self._cuts,
            Effect.LOSS: self._loss_cdb,
            Effect.COST: self._extra,
        }[element.effect]
        adds = element.effect in (Effect.LOSS, Effect.COST)
        for target, amount in element.loads.items():
            held[target] += step * (amount if adds else 1)
