"""How a user names a site, by its folder or the main file in it, and which files are read there."""

from pathlib import Path

from resilience.building.files.calibrations import CALIBRATION_FILE
from resilience.building.service.learnt import LEARNT_FILE
from resilience.building.service.logbook import HISTORY_FILE
from resilience.building.service.places import PLACES_FILE
from resilience.building.service.state import STATE_FILE
from resilience.building.text.entries import Findings, Mark, alternatives, listed, shown

MAIN_FILE = "site.yaml"
READ_FILES = (
    *("site.yaml", "sensors.csv", "walls.csv", "obstacles.csv", "links.csv", "policy.yaml"),
    *(CALIBRATION_FILE, LEARNT_FILE, HISTORY_FILE, STATE_FILE, PLACES_FILE),
)
LAYOUT_FILES = ("devices.csv", "links.csv")


def folder_of(named: Path) -> Path:
    """Return the site folder that a path names: itself, or that of its main file.

    Parameters
    ----------
    named : Path
        A folder, or ``site.yaml`` in one. [-]
    """
    return named.parent if named.name == MAIN_FILE and not named.is_dir() else named


def check_folder(path: Path, name: str, findings: Findings) -> None:
    """Raise InputError with a way out if there is no such folder, or no site in it.

    Parameters
    ----------
    path : Path
        The folder. [-]
    name : str
        How the user called it, in messages. [-]
    findings : Findings
        Where the fault goes. [-]
    """
    if path.is_dir() and (path / MAIN_FILE).is_file():
        return
    if path.is_dir() and not (path / MAIN_FILE).is_symlink():
        inside = sorted(one.parent.name for one in path.glob(f"*/{MAIN_FILE}"))
        wanted = f"expected a site folder with {MAIN_FILE} in it"
        if inside:
            wanted += f"; sites are in its folders {listed(inside)}"
        elif (path.parent / MAIN_FILE).is_file() or (path.parent.parent / MAIN_FILE).is_file():
            wanted += ", such as the folder above"
        findings.fault(Mark(name), f"no {MAIN_FILE}", wanted)
    elif path.exists() and not path.is_dir():
        wanted = f"expected a site folder, or the {MAIN_FILE} in it"
        findings.fault(Mark(name), "another file", wanted)
    elif not path.is_dir():
        beside = [one.parent.name for one in path.parent.glob(f"*/{MAIN_FILE}")]
        way_out = f"; {alternatives(path.name, beside)}" if beside else ""
        findings.fault(Mark(name), "no such folder", f"expected a site{way_out}")
    findings.raise_if_any()


def file_name(*parts: str) -> str:
    """Return a path below the site folder as messages show it.

    Parameters
    ----------
    parts : str
        Folders and file. [-]
    """
    return "/".join(shown(part) for part in parts)


def check_files(site: Path, findings: Findings) -> None:
    """Tell of files that are not read; of a misspelt one as a mistake.

    Parameters
    ----------
    site : Path
        The site folder. [-]
    findings : Findings
        Where faults and notes go. [-]
    """
    if (site / HISTORY_FILE).exists() and not (site / LEARNT_FILE).exists():
        findings.note(f"{HISTORY_FILE}: nothing is learnt from it yet (resilience learn).")
    _check_names(site, (), READ_FILES, findings)
    for path in sorted(site.glob("layouts/[!.]*/")):
        _check_names(site, ("layouts", path.name), LAYOUT_FILES, findings)


def _check_names(
    site: Path, parts: tuple[str, ...], known: tuple[str, ...], findings: Findings
) -> None:
    for name in sorted(path.name for path in site.joinpath(*parts).iterdir()):
        if Path(name).suffix.casefold() not in (".csv", ".yaml", ".yml") or name in known:
            continue
        file, way_out = file_name(*parts, name), alternatives(name, known)
        if way_out.startswith("did"):
            wanted = f"expected a file that is read; {way_out}"
            findings.fault(Mark(file), "an unknown file", wanted)
        else:
            findings.note(f"{file} is not a file that is read.")
