"""The hazard table of a layout: one row for everything that can strike.

A new hazard is a setting in ``assumptions/hazards.py``, a field in ``building/settings.py``, its
description in ``causes`` and a function here that yields its rows.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from resilience.building.settings import GatewayOutage, Hazards, MainsOutage
from resilience.building.site import UNDRAWN, Device, Kind, Site, Supply
from resilience.building.stated.standing import Standing
from resilience.building.structure import Change
from resilience.building.timetable import Timetable
from resilience.building.upkeep import Upkeep
from resilience.connectivity.table import Ints, LinkTable
from resilience.hazards.causes import (
    BUSY_HOURS,
    DEVICE_MUTE,
    GATEWAY_HARDWARE,
    GATEWAY_OUTAGE,
    HARDWARE,
    LINK_BLOCKAGE,
    MAINS_OUTAGE,
    OBSTACLE,
    REMOVED,
    TIMETABLE,
    Cause,
)
from resilience.hazards.cells import cells_of
from resilience.hazards.elements import (
    DRAWN,
    Cells,
    Drawn,
    Element,
    Mended,
    Scripted,
    refuse_collisions,
)
from resilience.hazards.fates import batch_luck
from resilience.hazards.laws import NEVER, exponential, lasting, mending, weibull
from resilience.hazards.shared import (
    Circuits,
    coming,
    in_force_ms,
    own_life_h,
    shared_rows,
    zone_rates,
)
from resilience.hazards.upkeep import PARTS, delivery_luck
from resilience.units import HOURS_PER_YEAR, MS_PER_H, cdb_from_db

NOWHERE = np.zeros(0, np.int64)


@dataclass(frozen=True, slots=True)
class HazardTable:
    """Everything that can strike one layout.

    Parameters
    ----------
    elements : tuple of Element
        In order of (cause, id). [-]
    cells : tuple of Cells
        Batteries, in order of device. [-]
    """

    elements: tuple[Element, ...]
    cells: tuple[Cells, ...]


def hazard_table(site: Site, table: LinkTable) -> HazardTable:
    """Rows for every device and link of a layout.

    Parameters
    ----------
    site : Site
        States hazards and upkeep. [-]
    table : LinkTable
        The layout and its links. [-]

    Raises
    ------
    KeyCollisionError
        Two rows would share their luck.
    """
    devices = table.layout.devices
    circuits = Circuits(site, devices)
    elements = (
        *_hardware(site, devices),
        *_gateway_hardware(site, devices),
        *_gateway_outages(site.hazards, circuits, devices),
        *_mains_outages(site.hazards, circuits, devices),
        *_removals(site, devices),
        *_mutes(site.hazards, site.upkeep, devices),
        *circuits.rows(),
        *shared_rows(site, table),
        *_blockages(site, table),
        *_obstacles(site, table),
        *_timetables(site, table),
        *_busy_hours(site, table),
    )
    cells = tuple(cells_of(site, devices, mending(site.upkeep.repair)))
    upkeep = [("device", device.id, what) for device in devices for what in DRAWN]
    upkeep += map(delivery_luck, PARTS)
    batches = [batch_luck(one.batch) for one in cells]
    clocks = [one.clock for one in elements if not isinstance(one.clock, Scripted)]
    events = [clock.reach.luck for clock in clocks if clock.reach]
    refuse_collisions([*(element.luck for element in elements), *events, *upkeep, *batches])
    return HazardTable(tuple(sorted(elements, key=lambda element: element.name)), cells)


def links_through(table: LinkTable) -> dict[str, Ints]:
    """Rows of the links that each door and obstacle stands in, by its id; none is empty.

    Parameters
    ----------
    table : LinkTable
        What is in the way of measured links is known as well, between two places. [-]
    """
    met, n_links = table.hindrances, len(table.ends)
    ids = sorted({label.id for label in met.labels if label.id})
    place = {id: n for n, id in enumerate(ids)}
    thing = np.array([place.get(label.id, -1) for label in met.labels], np.int64)[met.label]
    told = thing >= 0
    things, rows = np.divmod(np.unique(thing[told] * n_links + met.path[told]), n_links)
    present, first = np.unique(things, return_index=True)
    split = np.split(rows, first[1:])
    return {ids[thing]: split[n] for n, thing in enumerate(present.tolist())}


def _hardware(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    """Failures of sensors and repeaters, early deaths of the weak ones among them."""
    early, wear = site.hazards.early_failure, site.hazards.hardware
    clock = Mended(
        NEVER if wear is None else weibull(own_life_h(site.hazards, wear), wear.shape),
        mending(site.upkeep.repair),
        weak_share=0.0 if early is None else early.share,
        weak_ms=1.0 if early is None else early.mean_h * MS_PER_H,
    )
    ours = [one for one in devices if one.kind is not Kind.GATEWAY]
    return _wearing(HARDWARE, clock, site.standing, ours)


def _gateway_hardware(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    wear = site.hazards.gateway_hardware
    law = NEVER if wear is None else weibull(wear.mttf_h, wear.shape)
    clock = Mended(law, mending(site.upkeep.gateway_repair))
    gateways = [one for one in devices if one.kind is Kind.GATEWAY]
    return _wearing(GATEWAY_HARDWARE, clock, site.standing, gateways)


def _wearing(
    cause: Cause, clock: Mended, standing: Standing, devices: Iterable[Device]
) -> Iterator[Element]:
    """Devices that grow old, and those that are down as lifetimes begin, whatever the cause."""
    can_strike = clock.strikes != NEVER or clock.weak_share > 0
    for device in devices:
        is_down = standing.is_down(device.id)
        if can_strike or is_down:
            aged = replace(clock, lived_ms=float(standing.age_ms(device.id)), is_found_down=is_down)
            yield Element(cause.name, device.id, cause.effect, (device.id,), clock=aged)


def _gateway_outages(
    hazards: Hazards, circuits: Circuits, devices: tuple[Device, ...]
) -> Iterator[Element]:
    gateways = [device for device in devices if device.kind is Kind.GATEWAY]
    return _outages(GATEWAY_OUTAGE, hazards.gateway_outage, circuits, gateways)


def _mains_outages(
    hazards: Hazards, circuits: Circuits, devices: tuple[Device, ...]
) -> Iterator[Element]:
    """Losses of supply of what runs on mains; those of gateways are among their outages."""
    plugged = [
        device
        for device in devices
        if device.supply is Supply.MAINS and device.kind is not Kind.GATEWAY
    ]
    return _outages(MAINS_OUTAGE, hazards.mains_outage, circuits, plugged)


def _outages(
    cause: Cause,
    outage: GatewayOutage | MainsOutage | None,
    circuits: Circuits,
    devices: list[Device],
) -> Iterator[Element]:
    """Outages of each device by itself: those of its circuit are rows of the circuit."""
    if outage is None:
        return
    for device in devices:
        per_year = outage.per_year - circuits.per_year(device)
        if per_year > 0:
            clock = Drawn(exponential(HOURS_PER_YEAR / per_year), lasting(outage.lasts))
            yield Element(cause.name, device.id, cause.effect, (device.id,), clock=clock)


def _removals(site: Site, devices: tuple[Device, ...]) -> Iterator[Element]:
    """What people take away, more often where they reach it."""
    removed = site.hazards.removed
    if removed is None:
        return
    rates = zone_rates(site, REMOVED, removed.reach_per_year)
    for device in devices:
        is_high = device.place is not None and device.place.height_m > removed.reach_m
        per_year = removed.high_per_year if is_high else rates[device.zone_id]
        if device.kind is not Kind.GATEWAY and per_year > 0:
            yield _mended(REMOVED, device, per_year, site.upkeep)


def _mutes(hazards: Hazards, upkeep: Upkeep, devices: tuple[Device, ...]) -> Iterator[Element]:
    """Sensors that relay and do not measure."""
    if hazards.device_mute is None:
        return
    for device in devices:
        if device.kind is Kind.SENSOR:
            yield _mended(DEVICE_MUTE, device, hazards.device_mute.per_year, upkeep)


def _mended(cause: Cause, device: Device, per_year: float, upkeep: Upkeep) -> Element:
    clock = Mended(exponential(HOURS_PER_YEAR / per_year), mending(upkeep.repair))
    return Element(cause.name, device.id, cause.effect, (device.id,), clock=clock)


def _blockages(site: Site, table: LinkTable) -> Iterator[Element]:
    """Something in the way of one link for a while."""
    hazards, blockage = site.hazards, site.hazards.link_blockage
    stated_per_year = 0.0 if blockage is None else blockage.rate_per_year(table.radio.environment)
    if blockage is None or stated_per_year == 0:
        return
    drawn: dict[int, list[float]] = defaultdict(list)
    through = links_through(table)
    for id, change in _changing(hazards, table).items():
        for row in through.get(id, NOWHERE).tolist():
            drawn[row].append(change.per_year)
    # Few rates for many links, so few clocks.
    clock = cache(lambda per_year: coming(site, per_year, blockage.lasts, blockage.when))
    loss_cdb = cdb_from_db(blockage.loss_db)
    for row, id in enumerate(table.link_ids):
        per_year = _undrawn_per_year(hazards, stated_per_year, drawn.get(row, []))
        yield Element(
            LINK_BLOCKAGE.name,
            id,
            LINK_BLOCKAGE.effect,
            (id,),
            loss_cdb,
            clock(per_year),
        )


def _undrawn_per_year(
    hazards: Hazards, stated_per_year: float, drawn_per_year: list[float]
) -> float:
    """Rate of blockages less those that are drawn, which the stated rate counts as well."""
    if hazards.obstacles is None:
        return stated_per_year
    least_per_year = hazards.obstacles.blockage_share * stated_per_year
    return max(least_per_year, stated_per_year - math.fsum(drawn_per_year))


def _changing(hazards: Hazards, table: LinkTable) -> dict[str, Change]:
    """What moves in the building, unless that hazard is off."""
    if hazards.obstacles is None:
        return {}
    return {id: one for id, one in table.building.changing.items() if one.per_year > 0}


def _obstacles(site: Site, table: LinkTable) -> Iterator[Element]:
    """What changes in the building, each with every link through it, measured ones among them."""
    through = links_through(table)
    for id, change in _changing(site.hazards, table).items():
        rows = through.get(id, NOWHERE).tolist()
        if rows and not change.is_fixed:
            yield Element(
                OBSTACLE.name,
                id,
                OBSTACLE.effect,
                tuple(table.link_ids[row] for row in rows),
                cdb_from_db(change.adds_db),
                coming(site, change.per_year, change.lasts, change.when),
            )


def _timetables(site: Site, table: LinkTable) -> Iterator[Element]:
    """What changes by the clock: all on one timetable are one element, named after the only one.

    That goes by the building, so an element is the same in every layout.
    """
    through, losses = links_through(table), defaultdict[Timetable, dict[str, int]](dict)
    for id, change in _changing(site.hazards, table).items():
        if change.is_fixed:
            losses[change.when][id] = cdb_from_db(change.adds_db)
    for when, added_cdb in losses.items():
        sums: Counter[str] = Counter()
        for id, loss_cdb in added_cdb.items():
            for row in through.get(id, NOWHERE).tolist():
                sums[table.link_ids[row]] += loss_cdb
        if sums:
            cause = OBSTACLE if len(added_cdb) == 1 else TIMETABLE
            id = next(iter(added_cdb)) if len(added_cdb) == 1 else when.words
            yield _by_clock(site, cause, id, dict(sorted(sums.items())), when)


def _busy_hours(site: Site, table: LinkTable) -> Iterator[Element]:
    """People about in busy hours, who take a little from every link."""
    busy = site.hazards.busy_hours
    if busy is not None and table.link_ids:
        loss_cdb = cdb_from_db(busy.loss_db)
        loads = dict.fromkeys(table.link_ids, loss_cdb)
        yield _by_clock(site, BUSY_HOURS, UNDRAWN, loads, busy.when)


def _by_clock(
    site: Site, cause: Cause, id: str, loads_cdb: dict[str, int], when: Timetable
) -> Element:
    """Return what is away in the hours of a timetable, with what it takes from each link."""
    amounts = tuple(loads_cdb.values())
    return Element(
        cause.name,
        id,
        cause.effect,
        tuple(loads_cdb),
        max(amounts),
        Scripted(in_force_ms(site, when)),
        () if min(amounts) == max(amounts) else amounts,
    )
