"""DXF drawings made on the spot by ezdxf, an outside library: invented little buildings.

Expected lengths and places are the drawn numbers; units are those of the DXF reference's header
variable $INSUNITS (1 inch, 4 millimetre, 6 metre) and the inch of 25.4 mm.
"""

import math
import random

import ezdxf
import pytest
from ezdxf import units
from shapely.geometry import LineString
from shapely.ops import unary_union

from resilience.building.files.folder import read_site
from resilience.drawings import plan
from resilience.drawings.adopting.adopt import adopt
from resilience.drawings.layers import guess
from resilience.drawings.plan import Stated
from resilience.errors import InputError, UsageError

DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,2,2\n"


class Sheet:
    """A drawing that a test fills, saves and has adopted."""

    def __init__(self, folder, unit=units.MM):
        self.document = ezdxf.new(units=unit)
        self.space = self.document.modelspace()
        self.folder = folder

    def line(self, a, b, layer):
        self.space.add_line(a, b, dxfattribs={"layer": layer})
        return self

    def box(self, x0, y0, x1, y1, layer):
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        self.space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
        return self

    def saved(self, name="plan.dxf"):
        path = self.folder / name
        self.document.saveas(path)
        return path

    def adopted(self, site="site", **stated):
        return adopt(self.saved(), self.folder / site, Stated(**stated))


@pytest.fixture
def sheet(tmp_path):
    return Sheet(tmp_path)


def lengths(adoption):
    ends = [((w.x1_m, w.y1_m), (w.x2_m, w.y2_m)) for w in adoption.drawn.walls]
    return sorted(round(math.dist(a, b), 3) for a, b in ends)


def reasons(adoption):
    return dict(adoption.account.left_out.keys())


@pytest.mark.parametrize(
    ("code", "factor_m"),
    [(units.MM, 0.001), (units.CM, 0.01), (units.M, 1.0), (units.IN, 0.0254), (units.FT, 0.3048)],
)
def test_lines_have_their_drawn_length_in_every_unit(tmp_path, code, factor_m):
    """Ten metres by six, written in the drawing's unit."""
    sheet = Sheet(tmp_path, code)
    sheet.box(0, 0, 10 / factor_m, 6 / factor_m, "WALLS")
    assert lengths(sheet.adopted()) == [6, 6, 10, 10]


def test_a_drawing_in_inches_is_measured_in_inches(tmp_path):
    """Four hundred inches are 10.16 m."""
    sheet = (
        Sheet(tmp_path, units.IN).line((0, 0), (400, 0), "WALLS").line((0, 0), (0, 200), "WALLS")
    )
    assert lengths(sheet.adopted()) == [5.08, 10.16]


def test_a_drawing_without_unit_asks_and_offers_what_each_would_make_of_it(tmp_path):
    sheet = Sheet(tmp_path, 0).box(0, 0, 30000, 12000, "WALLS")
    with pytest.raises(UsageError, match=r"which is it\? --unit mm makes it 30 by 12 m"):
        sheet.adopted()
    assert not (tmp_path / "site").exists()
    assert lengths(sheet.adopted(unit="mm")) == [12, 12, 30, 30]


@pytest.mark.parametrize(("unit", "size"), [(units.M, 3000), (units.MM, 3000), (units.MM, 3e6)])
def test_a_building_of_three_kilometres_or_three_metres_asks(tmp_path, unit, size):
    sheet = Sheet(tmp_path, unit).box(0, 0, size, size / 2, "WALLS")
    with pytest.raises(UsageError, match="--unit"):
        sheet.adopted()
    assert not (tmp_path / "site").exists()


