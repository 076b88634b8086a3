"""Files that a verb writes for people: where they go, and what they never replace."""

import hashlib
from collections.abc import Callable
from pathlib import Path

from resilience.errors import UsageError


def usual_place(site: str, verb: str, name: str = "", suffix: str = ".html") -> Path:
    """Where a file goes unless told otherwise; no two names of a site to the same place.

    Parameters
    ----------
    site : str
        Name of the site. [-]
    verb : str
        What writes it. [-]
    name : str
        Of what, such as a layout; empty for all of the site. [-]
    suffix : str
        End of the file's name. [-]
    """
    from resilience.montecarlo.runs.folders import safe_name
    from resilience.terminal.runs.keeping import RESULTS

    told = safe_name(name) if name else ""
    if told != name:
        told += f"-{hashlib.sha256(name.encode('utf-8', 'surrogatepass')).hexdigest()[:6]}"
    return RESULTS / safe_name(site) / f"{verb}{f'-{told}' if told else ''}{suffix}"


def refuse_others(
    target: Path, may_replace: bool, is_ours: Callable[[Path], bool], verb: str
) -> None:
    """Make room for a file, but not in the place of somebody's own unless told to.

    Parameters
    ----------
    target : Path
        Where it is to go. [-]
    may_replace : bool
        Whether anything may be replaced. [-]
    is_ours : callable
        Whether a file that exists is one that the verb wrote. [-]
    verb : str
        Its name. [-]

    Raises
    ------
    UsageError
        Somebody's own file is there, or nothing can be written there.
    """
    made = "drawn" if verb == "plan" else "made"
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.exists() and not may_replace and not is_ours(target):
            raise UsageError(
                f"{target} is there and was not {made} by {verb}, so it stays: name another file, "
                "or add --overwrite"
            )
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}") from error


def put(target: Path, text: str) -> None:
    """Write a file whole or not at all; nobody reads it back, so no draft is refused.

    Parameters
    ----------
    target : Path
        Where it goes, into a folder that exists. [-]
    text : str
        What it shall hold. [-]
    """
    from resilience.building.text.keeping import write_whole

    write_whole(target, text, lambda _draft: None)
