"""Building models made on the spot by ifcopenshell, an outside library: an invented little house.

Two storeys of 12 m by 8 m, 3.5 m from floor to floor. Expected places are those of the boxes that
the model is built of.
"""

import math

import ifcopenshell.api.aggregate
import ifcopenshell.api.context
import ifcopenshell.api.feature
import ifcopenshell.api.geometry
import ifcopenshell.api.material
import ifcopenshell.api.project
import ifcopenshell.api.root
import ifcopenshell.api.spatial
import ifcopenshell.api.unit
import numpy as np
import pytest

from resilience.building.files.folder import read_site
from resilience.drawings.adopting.adopt import adopt
from resilience.drawings.plan import Stated
from resilience.errors import UsageError

api = ifcopenshell.api
FLOOR_TO_FLOOR_M = 3.5


class House:
    """A model that a test fills with boxes, in metres whatever the model's unit."""

    def __init__(self, prefix="MILLI"):
        self.file = api.project.create_file()
        self.unit_m = {"MILLI": 0.001, None: 1.0}[prefix]
        project = self.thing("IfcProject", "P")
        unit = api.unit.add_si_unit(self.file, unit_type="LENGTHUNIT", prefix=prefix)
        angle = api.unit.add_si_unit(self.file, unit_type="PLANEANGLEUNIT")
        api.unit.assign_unit(self.file, units=[unit, angle])
        model = api.context.add_context(self.file, context_type="Model")
        self.body = api.context.add_context(
            self.file,
            context_type="Model",
            context_identifier="Body",
            target_view="MODEL_VIEW",
            parent=model,
        )
        self.building = self.thing("IfcBuilding", "B")
        api.aggregate.assign_object(self.file, products=[self.building], relating_object=project)
        self.materials = {}

    def thing(self, kind, name):
        return api.root.create_entity(self.file, ifc_class=kind, name=name)

    def storey(self, name, floor_m):
        made = self.thing("IfcBuildingStorey", name)
        api.aggregate.assign_object(self.file, products=[made], relating_object=self.building)
        self.put(made, 0, 0, floor_m)
        return made

    def put(self, thing, x, y, z):
        matrix = np.eye(4)
        matrix[:3, 3] = (x, y, z)
        api.geometry.edit_object_placement(self.file, product=thing, matrix=matrix)

    def box(self, kind, name, corner, size, *context):
        """An upright box from its lowest corner; context is its storey, then its material."""
        storey, material = (*context, None, None)[:2]
        made, file = self.thing(kind, name), self.file
        dx, dy, dz = (length / self.unit_m for length in size)
        middle = file.createIfcAxis2Placement2D(file.createIfcCartesianPoint((dx / 2, dy / 2)))
        profile = file.createIfcRectangleProfileDef("AREA", None, middle, dx, dy)
        zero = file.createIfcAxis2Placement3D(file.createIfcCartesianPoint((0.0, 0.0, 0.0)))
        up = file.createIfcDirection((0.0, 0.0, 1.0))
        solid = file.createIfcExtrudedAreaSolid(profile, zero, up, dz)
        shape = file.createIfcShapeRepresentation(self.body, "Body", "SweptSolid", [solid])
        self.put(made, *corner)
        api.geometry.assign_representation(file, product=made, representation=shape)
        if storey is not None:
            api.spatial.assign_container(file, products=[made], relating_structure=storey)
        if material is not None:
            if material not in self.materials:
                self.materials[material] = api.material.add_material(file, name=material)
            given = self.materials[material]
            api.material.assign_material(file, products=[made], material=given)
        return made

    def hole(self, host, corner, size, filler=None):
        void = self.box("IfcOpeningElement", "void", corner, size)
        api.feature.add_feature(self.file, feature=void, element=host)
        if filler is not None:
            api.feature.add_filling(self.file, opening=void, element=filler)

    def saved(self, folder, name="house.ifc"):
        self.file.write(str(folder / name))
        return folder / name


