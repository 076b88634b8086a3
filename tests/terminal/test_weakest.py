"""``weakest`` and the what-ifs of ``compare``, each in a process of its own."""

import json

QUICK = ("--lifetimes", "8", "--seconds", "60", "--no-keep", "--quiet")


def test_weakest_names_the_layout_that_it_looks_at_and_what_would_help(run, chain):
    done = run("weakest", chain, "--layout", "chain", *QUICK)
    assert done.returncode == 0
    assert done.stdout.startswith("Most depends on ")
    assert "What would help: " in done.stdout
    assert "This is chain, rank " in done.stdout


def test_weakest_and_what_ifs_speak_json(run, chain):
    told = json.loads(run("weakest", chain, *QUICK, "--json").stdout)
    assert {one["id"] for one in told["single_points"]} >= {"G1"}
    assert told["layout"] in {"chain", "ring"}
    words = ("--if", "ring: without r1", "--if", "no gateway outages")
    told = json.loads(run("compare", chain, *QUICK, "--json", *words).stdout)
    assert [one["what_if"] for one in told["what_ifs"]] == ["without r1", "no gateway outages"]
    assert told["what_ifs"][0]["layout"] == "ring"


def test_unknown_layouts_and_devices_are_answered_before_anything_is_played(run_made_up, chain):
    done = run_made_up("weakest", chain, "--layout", "rings", *QUICK)
    assert done.returncode == 2
    assert "did you mean ring?" in done.stderr
    done = run_made_up("compare", chain, "--if", "without R11", *QUICK)
    assert done.returncode == 2
    assert "did you mean R1?" in done.stderr
