"""How a person says a what-if, and what is meant by it.

    what-if = [LAYOUT ":"] change {";" change}
    change  = "without" DEVICE {"," DEVICE}
            | DEVICE {"," DEVICE} "on mains"
            | "standby for" DEVICE {"," DEVICE}
            | "crew in" NUMBER ("hours" | "days" | "weeks")
            | NUMBER "crews"
            | "cells renewed every" NUMBER ("months" | "years")
            | "no" HAZARD
            | KEY "=" VALUE

``and`` may stand for a comma. Case does not matter, nor whether a hazard is told as one or several.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, fields, replace

from resilience.building.settings import Hazards
from resilience.building.site import Layout, Site
from resilience.building.text.entries import alternatives
from resilience.errors import UsageError
from resilience.hazards.causes import CAUSES
from resilience.remedies.supposing.changes import (
    Change,
    CrewIn,
    OnMains,
    StandbyFor,
    Stating,
    Without,
)

FORMS = (
    '"without R1", "R1 on mains", "standby for G1", "crew in 2 days", "2 crews", "cells renewed '
    'every 2 years", "no gateway outages" or "radio.swing_db = 3", several joined by ";", and '
    'before them "LAYOUT:" for one layout alone'
)
HOURS = {"hour": 1.0, "day": 24.0, "week": 168.0, "h": 1.0, "d": 24.0}
LONGEST_H = 100_000.0
NUMBER = r"(\d+(?:\.\d+)?)"


@dataclass(frozen=True, slots=True)
class Supposition:
    """What is supposed, of which layout.

    Parameters
    ----------
    text : str
        As it was said, without the layout. [-]
    layout : str
        Name of a layout; empty for the best placed one that it fits. [-]
    changes : tuple of Change
        One after the other. [-]
    """

    text: str
    layout: str
    changes: tuple[Change, ...]

    def made(self, site: Site, layout: Layout) -> Site:
        """Return the site of that layout alone, as it would be.

        Parameters
        ----------
        site : Site
            As it is. [-]
        layout : Layout
            One of its layouts. [-]

        Raises
        ------
        UsageError
            The layout has no room for it.
        """
        changed = replace(site, layouts=(layout,))
        for change in self.changes:
            changed = change.made(changed)
        return changed


def supposition(text: str, site: Site) -> Supposition:
    """Read a what-if, and see that some layout of the site has room for it.

    Parameters
    ----------
    text : str
        As it was said. [-]
    site : Site
        As it is. [-]

    Raises
    ------
    UsageError
        It cannot be understood, or fits no layout.
    """
    name, _, rest = text.rpartition(":")
    layouts = [site.layout(name.strip())] if name.strip() else list(site.layouts)
    said = [part.strip() for part in rest.split(";") if part.strip()]
    if not said:
        raise UsageError(f"a what-if says nothing; expected {FORMS}")
    found = Supposition("; ".join(said), name.strip(), tuple(map(_change, said)))
    refusals = []
    for layout in layouts:
        try:
            found.made(site, layout)
        except UsageError as refusal:
            refusals.append(refusal)
    if len(refusals) == len(layouts):
        telling = min(refusals, key=lambda one: "did you mean" not in str(one))
        raise UsageError(f"what if {found.text!r}: {telling}")
    return found


def _change(said: str) -> Change:
    """Read one change."""
    for pattern, meaning in _PATTERNS:
        if match := re.fullmatch(pattern, said, re.IGNORECASE):
            return meaning(match)
    raise UsageError(f"what if {said!r}: not understood; expected {FORMS}")


def _ids(text: str) -> tuple[str, ...]:
    """Ids joined by commas or ``and``."""
    ids = tuple(one.strip() for one in re.split(r",|\s+and\s+", text) if one.strip())
    if not ids:
        raise UsageError(f"what if {text!r}: names no device; expected {FORMS}")
    return ids


def _crew_in(match: re.Match[str]) -> Change:
    unit = match[2].casefold()
    hours = float(match[1]) * HOURS[unit if unit in HOURS else unit.removesuffix("s")]
    if not 0 < hours <= LONGEST_H:
        wanted = f"expected more than 0 and at most {LONGEST_H:,.0f} hours"
        raise UsageError(f"what if {match[0]!r}: found {hours:g} hours; {wanted}")
    return CrewIn(hours)


def _renewed_every(match: re.Match[str]) -> Change:
    months = float(match[1]) * (1.0 if match[2].casefold().startswith("month") else 12.0)
    return Stating("upkeep.rounds.every_years", months / 12.0)


def _crews(match: re.Match[str]) -> Change:
    return Stating("upkeep.crews", float(match[1]))


def _none_of(match: re.Match[str]) -> Change:
    known = hazard_words()
    said = _singular(match[1])
    if said not in known:
        meant = alternatives(said, known)
        raise UsageError(f"what if {match[0]!r}: {match[1]!r} is no hazard; {meant}")
    return Stating(f"hazards.{known[said]}", False)


def _stating(match: re.Match[str]) -> Change:
    key, text = match[1], match[2].strip()
    switches = {"on": True, "off": False}
    if text.casefold() in switches:
        return Stating(key, switches[text.casefold()])
    try:
        return Stating(key, float(text))
    except ValueError:
        return Stating(key, text)


def hazard_words() -> dict[str, str]:
    """How each hazard may be called, one and in small letters, and its key."""
    names = [one.name for one in fields(Hazards)]
    known = {_singular(name): name for name in names}
    for name in names:
        if cause := CAUSES.get(name) or CAUSES.get(_singular(name).replace(" ", "_")):
            known.setdefault(cause.noun.format(cause=cause.name.replace("_", " ")), name)
    return known


def _singular(text: str) -> str:
    """Words in small letters, the last of them as one: ``flat batteries`` is ``flat battery``."""
    words = " ".join(text.replace("_", " ").casefold().split())
    if words.endswith("ies"):
        return f"{words[:-3]}y"
    is_several = words.endswith("s") and not words.endswith("ss") and words != "zone works"
    return words[:-1] if is_several else words


_PATTERNS: tuple[tuple[str, Callable[[re.Match[str]], Change]], ...] = (
    (r"without\s+(.+)", lambda match: Without(_ids(match[1]))),
    (r"(.+?)\s+on\s+mains", lambda match: OnMains(_ids(match[1]))),
    (r"standby\s+for\s+(.+)", lambda match: StandbyFor(_ids(match[1]))),
    (rf"cells\s+renewed\s+every\s+{NUMBER}\s*(months?|years?)", _renewed_every),
    (rf"crew\s+in\s+{NUMBER}\s*(hours?|days?|weeks?|h|d)", _crew_in),
    (r"(\d+)\s+crews?", _crews),
    (r"no\s+(.+)", _none_of),
    (r"([a-z_]+(?:\.[a-z_]+)*)\s*=\s*(.+)", _stating),
)
