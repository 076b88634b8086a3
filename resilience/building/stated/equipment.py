"""What devices are and what feeds them: models, cells by chemistry, and how warm it is there."""

from collections.abc import Collection
from dataclasses import asdict

from resilience.assumptions.catalogue import default, section
from resilience.assumptions.devices import BATTERY_PROFILES, CHEMISTRIES, USUAL_CHEMISTRY
from resilience.building.models import BatteryProfile, Chemistry, DeviceModel
from resilience.building.stated.sections import (
    Given,
    assumed_of,
    filled,
    given_values,
    settings_of,
    values_in,
)
from resilience.building.text.documents import (
    Listing,
    Mapping,
    Node,
    described,
    is_nothing,
    known_keys,
    mapping,
    record,
)
from resilience.building.text.entries import Entry, Findings, Mark, quoted
from resilience.building.text.values import checked, number_in

NO_CELLS = ("mains", "off", "none", "no", "false", "ac", "grid", "socket", "plug")
NOT_CELLS = "expected a battery profile. For a device on mains"
IN_A_MODEL = (
    "leave battery out and write mains in column supply of sensors.csv or devices.csv, in the row "
    "of the device"
)
REPORTING = ("sleep_ua", "report_uc", "reports_per_h")  # stated together or not at all
EVERYWHERE = "everywhere"
N_MONTHS = 12
Months = tuple[float, ...]


def batteries_of(
    found: Mapping | None, chemistries: Mapping | None, findings: Findings
) -> dict[str, BatteryProfile]:
    """Return the profiles of the catalogue and those of section ``batteries``, by name.

    Parameters
    ----------
    found, chemistries : Mapping or None
        What stands in the two sections. [-]
    findings : Findings
        Where faults go. [-]
    """
    kinds = _chemistries(chemistries, findings)
    profiles = {name: _known(name, kinds, findings) for name in BATTERY_PROFILES}
    for name, node in (found.entries if found else {}).items():
        usable = Entry(name, node.mark).name(findings)
        given = given_values("batteries.*", mapping(node, findings), findings)
        if usable:
            known = asdict(profiles[usable]) if usable in profiles else {}
            kind = given.get("chemistry") or known.get("chemistry") or USUAL_CHEMISTRY
            given = known | asdict(kinds[str(kind)]) | given
            profiles[usable] = filled(BatteryProfile, "batteries.*", given)
    return profiles


def _known(name: str, kinds: dict[str, Chemistry], findings: Findings) -> BatteryProfile:
    """Return a profile of the catalogue, or what is assumed in its place."""
    known = BATTERY_PROFILES[name]
    given: Given = {
        "capacity_mah": known.capacity_mah[0],
        "usable_share": known.usable_share,
        "chemistry": known.chemistry,
    }
    given |= asdict(kinds[known.chemistry]) | assumed_of(f"batteries.{name}", findings)
    return filled(BatteryProfile, "batteries.*", given)


def _chemistries(found: Mapping | None, findings: Findings) -> dict[str, Chemistry]:
    """Return what cells of each chemistry are like, as section ``chemistries`` has it."""
    entries = found.entries if found else {}
    if found:
        known_keys(found, CHEMISTRIES, findings)
    return {
        name: settings_of(
            Chemistry, f"chemistries.{name}", mapping(entries.get(name), findings), findings
        )
        for name in CHEMISTRIES
    }


def models_of(
    found: Mapping | None, batteries: dict[str, BatteryProfile], findings: Findings
) -> dict[str, DeviceModel]:
    """Return the device models of section ``models`` by name; ``standard`` always exists.

    Parameters
    ----------
    found : Mapping or None
        What stands in the section. [-]
    batteries : dict
        Battery profiles by name. [-]
    findings : Findings
        Where faults go. [-]
    """
    models = {"standard": settings_of(DeviceModel, "models.*", None, findings)}
    for name, node in (found.entries if found else {}).items():
        usable = Entry(name, node.mark).name(findings)
        model = settings_of(DeviceModel, "models.*", mapping(node, findings), findings)
        if not usable:
            continue
        models[usable] = model
        if isinstance(node, Mapping):
            _check_battery(node.entries.get("battery"), batteries, findings)
            _check_reports(node, findings)
    return models


