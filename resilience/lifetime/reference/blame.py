"""What an orphan spell is put down to."""

from collections.abc import Iterator, Set
from dataclasses import dataclass

import networkx

from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.lifetime.mesh import Mesh, MeshLink
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, SWING, Holder
from resilience.lifetime.reference.holds import Holds
from resilience.lifetime.reference.levels import Levels


@dataclass(frozen=True, slots=True)
class Holding:
    """Who holds a spell: one absence, or what stays until the spell ends.

    Parameters
    ----------
    holder : Holder
        Cause and id, or the layout, or the radio draw. [-]
    struck_ms : int or None
        When that very absence began; None for what stays. [ms]
    """

    holder: Holder
    struck_ms: int | None


class Blame:
    """Finds the absence on the border of an orphan's island that began last.

    The island is every up device that the orphan reaches over usable links, gateways that do not
    serve yet among them. A link that its level alone closes is away like any element.
    """

    def __init__(self, mesh: Mesh, holds: Holds, levels: Levels) -> None:
        self._mesh = mesh
        self._holds = holds
        self._levels = levels

    def holding(self, sensor: str, now: int, usable: networkx.Graph) -> Holding:
        """Return what the present spell of a sensor is put down to from now on.

        Parameters
        ----------
        sensor : str
            An orphan. [-]
        now : int
            Time of the step. [ms]
        usable : networkx.Graph
            Devices that are up and links that are usable. [-]
        """
        island = networkx.node_connected_component(usable, sensor)
        away = [*self._absences(island, now), *self._swings(island, now)]
        if away:
            struck_ms, holder = max(away)
            return Holding(holder, struck_ms)
        return Holding(RADIO_DRAW if sensor in self._mesh.routed_at_mean else LAYOUT, None)

    def is_over(self, holding: Holding, now: int) -> bool:
        """Whether that very absence is over, though the holder may be away anew."""
        if holding.struck_ms is None:
            return False
        cause, id = holding.holder
        if cause == SWING:
            return self._levels.closed_since_ms(self._mesh.link[id], now) != holding.struck_ms
        away = self._holds.away.get(holding.holder)
        return away is None or away[0] != holding.struck_ms

    def _absences(self, island: Set[str], now: int) -> Iterator[tuple[int, Holder]]:
        for name, (struck_ms, element) in self._holds.away.items():
            if self._is_on_border(element, island, now):
                yield struck_ms, name

    def _swings(self, island: Set[str], now: int) -> Iterator[tuple[int, Holder]]:
        for link in self._mesh.links:
            if _touches(link, island):
                since_ms = self._levels.closed_since_ms(link, now)
                if since_ms is not None:
                    yield since_ms, (SWING, link.id)

    def _is_on_border(self, element: Element, island: Set[str], now: int) -> bool:
        if element.effect is Effect.DOWN:
            links = (
                link for target in element.targets for link in self._mesh.links_of.get(target, ())
            )
            return any(_touches(link, island) for link in links)
        if element.effect is Effect.MUTE:
            return False
        struck = (
            self._mesh.link[target] for target in element.targets if target in self._mesh.link
        )
        return any(
            _touches(link, island) and self._holds.closes_alone(element, link, now)
            for link in struck
        )


def _touches(link: MeshLink, island: Set[str]) -> bool:
    return link.a in island or link.b in island
