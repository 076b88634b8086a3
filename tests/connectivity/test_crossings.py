"""What a straight path meets: by hand, and against shapely on random drawings."""

import cmath
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from resilience.assumptions.constructions import CONSTRUCTIONS, Construction
from resilience.building.site import Place
from resilience.building.structure import Building, Door, Level, Pillar, Shaft, Wall
from resilience.connectivity.shapes.crossings import Hindrance
from resilience.connectivity.shapes.faces import box_met, contains, line_between

LEVELS = (
    Level("L1", 0.0, 2.7, "concrete_200"),
    Level("L2", 3.0, 2.7, "concrete_200"),
    Level("L3", 6.0, 2.7, "timber_floor"),
)
UNIT = Construction(loss_db=1.0)
FAR_AWAY = Wall("far", "L1", 900.0, 900.0, 901.0, 900.0, "unit")  # drawn, in nobody's way
BUILT = (*CONSTRUCTIONS.items(), ("unit", UNIT), ("two", Construction(loss_db=2.0)))
SQUARE = ((4.0, 4.0), (6.0, 4.0), (6.0, 6.0), (4.0, 6.0))


def house(walls=(), **parts):
    return Building(levels=LEVELS, walls=(*walls, FAR_AWAY), constructions=BUILT, **parts)


def wall(id, *ends_m, construction="unit", level="L1", height_m=None):
    return Wall(id, level, *ends_m, construction, height_m)


def at(x_m, y_m, height_m=1.2, level="L1"):
    return Place(level, x_m, y_m, height_m)


def names(found):
    return [hindrance.what for hindrance in found]


ETA = 5.24 - 0.683817j  # concrete at 2440 MHz, ITU-R P.2040-3 Table 3
WAVES_PER_M = 51.138618536  # 2 pi f / c at 2440 MHz


def slab_db(thick_m, degrees):
    """One slab of concrete by P.2040's reflection at a face, powers added: so no ripple.

    Passed share (1 - rho)^2 A / (1 - rho^2 A^2); the two polarisations averaged in power.
    """
    cos = math.cos(math.radians(degrees))
    inside = cmath.sqrt(ETA - 1 + cos**2)
    faded = math.exp(2 * WAVES_PER_M * thick_m * inside.imag)
    passed = []
    for face in ((cos - inside) / (cos + inside), (ETA * cos - inside) / (ETA * cos + inside)):
        rho = abs(face) ** 2
        passed.append((1 - rho) ** 2 * faded / (1 - (rho * faded) ** 2))
    return -10 * math.log10(sum(passed) / 2)


def test_the_closed_form_gives_what_was_computed_elsewhere():
    """Concrete of 0.10, 0.20 and 0.30 m head-on, computed independently."""
    found = [slab_db(thick_m, 0) for thick_m in (0.1, 0.2, 0.3)]
    assert found == pytest.approx([8.0890, 14.7143, 21.3350], abs=2e-3)


def test_a_wall_between_two_devices_is_met_and_one_beside_them_is_not(met):
    building = house(walls=(wall("W1", 5, 0, 5, 4), wall("W2", 5, 5, 5, 9)))
    assert met(building, at(0, 2), at(10, 2)) == (Hindrance("wall W1", "unit", 1.0),)


def test_walls_are_told_in_the_order_of_the_path(met):
    building = house(walls=(wall("W1", 7, 0, 7, 4), wall("W2", 3, 0, 3, 4)))
    assert names(met(building, at(0, 2), at(10, 2))) == ["wall W2", "wall W1"]
    assert names(met(building, at(10, 2), at(0, 2))) == ["wall W1", "wall W2"]


def test_a_wall_met_at_45_degrees_costs_what_p2040_says(met):
    """The wall is so long that nothing goes round it."""
    building = house(walls=(wall("W1", 5, -20, 5, 20, construction="concrete_200"),))
    (found,) = met(building, at(0, 0), at(10, 10))
    assert found.loss_db == pytest.approx(slab_db(0.2, 45), abs=5e-3)


def test_a_wall_met_on_a_slope_counts_the_slope_in_its_angle(met):
    """Rising as much as it advances, the path meets the wall at 45 degrees."""
    building = house(walls=(wall("W1", 2.0, -9, 2.0, 9, construction="concrete_200"),))
    (found,) = met(building, at(1.0, 0, 0.5), at(3.0, 0, 2.5))
    assert found.loss_db == pytest.approx(slab_db(0.2, 45), abs=5e-3)


