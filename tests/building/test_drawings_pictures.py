"""A scanned plan with two known points: a similarity, checked against points worked by hand."""

import csv
import math

import pytest
from PIL import Image

from resilience.building.adopting.adopt import adopt
from resilience.building.drawings import pictures
from resilience.building.drawings.pictures import backdrop_of
from resilience.building.drawings.plan import Stated
from resilience.building.files.folder import read_site
from resilience.errors import InputError, UsageError

POINTS = ("120,880=0,0", "2040,880=30,0")  # 1920 pixels are 30 m, so 64 pixels are a metre


@pytest.fixture
def scan(tmp_path):
    path = tmp_path / "scan.png"
    Image.new("L", (2200, 1000), 255).save(path)
    return path


def test_pixels_become_metres_with_y_upwards():
    backdrop = backdrop_of(POINTS)
    assert backdrop.m_per_px == pytest.approx(1 / 64)
    assert backdrop.place(120, 880) == (0, 0)
    assert backdrop.place(2040, 880) == (30, 0)
    assert backdrop.place(120 + 64, 880 - 2 * 64) == (1, 2)


def test_a_turned_scan_is_turned_back():
    """Scanned lying on its side: what points up on the plan points right in the picture."""
    backdrop = backdrop_of(("0,0=0,0", "100,0=0,10"))
    assert backdrop.turned_deg == pytest.approx(90)
    assert backdrop.place(0, 100) == (10, 0)


def test_lengths_and_angles_are_kept():
    """A similarity by definition scales every length alike, here by 0.05 (3-4-5 triangle)."""
    backdrop = backdrop_of(("10,10=5,5", "70,90=10,5"))
    corners = [backdrop.place(x, y) for x, y in [(0, 0), (300, 0), (300, 400)]]
    sides = [math.dist(corners[i], corners[(i + 1) % 3]) for i in range(3)]
    assert sides == pytest.approx([15, 20, 25], abs=0.002)


@pytest.mark.parametrize(
    "points",
    [
        *((), ("1,1=0,0",), ("1,1=0,0", "1,1=5,5"), ("0,0=0,0", "900,0=0,0.01")),
        *(("0,0=0,0", "900,0=x,0"), ("0,0=0,0", "900,0"), ("0,0=0,0", "nan,0=1,1")),
        *(("0,0=0,0", "20,0=9000,0"), ("0,0=0,0", "9,0=1,0", "0,9=0,1")),
    ],
)
def test_points_that_give_no_scale_are_refused(points):
    with pytest.raises(UsageError):
        backdrop_of(points)


def test_a_scan_is_copied_beside_its_scale(tmp_path, scan):
    made = adopt(scan, tmp_path / "site", Stated(level="ground"), POINTS)
    folder = tmp_path / "site/backdrops"
    assert (folder / "ground.png").read_bytes() == scan.read_bytes()
    assert (folder / "ground.csv").read_text().splitlines() == [
        "x_px,y_px,x_m,y_m",
        "120,880,0,0",
        "2040,880,30,0",
    ]
    assert [level.id for level in made.drawn.levels] == ["ground"]
    assert any("skewed" in note for note in made.account.notes)


def test_places_typed_in_pixels_become_devices(tmp_path, scan):
    adopt(scan, tmp_path / "site", Stated(), POINTS)
    (tmp_path / "spots.csv").write_text(
        "id,x_px,y_px,kind\nG1,184,816,gateway\nS1,760,560,\nS2,1400,240,sensor\n"
    )
    made = adopt(tmp_path / "spots.csv", tmp_path / "site", Stated())
    assert made.devices == ("G1", "S1", "S2")
    with (tmp_path / "site/layouts/first/devices.csv").open() as stream:
        places = {
            row["id"]: (float(row["x_m"]), float(row["y_m"])) for row in csv.DictReader(stream)
        }
    assert places == {"G1": (1, 1), "S1": (10, 5), "S2": (20, 10)}  # 64 pixels a metre
    site = read_site(tmp_path / "site")
    assert [sensor.id for sensor in site.layouts[0].sensors] == ["S1", "S2"]
    with pytest.raises(UsageError, match="G1, S1, S2 already"):
        adopt(tmp_path / "spots.csv", tmp_path / "site", Stated())


def test_places_without_a_picture_or_with_mistakes_are_refused(tmp_path, scan):
    (tmp_path / "spots.csv").write_text("id,x_px,y_px\nS1,a,2\n../S2,3,4\n")
    with pytest.raises(UsageError, match="no picture behind level ground"):
        adopt(tmp_path / "spots.csv", tmp_path / "site", Stated())
    adopt(scan, tmp_path / "site", Stated(), POINTS)
    with pytest.raises(InputError) as caught:
        adopt(tmp_path / "spots.csv", tmp_path / "site", Stated())
    assert len(caught.value.faults) == 2


def test_a_picture_that_was_cut_off_or_is_too_large_is_refused(tmp_path, scan, monkeypatch):
    cut = tmp_path / "cut.jpg"
    Image.effect_noise((400, 400), 50).save(cut)
    cut.write_bytes(cut.read_bytes()[:2000])
    with pytest.raises(UsageError, match="no sound PNG or JPEG"):
        adopt(cut, tmp_path / "site", Stated(), POINTS)
    monkeypatch.setattr(pictures, "MOST_PIXELS", 1000)
    with pytest.raises(UsageError, match="more than 1,000 pixels"):
        adopt(scan, tmp_path / "site", Stated(), POINTS)
    assert not (tmp_path / "site").exists()


@pytest.mark.parametrize(
    ("name", "advice"), [("a.pdf", "picture"), ("a.dwg", "DXF"), ("a.xyz", "expected one of")]
)
def test_other_formats_say_what_to_do(tmp_path, name, advice):
    (tmp_path / name).write_bytes(b"%PDF")
    with pytest.raises(UsageError, match=advice):
        adopt(tmp_path / name, tmp_path / "site", Stated())
