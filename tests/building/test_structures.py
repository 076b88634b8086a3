import pytest

from resilience.building.structure import Level, Pillar, Wall

DRAWN = """\
format: 1
radio: {environment: quiet}
building:
  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]
  levels:
    - {id: ground, slab: concrete_300}
    - {id: first, height_m: 2.5}
    - {id: upper, floor_m: 7}
  doors: [{id: D1, wall: W1, at_m: 1, width_m: 0.9, height_m: 2, construction: steel_door}]
  pillars:
    - {id: P1, level: first, x_m: 3, y_m: 3, width_m: 0.4, depth_m: 0.5, construction: lead}
  shafts:
    - {id: lift, lowest: ground, highest: upper, outline: [[9, 4], [11, 4], [11, 6]], lining: lead}
    - {id: stair, lowest: ground, highest: first, outline: [[1, 4], [2, 4], [2, 6]], lining: open}
  constructions:
    lead: {loss_db: 60, spread_db: 1}
    clay: {layers: [[brick, 0.1], [air, 0.05]]}
"""
WALLS = """\
id,level,x1_m,y1_m,x2_m,y2_m,construction,height_m
W2,upper,0,5,20,5,clay,1.2
W1,ground,0,5,20,5,brick_120,
"""


@pytest.fixture
def drawn(folder):
    return folder.write(site_yaml=DRAWN, walls_csv=WALLS)


def test_everything_drawn_is_read(drawn):
    building = drawn.read().building
    # levels stack: 3.0 m high and a 0.3 m slab, unless the file says otherwise
    assert building.levels == (
        Level("ground", 0.0, 3.0, "concrete_300"),
        Level("first", 3.3, 2.5, "unknown_slab"),
        Level("upper", 7.0, 3.0, "unknown_slab"),
    )
    assert building.walls == (
        Wall("W1", "ground", 0, 5, 20, 5, "brick_120", None),
        Wall("W2", "upper", 0, 5, 20, 5, "clay", 1.2),
    )
    assert building.pillars == (Pillar("P1", "first", "first", 3, 3, 0.4, 0.5, "lead"),)
    assert [(shaft.id, shaft.lining) for shaft in building.shafts] == [
        ("lift", "lead"),
        ("stair", None),
    ]
    assert building.doors[0].construction == "steel_door"
    assert [name for name, _ in building.constructions] == [
        *("brick_120", "clay", "concrete_300", "lead", "steel_door", "unknown_slab")
    ]
    assert building.construction("clay").layers == (("brick", 0.1), ("air", 0.05))


def test_a_device_inside_a_lined_shaft_or_a_pillar_is_told(drawn):
    drawn.write(
        layouts__a__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,first,10.5,5\n"
        "S1,sensor,first,3,3\nS2,sensor,ground,3,3\nS3,sensor,ground,1.8,5\n"
    )
    notes = drawn.read().notes
    assert "layouts/a/devices.csv: inside something solid: S1 in P1 (line 3)." in notes
    assert "layouts/a/devices.csv: inside a shaft: G1 in lift (line 2)." in notes


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("slab: concrete_300", "slab: concret_300", "did you mean concrete_300?"),
        ("{id: upper, floor_m: 7}", "{id: First}", "line 7 has it already"),
        ("floor_m: 7", "floor_m: 5", 'found "5"; expected at least 5.8, the ceiling of first'),
        ("height_m: 2.5", "height_m: 0", 'levels[2].height_m: found "0"; expected metres, above 0'),
        ("wall: W1", "wall: W9", 'doors[1].wall: found "W9"; expected a wall of walls.csv'),
        ("at_m: 1", "at_m: 19.5", "expected a door within its wall, which is 20 m long"),
        ("level: first", "level: cellar", 'pillars[1].level: found "cellar"; expected a level'),
        ("level: first", "level: first, lowest: first", "expected either level, or lowest and"),
        ("lowest: ground, highest: upper", "lowest: upper, highest: first", "or a level above it"),
        ("lining: open", "lining: opn", 'lining: found "opn"; expected a construction or open'),
        (", lining: open", "", "lining: found nothing; expected a construction or open"),
        ("[2, 6]]", "[2, a]]", 'found "a"; expected metres'),
        ("[2, 6]]", "[2]]", "found a list; expected a corner [x, y] in metres"),
        (
            "[[0, 0], [20, 0], [20, 10], [0, 10]]",
            "[[0, 0], [9, 9], [9, 0], [0, 9]]",
            "do not cross",
        ),
        ("[[0, 0], [20, 0], [20, 10], [0, 10]]", "[[0, 0], [9, 9]]", "at least three corners"),
        ("[brick, 0.1]", "[brik, 0.1]", 'found "brik"; expected a material; did you mean brick?'),
        ("[brick, 0.1]", "[brick, 100]", 'found "100"; expected metres, above 0 and at most 5'),
        ("[brick, 0.1]", "brick", 'found "brick"; expected a layer [material, thickness_m]'),
        (
            "loss_db: 60",
            "loss_db: -60",
            'loss_db: found "-60"; expected a number in dB, at least 0',
        ),
        ("loss_db: 60", "loss_db: 60, layers: [[air, 1]]", "expected either layers or loss_db"),
        ("loss_db: 60, ", "", "constructions.lead: found a mapping; expected either layers"),
        ("  levels:", "  level:", "did you mean levels?"),
    ],
)
def test_a_bad_drawing_is_told(drawn, old, new, message):
    assert old in DRAWN
    faults = drawn.write(site_yaml=DRAWN.replace(old, new)).faults()
    assert any(message in fault for fault in faults), faults


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("W1,ground,0,5,20,5,brick_12,", "did you mean brick_120?"),
        ("W1,ground,0,5,0,5,brick_120,", "expected a wall whose two ends differ"),
        ("w2,ground,0,5,1,5,brick_120,", "line 2 has it already"),
        ("W1,ground,0,5,1,5,brick_120,0", "line 3, column height_m"),
    ],
)
def test_a_bad_wall_is_told(drawn, row, message):
    faults = drawn.write(walls_csv="\n".join([*WALLS.splitlines()[:2], row, ""])).faults()
    assert any("walls.csv, line 3" in fault and message in fault for fault in faults), faults


def test_walls_without_a_building_are_told_once(linked_folder):
    (fault,) = linked_folder.write(walls_csv=WALLS).faults()
    assert fault.startswith("walls.csv, line 2: found a wall; expected section building")
