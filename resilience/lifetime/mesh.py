"""What one lifetime is played on: devices, links with integer costs, and the rules."""

from collections import defaultdict
from collections.abc import Sequence, Set
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Routing
from resilience.building.site import Kind
from resilience.connectivity.air import Air
from resilience.connectivity.table import LinkTable
from resilience.hazards.upkeep import Calls, RoundPlan
from resilience.lifetime.record import USUAL_WATCH, Watch
from resilience.units import ms_from_h

Ints = NDArray[np.int64]


class Path(Protocol):
    """What a link knows of its radio: its cost under any loss."""

    def cost(self, loss_cdb: int) -> int | None:
        """Cost in 1/128 transmission, None where the loss closes the link.

        The loss is the sum of all in force less the level of the link's swing, so it may be
        below 0.
        """
        ...

    @property
    def dearest(self) -> int:
        """Cost that no loss can exceed while the link is usable."""
        ...


@dataclass(frozen=True, slots=True)
class GivenPath:
    """A link whose cost is known and that no loss can change; a blockage can only cut it.

    Parameters
    ----------
    calm_cost : int
        Cost whatever happens. [1/128 ETX]
    """

    calm_cost: int

    def cost(self, loss_cdb: int) -> int | None:  # noqa: ARG002 - the answer is the same
        """Return the calm cost."""
        return self.calm_cost

    @property
    def dearest(self) -> int:
        """The calm cost."""
        return self.calm_cost


@dataclass(frozen=True, slots=True)
class DrawnPath:
    """A link in one possible building.

    Parameters
    ----------
    air : Air
        What all links of the site have in common. [-]
    spare_cdb : int
        Loss that it takes when calm before it stops being usable; below 0 it is not. [cdB]
    heard_cdbm : tuple of (int, int)
        Calm strengths that stand for its reception, there and back. [cdBm]
    rssi_cdbm : tuple of (int, int)
        Calm strengths, there and back. [cdBm]
    """

    air: Air
    spare_cdb: int
    heard_cdbm: tuple[int, int]
    rssi_cdbm: tuple[int, int]

    def cost(self, loss_cdb: int) -> int | None:
        """Cost under a loss, None where the link is not usable then.

        Parameters
        ----------
        loss_cdb : int
            Losses in force less the level of the swing. [cdB]
        """
        if self.spare_cdb < loss_cdb:
            return None
        there_cdbm, back_cdbm = self.heard_cdbm
        return self.air.cost(there_cdbm - loss_cdb, back_cdbm - loss_cdb)

    @property
    def dearest(self) -> int:
        """Cost that no loss can exceed while the link is usable."""
        return self.air.dearest


@dataclass(frozen=True, slots=True)
class MeshDevice:
    """One device, as far as routing cares.

    Parameters
    ----------
    id : str
        Its id. [-]
    kind : Kind
        Gateway, sensor or repeater. [-]
    forwards : bool
        Whether others may choose it as parent; always so for a gateway. [-]
    standby : bool
        A gateway that serves only while no other is up. [-]
    """

    id: str
    kind: Kind
    forwards: bool = True
    standby: bool = False


@dataclass(frozen=True, slots=True)
class MeshLink:
    """One pair of devices that hear each other at the best moments.

    Parameters
    ----------
    id : str
        ``a~b``. [-]
    a, b : str
        The two ends, in order of code point. [-]
    path : Path
        Its cost under any loss. [-]
    """

    id: str
    a: str
    b: str
    path: Path


@dataclass(frozen=True)
class Mesh:
    """A layout in one possible building.

    Parameters
    ----------
    devices : tuple of MeshDevice
        In order of id. [-]
    links : tuple of MeshLink
        Links that are usable at the highest level of their swing, in order of (a, b). [-]
    routed_at_mean : frozenset of str
        Sensors that have a route when everything is up and calm and shadowing at its mean. [-]
    air : Air or None
        Swing of all links; None where nothing swings. [-]
    """

    devices: tuple[MeshDevice, ...]
    links: tuple[MeshLink, ...]
    routed_at_mean: frozenset[str]
    air: Air | None = None

    @cached_property
    def sensors(self) -> tuple[str, ...]:
        """Ids of the sensors, in order."""
        return tuple(device.id for device in self.devices if device.kind is Kind.SENSOR)

    @cached_property
    def gateways(self) -> tuple[str, ...]:
        """Ids of the gateways, in order."""
        return tuple(device.id for device in self.devices if device.kind is Kind.GATEWAY)

    @cached_property
    def relays(self) -> frozenset[str]:
        """Ids of the devices that others may choose as parent."""
        return frozenset(
            device.id for device in self.devices if device.forwards or device.kind is Kind.GATEWAY
        )

    @cached_property
    def link(self) -> dict[str, MeshLink]:
        """Links by id."""
        return {link.id: link for link in self.links}

    @cached_property
    def links_of(self) -> dict[str, tuple[MeshLink, ...]]:
        """Links of each device, in order."""
        links: dict[str, list[MeshLink]] = defaultdict(list)
        for link in self.links:
            links[link.a].append(link)
            links[link.b].append(link)
        return {device.id: tuple(links[device.id]) for device in self.devices}


