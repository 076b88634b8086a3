"""What an orphan spell is put down to."""

from dataclasses import dataclass

import networkx

from resilience.hazards.elements import Effect, Element
from resilience.lifetime.mesh import Mesh
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.lifetime.reference.holds import Holds


@dataclass(frozen=True, slots=True)
class Verdict:
    """Who holds a spell.

    Parameters
    ----------
    holder : Holder
        Cause and id, or the layout, or the radio draw. [-]
    struck_ms : int or None
        When that very absence began; None for what stays until the spell ends. [ms]
    """

    holder: Holder
    struck_ms: int | None

    def has_returned(self, holds: Holds) -> bool:
        """Whether that absence is over, though the element may be away anew."""
        if self.struck_ms is None:
            return False
        away = holds.away.get(self.holder)
        return away is None or away[0] != self.struck_ms


class Judge:
    """Finds the absence on the border of an orphan's island that struck last.

    The island is every up device that the orphan reaches over usable links, gateways that do not
    serve yet among them.
    """

    def __init__(self, mesh: Mesh, holds: Holds) -> None:
        self._mesh = mesh
        self._holds = holds

    def verdict(self, sensor: str) -> Verdict:
        """Return what the present spell of a sensor is put down to from now on."""
        island = networkx.node_connected_component(self._holds.graph, sensor)
        latest_first = sorted(
            ((struck_ms, name) for name, (struck_ms, _) in self._holds.away.items()), reverse=True
        )
        for struck_ms, name in latest_first:
            if self._is_on_border(self._holds.away[name][1], island):
                return Verdict(name, struck_ms)
        return Verdict(RADIO_DRAW if sensor in self._mesh.routed_at_mean else LAYOUT, None)

    def _is_on_border(self, element: Element, island: set[str]) -> bool:
        if element.effect is Effect.DOWN:
            links = (link for target in element.targets for link in self._mesh.links_of[target])
            return any(link.a in island or link.b in island for link in links)
        if element.effect is Effect.MUTE:
            return False
        struck = (
            self._mesh.link[target] for target in element.targets if target in self._mesh.link
        )
        return any(
            (link.a in island or link.b in island) and self._holds.closes_alone(element, link)
            for link in struck
        )
