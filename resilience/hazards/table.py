"""The hazard table of a layout: one row for everything that can strike.

A new hazard is a setting in ``assumptions/hazards.py``, a field in ``building/settings.py`` and a
function here that yields its rows.
"""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from resilience.building.settings import Blockage, Duration, Hazards, Upkeep
from resilience.building.site import Device, Kind, Site
from resilience.building.structure import Change
from resilience.connectivity.links import Link, LinkTable
from resilience.hazards.elements import OBSTACLE, Cells, Effect, Element, refuse_collisions
from resilience.hazards.laws import NEVER, Law, exponential, factor, lasting, weibull
from resilience.units import HOURS_PER_YEAR, MS_PER_H, NA_MS_PER_MAH, cdb_from_db


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
    elements = (
        *_hardware(site.hazards, site.upkeep, devices),
        *_gateway_hardware(site.hazards, site.upkeep, devices),
        *_gateway_outages(site.hazards, devices),
        *_blockages(site.hazards, table),
        *_obstacles(site.hazards, table),
    )
    cells = tuple(_cells(site.hazards, site.upkeep, devices))
    upkeep = [("device", device.id, what) for device in devices for what in ("repair", "cells")]
    refuse_collisions([*(element.luck for element in elements), *upkeep])
    return HazardTable(tuple(sorted(elements, key=lambda element: element.name)), cells)


def stands_in(link: Link) -> frozenset[str]:
    """Ids of the doors and obstacles in the way of a link.

    Parameters
    ----------
    link : Link
        Predicted or measured; what is in its way is known between two places. [-]
    """
    return frozenset(one.id for one in link.hindrances if one.id)


def _mending(repair: Duration | None) -> Law:
    return NEVER if repair is None else lasting(repair)


def _hardware(hazards: Hazards, upkeep: Upkeep, devices: tuple[Device, ...]) -> Iterator[Element]:
    """Failures of sensors and repeaters, early deaths of the weak ones among them."""
    early = hazards.early_failure
    if hazards.hardware is None and early is None:
        return
    wear = hazards.hardware
    for device in devices:
        if device.kind is not Kind.GATEWAY:
            yield Element(
                "hardware",
                device.id,
                Effect.DOWN,
                (device.id,),
                strikes=NEVER if wear is None else weibull(wear.mttf_h, wear.shape),
                lasts=_mending(upkeep.repair),
                is_mended=True,
                renews=True,
                weak_share=0.0 if early is None else early.share,
                weak_ms=1.0 if early is None else early.mean_h * MS_PER_H,
            )


def _gateway_hardware(
    hazards: Hazards, upkeep: Upkeep, devices: tuple[Device, ...]
) -> Iterator[Element]:
    wear = hazards.gateway_hardware
    if wear is None:
        return
    for device in devices:
        if device.kind is Kind.GATEWAY:
            yield Element(
                "gateway_hardware",
                device.id,
                Effect.DOWN,
                (device.id,),
                strikes=weibull(wear.mttf_h, wear.shape),
                lasts=_mending(upkeep.gateway_repair),
                is_mended=True,
                renews=True,
            )


def _gateway_outages(hazards: Hazards, devices: tuple[Device, ...]) -> Iterator[Element]:
    outage = hazards.gateway_outage
    if outage is None:
        return
    for device in devices:
        if device.kind is Kind.GATEWAY:
            yield Element(
                "gateway_outage",
                device.id,
                Effect.DOWN,
                (device.id,),
                strikes=exponential(HOURS_PER_YEAR / outage.per_year),
                lasts=lasting(outage.lasts),
            )


def _blockages(hazards: Hazards, table: LinkTable) -> Iterator[Element]:
    """Something in the way of one link for a while."""
    blockage = hazards.link_blockage
    if blockage is None:
        return
    changing = _changing(hazards, table)
    for link in table.links:
        drawn = [changing[id].per_year for id in stands_in(link) & changing.keys()]
        yield Element(
            "link_blockage",
            link.id,
            Effect.LOSS,
            (link.id,),
            cdb_from_db(blockage.loss_db),
            strikes=exponential(HOURS_PER_YEAR / _undrawn_per_year(hazards, blockage, drawn)),
            lasts=lasting(blockage.lasts),
        )


def _undrawn_per_year(hazards: Hazards, blockage: Blockage, drawn_per_year: list[float]) -> float:
    """Rate of blockages less those that are drawn, which the stated rate counts as well."""
    if hazards.obstacles is None:
        return blockage.per_year
    least_per_year = hazards.obstacles.blockage_share * blockage.per_year
    return max(least_per_year, blockage.per_year - math.fsum(drawn_per_year))


def _changing(hazards: Hazards, table: LinkTable) -> dict[str, Change]:
    """What moves in the building, unless that hazard is off."""
    if hazards.obstacles is None:
        return {}
    return {id: one for id, one in table.building.changing.items() if one.per_year > 0}


def _obstacles(hazards: Hazards, table: LinkTable) -> Iterator[Element]:
    """What changes in the building, each with every link through it, measured ones among them."""
    through: dict[str, list[str]] = defaultdict(list)
    for link in table.links:
        for id in stands_in(link):
            through[id].append(link.id)
    for id, change in _changing(hazards, table).items():
        if through[id]:
            yield Element(
                OBSTACLE,
                id,
                Effect.LOSS,
                tuple(through[id]),
                cdb_from_db(change.adds_db),
                strikes=exponential(HOURS_PER_YEAR / change.per_year),
                lasts=lasting(change.lasts),
            )


def _cells(hazards: Hazards, upkeep: Upkeep, devices: tuple[Device, ...]) -> Iterator[Cells]:
    if hazards.battery is None:
        return
    spread = factor(hazards.battery.spread)
    for device in devices:
        if device.battery is not None:
            usable_mah = device.battery.capacity_mah * device.battery.usable_share
            yield Cells(
                device.id,
                usable_mah * NA_MS_PER_MAH,
                spread,
                leaf_na=round(device.model.leaf_ua * 1000),
                forwarding_na=round(device.model.forwarding_ua * 1000),
                searching_na=round(device.model.searching_ua * 1000),
                repair=_mending(upkeep.repair),
            )
