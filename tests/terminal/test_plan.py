"""``plan`` end to end, in a process of its own: what it writes, and what it leaves alone."""

import json
import re

import pytest


def test_a_drawing_goes_below_results_and_the_answer_says_where(run, chain, tmp_path):
    done = run("plan", chain, "--layout", "ring", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    page = tmp_path / "results/invented-chain/plan-ring.html"
    assert "results/invented-chain/plan-ring.html: open it in a browser" in done.stdout
    assert "The site also has chain (--layout)." in " ".join(done.stdout.split())
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert [one.name for one in tmp_path.iterdir()] == ["results"]
    assert [one.name for one in page.parent.iterdir()] == [page.name]
    again = run("plan", chain, "--layout", "ring", cwd=tmp_path)  # its own drawing it may replace
    assert again.returncode == 0


def test_layouts_whose_names_are_no_file_names_are_drawn_side_by_side(run, written, tmp_path):
    layouts = {
        f"layouts/{name}/{file}": text
        for name in ("Süd", "西", "東")
        for file, text in (
            ("devices.csv", "id,kind\nG1,gateway\nS1,sensor\n"),
            ("links.csv", "a,b,prr\nG1,S1,0.9\n"),
        )
    }
    top = "format: 1\nname: Invented mill\nradio: {predict: off}\n"
    site = written(tmp_path / "mill", {"site.yaml": top} | layouts)
    for name in ("Süd", "西", "東"):
        assert run("plan", site, "--layout", name, cwd=tmp_path).returncode == 0
    assert len(list((tmp_path / "results/invented-mill").iterdir())) == 3


def test_the_first_layout_is_drawn_and_json_says_what_was(run, chain, tmp_path):
    done = run("plan", chain, "--write", "ring.svg", "--json", cwd=tmp_path)
    told = json.loads(done.stdout)
    assert told["layout"] == "chain"
    assert told["written"] == "ring.svg"
    assert told["devices"] == 3
    assert told["usable_links"] == told["drawn_links"] == 2
    assert told["figures"] == ["Signs and lines", "Graph"]
    assert (tmp_path / "ring.svg").read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.parametrize("name", ["mine.html", "mine.svg"])
def test_a_file_of_somebody_else_stays_unless_told_otherwise(run, chain, tmp_path, name):
    mine = tmp_path / name
    mine.write_text("<title>resilience plan of my own</title>", encoding="utf-8")
    done = run("plan", chain, "--write", mine)
    assert done.returncode == 2
    assert "was not drawn by plan, so it stays" in done.stderr
    assert mine.read_text(encoding="utf-8") == "<title>resilience plan of my own</title>"
    assert run("plan", chain, "--write", mine, "--overwrite").returncode == 0
    assert "Invented chain" in mine.read_text(encoding="utf-8")


def test_what_cannot_be_drawn_is_said_and_nothing_is_written(run, chain, tmp_path):
    for words, complaint in (
        (("--write", "plan.pdf"), "end its name in .html or .svg"),
        (("--layout", "rnig"), "did you mean"),
        (("--write", "."), "end its name in .html or .svg"),
        (("--write", "folder.html"), "folder.html cannot be written"),
    ):
        (tmp_path / "folder.html").mkdir(exist_ok=True)
        done = run("plan", chain, *words, cwd=tmp_path)
        assert done.returncode == 2, words
        assert re.search(complaint, done.stderr), done.stderr
        assert [one.name for one in tmp_path.iterdir()] == ["folder.html"]
        assert "Traceback" not in done.stderr
