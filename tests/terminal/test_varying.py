"""An order put to the test of other defaults, from the command line."""

import json
import os
import signal

import pytest

from resilience.terminal.runs import progress

QUICK = ("--lifetimes", 2, "--no-keep", "--vary-defaults", "--workers", 1)
PATIENT = ("--seconds", 3600)  # a busy machine must not stop early
SITE = """\
format: 1
name: Invented two ways
horizon_years: 2
radio: {predict: off, environment: busy, swing_db: 0, survey_spread_db: 0, survey_settled_db: 0}
routing: {objective: hops}
hazards:
  link_blockage: {loss_db: 10, median_h: 2}
  mains_outage: {per_year: 26, mean_h: 4}
  all_others: off
"""
TWO_WAYS = {
    "site.yaml": SITE,
    "sensors.csv": "id\nS1\n",
    "layouts/path/devices.csv": "id,kind\nG1,gateway\n",
    "layouts/path/links.csv": "a,b,prr\nG1,S1,0.5\n",
    "layouts/relay/devices.csv": "id,kind,supply\nG1,gateway,\nR1,repeater,mains\n",
    "layouts/relay/links.csv": "a,b,prr\nG1,R1,1\nR1,S1,1\n",
}


@pytest.fixture
def two_ways(written, tmp_path):
    return written(tmp_path / "two-ways", TWO_WAYS)


def test_the_default_that_turns_the_order_is_named_in_the_first_lines(run, two_ways):
    """Mains lost 26 times a year for 4 h is 103 h; 50 blockages of 2.9 h on average are 142 h."""
    done = run("compare", two_ways, "--no-keep", "--vary-defaults", "--lifetimes", 256, *PATIENT)
    assert done.returncode == 0
    told = " ".join(done.stdout.split())
    rate = "the rate of blocked paths in a busy band"
    turns = f"The order turns where {rate} is 50 a year (20 assumed)"
    assert told.index("Better: path") < told.index(turns) < told.index("Ranking by")
    assert "hazards.link_blockage.busy_per_year" in told
    assert "hazards.link_blockage.loss_db" not in told  # the site states it
    assert "was not tested" not in told


def test_json_has_the_answer_under_a_stable_key(run, two_ways):
    told = json.loads(run("compare", two_ways, *QUICK, *PATIENT, "--json").stdout)[
        "varied_defaults"
    ]
    assert told["lifetimes"] == 2
    assert told["stopped_because"] == "the lifetimes asked for were played"
    assert told["sample"]["draws"] == 12
    keys = {one["key"] for one in told["defaults"]}
    assert "hazards.link_blockage.busy_per_year" in keys
    assert "hazards.mains_outage.per_year" in told["without_bearing"]


def test_who_does_not_ask_is_told_that_nothing_was_tested(run, two_ways):
    words = ("compare", two_ways, "--lifetimes", 2, "--no-keep")
    assert "was not tested: --vary-defaults." in " ".join(run(*words).stdout.split())
    told = json.loads(run(*words, "--json").stdout)["varied_defaults"]
    assert told == {"order": "not tested"}


def test_no_time_leaves_all_of_it_untested(run, two_ways):
    done = run("compare", two_ways, *QUICK, "--seconds", 0)
    assert done.returncode == 0
    told = " ".join(done.stdout.split())
    assert "not tested: the time allowed was used up." in told


def test_an_interrupt_shows_what_is_known_and_ends_as_interrupted(chain, waiting):
    with waiting("compare", chain, *QUICK, "--json") as child:
        os.killpg(child.pid, signal.SIGINT)
        out, err = child.communicate(timeout=60)
    assert child.returncode == 130
    assert "Traceback" not in err
    told = json.loads(out)
    assert len(told["layouts"]) == 2
    assert told["varied_defaults"]["stopped_because"] == "it was interrupted"


def test_one_layout_is_refused_before_anything_is_played(run_made_up, written, tmp_path):
    files = {name: text for name, text in TWO_WAYS.items() if "relay" not in name}
    done = run_made_up("compare", written(tmp_path / "one", files), *QUICK)
    assert done.returncode == 2
    assert "has one layout only" in done.stderr
    assert done.stdout == ""


def test_a_line_tells_which_default_is_varied_at_most_every_five_seconds(monkeypatch):
    told, now = [], [0.0]
    monkeypatch.setattr(progress, "tell", told.append)
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(progress.sys.stderr, "isatty", lambda: False, raising=False)
    with progress.steps("variants", False) as report:
        for done in range(12):
            now[0] += 1.0
            report(done, 12, f"radio.swing_db {done}")
    assert told == [
        "4 of 12 variants, now radio.swing_db 4",
        "9 of 12 variants, now radio.swing_db 9",
    ]


def test_nobody_is_told_who_wants_quiet(monkeypatch):
    told = []
    monkeypatch.setattr(progress, "tell", told.append)
    monkeypatch.setattr(progress, "SECONDS_BETWEEN_LINES", 0.0)
    with progress.steps("variants", True) as report:
        report(1, 2, "radio.swing_db 2")
    assert told == []
