"""Small meshes for stories, and the size of random tests."""

import importlib.util
import os
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import settings

from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Element, Scripted
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import GivenPath, Luck, Mesh, MeshDevice, MeshLink, Rules
from resilience.lifetime.record import Lifetime
from resilience.lifetime.reference.simulator import simulate

settings.register_profile("gate", derandomize=True, max_examples=60, deadline=None)
settings.register_profile("soak", max_examples=1200, deadline=None)
settings.load_profile(os.environ.get("RESILIENCE_SIZE", "gate"))

KINDS = {"g": Kind.GATEWAY, "r": Kind.REPEATER, "s": Kind.SENSOR}
CALM = Rules(
    horizon_ms=1000,
    hysteresis=0,
    backups=1,
    rejoin_short_ms=10,
    rejoin_long_ms=100,
    reformation_ms=0,
)


def _mesh(links: dict[str, int], alone: str = "", **devices: MeshDevice) -> Mesh:
    ids = sorted({end for link in links for end in link.split("~")} | set(alone.split()))
    return Mesh(
        tuple(devices.get(id, MeshDevice(id, KINDS[id[0]])) for id in ids),
        tuple(
            MeshLink(link, *link.split("~"), GivenPath(cost))
            for link, cost in sorted(links.items())
        ),
        frozenset(),
    )


def _played(
    mesh: Mesh, *elements: Element, rules: Rules = CALM, cells: tuple[Cells, ...] = ()
) -> Lifetime:
    return simulate(mesh, HazardTable(elements, cells), rules, Luck(1, 0))


def _away(effect: Effect, cause: str) -> Callable[..., Element]:
    def element(target: str, *away_ms: tuple[int, int], amount: int = 0) -> Element:
        return Element(cause, target, effect, (target,), amount, Scripted(away_ms))

    return element


@pytest.fixture(scope="session")
def calm() -> Rules:
    return CALM


@pytest.fixture(scope="session")
def mesh_of() -> Callable[..., Mesh]:
    """A mesh from its links; ids begin with g, r or s for gateway, repeater or sensor."""
    return _mesh


@pytest.fixture(scope="session")
def played() -> Callable[..., Lifetime]:
    return _played


@pytest.fixture(scope="session")
def down() -> Callable[..., Element]:
    return _away(Effect.DOWN, "hardware")


@pytest.fixture(scope="session")
def mute() -> Callable[..., Element]:
    return _away(Effect.MUTE, "sensing")


@pytest.fixture(scope="session")
def cut() -> Callable[..., Element]:
    return _away(Effect.CUT, "blockage")


@pytest.fixture(scope="session")
def dearer() -> Callable[..., Element]:
    return _away(Effect.COST, "noise")


@pytest.fixture(scope="session")
def replay() -> ModuleType:
    """The replayer beside this file, which knows a lifetime only from its history."""
    return _beside("replay")


@pytest.fixture(scope="session")
def field_replay() -> ModuleType:
    """The replay of measured hourly states beside this file."""
    return _beside("field_replay")


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
