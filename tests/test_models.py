"""MODELS.md, the code and the tests name each other."""

import re
from importlib import import_module
from pathlib import Path

import pytest

TOP = Path(__file__).parent.parent
ENTRIES = (TOP / "MODELS.md").read_text(encoding="utf-8").split("\n## ")[1:]
FIELDS = ("Equation:", "Source:", "Valid range:", "Function:", "Test:")


def titles() -> list[str]:
    return [entry.splitlines()[0].strip() for entry in ENTRIES]


def test_every_equation_named_in_the_code_has_an_entry():
    named = set()
    for module in (TOP / "resilience").rglob("*.py"):
        named.update(re.findall(r'MODELS\.md, "([^"]+)"', module.read_text(encoding="utf-8")))
    assert named
    assert named <= set(titles())


@pytest.mark.parametrize("entry", ENTRIES, ids=titles())
def test_an_entry_has_source_range_function_and_test(entry: str):
    for field in FIELDS:
        assert f"\n{field}" in entry, field
    functions = re.search(r"\nFunction:((?:.|\n)*?)(?=\n[A-Z][a-z ]+:|\Z)", entry)[1]
    for dotted in re.findall(r"`(resilience\.[\w.]+)`", functions):
        module, _, name = dotted.rpartition(".")
        try:
            thing = getattr(import_module(module), name)
        except ModuleNotFoundError:  # a method
            outer, _, kind = module.rpartition(".")
            thing = getattr(getattr(import_module(outer), kind), name)
        assert callable(thing) or isinstance(thing, property), dotted
    tests = re.search(r"\nTest:((?:.|\n)*?)(?=\n[A-Z][a-z ]+:|\Z)", entry)[1]
    named = re.findall(r"`(tests/[\w/.-]+\.py)::(\w+)`", tests)
    assert named
    for path, name in named:
        assert f"def {name}(" in (TOP / path).read_text(encoding="utf-8"), (path, name)
