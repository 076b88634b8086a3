"""``reinforce`` in a process of its own."""

import json
import shutil
from pathlib import Path

QUICK = ("--lifetimes", "8", "--seconds", "60", "--quiet")


def test_what_could_go_is_told_as_json_and_written(run, chain, tmp_path):
    folder = shutil.copytree(chain, tmp_path / "site")
    words = ("--layout", "ring", "--remove", *QUICK, "--write", "less", "--json")
    told = json.loads(run("reinforce", folder, *words).stdout)
    assert told["leaves_out"]
    (step,) = told["steps"]
    assert [one["device"] for one in step["tried"]] == ["R1"]
    is_taken = step["taken"] is not None
    assert (told["written"] is not None) == is_taken
    assert (folder / "layouts" / "less" / "devices.csv").exists() == is_taken


def test_requests_that_cannot_be_met_are_answered_before_anything_is_played(run_made_up, chain):
    for words, told in (
        ((), "--layout names one of chain, ring"),
        (("--layout", "ring", "--write", "chain"), "is there already and stays as it is"),
        (("--layout", "chain"), "links here are given"),
    ):
        done = run_made_up("reinforce", chain, *words, *QUICK)
        assert done.returncode == 2, done.stdout + done.stderr
        assert told in " ".join(done.stderr.split())


def test_a_layout_from_sensors_alone_needs_a_promise_and_links_that_can_be_predicted(
    run_made_up, chain, tmp_path
):
    folder = Path(shutil.copytree(chain, tmp_path / "site"))
    promise = tmp_path / "promise.yaml"
    promise.write_text("format: 1\nmax_orphans: 0\nlonger_than_h: 24\nkept_with_probability: 0.9\n")
    for words, told in (
        (("--from-sensors",), "promises nothing: write a policy.yaml"),
        (("--from-sensors", "--until", folder), "is no file"),
        (("--from-sensors", "--until", promise), "links here are given"),
        (("--from-sensors", "--remove"), "there is nothing to --remove"),
        (("--until", promise), "say what a layout --from-sensors has to keep"),
    ):
        done = run_made_up("reinforce", folder, *words, *QUICK)
        assert done.returncode == 2, done.stdout + done.stderr
        assert told in " ".join(done.stderr.split())
