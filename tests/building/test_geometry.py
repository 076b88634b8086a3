"""Outlines, holes in walls and slopes at their edges; areas and overlaps are shapely's."""

import json
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from resilience.building.files.folder import read_site
from resilience.errors import InputError

GATE = settings(
    max_examples=50,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction,height_m\n"
LEVELS = [{"id": "ground"}, {"id": "upper"}]
DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,5,5\n"


@pytest.fixture
def drawn(folder):
    """Write what is drawn, walls as rows; gives the folder."""

    def write(*walls, **parts):
        building = {"levels": LEVELS, **parts}
        page = json.dumps(
            {"format": 1, "radio": {"environment": "quiet"}, "building": building}, indent=1
        )
        table = WALLS + "".join(f"{wall}\n" for wall in walls)
        return folder.write(site_yaml=page, walls_csv=table, layouts__a__devices_csv=DEVICES)

    return write


def faults_of(folder):
    """Return the faults as lines; none of a site that reads."""
    try:
        read_site(folder.path)
    except InputError as error:
        return [str(fault) for fault in error.faults]
    return []


CENTIMETRES = st.integers(0, 600).map(lambda cm: cm / 100)
CORNERS = st.lists(st.tuples(CENTIMETRES, CENTIMETRES), min_size=3, max_size=6)


@GATE
@given(corners=CORNERS)
def test_an_outline_is_taken_just_where_shapely_calls_it_valid_and_large_enough(drawn, corners):
    shape = Polygon(corners)
    fits = shape.is_valid and shape.area >= 0.001
    folder = drawn(openings=[{"id": "O", "level": "ground", "outline": corners}])
    faults = faults_of(folder)
    assert (faults == []) is fits
    if not fits:
        (fault,) = faults
        is_small = shape.is_valid and shape.area > 0
        assert ("10 square centimetres" in fault) is is_small
        assert ("whose sides do not cross" in fault) is not is_small


SIZES = st.integers(1, 30).map(lambda dm: dm / 10)
HOLES = st.lists(
    st.tuples(st.integers(0, 70).map(lambda dm: dm / 10), SIZES, SIZES, SIZES),
    min_size=2,
    max_size=5,
)


@GATE
@given(holes=HOLES)
def test_holes_of_a_wall_are_told_just_where_their_rectangles_share_an_area(drawn, holes):
    """A wall of 10 m by 7 m; each hole is (at, sill, width, height)."""
    shapes = [box(at, sill, at + width, sill + height) for at, sill, width, height in holes]
    share = any(
        one.intersection(other).area > 1e-6 for n, one in enumerate(shapes) for other in shapes[:n]
    )
    windows = [
        {
            "id": f"F{n}",
            "wall": "W",
            "at_m": at,
            "sill_m": sill,
            "width_m": width,
            "height_m": height,
        }
        for n, (at, sill, width, height) in enumerate(holes)
    ]
    levels = [{"id": "ground", "height_m": 7}, {"id": "upper"}]
    folder = drawn("W,ground,0,5,10,5,brick_120,", windows=windows, levels=levels)
    faults = faults_of(folder)
    assert bool(faults) is share
    assert all("expected a place of its own: window F" in fault for fault in faults)


@pytest.mark.parametrize(
    ("at_m", "width_m", "height_m", "wanted"),
    [
        (0, 4, 2.5, ""),  # the whole wall is a doorway
        (0, 4.0009, 2.5, ""),  # drawings are rounded to millimetres
        (0, 4.0011, 2.5, 'at_m: found "0"; expected a door within its wall, which is 4 m long'),
        (3.5, 0.51, 2, 'at_m: found "3.5"; expected a door within its wall, which is 4 m long'),
        (4, 0.5, 2, 'at_m: found "4"; expected a door within its wall, which is 4 m long'),
        (0, 1, 2.5009, ""),
        (0, 1, 2.5011, 'height_m: found "2.5011"; expected a door within its wall, which is 2.5'),
        (0, 9, 2.6, "at_m: found"),
    ],
)
def test_a_door_is_no_larger_than_its_wall(drawn, at_m, width_m, height_m, wanted):
    """A wall from (0, 0) to (2.4, 3.2) is 4 m long: 3-4-5."""
    door = {
        "id": "D",
        "wall": "W",
        "at_m": at_m,
        "width_m": width_m,
        "height_m": height_m,
        "construction": "open",
    }
    levels = [{"id": "ground", "height_m": 2.5}, {"id": "upper"}]
    faults = faults_of(drawn("W,ground,0,0,2.4,3.2,brick_120,", doors=[door], levels=levels))
    assert [wanted in fault for fault in faults][:1] == [True] * bool(wanted), faults


@pytest.mark.parametrize(
    ("height_m", "sill_m", "is_told"), [("1.2", 0.2, False), ("1.2", 0.3, True), ("9", 2.1, True)]
)
def test_a_window_ends_below_the_top_of_a_low_wall_and_below_the_ceiling(
    drawn, height_m, sill_m, is_told
):
    pane = {"id": "F", "wall": "W", "at_m": 1, "sill_m": sill_m, "width_m": 1, "height_m": 1}
    faults = faults_of(drawn(f"W,ground,0,5,10,5,brick_120,{height_m}", windows=[pane]))
    top = {"1.2": "1.2", "9": "3"}[height_m]
    assert [f"within its wall, which is {top} m high" in fault for fault in faults] == [
        True
    ] * is_told


@pytest.mark.parametrize(("dx_m", "is_told"), [(0, True), (0.0009, True), (0.0011, False)])
def test_a_wall_of_no_length_is_told_once_and_not_for_the_door_in_it(drawn, dx_m, is_told):
    door = {
        "id": "D",
        "wall": "W",
        "at_m": 0,
        "width_m": 0.9,
        "height_m": 2,
        "construction": "open",
    }
    faults = faults_of(drawn(f"W,ground,1,5,{1 + dx_m},5,brick_120,", doors=[door]))
    if is_told:
        (fault,) = faults
        assert fault.startswith("walls.csv, line 2, column x2_m: found")
        assert fault.endswith("expected a wall whose two ends differ")
    else:
        assert "expected a door within its wall" in faults[0]


def test_walls_may_cross_and_lie_on_each_other(drawn):
    folder = drawn(
        "A,ground,0,5,10,5,brick_120,", "B,ground,5,0,5,9,brick_120,", "C,ground,10,5,0,5,glass_10,"
    )
    assert len(folder.read().building.walls) == 3


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("w,ground,0,0,1,0,brick_120,", 'column id: found "w"; expected an id of its own: line 2'),
        (",ground,0,0,1,0,brick_120,", "column id: found nothing; expected an id"),
        ("B,,0,0,1,0,brick_120,", "column level: found nothing; expected a level"),
        ("B,GROUND,0,0,1,0,brick_120,", 'found "GROUND"; expected a level; did you mean ground?'),
        ("B,ground,,0,1,0,brick_120,", "column x1_m: found nothing; expected metres"),
        ("B,ground,0,0,1,0,,", "column construction: found nothing; expected a construction"),
        ("B,ground,0,0,1,0,brick_120,-1", 'column height_m: found "-1"; expected metres, above 0'),
        ("../B,ground,0,0,1,0,brick_120,", 'found "../B"; expected an id without ~, / or \\'),
    ],
)
def test_each_mistake_of_a_wall_is_told_at_its_column(drawn, row, told):
    (fault,) = faults_of(drawn("W,ground,0,5,10,5,brick_120,", row))
    assert fault.startswith("walls.csv, line 3, column ")
    assert told in fault


