"""Many paths at once: compiled as they stand, in batches, and near what is near them only."""

import math
import random
import sys
from dataclasses import replace

import numpy as np
import pytest

from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.settings import Duration
from resilience.building.structure import (
    Building,
    Change,
    Door,
    Level,
    Obstacle,
    Opening,
    Pillar,
    Plate,
    Shaft,
    Wall,
    Window,
)
from resilience.connectivity.shapes import compiled, crossings
from resilience.connectivity.shapes.crossings import Hindrance, crossed, drawing
from resilience.connectivity.shapes.grid import Grid
from resilience.connectivity.shapes.meetings import Meetings, Paths, meet_paths

BUILT = tuple(CONSTRUCTIONS.items())
NAMES = ("stud_wall", "brick_120", "concrete_150", "glass_10", "metal_sheet")
CHANGE = Change(20.0, 12.0, Duration("exponential", mean_h=4.0))
SQUARE = ((4.0, 4.0), (6.0, 4.0), (6.0, 6.0), (4.0, 6.0))
OUTLINE = ((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0))


def scattered_walls(n, side_m, luck, levels=("L1",)):
    walls = []
    for number in range(n):
        x_m, y_m, turn = luck.uniform(0, side_m), luck.uniform(0, side_m), luck.uniform(0, 6.3)
        x2_m, y2_m = x_m + 3 * math.cos(turn), y_m + 3 * math.sin(turn)
        high_m = luck.choice([None, None, 1.5])
        level, name = luck.choice(levels), luck.choice(NAMES)
        walls.append(Wall(f"W{number}", level, x_m, y_m, x2_m, y2_m, name, high_m))
    return tuple(walls)


@pytest.fixture(scope="module")
def everything():
    """Two levels with something of every kind."""
    levels = (
        Level("L1", 0.0, 2.7, "concrete_200"),
        Level("L2", 3.0, 2.7, "timber_floor", (*OUTLINE[:2], (20.0, 12.0), (0.0, 12.0))),
    )
    return Building(
        levels,
        walls=scattered_walls(40, 20.0, random.Random(1), ("L1", "L2")),
        doors=(Door("D1", "W1", 0.5, 1.0, 2.0, "wooden_door", CHANGE),),
        windows=(Window("V1", "W2", 0.5, 0.9, 1.0, 1.2, "double_glazing"),),
        pillars=(Pillar("P1", "L1", "L2", 10.0, 5.0, 0.5, 0.8, "concrete_300"),),
        shafts=(
            Shaft("lift", "L1", "L2", SQUARE, "concrete_200"),
            Shaft("stair", "L1", "L2", tuple((x + 8, y) for x, y in SQUARE), None),
        ),
        openings=(Opening("O1", "L2", tuple((x, y - 4) for x, y in SQUARE), "glass_10"),),
        plates=(Plate("R1", "L1", ((8, 8, 0), (12, 8, 2), (12, 11, 2), (8, 11, 0)), "brick_120"),),
        obstacles=(
            Obstacle("B1", "lorry", "L1", 15.0, 10.0, 2.5, 6.0, 0.0, 2.2, 30.0, CHANGE),
            Obstacle("B2", "racking", "L2", 3.0, 8.0, 1.0, 6.0, 0.0, 2.7, 0.0, CHANGE),
        ),
        outline=OUTLINE,
        constructions=BUILT,
    )


def paths_among(n_points, side_m=20.0, top_m=5.6, seed=2):
    luck = np.random.default_rng(seed)
    points_m = luck.uniform((0, 0, 0.1), (side_m, side_m, top_m), (n_points, 3))
    return Paths(points_m, np.column_stack(np.triu_indices(n_points, 1)))


def told(found):
    return [tuple(found.of(path)) for path in range(len(found.total_db))]


@pytest.fixture
def anyhow():
    """No path takes too much."""
    return lambda paths: np.full(len(paths.ends), math.inf)


def test_compiled_functions_say_the_same_to_the_last_bit(everything, radio, anyhow, monkeypatch):
    drawn, paths = drawing(everything, radio), paths_among(60)
    as_they_stand = crossed(drawn, paths, anyhow(paths))
    monkeypatch.setattr(compiled, "MUCH", 0)
    assert compiled.compiled() is not compiled.AS_THEY_STAND
    found = crossed(drawn, paths, anyhow(paths))
    kinds = {one.what.split()[0] for hindrances in told(found) for one in hindrances}
    assert kinds >= {"wall", "slab", "plate", "lining", "lorry", "racking", "round", "over"}
    assert np.array_equal(found.start, as_they_stand.start)
    assert np.array_equal(found.label, as_they_stand.label)
    assert np.array_equal(found.loss_db, as_they_stand.loss_db)
    assert np.array_equal(found.total_db, as_they_stand.total_db)


def test_without_numba_the_functions_run_as_they_stand(monkeypatch):
    monkeypatch.setitem(sys.modules, "numba", None)
    compiled.compiled.cache_clear()
    assert compiled.compiled() is compiled.AS_THEY_STAND
    compiled.compiled.cache_clear()


def test_batches_change_nothing(everything, radio, anyhow, monkeypatch):
    drawn, paths = drawing(everything, radio), paths_among(20)
    whole = told(crossed(drawn, paths, anyhow(paths)))
    monkeypatch.setattr(crossings, "BATCH_ROWS", 1)  # each path is a batch of its own
    assert told(crossed(drawn, paths, anyhow(paths))) == whole


