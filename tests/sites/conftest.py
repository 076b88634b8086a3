"""The demo sites, read once, and how many lifetimes to play: gate or soak."""

import os
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.building.site import Site

SITES = Path(__file__).parent.parent.parent / "sites"
NAMES = sorted(path.parent.name for path in SITES.glob("*/site.yaml"))


@cache
def _read(name: str) -> Site:
    return read_site(SITES / name)


@pytest.fixture(scope="session")
def demo() -> Callable[[str], Site]:
    """Site by the name of its folder."""
    return _read


@pytest.fixture(scope="session")
def readme() -> Callable[[str], str]:
    """Text of a demo site's README."""
    return lambda name: (SITES / name / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def is_soak() -> bool:
    """Whether the long tests run in full size."""
    return os.environ.get("RESILIENCE_SIZE", "gate") == "soak"


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test that asks for a ``site_name`` once for every demo site."""
    if "site_name" in metafunc.fixturenames:
        metafunc.parametrize("site_name", NAMES)
