"""What is finished stays finished: whatever ends a run, the next one goes on with the same answer.

Expected figures are those of the same study played in one go and kept nowhere.
"""

import json
import os
import sqlite3
import subprocess
import sys
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.draws import STREAM_VERSION
from resilience.errors import RunError
from resilience.lifetime.tally import COLUMNS, PackedRows, SensorSums, Tally
from resilience.montecarlo.runs import ledger as ledgers
from resilience.montecarlo.runs import manifest
from resilience.montecarlo.runs.ledger import Ledger
from resilience.montecarlo.runs.manifest import digest_of, open_run, read_manifest, write_manifest
from resilience.montecarlo.runs.running import (
    INTERRUPTED,
    OUT_OF_TIME,
    REACHED,
    Budget,
    Undertaking,
    played,
)

LIFETIMES = 44  # of each layout: 1, 2, 4, 8 and 7 building draws by one worker


@pytest.fixture(scope="module")
def undertaking(site):
    return Undertaking(site, site.layouts, seed=7, count_site_outages=False)


def as_values(tally):
    rows = tally.rows.tolist()
    return (tally.first, rows, tally.sensors, dict(tally.blame_ms), dict(tally.began))


@pytest.fixture
def at_once(undertaking, workshop):
    """What is found where nothing cuts it, and all are played by layouts that are made up."""
    found = [as_values(tally) for tally in played(undertaking, Budget(LIFETIMES)).tallies]
    workshop.pieces.clear()
    return found


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "run"


def go(undertaking, folder, budget=None, **options):
    with open_run(folder, undertaking) as ledger:
        write_manifest(folder, undertaking, {})
        return played(replace(undertaking, ledger=ledger), budget or Budget(LIFETIMES), **options)


def stopping(after):
    """Progress that interrupts after so many reports."""
    reports = iter(range(1, 1000))

    def told(done, to_do):
        if next(reports) == after:
            raise KeyboardInterrupt

    return told


