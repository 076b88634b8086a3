"""``report`` end to end, in a process of its own: what it writes, says, and leaves alone."""

import json
import xml.etree.ElementTree as ET

import pytest

SVG = "{http://www.w3.org/2000/svg}"
QUICK = ("--engine", "reference", "--lifetimes", 2, "--quiet", "--no-keep")


def test_one_page_goes_below_results_and_json_has_what_it_shows(run, chain, tmp_path):
    done = run("report", chain, *QUICK, "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    page = tmp_path / "results/invented-chain/report.html"
    assert told["written"] == "results/invented-chain/report.html"
    assert told["papers"] == []
    assert told["varied_defaults"] == {"order": "not tested"}
    assert told["policy"] is None
    assert {one["name"] for one in told["told"]} == {"chain", "ring"}
    assert told["told"][0]["lifetimes"] == told["lifetimes"] == 2
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_papers_are_written_beside_it_and_what_may_be_filled_in_stays(run, chain, tmp_path):
    words = ("report", chain, *QUICK, "--papers", "handed", "--layout", "ring")
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "Papers: handed/papers.html" in done.stdout
    sheet = tmp_path / "handed/survey.csv"
    sheet.write_text("a,b,prr\nG1,S1,0.9\n", encoding="utf-8")
    again = run(*words, cwd=tmp_path)
    assert again.returncode == 2
    assert "may have been filled in, so it stays" in again.stderr
    assert "0.9" in sheet.read_text(encoding="utf-8")


def test_a_picture_has_the_answer_in_short_and_the_charts_of_all_layouts(run, chain, tmp_path):
    words = ("report", chain, *QUICK, "--write", "short.svg")
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "The picture is in short.svg" in done.stdout
    root = ET.parse(tmp_path / "short.svg").getroot()
    texts = " ".join(one.text or "" for one in root.iter(f"{SVG}text"))
    assert "Layouts by hours cut off" in texts
    assert {"1. ring", "1. chain"} & {one.text for one in root.iter(f"{SVG}text")}
    assert run(*words, cwd=tmp_path).returncode == 0  # it is ours, so it may be drawn anew
    (tmp_path / "short.svg").write_text("<svg/>", encoding="utf-8")
    assert run(*words, cwd=tmp_path).returncode == 2


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--write", "page.pdf"), "end its name in .html"),
        (("--layout", "ring"), "name a folder for them with --papers"),
        (("--papers", "x", "--layout", "rnig"), "did you mean ring?"),
    ],
)
def test_what_cannot_be_done_is_said_before_anything_is_played(
    run, chain, tmp_path, words, complaint
):
    done = run("report", chain, *QUICK, *words, cwd=tmp_path)
    assert done.returncode == 2
    assert complaint in done.stderr
    assert "Traceback" not in done.stderr


def test_a_run_folder_is_no_site_and_the_way_to_show_it_is_told(run, chain, tmp_path):
    (tmp_path / "manifest.json").write_text("{}", encoding="utf-8")
    done = run("report", tmp_path)
    assert done.returncode == 2
    assert f"--keep {tmp_path}" in done.stderr


def test_a_page_of_somebody_else_stays_unless_told_otherwise(run, chain, tmp_path):
    mine = tmp_path / "mine.html"
    mine.write_text("<title>resilience report of my own</title>", encoding="utf-8")
    done = run("report", chain, *QUICK, "--write", mine)
    assert done.returncode == 2
    assert "was not made by report, so it stays" in done.stderr
    assert "of my own" in mine.read_text(encoding="utf-8")
