"""Drawings in millimetres or inches: 1 inch is 25.4 mm exactly (ISO 80000-3, from memory)."""

import pytest

DEVICES = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,5,5\n"


def outlined(folder, width, depth, level="id: ground"):
    corners = f"[[0, 0], [{width}, 0], [{width}, {depth}], [0, {depth}]]"
    text = "format: 1\nradio: {environment: quiet}\n"
    text += f"building:\n  outline: {corners}\n  levels: [{{{level}}}]\n"
    return folder.write(site_yaml=text, layouts__a__devices_csv=DEVICES)


def told(folder):
    return [note for note in folder.read().notes if "millimetres" in note]


def test_a_room_of_three_kilometres_is_asked_about(folder):
    """3,000 mm are 3 m; 3,000 inches are 76.2 m."""
    assert told(outlined(folder, 3000, 900)) == [
        "What is drawn reaches over 3,000 m: are these millimetres? Divided by 1000 it would be "
        "3 m; from inches, divided by 39.37, 76.2 m."
    ]


@pytest.mark.parametrize(("width", "is_told"), [(999, False), (1001, True)])
def test_a_building_of_more_than_a_kilometre_is_asked_about(folder, width, is_told):
    assert bool(told(outlined(folder, width, 20))) is is_told


@pytest.mark.parametrize(("height", "is_told"), [(49, False), (51, True)])
def test_a_level_of_more_than_fifty_metres_is_asked_about(folder, height, is_told):
    notes = told(outlined(folder, 20, 20, f"id: ground, height_m: {height}"))
    assert bool(notes) is is_told
    assert all(note.startswith("Level ground has a height of 51 m") for note in notes)


def test_devices_and_walls_in_millimetres_are_asked_about_where_no_outline_is_drawn(folder):
    text = "format: 1\nradio: {environment: quiet}\nbuilding: {levels: [{id: ground}]}\n"
    far = DEVICES.replace("5,5", "5000,5000")
    assert told(folder.write(site_yaml=text, layouts__a__devices_csv=far))
    walls = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,0,4000,0,brick_120\n"
    assert told(folder.write(walls_csv=walls, layouts__a__devices_csv=DEVICES))


def test_lengths_beyond_any_building_are_refused_with_the_same_question(folder):
    walls = "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,ground,0,0,24000,0,brick_120\n"
    (fault,) = folder.write(walls_csv=walls).faults()
    assert fault == (
        'walls.csv, line 2, column x2_m: found "24000"; expected metres, at least -10000 and at '
        "most 10000; are these millimetres (divide by 1000) or inches (divide by 39.37)?"
    )


def test_a_layer_of_two_hundred_metres_of_concrete_is_refused_with_the_same_question(folder):
    text = (folder.path / "site.yaml").read_text()
    own = "  constructions: {thick: {layers: [[concrete, 200]]}}\n"
    (fault,) = folder.write(site_yaml=text.replace("radio:", own + "radio:")).faults()
    assert "at most 5; are these millimetres" in fault


def test_a_layer_as_thick_as_allowed_is_taken(folder):
    text = (folder.path / "site.yaml").read_text()
    own = "  constructions: {thick: {layers: [[concrete, 5]]}}\n"
    read = folder.write(site_yaml=text.replace("radio:", own + "radio:")).read()
    assert read.building.construction("thick").layers == (("concrete", 5.0),)