def test_a_stated_unit_is_believed_over_the_drawing(tmp_path):
    sheet = Sheet(tmp_path, units.M).box(0, 0, 3000, 1500, "WALLS")
    assert lengths(sheet.adopted("a", unit="m")) == [1500, 1500, 3000, 3000]
    assert lengths(sheet.adopted("b", unit="mm")) == [1.5, 1.5, 3, 3]
    tiny = Sheet(tmp_path, units.M).box(0, 0, 30, 15, "WALLS")
    with pytest.raises(UsageError, match=r"measures 0\.03 by 0\.015 m in mm: --unit m makes it 30"):
        tiny.adopted("c", unit="mm")


def test_a_drawing_on_a_national_grid_asks_for_its_zero(tmp_path):
    sheet = Sheet(tmp_path, units.M).box(450_000, 5_300_000, 450_020, 5_300_010, "WALLS")
    with pytest.raises(UsageError, match="--origin 450000m,5300000m"):
        sheet.adopted()
    made = sheet.adopted(origin=(450_000, 5_300_000))
    assert {(w.x1_m, w.y1_m) for w in made.drawn.walls} == {(0, 0), (20, 0), (20, 10), (0, 10)}


@pytest.mark.parametrize(
    ("origin", "unit"), [((1000, 2000), ""), ((1, 2), "m"), ((100, 200), "cm")]
)
def test_the_zero_is_a_point_in_the_unit_of_the_drawing_or_in_its_own(sheet, origin, unit):
    made = sheet.box(1000, 2000, 21000, 12000, "WALLS").adopted(origin=origin, origin_unit=unit)
    assert {(w.x1_m, w.y1_m) for w in made.drawn.walls} == {(0, 0), (20, 0), (20, 10), (0, 10)}


def double_walled(sheet):
    """A room of 20 m by 10 m outside, concrete 200 mm, with a stud wall of 100 mm and a door."""
    sheet.box(0, 0, 20000, 10000, "A-WALL-CONC")
    for y in (200, 9800):
        sheet.line((200, y), (8000, y), "A-WALL-CONC").line((8100, y), (19800, y), "A-WALL-CONC")
    for x in (200, 19800):
        sheet.line((x, 200), (x, 9800), "A-WALL-CONC")
    for x in (8000, 8100):
        sheet.line((x, 200), (x, 4000), "A-WALL-PRTN").line((x, 4900), (x, 9800), "A-WALL-PRTN")
    for y in (4000, 4900):
        sheet.line((8000, y), (8100, y), "A-WALL-PRTN")
    door = sheet.document.blocks.new("DOOR900")
    door.add_line((0, 0), (0, 900))
    door.add_arc((0, 0), 900, 0, 90)
    sheet.space.add_blockref("DOOR900", (8000, 4900), {"layer": "A-DOOR", "rotation": -90})
    return sheet


def test_double_lines_become_walls_on_the_middle_line_that_meet_in_the_corners(sheet):
    """Worked by hand: faces 0 and 200 mm, 9800 and 10000, 8000 and 8100."""
    made = double_walled(sheet).adopted()
    walls = {frozenset([(w.x1_m, w.y1_m), (w.x2_m, w.y2_m)]): w for w in made.drawn.walls}
    corners = [(0.1, 0.1), (19.9, 0.1), (19.9, 9.9), (0.1, 9.9)]
    around = [frozenset(pair) for pair in zip(corners, corners[1:] + corners[:1], strict=True)]
    middle = frozenset([(8.05, 0.1), (8.05, 9.9)])
    assert set(walls) == {*around, middle}
    assert {walls[ends].construction for ends in around} == {"concrete_200"}
    assert walls[middle].construction == "stud_wall"


def test_a_door_symbol_closes_the_gap_in_its_wall(sheet):
    """The opening is drawn from 4.0 to 4.9 m; the wall's middle line begins at 0.1 m."""
    (door,) = double_walled(sheet).adopted().drawn.doors
    assert (door.at_m, door.width_m) == (3.9, 0.9)
    assert door.construction == "wooden_door"


