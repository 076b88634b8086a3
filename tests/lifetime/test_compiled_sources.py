"""What the compiled engine is kept under: a digest of all that is compiled in."""

import ast
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

from resilience import compiling
from resilience.lifetime.state import compiled


def _imported(path: Path) -> Iterator[Path]:
    """Files of the package that a module imports from."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith("resilience"):
            names = [f"{node.module}.{one.name}" for one in node.names]
            for name in (str(node.module), *names):
                try:
                    spec = find_spec(name)
                except ModuleNotFoundError:
                    continue
                if spec is not None and Path(str(spec.origin)).name != "__init__.py":
                    yield Path(str(spec.origin))


def test_a_change_in_whatever_the_engine_imports_from_compiles_it_anew() -> None:
    folder = Path(compiled.__file__).parents[1]
    engine = [*folder.glob("fast/*.py"), *folder.glob("state/*.py")]
    engine += [folder / "branching" / name for name in ("families.py", "redrawing.py")]
    assert len(engine) > 10
    hashed = {*compiled._SOURCES, Path(compiling.__file__)}
    assert {one for path in engine for one in _imported(path)} <= hashed
