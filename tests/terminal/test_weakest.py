"""``weakest`` and the what-ifs of ``compare``, each in a process of its own."""

import json

QUICK = ("--lifetimes", "8", "--seconds", "60", "--no-keep", "--quiet")


def test_weakest_speaks_json_of_the_layout_that_was_asked_for(run, chain):
    told = json.loads(run("weakest", chain, "--layout", "chain", *QUICK, "--json").stdout)
    assert {one["id"] for one in told["single_points"]} >= {"G1"}
    assert told["layout"] == "chain"
    assert told["lifetimes_told"] == 8


def test_what_ifs_stand_beside_the_order_of_layouts(run_made_up, chain):
    words = ("--if", "ring: without r1", "--if", "no gateway outages")
    told = json.loads(run_made_up("compare", chain, *QUICK, "--json", *words).stdout)
    assert [one["what_if"] for one in told["what_ifs"]] == ["without r1", "no gateway outages"]
    assert told["what_ifs"][0]["layout"] == "ring"


def test_unknown_layouts_and_devices_are_answered_before_anything_is_played(run_made_up, chain):
    done = run_made_up("weakest", chain, "--layout", "rings", *QUICK)
    assert done.returncode == 2
    assert "did you mean ring?" in done.stderr
    done = run_made_up("compare", chain, "--if", "without R11", *QUICK)
    assert done.returncode == 2
    assert "did you mean R1?" in done.stderr
