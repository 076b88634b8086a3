"""Visits, planned rounds, and the parts that are taken along."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, field
from typing import Protocol

from resilience.draws import element_key, stream, uniform
from resilience.hazards.causes import SERVICE
from resilience.hazards.elements import Mended
from resilience.hazards.laws import Law
from resilience.hazards.upkeep import (
    PARTS,
    UNLIMITED,
    Calls,
    RoundPlan,
    Shelf,
    after_work_ms,
    delivery_luck,
)
from resilience.lifetime.mesh import Luck, Mesh
from resilience.lifetime.record import Call, Holder
from resilience.lifetime.reference.holds import Holds


@dataclass(slots=True)
class Visit:
    """A visit, from setting out to its end.

    Parameters
    ----------
    device : str
        The device that it was called for. [-]
    starts_ms, ends_ms : int
        Begin and end of the work. [ms]
    worked_ms : int
        Travel and work, in working hours. [ms]
    call : Call or None
        What it answers; None where a failure has its visit at once. [-]
    sees_to : set of str
        Devices that it mends. [-]
    noted : set of Holder or None
        Failures that were there as the work began, where only these are mended. [-]
    brought : dict of str to str
        Kind of the part for each device, of kinds that are kept on a shelf. [-]
    """

    device: str
    starts_ms: int
    ends_ms: int
    worked_ms: int
    call: Call | None = None
    sees_to: set[str] = field(default_factory=set)
    noted: set[Holder] | None = None
    brought: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Scene:
    """What the desk hears after a step, of sensors and repeaters.

    Parameters
    ----------
    silent, heard : set of str
        Devices whose silence counts; devices that are heard. Who is cut off with the whole site is
        neither. [-]
    struck : set of str
        Devices that something struck in this step that a visit mends. [-]
    failures : mapping of str to set of Holder
        What a visit would mend, by device. [-]
    """

    silent: Set[str]
    heard: Set[str]
    struck: Set[str]
    failures: Mapping[str, Set[Holder]]


class Store:
    """Parts of one kind: those on the shelf, and those on order.

    Parameters
    ----------
    kept : int
        How many are kept. [-]
    delivery : Law
        From order to shelf. [ms]
    start : int
        Start of the stream of deliveries. [-]
    """

    def __init__(self, kept: int, delivery: Law, start: int) -> None:
        self._kept, self._delivery, self._start = kept, delivery, start
        self.here, self._n_ordered, self._n_arrived = kept, 0, 0

    def arrive(self) -> None:
        """Put what was ordered on the shelf."""
        self.here += 1
        self._n_arrived += 1

    def deliveries_ms(self, n_waiting: int) -> Iterator[int]:
        """Order what is missing while so many calls wait; yield how long each delivery takes."""
        while self.here + self._n_ordered - self._n_arrived < self._kept + n_waiting:
            yield self._delivery.drawn_ms(uniform(self._start, self._n_ordered))
            self._n_ordered += 1


class Lookout:
    """What somebody who looks at the site would find.

    Parameters
    ----------
    mesh : Mesh
        The layout. [-]
    calls : Calls or None
        How calls come about. [-]
    holds : Holds
        What is away. [-]
    """

    def __init__(self, mesh: Mesh, calls: Calls | None, holds: Holds) -> None:
        self._mesh = mesh
        self._calls = calls
        self._holds = holds

    def failures(self) -> dict[str, set[Holder]]:
        """What a visit would mend, by device."""
        found: dict[str, set[Holder]] = {device.id: set() for device in self._mesh.devices}
        for name, (_, element) in self._holds.away.items():
            if isinstance(element.clock, Mended):
                found[element.targets[0]].add(name)
        return found

    def lasting(self, held: Iterable[tuple[str, Holder]]) -> dict[str, Holder]:
        """Lasting changes that a visit would end, by the orphan that is put down to each.

        Parameters
        ----------
        held : iterable of (str, Holder)
            Orphans and what they are put down to. [-]
        """
        if self._calls is None or not self._calls.resurveys:
            return {}
        away = self._holds.away
        known = ((sensor, holder) for sensor, holder in held if holder in away)
        return {sensor: holder for sensor, holder in known if away[holder][1].is_lasting}

    def scene(self, struck: Set[str], routed: Set[str], in_outage: bool) -> Scene:
        """Return what the desk hears after a step.

        Parameters
        ----------
        struck : set of str
            Devices that something struck that a visit mends. [-]
        routed : set of str
            Devices that have a route. [-]
        in_outage : bool
            Whether the site is cut off. [-]
        """
        assert self._calls is not None
        failures = self.failures()
        devices = failures.keys() - set(self._mesh.gateways)
        silent, cut_off = {id for id in devices if failures[id]}, set[str]()
        if self._calls.alarm_ms:
            served = {id for cause, id in self._holds.away if cause == SERVICE.name}
            silent = {id for id in devices if self._holds.is_silent(id, id in served)}
            if self._calls.hears_orphans:
                cut_off = set(self._mesh.sensors) - routed - served
        heard = devices - silent - cut_off
        return Scene(silent if in_outage else silent | cut_off, heard, struck, failures)


def stores_of(calls: Calls | None, luck: Luck) -> dict[str, Store]:
    """Return the kinds of parts that there are not without end, by name.

    Parameters
    ----------
    calls : Calls or None
        Says what is kept. [-]
    luck : Luck
        Which lifetime it is. [-]
    """
    shelf = Shelf() if calls is None else calls.shelf
    return {
        part: Store(
            shelf.kept(part),
            shelf.delivery,
            stream(luck.seed, luck.lifetime, element_key(*delivery_luck(part))),
        )
        for part in PARTS
        if shelf.kept(part) != UNLIMITED
    }


class Renewable(Protocol):
    """Cells that a round may renew."""

    def is_due(self, now: int, plan: RoundPlan) -> bool:
        """Whether a planned round puts new cells in."""
        ...


def going_round(
    plan: RoundPlan,
    batteries: Mapping[str, Renewable],
    begins: Callable[[str, bool], None],
    ends: Callable[[str], None],
) -> Iterator[int]:
    """Go round after round, and yield each moment that has to be waited for.

    Parameters
    ----------
    plan : RoundPlan
        When, and which cells are renewed. [-]
    batteries : mapping of str to Renewable
        Those of sensors and repeaters. [-]
    begins : callable
        Takes a device off the mesh; told whether it is the first of its round. [-]
    ends : callable
        Puts it back with new cells. [-]
    """
    now = 0
    while True:
        now = (now // plan.every_ms + 1) * plan.every_ms
        yield now
        to_come, is_first = sorted(batteries, reverse=True), True
        while to_come:
            if (open_ms := after_work_ms(now, 0, *plan.hours)) > now:
                now = open_ms
                yield now
            while to_come and not batteries[to_come[-1]].is_due(now, plan):
                to_come.pop()
            if to_come:
                device = to_come.pop()
                begins(device, is_first)
                now, is_first = now + plan.service_ms, False
                yield now
                ends(device)
