"""What several devices or links have in common, and what then strikes them together.

A circuit is one element that holds down all on it; interference and lasting changes are one element
a zone. Where an event strikes a share of those it may strike, or one after the other, each of these
is an element of its own whose clock follows the events (``Reach``): so it is blamed by its name,
mended by its own visit, and let go by what took it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache

from resilience.building.parts import ZONE_RATES
from resilience.building.settings import Circuit, Duration, Hardware, Hazards, ZoneLoss
from resilience.building.site import Device, Kind, Site
from resilience.building.timetable import Timetable, windows_ms
from resilience.building.timetable import Windows as WindowsMs
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
from resilience.hazards.laws import Windows, exponential, lasting, mending
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
    yield from _works(site, devices)
    yield from _water(site, devices)
    for cause in (ZONE_INTERFERENCE, ZONE_HEAT):
        yield from _zone_losses(cause, site, table)
    for change in _zone_losses(LASTING_CHANGE, site, table):
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


def _works(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    works = site.hazards.zone_works
    if works is None:
        return
    rates, lasts = zone_rates(site, ZONE_WORKS, works.per_year), lasting(works.lasts)
    for device in devices:
        if rates[device.zone_id] > 0:
            strikes = exponential(HOURS_PER_YEAR / rates[device.zone_id])
            reach = Reach(("zone", device.zone_id, ZONE_WORKS.name), works.share)
            yield _struck(ZONE_WORKS, device, Drawn(strikes, lasts, reach))


def _water(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    water = site.hazards.zone_water
    if water is None:
        return
    rates = zone_rates(site, ZONE_WATER, water.per_year)
    for device in devices:
        if rates[device.zone_id] == 0:
            continue
        strikes = exponential(HOURS_PER_YEAR / rates[device.zone_id])
        is_gateway = device.kind is Kind.GATEWAY
        repair = site.upkeep.gateway_repair if is_gateway else site.upkeep.repair
        reach = Reach(("zone", device.zone_id, ZONE_WATER.name), water.share)
        yield _struck(ZONE_WATER, device, Mended(strikes, mending(repair), reach=reach))


def _struck(cause: Cause, device: Device, clock: Drawn | Mended) -> Element:
    return Element(cause.name, device.id, cause.effect, (device.id,), clock=clock)


def _zone_losses(cause: Cause, site: Site, table: LinkTable) -> Iterator[Element]:
    """Yield what weakens every link with an end in a zone: a link has one loss for both ways."""
    hazard: ZoneLoss | None = getattr(site.hazards, cause.name)
    if hazard is None:
        return
    rates = zone_rates(site, cause, hazard.per_year)
    zone_of = {device.id: device.zone_id for device in table.layout.devices}
    links: dict[str, list[str]] = defaultdict(list)
    for id in table.link_ids:
        for zone in {zone_of[end] for end in link_ends(id) or ()}:
            links[zone].append(id)
    loss_cdb = cdb_from_db(hazard.loss_db)
    for zone, ids in sorted(links.items()):
        if rates[zone] > 0:
            clock = coming(site, rates[zone], hazard.lasts, hazard.when)
            yield Element(cause.name, zone, cause.effect, tuple(ids), loss_cdb, clock)


def zone_rates(site: Site, cause: Cause, usual_per_year: float) -> defaultdict[str, float]:
    """Return how often a hazard strikes each zone: as the zone states, else as everywhere.

    Parameters
    ----------
    site : Site
        Its building holds the zones. [-]
    cause : Cause
        The hazard. [-]
    usual_per_year : float
        What ``hazards`` has. [1/year]
    """
    stated = {zone.id: getattr(zone, ZONE_RATES[cause.name]) for zone in site.building.zones}
    known = {id: per_year for id, per_year in stated.items() if per_year is not None}
    return defaultdict(lambda: usual_per_year, known)


def coming(site: Site, per_year: float, lasts: Duration, when: Timetable) -> Drawn:
    """Return the clock of what comes in the hours of a timetable and ends by itself, at any time.

    Parameters
    ----------
    site : Site
        States hand-over and horizon. [-]
    per_year : float
        How often, above 0; what comes in few hours comes the more often in these. [1/year]
    lasts : Duration
        How long. [-]
    when : Timetable
        When it may come. [-]
    """
    within = None if when.is_always else _windows(in_force_ms(site, when))
    strikes = exponential(HOURS_PER_YEAR * when.share / per_year)
    return Drawn(strikes, lasting(lasts), within=within)


@lru_cache(maxsize=64)
def _windows(spans_ms: WindowsMs) -> Windows:
    """Windows of these spans, the same ones for all who share them."""
    return Windows.of(spans_ms)


def in_force_ms(site: Site, when: Timetable) -> WindowsMs:
    """Start and end of each time in which a timetable is in force, up to the horizon.

    Parameters
    ----------
    site : Site
        States hand-over and horizon. [-]
    when : Timetable
        The timetable. [-]
    """
    return windows_ms(when, site.hand_over, ms_from_h(site.horizon_years * HOURS_PER_YEAR))
