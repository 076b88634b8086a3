"""Sections of ``site.yaml`` that are settings, each value checked against the catalogue.

A new setting is an entry in the catalogue and a field of a dataclass in ``building.settings``;
nothing here has to know its name.
"""

from collections.abc import Collection
from dataclasses import fields
from typing import Any, TypeVar, get_args, get_type_hints

from resilience.assumptions.catalogue import Setting, Value, section
from resilience.assumptions.devices import BATTERY_PROFILES
from resilience.building.settings import (
    BatteryProfile,
    DeviceModel,
    Duration,
    Hazards,
    Learnt,
    Routing,
    Upkeep,
)
from resilience.building.text.documents import (
    Mapping,
    Node,
    described,
    is_nothing,
    is_off,
    known_keys,
    mapping,
    record,
)
from resilience.building.text.entries import Entry, Findings, Span, TableRow, quoted
from resilience.units import HOURS_PER_YEAR

T = TypeVar("T")

Given = dict[str, Value]
LONGEST_H = 1e6  # of any duration, so that one that is filled in can be stated, too
RARELY_H = 1e12  # a hundred million years: keeps the reciprocal of a tiny rate finite
NO_CELLS = ("mains", "off", "none", "no", "false", "ac", "grid", "socket", "plug")
NOT_CELLS = "expected a battery profile. For a device on mains"
IN_A_MODEL = (
    "leave battery out and write mains in column supply of sensors.csv or devices.csv, in the row "
    "of the device"
)
FAR = 5  # times outside the listed range: told, not refused


def limits_of(setting: Setting) -> Span:
    """Return what a number of that setting may be."""
    whole = isinstance(setting.default, int) and not isinstance(setting.default, bool)
    return Span(setting.unit, setting.least, setting.most, setting.above, whole)


def is_switch(setting: Setting) -> bool:
    """Whether the setting is either on or off."""
    return isinstance(setting.default, bool)


def settings_of(kind: type[T], path: str, found: Mapping | None, findings: Findings) -> T:
    """Return one section of the site as its dataclass, defaults filled in.

    Parameters
    ----------
    kind : type
        Dataclass whose fields are named after the settings. [-]
    path : str
        Path of the section in the catalogue, as in ``models.*``. [-]
    found : Mapping or None
        What stands in the file; None if nothing does. [-]
    findings : Findings
        Where faults go. [-]
    """
    return filled(kind, path, given_values(path, found, findings))


def given_values(
    path: str, found: Mapping | None, findings: Findings, nested: tuple[str, ...] = ()
) -> Given:
    """Return the settings that a section states, by key, each of them checked.

    Parameters
    ----------
    path : str
        Path of the section in the catalogue. [-]
    found : Mapping or None
        What stands in the file. [-]
    findings : Findings
        Where faults go. [-]
    nested : tuple of str
        Keys of the section that are read elsewhere. [-]
    """
    if found is None:
        return {}
    row = record(found, (setting.name for setting in section(path)), findings, nested)
    return values_in(row, path)


def values_in(row: TableRow, path: str) -> Given:
    """Return the settings of one section of the catalogue that a row states, each checked.

    Parameters
    ----------
    row : TableRow
        It may hold other keys too. [-]
    path : str
        Path of the section in the catalogue. [-]
    """
    given: Given = {}
    for setting in section(path):
        key = setting.name
        if not row.has(key):
            continue
        if setting.instead_of and row.has(setting.instead_of):
            row.fault(key, f"expected either {key} or {setting.instead_of}")
        value = checked(setting, row.entries[key], row.findings)
        if value is not None:
            given[key] = value
    _check_duration(row, given)
    return given


def checked(setting: Setting, entry: Entry, findings: Findings) -> Value:
    """Return the value of one setting; a fault and None if it is not one."""
    if is_switch(setting):
        return entry.switch(findings)
    if isinstance(setting.default, str):
        return _word(setting, entry, findings)
    limits = limits_of(setting)
    value = entry.number(limits, findings)
    if value is None:
        return None
    _tell_if_far(setting, entry, value, findings)
    return int(value) if limits.whole else value


def _word(setting: Setting, entry: Entry, findings: Findings) -> str | None:
    if not setting.choices:
        return entry.free_text(findings)
    choices = [str(choice) for choice in setting.choices]
    if entry.text in choices:
        return entry.text
    wanted = f"expected {' or '.join(choices)} ({setting.meaning.rstrip('.')})"
    findings.fault(entry.mark, quoted(entry.text), wanted)
    return None