def test_two_walls_without_an_id_are_told_each(drawn):
    faults = faults_of(drawn(",ground,0,0,1,0,brick_120,", ",ground,0,0,1,0,brick_120,"))
    assert [fault.split(":")[0] for fault in faults] == [
        "walls.csv, line 2, column id",
        "walls.csv, line 3, column id",
    ]


SHEET = [[0, 0], [4, 0], [4, 3], [0, 3]]


def sheet(*heights_m, corners=SHEET, **more):
    """Return a plate over corners at heights."""
    return {
        "id": "P",
        "level": "ground",
        "construction": "stud_wall",
        **more,
        "corners": [[x, y, z] for (x, y), z in zip(corners, heights_m, strict=True)],
    }


@pytest.mark.parametrize(
    ("heights_m", "wanted"),
    [
        ((0, 0, 3, 3), ""),  # from the floor to the ceiling
        ((0, 0, 3.0009, 3.0009), ""),
        ((0, 0, 3.0011, 3.0011), "expected heights from 0 to 3, within level ground"),
        ((-0.0009, -0.0009, 1, 1), ""),
        ((-0.0011, -0.0011, 1, 1), "expected heights from 0 to 3, within level ground"),
        # One corner of a rectangle lifted by h leaves each h / 4 off the middle plane.
        ((1, 1, 1.0399, 1), ""),
        ((1, 1, 1.0401, 1), "expected corners in one plane; they miss it by 1 cm"),
    ],
)
def test_a_plate_stays_within_its_level_and_in_one_plane(drawn, heights_m, wanted):
    faults = faults_of(drawn(plates=[sheet(*heights_m)]))
    assert [wanted in fault for fault in faults] == [True] * bool(wanted), faults


