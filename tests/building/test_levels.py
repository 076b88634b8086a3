"""Levels by their heights and outlines; which of them overlap is plain arithmetic on squares."""

import pytest

WEST = "[[0, 0], [10, 0], [10, 10], [0, 10]]"
EAST = "[[14, 0], [24, 0], [24, 10], [14, 10]]"  # a gap of 4 m
NEXT_DOOR = "[[10, 0], [20, 0], [20, 10], [10, 10]]"  # a party wall at x = 10
PARTLY = "[[9, 9], [20, 9], [20, 20], [9, 20]]"  # shares 1 m by 1 m with the west


def site(*levels):
    rows = "\n".join(f"    - {{{level}}}" for level in levels)
    return f"format: 1\nradio: {{environment: quiet}}\nbuilding:\n  levels:\n{rows}\n"


def written(folder, *levels):
    devices = "id,kind,level,x_m,y_m\nG1,gateway,a,1,1\nS1,sensor,a,2,2\n"
    return folder.write(site_yaml=site(*levels), layouts__a__devices_csv=devices)


def test_two_buildings_with_a_gap_share_heights(folder):
    """The second building stands on the ground, not on the roof of the first."""
    read = written(
        folder,
        f"id: a, outline: {WEST}",
        f"id: a1, outline: {WEST}",
        f"id: b, outline: {EAST}, height_m: 5",
        f"id: b1, outline: {EAST}",
    ).read()
    floors = {level.id: level.floor_m for level in read.building.levels}
    # 3.0 m of level and 0.3 m of slab by default, 5 m and 0.3 m in the east
    assert floors == {"a": 0.0, "b": 0.0, "a1": 3.3, "b1": 5.3}


def test_levels_come_in_order_of_their_floors_whatever_the_order_in_the_file(folder):
    read = written(folder, "id: a", "id: b", "id: cellar, floor_m: -3.3").read()
    assert [level.id for level in read.building.levels] == ["cellar", "a", "b"]


def test_buildings_that_share_a_wall_do_not_overlap(folder):
    read = written(folder, f"id: a, outline: {WEST}", f"id: b, outline: {NEXT_DOOR}").read()
    assert [level.floor_m for level in read.building.levels] == [0.0, 0.0]


@pytest.mark.parametrize(
    ("levels", "message"),
    [
        (("id: a", "id: b, floor_m: 2"), 'found "2"; expected at least 3, the ceiling of a'),
        (("id: a", "id: b, floor_m: -1"), "a.floor_m: found nothing; expected at least 2"),
        (
            (f"id: a, outline: {WEST}", f"id: b, outline: {PARTLY}, floor_m: 1"),
            "expected at least 3, the ceiling of a, or levels whose outlines do not overlap",
        ),
        ((f"id: a, outline: {WEST}", "id: b, floor_m: 1"), "expected at least 3, the ceiling of a"),
        (
            ("id: a", "id: b, outline: [[0, 0], [9, 9], [9, 0], [0, 9]]"),
            "levels[2].outline: found a list; expected at least three corners in order",
        ),
        (("id: a", "id: b, height_m: -2"), 'found "-2"; expected metres, above 0'),
        (("id: a", "id: b, height_m: .inf"), 'found ".inf"; expected metres'),
        (("id: a", "id: b, floor_m: 20000"), "at most 10000; are these millimetres"),
    ],
)
def test_levels_that_stand_in_each_other_are_told(folder, levels, message):
    faults = written(folder, *levels).faults()
    assert any(message.replace("a.floor_m", "levels[1].floor_m") in one for one in faults), faults


@pytest.mark.parametrize("odd", ["floor_m: 20000", "floor_m: low", "outline: [[0, 0], [1, 1]]"])
def test_a_level_at_an_unknown_place_is_not_told_to_stand_in_another(folder, odd):
    (fault,) = written(folder, "id: a", f"id: b, {odd}", "id: c, floor_m: 3.3").faults()
    assert fault.startswith(f"site.yaml, line 6, key building.levels[2].{odd.split(':')[0]}: found")


def test_a_crowd_of_levels_is_refused_before_it_is_compared(folder):
    faults = written(folder, *(f"id: l{n}" for n in range(1002))).faults()
    assert 'key building.levels[1001].id: found "l1000"; expected at most 1000 levels' in "".join(
        faults
    )


def test_a_device_belongs_into_the_outline_of_its_own_level(folder):
    written(folder, f"id: a, outline: {WEST}", f"id: b, outline: {EAST}")
    folder.write(
        layouts__a__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,a,1,1\nS1,sensor,b,2,2\n"
    )
    (fault,) = folder.faults()
    assert fault == (
        "layouts/a/devices.csv, line 3: found (2, 2), outside the outline of level b; "
        "expected a place within it"
    )


def test_a_level_that_reaches_beyond_the_building_is_told(folder):
    text = site("id: a", f"id: b, outline: {EAST}").replace(
        "  levels", f"  outline: {WEST}\n  levels"
    )
    notes = (
        folder.write(
            site_yaml=text,
            layouts__a__devices_csv="id,kind,level,x_m,y_m\nG1,gateway,a,1,1\nS1,sensor,a,2,2\n",
        )
        .read()
        .notes
    )
    assert "Drawn beyond the outline: level b." in notes


def test_a_slab_can_be_missing_altogether(folder):
    read = written(folder, "id: a", "id: b, slab: open").read()
    assert read.building.construction("open").loss_db == 0