def test_a_low_wall_hides_only_what_passes_below_its_top(met):
    building = house(walls=(wall("W1", 5, 0, 5, 4, height_m=1.5),))
    assert names(met(building, at(0, 2, 1.0), at(10, 2, 1.9))) == ["wall W1"]
    assert names(met(building, at(0, 2, 1.0), at(10, 2, 2.1))) == []


def test_a_wall_ends_at_the_ceiling_however_tall_somebody_typed_it(met):
    building = house(walls=(wall("W1", 5, 0, 5, 4, height_m=9.0),))
    assert met(building, at(0, 2, level="L2"), at(10, 2, level="L2")) == ()


def test_a_wall_stands_on_its_own_level_only(met):
    building = house(walls=(wall("W1", 5, 0, 5, 4), wall("W2", 5, 0, 5, 4, level="L2")))
    assert names(met(building, at(0, 2), at(10, 2))) == ["wall W1"]
    assert names(met(building, at(0, 2, level="L2"), at(10, 2, level="L2"))) == ["wall W2"]


def test_devices_on_the_ceiling_and_on_the_floor_meet_their_own_levels_walls(met):
    tight = tuple(replace(level, height_m=3.0) for level in LEVELS)
    walls = (wall("W1", 4, 0, 4, 4), wall("W2", 5, 0, 5, 4, level="L2"))
    building = replace(house(walls=walls), levels=tight)
    assert names(met(building, at(0, 2, 3.0), at(10, 2, 3.0))) == ["wall W1"]
    assert names(met(building, at(0, 2, 0.0, "L2"), at(10, 2, 0.0, "L2"))) == ["wall W2"]


@pytest.mark.parametrize(
    "walls",
    [
        pytest.param((wall("W1", 5, 0, 5, 2), wall("W2", 5, 2, 5, 4)), id="in a row"),
        pytest.param((wall("W1", 5, 2, 5, 0), wall("W2", 5, 2, 5, 4)), id="typed from the joint"),
        pytest.param((wall("W1", 5, 0, 5, 2), wall("W2", 5, 4, 5, 2)), id="typed to the joint"),
        pytest.param((wall("W1", 5, 2, 5, 4), wall("W2", 2, 0, 5, 2)), id="a corner"),
        pytest.param((wall("W1", 5, 2, 5, 4), wall("W2", 8, 3, 5, 2)), id="the tip of a corner"),
        pytest.param((wall("W1", 5, 0, 5, 4), wall("W2", 5, 2, 8, 3)), id="a T"),
        pytest.param((wall("W1", 5, 0, 5, 4), wall("W2", 3, 0, 7, 4)), id="crossing walls"),
        pytest.param((wall("W1", 5, 0, 5, 4), wall("W2", 5, 0, 5, 4)), id="typed twice"),
    ],
)
@pytest.mark.parametrize("off_m", [0.0, 1e-9, -1e-9])
def test_a_path_through_a_joint_meets_one_wall(met, walls, off_m):
    building = house(walls=walls)
    assert len(met(building, at(0, 2 + off_m), at(10, 2 + off_m))) == 1
    assert len(met(building, at(10, 2 + off_m), at(0, 2 + off_m))) == 1


def test_a_gap_of_half_a_millimetre_between_two_walls_is_none(met):
    building = house(walls=(wall("W1", 5, 0, 5, 1.99975), wall("W2", 5, 2.00025, 5, 4)))
    assert len(met(building, at(0, 2), at(10, 2))) == 1


def test_a_joint_counts_as_its_lossiest_wall(met):
    building = house(
        walls=(
            wall("W1", 5, 0, 5, 2, construction="two"),
            wall("W2", 5, 2, 5, 4, construction="unit"),
        )
    )
    assert names(met(building, at(0, 2), at(10, 2))) == ["wall W1"]


def test_two_faces_of_a_double_wall_count_twice(met):
    building = house(walls=(wall("W1", 5, 0, 5, 4), wall("W2", 5.01, 0, 5.01, 4)))
    assert len(met(building, at(0, 2), at(10, 2))) == 2


