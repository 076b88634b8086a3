"""Promises judged end to end, in a process of its own."""

import json
import shutil

import pytest

# S1 fails every half year for three days; the ring has another way to S2, not to S1's readings.
STRICT = ("--max-orphans", 0, "--longer-than-h", 1, "--kept-with", 0.99)

ONE_WAY = {
    "site.yaml": """\
format: 1
name: Invented one way
horizon_years: 4
radio: {predict: off, swing_db: 0}
routing: {objective: hops, look_around_h: 168}
hazards: {hardware: {shape: 1}, all_others: off}
""",
    "policy.yaml": "format: 1\nmax_orphans: 0\nlonger_than_h: 72\nkept_with_probability: 0.8\n",
    "sensors.csv": "id\nS1\n",
    "layouts/path/devices.csv": "id,kind,supply\nG1,gateway,\nR1,repeater,mains\n",
    "layouts/path/links.csv": "a,b,prr\nG1,R1,1\nR1,S1,1\n",
}


@pytest.fixture
def copied(chain, tmp_path):
    """A copy of the chain that a test may write into."""
    return shutil.copytree(chain, tmp_path / "site")


def test_a_promise_that_every_layout_breaks_ends_with_1(run, chain):
    done = run("judge", chain, *STRICT, "--json")
    assert done.returncode == 1
    told = json.loads(done.stdout)
    assert told["verdict"] == "broken"
    assert [one["verdict"] for one in told["layouts"]] == ["broken", "broken"]
    assert told["stopped_because"] == "its question is settled"


def test_a_promise_that_two_lifetimes_cannot_show_ends_with_3(run, chain):
    done = run("judge", chain, *STRICT, "--lifetimes", 2)
    assert done.returncode == 3
    assert "chain is undecided" in done.stdout


def test_a_site_that_promises_nothing_says_how_to(run_made_up, chain):
    done = run_made_up("judge", chain)
    assert done.returncode == 2
    assert "write a policy.yaml" in done.stderr


@pytest.mark.parametrize("verb", ["judge", "check"])
def test_a_misspelt_key_is_told_with_its_line(run_made_up, copied, verb):
    (copied / "policy.yaml").write_text("format: 1\nmax_orphan: 1\nlonger_than_h: 24\n")
    done = run_made_up(verb, copied)
    assert done.returncode == 2
    assert "policy.yaml, line 2, key max_orphan" in done.stderr
    assert "did you mean max_orphans?" in done.stderr


def test_a_proposal_is_written_kept_and_never_over_another(run, copied):
    ask = ("--propose", "ring", "--kept-with", 0.5, "--longer-than-h", 24)
    (copied / "policy.yaml").write_text(
        "format: 1\nmax_orphans: 2\nlonger_than_h: 12\nkept_with_probability: 0.9\n"
    )
    refused = run("judge", copied, *ask)
    assert refused.returncode == 2
    assert "--replace" in refused.stderr
    done = run("judge", copied, *ask, "--replace")
    assert done.returncode == 0, done.stderr
    assert "max_orphans: 1\nlonger_than_h: 24.0\n" in (copied / "policy.yaml").read_text()
    assert run("judge", copied).returncode == 0
    picked = run("trace", copied, "--layout", "ring", "--pick", "breach")
    assert picked.returncode in {0, 2}
    assert ("breaks the promise" in picked.stdout) or ("breaks the promise" in picked.stderr)


def test_where_a_proposal_goes_needs_a_proposal(run_made_up, chain):
    done = run_made_up("judge", chain, "--replace")
    assert done.returncode == 2
    assert "--propose" in done.stderr


def test_verdicts_are_tried_under_other_defaults(run, written, tmp_path):
    """S1 hangs on R1 alone, which fails some 0.025 times a year and is then away for 120 h."""
    site = written(tmp_path / "one-way", ONE_WAY)
    ask = ("--over-defaults", "--seconds", 3600, "--lifetimes", 600, "--no-keep")
    done = run("judge", site, *ask, "--json")
    assert done.returncode == 0, done.stderr
    (layout,) = json.loads(done.stdout)["layouts"]
    assert layout["holds_over_rates"] == "no"
    keys = {one["key"]: one for one in layout["conditions"]}
    assert keys["upkeep.repair.median_h"]["kept_to"] is None  # one failure in ten years is rare
    assert 0.025 < keys["hazards.hardware.per_year"]["kept_to"] < 0.11


def test_a_proposal_is_not_tried_under_other_defaults(run_made_up, chain):
    done = run_made_up("judge", chain, "--propose", "ring", "--over-defaults")
    assert done.returncode == 2
    assert "leave --propose out" in done.stderr
