"""Slabs with outlines and openings, sloping plates, windows: by hand, and against shapely."""

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from resilience.assumptions.constructions import CONSTRUCTIONS, Construction
from resilience.building.site import Place
from resilience.building.structure import (
    Building,
    Door,
    Level,
    Opening,
    Plate,
    Shaft,
    Wall,
    Window,
)
from resilience.connectivity.shapes.crossings import Hindrance

BUILT = (
    *CONSTRUCTIONS.items(),
    ("unit", Construction(loss_db=1.0)),
    ("two", Construction(loss_db=2.0)),
)
FAR_AWAY = Wall("far", "L1", 900.0, 900.0, 901.0, 900.0, "unit")  # drawn, in nobody's way
WEST = ((0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0))
EAST = ((14.0, 0.0), (24.0, 0.0), (24.0, 8.0), (14.0, 8.0))
SQUARE = ((4.0, 4.0), (6.0, 4.0), (6.0, 6.0), (4.0, 6.0))


def level(n, outline=(), slab="unit"):
    return Level(f"L{n}", 3.0 * (n - 1), 2.7, slab, outline)


def house(*levels, walls=(), **parts):
    levels = levels or (level(1), level(2), level(3))
    return Building(levels=levels, walls=(*walls, FAR_AWAY), constructions=BUILT, **parts)


def at(x_m, y_m, height_m=1.2, on="L1"):
    return Place(on, x_m, y_m, height_m)


def names(found):
    return [hindrance.what for hindrance in found]


def test_two_buildings_with_a_gap_share_no_slab(met):
    """The second level is in the western building alone, and the path falls through the gap."""
    building = house(level(1), level(2, WEST))
    assert names(met(building, at(5, 4, on="L2"), at(6, 4))) == ["slab under L2"]
    assert met(building, at(9, 4, 0.5, on="L2"), at(20, 4, 1.0)) == ()
    assert met(building, at(20, 4, on="L2"), at(20, 4)) == ()


def test_a_level_without_an_outline_takes_the_buildings(met):
    building = house(level(1), level(2), level(3, EAST), outline=WEST)
    assert names(met(building, at(5, 4, on="L3"), at(5, 4))) == ["slab under L2"]
    assert names(met(building, at(20, 4, on="L3"), at(20, 4))) == ["slab under L3"]


@pytest.mark.parametrize("spot", [(0, 4), (10, 4), (5, 0), (5, 8), (0, 0), (10, 8), (10, 0)])
def test_a_device_on_the_outer_wall_stands_inside(met, spot):
    building = house(level(1), level(2, WEST))
    assert names(met(building, at(*spot, on="L2"), at(*spot))) == ["slab under L2"]
    x_m, y_m = (half + 1.001 * (end - half) for half, end in zip((5, 4), spot, strict=True))
    assert met(building, at(x_m, y_m, on="L2"), at(x_m, y_m)) == ()


def test_an_opening_is_missing_from_its_own_slab_only(met):
    building = house(openings=(Opening("void", "L2", SQUARE),))
    assert names(met(building, at(5, 5), at(5, 5, on="L3"))) == ["slab under L3"]
    assert names(met(building, at(8, 5), at(8, 5, on="L2"))) == ["slab under L2"]


def test_an_opening_may_be_of_another_construction(met):
    building = house(openings=(Opening("light", "L2", SQUARE, "two"),))
    assert met(building, at(5, 5), at(5, 5, on="L2")) == (
        Hindrance("slab opening light", "two", 2.0),
    )


@pytest.mark.parametrize("shaft_first", [True, False])
def test_where_a_shaft_and_a_filled_opening_overlap_nothing_is_there(met, shaft_first):
    ids = ("a", "b") if shaft_first else ("b", "a")
    building = house(
        openings=(Opening(ids[1], "L2", SQUARE, "two"),),
        shafts=(Shaft(ids[0], "L1", "L2", SQUARE, None),),
    )
    assert met(building, at(5, 5), at(5, 5, on="L2")) == ()


