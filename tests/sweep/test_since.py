"""A run goes on from an earlier one, which stays as it is."""

import os
import shutil
import sqlite3

import pytest

from resilience.errors import RunError, UsageError
from resilience.montecarlo.runs.ledger import Ledger
from resilience.sweep.course import Asked
from resilience.sweep.kept.earlier import Run, refuse_others

pytestmark = pytest.mark.usefixtures("made_up")


def played(crew) -> set[str]:
    return {Asked.unpacked(order.asked).id for order in crew.orders if any(order.spans)}


def test_only_what_has_changed_is_played_and_all_sites_are_ranked_as_if_all_had_been(
    top, score_all, write_site, crew_here, tables, tmp_path
):
    score_all(top, "then")
    before = (tmp_path / "then/ledger.sqlite").read_bytes()
    write_site(top / "a", 600, "Invented a")
    write_site(top / "d", 700, "Invented d")
    shutil.rmtree(top / "north/c")
    crew = crew_here()
    with Ledger.open_to_read(tmp_path / "then", "many") as earlier:
        found, _ = score_all(top, "now", crew=crew, since=earlier)
    assert played(crew) == {"a", "d"}
    since = found.portfolio().since
    assert (since.run, since.taken_over) == (str(tmp_path / "then"), ("north/b",))
    score_all(top, "whole")
    assert tables(tmp_path / "now") == tables(tmp_path / "whole")
    assert (tmp_path / "then/ledger.sqlite").read_bytes() == before
    again = crew_here()
    with Ledger.open_to_read(tmp_path / "then", "many") as earlier:
        found, _ = score_all(top, "now", crew=again, since=earlier)
    assert again.orders == []
    assert found.portfolio().since == since


def test_of_a_site_that_is_as_it_was_only_the_lifetimes_that_are_lacking_are_played(
    top, score_all, crew_here, tables, tmp_path
):
    score_all(top, "then", lifetimes=16)
    crew = crew_here()
    with Ledger.open_to_read(tmp_path / "then", "many") as earlier:
        found, _ = score_all(top, "now", lifetimes=24, crew=crew, since=earlier)
    assert {span for order in crew.orders for span in order.spans} == {(16, 8)}
    assert (found.taken_over, found.gone_on) == ([], ["a", "north/b", "north/c"])
    score_all(top, "whole", lifetimes=24)
    assert tables(tmp_path / "now") == tables(tmp_path / "whole")


def test_a_run_in_a_folder_that_is_read_only_can_be_gone_on_from(
    top, score_all, crew_here, tmp_path, monkeypatch
):
    score_all(top, "then")
    before = sorted(path.name for path in (tmp_path / "then").iterdir())
    with monkeypatch.context() as patched:  # so that it is read-only whoever runs the tests
        patched.setattr(os, "access", lambda _, mode: mode != os.W_OK)
        earlier = Ledger.open_to_read(tmp_path / "then", "many")
    crew = crew_here()
    with earlier:
        score_all(top, "now", crew=crew, since=earlier)
        assert sorted(path.name for path in (tmp_path / "then").iterdir()) == before
    assert played(crew) == set()


def test_another_promise_judges_the_lifetimes_that_are_there(top, score_all, crew_here, tmp_path):
    score_all(top, "then", only=("a",))
    promise = (top / "a/policy.yaml").read_text(encoding="utf-8")
    (top / "a/policy.yaml").write_text(promise.replace("0.5", "0.01"), encoding="utf-8")
    crew = crew_here()
    with Ledger.open_to_read(tmp_path / "then", "many") as earlier:
        found, _ = score_all(top, "now", crew=crew, since=earlier, only=("a",))
    assert played(crew) == set()
    assert found.taken_over == ["a"]


def test_what_is_no_run_or_of_another_kind_or_damaged_is_refused(top, score_all, tmp_path):
    with pytest.raises(UsageError, match=r"no run of portfolio, as it holds no manifest\.json"):
        refuse_others(top)
    score_all(top, "then", only=("a",))
    with pytest.raises(RunError, match=r"another kind.*leave --since out"):
        Ledger.open_to_read(tmp_path / "then", "another kind")
    with sqlite3.connect(tmp_path / "then/ledger.sqlite") as connection:
        connection.execute("UPDATE pieces SET tally = x'00'")
    connection.close()
    with (
        Ledger.open_to_read(tmp_path / "then", "many") as earlier,
        pytest.raises(RunError, match=r"then cannot be read.*another run with --since"),
    ):
        score_all(top, "now", since=earlier, only=("a",))


def test_a_run_that_has_not_ended_has_nothing_to_be_compared(top, score_all, tmp_path):
    score_all(top, "then", only=("a",))
    told = '{"seed": 3, "version": "0", "stream_version": 1, "code": "x", "stopped_because": null}'
    (tmp_path / "then/manifest.json").write_text(told, encoding="utf-8")
    with pytest.raises(RunError, match="under way, or was killed"):
        Run.read(tmp_path / "then")
    (tmp_path / "then/manifest.json").write_text("[]", encoding="utf-8")
    with pytest.raises(RunError, match="damaged, or another version"):
        Run.read(tmp_path / "then")