def house(prefix="MILLI"):
    """Walls 0.2 m thick around 12 m by 8 m, outside; a partition of 0.1 m from x = 5.9 to 6."""
    made = House(prefix)
    for number, name in enumerate(("Ground", "First")):
        z = FLOOR_TO_FLOOR_M * number
        storey = made.storey(name, z)
        south = made.box("IfcWall", "South", (0, 0, z), (12, 0.2, 3), storey, "Concrete C30")
        made.box("IfcWall", "North", (0, 7.8, z), (12, 0.2, 3), storey, "Concrete C30")
        made.box("IfcWall", "East", (11.8, 0.2, z), (0.2, 7.6, 3), storey, "Unobtainium")
        made.box("IfcWall", "=cmd|x/y", (5.9, 0.2, z), (0.1, 7.6, 3), storey, "Gypsum board")
        door = made.box("IfcDoor", "Door A", (3, 0, z), (0.9, 0.2, 2.1), storey, "Steel")
        made.hole(south, (3, -0.1, z), (0.9, 0.5, 2.1), door)
        window = made.box("IfcWindow", "Win A", (8, 0, z + 0.8), (1.5, 0.2, 1.2), storey)
        made.hole(south, (8, -0.1, z + 0.8), (1.5, 0.5, 1.2), window)
        slab = made.box("IfcSlab", "Slab", (0, 0, z - 0.25), (12, 8, 0.25), storey, "Concrete C30")
        if number:
            made.hole(slab, (9, 5, z - 0.3), (2, 2, 0.4))
        else:
            made.box("IfcColumn", "C1", (9.8, 2.8, 0), (0.4, 0.4, 6.5), storey)
            made.box("IfcFurniture", "Desk", (1, 1, 0), (1, 1, 0.7), storey)
    return made


