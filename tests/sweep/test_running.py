"""A portfolio is played in any order, cut anywhere, and comes out the same."""

import csv
import sqlite3
from dataclasses import replace

import pytest

from resilience.building.files.folder import read_site
from resilience.building.files.policies import read_policy
from resilience.errors import RunError
from resilience.montecarlo.runs.folders import alone_in
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, Budget
from resilience.policy.judging import judge
from resilience.sweep import course
from resilience.sweep.crew import KillsError
from resilience.sweep.orders import carried_out

pytestmark = pytest.mark.usefixtures("made_up")


def rows(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def in_two_parts(order):
    """Play no more than half of what is asked for, and so no score."""
    spans = tuple((first, max(2, n // 4 * 2)) for first, n in order.spans[:1])
    return carried_out(replace(order, spans=spans))


def test_pieces_of_any_size_in_any_order_make_the_same_tables(
    top, score_all, crew_here, tables, tmp_path
):
    score_all(top, "whole")
    slow = crew_here(in_two_parts, n_wanted=5)
    score_all(top, "cut", crew=slow)
    assert len(slow.orders) > 6
    assert tables(tmp_path / "cut") == tables(tmp_path / "whole")


def test_tags_stand_in_the_tables_and_a_new_one_lets_nothing_be_played_again(
    top, score_all, crew_here, tmp_path
):
    score_all(top)
    path = top / "a/site.yaml"
    path.write_text(f"{path.read_text(encoding='utf-8')}tags: old, of brick\n", encoding="utf-8")
    again = crew_here()
    found, _ = score_all(top, crew=again)
    assert [span for order in again.orders for span in order.spans] == []
    assert found.standings["a"].score.tags == ("old", "of brick")
    tags = {row["site"]: row["tags"] for row in rows(tmp_path / "run/sites.csv")}
    assert tags == {"a": "old, of brick", "north/b": "", "north/c": ""}


def test_a_site_says_what_judge_says_of_it(top, score_all, monkeypatch):
    monkeypatch.undo()  # these lifetimes are played
    found, _ = score_all(top, lifetimes=8, only=("a",))
    site = read_site(top / "a")
    alone = judge(site, read_policy(top / "a", site), 3, Budget(8, 1e9))
    score = found.standings["a"].score
    for layout in score.layouts:
        said = alone.of_layout(layout.name)
        assert layout.lifetimes == said.study.n_lifetimes == 8
        assert layout.breach.mean == said.broken.mean
        assert layout.verdict == said.verdict
        assert layout.hours.mean == said.study.orphan_hours_without_outages.mean
    assert score.promise == "own"


def test_nothing_finished_is_played_again_and_more_lifetimes_play_only_those(
    top, score_all, crew_here, tables, tmp_path
):
    score_all(top)
    before, idle = tables(tmp_path / "run"), crew_here()
    _, told = score_all(top, crew=idle)
    assert (idle.orders, told.played, len(told.kept)) == ([], [], 3)
    assert tables(tmp_path / "run") == before
    more = crew_here()
    score_all(top, lifetimes=24, crew=more)
    assert {span for order in more.orders for span in order.spans} == {(16, 8)}
    score_all(top, "other", lifetimes=24)
    assert tables(tmp_path / "run") == tables(tmp_path / "other")
    fewer = crew_here()
    score_all(top, lifetimes=16, crew=fewer)
    assert fewer.orders == []
    assert tables(tmp_path / "run") == before


def test_fewer_lifetimes_than_a_finished_piece_are_played_anew(top, score_all, tables, tmp_path):
    score_all(top, lifetimes=24)
    score_all(top, lifetimes=16)
    score_all(top, "other", lifetimes=16)
    assert tables(tmp_path / "run") == tables(tmp_path / "other")


@pytest.mark.parametrize("n_answers", [0, 2])
def test_an_interrupted_run_goes_on_to_the_same_bytes(
    top, score_all, crew_here, tables, tmp_path, n_answers
):
    left = iter(range(n_answers))

    def stops(order):
        if next(left, None) is None:
            raise KeyboardInterrupt
        return in_two_parts(order)

    found, _ = score_all(top, crew=crew_here(stops))
    assert found.stopped_because == INTERRUPTED
    assert len(found.not_reached) >= 1
    score_all(top)
    score_all(top, "whole")
    assert tables(tmp_path / "run") == tables(tmp_path / "whole")


def test_a_changed_site_is_played_anew_and_the_others_are_not(
    top, score_all, write_site, crew_here
):
    score_all(top)
    write_site(top / "a", 600, "Invented a")
    again = crew_here()
    _, told = score_all(top, crew=again)
    assert told.played == ["a"]
    assert sorted(told.kept) == ["north/b", "north/c"]


def test_a_site_in_service_says_from_when_its_lifetimes_start(top, score_all):
    main = top / "a/site.yaml"
    with main.open("a", encoding="utf-8") as stream:
        stream.write("calendar: {hand_over: 2030-01-01, today: 2033-05-01}\n")
    (top / "a/state.csv").write_text("id,in_service_since\nS1,2031-02-03\n", encoding="utf-8")
    found, _ = score_all(top, only=("a", "north/b"))
    starts = {id: one.score.starts for id, one in found.standings.items()}
    assert starts == {"a": "as of 2033-05-01", "north/b": "as if new"}


def test_a_site_that_changes_while_others_are_played_counts_as_it_was_checked(
    top, score_all, crew_here, write_site, tables, tmp_path
):
    score_all(top, "calm")

    def changing(order):
        write_site(top / "north/b", 1)
        (top / "north/c/site.yaml").unlink(missing_ok=True)
        return carried_out(order)

    score_all(top, crew=crew_here(changing))
    assert tables(tmp_path / "run") == tables(tmp_path / "calm")


def test_twins_share_their_lifetimes_and_each_has_its_score(top, score_all, write_site, crew_here):
    write_site(top / "twin", 500, "Invented a")
    found, told = score_all(top, crew=crew_here(in_two_parts))
    assert sorted(told.played) == ["a", "north/b", "north/c", "twin"]
    first, twin = (found.standings[id].score for id in ("a", "twin"))
    assert replace(twin, id="a") == first


def test_a_bad_site_is_reported_and_does_not_sink_the_rest(top, score_all, tmp_path):
    (top / "bad").mkdir()
    (top / "bad/site.yaml").write_text("format: 1\nnmae: x\n", encoding="utf-8")
    found, told = score_all(top)
    assert sorted(told.played) == ["a", "north/b", "north/c"]
    (failure,) = rows(tmp_path / "run/failures.csv")
    assert failure["site"] == "bad"
    assert "nmae" in failure["reason"]
    assert failure["to_see_it"] == f"resilience check {top / 'bad'}"
    assert [one.id for one in found.failures] == ["bad"]


def test_a_site_that_kills_is_tried_alone_and_then_named(top, score_all, crew_here):
    def deadly(order):
        if b"north/b" in course.Asked.unpacked(order.asked).id.encode():
            return KillsError("dead")
        return carried_out(order)

    crew = crew_here(deadly)
    found, told = score_all(top, crew=crew)
    assert sorted(told.played) == ["a", "north/c"]
    (failure,) = found.failures
    assert (failure.id, failure.was_played) == ("north/b", True)
    assert "died" in failure.reason
    tried = [course.Asked.unpacked(order.asked).id for order in crew.orders]
    assert tried.count("north/b") == 2
    assert tried[-1] == "north/b"


def test_whatever_goes_wrong_with_a_site_is_its_own(top, score_all, crew_here):
    def faulty(order):
        if course.Asked.unpacked(order.asked).id == "a":
            raise ZeroDivisionError("a fault of ours")
        return carried_out(order)

    found, told = score_all(top, crew=crew_here(faulty))
    assert sorted(told.played) == ["north/b", "north/c"]
    assert found.failures[0].reason == "ZeroDivisionError: a fault of ours"


def test_a_process_with_other_sources_plays_nothing(top, score_all, crew_here):
    crew = crew_here(lambda order: carried_out(replace(order, code="another")))
    found, _ = score_all(top, crew=crew)
    assert len(found.failures) == 3
    assert "another version of this program" in found.failures[0].reason


def test_spare_time_goes_to_the_undecided_until_it_is_up(top, score_all, crew_here):
    left_s = iter([100.0] * 12)
    found, _ = score_all(top, lifetimes=64, left_s=lambda: next(left_s, 0.0))
    assert found.stopped_because == OUT_OF_TIME
    n_played = [one.lifetimes for one in found.standings.values()]
    assert max(n_played) > 64
    assert min(n_played) >= 64


def test_when_time_is_up_what_was_not_reached_is_told(top, score_all, crew_here):
    left_s = iter([100.0] * 2)
    found, _ = score_all(top, left_s=lambda: next(left_s, 0.0))
    assert found.stopped_because == OUT_OF_TIME
    assert found.not_reached


def test_one_run_at_a_time_uses_a_folder(tmp_path):
    another = pytest.raises(RunError, match="another run is under way")
    with alone_in(tmp_path / "run"), another, alone_in(tmp_path / "run"):
        pass
    with alone_in(tmp_path / "run"):
        pass


def test_a_ledger_of_another_format_or_cut_short_is_refused_and_left_as_it_is(
    top, score_all, tmp_path
):
    score_all(top)
    ledger = tmp_path / "run/ledger.sqlite"
    with sqlite3.connect(ledger) as connection:
        connection.execute("PRAGMA user_version = 99")
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()
    with pytest.raises(RunError, match=r"format 99.*--fresh"):
        score_all(top)
    whole = ledger.read_bytes()
    ledger.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(RunError, match="--fresh"):
        score_all(top)
    assert len(ledger.read_bytes()) == len(whole) // 2


def test_a_full_disk_ends_the_run_and_what_is_finished_counts_afterwards(
    top, score_all, crew_here, tables, tmp_path, monkeypatch
):
    """The database may not grow any further, as on a disk that is full."""
    from resilience.montecarlo.runs.ledger import Ledger

    def keep(self, pieces, n_kept=[]):  # noqa: B006 - counts over calls
        n_kept.append(1)
        if len(n_kept) == 3:  # two pieces are of the first site
            self._connection.execute("PRAGMA max_page_count = 1")
        whole(self, pieces)

    whole = Ledger.keep_packed
    with monkeypatch.context() as patched:
        patched.setattr(Ledger, "keep_packed", keep)
        with pytest.raises(RunError, match=r"full.*what is finished there stays"):
            score_all(top, lifetimes=64)
    _, told = score_all(top, lifetimes=64)
    assert len(told.kept) == 1
    score_all(top, "calm", lifetimes=64)
    assert tables(tmp_path / "run") == tables(tmp_path / "calm")


def test_results_that_cannot_be_written_end_the_run_and_lose_nothing(top, score_all, tmp_path):
    (tmp_path / "run").mkdir()
    (tmp_path / "run/sites").write_text("in the way", encoding="utf-8")
    with pytest.raises(RunError, match="cannot be written"):
        score_all(top)
    (tmp_path / "run/sites").unlink()
    _, told = score_all(top)
    assert len(told.kept) == 1


def test_memory_holds_orders_of_a_few_sites_however_many_there_are(top, score_all, crew_here):
    for k in range(20):
        (top / f"copy-{k}").symlink_to(top / "a")  # links are not followed: no site twice
    crew = crew_here(n_wanted=2)
    most = 0

    def counted(order):
        nonlocal most
        most = max(most, len(crew) + 1)
        return carried_out(order)

    crew._carry_out = counted
    found, _ = score_all(top, crew=crew)
    assert most <= 2
    assert len(found.found) == 3
