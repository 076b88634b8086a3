"""One setting changed in memory, with the checks that reading ``site.yaml`` makes."""

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

from resilience.assumptions.catalogue import Value, section, settings
from resilience.building.settings import Duration, Hazards
from resilience.building.stated.sections import (
    Given,
    given_values,
    hazards_of,
    settings_of,
)
from resilience.building.stated.upkeep import upkeep_of
from resilience.building.text.documents import Mapping
from resilience.building.text.entries import Entry, Findings, Mark, alternatives
from resilience.building.timetable import Timetable
from resilience.building.upkeep import Upkeep
from resilience.errors import UsageError

RESTATED = ("horizon_years", "radio", "routing", "hazards", "upkeep")  # fields of a site
CREWS = "upkeep.repair.crews"  # told among the repairs, and meant of all upkeep
SWITCHED: dict[str, tuple[type, Callable[[Mapping, Findings], Any]]] = {
    "hazards": (Hazards, hazards_of),
    "upkeep": (Upkeep, upkeep_of),
}


def restated(held: Any, key: str, value: float | str | bool) -> Any:
    """One field of a site, such as its ``Radio``, with another value of one setting.

    Parameters
    ----------
    held : float, Radio, Routing, Hazards or Upkeep
        The field as it is. [-]
    key : str
        Dotted path as in ``site.yaml``. [-]
    value : float, str or bool
        Its new value; a hazard or repair as a whole is True or False, on or off. [unit]

    Raises
    ------
    UsageError
        The key is unknown or only read from a folder, or the value is none for it.
    """
    known = _keys()
    if key not in known:
        raise UsageError(f"{key!r} is no setting to be changed; {alternatives(key, known)}")
    findings = Findings()
    name, *below = key.split(".")
    if not below:
        found = given_values("", Mapping(Mark(key), {key: _entry(key, value)}), findings).get(key)
    elif key == CREWS:
        repairs = Mapping(Mark(name), {below[0]: _mapping("upkeep.repair", {below[1]: value})})
        found = replace(held, crews=upkeep_of(repairs, findings).crews)
    elif name in SWITCHED:
        found = _one_of(held, below, value, name, findings)
    else:
        stated = _revised(_stated(held), name, below[0], value)
        found = settings_of(type(held), name, _mapping(name, stated), findings)
    if findings.faults:
        raise UsageError("\n".join(str(fault) for fault in findings.faults))
    return found


def _keys() -> list[str]:
    """Every key that can be changed, those of whole hazards and repairs among them."""
    stated = [one.key for one in settings() if one.key.partition(".")[0] in RESTATED]
    whole = [f"{name}.{one.name}" for name, (kind, _) in SWITCHED.items() for one in fields(kind)]
    return [*stated, *whole]


def _one_of(
    held: Any, below: list[str], value: float | str | bool, name: str, findings: Findings
) -> Any:
    """Return hazards or upkeep with one of theirs changed, or switched on or off."""
    one, path = below[0], f"{name}.{below[0]}"
    node: Entry | Mapping = _entry(path, value)

    def read(node: Entry | Mapping) -> Any:
        return getattr(SWITCHED[name][1](Mapping(Mark(name), {one: node}), findings), one)

    if below[1:]:
        kept = getattr(held, one)
        if kept is None:  # it goes on with all its defaults
            kept = read(_mapping(path, {}))
        node = _mapping(path, _revised(_stated(kept), path, below[1], value))
    return replace(held, **{one: read(node)})


def _stated(held: Any) -> Given:
    """Return what a file would state to the same effect; nothing for what is switched off."""
    found: Given = {}
    for one in () if held is None else fields(held):
        value = getattr(held, one.name)
        if isinstance(value, Duration | Timetable):
            found |= _stated(value)
        elif value is not None and value != "lognormal":  # which goes without saying
            found[one.name] = value
    return found


def _revised(stated: Given, path: str, name: str, value: float | str | bool) -> Given:
    """Return what is stated with one key changed, and without those that it stands for."""
    beside = {one.name: one.instead_of for one in section(path)}
    gone = {beside[name], *(other for other, instead in beside.items() if instead == name)}
    if "mean_h" in gone:
        gone.add("distribution")
    if name == "mean_h":
        gone.add("p90_h")
    return {key: kept for key, kept in stated.items() if key not in gone} | {name: value}


def _mapping(path: str, stated: Given) -> Mapping:
    return Mapping(Mark(path), {key: _entry(f"{path}.{key}", it) for key, it in stated.items()})


def _entry(key: str, value: Value) -> Entry:
    text = ("off", "on")[value] if isinstance(value, bool) else str(value)
    return Entry(text, Mark(key), plain=not isinstance(value, str))