def test_a_gap_without_a_door_stays_open(sheet):
    sheet.line((0, 0), (4000, 0), "WALLS").line((5000, 0), (9000, 0), "WALLS")
    assert lengths(sheet.adopted()) == [4, 4]


def test_windows_lie_in_their_walls(sheet):
    """Drawn from 3.0 to 4.5 m of a wall that begins at 0."""
    for y in (0, 300):
        sheet.line((0, y), (3000, y), "WALL-BRICK").line((4500, y), (9000, y), "WALL-BRICK")
    for y in (0, 150, 300):
        sheet.line((3000, y), (4500, y), "A-GLAZ")
    made = sheet.adopted()
    (window,) = made.drawn.windows
    assert lengths(made) == [9]
    assert (window.at_m, window.width_m, window.construction) == (3, 1.5, "unknown_glass")


def test_a_line_that_could_be_a_face_of_two_walls_is_kept_and_told(sheet):
    for y in (0, 200, 400):
        sheet.line((0, y), (8000, y), "WALLS")
    made = sheet.adopted()
    assert lengths(made) == [8, 8, 8]
    assert any("more than one wall" in note for note in made.account.notes)


def test_single_lines_stay_walls_where_they_are_drawn(sheet):
    sheet.box(0, 0, 9000, 6000, "WALLS").line((4000, 0), (4000, 6000), "WALLS")
    assert lengths(sheet.adopted()) == [6, 6, 6, 9, 9]


def test_a_line_drawn_twice_is_one_wall(sheet):
    sheet.box(0, 0, 9000, 6000, "WALLS").box(0, 0, 9000, 6000, "WALLS")
    sheet.line((1000, 0), (7000, 0), "WALLS")
    assert lengths(sheet.adopted()) == [6, 6, 9, 9]


def test_nested_scaled_turned_and_mirrored_blocks_are_unfolded(sheet):
    """A metre in a block of feet-like scale 2, in a block turned by 90 degrees: 2 m upwards."""
    inner = sheet.document.blocks.new("INNER")
    inner.add_line((0, 0), (1000, 0))  # on layer 0: takes the layer of its reference
    outer = sheet.document.blocks.new("OUTER")
    outer.add_blockref("INNER", (0, 0), {"xscale": 2, "yscale": 2})
    sheet.space.add_blockref("OUTER", (5000, 0), {"layer": "WALLS", "rotation": 90})
    sheet.space.add_blockref("OUTER", (0, 5000), {"layer": "WALLS", "xscale": -3})
    ends = {frozenset([(w.x1_m, w.y1_m), (w.x2_m, w.y2_m)]) for w in sheet.adopted().drawn.walls}
    assert ends == {frozenset([(5, 0), (5, 2)]), frozenset([(0, 5), (-6, 5)])}


def test_a_block_in_itself_or_a_million_copies_end_with_a_word(sheet, monkeypatch):
    room = sheet.document.blocks.new("ROOM")
    room.add_line((0, 0), (5000, 0), {"layer": "WALLS"})
    room.add_blockref("ROOM", (100, 0))
    sheet.space.add_blockref("ROOM", (0, 0))
    assert reasons(sheet.adopted("a"))["INSERT"].startswith("blocks in blocks more than 20 deep")
    many = {"row_count": 1000, "column_count": 1000, "row_spacing": 1, "column_spacing": 1}
    sheet.space.add_blockref("ROOM", (0, 0), many)
    with pytest.raises(UsageError, match="more than 200000 things"):
        sheet.adopted("b")


def test_arcs_become_chords_within_their_radius(sheet):
    """A quarter circle of 10 m: its chords are inside, and as long as the arc within 0.5 %."""
    sheet.space.add_arc((0, 0), 10_000, 0, 90, dxfattribs={"layer": "WALLS"})
    made = sheet.adopted()
    lines = [LineString([(w.x1_m, w.y1_m), (w.x2_m, w.y2_m)]) for w in made.drawn.walls]
    assert sum(line.length for line in lines) == pytest.approx(math.pi * 5, rel=0.005)
    assert all(9.9 < line.distance(LineString([(0, 0), (0, 1e-6)])) < 10.001 for line in lines)


