"""What was read of a site, and whether it is sound: the answer of ``check``."""

from collections.abc import Sequence
from dataclasses import asdict

from resilience.building.site import Kind, Layout, Site
from resilience.building.structure import Building
from resilience.connectivity.hearing import Ear, ears
from resilience.connectivity.table import LinkTable
from resilience.errors import Fault
from resilience.hazards.table import links_through
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Page,
    Part,
    Table,
    Text,
    cautions,
    figures,
    page,
    titled,
    words,
)
from resilience.report.words import changing_thing, counted, listed, visible


def check_page(site: Site, tables: Sequence[LinkTable]) -> Page:
    """Return what ``check`` tells of a sound site.

    Parameters
    ----------
    site : Site
        As read. [-]
    tables : sequence of LinkTable
        One for each layout, in their order. [-]
    """
    found = [(links, ears(links)) for links in tables]
    summary = (
        f"{visible(site.name)} is sound: {_drawn(site.building)}, "
        f"{counted(len(site.layouts), 'layout')}; a lifetime is {site.horizon_years:g} years from "
        f"{site.hand_over.isoformat()}."
    )
    parts: list[Part] = [Text(summary)]
    for links, heard in found:
        few = [ear.device.id for ear in heard if _is_lonely_sensor(ear)]
        if few:
            name = visible(links.layout.name)
            parts.append(
                Alert(f"In layout {name} fewer than two neighbours can be parent of {listed(few)}.")
            )
        idle = _in_no_way(site, links)
        if idle:
            name = visible(links.layout.name)
            parts.append(Text(f"In layout {name} no link passes {listed(idle)}: no hazard there."))
    told = (*site.notes, *_still(site.building))
    return page(
        *parts,
        _layouts(found),
        Bullets("Notes", told) if told else (),
        cautions(is_surveyed=all(links.is_measured.all() for links in tables)),
    )


def _drawn(building: Building) -> str:
    """What the reader found drawn, each kind counted."""
    kinds = _kinds(building).items()
    present = [counted(len(things), kind.removesuffix("s")) for kind, things in kinds if things]
    return ", ".join(present) or "no building drawn"


def _kinds(building: Building) -> dict[str, Sequence[object]]:
    """Everything drawn, by the name of its kind."""
    return {
        "levels": building.levels,
        "walls": building.walls,
        "doors": building.doors,
        "windows": building.windows,
        "pillars": building.pillars,
        "shafts": building.shafts,
        "openings": building.openings,
        "plates": building.plates,
        "obstacles": building.obstacles,
    }


def still_doors(building: Building) -> tuple[str, ...]:
    """Ids of the doors that stay as drawn in every lifetime.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    """
    return tuple(door.id for door in building.doors if door.change is None)


def _still(building: Building) -> list[str]:
    still = still_doors(building)
    if not still:
        return []
    return [f"Doors that never change: {listed(still)}. Say changes: on where a leaf moves."]


def _in_no_way(site: Site, links: LinkTable) -> list[str]:
    """Doors and obstacles that change and that no link passes."""
    if site.hazards.obstacles is None:
        return []
    passed = links_through(links)
    building = site.building
    return [changing_thing(building, id)[0] for id in building.changing if id not in passed]


def _is_lonely_sensor(ear: Ear) -> bool:
    return ear.device.kind is Kind.SENSOR and ear.lacks_parents


def _layouts(found: Sequence[tuple[LinkTable, tuple[Ear, ...]]]) -> Block:
    rows = []
    for links, heard in found:
        n_usable, n_measured = links.usable.sum(), (links.usable & links.is_measured).sum()
        n_lonely = sum(_is_lonely_sensor(ear) for ear in heard)
        counts = (*kind_counts(links.layout), n_usable, n_measured, n_lonely)
        rows.append((links.layout.name, *(str(count) for count in counts)))
    columns = (
        *words("layout"),
        *figures("gateways", "sensors", "repeaters", "links usable", "measured"),
        *figures("sensors with fewer\nthan two parents"),
    )
    note = (
        "Links usable both ways, with everything calm and paths as predicted on average. A parent "
        "is the neighbour that passes a sensor's readings on."
    )
    return titled("Layouts", note, Table(columns, tuple(rows)))


def kind_counts(layout: Layout) -> tuple[int, int, int]:
    """Numbers of gateways, sensors and repeaters.

    Parameters
    ----------
    layout : Layout
        What is installed. [-]
    """
    kinds = (Kind.GATEWAY, Kind.SENSOR, Kind.REPEATER)
    return tuple(len(layout.of_kind(kind)) for kind in kinds)  # type: ignore[return-value]


def check_json(site: Site, tables: Sequence[LinkTable]) -> dict[str, object]:
    """Return what ``check`` tells of a sound site under stable keys.

    Parameters
    ----------
    site : Site
        As read. [-]
    tables : sequence of LinkTable
        One for each layout, in their order. [-]
    """
    layouts = []
    for links in tables:
        n_gateways, n_sensors, n_repeaters = kind_counts(links.layout)
        layouts.append(
            {
                "name": links.layout.name,
                "gateways": n_gateways,
                "sensors": n_sensors,
                "repeaters": n_repeaters,
                "usable_links": int(links.usable.sum()),
                "sensors_with_fewer_than_two_parents": [
                    ear.device.id for ear in ears(links) if _is_lonely_sensor(ear)
                ],
            }
        )
    return {
        "format": 1,
        "site": site.name,
        "sound": True,
        "levels": [level.id for level in site.building.levels],
        "walls": len(site.building.walls),
        "drawn": {kind: len(things) for kind, things in _kinds(site.building).items()},
        "doors_that_never_change": list(still_doors(site.building)),
        "horizon_years": site.horizon_years,
        "hand_over": site.hand_over.isoformat(),
        "layouts": layouts,
        "notes": list(site.notes),
    }


def faults_json(faults: Sequence[Fault]) -> dict[str, object]:
    """Return the mistakes of a site under stable keys.

    Parameters
    ----------
    faults : sequence of Fault
        All mistakes. [-]
    """
    return {"format": 1, "sound": False, "faults": [asdict(fault) for fault in faults]}
