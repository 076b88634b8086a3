"""What is taken for granted: the answer of ``defaults``; and faults as JSON tells them."""

from collections.abc import Sequence
from dataclasses import asdict

from rich.console import Group
from rich.text import Text

from resilience.assumptions.catalogue import Setting
from resilience.errors import Fault
from resilience.report.look import HEAD, QUIET, plain, spaced, table

TOP_LEVEL = "at the top of site.yaml"


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


def faults_json(faults: Sequence[Fault]) -> dict[str, object]:
    """Return the mistakes of a site under stable keys.

    Parameters
    ----------
    faults : sequence of Fault
        All mistakes. [-]
    """
    return {"format": 1, "sound": False, "faults": [asdict(fault) for fault in faults]}
