"""The level of a link at a moment: a pure function of time that nobody has to step."""

from collections import Counter
from collections.abc import Iterable, Iterator

from resilience.draws import element_key, level_place, phase_ms, stream
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.lifetime.mesh import Luck, Mesh, MeshLink
from resilience.lifetime.record import SWING


class Levels:
    """How the strengths of all links of a mesh swing about their calm values in one lifetime."""

    def __init__(self, mesh: Mesh, luck: Luck) -> None:
        self._mesh = mesh
        self._holds_ms = 1 if mesh.air is None else mesh.air.holds_ms
        self._table_cdb: list[int] = [0] if mesh.air is None else mesh.air.levels_cdb.tolist()
        self._starts = {
            link.id: stream(luck.seed, luck.lifetime, element_key("link", link.id, SWING))
            for link in mesh.links
        }
        self._phases_ms = {
            link: phase_ms(start, self._holds_ms) for link, start in self._starts.items()
        }

    @property
    def worst_cdb(self) -> int:
        """Lowest level of any link."""
        return self._table_cdb[0]

    @property
    def is_still(self) -> bool:
        """Whether no link ever swings."""
        return self._table_cdb[0] == self._table_cdb[-1]

    def level_cdb(self, link: MeshLink, time_ms: int) -> int:
        """Level of a link at a moment. [cdB].

        Parameters
        ----------
        link : MeshLink
            One of the mesh. [-]
        time_ms : int
            The moment. [ms]
        """
        return self._held_cdb(link, self._hold(link, time_ms))

    def changes_ms(self, link: MeshLink) -> Iterator[int]:
        """Yield the times after hand-over from which a link has another level, without end."""
        hold = 1
        while True:
            yield self._begin_ms(link, hold)
            hold += 1

    def closed_since_ms(self, link: MeshLink, time_ms: int) -> int | None:
        """Start of the unbroken run of levels that close a link which is usable when calm.

        None where the level of the moment alone does not close it. A run that lasts since
        hand-over began at 0.

        Parameters
        ----------
        link : MeshLink
            One of the mesh. [-]
        time_ms : int
            The moment. [ms]
        """
        hold = self._hold(link, time_ms)
        if not self._closes_alone(link, hold):
            return None
        while hold > 0 and self._closes_alone(link, hold - 1):
            hold -= 1
        return max(0, self._begin_ms(link, hold))

    def _hold(self, link: MeshLink, time_ms: int) -> int:
        return (time_ms + self._phases_ms[link.id]) // self._holds_ms

    def _begin_ms(self, link: MeshLink, hold: int) -> int:
        return hold * self._holds_ms - self._phases_ms[link.id]

    def _held_cdb(self, link: MeshLink, hold: int) -> int:
        if self.is_still:
            return self.worst_cdb
        return self._table_cdb[level_place(self._starts[link.id], hold)]

    def _closes_alone(self, link: MeshLink, hold: int) -> bool:
        level_cdb = self._held_cdb(link, hold)
        return link.path.cost(0) is not None and link.path.cost(-level_cdb) is None

    def links_that_fade(self, elements: Iterable[Element]) -> list[MeshLink]:
        """Links that the worst level closes under all losses that can strike them together.

        Parameters
        ----------
        elements : iterable of Element
            All that can strike. [-]
        """
        loss_cdb: Counter[str] = Counter()
        for element in elements:
            if element.effect is Effect.LOSS:
                loss_cdb.update(dict.fromkeys(element.targets, element.amount))
        return [
            link
            for link in self._mesh.links
            if not self.is_still and link.path.cost(loss_cdb[link.id] - self.worst_cdb) is None
        ]
