"""The verb end to end on an invented chain with the service log of an invented house."""

import json

import pytest

SITE = "format: 1\nname: Invented chain\nradio: {predict: off}\n"
HISTORY = """\
what,cause,from,to,n_watched,installed,site
watched,hardware,2018-01-01,2024-12-31,60,2018-01-01,Quay Hall
watched,gateway_outage,2018-01-01,2024-12-31,1,,Quay Hall
failure,hardware,2019-03-02,2019-03-09,,,Quay Hall
failure,hardware,2021-07-20,2021-07-21,,,Quay Hall
outage,gateway_outage,2020-05-05 10:00,2020-05-05 12:00,,,Quay Hall
"""
FILES = {
    "site.yaml": SITE,
    "history.csv": HISTORY,
    "sensors.csv": "id\nS1\n",
    "layouts/a/devices.csv": "id,kind\nG1,gateway\n",
    "layouts/a/links.csv": "a,b,prr\nG1,S1,0.9\n",
}


@pytest.fixture
def chain(written, tmp_path):
    return written(tmp_path / "chain", FILES)


def test_learn_shows_before_and_after_and_writes_nothing(run, chain):
    done = run("learn", chain)
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout.startswith("Invented chain: 1 site in history.csv")
    assert "hazards.hardware.per_year" in done.stdout
    assert "What the history cannot tell" in done.stdout
    assert "! hazards.gateway_outage.per_year: the history by itself" in done.stdout
    assert not (chain / "learnt.yaml").exists()
    assert max(len(line) for line in done.stdout.splitlines()) <= 100


def test_learn_writes_when_asked_and_learns_the_same_again(run, chain):
    told = json.loads(run("learn", chain, "--write", "--json").stdout)
    assert told["written"] == str(chain / "learnt.yaml")
    kept = (chain / "learnt.yaml").read_text()
    assert (chain / "site.yaml").read_text() == SITE
    again = json.loads(run("learn", chain, "--write", "--json").stdout)
    # What was learnt is not believed a second time: that would count the history twice.
    assert again["learnt"] == told["learnt"]
    assert (chain / "learnt.yaml").read_text() == kept
    check = run("check", chain)
    assert "as own history taught (learnt.yaml)" in " ".join(check.stdout.split())


def test_learn_reads_tables_of_several_houses(run, chain, tmp_path):
    paths = [tmp_path / f"{name}.csv" for name in ("quay", "corn")]
    for path in paths:
        path.write_text(HISTORY)
    words = [word for path in paths for word in ("--history", path)]
    told = json.loads(run("learn", chain, *words, "--json").stdout)
    assert (told["histories"], told["n_sites"]) == (["quay.csv", "corn.csv"], 2)


def test_a_broken_file_of_lessons_is_replaced_by_learning_again(run, chain):
    (chain / "learnt.yaml").write_text("format: 1\nsettings: {nonsense: 1}\n")
    assert run("check", chain).returncode == 2
    assert run("learn", chain, "--write").returncode == 0
    assert run("check", chain).returncode == 0


def test_every_mistake_of_a_history_is_told_and_nothing_is_written(run, chain):
    rows = "failure,hardwear,2019-03-02,,,,\nfailure,hardware,2099-01-01,,,,\n"
    (chain / "history.csv").write_text(HISTORY + rows)
    done = run("learn", chain, "--write")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "history.csv, line 7, column cause" in done.stderr
    assert "history.csv, line 8, column from" in done.stderr
    assert not (chain / "learnt.yaml").exists()


def test_a_site_without_history_says_how_to_get_one(run, chain):
    (chain / "history.csv").unlink()
    done = run("learn", chain)
    assert done.returncode == 2
    assert "write one (README" in done.stderr
