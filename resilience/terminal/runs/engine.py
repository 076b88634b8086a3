"""Which engine plays, and what a person should know of it before it starts."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from resilience.terminal.options import Engine

if TYPE_CHECKING:
    from resilience.building.site import Site

# What is called of the compiled engine, as the files of compiled code are named.
COMPILING = "compiling the engine"
PLAY = "play.play"
CROSSINGS = "meetings.meet_paths"  # and of what finds the things in the way of many paths


def engine_at_hand(asked: Engine, is_quiet: bool = False) -> str:
    """Name of the engine that plays; tells what makes it slow here or slow to begin.

    Parameters
    ----------
    asked : Engine
        What was asked for. [-]
    is_quiet : bool
        Whether to keep to what is wrong. [-]
    """
    from resilience.lifetime.engines import why_not_compiled
    from resilience.terminal.screen import tell

    if asked is Engine.REFERENCE:
        return asked.value
    why = why_not_compiled()
    if why:
        tell(f"{why[0].upper()}{why[1:]}: the reference engine plays, to the same answer but slow.")
        return Engine.REFERENCE.value
    from resilience.lifetime.state.compiled import cache_folder

    folder = cache_folder()
    if folder is None:
        tell(
            "No folder for compiled code can be written (XDG_CACHE_HOME names another), so the "
            "engine is compiled anew, which can take a minute."
        )
    elif not is_quiet and not _is_kept(folder, PLAY):
        tell("The engine is compiled for the first run, which can take a minute.")
    return asked.value


def beginning(name: str) -> str:
    """Say what an engine does until its first lifetimes are complete.

    Parameters
    ----------
    name : str
        Of the engine that plays. [-]
    """
    if name == Engine.COMPILED.value:
        from resilience.lifetime.state.compiled import cache_folder

        folder = cache_folder()
        if folder is None or not _is_kept(folder, PLAY):
            return COMPILING
    return "playing the first lifetimes"


def was_compiling() -> bool:
    """Whether a compiled engine was asked for that is not there yet."""
    if "resilience.lifetime.state.compiled" not in sys.modules:
        return False
    return beginning(Engine.COMPILED.value) == COMPILING


def _is_kept(folder: Path, entry: str) -> bool:
    return any(folder.rglob(f"{entry}-*.py{sys.version_info.major}{sys.version_info.minor}.nbi"))


def tell_of_many_paths(site: "Site") -> None:
    """Tell a person that links among many devices are slow to begin, where they are.

    Parameters
    ----------
    site : Site
        Whose links are asked for. [-]
    """
    from resilience.connectivity.shapes.compiled import is_much, kept_in
    from resilience.lifetime.engines import why_not_compiled
    from resilience.terminal.screen import tell

    most = max(len(layout.devices) for layout in site.layouts)
    building, n_paths = site.building, most * (most - 1) // 2
    n_things = len(building.walls) + len(building.pillars) + len(building.obstacles)
    if not building.is_drawn or not is_much(n_paths, n_things) or why_not_compiled():
        return
    folder = kept_in()
    if folder is None or not _is_kept(folder, CROSSINGS):
        tell("What finds the things in the way of so many paths is compiled first: ten seconds.")