@pytest.mark.parametrize(("depth_m", "is_upright"), [(0.0599, True), (0.0601, False)])
def test_a_sheet_of_which_less_than_one_fiftieth_is_seen_from_above_is_a_wall(
    drawn, depth_m, is_upright
):
    """Over a depth d it rises by 2.9994 m: the share seen from above is d / hypot(d, 2.9994)."""
    share = depth_m / math.hypot(depth_m, 2.9994)
    assert (share < 0.02) is is_upright
    corners = [[0, 0], [4, 0], [4, depth_m], [0, depth_m]]
    faults = faults_of(drawn(plates=[sheet(0, 0, 2.9994, 2.9994, corners=corners)]))
    assert ["draw an upright one as a wall" in fault for fault in faults] == [True] * is_upright


@pytest.mark.parametrize(
    ("corners", "wanted"),
    [
        ([[0, 0], [4, 4], [4, 0], [0, 3]], "whose sides do not cross"),
        ([[0, 0], [4, 0], [2, 0.5], [4, 3]], ""),  # a notch is no crossing
        ([[0, 0], [4, 0], [4, 0], [0, 3]], ""),  # a corner twice
    ],
)
def test_the_sides_of_a_plate_do_not_cross(drawn, corners, wanted):
    faults = faults_of(drawn(plates=[sheet(1, 1, 1, 1, corners=corners)]))
    assert [wanted in fault for fault in faults] == [True] * bool(wanted), faults


def test_two_sloping_plates_may_cross_each_other(drawn):
    plates = [sheet(0, 0, 3, 3), sheet(3, 3, 0, 0) | {"id": "Q"}]
    assert len(drawn(plates=plates).read().building.plates) == 2


SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10]]


def shifted(dx_m, dy_m=0.0, outline=SQUARE):
    return [[x + dx_m, y + dy_m] for x, y in outline]


@pytest.mark.parametrize(
    ("floor_m", "dx_m", "is_told"),
    [
        (3.0, 0, False),  # on the very ceiling, with no slab between
        (2.9991, 0, False),  # drawings are rounded to millimetres
        (2.9989, 0, True),
        (1.0, 9.9991, False),  # shares 0.009 square metres
        (1.0, 9.9989, True),  # shares 0.011
        (1.0, 10, False),
        (-3.0, 0, False),
        (-2.9, 0, True),
    ],
)
def test_levels_stand_in_each_other_where_both_height_and_ground_are_shared(
    drawn, floor_m, dx_m, is_told
):
    levels = [
        {"id": "ground", "outline": SQUARE},
        {"id": "upper", "floor_m": floor_m, "outline": shifted(dx_m)},
    ]
    faults = faults_of(drawn(levels=levels))
    assert ["levels whose outlines do not overlap" in fault for fault in faults] == [True] * is_told


def test_a_cellar_below_and_a_tower_beside_are_found_in_order_of_their_floors(drawn):
    levels = [
        {"id": "ground", "outline": SQUARE},
        {"id": "tower", "outline": shifted(20), "height_m": 30},
        {"id": "cellar", "floor_m": -2.5, "height_m": 2.2},
        {"id": "upper", "outline": SQUARE},
    ]
    found = drawn(levels=levels).read().building.levels
    # upper stands on ground alone: 3 m and a slab of 0.3 m; tower on the earth beside it
    assert [(one.id, one.floor_m) for one in found] == [
        ("cellar", -2.5),
        ("ground", 0),
        ("tower", 0),
        ("upper", 3.3),
    ]


