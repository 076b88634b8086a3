"""A plan as a picture with two known points: a similarity, checked against points worked by hand.

The PDFs are written here, as ISO 32000-1 (from memory) lays them out: lengths in points of 1/72
inch, y upwards from the lower left corner of the page.
"""

import csv
import math

import pytest
from PIL import Image

from resilience.building.files.folder import read_site
from resilience.drawings.adopting.adopt import adopt
from resilience.drawings.plan import Stated
from resilience.drawings.reading import pictures
from resilience.drawings.reading.pictures import backdrop_of
from resilience.errors import InputError, UsageError

POINTS = ("120,880=0,0", "2040,880=30,0")  # 1920 pixels are 30 m, so 64 pixels are a metre


@pytest.fixture
def scan(tmp_path):
    path = tmp_path / "scan.png"
    Image.new("L", (2200, 1000), 255).save(path)
    return path


SHEET = (720, 360)  # 10 by 5 inches
BLOCK = b"72 72 72 72 re f"  # a black square of an inch, an inch from the left and from below


def pdf(*contents, size=SHEET, trailer=b""):
    """A file with one page for each content stream."""
    n = len(contents)
    kids = b" ".join(b"%d 0 R" % (3 + 2 * page) for page in range(n))
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [%s] /Count %d /MediaBox [0 0 %g %g] >>" % (kids, n, *size),
    ]
    for page, content in enumerate(contents):
        objects += [
            b"<< /Type /Page /Parent 2 0 R /Resources << >> /Contents %d 0 R >>" % (4 + 2 * page),
            b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content),
        ]
    text, places = b"%PDF-1.4\n", b"0000000000 65535 f \n"
    for number, one in enumerate(objects, start=1):
        places += b"%010d 00000 n \n" % len(text)
        text += b"%d 0 obj\n%s\nendobj\n" % (number, one)
    size = len(objects) + 1
    end = b"trailer\n<< /Size %d /Root 1 0 R %s >>\n" % (size, trailer)
    start = b"startxref\n%d\n%%%%EOF\n" % len(text)
    return text + b"xref\n0 %d\n" % size + places + end + start


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


@pytest.mark.parametrize(("name", "advice"), [("a.dwg", "DXF"), ("a.xyz", "expected one of")])
def test_other_formats_say_what_to_do(tmp_path, name, advice):
    (tmp_path / name).write_bytes(b"AC1032")
    with pytest.raises(UsageError, match=advice):
        adopt(tmp_path / name, tmp_path / "site", Stated())


def test_a_page_becomes_a_picture_of_144_pixels_an_inch(tmp_path):
    """The block starts an inch from the left and ends an inch above the lower edge."""
    (tmp_path / "plan.pdf").write_bytes(pdf(BLOCK))
    made = adopt(tmp_path / "plan.pdf", tmp_path / "site", Stated())
    with Image.open(tmp_path / "site/backdrops/ground.png") as picture:
        assert picture.format == "PNG"
        assert picture.size == (1440, 720)
        dark = picture.convert("L").point(lambda grey: 255 * (grey < 128)).getbbox()
    assert dark == (144, 720 - 288, 288, 720 - 144)
    assert any("1440 by 720 pixels, 144 an inch" in note for note in made.account.notes)


def test_a_page_without_points_waits_for_them(tmp_path):
    """Only once the picture is there can its pixels be counted; either file takes the points."""
    plan, site = tmp_path / "plan.pdf", tmp_path / "site"
    plan.write_bytes(pdf(BLOCK))
    assert adopt(plan, site, Stated()).unscaled == "backdrops/ground.png"
    first = (site / "backdrops/ground.png").read_bytes()
    (tmp_path / "spots.csv").write_text("id,x_px,y_px\nS1,288,432\n")
    with pytest.raises(UsageError, match="no picture behind level ground whose scale is known"):
        adopt(tmp_path / "spots.csv", site, Stated())
    points = ("144,576=0,0", "1344,576=30,0")  # 40 pixels a metre
    for source in (site / "backdrops/ground.png", plan):
        made = adopt(source, site, Stated(), points)
        assert made.unscaled == ""
        assert made.files == ("backdrops/ground.csv", "backdrops/ground.png")
        assert (site / "backdrops/ground.png").read_bytes() == first
    adopt(tmp_path / "spots.csv", site, Stated())
    row = (site / "layouts/first/devices.csv").read_text().splitlines()[1]
    assert row.startswith("S1,sensor,ground,3.6,3.6")  # 144 pixels right of and above the zero


