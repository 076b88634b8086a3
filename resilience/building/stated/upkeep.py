"""What sections ``upkeep``, ``calendar`` and ``prices`` of ``site.yaml`` say."""

from dataclasses import fields
from datetime import date
from typing import Any

from resilience.assumptions.catalogue import Value, default
from resilience.building.settings import Learnt
from resilience.building.stated.sections import (
    Given,
    duration_of,
    filled,
    given_values,
    settings_of,
    with_learnt,
)
from resilience.building.text.documents import Mapping, Node, is_nothing, is_off, mapping
from resilience.building.text.entries import Findings, quoted
from resilience.building.upkeep import Prices, Rounds, Spares, Upkeep, WorkingHours

DATES = (date(1970, 1, 1), date(2200, 1, 1))  # leaves room for any horizon
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
EVERY = "every"
LEAST_OPEN_H = 0.1
DURATIONS = ("repair", "gateway_repair", "response")
OPTIONAL: dict[str, type] = {"rounds": Rounds, "spares": Spares}  # there only where stated
Entries = dict[str, Node]
NESTED = (*DURATIONS, *OPTIONAL)
PLAIN = tuple(entry.name for entry in fields(Upkeep) if entry.name not in NESTED)


def upkeep_of(found: Mapping | None, findings: Findings, learnt: Learnt | None = None) -> Upkeep:
    """Return section ``upkeep``: what is not named keeps its default.

    Parameters
    ----------
    found : Mapping or None
        What stands in the file. [-]
    findings : Findings
        Where faults go. [-]
    learnt : Learnt or None
        What own history says in the place of what is stated. [-]
    """
    entries = found.entries if found else {}
    plain = given_values("upkeep", found, findings, NESTED)
    stated = {name: _stated(name, entries.get(name), findings, learnt) for name in DURATIONS}
    if is_nothing(entries.get("response")):
        stated["response"] = None
    _settle_crews(entries, plain, stated["repair"] or {}, findings)
    _tell_idle(entries, plain, findings)
    if learnt is not None and learnt.of("upkeep.repair"):
        _tell_counted_twice(entries, plain, findings)
    durations = {
        name: None if given is None else duration_of(f"upkeep.{name}", given)
        for name, given in stated.items()
    }
    usual = {name: default(f"upkeep.{name}") for name in PLAIN}
    optional = {name: _optional(name, entries.get(name), findings) for name in OPTIONAL}
    return Upkeep(**durations, **optional, **(usual | plain))  # type: ignore[arg-type] # as listed


def _optional(name: str, node: Node | None, findings: Findings) -> Any:
    """What is stated of rounds or spares; None where nothing is, or they are off."""
    path = f"upkeep.{name}"
    if is_nothing(node):
        return None
    if is_off(node):
        findings.stated.add(path)
        return None
    return filled(OPTIONAL[name], path, given_values(path, mapping(node, findings), findings))


def _tell_idle(entries: Entries, plain: Given, findings: Findings) -> None:
    """Tell what is stated and changes nothing."""
    if "alarm_on" in plain and not plain.get("alarm_h"):
        findings.note(f"{entries['alarm_on'].mark}: it has no say as long as alarm_h is 0.")
    is_deaf = not plain.get("alarm_h") or plain.get("alarm_on") == "down"
    if plain.get("resurvey") and is_deaf:
        findings.note(
            f"{entries['resurvey'].mark}: it has no say as long as nobody is called for a sensor "
            "without a way: alarm_h above 0, alarm_on dark."
        )


def _stated(
    name: str, node: Node | None, findings: Findings, learnt: Learnt | None
) -> Given | None:
    """What is stated of one duration; None where it is off."""
    path = f"upkeep.{name}"
    if is_off(node):
        findings.stated.add(path)
        return None
    return with_learnt(given_values(path, mapping(node, findings), findings), path, learnt)


