"""The functions on arrays, as they stand or compiled."""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import NamedTuple

from resilience.compiling import bind, cache_folder, compiler
from resilience.connectivity.losses import edges
from resilience.connectivity.shapes import detours, faces, grid, meetings, reckoning, scene
from resilience.connectivity.shapes.grid import Grid
from resilience.connectivity.shapes.meetings import Meetings, Paths
from resilience.connectivity.shapes.reckoning import Books
from resilience.connectivity.shapes.scene import Scene

MODULES = (edges, faces, scene, grid, meetings, detours, reckoning)


class Kernels(NamedTuple):
    """What is called for many paths at once."""

    meet_paths: Callable[[Scene, Grid, Paths, Meetings, int], int]
    reckon_paths: Callable[[Books, Paths, int], None]


AS_THEY_STAND = Kernels(meetings.meet_paths, reckoning.reckon_paths)


def kept_in() -> Path | None:
    """Folder for the compiled functions, or None where nothing can be written."""
    return cache_folder(Path(module.__file__ or "") for module in MODULES)


@cache
def compiled() -> Kernels:
    """Return the same functions compiled, where numba is at hand; else as they stand."""
    try:
        import numba  # noqa: F401 - only whether it is there
    except ImportError:
        return AS_THEY_STAND
    folder = kept_in()
    outer = compiler(folder)
    inner = compiler(folder, no_cpython_wrapper=True, no_cfunc_wrapper=True)
    found = bind(MODULES, lambda one: (outer if one.__name__ in Kernels._fields else inner)(one))
    return Kernels(**{name: found[name] for name in Kernels._fields})