def _tell_if_far(setting: Setting, entry: Entry, value: float, findings: Findings) -> None:
    listed = _listed(setting)
    if listed is None:
        return
    low, high, source = listed
    # A ratio has no meaning for a level in dBm or for a range that holds 0: there the range's own
    # width is the yardstick.
    if low >= 0:
        least, most = low / FAR, high * FAR
    else:
        least, most = low - FAR * (high - low), high + FAR * (high - low)
    if not least <= value <= most:
        findings.note(
            f"{entry.mark}: is {_plain(value)} meant? It is more than five times outside the "
            f"listed range of {_plain(low)} to {_plain(high)} {setting.unit} ({source})."
        )


def _listed(setting: Setting) -> tuple[float, float, str] | None:
    """Return the listed range of a setting and its source, or that of the one it stands for."""
    if setting.low is not None and setting.high is not None:
        return setting.low, setting.high, setting.source
    beside = {one.name: one for one in section(setting.section)}
    usual = beside.get(setting.instead_of or "median_h")
    if usual is None or not (usual.low and usual.high):
        return None
    if setting.name == "mttf_h":
        return HOURS_PER_YEAR / usual.high, HOURS_PER_YEAR / usual.low, usual.source
    if setting.name == "mean_h":
        return usual.low, usual.high, usual.source
    if setting.name == "p90_h":
        ratio = _number(setting.default) / _number(usual.default)
        return usual.low, usual.high * ratio, usual.source
    return None


def _plain(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}"


def _check_duration(row: TableRow, given: Given) -> None:
    """Record what does not fit together among the keys of a duration."""
    if row.has("p90_h") and not row.has("median_h"):
        row.fault("p90_h", "expected median_h beside it")
    if row.has("mean_h") and given.get("distribution") == "lognormal":
        row.fault("distribution", "expected exponential or fixed with mean_h")
    if given.get("distribution") in ("exponential", "fixed") and not row.has("mean_h"):
        row.fault("distribution", "expected mean_h with it, or lognormal")
    median_h, p90_h = given.get("median_h"), given.get("p90_h")
    if isinstance(median_h, float) and isinstance(p90_h, float) and p90_h < median_h:
        row.fault("p90_h", f"expected at least median_h, {median_h:g}")


def filled(kind: type[T], path: str, given: Given) -> T:
    """Return the dataclass of a section from what is stated, defaults for the rest.

    Parameters
    ----------
    kind : type
        Dataclass whose fields are named after the settings. [-]
    path : str
        Path of the section in the catalogue. [-]
    given : dict
        What is stated, by key. [-]
    """
    hints = get_type_hints(kind)
    arguments: dict[str, Any] = {}
    for entry in fields(kind):  # type: ignore[arg-type]
        if hints[entry.name] is Duration:
            arguments[entry.name] = _duration(path, given)
        elif entry.name == "mttf_h":
            arguments[entry.name] = _mttf_h(path, given)
        else:
            arguments[entry.name] = given.get(entry.name, _default(path, entry.name))
    return kind(**arguments)


def _default(path: str, name: str) -> Value:
    return next(setting.default for setting in section(path) if setting.name == name)


def _number(value: Value) -> float:
    assert isinstance(value, int | float)  # the catalogue's numbers; a test holds it to that
    return float(value)


def _mttf_h(path: str, given: Given) -> float:
    if "mttf_h" in given:
        return _number(given["mttf_h"])
    per_year = _number(given.get("per_year", _default(path, "per_year")))
    return min(HOURS_PER_YEAR / per_year, RARELY_H)


def _duration(path: str, given: Given) -> Duration:
    if "mean_h" in given:
        distribution = "fixed" if given.get("distribution") == "fixed" else "exponential"
        return Duration(distribution, mean_h=_number(given["mean_h"]))
    median_h = _number(_default(path, "median_h"))
    ratio = _number(_default(path, "p90_h")) / median_h
    median_h = _number(given.get("median_h", median_h))
    p90_h = _number(given.get("p90_h", min(ratio * median_h, LONGEST_H)))
    return Duration("lognormal", median_h=median_h, p90_h=max(p90_h, median_h))


def routing_of(found: Mapping | None, findings: Findings) -> Routing:
    """Return section ``routing``; with hops the hysteresis is 0 unless it is stated."""
    given = given_values("routing", found, findings)
    if given.get("objective") == "hops":
        given.setdefault("hysteresis", 0)
    return filled(Routing, "routing", given)


