"""What several devices or links have in common, and what then strikes them together.

A circuit is one element that holds down all on it; interference and lasting changes are one element
a zone. Where an event strikes a share of those it may strike, or one after the other, each of these
is an element of its own whose clock follows the events (``Reach``): so it is blamed by its name,
mended by its own visit, and let go by what took it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace

from resilience.building.settings import Circuit, Duration, Hardware, Hazards, ZoneLoss
from resilience.building.site import Device, Kind, Site
from resilience.connectivity.rows import link_ends
from resilience.connectivity.table import LinkTable
from resilience.hazards.causes import (
    CIRCUIT_OUTAGE,
    COMMON_CAUSE,
    LASTING_CHANGE,
    SOFTWARE_RELEASE,
    ZONE_HEAT,
    ZONE_INTERFERENCE,
    ZONE_WATER,
    ZONE_WORKS,
    Cause,
)
from resilience.hazards.elements import Drawn, Element, Mended, Reach
from resilience.hazards.laws import exponential, lasting, mending
from resilience.units import HOURS_PER_YEAR, cdb_from_db, ms_from_h

NEVER_H = 1e12  # a hundred million years


class Circuits:
    """Supply circuits of a layout, each of which takes all that hangs on it.

    Parameters
    ----------
    site : Site
        States circuits and hazards. [-]
    devices : iterable of Device
        Those of the layout. [-]
    """

    def __init__(self, site: Site, devices: Iterable[Device]) -> None:
        self._stated = dict(site.circuits)
        self._hazards = site.hazards
        self._fed: dict[str, list[Device]] = defaultdict(list)
        for device in devices:
            if device.circuit_id:
                self._fed[device.circuit_id].append(device)

    def per_year(self, device: Device) -> float:
        """Losses of supply a year that a device has from its circuit, alone on it or not.

        Parameters
        ----------
        device : Device
            One of the layout. [-]
        """
        id = device.circuit_id
        mains, outage = self._hazards.mains_outage, self._hazards.circuit_outage
        if not id or outage is None:
            return 0.0
        stated = self._stated.get(id, Circuit()).per_year
        if stated is not None:
            return stated
        return 0.0 if mains is None else outage.share * mains.per_year

    def rows(self) -> Iterator[Element]:
        """Yield losses of supply of each circuit, less what a backup bridges."""
        for id, fed in sorted(self._fed.items()):
            per_year = self.per_year(fed[0])
            if per_year > 0:
                one = self._stated.get(id, Circuit())
                backup_ms = ms_from_h(one.backup_h)
                luck = ("circuit", id, CIRCUIT_OUTAGE.name)
                clock = Drawn(
                    exponential(HOURS_PER_YEAR / per_year),
                    lasting(self._lasts(one)),
                    Reach(luck, after_ms=backup_ms) if backup_ms else None,
                )
                targets = tuple(sorted(device.id for device in fed))
                yield Element(CIRCUIT_OUTAGE.name, id, CIRCUIT_OUTAGE.effect, targets, clock=clock)

    def _lasts(self, circuit: Circuit) -> Duration:
        if circuit.lasts is not None:
            return circuit.lasts
        # The reader gives one to every circuit where that hazard is off.
        assert self._hazards.mains_outage is not None
        return self._hazards.mains_outage.lasts


def own_life_h(hazards: Hazards, wear: Hardware) -> float:
    """Mean life of a device's hardware as far as it does not fail with all others of its model.

    Parameters
    ----------
    hazards : Hazards
        Says what share of failures is common. [-]
    wear : Hardware
        Life of the hardware. [h]
    """
    beta = 0.0 if hazards.common_cause is None else hazards.common_cause.beta
    return wear.mttf_h / (1 - beta) if beta < 1 else NEVER_H


def shared_rows(site: Site, table: LinkTable) -> Iterator[Element]:
    """Yield what zones and models have in common.

    Parameters
    ----------
    site : Site
        States hazards and upkeep. [-]
    table : LinkTable
        The layout and its links. [-]
    """
    devices, hazards = table.layout.devices, site.hazards
    yield from _common_failures(site, devices)
    yield from _releases(hazards, devices)
    yield from _works(hazards, devices)
    yield from _water(site, devices)
    yield from _zone_losses(ZONE_INTERFERENCE, hazards.zone_interference, table)
    yield from _zone_losses(ZONE_HEAT, hazards.zone_heat, table)
    for change in _zone_losses(LASTING_CHANGE, hazards.lasting_change, table):
        yield replace(change, is_lasting=True)


def _common_failures(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    # MODELS.md, "beta factor": of all failures the share beta takes every device of the model.
    common, wear = site.hazards.common_cause, site.hazards.hardware
    if common is None or wear is None or common.beta == 0:
        return
    strikes = exponential(wear.mttf_h / common.beta)
    repair = mending(site.upkeep.repair)
    for device in devices:
        if device.kind is not Kind.GATEWAY:
            reach = Reach(("model", device.model_name, COMMON_CAUSE.name))
            yield _struck(COMMON_CAUSE, device, Mended(strikes, repair, reach=reach))


def _releases(hazards: Hazards, devices: tuple[Device, ...]) -> Iterator[Element]:
    release = hazards.software_release
    if release is None:
        return
    strikes, lasts = exponential(HOURS_PER_YEAR / release.per_year), lasting(release.lasts)
    for device in devices:
        if device.kind is not Kind.GATEWAY:
            reach = Reach(
                ("model", device.model_name, SOFTWARE_RELEASE.name),
                release.share,
                spread_ms=ms_from_h(release.staged_h),
            )
            yield _struck(SOFTWARE_RELEASE, device, Drawn(strikes, lasts, reach))


def _works(hazards: Hazards, devices: tuple[Device, ...]) -> Iterator[Element]:
    works = hazards.zone_works
    if works is None:
        return
    strikes, lasts = exponential(HOURS_PER_YEAR / works.per_year), lasting(works.lasts)
    for device in devices:
        reach = Reach(("zone", device.zone_id, ZONE_WORKS.name), works.share)
        yield _struck(ZONE_WORKS, device, Drawn(strikes, lasts, reach))


def _water(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    water = site.hazards.zone_water
    if water is None:
        return
    strikes = exponential(HOURS_PER_YEAR / water.per_year)
    for device in devices:
        is_gateway = device.kind is Kind.GATEWAY
        repair = site.upkeep.gateway_repair if is_gateway else site.upkeep.repair
        reach = Reach(("zone", device.zone_id, ZONE_WATER.name), water.share)
        yield _struck(ZONE_WATER, device, Mended(strikes, mending(repair), reach=reach))


def _struck(cause: Cause, device: Device, clock: Drawn | Mended) -> Element:
    return Element(cause.name, device.id, cause.effect, (device.id,), clock=clock)


def _zone_losses(cause: Cause, hazard: ZoneLoss | None, table: LinkTable) -> Iterator[Element]:
    """Yield what weakens every link with an end in a zone: a link has one loss for both ways."""
    if hazard is None:
        return
    zone_of = {device.id: device.zone_id for device in table.layout.devices}
    links: dict[str, list[str]] = defaultdict(list)
    for id in table.link_ids:
        for zone in {zone_of[end] for end in link_ends(id) or ()}:
            links[zone].append(id)
    clock = Drawn(exponential(HOURS_PER_YEAR / hazard.per_year), lasting(hazard.lasts))
    loss_cdb = cdb_from_db(hazard.loss_db)
    for zone, ids in sorted(links.items()):
        yield Element(cause.name, zone, cause.effect, tuple(ids), loss_cdb, clock)