def made_tally(first=4, n=2):
    """Numbers that floats and 64 bits cannot hold, and ids that text formats stumble over."""
    rows = np.arange(n * len(COLUMNS), dtype=np.int64).reshape(n, -1) * (2**62 // 720)
    ids = ('q"uote', "007", "a,b\n", "Zähler ☃", "")
    sensors = {("orphan_ms", id): SensorSums(2**53 + 1, 3**90 + k) for k, id in enumerate(ids)}
    blame_ms = Counter({("hardware", ids[0]): 2**63 - 1, ("layout", ""): 0})
    return Tally(first, rows, sensors, blame_ms, Counter({("radio draw", ""): 3}))


def test_a_tally_comes_back_as_it_went_in(folder):
    with Ledger.open(folder, "x") as ledger:
        ledger.keep("a", made_tally())
    with Ledger.open(folder, "x") as ledger:
        back = ledger.tally("a", 4, 2)
    assert as_values(back) == as_values(made_tally())
    assert back.rows.dtype == np.int64
    assert isinstance(back.blame_ms, Counter)


def test_packed_rows_are_kept_as_plain_ones_are(folder, undertaking, workshop):
    whole = played(undertaking, Budget(20)).tallies[0]
    assert isinstance(whole.rows, PackedRows)
    with Ledger.open(folder, "x") as ledger:
        ledger.keep("a", whole)
        assert as_values(ledger.tally("a", 0, 20)) == as_values(whole)


def test_only_the_very_piece_asked_for_is_found(folder):
    with Ledger.open(folder, "x") as ledger:
        ledger.keep("a", made_tally(4))
        asked = [("a", 4, 2), ("a", 4, 8), ("a", 6, 2), ("A", 4, 2), ("b", 4, 2)]
        assert [ledger.tally(*one) is not None for one in asked] == [True, *[False] * 4]
        assert (ledger.n_lifetimes("a"), ledger.n_lifetimes("b")) == (2, 0)


def spans(folder, undertaking):
    """First lifetime and number of every piece that is kept, by layout."""
    with open_run(folder, undertaking):
        pass
    with sqlite3.connect(folder / ledgers.FILE) as database:
        rows = database.execute("SELECT layout, first, lifetimes FROM pieces").fetchall()
    database.close()
    return {
        layout.name: sorted((first, n) for name, first, n in rows if name == layout.name)
        for layout in undertaking.layouts
    }


def overlapping(pieces):
    return any(first + n > after for (first, n), (after, _) in pairwise(pieces))


@pytest.mark.usefixtures("workshop")
@pytest.mark.parametrize("way", [(1, 1, 4), (1, 2, 5), (2, 1, 6), (2, 3, 5), (3, 2, 7)])
def test_an_interrupted_run_goes_on_and_plays_nothing_twice(
    undertaking, folder, workshop, at_once, way
):
    """With so many workers first, so many later, and in between a round of all workers at least."""
    first_workers, workers, pieces = way
    cut = go(undertaking, folder, workers=first_workers, progress=stopping(pieces))
    n_before = len(workshop.pieces)
    rest = go(undertaking, folder, workers=workers)
    assert cut.stopped_because == INTERRUPTED
    assert rest.stopped_because == REACHED
    assert [as_values(tally) for tally in rest.tallies] == at_once
    assert 0 < n_before < len(workshop.pieces)
    kept = spans(folder, undertaking)
    assert not any(overlapping(one) for one in kept.values())
    assert all(sum(n for _, n in one) == LIFETIMES for one in kept.values())
    if first_workers == 1:  # several may be at pieces that the interrupt then throws away
        assert sum(n for *_, n in workshop.pieces) == 2 * LIFETIMES


DRAWS = st.lists(st.tuples(st.integers(1, 9), st.booleans()), max_size=12)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(held=st.tuples(DRAWS, DRAWS), numbers=st.tuples(st.integers(1, 3), st.integers(1, 22)))
def test_any_pieces_are_gone_on_from(undertaking, new_workshop, tmp_path_factory, held, numbers):
    """A ledger may hold pieces of any size with any gaps, and be asked for less before more."""
    workers, short = numbers
    folder = tmp_path_factory.mktemp("any") / "run"
    with pytest.MonkeyPatch.context() as patched:
        shop = new_workshop(patched)
        n_held = 0
        with open_run(folder, undertaking) as ledger:
            write_manifest(folder, undertaking, {})
            for layout, pieces in zip(undertaking.layouts, held, strict=True):
                first, stage = 0, shop.stage(undertaking.site, layout, undertaking.seed)
                for draws, is_held in pieces:
                    if is_held and first + 2 * draws <= 44:
                        ledger.keep(layout.name, stage.tally(first, 2 * draws))
                        n_held += 2 * draws
                    first += 2 * draws
        found = go(undertaking, folder, Budget(2 * short), workers=workers)
        whole = played(undertaking, Budget(2 * short)).tallies
        assert [as_values(one) for one in found.tallies] == [as_values(one) for one in whole]
        shop.pieces.clear()
        found = go(undertaking, folder, Budget(44), workers=workers)
        n_played = sum(n for *_, n in shop.pieces)
        whole = played(undertaking, Budget(44)).tallies
        assert [as_values(one) for one in found.tallies] == [as_values(one) for one in whole]
        assert n_played <= 2 * 44 - n_held
        kept = spans(folder, undertaking)
        assert not any(overlapping(one) for one in kept.values())
        assert all(sum(n for _, n in one) == 44 for one in kept.values())


def test_a_piece_that_overlaps_a_finished_one_is_not_kept(folder):
    with Ledger.open(folder, "x") as ledger:
        for first, n in [(8, 8), (8, 4), (12, 4), (6, 4), (14, 4), (0, 40), (10, 2)]:
            ledger.keep("a", made_tally(first, n))
        assert ledger.n_lifetimes("a") == 8
        for first, n in [(16, 2), (6, 2), (0, 6)]:  # they only touch
            ledger.keep("a", made_tally(first, n))
        assert ledger.n_lifetimes("a") == 18
        ledger.keep("b", made_tally(8, 8))  # another layout
        assert ledger.n_lifetimes("b") == 8


def test_a_finished_run_is_told_again_without_playing_or_preparing_anything(
    undertaking, folder, at_once, monkeypatch
):
    go(undertaking, folder)
    monkeypatch.setattr("resilience.montecarlo.runs.running.Stage", None)  # calling it would fail
    again = go(undertaking, folder, Budget(LIFETIMES, seconds=0.0))
    assert [as_values(tally) for tally in again.tallies] == at_once
    assert again.stopped_because == REACHED


def test_time_that_is_used_up_again_leaves_what_a_run_had_reached(undertaking, folder, workshop):
    """It is allowed 100 s, then none, then all the time it needs."""
    workshop.draw_s = {"a": 15.0, "b": 15.0}
    cut = go(undertaking, folder, Budget(LIFETIMES, 100.0, workshop.clock))
    assert (cut.stopped_because, cut.tallies[0].n_lifetimes) == (OUT_OF_TIME, 6)
    n_before = len(workshop.pieces)
    same = go(undertaking, folder, Budget(LIFETIMES, 0.0, workshop.clock))
    assert [as_values(one) for one in same.tallies] == [as_values(one) for one in cut.tallies]
    assert len(workshop.pieces) == n_before == 7  # the last one waits for its fellow
    go(undertaking, folder, Budget(LIFETIMES, 10_000.0, workshop.clock))
    assert sum(n for *_, n in workshop.pieces) == 2 * LIFETIMES


def test_pieces_that_finished_before_their_round_are_kept(
    undertaking, folder, workshop, at_once, monkeypatch
):
    """The power fails in the second round, with one of its two layouts finished."""
    failing = [("b", 2)]

    def stage(*what):
        made = workshop.stage(*what)
        tally = made.tally

        def failed(first, n):
            if (made.layout.name, first) in failing:
                raise ZeroDivisionError
            return tally(first, n)

        made.tally = failed
        return made

    monkeypatch.setattr("resilience.montecarlo.runs.running.Stage", stage)
    with pytest.raises(ZeroDivisionError):
        go(undertaking, folder)
    assert workshop.pieces == [("a", 0, 2), ("b", 0, 2), ("a", 2, 4)]
    failing.clear()
    rest = go(undertaking, folder)
    assert [as_values(tally) for tally in rest.tallies] == at_once
    assert workshop.pieces[3][:2] == ("b", 2)
    assert sum(n for *_, n in workshop.pieces) == 2 * LIFETIMES


def test_a_longer_study_goes_on_from_a_shorter_one(undertaking, folder, workshop, at_once):
    go(undertaking, folder, Budget(24))
    found = go(undertaking, folder)
    assert [as_values(tally) for tally in found.tallies] == at_once
    assert sum(n for *_, n in workshop.pieces) == 2 * LIFETIMES


def test_either_engine_goes_on_from_the_other(undertaking, folder):
    go(replace(undertaking, engine="reference"), folder, Budget(8))
    whole = played(undertaking, Budget(16)).tallies
    found = go(undertaking, folder, Budget(16)).tallies
    assert [as_values(one) for one in found] == [as_values(one) for one in whole]


def test_a_study_without_a_ledger_writes_nothing(undertaking, workshop, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    played(undertaking, Budget(4))
    assert not list(tmp_path.iterdir())


def test_a_digest_follows_everything_that_decides_a_lifetime(undertaking, small_site, monkeypatch):
    site = undertaking.site
    others = [
        replace(undertaking, seed=8),
        replace(undertaking, count_site_outages=True),
        replace(undertaking, layouts=undertaking.layouts[:1]),
        replace(undertaking, site=replace(site, horizon_years=0.03)),
        replace(undertaking, site=replace(site, hand_over=date(2031, 1, 1))),
        replace(undertaking, site=site.with_setting("hazards.link_blockage", False)),
    ]
    digests = {digest_of(one) for one in (undertaking, *others)}
    assert len(digests) == 1 + len(others)
    assert digest_of(replace(undertaking, engine="reference")) == digest_of(undertaking)
    for name in ("STREAM_VERSION", "code_digest"):
        with monkeypatch.context() as patched:
            patched.setattr(manifest, name, 99 if name == "STREAM_VERSION" else lambda: "other")
            assert digest_of(undertaking) not in digests


def test_runs_of_different_seeds_do_not_mix(undertaking, folder, at_once):
    go(undertaking, folder)
    with pytest.raises(RunError, match=r"differs from this one in seed, .*--fresh starts over"):
        go(replace(undertaking, seed=8), folder)
    (folder / manifest.FILE).unlink()  # the ledger knows as well
    with pytest.raises(RunError, match=r"another seed or another version.*--fresh starts over"):
        go(replace(undertaking, seed=8), folder)
    assert [as_values(tally) for tally in go(undertaking, folder).tallies] == at_once


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("format", 2, "is of format 2"),
        ("stream_version", STREAM_VERSION + 1, "differs from this one in stream version"),
        ("version", "9.9.9", "differs from this one in version"),
        ("code", "0" * 16, "differs from this one in sources of the program"),
        ("inputs", {}, "differs from this one in site or layouts"),
    ],
)
def test_a_run_of_another_version_is_refused_and_says_what_differs(
    undertaking, folder, key, value, told
):
    go(undertaking, folder, Budget(2))
    path = folder / manifest.FILE
    path.write_text(json.dumps(read_manifest(folder) | {key: value}), encoding="utf-8")
    with pytest.raises(RunError, match=rf"{told}.*--fresh starts over"):
        go(undertaking, folder, Budget(2))


