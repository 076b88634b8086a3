"""Sections of ``site.yaml`` that are settings, each value checked against the catalogue.

A new setting is an entry in the catalogue and a field of a dataclass in ``building.settings``;
nothing here has to know its name.
"""

from dataclasses import fields
from typing import Any, TypeVar, get_args, get_type_hints

from resilience.assumptions.catalogue import Value, section
from resilience.assumptions.hazards import ON_REQUEST
from resilience.building.parts import ZONE_RATES
from resilience.building.settings import Duration, Hazards, Learnt, Routing
from resilience.building.text.documents import (
    Mapping,
    Node,
    described,
    is_nothing,
    known_keys,
    mapping,
    record,
)
from resilience.building.text.entries import Entry, Findings, TableRow
from resilience.building.text.values import checked, number_in
from resilience.building.timetable import TIMES, Timetable, problem, written
from resilience.units import HOURS_PER_YEAR

T = TypeVar("T")

Given = dict[str, Value]
LONGEST_H = 1e6  # of any duration, so that one that is filled in can be stated, too
RARELY_H = 1e12  # a hundred million years: keeps the reciprocal of a tiny rate finite
DURATION_KEYS = ("distribution", "median_h", "p90_h", "mean_h")


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

    What it does not state is filled in where something is assumed in the catalogue's place.

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
        return assumed_of(path, findings)
    row = record(found, (setting.name for setting in section(path)), findings, nested)
    stated = values_in(row, path)
    assumed = assumed_of(path, findings)
    if any(key in stated for key in DURATION_KEYS):  # stated as a whole or not at all
        assumed = {key: value for key, value in assumed.items() if key not in DURATION_KEYS}
    return assumed | stated


def assumed_of(path: str, findings: Findings) -> Given:
    """Return what stands for the defaults of one section, by key.

    Parameters
    ----------
    path : str
        Path of the section in the catalogue. [-]
    findings : Findings
        What knows of it. [-]
    """
    keys = {setting.key: setting.name for setting in section(path)}
    return {keys[key]: value for key, value in findings.assumed.items() if key in keys}


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
        if key in TIMES and value is not None:
            value = _times(row, key, str(value))
        if value is not None:
            given[key] = value
    row.findings.stated.update(f"{path}.{key}".removeprefix(".") for key in given)
    _check_duration(row, given)
    return given


def _times(row: TableRow, key: str, text: str) -> str | None:
    """Return one key of a timetable the one way it is kept; a fault and None otherwise."""
    if wanted := problem(key, text):
        row.fault(key, wanted)
        return None
    return written(key, text)


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
            arguments[entry.name] = duration_of(path, given)
        elif hints[entry.name] is Timetable:
            arguments[entry.name] = timetable_of(path, given)
        elif entry.name == "is_fixed":  # follows from what else is stated
            continue
        elif entry.name == "mttf_h":
            arguments[entry.name] = _mttf_h(path, given)
        else:
            arguments[entry.name] = given.get(entry.name, _default(path, entry.name))
    return kind(**arguments)


def _default(path: str, name: str) -> Value:
    return next(setting.default for setting in section(path) if setting.name == name)


def _mttf_h(path: str, given: Given) -> float:
    if "mttf_h" in given:
        return number_in(given["mttf_h"])
    per_year = number_in(given.get("per_year", _default(path, "per_year")))
    return min(HOURS_PER_YEAR / per_year, RARELY_H)


def timetable_of(path: str, given: Given) -> Timetable:
    """Return the timetable of a section from what is stated, defaults for the rest.

    Parameters
    ----------
    path : str
        Path of its section in the catalogue. [-]
    given : dict
        What is stated, by key. [-]
    """
    return Timetable(*(str(given.get(name, _default(path, name))) for name in TIMES))


def duration_of(path: str, given: Given) -> Duration:
    """Return the duration of a section from what is stated, defaults for the rest.

    Parameters
    ----------
    path : str
        Path of its section in the catalogue. [-]
    given : dict
        What is stated, by key. [-]
    """
    if "mean_h" in given:
        distribution = "fixed" if given.get("distribution") == "fixed" else "exponential"
        return Duration(distribution, mean_h=number_in(given["mean_h"]))
    median_h = number_in(_default(path, "median_h"))
    ratio = number_in(_default(path, "p90_h")) / median_h
    median_h = number_in(given.get("median_h", median_h))
    p90_h = number_in(given.get("p90_h", min(ratio * median_h, LONGEST_H)))
    return Duration("lognormal", median_h=median_h, p90_h=max(p90_h, median_h))


def routing_of(found: Mapping | None, findings: Findings) -> Routing:
    """Return section ``routing``; with hops the hysteresis is 0 unless it is stated."""
    given = given_values("routing", found, findings)
    is_stated = found is not None and "hysteresis" in found.entries
    if given.get("objective") == "hops" and not is_stated:
        given["hysteresis"] = 0
    return filled(Routing, "routing", given)


def hazards_of(found: Mapping | None, findings: Findings, learnt: Learnt | None = None) -> Hazards:
    """Return section ``hazards``: what is not named keeps its default, or is off on request.

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
    if not others_on:
        findings.stated.update(f"hazards.{name}" for name in kinds.keys() - entries.keys())
    struck = {
        name: _hazard(kind, (name, entries.get(name)), findings, learnt)
        if name in entries or (others_on and name not in ON_REQUEST)
        else None
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
    kind: type[T], named: tuple[str, Node | None], findings: Findings, learnt: Learnt | None
) -> T | None:
    name, node = named
    path = f"hazards.{name}"
    if isinstance(node, Entry) and not is_nothing(node):
        if not _switched_on(node, findings):
            findings.stated.add(path)
            return None
        node = None
    given = given_values(path, mapping(node, findings), findings)
    if given.get("per_year") == 0 and name not in ZONE_RATES:  # some zone may have a rate
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