@st.composite
def polygons(draw):
    """Star-shaped outlines around (10, 10), most of them with dents, in whole centimetres."""
    n = draw(st.integers(3, 7))
    radii = [draw(st.integers(200, 900)) for _ in range(n)]
    return tuple(
        (
            round(1000 + radius * math.cos(2 * math.pi * corner / n)) / 100,
            round(1000 + radius * math.sin(2 * math.pi * corner / n)) / 100,
        )
        for corner, radius in enumerate(radii)
    )


spots = st.tuples(st.integers(0, 2000), st.integers(0, 2000)).map(
    lambda spot: (spot[0] / 100, spot[1] / 100)
)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(outer=polygons(), hole=polygons(), a=spots, b=spots)
def test_a_slab_is_where_shapely_finds_it(met, outer, hole, a, b):
    """Half-way up the path from 1.2 m below the floor to 1.2 m above it."""
    building = house(level(1), level(2, outer), openings=(Opening("hole", "L2", hole),))
    there = shapely.Polygon(outer).buffer(0).difference(shapely.Polygon(hole).buffer(0))
    middle = shapely.Point((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    edges = (shapely.Polygon(outer).exterior, shapely.Polygon(hole).exterior)
    assume(min(edge.distance(middle) for edge in edges) > 0.01)
    found = met(building, at(*a, 1.8), at(*b, 1.2, "L2"))
    assert names(found) == (["slab under L2"] if there.contains(middle) else [])


def ramp(*heights_m, id="ramp"):
    """A plate over WEST whose west edge and east edge lie at two heights."""
    low_m, high_m = heights_m
    corners = ((0, 0, low_m), (10, 0, high_m), (10, 8, high_m), (0, 8, low_m))
    return Plate(id, "L1", corners, "unit")


def test_a_sloping_plate_parts_what_is_above_it_from_what_is_below(met):
    building = house(plates=(ramp(0.0, 2.5),))
    assert met(building, at(5, 4, 0.5), at(5, 4, 2.0)) == (Hindrance("plate ramp", "unit", 1.0),)
    assert met(building, at(2, 4, 1.0), at(8, 4, 2.6)) == ()
    assert met(building, at(2, 4, 0.1), at(8, 4, 1.0)) == ()
    assert met(building, at(5, 9, 0.5), at(5, 9, 2.0)) == ()


def test_a_plate_is_counted_from_its_own_levels_floor(met):
    building = house(plates=(replace(ramp(1.0, 1.0), level="L2"),))
    assert met(building, at(5, 4, 0.5), at(5, 4, 2.0)) == ()
    assert names(met(building, at(5, 4, 0.5, "L2"), at(5, 4, 2.0, "L2"))) == ["plate ramp"]


def test_a_device_on_a_plate_lies_on_top_of_it(met):
    building = house(plates=(ramp(1.0, 1.0),))
    assert met(building, at(5, 4, 1.0), at(6, 4, 2.0)) == ()
    assert names(met(building, at(5, 4, 1.0), at(6, 4, 0.2))) == ["plate ramp"]


def test_the_ridge_of_a_roof_is_met_once(met):
    west = Plate("west", "L1", ((0, 0, 1), (5, 0, 2), (5, 8, 2), (0, 8, 1)), "unit")
    east = Plate("east", "L1", ((5, 0, 2), (10, 0, 1), (10, 8, 1), (5, 8, 2)), "unit")
    assert len(met(house(plates=(west, east)), at(5, 4, 0.5), at(5, 4, 2.5))) == 1


def test_a_plate_is_met_at_its_true_angle(met):
    """A ramp at 45 degrees met at a right angle costs what the same slab costs head-on."""
    slope = Plate("slope", "L1", ((0, 0, 0), (2.5, 0, 2.5), (2.5, 8, 2.5), (0, 8, 0)), "brick_120")
    flat = Plate(
        "flat", "L1", ((0, 0, 1.25), (2.5, 0, 1.25), (2.5, 8, 1.25), (0, 8, 1.25)), "brick_120"
    )
    (head_on,) = met(house(plates=(slope,)), at(0.75, 4, 1.75), at(1.75, 4, 0.75))
    (straight,) = met(house(plates=(flat,)), at(1, 4, 0.5), at(1, 4, 2.0))
    (slanted,) = met(house(plates=(slope,)), at(1.25, 4, 0.5), at(1.25, 4, 2.0))
    (at_45,) = met(house(plates=(flat,)), at(0.5, 4, 0.5), at(2.0, 4, 2.0))
    assert head_on.loss_db == pytest.approx(straight.loss_db, abs=1e-9)
    assert slanted.loss_db == pytest.approx(at_45.loss_db, abs=1e-9)
    assert slanted.loss_db != pytest.approx(straight.loss_db, abs=0.01)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(
    outline=polygons(),
    slopes=st.tuples(st.integers(-10, 10), st.integers(-10, 10)),
    a=st.tuples(spots, st.integers(1, 269)),
    b=st.tuples(spots, st.integers(1, 269)),
)
def test_a_plate_is_met_where_shapely_finds_the_foot_of_the_crossing(met, outline, slopes, a, b):
    """Where z = 1.3 + p (x - 10) + q (y - 10) by linear algebra, then shapely on the plan."""
    p, q = (slope / 100 for slope in slopes)
    height_m = [1.3 + p * (x - 10) + q * (y - 10) for x, y in outline]
    assume(all(0 < one < 2.7 for one in height_m))
    corners = tuple((x, y, z) for (x, y), z in zip(outline, height_m, strict=True))
    (xy_a, z_a), (xy_b, z_b) = ((spot, z / 100) for spot, z in (a, b))
    above = [z - 1.3 - p * (x - 10) - q * (y - 10) for (x, y), z in ((xy_a, z_a), (xy_b, z_b))]
    assume(min(abs(one) for one in above) > 0.01)
    expected = False
    if above[0] * above[1] < 0:
        share = above[0] / (above[0] - above[1])
        foot = shapely.Point(
            *(one + share * (other - one) for one, other in zip(xy_a, xy_b, strict=True))
        )
        assume(shapely.Polygon(outline).exterior.distance(foot) > 0.01)
        expected = shapely.Polygon(outline).buffer(0).contains(foot)
    building = house(plates=(Plate("P", "L1", corners, "unit"),))
    assert len(met(building, at(*xy_a, z_a), at(*xy_b, z_b))) == expected


def test_a_window_begins_at_its_sill_and_ends_at_its_head(met):
    window = Window("V1", "W1", 1.5, sill_m=0.9, width_m=1.0, height_m=1.2, construction="two")
    building = house(walls=(Wall("W1", "L1", 5, 0, 5, 9, "unit"),), windows=(window,))
    for height_m, what in (
        (0.8, "wall W1"),
        (1.0, "window V1"),
        (2.0, "window V1"),
        (2.2, "wall W1"),
    ):
        assert names(met(building, at(0, 2, height_m), at(10, 2, height_m))) == [what]
    assert names(met(building, at(0, 3, 1.5), at(10, 3, 1.5))) == ["wall W1"]


def test_doors_carry_their_id_and_walls_and_windows_none(met):
    wall = Wall("W1", "L1", 5, 0, 5, 9, "unit")
    door = Door("D1", "W1", 1.5, 1.0, 2.0, "two")
    window = Window("V1", "W1", 4.5, 0.9, 1.0, 1.2, "two")
    building = house(walls=(wall,), doors=(door,), windows=(window,))
    found = [met(building, at(0, y_m), at(10, y_m))[0] for y_m in (2, 3.5, 5)]
    assert [(one.what, one.id) for one in found] == [
        ("door D1", "D1"),
        ("wall W1", ""),
        ("window V1", ""),
    ]
