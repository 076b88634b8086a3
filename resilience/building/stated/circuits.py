"""Section ``circuits``: what feeds several devices, and whether anything hangs on it."""

from collections.abc import Iterable

from resilience.assumptions.catalogue import section
from resilience.building.settings import Circuit, Hazards
from resilience.building.stated.sections import duration_of, given_values
from resilience.building.text.documents import Mapping, mapping
from resilience.building.text.entries import Entry, Findings, TableRow, alternatives, quoted, shown

PATH = "circuits.*"
DURATION_KEYS = {"distribution", "median_h", "p90_h", "mean_h"}


def circuits_of(
    found: Mapping | None, hazards: Hazards, findings: Findings
) -> tuple[tuple[str, Circuit], ...]:
    """Return the circuits that a site states, by id, in order.

    Parameters
    ----------
    found : Mapping or None
        What stands in the file. [-]
    hazards : Hazards
        Says how long a loss of supply lasts where the circuit does not. [-]
    findings : Findings
        Where faults go. [-]
    """
    circuits: dict[str, Circuit] = {}
    for name, node in (found.entries if found else {}).items():
        id = Entry(name, node.mark).name(findings)
        given = given_values(PATH, mapping(node, findings), findings)
        is_stated = bool(DURATION_KEYS & given.keys()) or hazards.mains_outage is None
        values = {setting.name: given.get(setting.name) for setting in section(PATH)}
        if id:
            per_year = values["per_year"]
            circuits[id] = Circuit(
                float(values["backup_h"] or 0),
                None if per_year is None else float(per_year),
                duration_of(PATH, given) if is_stated else None,
            )
    return tuple(sorted(circuits.items()))


def check_circuits(
    found: Mapping | None, devices: Iterable[tuple[str, str, TableRow]], findings: Findings
) -> None:
    """Record circuits on which nothing hangs, and devices on a circuit that is not stated.

    Parameters
    ----------
    found : Mapping or None
        Section ``circuits``; where there is none, column ``circuit`` names them. [-]
    devices : iterable of (str, str, TableRow)
        Of the devices of all layouts: what each hangs on, what it names, and its row. [-]
    findings : Findings
        Where faults go. [-]
    """
    if not found:
        return
    fed: set[str] = set()
    for circuit, named, row in devices:
        fed.add(circuit)
        if named and named not in found.entries:
            wanted = "expected a circuit of section circuits"
            findings.fault(
                row.place("circuit"),
                quoted(named),
                f"{wanted}; {alternatives(named, list(found.entries))}",
            )
    for name, node in found.entries.items():
        if name not in fed:
            wanted = "expected its id in column circuit of a device on mains, or that of a level"
            findings.fault(node.mark, f"circuit {shown(name)} without devices", wanted)
