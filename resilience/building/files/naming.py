"""How a user names a site: by its folder, or by the main file in it."""

from pathlib import Path

from resilience.building.text.entries import Findings, Mark, alternatives, listed

MAIN_FILE = "site.yaml"


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
