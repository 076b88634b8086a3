"""GeoJSON (RFC 7946 for its form; metres in the place of degrees) and tables of walls."""

import json

import pytest

from resilience.building.files.folder import read_site
from resilience.drawings.adopting.adopt import adopt
from resilience.drawings.plan import Stated
from resilience.errors import InputError, UsageError


def feature(kind, coordinates, **said):
    shape = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "geometry": shape, "properties": said}


SQUARE = [[0, 0], [20, 0], [20, 10], [0, 10], [0, 0]]
ROOM = [
    feature("LineString", SQUARE, id="outer", construction="brick_250"),
    feature("LineString", [[8, 0], [8, 10]], id="=1+1"),
    feature("LineString", [[8, 4], [8, 5]], what="door", id="D1", construction="steel_door"),
    feature("LineString", [[2, 0], [3.5, 0]], what="window"),
    feature("Polygon", [SQUARE], what="outline"),
    feature("Polygon", [[[9, 1], [11, 1], [11, 3], [9, 1]]], what="shaft", construction="open"),
    feature("Polygon", [[[3, 3], [3.4, 3], [3.4, 3.4], [3, 3.4], [3, 3]]], what="pillar"),
    feature("Point", [1, 1], what="tree"),
]


@pytest.fixture
def written(tmp_path):
    def written_as(features, name="plan.geojson"):
        whole = {"type": "FeatureCollection", "features": features}
        (tmp_path / name).write_text(json.dumps(whole))
        return tmp_path / name

    return written_as


def test_lines_and_areas_become_what_they_say(tmp_path, written):
    made = adopt(written(ROOM), tmp_path / "site", Stated())
    drawn = made.drawn
    assert [wall.id for wall in drawn.walls] == ["outer", "outer-2", "outer-3", "outer-4", "1+1"]
    assert [wall.construction for wall in drawn.walls] == ["brick_250"] * 4 + ["unknown_wall"]
    (door,), (window,), (shaft,), (pillar,) = (
        *(drawn.doors, drawn.windows),
        *(drawn.shafts, drawn.pillars),
    )
    assert (door.wall, door.at_m, door.width_m) == ("1+1", 4, 1)
    assert (window.wall, window.at_m, window.width_m) == ("outer", 2, 1.5)
    assert (shaft.lining, len(shaft.outline)) == (None, 3)
    assert (pillar.x_m, pillar.y_m) == (3.2, 3.2)
    assert set(drawn.outline) == {(0, 0), (20, 0), (20, 10), (0, 10)}
    assert [what for what, _ in made.account.left_out] == ["Point tree"]


def test_levels_are_stacked_in_the_order_of_the_file(tmp_path, written):
    lines = [
        feature("LineString", [[0, 0], [9, 0]], level=level) for level in ("cellar", "ground", "up")
    ]
    made = adopt(written(lines), tmp_path / "site", Stated(floor_m=-3, height_m=2.7))
    assert [(level.id, level.floor_m) for level in made.drawn.levels] == [
        ("cellar", -3),
        ("ground", 0),
        ("up", 3),
    ]


def test_degrees_are_refused(tmp_path, written):
    lines = [feature("LineString", [[8.1, 47.1], [8.1005, 47.1002]])]
    with pytest.raises(UsageError, match="seems to hold degrees"):
        adopt(written(lines), tmp_path / "site", Stated())


@pytest.mark.parametrize(
    "coordinates",
    [None, "x", [], [[0, 0]], [[0, 0], [1e300, 0]], [[0, 0], ["a", 1]], [[0], [1]], [[[[0]]]]],
)
def test_coordinates_that_are_no_places_are_left_out(tmp_path, written, coordinates):
    good = feature("LineString", [[0, 0], [9, 0]])
    made = adopt(written([good, feature("LineString", coordinates)]), tmp_path / "s", Stated())
    assert len(made.drawn.walls) == 1
    assert made.account.left_out


@pytest.mark.parametrize(
    "text",
    [
        *("", "[]", "{}", "nonsense", '{"type": "FeatureCollection", "features": 7}'),
        "[" * 100_000,
        '{"type": "FeatureCollection", "features": [{"geometry": null}, 7, null]}',
    ],
    ids=["empty", "list", "object", "nonsense", "no list", "deep", "no geometry"],
)
def test_what_is_no_geojson_is_refused(tmp_path, text):
    (tmp_path / "plan.json").write_text(text)
    with pytest.raises(UsageError):
        adopt(tmp_path / "plan.json", tmp_path / "site", Stated())
    assert not (tmp_path / "site").exists()


def test_a_table_of_walls_is_adopted_with_decimal_commas_too(tmp_path):
    path = tmp_path / "walls.csv"
    path.write_text("id;x1_m;y1_m;x2_m;y2_m;construction\nW1;0;0;12,5;0;brick_120\n;0;0;0;6;mud\n")
    made = adopt(path, tmp_path / "site", Stated(level="hall"))
    first, second = made.drawn.walls
    assert (first.id, first.x2_m, first.construction) == ("W1", 12.5, "brick_120")
    assert second.construction == "unknown_wall"
    assert any("mud" in note for note in made.account.notes)
    assert first.level == second.level == "hall"


def test_a_faulty_table_of_walls_tells_every_mistake(tmp_path):
    path = tmp_path / "walls.csv"
    path.write_text("x1_m,y1_m,x2_m,y2_m\n0,0,a,0\n0,nan,1,1\n")
    with pytest.raises(InputError) as caught:
        adopt(path, tmp_path / "site", Stated())
    assert len(caught.value.faults) == 2
    assert not (tmp_path / "site").exists()


def test_a_site_adopted_from_geojson_reads_back(tmp_path, written):
    adopt(written(ROOM), tmp_path / "site", Stated())
    rows = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,2,2\n"
    (tmp_path / "site/layouts/first/devices.csv").write_text(rows)
    building = read_site(tmp_path / "site").building
    assert len(building.walls) == 5
    assert [door.id for door in building.doors] == ["D1"]
    assert [shaft.lining for shaft in building.shafts] == [None]