def test_two_concentric_arcs_are_one_curved_wall(sheet):
    for radius in (10_000, 10_300):
        sheet.space.add_arc((0, 0), radius, 0, 90, dxfattribs={"layer": "WALL-BRICK"})
    made = sheet.adopted()
    pieces = [LineString([(w.x1_m, w.y1_m), (w.x2_m, w.y2_m)]) for w in made.drawn.walls]
    assert unary_union([piece.buffer(0.002) for piece in pieces]).geom_type == "Polygon"  # no gap
    radii = [math.hypot(w.x1_m, w.y1_m) for w in made.drawn.walls]
    assert radii == pytest.approx([10.15] * len(radii), abs=0.02)
    assert sum(lengths(made)) == pytest.approx(10.15 * math.pi / 2, rel=0.01)


def test_pillars_shafts_and_outlines_keep_their_places(sheet):
    sheet.box(0, 0, 20000, 10000, "OUTLINE").box(10000, 7000, 12000, 9000, "LIFT-SHAFT")
    sheet.box(5000, 5000, 5400, 5600, "COLUMNS")
    sheet.space.add_circle((15000, 5000), 250, dxfattribs={"layer": "COLUMNS"})
    for a, b in [((0, 0), (0, 9)), ((0, 9), (9, 9)), ((9, 9), (9, 0)), ((9, 0), (0, 0))]:
        shift = [(2000 + 100 * x, 2000 + 100 * y) for x, y in (a, b)]
        sheet.line(*shift, "SHAFT 2")  # four loose lines that close
    made = sheet.adopted().drawn
    assert set(made.outline) == {(0, 0), (20, 0), (20, 10), (0, 10)}
    shafts = sorted(sorted(shaft.outline) for shaft in made.shafts)
    assert shafts == [
        [(2, 2), (2, 2.9), (2.9, 2), (2.9, 2.9)],
        [(10, 7), (10, 9), (12, 7), (12, 9)],
    ]
    pillars = sorted((p.x_m, p.y_m, p.width_m, p.depth_m) for p in made.pillars)
    assert pillars == [(5.2, 5.3, 0.4, 0.6), (15, 5, 0.5, 0.5)]


def test_what_is_not_understood_is_told_and_proposed(sheet):
    sheet.box(0, 0, 9000, 6000, "WALLS").line((0, 0), (500, 500), "XYZZY")
    sheet.space.add_text("office", dxfattribs={"layer": "WALLS"})
    made = sheet.adopted()
    assert reasons(made)["layer XYZZY"] == "not understood"
    assert "TEXT" in reasons(made)
    proposed = (sheet.folder / "site/drawings/ground-layers.csv").read_text(encoding="utf-8")
    assert proposed.splitlines() == [
        "layer,becomes,construction,note,things,gave,lost",
        "WALLS,unknown_wall,,guessed from wall,1,4 walls,",
        "XYZZY,ignore,,not understood,1,,1 not understood",
    ]


def test_each_layer_tells_what_it_gave_and_what_it_lost(sheet):
    """A wall of 0.3 m round 9 m by 6 m, in which a pipe is drawn 0.1 m off its middle; a door that
    is in no wall; an outline and another inside it."""
    sheet.box(0, 0, 9000, 6000, "A-WALL").box(300, 300, 8700, 5700, "A-WALL")
    sheet.line((2000, 250), (3000, 250), "A-PRTN")
    sheet.line((4000, 3000), (5000, 3000), "A-DOOR")
    sheet.box(0, 0, 9000, 6000, "OUTLINE").box(1000, 1000, 2000, 2000, "OUTLINE")
    sheet.line((0, 0), (500, 500), "XYZZY")
    layers = {one["layer"]: one for one in sheet.adopted().to_json()["layers"]}
    assert layers["A-WALL"] == {"layer": "A-WALL", "things": 2, "gave": {"wall": 4}, "lost": {}}
    assert layers["A-PRTN"]["gave"] == {}
    assert layers["A-PRTN"]["lost"] == {"a line inside a wall": 1}
    assert layers["A-DOOR"]["lost"] == {"in no wall, as at 4.00, 3.00": 1}
    assert layers["OUTLINE"]["gave"] == {"outline": 1}
    assert layers["XYZZY"]["lost"] == {"not understood": 1}


