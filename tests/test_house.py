"""The tree tells the story, and nobody reads ahead."""

import ast
import inspect
import re
from graphlib import TopologicalSorter
from importlib import import_module
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
PACKAGE = TOP / "resilience"
STORY = (
    "assumptions",
    "building",
    "connectivity",
    "drawings",
    "hazards",
    "lifetime",
    "montecarlo",
    "policy",
    "ranking",
    "remedies",
    "report",
    "sweep",
    "terminal",
    "workbench",
)
MODULES = sorted(PACKAGE.rglob("*.py"))
UNIT = re.compile(r"\[[^\]]+\]$")


def imported_by(path: Path) -> set[str]:
    """Modules of the package that a file imports, function bodies included."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return {name for name in found if name.startswith("resilience.")}


def chapters_imported_by(path: Path) -> set[str]:
    return {name.split(".")[1] for name in imported_by(path)} & set(STORY)


def test_the_listing_is_the_story():
    chapters = sorted(path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists())
    assert chapters == [chapter for chapter in STORY if chapter in chapters]


def test_no_chapter_reads_ahead():
    for position, chapter in enumerate(STORY):
        for module in (PACKAGE / chapter).rglob("*.py"):
            assert not chapters_imported_by(module) & set(STORY[position + 1 :]), module


def test_the_rooms_of_a_chapter_lean_on_each_other_in_one_direction():
    """Rooms and the modules beside them: whatever one imports does not lead back to it."""
    for chapter in (PACKAGE / name for name in STORY if (PACKAGE / name).exists()):
        leans: dict[str, set[str]] = {}
        for module in chapter.rglob("*.py"):
            parts = module.relative_to(chapter).with_suffix("").parts
            names = (name.split(".")[1:] for name in imported_by(module))
            on = {name[1] for name in names if name[0] == chapter.name and len(name) > 1}
            leans.setdefault(parts[0], set()).update(on - {parts[0]})
        TopologicalSorter(leans).prepare()  # a CycleError names the circle


def test_text_is_read_below_sections_and_folders_above_them():
    for room, above in (("text", {"sections", "files"}), ("sections", {"files"})):
        for module in (PACKAGE / "building" / room).glob("*.py"):
            rooms = {name.split(".")[2] for name in imported_by(module) if ".building." in name}
            assert not rooms & above, module


def test_what_every_chapter_may_import_imports_nothing_of_the_package():
    for name in ("compiling.py", "draws.py", "errors.py", "units.py"):
        assert not imported_by(PACKAGE / name)


def test_every_folder_can_be_taken_in_at_a_glance():
    for folder in [PACKAGE, *(path for path in PACKAGE.rglob("*") if path.is_dir())]:
        modules = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
        if folder.name != "__pycache__" and modules:
            assert len(modules) <= 8, folder
            assert len(folder.relative_to(PACKAGE).parts) <= 2, folder


def test_no_module_is_longer_than_400_lines_and_no_function_longer_than_40():
    """Docstrings and signatures do not count."""
    for module in MODULES:
        text = module.read_text(encoding="utf-8")
        assert text.count("\n") <= 400, module
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                assert not body or node.end_lineno - body[0].lineno < 40, (module, node.name)


def test_simpy_is_known_to_the_reference_engine_alone():
    for module in MODULES:
        uses = re.search(r"^\s*(import|from) simpy", module.read_text(encoding="utf-8"), re.M)
        assert not uses or module == PACKAGE / "lifetime/reference/simulator.py", module


def test_rich_is_known_to_what_shows_and_not_to_what_says():
    shows = PACKAGE / "report/screen.py"
    for module in MODULES:
        uses = re.search(r"^\s*(import|from) rich", module.read_text(encoding="utf-8"), re.M)
        assert not uses or module == shows or PACKAGE / "terminal" in module.parents, module


def documented() -> list[tuple[str, object]]:
    """Functions and classes of the package whose docstring lists parameters."""
    found = []
    for module in MODULES:
        name = ".".join(module.relative_to(TOP).with_suffix("").parts).removesuffix(".__init__")
        if name.endswith("__main__"):
            continue
        for thing in vars(import_module(name)).values():
            is_ours = inspect.isfunction(thing) or inspect.isclass(thing)
            if not is_ours or thing.__module__ != name:
                continue
            inner = vars(thing).values() if inspect.isclass(thing) else ()
            for one in (thing, *(value for value in inner if inspect.isfunction(value))):
                if "Parameters\n" in (inspect.getdoc(one) or ""):
                    found += [(f"{name}.{one.__qualname__}", one)]
    return found


DOCUMENTED = dict(documented())


@pytest.mark.parametrize("name", DOCUMENTED)
def test_docstrings_name_every_parameter_with_its_unit(name: str):
    thing = DOCUMENTED[name]
    doc = inspect.getdoc(thing)
    listed = doc.split("Parameters\n----------\n")[1].split("\n\n")[0]
    names, entry = [], ""
    for line in listed.splitlines():
        if not line.startswith(" "):
            assert not names or UNIT.search(entry), (name, names, entry)
            names.extend(re.split(r",\s*", line.split(" : ")[0]))
            entry = ""
        entry = line.strip()
    assert UNIT.search(entry), (name, entry)
    signature = [one for one in inspect.signature(thing).parameters if one not in ("self", "cls")]
    assert [one for one in names if one] == signature, name


def test_nothing_tells_of_the_machine_it_was_made_on():
    places = ("/w[o]rk/", "/h[o]me/", "/r[o]ot/", r"\.\./sh[a]red", r"npmj[s]\.", r"pyp[i]\.org")
    banned = re.compile("|".join(places))
    kept = (".py", ".md", ".toml", ".yaml", ".csv", ".txt", ".json")
    for path in TOP.rglob("*"):
        parts = path.relative_to(TOP).parts
        if path.suffix in kept and not parts[0].startswith(".") and "egg-info" not in str(path):
            assert not banned.search(path.read_text(encoding="utf-8", errors="replace")), path