@pytest.fixture(scope="module", params=["MILLI", None], ids=["millimetres", "metres"])
def adopted(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("models")
    return adopt(house(request.param).saved(folder), folder / "site", Stated())


def test_storeys_become_levels_with_their_slabs(adopted):
    ground, first = adopted.drawn.levels
    assert (ground.id, ground.floor_m, first.id, first.floor_m) == ("Ground", 0, "First", 3.5)
    assert ground.floor_m + ground.height_m < first.floor_m
    assert ground.slab == first.slab == "concrete_200"
    assert set(first.outline) == {(0, 0), (12, 0), (12, 8), (0, 8)}


def test_walls_are_the_middle_lines_of_their_bodies_and_meet(adopted):
    """From the boxes: y = 0.1 and 7.9 for south and north, x = 11.9 east, x = 5.95 between."""
    here = [wall for wall in adopted.drawn.walls if wall.level == "First"]
    ends = {
        wall.construction: {(wall.x1_m, wall.y1_m), (wall.x2_m, wall.y2_m)}
        for wall in here
        if wall.construction != "concrete_200"
    }
    assert ends == {
        "unknown_wall": {(11.9, 0.1), (11.9, 7.9)},
        "stud_wall": {(5.95, 0.1), (5.95, 7.9)},
    }
    outer = {w.y1_m: (w.x1_m, w.x2_m) for w in here if w.construction == "concrete_200"}
    assert outer == {0.1: (0, 12), 7.9: (0, 12)}


def test_doors_and_windows_lie_where_the_model_has_them(adopted):
    walls = {wall.id: wall for wall in adopted.drawn.walls}
    assert len(adopted.drawn.doors) == len(adopted.drawn.windows) == 2
    for door in adopted.drawn.doors:
        wall = walls[door.wall]
        assert (wall.y1_m, wall.y2_m) == (0.1, 0.1)
        assert min(wall.x1_m, wall.x2_m) + door.at_m == pytest.approx(3)
        assert (door.width_m, door.height_m, door.construction) == (0.9, 2.1, "steel_door")
    for window in adopted.drawn.windows:
        assert walls[window.wall].x1_m + window.at_m == pytest.approx(8)
        assert (window.width_m, window.sill_m, window.height_m) == (1.5, 0.8, 1.2)
        assert window.construction == "unknown_glass"


def test_columns_and_slab_openings_keep_their_places(adopted):
    (column,) = adopted.drawn.pillars
    assert (column.x_m, column.y_m, column.width_m, column.depth_m) == (10, 3, 0.4, 0.4)
    assert (column.lowest, column.highest) == ("Ground", "First")  # 6.5 m high
    (opening,) = adopted.drawn.openings
    assert opening.level == "First"
    assert set(opening.outline) == {(9, 5), (11, 5), (11, 7), (9, 7)}


def test_what_is_unknown_or_left_out_is_told(adopted):
    assert ("IfcFurniture", "not a kind of thing that is read") in adopted.account.left_out
    assert any("Unobtainium" in note and "unknown_wall" in note for note in adopted.account.notes)
    names = {wall.id for wall in adopted.drawn.walls}
    assert "cmd|x-y" in names
    assert not any(name.startswith(("=", "+", "-", "@")) or "/" in name for name in names)


def test_an_adopted_model_is_a_sound_site_once_it_has_devices(adopted):
    rows = "id,kind,level,x_m,y_m\nG1,gateway,Ground,1,1\nS1,sensor,First,2,2\n"
    (adopted.folder / "layouts/first/devices.csv").write_text(rows)
    site = read_site(adopted.folder)
    assert [level.id for level in site.building.levels] == ["Ground", "First"]
    assert len(site.building.walls) == 8
    assert [opening.level for opening in site.building.openings] == ["First"]


def test_a_table_says_what_materials_are(tmp_path):
    table = tmp_path / "mine.csv"
    table.write_text("material,becomes\nUnobtainium,brick_250\nIfcDoor: Steel,wooden_door\n")
    made = adopt(house().saved(tmp_path), tmp_path / "site", Stated(table=table))
    assert "brick_250" in {wall.construction for wall in made.drawn.walls}
    assert {door.construction for door in made.drawn.doors} == {"wooden_door"}


def test_a_model_in_the_wrong_unit_asks(tmp_path):
    """Metres that the model calls millimetres: 12 mm long."""
    model = House("MILLI")
    storey = model.storey("Ground", 0)
    model.unit_m = 1.0
    for corner, size in [((0, 0, 0), (12, 0.2, 3)), ((0, 8, 0), (12, 0.2, 3))]:
        wall = model.box("IfcWall", "W", corner, size, storey)
        model.put(wall, *(0.001 * value for value in corner))
    path = model.saved(tmp_path)
    with pytest.raises(UsageError, match=r"--unit m makes it 12 by 8\.2 m"):
        adopt(path, tmp_path / "site", Stated())
    made = adopt(path, tmp_path / "site", Stated(unit="m"))
    assert [wall.x2_m for wall in made.drawn.walls] == [12, 12]


def test_an_opening_that_nothing_fills_is_a_passage(tmp_path):
    model = House()
    storey = model.storey("Ground", 0)
    wall = model.box("IfcWall", "W", (0, 0, 0), (12, 0.2, 2.2), storey)
    model.hole(wall, (2, -0.1, 0), (1.5, 0.4, 2))
    made = adopt(model.saved(tmp_path), tmp_path / "site", Stated()).drawn
    (door,) = made.doors
    assert (door.at_m, door.width_m, door.height_m, door.construction) == (2, 1.5, 2, "open")
    assert made.walls[0].height_m == 2.2  # lower than its level


def test_a_curved_wall_follows_its_axis(tmp_path):
    """A quarter circle of 5 m about the corner: its pieces lie on it, and add up to its length."""
    model = House()
    storey, file = model.storey("Ground", 0), model.file
    model.box("IfcWall", "W", (0, 0, 0), (12, 0.2, 3), storey)
    centre = file.createIfcAxis2Placement2D(file.createIfcCartesianPoint((0.0, 0.0)))
    ends = [[file.createIfcParameterValue(value)] for value in (0.0, math.pi / 2)]
    arc = file.createIfcTrimmedCurve(file.createIfcCircle(centre, 5000.0), *ends, True, "PARAMETER")
    axis = file.createIfcShapeRepresentation(model.body, "Axis", "Curve2D", [arc])
    wall = model.thing("IfcWall", "Curved")
    model.put(wall, 2, 3, 0)
    api.spatial.assign_container(file, products=[wall], relating_structure=storey)
    api.geometry.assign_representation(file, product=wall, representation=axis)
    made = adopt(model.saved(tmp_path), tmp_path / "site", Stated())
    curved = [wall for wall in made.drawn.walls if wall.id.startswith("Curved")]
    radii = [math.dist((wall.x1_m, wall.y1_m), (2, 3)) for wall in curved]
    assert radii == pytest.approx([5] * len(radii), abs=0.01)
    length = sum(math.dist((w.x1_m, w.y1_m), (w.x2_m, w.y2_m)) for w in curved)
    assert length == pytest.approx(5 * math.pi / 2, rel=0.01)


def test_a_model_that_lost_lines_says_so(tmp_path):
    path = house().saved(tmp_path)
    lines = path.read_text().splitlines(keepends=True)
    walls = [number for number, line in enumerate(lines) if "IFCWALL(" in line]
    lines[walls[-1]] = lines[walls[-1]].replace("IFCWALL(", "IFCWXLL(")
    path.write_text("".join(lines))
    made = adopt(path, tmp_path / "site", Stated())
    assert len(made.drawn.walls) == 7
    assert "damaged" in made.account.notes[0]


@pytest.mark.parametrize(
    ("damage", "told"),
    [
        (lambda text: text[: len(text) // 2], "cut off"),
        (lambda text: text.replace("IFC4", "IFC9"), "cannot be read"),
        (lambda text: text.replace("IFCBUILDINGSTOREY(", "IFCBUILDINGX("), "no storey"),
        (lambda text: text.replace("IFCSHAPEREPRESENTATION(", "IFCX("), "no wall or slab"),
    ],
    ids=["cut off", "unknown schema", "no storey", "no shapes"],
)
def test_damaged_models_are_refused(tmp_path, damage, told):
    path = house().saved(tmp_path)
    path.write_text(damage(path.read_text()))
    with pytest.raises(UsageError, match=told):
        adopt(path, tmp_path / "site", Stated())
    assert not (tmp_path / "site").exists()