@pytest.mark.usefixtures("workshop")
def test_a_ledger_of_another_format_is_refused(undertaking, folder):
    go(undertaking, folder, Budget(2))
    with sqlite3.connect(folder / ledgers.FILE) as other:
        other.execute("PRAGMA user_version = 1")
    other.close()
    with pytest.raises(RunError, match=r"is of format 1, .*--fresh starts over"):
        go(undertaking, folder, Budget(2))


def spoil_all(path):
    path.write_bytes(b"no database at all, " * 500)


def spoil_pages(path):
    whole = path.read_bytes()
    path.write_bytes(whole[:4096] + b"\xff" * (len(whole) - 4096))


def spoil_end(path):
    path.write_bytes(path.read_bytes()[:5000])


def spoil_pieces(path):
    """Flip one bit of every tally: the database itself stays sound."""
    with sqlite3.connect(path) as database:
        for row, blob in database.execute("SELECT rowid, tally FROM pieces").fetchall():
            flipped = blob[:40] + bytes([blob[40] ^ 4]) + blob[41:]
            database.execute("UPDATE pieces SET tally = ? WHERE rowid = ?", (flipped, row))
    database.close()


@pytest.mark.usefixtures("workshop")
@pytest.mark.parametrize("spoil", [spoil_all, spoil_pages, spoil_end, spoil_pieces])
def test_a_damaged_ledger_is_an_error_that_says_what_to_do(undertaking, folder, spoil):
    go(undertaking, folder)
    spoil(folder / ledgers.FILE)
    with pytest.raises(RunError, match=r"is damaged .*--fresh starts over"):
        go(undertaking, folder)


