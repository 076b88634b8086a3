"""How functions are compiled, and where the result is kept.

numba's own cache does not see a change in a function that another file imports, so the cache sits
in a folder named by a digest of every source that is compiled.
"""

import hashlib
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar

Function = TypeVar("Function", bound=Callable[..., Any])


def cache_folder(sources: Iterable[Path]) -> Path | None:
    """Folder for compiled code, or None where nothing can be written.

    Parameters
    ----------
    sources : iterable of Path
        Every file that holds a function to be compiled, always in the same order. [-]
    """
    import numba

    total = hashlib.sha256(numba.__version__.encode())
    for path in (Path(__file__), *sources):
        total.update(path.read_bytes())
    base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    folder = base / "resilience" / total.hexdigest()[:16]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


def compiler(folder: Path | None, **options: bool | str) -> Callable[[Function], Function]:
    """Return what compiles one function, without a hold on other threads.

    Nothing compiled allocates memory, so reference counting is left out (``_nrt``): counting every
    array at every call had cost half of the time.

    Parameters
    ----------
    folder : Path or None
        Where the result is kept, if anywhere. [-]
    options : bool or str
        Further options of numba, by name. [-]
    """
    import numba

    def compiled(function: Function) -> Function:
        kept = numba.config.CACHE_DIR
        numba.config.CACHE_DIR = str(folder or "")
        try:
            made = numba.njit(
                cache=folder is not None, nogil=True, error_model="numpy", _nrt=False, **options
            )(function)
        finally:
            numba.config.CACHE_DIR = kept
        _forget_literals(made)
        return made

    return compiled


def _forget_literals(made: Any) -> None:
    """Keep numba from compiling a function anew for every number that stands in a call."""
    from numba import types

    folded = made._compiler.fold_argument_types

    def unliteral_types(args: Any, kws: Any) -> Any:
        signature, given = folded(args, kws)
        return signature, tuple(types.unliteral(one) for one in given)

    made._compiler.fold_argument_types = unliteral_types


def hear_of_compiling(begins: Callable[[str], None], ends: Callable[[bool], None]) -> None:
    """Have numba say, in this process, when it compiles something; loading is not compiling.

    Parameters
    ----------
    begins : callable
        Takes the module of the function. [-]
    ends : callable
        Takes whether it was cut short. [-]
    """
    from numba.core import event

    # An event's own ``is_failed`` says the opposite (0.68), so what is raised is asked for itself.
    raised: list[BaseException | None] = []

    class Listener(event.Listener):  # type: ignore[misc]  # numba is not typed
        def on_start(self, event: Any) -> None:
            raised.append(sys.exception())
            begins(event.data["dispatcher"].py_func.__module__)

        def on_end(self, event: Any) -> None:  # noqa: ARG002 - it is the one that began last
            if raised:  # else it began before anybody listened
                ends(sys.exception() is not raised.pop())

    event.register("numba:compile", Listener())


def bind(
    modules: Iterable[ModuleType],
    compiled: Callable[[FunctionType], Any],
    instead: Mapping[Callable[..., Any], Any] | None = None,
) -> dict[str, Any]:
    """Compile the very functions of some modules that are also called as they stand, by name.

    Each is bound anew to a copy of its module in which the functions that it calls are compiled.

    Parameters
    ----------
    modules : iterable of module
        Where they are written; what nobody compiled calls is never compiled either. [-]
    compiled : callable
        From ``compiler``. [-]
    instead : mapping or None
        What stands for a function that cannot be compiled. [-]
    """
    found: dict[str, Any] = {}
    stead: dict[Callable[..., Any], Any] = dict(instead or {})
    copies = [(module.__name__, dict(vars(module))) for module in modules]
    for module_name, copy in copies:
        for name, thing in copy.items():
            if isinstance(thing, FunctionType) and thing.__module__ == module_name:
                if thing not in stead:
                    stead[thing] = compiled(FunctionType(thing.__code__, copy, name))
                found[name] = stead[thing]
    for _, copy in copies:
        for name, thing in copy.items():
            if isinstance(thing, FunctionType):
                copy[name] = stead.get(thing, thing)
    return found
