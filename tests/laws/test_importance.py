"""Importance from lifetimes against Birnbaum's closed forms.

Birnbaum (1969): the importance of a part of a coherent system is the probability that the system
works if the part does, less that it works if the part has failed. Parts fail and are mended on
their own clocks; all are up at 0, so the expected value follows their availability in time.
"""

from types import SimpleNamespace

import networkx
import numpy as np
import pytest

from resilience.hazards.laws import exponential
from resilience.hazards.table import HazardTable
from resilience.lifetime.engines import COMPILED, player
from resilience.lifetime.mesh import Luck, Rules
from resilience.remedies.fragile.absences import Suspect, watched
from resilience.remedies.fragile.importance import importance
from resilience.units import MS_PER_H

UP_H, DOWN_H, HORIZON_H = 20.0, 10.0, 300.0
SEED = 20260102

# One sensor at the end; a part is a link, and works with probability p. Each entry: the system, and
# how probably it works with a part away and with the part there, by hand.
SYSTEMS = {
    "series": (
        [("g1", "r1"), ("r1", "s1")],
        {"g1~r1": (lambda p: 0 * p, lambda p: p), "r1~s1": (lambda p: 0 * p, lambda p: p)},
    ),
    "parallel": (
        [("g1", "r1"), ("r1", "s1"), ("g1", "s1")],
        {
            "g1~s1": (lambda p: p**2, lambda p: 1 + 0 * p),
            "r1~s1": (lambda p: p, lambda p: 1 - (1 - p) ** 2),
        },
    ),
    "bridge": (
        [("g1", "r1"), ("g1", "r2"), ("r1", "r2"), ("r1", "s1"), ("r2", "s1")],
        {
            "r1~r2": (lambda p: 1 - (1 - p**2) ** 2, lambda p: (1 - (1 - p) ** 2) ** 2),
            "g1~r1": (
                lambda p: p * (p + (1 - p) * p**2),
                lambda p: p + (1 - p) * p * (1 - (1 - p) ** 2),
            ),
        },
    ),
}


def stage_of(mesh, elements) -> SimpleNamespace:
    """What ``watched`` needs of a stage, of a mesh made by hand."""
    rules = Rules(round(HORIZON_H * MS_PER_H), 0, 1, 1, 1, 0)
    hazards = HazardTable(tuple(elements), ())
    ready = player(COMPILED, mesh, hazards, rules)
    sensors = [SimpleNamespace(id=id) for id in mesh.sensors]
    return SimpleNamespace(
        play=lambda number, with_links: ready.lifetime(Luck(SEED, number), with_links),
        rules=rules,
        hazards=hazards,
        seed=SEED,
        layout=SimpleNamespace(sensors=sensors),
    )


@pytest.mark.parametrize("name", SYSTEMS)
def test_importance_is_birnbaums_where_parts_fail_by_themselves(size, trials, name):
    edges, works = SYSTEMS[name]
    mesh = trials.mesh_of(networkx.Graph(edges))
    elements = trials.on_links(mesh, exponential(UP_H), exponential(DOWN_H))
    suspects = {id: Suspect((("blockage", id),), frozenset()) for id in works}
    stage = stage_of(mesh, elements)
    seen = watched(stage, suspects.values(), size(gate=200), lambda: False)
    for id, (without, with_it) in works.items():
        found = importance(seen.seen[suspects[id]], seen, len(mesh.sensors))
        expected = in_time(without, with_it)
        error = (found.sensors.high - found.sensors.low) / 2 / 1.96
        assert 0 < error < 0.02, "too few lifetimes tell nothing"
        assert abs(found.sensors.mean - expected) < 4 * error, (id, found, expected)


def in_time(without, with_it) -> float:
    """Importance over a lifetime that begins with everything up.

    Each half of it is a mean over the moments at which the part is there, or away; a part is
    seldom away at first, when the others are seldom away either.
    """
    t_h = np.linspace(0.0, HORIZON_H, 200_001)
    up = UP_H / (UP_H + DOWN_H) + DOWN_H / (UP_H + DOWN_H) * np.exp(-t_h * (1 / UP_H + 1 / DOWN_H))
    there = np.average(with_it(up), weights=up)
    return float(there - np.average(without(up), weights=1 - up))


def test_a_device_that_takes_its_own_sensor_down_counts_the_others_alone(size, trials):
    """A chain g1 - s1 - s2: while s1 is down, s2 is cut off, and s1 is not an orphan itself."""
    mesh = trials.mesh_of(networkx.Graph([("g1", "s1"), ("s1", "s2")]))
    elements = trials.on_devices(["s1"], exponential(UP_H), exponential(DOWN_H))
    suspect = Suspect((("hardware", "s1"),), frozenset({"s1"}))
    seen = watched(stage_of(mesh, elements), [suspect], size(gate=20), lambda: False)
    found = importance(seen.seen[suspect], seen, 1)
    assert found.sensors.mean == 1.0
    assert found.sensors.low < found.sensors.high


def test_what_was_too_rarely_away_has_no_figure(trials):
    mesh = trials.mesh_of(networkx.Graph([("g1", "s1"), ("s1", "s2")]))
    elements = trials.on_devices(["s1"], exponential(20 * HORIZON_H), exponential(DOWN_H))
    suspect = Suspect((("hardware", "s1"),), frozenset({"s1"}))
    seen = watched(stage_of(mesh, elements), [suspect], 20, lambda: False)
    found = importance(seen.seen[suspect], seen, 1)
    assert found.n_absences < 30
    assert found.sensors is None
