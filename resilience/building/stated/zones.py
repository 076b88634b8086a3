"""What zones state of hazards: rates of their own, and hazards that strike nowhere else."""

from dataclasses import replace
from typing import Any

from resilience.building.parts import ZONE_RATES
from resilience.building.settings import Hazards
from resilience.building.stated.sections import hazards_of
from resilience.building.structure import Zone
from resilience.building.text.documents import Mapping
from resilience.building.text.entries import Entry, Findings, Mark


def with_zones(hazards: Hazards, zones: tuple[Zone, ...], off: frozenset[str]) -> Hazards:
    """Return hazards with those that strike only where a zone says so, or nowhere at all.

    Parameters
    ----------
    hazards : Hazards
        As section ``hazards`` has them. [-]
    zones : tuple of Zone
        What states rates of its own. [-]
    off : frozenset of str
        Hazards that stay off all the same. [-]
    """
    found: dict[str, Any] = {}
    for name, key in ZONE_RATES.items():
        held = getattr(hazards, name)
        is_struck = any(getattr(zone, key) for zone in zones)
        if held is None and is_struck and name not in off:
            found[name] = _nowhere_else(name)
        elif held is not None and not is_struck and getattr(held, "per_year", 1) == 0:
            found[name] = None
    return replace(hazards, **found)


def _nowhere_else(name: str) -> Any:
    """Return a hazard with its defaults that strikes only in zones with a rate of their own."""
    mark, findings = Mark("zones"), Findings()
    named = Mapping(mark, {name: Entry("on", mark), "all_others": Entry("off", mark)})
    held = getattr(hazards_of(named, findings), name)
    if name == "removed":
        return replace(held, reach_per_year=0.0, high_per_year=0.0)
    return replace(held, per_year=0.0)