@pytest.mark.parametrize("drawn", [(5, 0, 5, 4), (5, 4, 5, 0)])
def test_a_device_on_a_walls_line_hangs_on_one_face_of_it(met, drawn):
    """Whichever end was typed first; the two halves of a path count the wall once between them."""
    building = house(walls=(wall("W1", *drawn),))
    assert met(building, at(0, 2), at(5, 2)) == ()
    assert names(met(building, at(5, 2), at(10, 2))) == ["wall W1"]
    assert names(met(building, at(10, 2), at(5, 2))) == ["wall W1"]


@pytest.mark.parametrize("drawn", [(0, 5, 4, 5), (4, 5, 0, 5)])
def test_a_device_on_a_wall_along_x_hangs_on_the_side_of_greater_y(met, drawn):
    building = house(walls=(wall("W1", *drawn),))
    assert met(building, at(2, 9), at(2, 5)) == ()
    assert names(met(building, at(2, 0), at(2, 5))) == ["wall W1"]


def test_a_path_along_a_wall_does_not_cross_it(met):
    building = house(walls=(wall("W1", 2, 5, 8, 5),))
    assert met(building, at(0, 5), at(10, 5)) == ()


def test_a_path_along_a_wall_crosses_the_wall_at_its_end(met):
    building = house(walls=(wall("W1", 2, 5, 8, 5), wall("W2", 8, 0, 8, 9)))
    assert names(met(building, at(0, 5), at(10, 5))) == ["wall W2"]


def test_two_devices_at_one_place_have_nothing_between_them(met):
    building = house(walls=(wall("W1", 5, 0, 5, 4),), pillars=(square_pillar(),))
    assert met(building, at(5, 2), at(5, 2)) == ()


def test_metal_counts_as_what_finds_a_way_somehow_and_coated_glass_as_measured(met):
    """The ends are too far away to matter."""
    metal, glass = (
        wall("W1", 5, -50, 5, 50, construction="metal_sheet"),
        wall("W2", 5, -50, 5, 50, construction="coated_glass"),
    )
    assert met(house(walls=(metal,)), at(0, 2), at(10, 2))[0].loss_db == 25.0
    assert met(house(walls=(glass,)), at(0, 2), at(10, 2))[0].loss_db == 28.0


@pytest.mark.parametrize(
    ("drawn", "door_y_m", "wall_y_m"), [((5, 0, 5, 9), 2, 7), ((5, 9, 5, 0), 7, 2)]
)
def test_a_door_is_counted_from_the_end_that_was_typed_first(met, drawn, door_y_m, wall_y_m):
    door = Door("D1", "W1", at_m=1.5, width_m=1.0, height_m=2.0, construction="two")
    building = house(walls=(wall("W1", *drawn),), doors=(door,))
    found = met(building, at(0, door_y_m), at(10, door_y_m))
    assert found == (Hindrance("door D1", "two", 2.0, "D1"),)
    assert names(met(building, at(0, wall_y_m), at(10, wall_y_m))) == ["wall W1"]


def test_above_its_head_a_door_is_wall(met):
    door = Door("D1", "W1", at_m=1.5, width_m=1.0, height_m=2.0, construction="two")
    building = house(walls=(wall("W1", 5, 0, 5, 9),), doors=(door,))
    assert names(met(building, at(0, 2, 2.2), at(10, 2, 2.2))) == ["wall W1"]


def test_a_slab_met_straight_costs_what_p2040_says(met):
    """Concrete 0.20 m head-on: 14.7143 dB without ripple (closed form, P.2040-3)."""
    (found,) = met(house(), at(1, 1), at(1, 1, level="L2"))
    assert found.what == "slab under L2"
    assert found.loss_db == pytest.approx(14.7143, abs=2e-3)


def test_a_slab_met_at_60_degrees_costs_what_p2040_says(met):
    (found,) = met(house(), at(0, 0), at(3 * math.sqrt(3), 0, level="L2"))
    assert found.loss_db == pytest.approx(slab_db(0.2, 60), abs=5e-3)


def test_every_slab_between_two_levels_is_told_in_order(met):
    assert names(met(house(), at(0, 0), at(5, 0, level="L3"))) == ["slab under L2", "slab under L3"]
    assert names(met(house(), at(5, 0, level="L3"), at(0, 0))) == ["slab under L3", "slab under L2"]


