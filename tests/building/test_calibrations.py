import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resilience.building.files.calibrations import read_calibration, write_calibration
from resilience.building.site import Calibration, Correction
from resilience.building.text.entries import Findings
from resilience.errors import UsageError

FOUND = Calibration(
    Correction(1.25, 0.5, 12),
    (("brick_120", Correction(-2.0, 0.75, 9)),),
    3.5,
    12,
    Correction(6.5, 1.0, 12),
    (("standard", Correction(-3.0, 1.5, 4)),),
)
PAGE = """\
format: 1
n_links: 12
residual_db: 3.5
distance: {offset_db_per_decade: 1.25, spread: 0.5, n_links: 12}
constructions:
  brick_120: {offset_db: -2, spread_db: 0.75, n_links: 9}
constant: {offset_db: 6.5, spread_db: 1, n_links: 12}
models:
  standard: {offset_db: -3, spread_db: 1.5, n_links: 4}
"""


def test_a_calibration_by_hand_reads_to_what_it_says(folder):
    site = folder.write(calibration_yaml=PAGE).read()
    assert site.calibration == FOUND
    told = "Predictions are corrected by calibration.yaml, fitted to 12 measured links."
    assert told in site.notes


def test_without_the_file_nothing_is_corrected(folder):
    assert folder.read().calibration is None


def test_without_prediction_a_calibration_is_said_to_be_unused(linked_folder):
    notes = linked_folder.write(calibration_yaml=PAGE).read().notes
    assert "calibration.yaml is not used: prediction is off." in notes


def test_links_that_tell_nothing_of_distance_or_walls_leave_these_out(folder):
    page = "format: 1\nn_links: 4\nresidual_db: 0\n"
    assert folder.write(calibration_yaml=page).read().calibration == Calibration(None, (), 0.0, 4)


def test_what_is_written_reads_back_as_it_was_and_says_how_to_undo_it(folder):
    path = write_calibration(folder.path, FOUND)
    assert path == folder.path / "calibration.yaml"
    assert folder.read().calibration == FOUND
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# What measured links say")
    assert "Delete this file to undo the calibration." in text
    # not the 600 that POSIX gives a temporary file: a colleague has to be able to read it
    assert path.stat().st_mode & 0o777 == 0o644


def test_a_second_calibration_takes_the_place_of_the_first_and_leaves_nothing_behind(folder):
    write_calibration(folder.path, FOUND)
    other = Calibration(None, (), 1.0, 3)
    write_calibration(folder.path, other)
    assert folder.read().calibration == other
    assert [name for name in os.listdir(folder.path) if "calibration" in name] == [
        "calibration.yaml"
    ]


CORRECTIONS = st.builds(
    Correction,
    st.floats(-100, 100),
    st.floats(0, 100, exclude_min=True),
    st.integers(1, 500),
)
NAMES = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=12)
USABLE = NAMES.filter(lambda name: name == name.strip() and not set(name) & set("~/\\"))


NAMED = st.dictionaries(USABLE, CORRECTIONS, max_size=4).map(lambda one: tuple(sorted(one.items())))
CALIBRATIONS = st.builds(
    Calibration,
    st.none() | CORRECTIONS,
    NAMED,
    st.floats(0, 100),
    st.just(500),
    st.none() | CORRECTIONS,
    NAMED,
)


@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(found=CALIBRATIONS)
def test_any_calibration_reads_back_to_the_last_digit(folder, found):
    findings = Findings()
    walls, models = dict(found.constructions), dict(found.models)
    path = write_calibration(folder.path, found)
    assert read_calibration(path, walls, models, findings) == found
    assert findings.faults == ()