def test_a_scale_is_not_left_behind_another_picture(tmp_path):
    (tmp_path / "plan.pdf").write_bytes(pdf(BLOCK))
    points = ("120,680=0,0", "1400,680=20,0")
    adopt(tmp_path / "plan.pdf", tmp_path / "site", Stated(), points)
    with pytest.raises(UsageError, match="has its scale already"):
        adopt(tmp_path / "plan.pdf", tmp_path / "site", Stated())


def test_of_several_pages_one_is_named(tmp_path):
    plan, site = tmp_path / "plan.pdf", tmp_path / "site"
    plan.write_bytes(pdf(b"0 0 9 9 re f", BLOCK, b"0 0 9 9 re f"))
    with pytest.raises(UsageError, match="has 3 pages: say which"):
        adopt(plan, site, Stated())
    for page in (0, 4, -1):
        with pytest.raises(UsageError, match=f"no page {page}: expected one of 1 to 3"):
            adopt(plan, site, Stated(), page=page)
    assert not site.exists()
    adopt(plan, site, Stated(), page=2)
    with Image.open(site / "backdrops/ground.png") as picture:
        assert picture.getpixel((150, 570)) == (0, 0, 0)


def test_a_page_of_anything_but_a_pdf_is_refused(tmp_path, scan):
    with pytest.raises(UsageError, match="--page chooses a page of a PDF"):
        adopt(scan, tmp_path / "site", Stated(), POINTS, 1)


# Entries that no empty password opens: the owner's and the user's are arbitrary.
LOCK = b"/Encrypt << /Filter /Standard /V 1 /R 2 /P -4 /O <%s> /U <%s> >> /ID [<00> <00>]" % (
    b"11" * 32,
    b"22" * 32,
)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (pdf(BLOCK, trailer=LOCK), "is encrypted: save it without a password"),
        (pdf(BLOCK, trailer=LOCK.replace(b"Standard", b"Unheard")), "is encrypted"),
        (pdf(BLOCK)[:200], "no sound PDF"),
        (pdf(BLOCK).replace(b"[3 0 R]", b"[9 0 R]"), "no sound PDF"),  # its page is missing
        (b"no PDF at all", "no sound PDF"),
        (b"", "is empty"),
        (pdf(), "has no page"),
        (pdf(b""), "shows nothing"),
        (pdf(BLOCK, size=(14400, 14400)), "more than 100,000,000 pixels"),  # 200 inches, the most
    ],
)
def test_a_pdf_without_a_plan_to_see_is_refused_and_nothing_written(tmp_path, content, told):
    (tmp_path / "plan.pdf").write_bytes(content)
    with pytest.raises(UsageError, match=told):
        adopt(tmp_path / "plan.pdf", tmp_path / "site", Stated())
    assert [path.name for path in tmp_path.iterdir()] == ["plan.pdf"]


@pytest.mark.parametrize("pixel", ["2200.5,880", "2040,1001", "-1,880"])
def test_a_point_outside_the_picture_is_refused_with_its_size(tmp_path, scan, pixel):
    told = f"point {pixel} lies outside the picture, which has 2200 by 1000 pixels"
    with pytest.raises(UsageError, match=told):
        adopt(scan, tmp_path / "site", Stated(), (POINTS[0], f"{pixel}=30,0"))
    assert not (tmp_path / "site").exists()


def test_a_place_outside_the_picture_is_refused_with_its_size(tmp_path, scan):
    site = tmp_path / "site"
    adopt(scan, site, Stated(), POINTS)
    before = (site / "layouts/first/devices.csv").read_bytes()
    spots = tmp_path / "spots.csv"
    spots.write_text("id,x_px,y_px\nS1,2200,1000\nS2,22000,1000\n")  # S1 lies on the rim
    with pytest.raises(InputError) as caught:
        adopt(spots, site, Stated())
    assert [str(fault) for fault in caught.value.faults] == [
        "spots.csv, line 3: found (22000, 1000), outside the picture, which has 2200 by 1000 "
        "pixels; expected a pixel of it"
    ]
    assert (site / "layouts/first/devices.csv").read_bytes() == before
    (site / "backdrops/ground.png").unlink()  # nobody can tell its size any more
    assert adopt(spots, site, Stated()).devices == ("S1", "S2")


def test_what_is_still_wanting_is_known_from_what_the_layouts_have(tmp_path, scan):
    site = tmp_path / "site"
    assert adopt(scan, site, Stated(), POINTS).wanting == ("gateways", "sensors")
    spots = tmp_path / "spots.csv"
    for row, wanting in (("S1,9,9,sensor", ("gateways",)), ("G1,99,9,gateway", ())):
        spots.write_text(f"id,x_px,y_px,kind\n{row}\n")
        assert adopt(spots, site, Stated()).wanting == wanting
