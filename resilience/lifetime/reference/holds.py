"""What holds devices and links at a moment: counters and sums, so that undoing is exact."""

from collections import Counter

import networkx

from resilience.hazards.elements import Effect, Element
from resilience.lifetime.mesh import Mesh, MeshLink
from resilience.lifetime.record import Holder


class Holds:
    """Devices up and links usable, as absences begin and end.

    ``graph`` holds the devices that are up and, as edges with their ``cost``, the links that are
    usable now.
    """

    def __init__(self, mesh: Mesh) -> None:
        self._mesh = mesh
        self._down: Counter[str] = Counter()
        self._mute: Counter[str] = Counter()
        self._cuts: Counter[str] = Counter()
        self._loss_cdb: Counter[str] = Counter()
        self._extra: Counter[str] = Counter()
        self.graph = networkx.Graph()
        self.graph.add_nodes_from(device.id for device in mesh.devices)
        self.cost_before: dict[str, int | None] = {}
        for link in mesh.links:
            self._refresh(link)
        self.away: dict[Holder, tuple[int, Element]] = {}  # by cause and id: strike time, element
        self.begin_step()

    def begin_step(self) -> None:
        """Forget what the last step changed."""
        self.cost_before = {}  # link id: cost before this step, for links it touched
        self.has_changed_devices = False

    def touched(self) -> set[str]:
        """Ends of the links that this step changed."""
        return {end for id in self.cost_before for end in id.split("~")}

    def is_up(self, device: str) -> bool:
        """Whether nothing holds the device down."""
        return not self._down[device]

    def is_mute(self, device: str) -> bool:
        """Whether the device forwards but does not measure."""
        return bool(self._mute[device])

    def cost(self, link: MeshLink) -> int | None:
        """Cost of a link now, None where it is not usable."""
        edge = self.graph.get_edge_data(link.a, link.b)
        return None if edge is None else edge["cost"]

    def strike(self, element: Element, now_ms: int) -> None:
        """Let an absence begin."""
        self.away[element.name] = (now_ms, element)
        self._hold(element, 1)

    def end(self, element: Element) -> None:
        """Let an absence end."""
        del self.away[element.name]
        self._hold(element, -1)

    def closes_alone(self, element: Element, link: MeshLink) -> bool:
        """Whether this absence, which strikes the link, by itself would make it unusable."""
        if element.effect is Effect.LOSS:
            return link.path.cost(element.amount) is None
        return element.effect is Effect.CUT

    def _hold(self, element: Element, step: int) -> None:
        for target in element.targets:
            if element.effect is Effect.MUTE:
                self._mute[target] += step
                self.has_changed_devices = True
            elif element.effect is Effect.DOWN:
                self._hold_down(target, step)
            elif target in self._mesh.link:  # else the link is unusable even when calm
                self._hold_link(self._mesh.link[target], element, step)

    def _hold_down(self, device: str, step: int) -> None:
        was_up = self.is_up(device)
        self._down[device] += step
        if self.is_up(device) != was_up:
            self.has_changed_devices = True
            for link in self._mesh.links_of[device]:
                self._refresh(link)

    def _hold_link(self, link: MeshLink, element: Element, step: int) -> None:
        if element.effect is Effect.CUT:
            self._cuts[link.id] += step
        elif element.effect is Effect.LOSS:
            self._loss_cdb[link.id] += step * element.amount
        else:
            self._extra[link.id] += step * element.amount
        self._refresh(link)

    def _refresh(self, link: MeshLink) -> None:
        """Bring one link of the graph up to date and remember what it was."""
        old, new = self.cost(link), self._cost_now(link)
        if old == new:
            return
        self.cost_before.setdefault(link.id, old)
        if new is None:
            self.graph.remove_edge(link.a, link.b)
        else:
            self.graph.add_edge(link.a, link.b, cost=new)

    def _cost_now(self, link: MeshLink) -> int | None:
        if self._cuts[link.id] or not (self.is_up(link.a) and self.is_up(link.b)):
            return None
        cost = link.path.cost(self._loss_cdb[link.id])
        return None if cost is None else cost + self._extra[link.id]