@pytest.mark.parametrize(
    ("span", "levels", "wanted"),
    [
        ({"level": "ground"}, ("ground", "ground"), ""),
        ({"lowest": "ground", "highest": "upper"}, ("ground", "upper"), ""),
        ({"lowest": "upper", "highest": "upper"}, ("upper", "upper"), ""),
        ({"lowest": "upper", "highest": "ground"}, (), "expected upper or a level above it"),
        ({"lowest": "ground"}, (), "highest: found nothing; expected a level"),
        ({"highest": "ground"}, (), "lowest: found nothing; expected a level"),
        ({"level": "ground", "highest": "upper"}, (), "either level, or lowest and highest"),
        ({"lowest": "roof", "highest": "upper"}, (), 'found "roof"; expected a level; known are'),
    ],
)
def test_a_pillar_stands_on_one_level_or_from_one_up_to_another(drawn, span, levels, wanted):
    pillar = {
        "id": "P",
        "x_m": 1,
        "y_m": 1,
        "width_m": 1,
        "depth_m": 1,
        "construction": "brick_120",
        **span,
    }
    folder = drawn(pillars=[pillar])
    if wanted:
        (fault,) = faults_of(folder)
        assert fault.split(", key ")[1].startswith("building.pillars[1].")
        assert wanted in fault
    else:
        (found,) = folder.read().building.pillars
        assert (found.lowest, found.highest) == levels


@pytest.mark.parametrize(
    ("foot_m", "height_m", "wanted"),
    [
        (0, 3, ""),
        (0, 3.0009, ""),
        (1, 2, ""),
        (2.9, 0.1, ""),
        (0, 3.0011, 'height_m: found "3.0011"; expected at most 3, up to the ceiling of level gr'),
        (1, 2.1, 'height_m: found "2.1"; expected at most 2, up to the ceiling of level ground'),
        (3, None, 'foot_m: found "3"; expected a foot below the ceiling of level ground'),
        (3, 1, 'foot_m: found "3"; expected a foot below the ceiling of level ground'),
    ],
)
def test_an_obstacle_stands_between_floor_and_ceiling(drawn, foot_m, height_m, wanted):
    tall = {} if height_m is None else {"height_m": height_m}
    thing = {
        "id": "O",
        "level": "ground",
        "x_m": 1,
        "y_m": 1,
        "width_m": 1,
        "depth_m": 1,
        "foot_m": foot_m,
        **tall,
    }
    faults = faults_of(drawn(obstacles=[thing]))
    assert [wanted in fault for fault in faults] == [True] * bool(wanted), faults


@pytest.mark.parametrize(
    ("outline", "wanted"),
    [
        (shifted(9.9, 9.9), "expected an outline on the slab of level upper"),  # shares 0.01 m2
        (shifted(9.89, 9.89), ""),  # shares 0.0121 m2
        ([[-5, -5], [20, -5], [20, 20], [-5, 20]], ""),  # larger than the slab: all of it is gone
        (shifted(30), "expected an outline on the slab of level upper"),
        (shifted(9.98, 9.98, [[0, 0], [0.05, 0], [0.05, 0.05], [0, 0.05]]), "expected an outline"),
        (shifted(9.96, 9.96, [[0, 0], [0.05, 0], [0.05, 0.05], [0, 0.05]]), ""),  # most of it
    ],
)
def test_an_opening_shares_ground_with_the_slab_that_it_is_in(drawn, outline, wanted):
    opening = {"id": "O", "level": "upper", "outline": outline}
    faults = faults_of(drawn(openings=[opening], outline=SQUARE))
    assert [wanted in fault for fault in faults] == [True] * bool(wanted), faults


@pytest.mark.parametrize(
    ("x_m", "y_m", "is_told"),
    [(0, 0, False), (-0.0099, 5, False), (-0.0101, 5, True), (10.0101, 5, True), (5, 10, False)],
)
def test_a_device_may_hang_on_the_outline_give_or_take_a_centimetre(drawn, x_m, y_m, is_told):
    folder = drawn(outline=SQUARE)
    folder.write(layouts__a__devices_csv=f"{DEVICES}S2,sensor,ground,{x_m},{y_m}\n")
    faults = faults_of(folder)
    told = f"layouts/a/devices.csv, line 4: found ({x_m:g}, {y_m:g}), outside the outline; "
    assert faults == [f"{told}expected a place within it"] * is_told