def _check_battery(
    battery: Node | None, batteries: dict[str, BatteryProfile], findings: Findings
) -> None:
    if not isinstance(battery, Entry):
        return
    if is_no_battery(battery.text, batteries):
        findings.fault(battery.mark, quoted(battery.text), f"{NOT_CELLS}: {IN_A_MODEL}")
    else:
        battery.word(batteries, findings, "a battery profile")


def _check_reports(model: Mapping, findings: Findings) -> None:
    """Record a model that states only a part of what its currents would follow from."""
    stated = [key for key, node in model.entries.items() if not is_nothing(node)]
    missing = [key for key in REPORTING if key not in stated]
    for key in (*REPORTING, "forwarded_uc"):
        if missing and key in stated:
            wanted = f"expected {' and '.join(missing)} beside it, as a current follows from all"
            findings.fault(model.entries[key].mark, f"{key} without {missing[0]}", wanted)
            return


def is_no_battery(text: str, batteries: Collection[str]) -> bool:
    """Whether somebody says mains, or nothing, where the name of a battery profile stands."""
    return text not in batteries and text.casefold() in NO_CELLS


def temperatures_of(found: Mapping | None, findings: Findings) -> dict[str, Months]:
    """Return section ``temperatures``: of each zone, level or everywhere, by month.

    Parameters
    ----------
    found : Mapping or None
        What stands in the section. [-]
    findings : Findings
        Where faults go. [-]
    """
    assumed = assumed_of("temperatures.*", findings)
    usual = number_in(assumed.get("all_year_c", default("temperatures.*.all_year_c")))
    courses = {EVERYWHERE: (usual,) * N_MONTHS}
    for name, node in (found.entries if found else {}).items():
        place = mapping(node, findings)
        if place is None:
            continue
        row = record(place, ("all_year_c",), findings, ("by_month_c",))
        by_month = place.entries.get("by_month_c")
        if row.has("all_year_c") and not is_nothing(by_month):
            row.fault("all_year_c", "expected either all_year_c or by_month_c")
        elif by_month is not None and not is_nothing(by_month):
            courses[name] = _by_month(by_month, findings) or courses[EVERYWHERE]
        else:
            all_year_c = values_in(row, "temperatures.*").get("all_year_c", usual)
            courses[name] = (number_in(all_year_c),) * N_MONTHS
    return courses


def _by_month(node: Node, findings: Findings) -> Months | None:
    """Return twelve temperatures; a fault and None if they are not."""
    wanted = "expected a list of twelve temperatures in C, from January on"
    if not isinstance(node, Listing):
        findings.fault(node.mark, described(node), wanted)
        return None
    if len(node.items) != N_MONTHS:
        findings.fault(node.mark, f"{len(node.items)} values", wanted)
        return None
    (setting,) = (one for one in section("temperatures.*") if one.name == "by_month_c")
    months = []
    for item in node.items:
        if not isinstance(item, Entry):
            findings.fault(item.mark, described(item), wanted)
        elif (value := checked(setting, item, findings)) is not None:
            months.append(float(value))
    return tuple(months) if len(months) == N_MONTHS else None


def check_climates(found: Mapping | None, places: Collection[str], findings: Findings) -> None:
    """Record each name of section ``temperatures`` that no device is in.

    Parameters
    ----------
    found : Mapping or None
        What stands in the section. [-]
    places : collection of str
        Levels, and zones of devices. [-]
    findings : Findings
        Where faults go. [-]
    """
    known = (EVERYWHERE, *sorted(places))
    for name, node in (found.entries if found else {}).items():
        if name not in known:
            mark = Mark(node.mark.file, node.mark.line, f"key temperatures.{name}")
            wanted = "everywhere, a level, or a zone that column zone of a table of devices names"
            findings.unknown(mark, name, known, wanted)


def course_at(courses: dict[str, Months], zone: str, level: str) -> Months:
    """Return the temperatures of a place: of its zone, else its level, else everywhere.

    Parameters
    ----------
    courses : dict
        By name of the zone or level. [C]
    zone, level : str
        Where it is; empty where nobody said. [-]
    """
    return courses.get(zone) or courses.get(level) or courses[EVERYWHERE]
