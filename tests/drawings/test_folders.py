"""A second drawing adds a level to a site; a folder is changed as a whole or not at all."""

import os

import ezdxf
import pytest
from ezdxf import units

from resilience.building.files.folder import read_site
from resilience.building.text import drafts
from resilience.drawings.adopting.adopt import adopt, remove_level
from resilience.drawings.plan import Stated
from resilience.errors import InputError, UsageError


@pytest.fixture
def floor(tmp_path):
    """One drawing: four walls, 12 m by 8 m, and a lift shaft of 2 m by 2 m."""
    document = ezdxf.new(units=units.MM)
    for (x0, y0, x1, y1), layer in [
        ((0, 0, 12000, 8000), "WALLS"),
        ((5000, 5000, 7000, 7000), "LIFT"),
    ]:
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        document.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    document.saveas(tmp_path / "floor.dxf")
    return tmp_path / "floor.dxf"


def everything_in(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def with_devices(site):
    rows = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,2,2\n"
    (site / "layouts/first/devices.csv").write_text(rows)
    return site


def test_another_drawing_adds_a_level_on_top(tmp_path, floor):
    """The ground floor is 3 m high with 0.3 m of slab above it (the documented defaults)."""
    site = tmp_path / "site"
    adopt(floor, site, Stated())
    adopt(floor, site, Stated(level="first"))
    adopt(floor, site, Stated(level="cellar", floor_m=-3.3))
    building = read_site(with_devices(site)).building
    floors = [(level.id, level.floor_m) for level in building.levels]
    assert floors == [("cellar", -3.3), ("ground", 0), ("first", 3.3)]
    assert {wall.level for wall in building.walls} == {"cellar", "ground", "first"}
    assert len({wall.id for wall in building.walls}) == 12


def test_a_shaft_drawn_on_level_after_level_is_one_shaft(tmp_path, floor):
    site = tmp_path / "site"
    grown = [
        adopt(floor, site, Stated(level=level)).grown for level in ("ground", "first", "second")
    ]
    assert grown == [(), ("ground-shaft-001",), ("ground-shaft-001",)]
    (shaft,) = read_site(with_devices(site)).building.shafts
    assert (shaft.lowest, shaft.highest) == ("ground", "second")


def test_what_a_person_wrote_stays(tmp_path, floor):
    site = with_devices(tmp_path / "site") if adopt(floor, tmp_path / "site", Stated()) else None
    page = (site / "site.yaml").read_text()
    page = page.replace("horizon_years: 5", "horizon_years: 7  # as the owner asked")
    page += "hazards:\n  battery: off  # mains everywhere\n"
    (site / "site.yaml").write_text(page)
    with (site / "walls.csv").open("a") as stream:
        stream.write("mine,ground,1,1,2,2,brick_120\n")
    before = everything_in(site)
    made = adopt(floor, site, Stated(level="first"))
    after = everything_in(site)
    assert b"# as the owner asked" in after["site.yaml"]
    assert b"# mains everywhere" in after["site.yaml"]
    assert b"mine,ground,1,1,2,2,brick_120" in after["walls.csv"]
    assert {name for name in after if after[name] != before.get(name)} == set(made.files)
    assert read_site(site).horizon_years == 7


def test_a_level_is_added_below_the_others(tmp_path, floor):
    """3 m of cellar and 0.3 m of the slab above it (the documented defaults): down to -3.3 m."""
    site = tmp_path / "site"
    adopt(floor, site, Stated())
    adopt(floor, site, Stated(level="cellar", below=True))
    adopt(floor, site, Stated(level="vault", below=True, height_m=2))
    building = read_site(with_devices(site)).building
    floors = [(level.id, level.floor_m) for level in building.levels]
    assert floors == [("vault", -5.6), ("cellar", -3.3), ("ground", 0)]
    (shaft,) = building.shafts
    assert (shaft.lowest, shaft.highest) == ("vault", "ground")


def test_a_level_is_replaced_where_it_is_and_what_else_is_drawn_on_it_stays(tmp_path, floor):
    site = tmp_path / "site"
    for level in ("ground", "first", "second"):
        adopt(floor, site, Stated(level=level))
    ramp = "  plates:\n    - {id: ramp, level: first, construction: open, corners: CORNERS}\nradio:"
    ramp = ramp.replace("CORNERS", "[[1, 1, 0], [2, 1, 1], [2, 2, 1]]")
    page = (site / "site.yaml").read_text()
    (site / "site.yaml").write_text(page.replace("\nradio:", f"\n{ramp}", 1))
    other = ezdxf.new(units=units.MM)
    other.modelspace().add_line((0, 0), (9000, 0), dxfattribs={"layer": "BRICK"})
    other.saveas(tmp_path / "other.dxf")
    made = adopt(tmp_path / "other.dxf", site, Stated(level="FIRST", replace=True))
    assert [level.id for level in made.gone.levels] == ["first"]
    assert len(made.gone.walls) == 4
    building = read_site(with_devices(site)).building
    assert [(one.id, one.floor_m) for one in building.levels] == [
        ("ground", 0),
        ("first", 3.3),
        ("second", 6.6),
    ]
    (wall,) = [wall for wall in building.walls if wall.level == "first"]
    assert (wall.x2_m, wall.construction) == (9, "brick_120")
    assert [plate.id for plate in building.plates] == ["ramp"]
    (shaft,) = building.shafts
    assert (shaft.lowest, shaft.highest) == ("ground", "second")


def test_a_level_replaced_by_its_own_drawing_is_as_it_was(tmp_path, floor):
    site = tmp_path / "site"
    for level in ("ground", "first"):
        adopt(floor, site, Stated(level=level))
    before = read_site(with_devices(site)).building
    adopt(floor, site, Stated(level="first", replace=True))
    assert read_site(site).building == before


def test_a_level_that_is_not_there_is_not_replaced(tmp_path, floor):
    adopt(floor, tmp_path / "site", Stated())
    with pytest.raises(UsageError, match="has no level attic: it has ground"):
        adopt(floor, tmp_path / "site", Stated(level="attic", replace=True))


def test_a_level_is_taken_out_with_what_is_drawn_on_it(tmp_path, floor):
    site = tmp_path / "site"
    for level in ("ground", "first", "second"):
        adopt(floor, site, Stated(level=level))
    page = (site / "site.yaml").read_text().replace("horizon_years: 5", "horizon_years: 5  # mine")
    (site / "site.yaml").write_text(page)
    made = remove_level(with_devices(site), "Second")
    assert (len(made.gone.levels), len(made.gone.walls)) == (1, 4)
    building = read_site(site).building
    assert [level.id for level in building.levels] == ["ground", "first"]
    assert {wall.level for wall in building.walls} == {"ground", "first"}
    (shaft,) = building.shafts
    assert (shaft.lowest, shaft.highest) == ("ground", "first")
    assert "# mine" in (site / "site.yaml").read_text()


def test_levels_above_one_that_is_taken_out_stay_where_they_are(tmp_path, floor):
    """A level without floor_m stands on those listed before it: 3.3 m of ground, 3.3 m of first."""
    site = tmp_path / "site"
    adopt(floor, site, Stated())
    page = (site / "site.yaml").read_text()
    more = "    - {id: first}\n    - {id: second}\n"
    lines = page.splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if "{id: ground" in line) + 1
    (site / "site.yaml").write_text("".join([*lines[:at], more, *lines[at:]]))
    remove_level(with_devices(site), "first")
    levels = read_site(site).building.levels
    assert [(level.id, level.floor_m) for level in levels] == [("ground", 0), ("second", 6.6)]