@pytest.mark.parametrize(
    ("name", "becomes"),
    [
        *[("A-WALL", "unknown_wall"), ("A-WALL-CONC", "concrete"), ("S-COLS", "pillars")],
        *[("A-DOOR", "doors"), ("A-DOOR-IDEN", "ignore"), ("A-GLAZ", "windows")],
        *[("Innenwall", "ignore"), ("WallHatch", "ignore"), ("Brick 12", "brick")],
        *[("COLOUR", "ignore"), ("Lift", "shaft"), ("drywall partitions", "stud_wall")],
        *[("", "ignore"), ("0", "ignore"), ("\ud800", "ignore")],
    ],
)
def test_names_of_layers_are_understood_by_their_words(name, becomes):
    """Codes such as A-WALL-CONC: the discipline, major and minor groups of layer standards,
    common practice; what is in no such word is not guessed."""
    assert guess(name).becomes == becomes


def test_a_table_says_what_layers_become(sheet, tmp_path):
    sheet.box(0, 0, 9000, 6000, "WALLS").line((0, 3000), (9000, 3000), "XYZZY")
    sheet.box(2000, 1000, 3000, 2000, "HOLE")
    table = tmp_path / "mine.csv"
    table.write_text("layer,becomes,construction\nxyzzy,brick_250,\nHOLE,shaft,open\n")
    made = sheet.adopted(table=table)
    assert [(wall.construction, wall.x2_m) for wall in made.drawn.walls] == [("brick_250", 9)]
    assert made.drawn.shafts[0].lining is None
    assert reasons(made)["layer WALLS"] == "not in the table"


def test_the_proposed_table_can_be_handed_in_as_it_is(sheet):
    first = double_walled(sheet).adopted("a")
    table = sheet.folder / "a/drawings/ground-layers.csv"
    again = sheet.adopted("b", table=table)
    assert again.drawn == first.drawn


def test_a_faulty_table_is_refused_with_every_mistake(sheet, tmp_path):
    sheet.box(0, 0, 9000, 6000, "WALLS")
    table = tmp_path / "mine.csv"
    table.write_text("layer,becomes\nWALLS,brik_120\nWALLS,ignore\n")
    with pytest.raises(InputError) as caught:
        sheet.adopted(table=table)
    told = str(caught.value)
    assert "line 2, column becomes" in told
    assert "did you mean brick_120?" in told
    assert "each name once" in told


def test_a_drawing_with_no_known_layer_says_which_it_has(sheet):
    sheet.box(0, 0, 9000, 6000, "XYZZY")
    with pytest.raises(UsageError, match=r"it has XYZZY.*--table"):
        sheet.adopted()


def test_a_drawing_with_no_known_layer_leaves_its_table_to_be_corrected(sheet):
    sheet.box(0, 0, 9000, 6000, "XYZZY").box(0, 0, 900, 600, "Möbel")
    with pytest.raises(UsageError):
        sheet.adopted(level="upper")
    (table,) = [path for path in (sheet.folder / "site").rglob("*") if path.is_file()]
    assert table == sheet.folder / "site/drawings/upper-layers.csv"
    text = table.read_text(encoding="utf-8")
    assert text.splitlines()[1:] == [
        'Möbel,ignore,,guessed from möbel,1,,"1 to be ignored, guessed from möbel"',
        "XYZZY,ignore,,not understood,1,,1 not understood",
    ]
    table.write_text(text.replace("XYZZY,ignore", "XYZZY,brick_250"), encoding="utf-8")
    made = sheet.adopted(level="upper", table=table)
    assert made.is_new
    assert {wall.construction for wall in made.drawn.walls} == {"brick_250"}