def hazards_of(found: Mapping | None, findings: Findings, learnt: Learnt | None = None) -> Hazards:
    """Return section ``hazards``: what is not named keeps its default unless all others are off.

    Parameters
    ----------
    found : Mapping or None
        What stands in the file. [-]
    findings : Findings
        Where faults go. [-]
    learnt : Learnt or None
        What own history says in the place of what is stated. [-]
    """
    kinds = {name: get_args(hint)[0] for name, hint in get_type_hints(Hazards).items()}
    entries = found.entries if found else {}
    if found:
        known_keys(found, (*kinds, "all_others"), findings)
    others_on = _switched_on(entries.get("all_others"), findings)
    struck = {
        name: _hazard(kind, (name, entries[name]), findings, learnt)
        if name in entries
        else (
            filled(kind, f"hazards.{name}", with_learnt({}, f"hazards.{name}", learnt))
            if others_on
            else None
        )
        for name, kind in kinds.items()
    }
    return Hazards(**struck)


def _switched_on(node: Node | None, findings: Findings) -> bool:
    if node is None or is_nothing(node):
        return True
    if isinstance(node, Entry):
        return node.switch(findings) is not False
    findings.fault(node.mark, described(node), "expected on or off")
    return True


def _hazard(
    kind: type[T], named: tuple[str, Node], findings: Findings, learnt: Learnt | None
) -> T | None:
    name, node = named
    path, given = f"hazards.{name}", Given()
    if isinstance(node, Entry) and not is_nothing(node):
        if not _switched_on(node, findings):
            return None
    else:
        given = given_values(path, mapping(node, findings), findings)
    if given.get("per_year") == 0:
        return None
    return filled(kind, path, with_learnt(given, path, learnt))


def with_learnt(given: Given, path: str, learnt: Learnt | None) -> Given:
    """Return what is stated of a section with what was learnt in its place.

    Parameters
    ----------
    given : dict
        What is stated, by key. [-]
    path : str
        Path of the section in the catalogue. [-]
    learnt : Learnt or None
        What own history says. [-]
    """
    known = {} if learnt is None else learnt.of(path)
    kept = dict(given)
    if "per_year" in known:
        kept.pop("mttf_h", None)
    if "median_h" in known:  # a learnt duration is lognormal
        kept.pop("mean_h", None)
        kept.pop("distribution", None)
    return kept | known


def upkeep_of(found: Mapping | None, findings: Findings, learnt: Learnt | None = None) -> Upkeep:
    """Return section ``upkeep``: what is not named keeps its default, each can be off.

    Parameters
    ----------
    found : Mapping or None
        What stands in the file. [-]
    findings : Findings
        Where faults go. [-]
    learnt : Learnt or None
        What own history says in the place of what is stated. [-]
    """
    names = [entry.name for entry in fields(Upkeep)]
    entries = found.entries if found else {}
    if found:
        known_keys(found, names, findings)
    repairs = {name: _repair(name, entries.get(name), findings, learnt) for name in names}
    return Upkeep(**repairs)


def _repair(
    name: str, node: Node | None, findings: Findings, learnt: Learnt | None
) -> Duration | None:
    if is_off(node):
        return None
    path = f"upkeep.{name}"
    given = given_values(path, mapping(node, findings), findings)
    return _duration(path, with_learnt(given, path, learnt))


def batteries_of(found: Mapping | None, findings: Findings) -> dict[str, BatteryProfile]:
    """Return the profiles of the catalogue and those of section ``batteries``, by name."""
    profiles = {name: BatteryProfile(*values) for name, values in BATTERY_PROFILES.items()}
    return profiles | _named(BatteryProfile, "batteries.*", found, findings)


def models_of(
    found: Mapping | None, batteries: dict[str, BatteryProfile], findings: Findings
) -> dict[str, DeviceModel]:
    """Return the device models of section ``models`` by name; ``standard`` always exists."""
    models = {"standard": settings_of(DeviceModel, "models.*", None, findings)}
    models |= _named(DeviceModel, "models.*", found, findings)
    for name, node in (found.entries if found else {}).items():
        battery = node.entries.get("battery") if isinstance(node, Mapping) else None
        if isinstance(battery, Entry) and is_no_battery(battery.text, batteries):
            findings.fault(battery.mark, quoted(battery.text), f"{NOT_CELLS}: {IN_A_MODEL}")
        elif isinstance(battery, Entry) and name in models:
            battery.word(batteries, findings, "a battery profile")
    return models


def is_no_battery(text: str, batteries: Collection[str]) -> bool:
    """Whether somebody says mains, or nothing, where the name of a battery profile stands."""
    return text not in batteries and text.casefold() in NO_CELLS


def _named(kind: type[T], path: str, found: Mapping | None, findings: Findings) -> dict[str, T]:
    """Return the subsections whose names the user chose."""
    named = {}
    for name, node in (found.entries if found else {}).items():
        usable = Entry(name, node.mark).name(findings)
        values = settings_of(kind, path, mapping(node, findings), findings)
        if usable:
            named[usable] = values
    return named
