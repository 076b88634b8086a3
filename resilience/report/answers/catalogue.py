"""What is taken for granted: the answer of ``defaults``."""

import math
from collections.abc import Sequence
from dataclasses import asdict

from resilience.assumptions.catalogue import Setting, section
from resilience.assumptions.constructions import CONSTRUCTIONS, Construction
from resilience.building.site import Site
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
from resilience.report.words import counted, visible

TOP_LEVEL = "at the top of site.yaml"
SLANTS_DEG = (0, 45, 60)


def defaults_page(settings: Sequence[Setting], site: Site | None = None) -> Page:
    """Return a table for each section, every setting with its default, range and source.

    Parameters
    ----------
    settings : sequence of Setting
        In the order of the catalogue. [-]
    site : Site or None
        Of which it is said what it states itself; None says nothing of any. [-]
    """
    sections = dict.fromkeys(setting.section for setting in settings)
    note = Text(
        "What is assumed unless the site says otherwise. Range: plausible values. Confidence: high "
        "if two independent sources agree, medium for one reading, low for habit. Drawn over its "
        "range, a value is even in logarithm where that is above 0 and not in dB, else even.",
        Tone.QUIET,
    )
    longest = max(len(setting.name) for setting in settings)
    own = () if site is None else (Text(_own(settings, site)),)
    return page(*own, note, *(_section(name, settings, longest, site) for name in sections))


def _own(settings: Sequence[Setting], site: Site) -> str:
    """How many of some settings a site states, and how many numbers are taken on trust."""
    n_stated = sum(site.states(one.key) for one in settings)
    n_unsure = sum(one.is_uncertain and not site.states(one.key) for one in settings)
    return (
        f"{visible(site.name)} states {n_stated} of these {counted(len(settings), 'setting')}, "
        f"marked *, of some device or thing at least. Of the others {n_unsure} are uncertain: "
        "compare --vary-defaults tries the order over their ranges."
    )


def _section(name: str, settings: Sequence[Setting], longest: int, site: Site | None) -> Block:
    columns = (
        Column("key", is_text=True, least_width=longest),
        *figures("default"),
        *words("unit"),
        *figures("range"),
        *words("confidence", "meaning; source"),
    )
    ones = [setting for setting in settings if setting.section == name]
    rows = tuple(setting_cells(one, site is not None and site.states(one.key)) for one in ones)
    return (Heading(name or TOP_LEVEL), Table(columns, rows))


def setting_cells(setting: Setting, is_stated: bool = False) -> Row:
    """Cells of one setting.

    Parameters
    ----------
    setting : Setting
        The setting. [-]
    is_stated : bool
        Whether a site states it, which is marked. [-]
    """
    return (
        f"{setting.name} *" if is_stated else setting.name,
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


def defaults_json(settings: Sequence[Setting], site: Site | None = None) -> dict[str, object]:
    """Return the settings under stable keys.

    Parameters
    ----------
    settings : sequence of Setting
        In the order of the catalogue. [-]
    site : Site or None
        Of which it is said what it states itself; None says nothing of any. [-]
    """
    listed = [asdict(setting) for setting in settings]
    if site is not None:
        for one, setting in zip(listed, settings, strict=True):
            one["stated_by_the_site"] = site.states(setting.key)
    return {"format": 1, "settings": listed}


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
