"""The level of a link at a moment: a pure function of time that nobody has to step."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from resilience.draws import element_key, level_place, phase_ms, stream
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.lifetime.mesh import Luck, Mesh, MeshLink
from resilience.lifetime.record import SWING


@dataclass(frozen=True, slots=True)
class _Part:
    """A level held for hours: that of a link by itself, of a device, or of the mesh.

    Parameters
    ----------
    start : int
        Start of its stream of draws. [-]
    phase_ms : int
        How much of its first hold is over at hand-over. [ms]
    holds_ms : int
        How long it is held. [ms]
    table_cdb : tuple of int
        Equally likely levels. [cdB]
    """

    start: int
    phase_ms: int
    holds_ms: int
    table_cdb: tuple[int, ...]

    def level_cdb(self, time_ms: int) -> int:
        """Level at a moment. [cdB]."""
        hold = (time_ms + self.phase_ms) // self.holds_ms
        return self.table_cdb[level_place(self.start, hold)]

    def since_ms(self, time_ms: int) -> int:
        """When the hold of a moment began, perhaps before hand-over. [ms]."""
        return (time_ms + self.phase_ms) // self.holds_ms * self.holds_ms - self.phase_ms


class Levels:
    """How the strengths of all links of a mesh swing about their calm values in one lifetime."""

    def __init__(self, mesh: Mesh, luck: Luck) -> None:
        self._mesh = mesh
        air = mesh.air
        self._holds_ms = 1 if air is None else air.holds_ms
        self._luck = luck
        self._range_cdb = (0, 0) if air is None else (air.worst_cdb, air.best_cdb)
        own, *common = ((0,),) if air is None else (air.levels_cdb, *air.common_cdb)
        self._parts = {link.id: [self._part("link", link.id, own)] for link in mesh.links}
        if common:
            whole = self._part("mesh", "", common[0])
            ends = {one.id: self._part("device", one.id, common[1]) for one in mesh.devices}
            for link in mesh.links:
                self._parts[link.id] += [whole, ends[link.a], ends[link.b]]

    def _part(self, kind: str, id: str, table_cdb: Iterable[int]) -> _Part:
        start = stream(self._luck.seed, self._luck.lifetime, element_key(kind, id, SWING))
        phase = phase_ms(start, self._holds_ms)
        return _Part(start, phase, self._holds_ms, tuple(map(int, table_cdb)))

    @property
    def worst_cdb(self) -> int:
        """Lowest level of any link."""
        return self._range_cdb[0]

    @property
    def is_still(self) -> bool:
        """Whether no link ever swings."""
        return self._range_cdb[0] == self._range_cdb[1]

    def level_cdb(self, link: MeshLink, time_ms: int) -> int:
        """Level of a link at a moment. [cdB].

        Parameters
        ----------
        link : MeshLink
            One of the mesh. [-]
        time_ms : int
            The moment. [ms]
        """
        if self.is_still:
            return self.worst_cdb
        return sum(part.level_cdb(time_ms) for part in self._parts[link.id])

    def changes_ms(self, link: MeshLink) -> Iterator[int]:
        """Yield the times after hand-over from which a link has another level, without end."""
        parts, time_ms = self._parts[link.id], 0
        while True:
            time_ms = min(part.since_ms(time_ms) + self._holds_ms for part in parts)
            yield time_ms

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
        if not self._closes_alone(link, time_ms):
            return None
        since_ms = self._since_ms(link, time_ms)
        while since_ms > 0 and self._closes_alone(link, since_ms - 1):
            since_ms = self._since_ms(link, since_ms - 1)
        return max(0, since_ms)

    def _since_ms(self, link: MeshLink, time_ms: int) -> int:
        return max(part.since_ms(time_ms) for part in self._parts[link.id])

    def _closes_alone(self, link: MeshLink, time_ms: int) -> bool:
        level_cdb = self.level_cdb(link, time_ms)
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
                loss_cdb.update(element.loads)
        return [
            link
            for link in self._mesh.links
            if not self.is_still and link.path.cost(loss_cdb[link.id] - self.worst_cdb) is None
        ]
