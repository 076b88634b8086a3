"""The verb that reads drawings, end to end, in a process of its own; the building is invented."""

import json
import shlex

import ezdxf
import pytest
from ezdxf import units
from PIL import Image


def squeezed(text: str) -> str:
    """Text without blanks: where a long path is folded depends on the machine."""
    return "".join(text.split())


@pytest.fixture(scope="module")
def drawing(tmp_path_factory):
    """Four brick walls, 12 m by 8 m, and a layer that nobody understands."""
    document = ezdxf.new(units=units.MM)
    corners = [(0, 0), (12000, 0), (12000, 8000), (0, 8000)]
    space = document.modelspace()
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "BRICK"})
    space.add_line((0, 0), (1, 1), dxfattribs={"layer": "[red]XYZZY"})
    path = tmp_path_factory.mktemp("drawings") / "plan.dxf"
    document.saveas(path)
    return path


def test_a_drawing_becomes_a_site_that_only_lacks_its_devices(run, drawing, tmp_path):
    site = tmp_path / "site"
    done = run("adopt", drawing, site)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    told = squeezed(done.stdout)
    assert told.startswith(squeezed(f"Made {site}: 1 level and 4 walls."))
    assert squeezed("measures 12 by 8 m") in told
    assert squeezed("BRICK 1 4 walls") in told
    assert squeezed("[red]XYZZY 1 nothing 1 not understood") in told
    assert squeezed(f"resilience check {site}") in told
    check = run("check", site)
    assert check.returncode == 2
    assert check.stderr.splitlines()[:-1] == [
        "layouts/first/devices.csv: found no sensor; expected one or more, here or in sensors.csv",
        "layouts/first/devices.csv: found no gateway; expected one or more",
    ]
    with (site / "layouts/first/devices.csv").open("a") as stream:
        stream.write("G1,gateway,ground,1,1,,\nS1,sensor,ground,9,5,,\n")
    assert run("check", site).returncode == 0


def test_the_answer_as_json_lists_what_came_and_what_did_not(run, drawing, tmp_path):
    done = run("adopt", drawing, tmp_path / "site", "--level", "hall", "--json")
    told = json.loads(done.stdout)
    assert told["format"] == 1
    assert told["levels"] == ["hall"]
    assert told["counts"]["walls"] == 4
    assert told["size_m"] == [12, 8]
    (brick,) = [one for one in told["layers"] if one["layer"] == "BRICK"]
    assert brick == {"layer": "BRICK", "things": 1, "gave": {"wall": 4}, "lost": {}}
    assert told["left_out"] == [
        {"what": "layer [red]XYZZY", "why": "not understood", "count": 1},
    ]
    assert all((tmp_path / "site" / file).is_file() for file in told["files"])


def test_levels_come_below_are_replaced_and_go(run, drawing, tmp_path):
    site = tmp_path / "site"
    assert run("adopt", drawing, site, "--origin", "1m,1m").returncode == 0
    below = run("adopt", drawing, site / "site.yaml", "--level", "cellar", "--below")
    assert below.returncode == 0, below.stderr
    assert "the floor of cellar is at -3.3 m" in " ".join(below.stdout.split())
    anew = run("adopt", drawing, site, "--level", "cellar", "--replace")
    told = squeezed(anew.stdout)
    assert told.startswith(
        squeezed(f"Taken out of {site}: level cellar, in all 1 level and 4 walls")
    )
    gone = run("adopt", site, "--remove", "cellar")
    assert gone.returncode == 0, gone.stderr
    assert squeezed("level cellar, in all 1 level and 4 walls") in squeezed(gone.stdout)
    told = json.loads(run("adopt", drawing, site, "--level", "loft", "--json").stdout)
    assert told["levels"] == ["loft"]


def test_a_question_is_an_error_with_its_answers_and_nobody_is_asked(run, tmp_path):
    document = ezdxf.new(units=0)
    document.modelspace().add_line((0, 0), (25, 0), dxfattribs={"layer": "WALL"})
    document.saveas(tmp_path / "plan.dxf")
    done = run("adopt", tmp_path / "plan.dxf", tmp_path / "site")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "--unit m makes it 25 by 0 m; --unit ft makes it 7.62 by 0 m" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "site").exists()
    assert run("adopt", tmp_path / "plan.dxf", tmp_path / "site", "--unit", "m").returncode == 0


