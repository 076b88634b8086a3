"""The verb end to end on an invented corridor of a dozen measured links."""

import json

import pytest

SITE = """\
format: 1
name: Invented corridor
radio: {environment: quiet}
building:
  levels:
    - {id: L1, height_m: 3, slab: concrete_200}
"""
WALLS = "id,level,x1_m,y1_m,x2_m,y2_m,construction\n" + "".join(
    f"W{n},L1,{x},0,{x},8,concrete_150\n" for n, x in enumerate((6, 14, 22))
)
PLACES = {"S1": (9, 2), "S2": (17, 6), "S3": (25, 2), "S4": (3, 6), "S5": (12, 5)}
# Walls of the invented house take about 5 dB more than the catalogue says of concrete_150.
LINKS = (
    "a,b,rssi_dbm\nG1,S1,-76\nS1,G1,-74\nG1,S5,-79\nG1,S4,-53\nS1,S2,-77\nS2,S3,-75\nS4,S5,-76\n"
    "S1,S5,-53\nS2,S5,-71\nS1,S3,-97\nS4,S1,-73\nS3,S5,-96\n"
)
FILES = {
    "site.yaml": SITE,
    "walls.csv": WALLS,
    "sensors.csv": "id,level,x_m,y_m\n"
    + "".join(f"{id},L1,{x},{y}\n" for id, (x, y) in PLACES.items()),
    "links.csv": LINKS,
    "layouts/a/devices.csv": "id,kind,level,x_m,y_m\nG1,gateway,L1,1,2\n",
}


@pytest.fixture
def corridor(written, tmp_path):
    return written(tmp_path / "corridor", FILES)


def test_calibrate_shows_first_and_writes_nothing(run, corridor):
    done = run("calibrate", corridor)
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout.startswith("Invented corridor: 11 links measured.")
    assert "concrete_150" in done.stdout
    assert not (corridor / "calibration.yaml").exists()
    assert max(len(line) for line in done.stdout.splitlines()) <= 100


def test_calibrate_writes_when_asked_and_the_site_then_uses_it(run, corridor):
    before = json.loads(run("links", corridor, "--json").stdout)["links"]
    told = json.loads(run("calibrate", corridor, "--write", "--json").stdout)
    assert told["written"] == str(corridor / "calibration.yaml")
    offsets = {one["what"]: one["offset"] for one in told["corrections"]}
    assert 2 < offsets["concrete_150"] < 5
    after = json.loads(run("links", corridor, "--json").stdout)["links"]
    assert [one for one in after if one["measured"]] != []
    moved = [
        (one["id"], other["rssi_dbm"][0] - one["rssi_dbm"][0])
        for one in before
        for other in after
        if one["id"] == other["id"] and not one["measured"]
    ]
    assert moved
    assert all(by_db < -1 for _, by_db in moved)  # every pair that is left has a wall between


def test_calibrating_again_gives_the_same_corrections(run, corridor):
    """The fit starts from the uncorrected prediction, so that nothing is corrected twice."""
    first = json.loads(run("calibrate", corridor, "--write", "--json").stdout)
    text = (corridor / "calibration.yaml").read_text(encoding="utf-8")
    again = json.loads(run("calibrate", corridor, "--write", "--json").stdout)
    assert again == first
    assert (corridor / "calibration.yaml").read_text(encoding="utf-8") == text


def test_too_few_links_are_shown_but_nothing_can_be_written(run, written, tmp_path):
    site = written(tmp_path / "few", FILES | {"links.csv": "a,b,rssi_dbm\nG1,S1,-66\n"})
    done = run("calibrate", site)
    assert done.returncode == 0
    assert "! No correction: it needs 5 links of known strength, and there are 1." in done.stdout
    refused = run("calibrate", site, "--write")
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert "Nothing was written: it needs 5 links" in refused.stderr
    assert not (site / "calibration.yaml").exists()


def test_a_site_that_predicts_nothing_is_refused_with_the_reason(run, chain):
    done = run("calibrate", chain)
    assert done.returncode == 2
    assert "there is nothing to correct" in done.stderr
    assert "Traceback" not in done.stderr
