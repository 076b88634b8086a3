"""Which engine plays, and what a person should know of it before it starts."""

import sys
from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING

from resilience.terminal.options import Engine

if TYPE_CHECKING:
    from resilience.building.site import Site

# By what is compiled, functions that play or functions that find what is in the way of paths.
SLOW = {
    "resilience.lifetime": "The engine is compiled for the first run, which can take a minute.",
    "resilience.connectivity": (
        "What finds the things in the way of so many paths is compiled first: ten seconds."
    ),
}
PLAYING, PATHS = SLOW


class Compilation:
    """What is compiled in this process just now, as numba says itself."""

    def __init__(self) -> None:
        self._n_under_way = 0
        self._asked: set[str] = set()  # what a person is to be told of, once
        self.was_cut_short = False

    @property
    def is_under_way(self) -> bool:
        """Whether something is being compiled."""
        return self._n_under_way > 0

    def tell_of(self, what: str) -> None:
        """Have a person told if something is compiled: ``PLAYING`` or ``PATHS``."""
        self._asked.add(what)

    def begin(self, module: str) -> None:
        """Note that a function of a module is compiled from now on."""
        from resilience.terminal.screen import tell

        self._n_under_way += 1
        for what in [one for one in self._asked if module.startswith(one)]:
            self._asked.remove(what)
            tell(SLOW[what])

    def end(self, is_cut_short: bool) -> None:
        """Note that this is over."""
        self._n_under_way -= 1
        self.was_cut_short |= is_cut_short


@cache
def compilation() -> Compilation:
    """Return the one of this process; numba has to be at hand."""
    from resilience.compiling import hear_of_compiling

    made = Compilation()
    hear_of_compiling(made.begin, made.end)
    return made


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

    heard = compilation()  # from before anything is compiled
    if cache_folder() is None:
        tell(
            "No folder for compiled code can be written (XDG_CACHE_HOME names another), so the "
            "engine is compiled anew, which can take a minute."
        )
    elif not is_quiet:
        heard.tell_of(PLAYING)
    return asked.value


def compiling(name: str) -> Callable[[], bool]:
    """Return what says at any time whether an engine is being compiled.

    Parameters
    ----------
    name : str
        Of the engine that plays. [-]
    """
    return lambda: name == Engine.COMPILED.value and compilation().is_under_way


def was_compiling() -> bool:
    """Whether something was still being compiled when all was cut short."""
    return "numba" in sys.modules and compilation().was_cut_short


def tell_of_many_paths(site: "Site") -> None:
    """Have a person told if links among many devices are slow to begin.

    Parameters
    ----------
    site : Site
        Whose links are asked for. [-]
    """
    from resilience.connectivity.shapes.compiled import is_much
    from resilience.lifetime.engines import why_not_compiled

    most = max(len(layout.devices) for layout in site.layouts)
    building, n_paths = site.building, most * (most - 1) // 2
    n_things = len(building.walls) + len(building.pillars) + len(building.obstacles)
    if building.is_drawn and is_much(n_paths, n_things) and not why_not_compiled():
        compilation().tell_of(PATHS)