@pytest.mark.parametrize("height_m", [0.0, 3.0])
def test_the_slab_between_ceiling_and_floor_is_met_once(met, height_m):
    """A device may hang at the very ceiling, another lie on the very floor above it."""
    tight = replace(house(), levels=tuple(replace(level, height_m=3.0) for level in LEVELS))
    below, above = at(0, 0, 3.0), at(1, 0, height_m, "L2")
    assert names(met(tight, below, above)) == ["slab under L2"]
    assert met(tight, below, at(1, 0, 1.0)) == ()


def test_inside_an_open_shaft_the_slabs_cost_nothing(met):
    stair = Shaft("S1", "L1", "L2", SQUARE, None)
    building = house(shafts=(stair,))
    assert met(building, at(5, 5), at(5, 5, level="L2")) == ()
    assert names(met(building, at(5, 5), at(5, 5, level="L3"))) == ["slab under L3"]
    assert names(met(building, at(8, 5), at(8, 5, level="L2"))) == ["slab under L2"]


def test_the_slab_that_a_shaft_stands_on_is_there(met):
    building = house(shafts=(Shaft("S1", "L2", "L3", SQUARE, None),))
    assert names(met(building, at(5, 5), at(5, 5, level="L3"))) == ["slab under L2"]


def test_a_lined_shaft_costs_its_walls_and_not_its_slabs(met):
    lift = Shaft("lift", "L1", "L3", SQUARE, "unit")
    building = house(shafts=(lift,))
    through = met(building, at(0, 5), at(10, 5))
    assert through == (Hindrance("lining of shaft lift", "unit", 2.0, times=2),)
    assert met(building, at(0, 5), at(5, 5))[0].loss_db == 1.0
    assert met(building, at(5, 5), at(5, 5, level="L3")) == ()


def test_a_lining_ends_below_and_above_its_levels(met):
    building = house(shafts=(Shaft("lift", "L1", "L2", SQUARE, "unit"),))
    assert names(met(building, at(0, 5, level="L3"), at(10, 5, level="L3"))) == []
    assert names(met(building, at(0, 5, level="L2"), at(10, 5, level="L2"))) == [
        "lining of shaft lift"
    ]


def test_a_path_over_the_corner_of_a_lining_meets_each_corner_once(met):
    building = house(shafts=(Shaft("lift", "L1", "L3", SQUARE, "unit"),))
    assert met(building, at(0, 0), at(10, 10))[0].loss_db == 2.0


def test_the_whole_lining_costs_no_more_than_what_finds_a_way_somehow(met):
    """From inside there is no way round: concrete of 0.30 m head-on, 21.3350 dB (P.2040-3)."""
    building = house(shafts=(Shaft("lift", "L1", "L3", SQUARE, "concrete_300"),))
    outwards = at(5, 5), at(10, 5)
    (held,) = met(building, *outwards, most_db=20.0)
    assert (held.loss_db, held.times) == (20.0, 0)
    (whole,) = met(building, *outwards, most_db=90.0)
    assert whole.loss_db == pytest.approx(21.3350, abs=2e-3)
    assert whole.times == 1


def square_pillar(construction="two", lowest="L1", highest="L2", side_m=0.3):
    return Pillar("P1", lowest, highest, 5.0, 5.0, side_m, side_m, construction)


def test_a_pillar_is_solid_along_the_path(met):
    """0.10 m of concrete head-on: 8.0890 dB (P.2040-3 without ripple), whatever its layers say.

    Both of its edges stand 0.1 m out of the path, so that going round costs more than that.
    """
    pillar = replace(square_pillar("concrete_200"), width_m=0.1, depth_m=0.2)
    (found,) = met(house(pillars=(pillar,)), at(4, 5), at(6, 5))
    assert found.what == "pillar P1"
    assert found.loss_db == pytest.approx(8.0890, abs=2e-3)


def test_a_pillar_too_wide_to_be_gone_round_costs_what_finds_a_way_somehow(met):
    wide = square_pillar("concrete_200", side_m=8.0)
    (found,) = met(house(pillars=(wide,)), at(0, 5), at(10, 5))
    assert found == Hindrance("pillar P1", "concrete_200", 25.0, times=0)


def test_a_pillar_with_a_stated_loss_costs_that(met):
    (found,) = met(house(pillars=(square_pillar("two"),)), at(0, 5), at(10, 5))
    assert found.loss_db == 2.0


def test_a_pillar_ends_at_the_ceiling_of_its_last_level(met):
    building = house(pillars=(square_pillar(),))
    assert names(met(building, at(0, 5, level="L2"), at(10, 5, level="L2"))) == ["pillar P1"]
    assert met(building, at(0, 5, level="L3"), at(10, 5, level="L3")) == ()