@pytest.mark.parametrize(("y_m", "is_told"), [(-0.49, False), (-0.51, True)])
def test_a_wall_half_a_metre_beyond_the_outline_is_told(drawn, y_m, is_told):
    folder = drawn(f"W,ground,1,{y_m},9,{y_m},brick_120,", outline=SQUARE)
    notes = [note for note in folder.read().notes if "beyond" in note]
    assert notes == ["Drawn beyond the outline: wall W."] * is_told


def test_what_lies_beyond_is_named_once_each_and_counted_from_the_seventeenth_on(drawn):
    walls = [f"W{n:02d},ground,50,{n},60,{n},brick_120," for n in range(20)]
    (note,) = [note for note in drawn(*walls, outline=SQUARE).read().notes if "beyond" in note]
    names = ", ".join(f"wall W{n:02d}" for n in range(16))
    assert note == f"Drawn beyond the outline: {names} and 4 more."


@pytest.mark.parametrize(
    ("place", "told"),
    [
        ("ground,3.49,5,1", "in P"),  # inside the pillar of 1 m by 2 m about (3, 5)
        ("ground,3.51,5,1", ""),
        ("ground,3,6,1", ""),  # on its face
        ("upper,3,5,1", ""),
        ("ground,7,5,0.5", "in O"),  # the obstacle reaches from 0.5 to 1.5 m
        ("ground,7,5,0.49", ""),
        ("ground,7,5,1.5", "in O"),
        ("ground,7,5,1.51", ""),
        ("ground,9,9,1", "in T"),
        ("upper,9,9,1", ""),  # the lined shaft ends on the ground floor
        ("ground,1,9,1", ""),  # an open shaft
    ],
)
def test_a_device_inside_something_is_told_with_what_it_hangs_in(drawn, place, told):
    block = {"x_m": 3, "y_m": 5, "width_m": 1, "depth_m": 2}
    folder = drawn(
        pillars=[{"id": "P", "level": "ground", **block, "construction": "brick_120"}],
        obstacles=[{"id": "O", "level": "ground", **block, "x_m": 7, "foot_m": 0.5, "height_m": 1}],
        shafts=[
            {
                "id": "T",
                "level": "ground",
                "lining": "brick_120",
                "outline": [[8, 8], [10, 8], [10, 10], [8, 10]],
            },
            {
                "id": "U",
                "level": "ground",
                "lining": "open",
                "outline": [[0, 8], [2, 8], [2, 10], [0, 10]],
            },
        ],
    )
    table = "id,kind,level,x_m,y_m,height_m\nG1,gateway,upper,1,1,2\n" + f"S1,sensor,{place}\n"
    folder.write(layouts__a__devices_csv=table)
    notes = [note for note in folder.read().notes if "inside" in note]
    where = "a shaft" if told == "in T" else "something solid"
    assert notes == [f"layouts/a/devices.csv: inside {where}: S1 {told} (line 3)."] * bool(told)


@pytest.mark.parametrize("kind", ["pillars", "shafts", "openings", "plates", "windows", "levels"])
def test_ids_of_one_kind_are_unique_without_regard_to_case(drawn, kind):
    item = {
        "pillars": {
            "level": "ground",
            "x_m": 1,
            "y_m": 1,
            "width_m": 1,
            "depth_m": 1,
            "construction": "brick_120",
        },
        "shafts": {"level": "ground", "lining": "open", "outline": SQUARE},
        "openings": {"level": "ground", "outline": SQUARE},
        "plates": {k: v for k, v in sheet(1, 1, 1, 1).items() if k != "id"},
        "windows": {"wall": "W", "at_m": 1, "sill_m": 1, "width_m": 1, "height_m": 1},
        "levels": {},
    }[kind]
    first = [{"id": "ground"}] if kind == "levels" else []
    things = [*first, {"id": "Café", **item}, {"id": "CAFÉ", **item}]
    (fault, *_) = faults_of(drawn("W,ground,0,5,10,5,brick_120,", **{kind: things}))
    n = len(things)
    assert f'key building.{kind}[{n}].id: found "CAFÉ"; expected an id of its own' in fault
    assert fault.endswith("has it already")