def _settle_crews(entries: Entries, plain: Given, repair: Given, findings: Findings) -> None:
    """Take the number of crews from among the repairs, where it may stand as well."""
    if "crews" not in repair:
        return
    if "crews" in plain:
        wanted = "expected it once, here or among the repairs"
        findings.fault(entries["crews"].mark, "crews in both places", wanted)
    plain["crews"] = repair["crews"]
    findings.stated.add("upkeep.crews")


def _tell_counted_twice(entries: Entries, plain: Given, findings: Findings) -> None:
    """Tell what a repair that was learnt from failure to mending holds already."""
    response = entries.get("response")
    stated = ["alarm_h"] if plain.get("alarm_h") else []
    if not (is_nothing(response) or is_off(response)):
        stated.append("response")
    if stated:
        findings.note(
            f"upkeep.repair is learnt from history, from failure to mending, so it holds "
            f"{' and '.join(stated)} already: leave out one of the two."
        )


def calendar_of(
    found: Mapping | None, findings: Findings
) -> tuple[date, date | None, WorkingHours]:
    """Return section ``calendar``: hand-over, today, and when somebody can be on site.

    Parameters
    ----------
    found : Mapping or None
        What stands in the file. [-]
    findings : Findings
        Where faults go. [-]
    """
    given = given_values("calendar", found, findings)
    entries = found.entries if found else {}
    opens_h, closes_h = (_hours(given, name) for name in ("opens_h", "closes_h"))
    if closes_h - opens_h < LEAST_OPEN_H:
        entry = entries.get("closes_h") or entries["opens_h"]
        wanted = f"expected closes_h at least {LEAST_OPEN_H:g} h after opens_h, {opens_h:g}"
        findings.fault(entry.mark, "no working hours", f"{wanted}: nothing would ever be mended")
        opens_h, closes_h = 0.0, 24.0
    days = _days(entries.get("access_days"), str(given.get("access_days", EVERY)), findings)
    usual = date.fromisoformat(str(default("calendar.hand_over")))
    hand_over = _day(entries.get("hand_over"), given.get("hand_over"), findings)
    asked = given.get("today")
    is_new = asked == default("calendar.today")
    today = None if is_new else _day(entries.get("today"), asked, findings)
    if hand_over and today and today < hand_over:
        wanted = f"expected the day of hand-over, {hand_over}, or a later one"
        findings.fault(entries["today"].mark, quoted(str(today)), wanted)
    return hand_over or usual, today, WorkingHours(opens_h, closes_h, days)


def _hours(given: Given, name: str) -> float:
    value = given.get(name, default(f"calendar.{name}"))
    assert isinstance(value, float)  # the catalogue's; a test holds it to that
    return value


def _day(node: Node | None, stated: Value, findings: Findings) -> date | None:
    if node is None or stated is None:
        return None
    try:
        day = date.fromisoformat(str(stated))
    except ValueError:
        day = date.max
    if not DATES[0] <= day <= DATES[1]:
        findings.fault(node.mark, quoted(str(stated)), "expected a date such as 2030-01-31")
        return None
    return day


def _days(node: Node | None, stated: str, findings: Findings) -> tuple[int, ...]:
    """Days of the week from words and spans such as ``mon-fri``."""
    if node is None or stated == EVERY:
        return tuple(range(len(WEEK)))
    found: set[int] = set()
    for word in stated.replace(",", " ").casefold().split():
        first, _, last = word.partition("-")
        if first not in WEEK or (last or first) not in WEEK:
            found.clear()
            break
        here, there = WEEK.index(first), WEEK.index(last or first)
        found |= {day % len(WEEK) for day in range(here, there + 1 + 7 * (there < here))}
    if not found:
        wanted = f"expected {EVERY}, or some of {' '.join(WEEK)}, such as mon-fri"
        findings.fault(node.mark, quoted(stated), wanted)
    return tuple(sorted(found))


def prices_of(found: Mapping | None, findings: Findings) -> Prices:
    """Return section ``prices``: what is not named has no price.

    Parameters
    ----------
    found : Mapping or None
        What stands in the file. [-]
    findings : Findings
        Where faults go. [-]
    """
    return settings_of(Prices, "prices", found, findings)