def test_a_path_along_the_face_of_a_pillar_misses_it(met):
    for y_m in (5.15, 5.1495):  # on the face, and half a millimetre inside
        assert met(house(pillars=(square_pillar(),)), at(0, y_m), at(10, y_m)) == ()


def test_a_device_on_a_pillars_face_meets_it_only_backwards(met):
    building = house(pillars=(square_pillar(),))
    assert met(building, at(4.85, 5), at(0, 5)) == ()
    assert names(met(building, at(4.85, 5), at(10, 5))) == ["pillar P1"]


metres = st.integers(0, 2000).map(lambda centimetres: centimetres / 100)
points = st.tuples(metres, metres)
heights = st.integers(1, 269).map(lambda centimetres: centimetres / 100)
NEAR_M = 0.01  # drawings that touch within it are the business of the tests above


def clear_of_touching(path, segments):
    """Whether no end of anything lies near the line of anything else."""
    line = longer(path)
    crossed = []
    for segment in segments:
        ends = [shapely.Point(end) for end in segment.coords]
        if segment.length < 0.1 or min(line.distance(end) for end in ends) < NEAR_M:
            return False
        if min(longer(segment).distance(shapely.Point(end)) for end in path.coords) < NEAR_M:
            return False
        if path.intersects(segment):
            crossed.append(path.project(path.intersection(segment)))
    crossed.sort()
    return all(b - a > NEAR_M for a, b in itertools.pairwise(crossed))


def longer(segment):
    return shapely.affinity.scale(segment, 1000, 1000)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    plan=st.tuples(points, points),
    rise=st.tuples(heights, heights),
    ends=st.lists(st.tuples(points, points, st.sampled_from(["L1", "L2"])), max_size=8),
    over=st.booleans(),
)
def test_walls_met_are_those_that_shapely_finds(met, plan, rise, ends, over):
    a, b = plan
    path = shapely.LineString([a, b])
    assume(path.length > 0.1)
    segments = [shapely.LineString([first, last]) for first, last, _ in ends]
    assume(clear_of_touching(path, segments))
    z_a, z_b = rise[0], rise[1] + (3.0 if over else 0.0)
    expected = set()
    for position, (segment, (_, _, level)) in enumerate(zip(segments, ends, strict=True)):
        if path.intersects(segment):
            share = path.project(path.intersection(segment), normalized=True)
            z, foot = z_a + share * (z_b - z_a), 0.0 if level == "L1" else 3.0
            assume(min(abs(z - foot), abs(z - foot - 2.7)) > NEAR_M)
            if foot < z < foot + 2.7:
                expected.add(f"wall {position}")
    walls = tuple(wall(str(n), *p, *q, level=level) for n, (p, q, level) in enumerate(ends))
    found = met(house(walls=walls), at(*a, z_a), at(*b, rise[1], "L2" if over else "L1"))
    told = names(found)
    assert {what for what in told if what.startswith("wall")} == expected
    assert told.count("slab under L2") == over
    assert len(told) == len(expected) + over


steps = st.integers(0, 4).map(float)
corners = st.tuples(steps, steps)


def hung_on_a_face(point, line):
    """A device on a wall's line, moved a little to the face it hangs on; any other where it is.

    Towards greater y, or towards smaller x where the wall runs along y.
    """
    (x1, _), (x2, _) = line.coords
    if line.distance(shapely.Point(point)) > 1e-9:
        return point
    x, y = point
    return (x - 1e-6, y) if x1 == x2 else (x, y + 1e-6)


@settings(derandomize=True, deadline=None, max_examples=400)
@given(
    a=corners,
    b=corners,
    ends=st.lists(st.tuples(corners, corners), min_size=1, max_size=6),
)
def test_what_touches_is_met_as_the_rule_says_and_shapely_finds(met, a, b, ends):
    """On a coarse grid: ends on paths, corners, Ts, walls typed twice, paths along walls."""
    assume(a != b)
    ends = [(first, last) for first, last in ends if first != last]
    joints = []
    for first, last in ends:
        segment = shapely.LineString([first, last])
        path = shapely.LineString([hung_on_a_face(end, longer(segment)) for end in (a, b)])
        if longer(segment).intersects(path) and segment.distance(path) < 1e-3:
            joints.append(path.project(path.intersection(longer(segment))))
    joints.sort()
    n_met = sum(1 for before, at_m in itertools.pairwise([-1.0, *joints]) if at_m - before > 2e-3)
    walls = tuple(wall(str(n), *first, *last) for n, (first, last) in enumerate(ends))
    assert len(met(house(walls=walls), at(*a), at(*b))) == n_met
    assert len(met(house(walls=walls), at(*b), at(*a))) == n_met