@pytest.mark.usefixtures("workshop")
@pytest.mark.parametrize("text", ["", '{"format": 1, "dig', "[]", "\x00\xff"])
def test_a_damaged_manifest_is_an_error_that_says_what_to_do(undertaking, folder, text):
    go(undertaking, folder, Budget(2))
    (folder / manifest.FILE).write_text(text, encoding="utf-8")
    with pytest.raises(RunError, match=r"manifest.json is damaged .*--fresh starts over"):
        go(undertaking, folder, Budget(2))


@pytest.mark.usefixtures("workshop")
@pytest.mark.parametrize("is_emptied", [True, False])
def test_a_run_that_lost_its_ledger_is_not_taken_for_a_new_one(undertaking, folder, is_emptied):
    go(undertaking, folder, Budget(2))
    (folder / ledgers.FILE).write_bytes(b"") if is_emptied else (folder / ledgers.FILE).unlink()
    with pytest.raises(RunError, match=r"has lost its ledger; --fresh starts over"):
        go(undertaking, folder, Budget(2))


def test_a_run_killed_before_its_first_piece_begins_anew(undertaking, folder, at_once):
    folder.mkdir()
    (folder / ledgers.FILE).touch()
    assert [as_values(tally) for tally in go(undertaking, folder).tallies] == at_once


def test_a_folder_that_holds_other_things_is_left_alone(undertaking, folder):
    folder.mkdir()
    (folder / "letter.txt").write_text("dear owner", encoding="utf-8")
    with pytest.raises(RunError, match=r"holds other things than a run; .*--keep"):
        go(undertaking, folder)
    assert [path.name for path in folder.iterdir()] == ["letter.txt"]