def test_a_level_on_which_devices_hang_is_not_taken_out(tmp_path, floor):
    site = tmp_path / "site"
    for level in ("ground", "first"):
        adopt(floor, site, Stated(level=level))
    before = everything_in(with_devices(site))
    with pytest.raises(UsageError, match=r"G1 \(layouts/first/devices.csv\), S1 .*first"):
        remove_level(site, "ground")
    for name, told in (("attic", "has no level attic: it has ground, first"),):
        with pytest.raises(UsageError, match=told):
            remove_level(site, name)
    assert everything_in(site) == before


def test_the_only_level_is_not_taken_out(tmp_path, floor):
    adopt(floor, tmp_path / "site", Stated())
    with pytest.raises(UsageError, match="delete the folder instead"):
        remove_level(tmp_path / "site", "ground")


def test_a_level_that_is_there_already_is_refused(tmp_path, floor):
    adopt(floor, tmp_path / "site", Stated())
    before = everything_in(tmp_path / "site")
    with pytest.raises(UsageError, match="has a level ground already"):
        adopt(floor, tmp_path / "site", Stated(level="GROUND"))
    assert everything_in(tmp_path / "site") == before


def test_a_level_inside_another_is_refused_and_nothing_changes(tmp_path, floor):
    adopt(floor, tmp_path / "site", Stated())
    before = everything_in(tmp_path / "site")
    with pytest.raises(UsageError, match=r"does not fit.*nothing was written"):
        adopt(floor, tmp_path / "site", Stated(level="first", floor_m=1))
    assert everything_in(tmp_path / "site") == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["floor.dxf", "site"]


def test_a_faulty_site_is_not_added_to(tmp_path, floor):
    adopt(floor, tmp_path / "site", Stated())
    with (tmp_path / "site/walls.csv").open("a") as stream:
        stream.write("bad,attic,1,1,2,2,brick_120\n")
    with pytest.raises(InputError, match="attic"):
        adopt(floor, tmp_path / "site", Stated(level="first"))


def test_a_folder_of_something_else_is_refused(tmp_path, floor):
    (tmp_path / "other").mkdir()
    (tmp_path / "other/letter.txt").write_text("mine")
    with pytest.raises(UsageError, match=r"holds no site\.yaml"):
        adopt(floor, tmp_path / "other", Stated())
    (tmp_path / "link").symlink_to(tmp_path / "other")
    for bad in ("link", "floor.dxf", "a\nb", ".."):
        with pytest.raises(UsageError):
            adopt(floor, tmp_path / bad, Stated())


@pytest.mark.parametrize("fails_at", [1, 2])
def test_nothing_is_lost_when_the_disk_is_full(tmp_path, floor, monkeypatch, fails_at):
    adopt(floor, tmp_path / "site", Stated())
    before = everything_in(tmp_path / "site")
    calls = []

    def full_disk(source, target):
        calls.append(source)
        if len(calls) == fails_at:
            raise OSError(28, "No space left on device")
        os.rename(source, target)

    monkeypatch.setattr(drafts.os, "replace", full_disk)
    with pytest.raises(UsageError, match="No space left"):
        adopt(floor, tmp_path / "site", Stated(level="first"))
    assert everything_in(tmp_path / "site") == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["floor.dxf", "site"]


def test_an_interrupt_leaves_nothing_behind(tmp_path, floor, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(drafts, "_take_place", interrupted)
    with pytest.raises(KeyboardInterrupt):
        adopt(floor, tmp_path / "site", Stated())
    assert [path.name for path in tmp_path.iterdir()] == ["floor.dxf"]
