"""How functions are compiled, and where the result is kept.

numba's own cache does not see a change in a function that another file imports, so the cache sits
in a folder named by a digest of every source that is compiled.
"""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar

import numba
import numpy as np

from resilience.hazards import draws, strengths

Function = TypeVar("Function", bound=Callable[..., Any])

_LIFETIME = Path(__file__).parents[1]
_SOURCES = (
    *sorted(_LIFETIME.glob("fast/*.py")),
    *sorted(_LIFETIME.glob("state/*.py")),
    Path(draws.__file__),
    Path(strengths.__file__),
)


def sources_digest() -> str:
    """Digest of every source that is compiled."""
    total = hashlib.sha256(numba.__version__.encode())
    for path in _SOURCES:
        total.update(path.read_bytes())
    return total.hexdigest()[:16]


def cache_folder() -> Path | None:
    """Folder for compiled code, or None where nothing can be written."""
    base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    folder = base / "resilience" / sources_digest()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


_FOLDER = cache_folder()


def _compiler(**options: bool | str) -> Callable[[Function], Function]:
    def compiled(function: Function) -> Function:
        kept = numba.config.CACHE_DIR
        numba.config.CACHE_DIR = str(_FOLDER or "")
        try:
            return numba.njit(
                cache=_FOLDER is not None, nogil=True, error_model="numpy", _nrt=False, **options
            )(function)
        finally:
            numba.config.CACHE_DIR = kept

    return compiled


# Nothing compiled allocates memory, so reference counting is left out (``_nrt``): counting every
# array at every call had cost half of the time. Most functions are called by compiled ones only:
# without an entry from Python they compile in a third less time.
jit_entry = _compiler()
jit = _compiler(no_cpython_wrapper=True, no_cfunc_wrapper=True)

# A call hands every array over as nine words: what happens in each step is inlined instead.
jit_inline = _compiler(inline="always")


def _compiled(module: ModuleType, names: str, namespace: dict[str, Any]) -> None:
    """Compile the very functions of a module that the reference engine calls.

    Each is bound anew to a namespace in which the functions that it calls are compiled too.
    """
    for name, thing in vars(module).items():
        namespace.setdefault(name, thing)
    for name in names.split():
        plain = vars(module)[name]
        namespace[name] = jit(FunctionType(plain.__code__, namespace, name))


# numba compiles functions, not types, hence the lambda.
_SHARED: dict[str, Any] = {"unsigned": numba.njit(lambda n: np.uint64(n))}  # noqa: PLW0108
_compiled(
    draws,
    "mix stream uniform whole_ms weibull _rational normal lognormal quantile at_risk_ms away_ms",
    _SHARED,
)
_compiled(strengths, "standard draw_waves field_at draw_strengths", _SHARED)

stream = _SHARED["stream"]
uniform = _SHARED["uniform"]
quantile = _SHARED["quantile"]
whole_ms = _SHARED["whole_ms"]
at_risk_ms = _SHARED["at_risk_ms"]
away_ms = _SHARED["away_ms"]
draw_strengths = _SHARED["draw_strengths"]