def test_a_full_disk_ends_a_run_and_what_was_finished_stays(
    undertaking, folder, workshop, monkeypatch
):
    """SQLITE_FULL of the database itself, which may not grow (sqlite.org, max_page_count)."""
    keep = Ledger.keep

    def on_a_small_disk(self, layout, tally):
        self._connection.execute("PRAGMA max_page_count = 10")
        keep(self, layout, tally)

    workshop.draw_s = {"a": 0.25, "b": 0.25}  # four building draws take a second
    budget = Budget(240, 600.0, workshop.clock)
    with monkeypatch.context() as patched:
        patched.setattr(Ledger, "keep", on_a_small_disk)
        with pytest.raises(RunError, match=r"is full.*what is finished there stays.*--no-keep"):
            go(undertaking, folder, budget)
    n_played = sum(n for *_, n in workshop.pieces)
    with open_run(folder, undertaking) as ledger:
        n_finished = sum(ledger.n_lifetimes(layout.name) for layout in undertaking.layouts)
        assert n_finished == n_played - workshop.pieces[-1][2] > 0
        assert ledger.tally("a", 0, 2).n_lifetimes == 2
    lost = workshop.pieces[-1]
    whole = [as_values(tally) for tally in go(undertaking, folder, budget).tallies]
    assert sum(n for *_, n in workshop.pieces) == 2 * 240 + lost[2]  # no room for it: once more
    assert whole == [as_values(tally) for tally in played(undertaking, budget).tallies]


@pytest.mark.usefixtures("workshop")
def test_a_manifest_that_cannot_be_written_is_an_error_and_leaves_the_old_one(
    undertaking, folder, monkeypatch
):
    go(undertaking, folder, Budget(2))
    before = read_manifest(folder)

    def full(self, *_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_text", full)
    with pytest.raises(RunError, match=r"No space left on device.*--no-keep"):
        write_manifest(folder, undertaking, {"new": 1})
    assert read_manifest(folder) == before


AS_NOBODY = """
import os, sys
from pathlib import Path
from resilience.errors import RunError
from resilience.montecarlo.runs.ledger import Ledger
if os.geteuid() == 0:
    os.seteuid(65534)  # root may write everywhere
try:
    Ledger.open(Path(sys.argv[1]), "x")
except RunError as error:
    print(error)
"""


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="there is no such right here")
@pytest.mark.parametrize("is_begun", [True, False])
def test_a_read_only_folder_is_an_error_that_says_what_to_do(folder, is_begun):
    folder.mkdir()
    if is_begun:
        Ledger.open(folder, "x").__exit__(None, None, None)
    for path in (*folder.iterdir(), folder):
        path.chmod(0o555 if path is folder else 0o444)
    for above in folder.parents[:3]:
        above.chmod(above.stat().st_mode | 0o011)
    try:
        told = subprocess.run(
            [sys.executable, "-c", AS_NOBODY, str(folder)],
            capture_output=True,
            encoding="utf-8",
            check=True,
        ).stdout
    finally:
        folder.chmod(0o755)
    assert "the run cannot be kept in" in told
    assert "choose another folder with --keep, or --no-keep" in told


def test_a_folder_below_a_file_is_an_error(undertaking, tmp_path):
    (tmp_path / "file").touch()
    for folder in (tmp_path / "file", tmp_path / "file" / "run"):
        with pytest.raises(RunError, match=r"--keep"):
            open_run(folder, undertaking)


def test_runs_that_begin_the_same_folder_at_once_share_it(folder):
    def opened(number):
        with Ledger.open(folder, "x") as ledger:
            ledger.keep("a", made_tally(2 * number))

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(opened, range(16)))
    with Ledger.open(folder, "x") as ledger:
        assert ledger.n_lifetimes("a") == 32


@pytest.mark.usefixtures("workshop")
def test_the_manifest_says_what_made_the_run(undertaking, folder):
    go(undertaking, folder, Budget(2))
    found = read_manifest(folder)
    assert found["digest"] == digest_of(undertaking)
    assert (found["format"], found["seed"], found["stream_version"]) == (1, 7, STREAM_VERSION)
    assert found["site_outages_counted"] is False
    inputs = found["inputs"]
    assert inputs["hazards"]["hardware"]["mttf_h"] == 400.0  # as the fixture states it
    assert [layout["name"] for layout in inputs["layouts"]] == ["a", "b"]
    assert [one["id"] for one in inputs["layouts"][0]["devices"]] == [
        *("g1", "s1", "s2", "s3", "s4", "s5")
    ]
    assert inputs["hand_over"] == "2030-01-01"
