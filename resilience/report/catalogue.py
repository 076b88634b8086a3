"""What is taken for granted, and what was read: the answers of ``defaults`` and ``check``."""

import math
from collections.abc import Sequence
from dataclasses import asdict

from rich.console import Group
from rich.text import Text

from resilience.assumptions.catalogue import Setting, section
from resilience.assumptions.constructions import CONSTRUCTIONS, Construction
from resilience.building.site import Kind, Layout, Site
from resilience.building.structure import Building
from resilience.connectivity.hearing import Ear, ears
from resilience.connectivity.losses.slabs import construction_loss_db
from resilience.connectivity.table import LinkTable
from resilience.errors import Fault
from resilience.hazards.table import links_through
from resilience.report.marks import (
    HEAD,
    QUIET,
    add_row,
    alert,
    bullets,
    cautions,
    heading,
    plain,
    spaced,
    table,
)
from resilience.report.words import changing_thing, counted, listed, visible

TOP_LEVEL = "at the top of site.yaml"
SLANTS_DEG = (0, 45, 60)


def defaults_page(settings: Sequence[Setting]) -> Group:
    """Return a table for each section, every setting with its default, range and source.

    Parameters
    ----------
    settings : sequence of Setting
        In the order of the catalogue. [-]
    """
    sections = dict.fromkeys(setting.section for setting in settings)
    note = plain(
        "What is assumed unless the site says otherwise. Range: plausible values. Confidence: high "
        "if two independent sources agree, medium for one reading, low for habit.",
        QUIET,
    )
    tables = (_section(name, settings) for name in sections)
    return spaced([note, *tables])


def _section(name: str, settings: Sequence[Setting]) -> Group:
    made = table(("key", "default", "unit", "range", "confidence", "meaning; source"), (0, 2, 4, 5))
    made.columns[0].width, made.columns[4].width = 23, len("confidence")
    for setting in settings:
        if setting.section == name:
            made.add_row(*(Text(cell) for cell in _cells(setting)))
    return Group(plain(name or TOP_LEVEL, HEAD), made)


def _cells(setting: Setting) -> tuple[str, ...]:
    return (
        setting.name,
        _default(setting),
        "" if setting.unit in ("-", "text") else setting.unit,
        _range(setting),
        setting.confidence,
        f"{setting.meaning}\nSource: {setting.source}.",
    )


def _default(setting: Setting) -> str:
    value = setting.default
    if setting.instead_of:
        return "none"
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _range(setting: Setting) -> str:
    if isinstance(setting.default, bool):
        return "on\noff"
    if setting.choices:
        return "\n".join(str(choice) for choice in setting.choices)
    if setting.low is None or setting.high is None:
        return ""
    return f"{setting.low:g} to {setting.high:g}"


def defaults_json(settings: Sequence[Setting]) -> dict[str, object]:
    """Return the settings under stable keys.

    Parameters
    ----------
    settings : sequence of Setting
        In the order of the catalogue. [-]
    """
    return {"format": 1, "settings": [asdict(setting) for setting in settings]}


def constructions_page() -> Group:
    """Return what walls, slabs and doors can be made of, and what each takes."""
    frequency_mhz = _frequency_mhz()
    note = plain(
        f"Loss of one crossing at {frequency_mhz:g} MHz, met head-on and aslant (degrees from "
        "head-on). Give or take: spread between buildings, one standard deviation. Layers: "
        "material and mm; a site adds its own under building: constructions.",
        QUIET,
    )
    heads = ("construction", "0 deg, dB", "45, dB", "60, dB", "give or take, dB", "layers; source")
    made = table(heads, (0, 5))
    for name, built in CONSTRUCTIONS.items():
        losses = [f"{loss_db:.1f}" for loss_db in _losses_db(built, frequency_mhz)]
        layers = ", ".join(f"{what} {1000 * thick_m:g}" for what, thick_m in built.layers)
        source = f"{layers or 'one loss at any angle'}\nSource: {built.source}."
        add_row(made, (name, *losses, f"{built.spread_db:g}", source))
    return spaced([note, made])


def constructions_json() -> dict[str, object]:
    """Return what ``constructions_page`` tells, under stable keys."""
    frequency_mhz = _frequency_mhz()
    return {
        "format": 1,
        "frequency_mhz": frequency_mhz,
        "slants_deg": list(SLANTS_DEG),
        "constructions": [
            {
                "name": name,
                "loss_db": _losses_db(built, frequency_mhz),
                "spread_db": built.spread_db,
                "layers": [list(layer) for layer in built.layers],
                "source": built.source,
            }
            for name, built in CONSTRUCTIONS.items()
        ],
    }


def _frequency_mhz() -> float:
    (found,) = (one.default for one in section("radio") if one.name == "frequency_mhz")
    return float(found or 0)


def _losses_db(built: Construction, frequency_mhz: float) -> list[float]:
    slants = (math.cos(math.radians(slant_deg)) for slant_deg in SLANTS_DEG)
    return [construction_loss_db(built, frequency_mhz, slant) for slant in slants]


def check_page(site: Site, tables: Sequence[LinkTable]) -> Group:
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
    parts = [plain(summary)]
    for links, heard in found:
        few = [ear.device.id for ear in heard if _is_lonely_sensor(ear)]
        if few:
            name = visible(links.layout.name)
            parts.append(
                alert(f"In layout {name} fewer than two neighbours can be parent of {listed(few)}.")
            )
        idle = _in_no_way(site, links)
        if idle:
            name = visible(links.layout.name)
            parts.append(plain(f"In layout {name} no link passes {listed(idle)}: no hazard there."))
    told = (*site.notes, *_still(site.building))
    notes = [bullets("Notes", told)] if told else []
    surveyed = all(links.is_measured.all() for links in tables)
    return spaced([*parts, _layouts(found), *notes, cautions(is_surveyed=surveyed)])


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


def _layouts(found: Sequence[tuple[LinkTable, tuple[Ear, ...]]]) -> Group:
    made = table(
        (
            "layout",
            "gateways",
            "sensors",
            "repeaters",
            "links usable",
            "measured",
            "sensors with fewer\nthan two parents",
        )
    )
    for links, heard in found:
        n_usable, n_measured = links.usable.sum(), (links.usable & links.is_measured).sum()
        n_lonely = sum(_is_lonely_sensor(ear) for ear in heard)
        counts = (*kind_counts(links.layout), n_usable, n_measured, n_lonely)
        add_row(made, [links.layout.name, *(str(count) for count in counts)])
    note = (
        "Links usable both ways, with everything calm and paths as predicted on average. A parent "
        "is the neighbour that passes a sensor's readings on."
    )
    return Group(heading("Layouts", note), made)


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
