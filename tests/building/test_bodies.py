"""Openings, plates and obstacles; planes and heights are worked out by hand."""

import pytest

from resilience.building.structure import Obstacle, Opening, Plate

SQUARE = "[[1, 1], [4, 1], [4, 4], [1, 4]]"
# A ramp that rises 1 m over 4 m of plan, in the plane z = x / 4.
RAMP = "[[0, 1, 0], [4, 1, 1], [4, 3, 1], [0, 3, 0]]"
TRUCK = "id: V1, kind: vehicle, level: ground, x_m: 5, y_m: 5, width_m: 4, depth_m: 2"


def site(**parts):
    text = (
        "format: 1\nradio: {environment: quiet}\n"
        "building:\n  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]\n"
        "  levels: [{id: ground}, {id: upper}]\n"
    )
    for key, item in parts.items():
        text += f"  {key}:\n    - {{{item}}}\n"
    return text


def test_openings_are_read_filled_or_not(folder):
    text = site(openings=f"id: O1, level: upper, outline: {SQUARE}")
    filled = f"    - {{id: O2, level: upper, outline: {SQUARE}, construction: glass_10}}\n"
    openings = folder.write(site_yaml=text + filled).read().building.openings
    corners = ((1.0, 1.0), (4.0, 1.0), (4.0, 4.0), (1.0, 4.0))
    assert openings == (
        Opening("O1", "upper", corners, None),
        Opening("O2", "upper", corners, "glass_10"),
    )


def test_a_plate_is_read_with_its_slope(folder):
    text = site(plates=f"id: P1, level: ground, corners: {RAMP}, construction: concrete_150")
    (plate,) = folder.write(site_yaml=text).read().building.plates
    corners = ((0.0, 1.0, 0.0), (4.0, 1.0, 1.0), (4.0, 3.0, 1.0), (0.0, 3.0, 0.0))
    assert plate == Plate("P1", "ground", corners, "concrete_150")


@pytest.mark.parametrize("off_m", [0.03, -0.03])
def test_a_plate_that_misses_its_plane_by_less_than_a_centimetre_is_flat(folder, off_m):
    """One corner of a square lifted by h leaves each corner h/4 off the middle plane: 7.5 mm."""
    corners = f"[[0, 0, 1], [4, 0, 1], [4, 4, {1 + off_m}], [0, 4, 1]]"
    text = site(plates=f"id: P1, level: ground, corners: {corners}, construction: concrete_150")
    assert folder.write(site_yaml=text).read().building.plates


def test_an_obstacle_reaches_the_ceiling_unless_it_says_otherwise(folder):
    """Floor to ceiling is 3 m by default."""
    text = site(obstacles=f"{TRUCK}, foot_m: 0.5, adds_db: 9, per_year: 20, mean_h: 2")
    (obstacle,) = folder.write(site_yaml=text).read().building.obstacles
    assert (obstacle.foot_m, obstacle.height_m, obstacle.loss_db) == (0.5, 2.5, 0.0)
    assert isinstance(obstacle, Obstacle)
    assert (obstacle.x_m, obstacle.y_m, obstacle.width_m, obstacle.depth_m) == (5, 5, 4, 2)
    assert obstacle.kind == "vehicle"


def test_obstacles_come_from_the_site_and_from_their_own_table(folder):
    table = (
        "id,kind,level,x_m,y_m,width_m,depth_m,height_m,changes,mean_h\n"
        "R1,racking,ground,9,5,2,2,2,on,300\n"
    )
    text = site(obstacles=TRUCK)
    folder.write(site_yaml=text, obstacles_csv=table)
    assert [one.id for one in folder.read().building.obstacles] == ["R1", "V1"]
    folder.write(obstacles_csv=table.replace("R1", "v1"))
    (fault,) = folder.faults()
    assert fault.startswith('obstacles.csv, line 2, column id: found "v1"; expected an id of its')


def test_a_table_of_obstacles_without_a_building_is_told(linked_folder):
    table = "id,level,x_m,y_m,width_m,depth_m\nR1,ground,9,5,2,2\n"
    (fault,) = linked_folder.write(obstacles_csv=table).faults()
    assert fault.startswith("obstacles.csv, line 2: found an obstacle; expected section building")