def test_no_known_layer_leaves_what_a_site_holds_as_it_is(sheet):
    sheet.box(0, 0, 9000, 6000, "WALLS").adopted()
    page = (sheet.folder / "site/site.yaml").read_bytes()
    other = Sheet(sheet.folder).box(0, 0, 9000, 6000, "XYZZY")
    with pytest.raises(UsageError, match=r"drawings/upper-layers\.csv"):
        other.adopted(level="upper")
    assert (sheet.folder / "site/site.yaml").read_bytes() == page
    assert (sheet.folder / "site/drawings/ground-layers.csv").is_file()


def test_a_drawing_without_layers_is_taken_for_walls(sheet):
    sheet.box(0, 0, 9000, 6000, "0")
    assert {wall.construction for wall in sheet.adopted().drawn.walls} == {"unknown_wall"}


def test_layers_that_are_switched_off_are_left_out(sheet):
    sheet.document.layers.add("WALL-OLD").off()
    sheet.box(0, 0, 9000, 6000, "WALLS").box(0, 0, 7000, 7000, "WALL-OLD")
    made = sheet.adopted()
    assert lengths(made) == [6, 6, 9, 9]
    assert reasons(made)["layer WALL-OLD"] == "switched off in the drawing"


HOSTILE = ["=HYPERLINK(1)", "WALL ../../etc", "WALL \u202eabc", "+1+WALL", "@wall", "'=wall"]


def test_hostile_names_become_text(sheet):
    """The library that draws refuses such names, so they are put into the saved text."""
    for number in range(len(HOSTILE)):
        sheet.line((0, 3000 * number), (9000, 3000 * number), f"LAYER_{number}_")
    text = sheet.saved().read_text(encoding="utf-8")
    for number, name in enumerate(HOSTILE):
        text = text.replace(f"LAYER_{number}_", name)
    path = sheet.folder / "plan.dxf"
    path.write_text(text, encoding="utf-8")
    made = adopt(path, sheet.folder / "site", Stated())
    table = sheet.folder / "site/drawings/ground-layers.csv"
    lines = table.read_text(encoding="utf-8").splitlines()
    assert len(lines) == len(HOSTILE) + 1
    for line in lines:
        assert not line.lstrip('"').startswith(("=", "+", "-", "@"))
        assert line.isprintable()
    again = adopt(path, sheet.folder / "again", Stated(table=table))
    assert again.drawn == made.drawn  # the safe names still find their layers
    assert sorted(path.name for path in sheet.folder.iterdir()) == ["again", "plan.dxf", "site"]


@pytest.mark.parametrize("level", ["../up", "a/b", "a\nb", "", "~", ".."])
def test_a_level_that_cannot_be_a_name_is_refused(level):
    with pytest.raises(UsageError, match="cannot be the name"):
        Stated(level=level)


def test_an_adopted_site_is_sound_once_it_has_devices(sheet):
    double_walled(sheet).adopted()
    with pytest.raises(InputError) as caught:
        read_site(sheet.folder / "site")
    found = [fault.found for fault in caught.value.faults]
    assert found == ["no sensor", "no gateway"]  # nothing else is left to do
    (sheet.folder / "site/layouts/first/devices.csv").write_text(DEVICES)
    site = read_site(sheet.folder / "site")
    assert len(site.building.walls) == 5
    assert [door.width_m for door in site.building.doors] == pytest.approx([0.9])
    assert site.layouts[0].name == "first"