def test_a_path_that_takes_more_than_it_has_to_spare_is_dropped(everything, radio, anyhow):
    drawn, paths = drawing(everything, radio), paths_among(20)
    whole = crossed(drawn, paths, anyhow(paths))
    spare_db = np.full(len(paths.ends), np.median(whole.total_db))
    found = crossed(drawn, paths, spare_db)
    is_kept = whole.total_db <= spare_db
    assert 0 < is_kept.sum() < len(is_kept)
    assert np.array_equal(found.total_db <= spare_db, is_kept)
    assert np.array_equal(found.total_db[is_kept], whole.total_db[is_kept])
    for path, kept in enumerate(is_kept):
        assert tuple(found.of(path)) == (tuple(whole.of(path)) if kept else ())


def test_hindrances_are_made_when_asked_for_and_behave_as_a_tuple(everything, radio, anyhow):
    paths = paths_among(20)
    found = crossed(drawing(everything, radio), paths, anyhow(paths))
    longest = int(np.diff(found.start).argmax())
    lazy = found.of(longest)
    plain = tuple(lazy)
    assert len(plain) > 2
    assert all(isinstance(one, Hindrance) for one in plain)
    assert lazy == plain
    assert lazy[::-1] == plain[::-1]
    assert lazy[-1] == plain[-1]
    assert hash(lazy) == hash(plain)
    assert repr(lazy) == repr(plain)
    assert lazy != plain[1:]
    assert sum(one.loss_db for one in lazy) == pytest.approx(found.total_db[longest])


def test_the_grid_hides_nothing(everything, radio, anyhow):
    """Against one cell over everything, in which every thing is looked at for every path."""
    drawn, paths = drawing(everything, radio), paths_among(80, side_m=22.0, seed=5)
    n, n_bands = len(drawn.scene.things), len(drawn.scene.floors_m)
    start = np.arange(n_bands + 1) * n
    one_cell = Grid(-1e4, -1e4, 2e4, 1, 1, start, np.tile(np.arange(n), n_bands))
    whole = crossed(replace(drawn, grid=one_cell), paths, anyhow(paths))
    assert told(crossed(drawn, paths, anyhow(paths))) == told(whole)


def looked_at(building, radio, spots_m):
    """Things that are looked at for each of some paths, which run 28 m along x from these spots."""
    drawn = drawing(building, radio)
    n = len(drawn.scene.things) + len(drawn.scene.floors_m)
    counts = []
    for spot_m in spots_m:
        seen = np.full(len(drawn.scene.things), -1, np.int64)
        whole, real = np.zeros((3, n), np.int64), np.zeros((3, n))
        points_m = np.array([spot_m, spot_m]) + np.array([[0, 0, 0], [28, 0, 0]])
        meetings = Meetings(whole[0], whole[1], whole[2], real[0], real[1], real[2], seen)
        meet_paths(drawn.scene, drawn.grid, Paths(points_m, np.array([[0, 1]])), meetings, 0)
        counts.append(int((seen == 0).sum()))
    return counts


def test_a_path_looks_at_what_is_near_it_however_much_stands_elsewhere(radio):
    """The same paths through a building of four and of sixteen times the area, as densely built."""
    spots_m = [(1.0, y_m, 1.0) for y_m in range(3, 28)]
    looked = []
    for side_m, n_walls in ((30.0, 200), (60.0, 800), (120.0, 3200)):
        walls = scattered_walls(n_walls, side_m, random.Random(3))
        building = Building((Level("L1", 0.0, 2.7, "brick_120"),), walls, constructions=BUILT)
        looked.append(sum(looked_at(building, radio, spots_m)))
    assert looked[0] < len(spots_m) * 50
    assert max(looked) < 1.3 * min(looked)


def test_a_path_looks_at_its_own_level_only(radio):
    levels = tuple(Level(f"L{n}", 3.0 * n, 2.7, "brick_120") for n in range(10))
    walls = scattered_walls(500, 30.0, random.Random(4), [level.id for level in levels])
    building = Building(levels, walls, constructions=BUILT)
    (looked,) = looked_at(building, radio, [(1.0, 15.0, 13.0)])
    assert 0 < looked < sum(wall.level == "L4" for wall in walls) < 100


def test_what_stands_far_outside_is_no_matter(everything, radio, anyhow):
    """Paths that leave the drawn ground, and ground of which a corner is drawn only."""
    outside = Paths(np.array([[-50.0, -50.0, 1.0], [90.0, 95.0, 1.0]]), np.array([[0, 1], [1, 0]]))
    there, back = told(crossed(drawing(everything, radio), outside, anyhow(outside)))
    inside = Paths(np.array([[-0.5, 0.02, 1.0], [20.5, 21.0, 1.0]]), np.array([[0, 1]]))
    assert {one.what for one in there} == {one.what for one in back}
    far = replace(
        everything, walls=(*everything.walls, Wall("F", "L1", 5e3, 0, 5e3, 9, "brick_120"))
    )
    assert told(crossed(drawing(far, radio), inside, anyhow(inside))) == told(
        crossed(drawing(everything, radio), inside, anyhow(inside))
    )
