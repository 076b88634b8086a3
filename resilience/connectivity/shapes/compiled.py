"""The functions on arrays, as they stand or compiled."""

import math
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np

from resilience.compiling import bind, cache_folder, compiler
from resilience.connectivity.losses import edges
from resilience.connectivity.shapes import detours, faces, grid, meetings, reckoning, scene
from resilience.connectivity.shapes.grid import Grid
from resilience.connectivity.shapes.meetings import Meetings, Paths
from resilience.connectivity.shapes.reckoning import Reckoning
from resilience.connectivity.shapes.scene import Scene

# A path takes 8 to 12 us times that root as it stands, on the machine that benchmarks name: 1.5 s.
MUCH = 150_000

State = TypeVar("State", bound=tuple[Any, ...])

MODULES = (edges, faces, scene, grid, meetings, detours, reckoning)


class Kernels(NamedTuple):
    """What is called for many paths at once."""

    meet_paths: Callable[[Scene, Grid, Paths, Meetings, int], int]
    reckon_paths: Callable[[Reckoning, Paths, int], None]


def _meet_paths(scene: Scene, grid: Grid, paths: Paths, met: Meetings, first: int) -> int:
    return meetings.meet_paths(viewed(scene), viewed(grid), viewed(paths), viewed(met), first)


def _reckon_paths(work: Reckoning, paths: Paths, first: int) -> None:
    seen = Reckoning(viewed(work.scene), viewed(work.met), viewed(work.bounds), viewed(work.paid))
    reckoning.reckon_paths(seen, viewed(paths), first)


AS_THEY_STAND = Kernels(_meet_paths, _reckon_paths)


def viewed(state: State) -> State:
    """Named tuple with views of the same memory in the place of its arrays.

    One entry of a view is a plain number, which is fetched and reckoned with in less than half of
    the time that NumPy takes for one of its own.

    Parameters
    ----------
    state : named tuple
        Arrays and numbers. [-]
    """
    return type(state)(*(one.data if isinstance(one, np.ndarray) else one for one in state))


def is_much(n_paths: int, n_things: int) -> bool:
    """Whether so many paths are worth compiled functions, which take 0.7 s to load.

    Parameters
    ----------
    n_paths : int
        Paths. [-]
    n_things : int
        Things drawn; a path comes near a number of them that grows with its root. [-]
    """
    return n_paths * math.sqrt(n_things) >= MUCH


@cache
def compiled() -> Kernels:
    """Return the same functions compiled, where numba is at hand; else as they stand."""
    try:
        import numba  # noqa: F401 - only whether it is there
    except ImportError:
        return AS_THEY_STAND
    folder = cache_folder(Path(module.__file__ or "") for module in MODULES)
    outer = compiler(folder)
    inner = compiler(folder, no_cpython_wrapper=True, no_cfunc_wrapper=True)
    found = bind(MODULES, lambda one: (outer if one.__name__ in Kernels._fields else inner)(one))
    return Kernels(**{name: found[name] for name in Kernels._fields})