def test_a_damaged_drawing_is_repaired_and_that_is_told(sheet):
    """A point without its y coordinate, group code 20, is against the DXF reference."""
    text = double_walled(sheet).saved().read_text()
    before, mark, after = text.rpartition("AcDbLine\n")
    x, y = after.index(" 20\n"), after.index(" 30\n")
    (sheet.folder / "broken.dxf").write_text(before + mark + after[:x] + after[y:])
    made = adopt(sheet.folder / "broken.dxf", sheet.folder / "site", Stated())
    assert any("damaged and was repaired" in note for note in made.account.notes)
    assert len(made.drawn.walls) >= 4


def test_a_drawing_that_was_cut_off_is_refused(sheet):
    whole = double_walled(sheet).saved().read_bytes()
    for share in (0.3, 0.6, 0.99):
        cut = sheet.folder / "cut.dxf"
        cut.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(UsageError, match="cut off"):
            adopt(cut, sheet.folder / "site", Stated())
    assert not (sheet.folder / "site").exists()


def garbage(size, seed=1):
    return random.Random(seed).randbytes(size)


@pytest.mark.parametrize(
    "content",
    [b"", garbage(5000), b"AC1032" + garbage(500), b"  0\nSECTION\n" + garbage(3000) + b"EOF\n"],
    ids=["empty", "garbage", "another format", "garbage in a frame"],
)
@pytest.mark.parametrize("name", ["x.dxf", "x.ifc", "x.geojson", "x.csv", "x.png"])
def test_no_garbage_is_adopted(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    with pytest.raises((UsageError, InputError)):
        adopt(tmp_path / name, tmp_path / "site", Stated(), ())
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_bytes_turned_over_never_end_in_a_traceback(sheet):
    whole = double_walled(sheet).saved().read_bytes()
    luck = random.Random(7)
    for trial in range(12):
        broken = bytearray(whole)
        for _ in range(40):
            broken[luck.randrange(200, len(broken) - 200)] = luck.randrange(32, 127)
        path = sheet.folder / f"broken-{trial}.dxf"
        path.write_bytes(broken)
        try:
            adopt(path, sheet.folder / f"site-{trial}", Stated(unit="mm"))
        except UsageError:
            assert not (sheet.folder / f"site-{trial}").exists()


def test_a_huge_file_is_refused_unread(sheet, monkeypatch):
    path = sheet.box(0, 0, 9000, 6000, "WALLS").saved()
    monkeypatch.setattr(plan, "MOST_BYTES", 1000)
    with pytest.raises(UsageError, match="at most"):
        adopt(path, sheet.folder / "site", Stated())


def test_too_many_things_are_refused(sheet, monkeypatch):
    path = sheet.box(0, 0, 9000, 6000, "WALLS").box(0, 0, 9000, 5000, "WALLS").saved()
    monkeypatch.setattr(plan, "MOST_ENTITIES", 1)
    with pytest.raises(UsageError, match="more than 1 things"):
        adopt(path, sheet.folder / "site", Stated())


def test_a_missing_library_names_the_command_that_brings_it(sheet, monkeypatch):
    path = sheet.box(0, 0, 9000, 6000, "WALLS").saved()

    def missing(name):
        raise ModuleNotFoundError(name)

    monkeypatch.setattr(plan, "import_module", missing)
    with pytest.raises(UsageError, match=r"pip install 'resilience\[plan\]'"):
        adopt(path, sheet.folder / "site", Stated())


@pytest.mark.parametrize(
    ("layer", "thick_mm", "construction"),
    [
        ("BRICK", 240, "brick_250"),
        ("BRICK", 115, "brick_120"),
        ("CONC", 300, "concrete_300"),
        ("CONC", 140, "concrete_150"),
    ],
)
def test_a_wall_drawn_as_two_lines_is_as_thick_as_they_are_apart(
    sheet, layer, thick_mm, construction
):
    sheet.box(0, 0, 9000, 6000, layer)
    sheet.box(thick_mm, thick_mm, 9000 - thick_mm, 6000 - thick_mm, layer)
    assert {wall.construction for wall in sheet.adopted().drawn.walls} == {construction}


def test_a_shaft_drawn_with_both_faces_is_one_on_its_middle_line(sheet):
    """Faces 2.4 m and 2 m wide, so the lining is 0.2 m thick and its middle line 2.2 m wide."""
    sheet.box(0, 0, 20000, 10000, "WALLS")
    sheet.box(5000, 5000, 7400, 7400, "LIFT").box(5200, 5200, 7200, 7200, "LIFT")
    sheet.box(5300, 5300, 7100, 7100, "LIFT")  # a car, close to the lining
    made = sheet.adopted()
    (shaft,) = made.drawn.shafts
    assert sorted(shaft.outline) == [(5.1, 5.1), (5.1, 7.3), (7.3, 5.1), (7.3, 7.3)]
    told = "1 shaft is drawn as one outline inside another, at most 0.6 m apart; the middle line"
    assert any(told in note for note in made.account.notes)


def test_shafts_farther_apart_than_a_wall_is_thick_stay_two(sheet):
    sheet.box(0, 0, 20000, 10000, "WALLS")
    sheet.box(5000, 1000, 9000, 5000, "SHAFT").box(5300, 1300, 8000, 4000, "SHAFT")
    assert len(sheet.adopted().drawn.shafts) == 2


def test_a_pillar_drawn_with_both_faces_is_one_on_its_middle_line(sheet):
    sheet.box(0, 0, 20000, 10000, "WALLS")
    sheet.box(5000, 5000, 5800, 5600, "COLUMNS").box(5100, 5100, 5700, 5500, "COLUMNS")
    sheet.box(9000, 5000, 9800, 5600, "COLUMNS")
    made = sheet.adopted()
    pillars = sorted((p.x_m, p.y_m, p.width_m, p.depth_m) for p in made.drawn.pillars)
    assert pillars == [(5.4, 5.3, 0.7, 0.5), (9.4, 5.3, 0.8, 0.6)]
    assert any("1 pillar is drawn as one outline inside" in note for note in made.account.notes)


def test_the_ring_of_the_outer_walls_is_the_outline_where_none_is_drawn(sheet):
    """An L of 12 m by 8 m without its upper right quarter, with a wall across."""
    corners = [(0, 0), (12000, 0), (12000, 4000), (6000, 4000), (6000, 8000), (0, 8000)]
    sheet.space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "WALLS"})
    sheet.line((0, 4000), (6000, 4000), "WALLS").line((2000, 0), (2000, 3000), "WALLS")
    made = sheet.adopted()
    assert set(made.drawn.outline) == {(x / 1000, y / 1000) for x, y in corners}
    assert "-0" not in (sheet.folder / "site/site.yaml").read_text().partition("outline")[2][:60]
    assert any("No outline is drawn" in note for note in made.account.notes)


def test_walls_that_close_no_ring_around_everything_give_no_outline(sheet):
    sheet.box(0, 0, 6000, 4000, "WALLS").line((6000, 0), (12000, 0), "WALLS")
    made = sheet.adopted()
    assert made.drawn.outline == ()
    assert not any("outline" in note for note in made.account.notes)


def test_walls_with_two_faces_and_no_single_line_say_nothing_of_single_lines(sheet):
    sheet.box(0, 0, 12000, 8000, "WALLS").box(200, 200, 11800, 7800, "WALLS")
    notes = sheet.adopted().account.notes
    assert any(note.endswith("each became one wall on the middle line.") for note in notes)
    assert not any("0 lines" in note for note in notes)


def test_a_large_size_is_written_out(sheet):
    sheet.box(0, 0, 36000, 12000, "WALLS")
    with pytest.raises(UsageError, match="measures 36,000 by 12,000 m in m: --unit mm makes it"):
        sheet.adopted(unit="m")