@st.composite
def outlines(draw):
    """Star-shaped outlines around (10, 10), so that most of them have dents."""
    n = draw(st.integers(3, 8))
    radii = [draw(st.integers(100, 900)) / 100 for _ in range(n)]
    return tuple(
        (
            10 + radius * math.cos(2 * math.pi * corner / n),
            10 + radius * math.sin(2 * math.pi * corner / n),
        )
        for corner, radius in enumerate(radii)
    )


@settings(derandomize=True, deadline=None, max_examples=200)
@given(outline=outlines(), point=points)
def test_a_point_is_inside_an_outline_when_shapely_says_so(outline, point):
    polygon, spot = shapely.Polygon(outline), shapely.Point(point)
    assume(polygon.exterior.distance(spot) > NEAR_M)
    corners_m = np.array(outline)
    assert contains(corners_m, 0, len(corners_m), point) == polygon.contains(spot)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(outline=outlines(), a=points, b=points)
def test_a_lining_is_met_as_often_as_shapely_finds(met, outline, a, b):
    """Each wall of this lining costs 1 dB, so that the loss counts them."""
    path = shapely.LineString([a, b])
    assume(path.length > 0.1)
    sides = [
        shapely.LineString(pair) for pair in zip(outline, (*outline[1:], outline[0]), strict=True)
    ]
    assume(clear_of_touching(path, sides))
    building = house(shafts=(Shaft("lift", "L1", "L2", outline, "unit"),))
    found = met(building, at(*a), at(*b))
    n_met = sum(path.intersects(side) for side in sides)
    assert sum(hindrance.loss_db for hindrance in found) == n_met
    assert len(found) == (n_met > 0)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(a=points, b=points, centre=points, size=st.tuples(metres, metres), rise=heights)
def test_the_path_inside_a_block_is_as_long_as_shapely_finds(a, b, centre, size, rise):
    """The block is taller than the path, so its length grows with the slope alone."""
    path = shapely.LineString([a, b])
    half_x_m, half_y_m = size[0] / 2 + 0.1, size[1] / 2 + 0.1
    (x_m, y_m) = centre
    low, high = (x_m - half_x_m, y_m - half_y_m), (x_m + half_x_m, y_m + half_y_m)
    chord_m = shapely.box(*low, *high).intersection(path).length
    assume(path.length > 0.1)
    assume(chord_m == 0 or chord_m > NEAR_M)
    assume(shapely.box(*low, *high).exterior.intersection(path).length == 0)
    box = np.array([[*low, -1.0, *high, 9.0]])
    _, found_m, _ = box_met(box, 0, line_between(np.array([[*a, 0.0], [*b, rise]]), 0, 1))
    slope = math.hypot(path.length, rise) / path.length
    assert found_m == pytest.approx(chord_m * slope, abs=1e-6)


@settings(derandomize=True, deadline=None, max_examples=100)
@given(
    a=points,
    b=points,
    rise=st.tuples(heights, heights),
    ends=st.lists(st.tuples(points, points), max_size=8),
)
def test_a_path_and_its_reverse_meet_the_same(met, a, b, rise, ends):
    """Reciprocity; touching included.

    To a thousandth of the 0.01 dB in which strengths are counted: a path of some metres that runs
    along a wall of a centimetre magnifies rounding ten million times.
    """
    walls = tuple(
        wall(str(n), *p, *q, construction="concrete_200") for n, (p, q) in enumerate(ends) if p != q
    )
    building = house(
        walls=walls, pillars=(square_pillar(),), shafts=(Shaft("lift", "L1", "L3", SQUARE, "two"),)
    )
    there = met(building, at(*a, rise[0]), at(*b, rise[1], "L3"))
    back = met(building, at(*b, rise[1], "L3"), at(*a, rise[0]))
    assert sorted(names(there)) == sorted(names(back))
    assert sum(h.loss_db for h in there) == pytest.approx(sum(h.loss_db for h in back), abs=1e-5)
