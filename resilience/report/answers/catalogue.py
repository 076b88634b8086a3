"""What is taken for granted: the answer of ``defaults``."""

import math
from collections.abc import Sequence
from dataclasses import asdict

from resilience.assumptions.catalogue import Setting, section
from resilience.assumptions.constructions import CONSTRUCTIONS, Construction
from resilience.connectivity.losses.slabs import construction_loss_db
from resilience.report.pages import (
    Block,
    Column,
    Heading,
    Page,
    Row,
    Table,
    Text,
    Tone,
    figures,
    page,
    words,
)

TOP_LEVEL = "at the top of site.yaml"
SLANTS_DEG = (0, 45, 60)


def defaults_page(settings: Sequence[Setting]) -> Page:
    """Return a table for each section, every setting with its default, range and source.

    Parameters
    ----------
    settings : sequence of Setting
        In the order of the catalogue. [-]
    """
    sections = dict.fromkeys(setting.section for setting in settings)
    note = Text(
        "What is assumed unless the site says otherwise. Range: plausible values. Confidence: high "
        "if two independent sources agree, medium for one reading, low for habit.",
        Tone.QUIET,
    )
    longest = max(len(setting.name) for setting in settings)
    return page(note, *(_section(name, settings, longest) for name in sections))


def _section(name: str, settings: Sequence[Setting], longest: int) -> Block:
    columns = (
        Column("key", is_text=True, least_width=longest),
        *figures("default"),
        *words("unit"),
        *figures("range"),
        *words("confidence", "meaning; source"),
    )
    rows = tuple(_cells(setting) for setting in settings if setting.section == name)
    return (Heading(name or TOP_LEVEL), Table(columns, rows))


def _cells(setting: Setting) -> Row:
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


def constructions_page() -> Page:
    """Return what walls, slabs and doors can be made of, and what each takes."""
    frequency_mhz = _frequency_mhz()
    note = Text(
        f"Loss of one crossing at {frequency_mhz:g} MHz; a site adds its own constructions under "
        "building: constructions.",
        Tone.QUIET,
    )
    rows = []
    for name, built in CONSTRUCTIONS.items():
        losses = [f"{loss_db:.1f}" for loss_db in _losses_db(built, frequency_mhz)]
        layers = ", ".join(f"{what} {1000 * thick_m:g}" for what, thick_m in built.layers)
        source = f"{layers or 'one loss at any angle'}\nSource: {built.source}."
        rows.append((name, *losses, f"{built.spread_db:g}", source))
    columns = (
        *words("construction"),
        Column("0 deg, dB", note="met head-on; the next two aslant, degrees from head-on"),
        *figures("45, dB", "60, dB"),
        Column("give or take, dB", note="spread between buildings, one standard deviation"),
        Column("layers; source", is_text=True, note="material and mm"),
    )
    return page(note, Table(columns, tuple(rows)))


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