@pytest.mark.parametrize(
    "found",
    [
        Calibration(None, (), float("nan"), 3),
        Calibration(None, (), -1.0, 3),
        Calibration(Correction(float("inf"), 1.0, 3), (), 1.0, 3),
        Calibration(Correction(0.0, 0.0, 3), (), 1.0, 3),  # a spread of 0 claims certainty
        Calibration(None, (("w", Correction(0.0, -1.0, 3)),), 1.0, 3),
        Calibration(None, (("w", Correction(0.0, 1.0, 9)),), 1.0, 3),
        Calibration(None, (), 1.0, 0),
        Calibration(None, (("w\n", Correction(0.0, 1.0, 3)),), 1.0, 3),
    ],
)
def test_a_calibration_that_could_not_be_read_is_not_written(folder, found):
    write_calibration(folder.path, FOUND)
    with pytest.raises(UsageError, match="cannot be kept"):
        write_calibration(folder.path, found)
    assert folder.read().calibration == FOUND
    assert not [name for name in os.listdir(folder.path) if name.startswith(".calibration")]


def test_nothing_is_left_behind_when_writing_fails(folder, monkeypatch):
    def full_disk(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full_disk)
    with pytest.raises(UsageError, match="No space left"):
        write_calibration(folder.path, FOUND)
    assert not [name for name in os.listdir(folder.path) if "calibration" in name]


def test_a_site_that_is_not_there_is_told(tmp_path: Path):
    with pytest.raises(UsageError, match="cannot be written"):
        write_calibration(tmp_path / "nowhere", FOUND)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("format: 1\n", "", "calibration.yaml, line 1, key format: found nothing"),
        ("format: 1", "format: 2", 'found "2"; expected 1, the only format'),
        ("n_links: 12\n", "", "key n_links: found nothing; expected a whole number, at least 1"),
        ("n_links: 12\n", "n_links: 0\n", 'key n_links: found "0"'),
        ("n_links: 12\n", "n_links: 5\n", 'found "5"; expected at least 12, as one of the correct'),
        ("residual_db: 3.5", "residual_db: -1", 'residual_db: found "-1"'),
        ("residual_db: 3.5", "residual_db: .nan", 'residual_db: found ".nan"'),
        ("residual_db", "residual", "did you mean residual_db?"),
        (
            "brick_120",
            "brik_120",
            'found "brik_120"; expected a construction; did you mean brick_1',
        ),
        ("spread_db: 0.75", "spread_db: 0", 'constructions.brick_120.spread_db: found "0"'),
        (
            "  standard",
            "  standart",
            'key models.standart: found "standart"; expected a model; did you mean standard?',
        ),
        ("offset_db: 6.5", "offset_db: .inf", 'key constant.offset_db: found ".inf"; expected a'),
        ("spread_db: 1,", "spread_db: 0,", 'key constant.spread_db: found "0"; expected a number'),
        ("n_links: 4", "n_links: 44", "expected at least 44, as one of the corrections"),
        ("offset_db: -2, ", "", "constructions.brick_120.offset_db: found nothing"),
        ("offset_db: -2", "offset_db: -200", 'offset_db: found "-200"; expected a number in dB'),
        ("{offset_db: -2, spread_db: 0.75, n_links: 9}", "5", 'found "5"; expected keys and val'),
        ("spread: 0.5", "spread_db: 0.5", "distance.spread_db"),
        ("distance: {", "distance: [{", "a bracket that is not closed"),
    ],
)
def test_a_bad_calibration_is_told(folder, old, new, message):
    assert old in PAGE
    faults = folder.write(calibration_yaml=PAGE.replace(old, new)).faults()
    assert any(message in fault for fault in faults), faults


@pytest.mark.parametrize("text", ["", "- 1\n", b"\xff\n", "format: 1\nx: &a 1\n"])
def test_an_unusable_file_is_told(folder, text):
    assert folder.write(calibration_yaml=text).faults()[0].startswith("calibration.yaml")


def test_a_misspelt_calibration_is_a_mistake(folder):
    (fault,) = folder.write(calibrations_yaml=PAGE).faults()
    assert fault.endswith("did you mean calibration.yaml?")


def test_a_damaged_calibration_says_how_to_be_rid_of_it(folder):
    (fault,) = folder.write(calibration_yaml="format: 1\nn_links: [3\n").faults()
    assert fault.startswith("calibration.yaml, line 2: found a bracket that is not closed; ")
    assert fault.endswith(
        "; the file cannot be read: to undo the calibration delete it, or calibrate again"
    )