def test_a_scan_and_places_in_pixels_make_a_sound_site(run, tmp_path):
    Image.new("L", (2200, 1000), 255).save(tmp_path / "scan.png")
    site = tmp_path / "site"
    points = ("--point", "120,880=0,0", "--point", "2040,880=30,0")
    assert run("adopt", tmp_path / "scan.png", site, *points).returncode == 0
    spots = "id,x_px,y_px,kind\nG1,184,816,gateway\nS1,760,560,sensor\n"
    (tmp_path / "spots.csv").write_text(spots)
    done = run("adopt", tmp_path / "spots.csv", site)
    assert done.stdout.startswith(f"Added to {site}: 2 devices.")
    assert "Fill in" not in done.stdout
    assert done.stdout.splitlines()[-1].strip() == f"resilience check {site}"
    assert run("check", site).returncode == 0


def test_a_pdf_says_where_its_picture_is_and_how_to_go_on(run, tmp_path):
    picture = Image.new("L", (720, 360), 255)
    picture.paste(0, (72, 72, 144, 144))
    picture.save(tmp_path / "plan.pdf", save_all=True, append_images=[picture])
    site = tmp_path / "site"
    refused = run("adopt", tmp_path / "plan.pdf", site)
    assert refused.returncode == 2
    assert "plan.pdf has 2 pages" in refused.stderr
    assert not site.exists()
    done = run("adopt", tmp_path / "plan.pdf", site, "--page", "2", "--level", "upper hall")
    assert done.returncode == 0, done.stderr
    told = squeezed(done.stdout)
    kept = site / "backdrops/upper_hall.png"
    assert (
        squeezed(f"Read two points far apart off {kept}, in pixels from its upper left corner")
        in told
    )
    words = f"adopt {kept} {site} --level 'upper hall'"
    assert squeezed(f"resilience {words} --point X,Y=X,Y --point X,Y=X,Y") in told
    points = ("--point", "144,576=0,0", "--point", "1344,576=30,0")
    again = run(*shlex.split(words), *points)
    assert again.returncode == 0, again.stderr
    assert f"resilience check {site}" in " ".join(again.stdout.split())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("nowhere.dxf", "site"), "no such file"),
        (("plan.dwg", "site"), "save it as DXF"),
        (("{drawing}", "site", "--page", "2"), "--page chooses a page of a PDF"),
        (("{drawing}", "site", "--unit", "yard"), "none of mm, cm, m, in, ft"),
        (("{drawing}", "site", "--origin", "here"), "--origin takes two numbers"),
        (("{drawing}", "site", "--origin", "1m,1mm"), "with their unit 12.5m,3m"),
        (("{drawing}", "site", "--origin", "1x,1x"), "none of mm, cm, m, in, ft"),
        (("{drawing}",), "say where to: resilience adopt"),
        (("site", "other", "--remove", "x"), "--remove needs no drawing"),
        (("{drawing}", "site", "--below", "--floor-m", "1"), "leave --floor-m out"),
        (("{drawing}", "site", "--level", "../x"), "cannot be the name"),
        (("{drawing}", "site", "--height-m", "0"), "above 0"),
        (("{drawing}", "site", "--point", "1,1=0,0"), "--point gives the scale of a picture"),
    ],
)
def test_bad_requests_say_what_would_do(run, drawing, tmp_path, words, told):
    words = [word.format(drawing=drawing) for word in words]
    done = run("adopt", *words, cwd=tmp_path)
    assert done.returncode == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "site").exists()


def test_a_shaft_that_goes_on_is_told_where_the_level_was_added(run, tmp_path):
    document = ezdxf.new(units=units.MM)
    for (x0, y0, x1, y1), layer in [
        ((0, 0, 12000, 8000), "WALLS"),
        ((5000, 5000, 7000, 7000), "LIFT"),
    ]:
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        document.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})
    document.saveas(tmp_path / "floor.dxf")
    words = ("adopt", tmp_path / "floor.dxf", tmp_path / "site")
    assert "Carried on" not in run(*words).stdout
    told = squeezed(run(*words, "--level", "first").stdout)
    assert (
        squeezed("Carried on from the levels that were there: 1 shaft, ground-shaft-001.") in told
    )
