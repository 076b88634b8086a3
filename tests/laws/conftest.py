"""Meshes from graphs, many short lifetimes on them, and how many: gate or soak."""

import importlib.util
import math
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from types import ModuleType, SimpleNamespace

import networkx
import numpy as np
import pytest

from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Drawn, Element
from resilience.hazards.laws import Law
from resilience.hazards.table import HazardTable
from resilience.hazards.upkeep import Calls
from resilience.lifetime.engines import COMPILED, REFERENCE, player
from resilience.lifetime.mesh import GivenPath, Luck, Mesh, MeshDevice, MeshLink, Rules
from resilience.lifetime.record import USUAL_WATCH, Record, Watch
from resilience.units import MS_PER_H

KINDS = {"g": Kind.GATEWAY, "r": Kind.REPEATER, "s": Kind.SENSOR}
SEED = 20260101


@pytest.fixture(scope="session")
def size() -> Callable[..., int]:
    """Number of lifetimes: ``soak`` with RESILIENCE_SIZE=soak, else ``gate``."""

    def chosen(gate: int, soak: int | None = None) -> int:
        is_soak = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
        return (40 * gate if soak is None else soak) if is_soak else gate

    return chosen


def _mesh(graph: networkx.Graph) -> Mesh:
    """A mesh from a graph whose nodes begin with g, r or s; every link costs 128 (hops)."""
    links = sorted(tuple(sorted(edge)) for edge in graph.edges)
    return Mesh(
        tuple(MeshDevice(node, KINDS[node[0]]) for node in sorted(graph)),
        tuple(MeshLink(f"{a}~{b}", a, b, GivenPath(128)) for a, b in links),
        frozenset(),
    )


def _records(
    mesh: Mesh,
    elements: Sequence[Element],
    horizon_h: float,
    n_lifetimes: int,
    calls: Calls | None = None,
    watch: Watch = USUAL_WATCH,
) -> list[Record]:
    rules = Rules(round(horizon_h * MS_PER_H), 0, 1, 1, 1, 0, calls=calls, watch=watch)
    # The gate holds the specification to theory, the soak the engine that is fast enough for it.
    engine = COMPILED if os.environ.get("RESILIENCE_SIZE") == "soak" else REFERENCE
    ready = player(engine, mesh, HazardTable(tuple(elements), ()), rules)
    return [ready.record(Luck(SEED, lifetime)) for lifetime in range(n_lifetimes)]


def _on_devices(devices: Sequence[str], strikes: Law, lasts: Law) -> list[Element]:
    """Failures of devices, each on its own clock."""
    return [
        Element("hardware", device, Effect.DOWN, (device,), clock=Drawn(strikes, lasts))
        for device in devices
    ]


def _on_links(mesh: Mesh, strikes: Law, lasts: Law) -> list[Element]:
    """Blockages of links, each on its own clock."""
    return [
        Element("blockage", link.id, Effect.CUT, (link.id,), clock=Drawn(strikes, lasts))
        for link in mesh.links
    ]


def _agree(samples: Sequence[float], expected: float) -> None:
    """Four standard errors of the mean over lifetimes, both ways."""
    error = np.std(samples, ddof=1) / math.sqrt(len(samples))
    assert error > 0, "nothing varied, so nothing was tested"
    distance = abs(np.mean(samples) - expected) / error
    assert distance < 4, f"{np.mean(samples):.6g} +- {error:.2g}, expected {expected:.6g}"


@pytest.fixture(scope="session")
def trials() -> SimpleNamespace:
    """Building a mesh, striking it, playing it many times, and comparing with theory."""
    return SimpleNamespace(
        mesh_of=_mesh,
        on_devices=_on_devices,
        on_links=_on_links,
        records=_records,
        agree=_agree,
    )


@pytest.fixture(scope="session")
def exact() -> ModuleType:
    """The enumeration beside this file, which knows nothing of the engine."""
    spec = importlib.util.spec_from_file_location("exact", Path(__file__).with_name("exact.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