@pytest.mark.parametrize(
    ("part", "item", "message"),
    [
        (
            "openings",
            "id: O1, level: upper",
            "openings[1].outline: found nothing; expected corners",
        ),
        ("openings", f"id: O1, level: roof, outline: {SQUARE}", 'found "roof"; expected a level'),
        (
            "openings",
            "id: O1, level: upper, outline: [[30, 1], [34, 1], [34, 4]]",
            "expected an outline on the slab of level upper",
        ),
        (
            "openings",
            "id: O1, level: upper, outline: [[0, 0], [9, 9], [9, 0], [0, 9]]",
            "whose sides do not cross",
        ),
        ("plates", f"id: P1, level: ground, corners: {RAMP}", "construction: found nothing"),
        ("plates", "id: P1, level: ground, construction: stud_wall", "corners: found nothing"),
        (
            "plates",
            "id: P1, level: ground, corners: [[0, 0, 1], [1, 1, 1]], construction: stud_wall",
            "corners: found a list; expected at least three corners",
        ),
        (
            "plates",
            f"id: P1, level: ground, corners: {SQUARE}, construction: stud_wall",
            "found a list; expected a corner [x, y, height] in metres",
        ),
        (  # the top of the ramp stands 0.5 m above the ceiling of 3 m
            "plates",
            f"id: P1, level: ground, corners: {RAMP.replace(', 1]', ', 3.5]')}, "
            "construction: stud_wall",
            "expected heights from 0 to 3, within level ground",
        ),
        (  # h = 0.2 m: each corner is 5 cm off the middle plane
            "plates",
            "id: P1, level: ground, corners: [[0, 0, 1], [40, 0, 1], [40, 40, 1.2], [0, 40, 1]], "
            "construction: stud_wall",
            "expected corners in one plane; they miss it by 5 cm",
        ),
        (
            "plates",
            "id: P1, level: ground, corners: [[0, 0, 0], [4, 0, 0], [4, 0, 2], [0, 0, 2]], "
            "construction: stud_wall",
            "expected a sheet that is not upright; draw an upright one as a wall",
        ),
        (
            "plates",
            "id: P1, level: ground, corners: [[0, 0, 1], [4, 4, 1], [4, 0, 1], [0, 4, 1]], "
            "construction: stud_wall",
            "expected",
        ),
        (
            "plates",
            "id: P1, level: ground, corners: [[0, 0, 1], [0, 0, 1], [0, 0, 1]], "
            "construction: stud_wall",
            "expected a sheet",
        ),
        (
            "obstacles",
            f"{TRUCK}, height_m: 4",
            "expected at most 3, up to the ceiling of level gro",
        ),
        ("obstacles", f"{TRUCK}, foot_m: 3", "expected a foot below the ceiling of level ground"),
        ("obstacles", f"{TRUCK}, loss_db: -3", 'loss_db: found "-3"; expected a number in dB'),
        ("obstacles", f"{TRUCK}, changes: off", "expected on, or a pillar"),
        ("obstacles", f"{TRUCK}, weight: 3", 'found "weight"; expected a known key'),
        ("obstacles", TRUCK.replace("width_m: 4, ", ""), "width_m: found nothing; expected metres"),
        ("obstacles", TRUCK.replace("V1", "the truck"), "expected an id without blanks"),
        ("obstacles", TRUCK.replace("kind: vehicle", 'kind: "a\\u202eb"'), "invisible characters"),
    ],
)
def test_what_cannot_stand_there_is_told(folder, part, item, message):
    faults = folder.write(site_yaml=site(**{part: item})).faults()
    assert any(message in fault for fault in faults), faults


def test_a_door_and_an_obstacle_cannot_share_an_id(folder):
    door = "id: v1, wall: W1, at_m: 1, width_m: 1, height_m: 2, construction: wooden_door"
    folder.write(
        site_yaml=site(doors=door, obstacles=TRUCK),
        walls_csv="id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,5,20,5,brick_120\n",
    )
    (fault,) = folder.faults()
    assert 'obstacles[1].id: found "V1"; expected an id of its own' in fault


def test_a_device_inside_an_obstacle_is_told_and_one_above_it_is_not(folder):
    devices = (
        "id,kind,level,x_m,y_m,height_m\nG1,gateway,ground,5,5,1\nS1,sensor,ground,5,5,2.5\n"
        "S2,sensor,upper,5,5,1\nS3,sensor,ground,7,5,1\n"  # S3 touches its side at x = 7
    )
    folder.write(site_yaml=site(obstacles=f"{TRUCK}, height_m: 2"), layouts__a__devices_csv=devices)
    notes = folder.read().notes
    assert "layouts/a/devices.csv: inside something solid: G1 in V1 (line 2)." in notes


def test_what_stands_beyond_the_outline_is_told(folder):
    text = site(
        obstacles=TRUCK.replace("x_m: 5", "x_m: 50"),
        pillars="id: P1, level: ground, x_m: -9, y_m: 1, width_m: 1, depth_m: 1, "
        "construction: concrete_300",
    )
    notes = folder.write(site_yaml=text).read().notes
    assert "Drawn beyond the outline: pillar P1, obstacle V1." in notes


@pytest.mark.parametrize(("side_m", "is_taken"), [(0.05, True), (0.02, False)])
def test_a_small_opening_is_taken_and_a_tiny_one_is_told_its_size(folder, side_m, is_taken):
    corners = f"[[1, 1], [{1 + side_m}, 1], [{1 + side_m}, {1 + side_m}], [1, {1 + side_m}]]"
    folder.write(site_yaml=site(openings=f"id: O1, level: upper, outline: {corners}"))
    if is_taken:
        assert len(folder.read().building.openings) == 1
    else:
        (fault,) = folder.faults()
        assert "expected an outline of at least 10 square centimetres" in fault
