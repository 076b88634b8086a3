"""What one lifetime is played on: devices, links with integer costs, and the rules."""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from resilience.building.settings import Routing
from resilience.building.site import Kind, Layout
from resilience.hazards.buildings import Paths
from resilience.units import ms_from_h


class Path(Protocol):
    """What a link knows of its radio: its cost under any added loss."""

    def cost(self, loss_cdb: int) -> int | None:
        """Cost in 1/128 transmission, None where the loss closes the link."""
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
    """One pair of devices that hear each other when nothing is in the way.

    Parameters
    ----------
    id : str
        ``a~b``. [-]
    a, b : str
        The two ends, in order of code point. [-]
    path : Path
        Its cost under any loss; usable when calm. [-]
    rssi_cdbm : tuple of int or None
        Strength from a to b and from b to a, where there is one. [cdBm]
    """

    id: str
    a: str
    b: str
    path: Path
    rssi_cdbm: tuple[int, int] | None = None


@dataclass(frozen=True)
class Mesh:
    """A layout in one possible building.

    Parameters
    ----------
    devices : tuple of MeshDevice
        In order of id. [-]
    links : tuple of MeshLink
        Links that are usable when calm, in order of (a, b). [-]
    routed_at_mean : frozenset of str
        Sensors that have a route when everything is up and shadowing is at its mean. [-]
    """

    devices: tuple[MeshDevice, ...]
    links: tuple[MeshLink, ...]
    routed_at_mean: frozenset[str]

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
        return {
            device.id: tuple(link for link in self.links if device.id in (link.a, link.b))
            for device in self.devices
        }


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
    """

    horizon_ms: int
    hysteresis: int
    backups: int
    rejoin_short_ms: int
    rejoin_long_ms: int
    reformation_ms: int
    standby_switch_ms: int = 0
    count_site_outages: bool = False

    @classmethod
    def of(cls, routing: Routing, horizon_years: float, count_site_outages: bool) -> "Rules":
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


def mesh_of(layout: Layout, paths: Paths, mean_paths: Paths, only_usable: bool = True) -> Mesh:
    """Mesh of a layout in one possible building.

    Parameters
    ----------
    layout : Layout
        The devices. [-]
    paths, mean_paths : dict of str to DrawnPath
        Its links in this building, and in the building as predicted. [-]
    only_usable : bool
        Whether to leave out links that carry nothing even when calm. [-]
    """
    devices = tuple(
        MeshDevice(device.id, device.kind, device.model.forwards, device.standby)
        for device in layout.devices
    )
    relays = {device.id for device in devices if device.forwards or device.kind is Kind.GATEWAY}
    return Mesh(
        devices,
        _links(paths, relays, only_usable),
        _routed(devices, _links(mean_paths, relays, only_usable=True)),
    )


def _links(paths: Paths, relays: set[str], only_usable: bool) -> tuple[MeshLink, ...]:
    """Links, of which the usable ones lead to at least one device that forwards."""
    links = []
    for id, path in paths.items():
        a, b = id.split("~")
        is_usable = (a in relays or b in relays) and path.cost(0) is not None
        if is_usable or not only_usable:
            strengths_cdbm = (path.there.rssi_cdbm, path.back.rssi_cdbm)
            links.append(MeshLink(id, a, b, path, strengths_cdbm))
    return tuple(sorted(links, key=lambda link: (link.a, link.b)))


def _routed(devices: tuple[MeshDevice, ...], links: tuple[MeshLink, ...]) -> frozenset[str]:
    """Sensors that have a route over these links while every device is up."""
    everything = Mesh(devices, links, frozenset())
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
