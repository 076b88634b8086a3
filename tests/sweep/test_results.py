"""Names and texts of strangers stay text, and stay in the results folder."""

import csv

import pytest

from resilience.sweep.kept.results import folder_name

pytestmark = pytest.mark.usefixtures("made_up")
HOSTILE = (
    "=cmd|' /C calc'!A0",
    "@SUM(1)",
    "+1",
    "<script>alert(1)</script>",
    "a\u202eb",
    "x" * 200,
)


@pytest.mark.parametrize("title", HOSTILE)
def test_a_hostile_title_is_text_in_every_table(top, score_all, write_site, tmp_path, title):
    import json

    write_site(top / "a", 500, json.dumps(title))
    found, _ = score_all(top, only=("a",))
    if found.failures:  # the reader refuses it, which is as good
        assert found.failures[0].id == "a"
        return
    with (tmp_path / "run/sites.csv").open(encoding="utf-8", newline="") as stream:
        (row,) = csv.DictReader(stream)
    assert row["title"][0] not in "=+-@"
    assert row["title"].isprintable()


@pytest.mark.parametrize("id", ["../../etc", "a/../b", "", "..", "CON", "a\nb", "ü" * 300])
def test_a_folder_of_results_has_a_plain_name_whatever_the_site_is_called(id):
    name = folder_name(id)
    assert name == name.strip(".")
    assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert len(name) < 60


def test_folders_of_different_sites_differ():
    assert folder_name("a/b") != folder_name("a-b")
