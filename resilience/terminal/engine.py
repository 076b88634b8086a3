"""Which engine plays, and what a person should know of it before it starts."""

import sys

from resilience.terminal.options import Engine

# What a verb calls of the compiled engine, as the files of compiled code are named.
STUDY, STORY = "buildings.play_many", "story.play"


def engine_at_hand(asked: Engine, entry: str, is_quiet: bool = False) -> str:
    """Name of the engine that plays; tells what makes it slow here or slow to begin.

    Parameters
    ----------
    asked : Engine
        What was asked for. [-]
    entry : str
        ``STUDY`` or ``STORY``. [-]
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
    version = f"py{sys.version_info.major}{sys.version_info.minor}"
    if folder is None:
        tell(
            "No folder for compiled code can be written (XDG_CACHE_HOME names another), so the "
            "engine is compiled anew, which can take a minute."
        )
    elif not is_quiet and not any(folder.rglob(f"{entry}-*.{version}.nbi")):
        tell("The engine is compiled for the first run, which can take a minute.")
    return asked.value
