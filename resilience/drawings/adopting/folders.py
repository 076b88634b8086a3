"""What an adopted site holds already: its drawing and its tables, devices or not."""

from pathlib import Path

from resilience.building.parts import OBSTACLES, WALLS
from resilience.building.sections.changes import habits_of
from resilience.building.sections.drawn import Sources, building_of
from resilience.building.sections.levels import heights_of
from resilience.building.sections.stated import routing_of
from resilience.building.structure import Building
from resilience.building.text.documents import mapping, read_document
from resilience.building.text.entries import Findings, Mark, TableRow, id_problem, shown
from resilience.building.text.tables import Columns, read_table
from resilience.errors import UsageError


def is_site(target: Path) -> bool:
    """Whether a folder holds a site already; UsageError if it can neither hold nor become one."""
    name = shown(str(target))
    if id_problem(target.name):
        raise UsageError(f"{name} cannot be the name of a site folder; name it from outside")
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise UsageError(f"{name} exists and is not a folder")
    if not target.is_dir() or not any(target.iterdir()):
        return False
    if not (target / "site.yaml").is_file():
        raise UsageError(f"{name} exists, is not empty and holds no site.yaml")
    return True


def drawn_in(folder: Path) -> Building:
    """Return what is drawn in a site folder; InputError with every mistake in the drawing.

    Parameters
    ----------
    folder : Path
        It need not have devices yet. [-]
    """
    findings = Findings()
    whole = read_document(folder / "site.yaml", "site.yaml", findings)
    findings.raise_if_any()
    entries = whole.entries if whole else {}
    found = {key: mapping(entries.get(key), findings) for key in ("building", "changes", "routing")}
    sources = Sources(
        found["building"],
        rows_of(folder, WALLS.table, WALLS.columns, findings),
        rows_of(folder, OBSTACLES.table, OBSTACLES.columns, findings),
        heights_of(found["building"], findings),
        habits_of(found["changes"], findings),
        routing_of(found["routing"], findings).rejoin_long_h,
    )
    building = building_of(sources, findings)
    findings.raise_if_any()
    return building


def rows_of(folder: Path, file: str, columns: Columns, findings: Findings) -> list[TableRow]:
    """Return the rows of a table of a site; none if there is no such table.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    file : str
        Path of the table below it. [-]
    columns : Columns
        What its header may say. [-]
    findings : Findings
        Where faults go. [-]
    """
    path = folder / file
    if not path.exists():
        return []
    if path.is_symlink():
        findings.fault(Mark(file), "a link to another place", "expected a file of the site")
        return []
    return read_table(path, file, columns, findings) or []
