"""How the engine is compiled, what it shares with the reference, and how a world is passed on.

A world goes from function to function as one pointer, its arrays looked up when used. A tuple of
arrays is handed over as some 150 words in every call, which had cost more than the calls did, and
half of the time to compile. So the compiled engine knows a type of its own: a pointer to a table of
addresses and shapes. ``world.devices`` reads from the table; it never changes while compiled code
runs, and LLVM is told so.
"""

from pathlib import Path
from typing import Any, get_args, get_origin, get_type_hints

import numba
import numpy as np
from llvmlite import ir
from numba import types
from numba.core.imputils import lower_getattr_generic
from numba.core.typing.templates import AttributeTemplate
from numba.extending import infer_getattr, intrinsic, models, register_model
from numba.np import numpy_support
from numba.np.arrayobj import make_array, populate_array

from resilience import compiling, draws
from resilience.compiling import bind, compiler
from resilience.connectivity import reception
from resilience.connectivity.luck import prospect, strengths
from resilience.hazards import causes, laws, upkeep
from resilience.lifetime import record, tally
from resilience.lifetime.state.world import Ints, Rows, World

_LIFETIME = Path(__file__).parents[1]
# What stands in these is compiled in: functions, and numbers such as the place of a column.
_SOURCES = (
    *sorted(_LIFETIME.glob("fast/*.py")),
    *sorted(_LIFETIME.glob("state/*.py")),
    *(_LIFETIME / "branching" / name for name in ("families.py", "redrawing.py")),
    *(
        Path(str(module.__file__))
        for module in (draws, strengths, prospect, reception, causes, laws, upkeep, record, tally)
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
_SHARED = bind((draws, strengths, laws, upkeep), jit, _CASTS)

stream = _SHARED["stream"]
uniform = _SHARED["uniform"]
quantile = _SHARED["quantile"]
whole_ms = _SHARED["whole_ms"]
at_risk_ms = _SHARED["at_risk_ms"]
away_ms = _SHARED["away_ms"]
residual = _SHARED["residual"]
delay_ms = _SHARED["delay_ms"]
beyond = _SHARED["beyond"]
away_beyond_ms = _SHARED["away_beyond_ms"]
level_place = _SHARED["level_place"]
phase_ms = _SHARED["phase_ms"]
after_work_ms = _SHARED["after_work_ms"]
opened_ms = _SHARED["opened_ms"]
draw_strengths = _SHARED["draw_strengths"]

WORDS = 3  # of a field in the table: address, and two sizes
TYPES = {int: np.int64, float: np.float64, np.uint64: np.uint64}
KINDS = {
    name: get_args(hint)[0]
    for name, hint in get_type_hints(World).items()
    if get_origin(hint) is Rows
}


def record_type(field: str) -> "np.dtype[np.void] | None":
    """Type of a row of one field of a world; None for one of plain numbers.

    Parameters
    ----------
    field : str
        Name of the field. [-]
    """
    kind = KINDS.get(field)
    if kind is None:
        return None
    return np.dtype([(name, TYPES[one]) for name, one in get_type_hints(kind).items()])


def rows(field: str, n: int) -> Any:
    """Return so many records of zeros for one field of a world.

    Parameters
    ----------
    field : str
        Name of the field. [-]
    n : int
        How many. [-]
    """
    return np.zeros(n, record_type(field))


class WorldType(types.Type):  # type: ignore[misc] # numba's types are not typed
    """A world, as numba knows it."""

    def __init__(self) -> None:
        super().__init__(name="World")


WORLD = WorldType()
FIELDS = {name: place for place, name in enumerate(World._fields)}


def _array_type(name: str) -> Any:
    """Type of one field of a world."""
    if name in ("coming", "courses", "script", "levels", "lists", "lost_since", "depths"):
        return types.Array(types.int64, 2, "C")
    record = record_type(name)
    kind = types.int64 if record is None else numpy_support.from_dtype(record)
    return types.Array(kind, 1, "C")


ARRAYS = {name: _array_type(name) for name in World._fields}


def table_of(world: World) -> Ints:
    """Table of addresses and shapes of a world; the world has to outlive it.

    Parameters
    ----------
    world : World
        What compiled code works on. [-]
    """
    table = np.zeros(WORDS * len(FIELDS), np.int64)
    for name, place in FIELDS.items():
        array: Any = getattr(world, name)
        assert array.flags.c_contiguous
        sizes = (*array.shape, 0)[:2]
        table[WORDS * place : WORDS * (place + 1)] = (array.ctypes.data, *sizes)
    return table


@register_model(WorldType)
class _Pointer(models.PrimitiveModel):  # type: ignore[misc] # as above
    """A pointer to whole numbers."""

    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, ir.IntType(64).as_pointer())


@intrinsic  # type: ignore[untyped-decorator]
def world_at(_context: Any, table: Any) -> Any:
    """Take a table for the world that it tells of; called by compiled code alone."""

    def code(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        return make_array(signature.args[0])(context, builder, values[0]).data

    return WORLD(table), code


@infer_getattr
class _Fields(AttributeTemplate):  # type: ignore[misc] # as above
    """``world.devices`` and the like have the types of the fields."""

    key = WorldType

    def generic_resolve(self, _world: Any, name: str) -> Any:
        return ARRAYS.get(name)


@lower_getattr_generic(WorldType)  # type: ignore[untyped-decorator]
def _field(context: Any, builder: Any, _kind: Any, pointer: Any, name: str) -> Any:
    """Make an array of what the table says of a field."""
    kind = ARRAYS[name]

    def word(number: int) -> Any:
        place = context.get_constant(types.intp, WORDS * FIELDS[name] + number)
        loaded = builder.load(builder.gep(pointer, [place]))
        loaded.set_metadata("invariant.load", builder.module.add_metadata([]))
        return loaded

    array = make_array(kind)(context, builder)
    item_size = context.get_abi_sizeof(context.get_data_type(kind.dtype))
    size = context.get_constant(types.intp, item_size)
    shape = [word(axis + 1) for axis in range(kind.ndim)]
    strides = [size] if kind.ndim == 1 else [builder.mul(shape[1], size), size]
    data = builder.inttoptr(word(0), context.get_data_type(kind.dtype).as_pointer())
    populate_array(array, data=data, shape=shape, strides=strides, itemsize=size, meminfo=None)
    return array._getvalue()
