"""Files and folders are written whole or not at all, whatever fails half way."""

import os
import shutil
import tempfile

import pytest

from resilience.building.files.calibrations import write_calibration
from resilience.building.files.template import Answers, new_site
from resilience.building.service.learnt import write_learnt
from resilience.building.settings import Learnt, LearntValue
from resilience.building.site import Calibration, Correction
from resilience.building.text import drafts
from resilience.building.text.drafts import draft_of, write
from resilience.building.text.keeping import write_whole
from resilience.errors import UsageError

CALIBRATION = Calibration(None, (("brick_120", Correction(1.0, 0.5, 3)),), 2.0, 3)
LEARNT = Learnt((LearntValue("hazards.hardware.per_year", 0.04, 0.01, 0.09, 3, 60.0),))
WRITERS = {
    "calibration.yaml": lambda folder: write_calibration(folder, CALIBRATION),
    "learnt.yaml": lambda folder: write_learnt(folder, LEARNT),
}


def everything_in(folder):
    """Return the bytes of every file below a folder, hidden ones too, and the empty folders."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }


def failing(error):
    def fail(*_, **__):
        raise error

    return fail


FULL = OSError(28, "No space left on device")
READ_ONLY = OSError(30, "Read-only file system")


@pytest.mark.parametrize("name", sorted(WRITERS))
@pytest.mark.parametrize(
    ("what", "error"),
    [
        ("os.fsync", FULL),
        ("os.fdopen", FULL),
        ("os.replace", READ_ONLY),
        ("tempfile.mkstemp", READ_ONLY),
        ("os.fsync", KeyboardInterrupt()),
    ],
)
def test_a_file_that_could_not_be_written_leaves_the_old_one_and_nothing_else(
    folder, monkeypatch, name, what, error
):
    (folder.path / name).write_text("format: 1\n")
    before = everything_in(folder.path)
    module, attribute = what.split(".")
    monkeypatch.setattr({"os": os, "tempfile": tempfile}[module], attribute, failing(error))
    if isinstance(error, OSError):
        with pytest.raises(UsageError, match=rf"{name} cannot be written: {error.strerror}"):
            WRITERS[name](folder.path)
    else:
        with pytest.raises(KeyboardInterrupt):
            WRITERS[name](folder.path)
    monkeypatch.undo()
    assert everything_in(folder.path) == before


@pytest.mark.parametrize("name", sorted(WRITERS))
def test_a_folder_in_the_place_of_a_file_is_told_and_stays(folder, name):
    (folder.path / name).mkdir()
    (folder.path / name / "mine.txt").write_text("mine")
    before = everything_in(folder.path)
    with pytest.raises(UsageError, match=f"{name} cannot be written: Is a directory"):
        WRITERS[name](folder.path)
    assert everything_in(folder.path) == before


@pytest.mark.parametrize("name", sorted(WRITERS))
def test_a_file_in_the_place_of_the_folder_is_told(tmp_path, name):
    (tmp_path / "site").write_text("mine")
    with pytest.raises(UsageError, match=f"{name} cannot be written: Not a directory"):
        WRITERS[name](tmp_path / "site")
    assert everything_in(tmp_path) == {"site": b"mine"}


@pytest.mark.parametrize("name", sorted(WRITERS))
def test_a_file_is_written_again_to_the_same_bytes(folder, name):
    first = WRITERS[name](folder.path).read_bytes()
    assert WRITERS[name](folder.path).read_bytes() == first
    assert b"\r" not in first
    assert first.endswith(b"\n")


def test_a_draft_that_is_refused_never_takes_the_place_of_the_file(tmp_path):
    target = tmp_path / "a.txt"
    target.write_text("old")
    seen = []

    def refuse(draft):
        seen.append((draft.parent, draft.read_text(encoding="utf-8"), target.read_text()))
        raise UsageError("no")

    with pytest.raises(UsageError, match="no"):
        write_whole(target, "new é\n", refuse)
    assert seen == [(tmp_path, "new é\n", "old")]
    assert everything_in(tmp_path) == {"a.txt": b"old"}


@pytest.fixture
def filled(tmp_path):
    """A folder with a file, one in a folder of its own, and a link."""
    target = tmp_path / "site"
    (target / "deep" / "er").mkdir(parents=True)
    (target / "a.txt").write_text("old a")
    (target / "deep" / "er" / "b.txt").write_text("old b")
    (target / "link").symlink_to("a.txt")
    return target


def test_what_a_draft_changes_takes_the_place_of_the_folder_and_the_rest_is_carried_over(filled):
    with draft_of(filled) as draft:
        assert draft.parent == filled.parent
        write(draft, "a.txt", "new a")
        write(draft, "new/c.bin", b"\x00\xff")
        assert (filled / "a.txt").read_text() == "old a"
    assert (filled / "a.txt").read_text() == "new a"
    assert (filled / "deep/er/b.txt").read_text() == "old b"
    assert (filled / "new/c.bin").read_bytes() == b"\x00\xff"
    assert os.readlink(filled / "link") == "a.txt"
    assert [path.name for path in filled.parent.iterdir()] == ["site"]
    assert filled.stat().st_mode & 0o777 == 0o755


def draft_and(target, then):
    """Draft another a.txt, and do something before the draft is put into place."""
    with draft_of(target) as draft:
        write(draft, "a.txt", "half")
        then()


@pytest.mark.parametrize("error", [RuntimeError("bad"), KeyboardInterrupt(), OSError(28, "full")])
def test_a_draft_that_is_given_up_leaves_the_folder_as_it_was(filled, error):
    before = everything_in(filled.parent)
    told = UsageError if isinstance(error, OSError) else type(error)
    with pytest.raises(told):
        draft_and(filled, failing(error))
    assert everything_in(filled.parent) == before


@pytest.mark.parametrize("fails_at", [1, 2])
def test_whichever_of_its_two_steps_fails_the_old_folder_is_whole(filled, monkeypatch, fails_at):
    """The old folder steps aside, then the draft takes its place; a third step puts it back."""
    before = everything_in(filled.parent)
    real, calls = os.replace, []

    def replace(*paths):
        calls.append(paths)
        if len(calls) == fails_at:
            raise READ_ONLY
        real(*paths)

    monkeypatch.setattr(drafts.os, "replace", replace)
    with pytest.raises(UsageError, match="cannot be written: Read-only file system"):
        draft_and(filled, tuple)
    assert everything_in(filled.parent) == before
    assert len(calls) == {1: 1, 2: 3}[fails_at]


def test_a_folder_that_filled_while_an_empty_one_was_drafted_stays_as_it_is(tmp_path):
    target = tmp_path / "site"

    def fill():
        target.mkdir()
        (target / "b.txt").write_text("theirs")

    with pytest.raises(UsageError, match="cannot be written: Directory not empty"):
        draft_and(target, fill)
    assert everything_in(tmp_path) == {"site": None, "site/b.txt": b"theirs"}


@pytest.mark.parametrize("what", ["mkdtemp", "copytree"])
def test_a_folder_that_cannot_be_copied_is_told_and_stays(filled, monkeypatch, what):
    before = everything_in(filled.parent)
    module = tempfile if what == "mkdtemp" else shutil
    monkeypatch.setattr(module, what, failing(READ_ONLY))
    with pytest.raises(UsageError, match="cannot be written: Read-only"), draft_of(filled):
        pytest.fail("nothing is drafted")
    monkeypatch.undo()
    assert everything_in(filled.parent) == before


def test_the_folders_above_a_new_one_are_made(tmp_path):
    with draft_of(tmp_path / "a" / "b" / "site") as draft:
        write(draft, "x/y/z.txt", "text é")
    assert (tmp_path / "a/b/site/x/y/z.txt").read_bytes() == "text é".encode()


ANSWERS = Answers("Invented mill", 1, 10, 10, 1, "corner")


@pytest.mark.parametrize(
    ("place", "told"),
    [
        ("taken", "taken exists and is not a folder"),
        ("taken/site", "cannot be written: (File exists|Not a directory)"),
        ("link", "link exists and is not a folder"),
        ("nowhere", "nowhere exists and is not a folder"),
        ("..", "'..' cannot be the name of a site folder"),
        ("a~b", "'a~b' cannot be the name of a site folder"),
        ("a\x07b", r"'a\\x07b' cannot be the name of a site folder"),
        ("\u202eb", r"'\\u202eb' cannot be the name of a site folder"),
        ("x" * 65, "cannot be the name of a site folder"),
    ],
)
def test_a_new_site_is_not_put_where_something_is_or_nothing_can_be(tmp_path, place, told):
    (tmp_path / "taken").write_text("mine")
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    (tmp_path / "nowhere").symlink_to("missing")
    before = everything_in(tmp_path)
    with pytest.raises(UsageError, match=told):
        new_site(tmp_path / place, ANSWERS)
    assert everything_in(tmp_path) == before