@dataclass(frozen=True, slots=True)
class Rules:
    """How long a lifetime is and how its network behaves.

    Parameters
    ----------
    horizon_ms : int
        End of the lifetime. [ms]
    hysteresis : int
        Gain that a better parent must exceed. [1/128 ETX]
    backups : int
        Neighbours that a device keeps ready beside its parent. [-]
    rejoin_short_ms, rejoin_long_ms : int
        Silence on moving to a neighbour kept ready; to any other. [ms]
    reformation_ms : int
        Unbroken presence of a gateway that ends a site outage. [ms]
    standby_switch_ms : int
        Time without a primary gateway after which a standby serves. [ms]
    count_site_outages : bool
        Whether a site outage makes orphans or is counted by itself. [-]
    look_around_ms : int
        At its whole multiples devices compare their neighbours; 0 is in every step, and only for
        links that do not swing. [ms]
    calls : Calls or None
        How calls to sensors and repeaters are answered; None: every failure has a visit at once,
        unless one is under way. [-]
    watch : Watch
        What the row of a lifetime tells of many being lost at once. [-]
    rounds : RoundPlan or None
        Planned rounds that put new cells in; None is none. [-]
    """

    horizon_ms: int
    hysteresis: int
    backups: int
    rejoin_short_ms: int
    rejoin_long_ms: int
    reformation_ms: int
    standby_switch_ms: int = 0
    count_site_outages: bool = False
    look_around_ms: int = 0
    calls: Calls | None = None
    watch: Watch = USUAL_WATCH
    rounds: RoundPlan | None = None

    @classmethod
    def of(
        cls,
        routing: Routing,
        horizon_years: float,
        count_site_outages: bool,
        watch: Watch = USUAL_WATCH,
    ) -> "Rules":
        """Return the rules that a site states, in the units of the engines."""
        return cls(
            horizon_ms=ms_from_h(horizon_years * 8766),
            hysteresis=routing.hysteresis,
            backups=routing.backups,
            rejoin_short_ms=ms_from_h(routing.rejoin_short_h),
            rejoin_long_ms=ms_from_h(routing.rejoin_long_h),
            reformation_ms=ms_from_h(routing.reformation_h),
            standby_switch_ms=ms_from_h(routing.standby_switch_h),
            count_site_outages=count_site_outages,
            look_around_ms=ms_from_h(routing.look_around_h),
            watch=watch,
        )


@dataclass(frozen=True, slots=True)
class Luck:
    """Which of the many lifetimes this is.

    Parameters
    ----------
    seed : int
        Seed of the study. [-]
    lifetime : int
        Number of the lifetime, from 0. [-]
    """

    seed: int
    lifetime: int


def mesh_of(table: LinkTable, strengths_cdbm: Ints, absent: Set[str] = frozenset()) -> Mesh:
    """Mesh of a layout in one possible building.

    Parameters
    ----------
    table : LinkTable
        Devices and links. [-]
    strengths_cdbm : Ints
        Shape (links, 2): calm strengths there and back in this building. [cdBm]
    absent : set of str
        Ids of devices to leave out. [-]
    """
    air = Air.of(table.radio, table.routing)
    devices = tuple(
        MeshDevice(device.id, device.kind, device.model.forwards, device.standby)
        for device in table.devices
        if device.id not in absent
    )
    links = _links(table, air, strengths_cdbm, absent, air.best_cdb)
    calm = _links(table, air, table.calm_cdbm(), absent, 0)
    return Mesh(devices, links, _routed(devices, calm), air)


def _links(
    table: LinkTable, air: Air, strengths_cdbm: Ints, absent: Set[str], level_cdb: int
) -> tuple[MeshLink, ...]:
    """Links that are usable at a level and lead to what forwards, in order of (a, b)."""
    heard_cdbm = strengths_cdbm + table.shift_cdb()
    spare_cdb = air.spare_cdb(strengths_cdbm, heard_cdbm, table.floor_cdbm())
    forwards = [one.model.forwards or one.kind is Kind.GATEWAY for one in table.devices]
    is_here = np.array([id not in absent for id in table.ids], np.bool_)
    serves = is_here[table.ends].all(axis=1)
    serves &= np.array(forwards, np.bool_)[table.ends].any(axis=1)
    (rows,) = np.nonzero(serves & (spare_cdb + level_cdb >= 0))
    columns = (table.ends, spare_cdb, heard_cdbm, strengths_cdbm)
    return tuple(
        MeshLink(
            table.link_ids[row],
            table.ids[a],
            table.ids[b],
            DrawnPath(air, one_cdb, (heard[0], heard[1]), (calm[0], calm[1])),
        )
        for row, (a, b), one_cdb, heard, calm in zip(
            rows.tolist(), *(column[rows].tolist() for column in columns), strict=True
        )
    )


def _routed(devices: tuple[MeshDevice, ...], links: Sequence[MeshLink]) -> frozenset[str]:
    """Sensors that have a route over these links while every device is up."""
    everything = Mesh(devices, tuple(links), frozenset())
    reached, to_do = set(everything.gateways), list(everything.gateways)
    while to_do:
        here = to_do.pop()
        for link in everything.links_of[here]:
            other = link.b if link.a == here else link.a
            if other not in reached:
                reached.add(other)
                if other in everything.relays:
                    to_do.append(other)
    return frozenset(reached.intersection(everything.sensors))
