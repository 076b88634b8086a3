"""Doors and windows of one wall of 20 m by 3 m; what overlaps is plain arithmetic."""

import pytest

from resilience.building.structure import Window

WALLS = """\
id,level,x1_m,y1_m,x2_m,y2_m,construction,height_m
W1,ground,0,5,20,5,brick_120,
W2,ground,0,7,20,7,brick_120,1.2
"""


def site(doors=(), windows=()):
    text = (
        "format: 1\nradio: {environment: quiet}\n"
        "building:\n  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]\n"
        "  levels: [{id: ground}, {id: upper}]\n"
    )
    for key, items in (("doors", doors), ("windows", windows)):
        text += "".join([f"  {key}:\n"] * bool(items) + [f"    - {{{item}}}\n" for item in items])
    return text


def written(folder, doors=(), windows=(), walls=WALLS):
    return folder.write(site_yaml=site(doors, windows), walls_csv=walls)


DOOR = "id: D1, wall: W1, at_m: 1, width_m: 1, height_m: 2, construction: wooden_door"
PANE = "id: F1, wall: W1, at_m: 5, sill_m: 1, width_m: 2, height_m: 1.5"


def test_a_window_is_read_with_its_sill_and_glazed_with_something_unknown(folder):
    building = written(folder, windows=[PANE, PANE.replace("F1", "F2").replace("5", "9")]).read()
    windows = building.building.windows
    assert windows[0] == Window("F1", "W1", 5.0, 1.0, 2.0, 1.5, "unknown_glass")
    assert "unknown_glass" in dict(building.building.constructions)


def test_a_fanlight_over_a_door_does_not_overlap_it(folder):
    fanlight = "id: F1, wall: W1, at_m: 1, sill_m: 2, width_m: 1, height_m: 0.5"
    assert written(folder, [DOOR], [fanlight]).read().building.windows[0].sill_m == 2


def test_doors_side_by_side_share_an_edge(folder):
    second = DOOR.replace("D1", "D2").replace("at_m: 1", "at_m: 2")
    assert len(written(folder, [DOOR, second]).read().building.doors) == 2


@pytest.mark.parametrize(
    ("doors", "windows", "message"),
    [
        (
            [DOOR, DOOR.replace("D1", "D2").replace("at_m: 1", "at_m: 1.5")],
            [],
            'found "1.5"; expected a place of its own: door D1 takes 1 to 2 m of wall W1',
        ),
        (
            [DOOR.replace("at_m: 1", "at_m: 4.5")],
            [PANE],
            'windows[1].at_m: found "5"; expected a place of its own: door D1 takes 4.5 to 5.5',
        ),
        (
            [],
            [PANE, PANE.replace("F1", "F2")],
            "expected a place of its own: window F1 takes 5 to 7 m of wall W1",
        ),
        ([DOOR.replace("height_m: 2", "height_m: 3.5")], [], "within its wall, which is 3 m high"),
        ([DOOR.replace("wall: W1", "wall: W2")], [], "within its wall, which is 1.2 m high"),
        ([], [PANE.replace("sill_m: 1", "sill_m: 2")], "expected a window within its wall, which"),
        ([], [PANE.replace("at_m: 5", "at_m: 19")], "expected a window within its wall, which is"),
        (
            [],
            [PANE.replace("sill_m: 1, ", "")],
            "windows[1].sill_m: found nothing; expected metres",
        ),
        (
            [],
            [PANE.replace("sill_m: 1", "sill_m: -1")],
            'sill_m: found "-1"; expected metres, at l',
        ),
        (
            [],
            [PANE.replace("W1", "W7")],
            'found "W7"; expected a wall of walls.csv; known are W1, W2',
        ),
        ([], [PANE + ", construction: unknown_glas"], "did you mean unknown_glass?"),
        ([], [PANE + ", glazing: double"], 'windows[1].glazing: found "glazing"; expected a known'),
        ([], [PANE, PANE], "line 7 has it already"),
        ([DOOR + ", kind: fire_door"], [], "expected changes: on with it"),
        ([DOOR + ", changes: on, kind: firedoor"], [], "did you mean fire_door?"),
        ([DOOR.replace(", construction: wooden_door", "")], [], "expected a construction"),
    ],
)
def test_a_bad_door_or_window_is_told(folder, doors, windows, message):
    faults = written(folder, doors, windows).faults()
    assert any(message in fault for fault in faults), faults


def test_a_wall_beyond_the_outline_is_told_but_not_one_on_it(folder):
    walls = WALLS + "W3,ground,0,0,20,0,brick_120,\nW4,ground,10,8,10,12,brick_120,\n"
    notes = written(folder, walls=walls).read().notes
    assert "Drawn beyond the outline: wall W4." in notes


def test_many_doors_in_one_wall_are_read_in_a_moment(folder):
    """2,000 doors side by side: compared all with all they would be 2 million pairs."""
    width = 20 / 2000
    doors = [
        f"id: D{n}, wall: W1, at_m: {n * width:.4f}, width_m: {width}, height_m: 2, "
        "construction: wooden_door"
        for n in range(2000)
    ]
    assert len(written(folder, doors).read().building.doors) == 2000
