"""How the engine is compiled, what it shares with the reference, and how its arrays are typed."""

from pathlib import Path
from typing import Any, Protocol, TypeVar, overload

import numba
import numpy as np

from resilience import compiling, draws
from resilience.compiling import bind, compiler
from resilience.connectivity import reception
from resilience.connectivity.luck import prospect, strengths
from resilience.hazards import causes
from resilience.lifetime import record, tally

_LIFETIME = Path(__file__).parents[1]
# What stands in these is compiled in: functions, and numbers such as the place of a column.
_SOURCES = (
    *sorted(_LIFETIME.glob("fast/*.py")),
    *sorted(_LIFETIME.glob("state/*.py")),
    *(
        Path(str(module.__file__))
        for module in (draws, strengths, prospect, reception, causes, record, tally)
    ),
)


def cache_folder() -> Path | None:
    """Folder for the compiled engine, or None where nothing can be written."""
    return compiling.cache_folder(_SOURCES)


_FOLDER = cache_folder()

# Most functions are called by compiled ones only: without an entry from Python they compile in a
# third less time.
jit_entry = compiler(_FOLDER)
jit = compiler(None, no_cpython_wrapper=True, no_cfunc_wrapper=True)

# A call hands every array over as nine words, so what happens in each step is inlined: by the code
# generator, which is twice as quick to compile as numba's own inlining.
jit_inline = compiler(None, no_cpython_wrapper=True, no_cfunc_wrapper=True, forceinline=True)

jit_once = compiler(None, inline="always")

# numba compiles functions, not types, hence the lambdas.
_CASTS = {
    draws.unsigned: numba.njit(lambda n: np.uint64(n)),  # noqa: PLW0108
    draws.signed: numba.njit(lambda n: np.int64(n)),  # noqa: PLW0108
}
_SHARED = bind((draws, strengths), jit, _CASTS)

stream = _SHARED["stream"]
uniform = _SHARED["uniform"]
quantile = _SHARED["quantile"]
whole_ms = _SHARED["whole_ms"]
at_risk_ms = _SHARED["at_risk_ms"]
away_ms = _SHARED["away_ms"]
delay_ms = _SHARED["delay_ms"]
level_place = _SHARED["level_place"]
phase_ms = _SHARED["phase_ms"]
draw_strengths = _SHARED["draw_strengths"]

Row_co = TypeVar("Row_co", covariant=True)


class Rows(Protocol[Row_co]):
    """An array of records, as the type checker sees it: rows by number, columns by name."""

    size: int

    @overload
    def __getitem__(self, row: int, /) -> Row_co: ...

    @overload
    def __getitem__(self, rows: str | slice, /) -> Any: ...

    def __setitem__(self, column: str, values: Any, /) -> None: ...
