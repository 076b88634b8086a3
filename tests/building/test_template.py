import csv

import pytest

from resilience.building.files.folder import read_site
from resilience.building.files.template import Answers, new_site
from resilience.building.parts import LISTED
from resilience.building.text import drafts
from resilience.errors import UsageError

ANSWERS = Answers("Invented mill", 3, 30, 12, 7, "corner")


@pytest.mark.parametrize("n_sensors", [1, 2, 7, 40])
@pytest.mark.parametrize("gateway", ["corner", "centre"])
def test_a_new_site_reads_back_without_faults(tmp_path, n_sensors, gateway):
    answers = Answers("Invented mill", 3, 30, 12, n_sensors, gateway)
    site = read_site(new_site(tmp_path / "mill", answers))
    assert site.name == "Invented mill"
    assert [layout.name for layout in site.layouts] == ["gateway-only", "with-repeaters"]
    assert [len(layout.sensors) for layout in site.layouts] == [3 * n_sensors] * 2
    assert [len(layout.devices) for layout in site.layouts] == [
        3 * n_sensors + 1,
        3 * n_sensors + 4,
    ]
    (gateway_device,) = site.layouts[0].gateways
    place = gateway_device.place
    assert (place.x_m, place.y_m) == ((1, 1) if gateway == "corner" else (15, 6))
    assert not site.building.is_drawn
    assert any("site-general" in note for note in site.notes)


def test_sensors_stand_on_an_even_grid(tmp_path):
    """Eight sensors on 40 m by 20 m: four by two cells of 10 m by 10 m, one in each middle."""
    folder = new_site(tmp_path / "hall", Answers("Hall", 1, 40, 20, 8, "centre"))
    with (folder / "sensors.csv").open(encoding="utf-8") as stream:
        places = {(float(row["x_m"]), float(row["y_m"])) for row in csv.DictReader(stream)}
    assert places == {(x, y) for x in (5, 15, 25, 35) for y in (5, 15)}


@pytest.mark.parametrize("name", ['say "a": #1', "<b>bold</b>", "=1+1", "été", "a: b", "- x", "~"])
def test_a_hostile_name_comes_back_as_text(tmp_path, name):
    site = read_site(new_site(tmp_path / "x", Answers(name, 1, 10, 10, 1, "corner")))
    assert site.name == name


def test_every_default_named_in_a_comment_is_understood_once_it_is_uncommented(tmp_path):
    page = new_site(tmp_path / "x", ANSWERS) / "site.yaml"
    lines = page.read_text(encoding="utf-8").splitlines(keepends=True)
    starts = ("# routing:", "# models:", "# batteries:", "# hazards:", "# upkeep:", "# changes:")
    starts = (*starts, "# temperatures:", "#   ")
    opened = [line.removeprefix("# ") if line.startswith(starts) else line for line in lines]
    before = read_site(page.parent)
    page.write_text("".join(opened), encoding="utf-8")
    after = read_site(page.parent)
    assert opened != lines
    assert (after.routing, after.hazards, after.upkeep) == (
        before.routing,
        before.hazards,
        before.upkeep,
    )
    assert after.layouts == before.layouts


def test_the_drawn_examples_in_its_comments_are_understood_once_a_wall_is_there(tmp_path):
    page = new_site(tmp_path / "x", ANSWERS) / "site.yaml"
    lines = page.read_text(encoding="utf-8").splitlines(keepends=True)
    starts = (*(f"  # {part.name}:" for part in LISTED), "  #   -", "  #      ")
    opened = [line.replace("# ", "", 1) if line.startswith(starts) else line for line in lines]
    page.write_text("".join(opened), encoding="utf-8")
    (page.parent / "walls.csv").write_text(
        "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,L1,0,6,30,6,brick_120\n"
    )
    building = read_site(page.parent).building
    counts = {part.name: len(getattr(building, part.name)) for part in LISTED}
    assert counts.pop("levels") == 3
    assert counts.pop("doors") == 2
    assert counts.pop("obstacles") == 2
    assert set(counts.values()) == {1}
    assert set(building.changing) == {"D2", "V1", "V2"}


def test_the_readme_carries_the_cautions(tmp_path):
    text = (new_site(tmp_path / "x", ANSWERS) / "README.md").read_text(encoding="utf-8")
    for caution in ("predicted, not surveyed", "life-safety", "lithium cells", "invented"):
        assert caution in text


def test_a_folder_that_holds_something_is_refused_and_kept(tmp_path):
    (tmp_path / "keep.txt").write_text("mine")
    with pytest.raises(UsageError, match="not empty"):
        new_site(tmp_path, ANSWERS)
    assert [path.name for path in tmp_path.iterdir()] == ["keep.txt"]


def test_an_empty_folder_is_filled_and_a_file_refused(tmp_path):
    (tmp_path / "empty").mkdir()
    assert (new_site(tmp_path / "empty", ANSWERS) / "site.yaml").is_file()
    (tmp_path / "file").write_text("mine")
    with pytest.raises(UsageError, match="not a folder"):
        new_site(tmp_path / "file", ANSWERS)


def test_nothing_is_left_behind_when_writing_fails(tmp_path, monkeypatch):
    def full_disk(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(drafts.os, "replace", full_disk)
    with pytest.raises(UsageError, match="No space left"):
        new_site(tmp_path / "x", ANSWERS)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "change",
    [
        *[{"name": ""}, {"name": "a\nb"}, {"n_levels": 0}, {"n_levels": 101}, {"length_m": 1}],
        *[{"width_m": float("nan")}, {"n_sensors_per_level": 0}, {"gateway": "roof"}],
        {"n_sensors_per_level": 10_000},
    ],
)
def test_answers_without_meaning_are_refused(change):
    fields = {name: getattr(ANSWERS, name) for name in Answers.__dataclass_fields__}
    with pytest.raises(UsageError):
        Answers(**(fields | change))
