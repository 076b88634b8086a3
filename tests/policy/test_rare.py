"""Promises that are broken too rarely for plain lifetimes to show, against a Markov chain."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import expm

from resilience import Policy, judge
from resilience.building.service.policy import Lost
from resilience.building.settings import Duration, Hardware
from resilience.building.upkeep import Upkeep
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.montecarlo.assumed.variants import Alternatives, Effort
from resilience.montecarlo.runs.running import Budget
from resilience.policy.hanging.rates import over_rates
from resilience.policy.judgement import Verdict
from resilience.policy.rare import LEFT, LEFT_AFTER, is_left_to_splitting
from resilience.report.promised.judging import verdict_words

NOTHING = dict.fromkeys(
    (
        *("hardware", "early_failure", "battery", "link_blockage", "obstacles"),
        *("gateway_outage", "mains_outage", "gateway_hardware"),
    )
)
RATE = "hazards.hardware.per_year"
YEARS, VISIT_H = 0.1, 2.0
REPAIR = Upkeep(Duration("exponential", mean_h=VISIT_H), None)
EVER = Policy(0.0, 0.9999, max_orphans=0)
BUDGET = Budget(20_000, 240.0)


def both_away(up_h: float) -> float:
    """Probability that both of two units are ever away at once."""
    a, m = 1 / up_h, 1 / VISIT_H
    rates = np.array([[-2 * a, 2 * a, 0], [m, -m - a, a], [0, 0, 0]])
    return float(expm(rates * YEARS * 8766)[0, 2])


@pytest.fixture(scope="module")
def judged_at(small_site):
    """Return a judge of two sensors behind two repeaters, and beside the gateway, by life."""

    def judged(up_h, policy=EVER):
        behind = "g1~r1=1 g1~r2=1 r1~s1=1 r2~s1=1 r1~s2=1 r2~s2=1"
        layouts = [
            small_site.layout(name, links=links)
            for name, links in (("behind", behind), ("beside", "g1~s1=1 g1~s2=1"))
        ]
        site = small_site(
            *layouts,
            horizon_years=YEARS,
            radio={"predict": False, "swing_db": 0.0},
            hazards=NOTHING | {"hardware": Hardware(up_h, 1.0)},
        )
        return judge(replace(site, upkeep=REPAIR), policy, budget=BUDGET)

    return judged


@pytest.mark.parametrize(
    ("up_h", "verdict"), [(3000.0, Verdict.BROKEN), (20_000.0, Verdict.KEPT)], ids=["more", "less"]
)
def test_one_in_ten_thousand_is_decided_by_splitting_and_bounds_hold_the_truth(
    judged_at, up_h, verdict
):
    found = judged_at(up_h)
    behind = found.of_layout("behind")
    assert behind.verdict is verdict
    assert behind.rare is not None
    assert behind.share.low < both_away(up_h) < behind.share.high
    assert behind.broken.low < 1e-4 < behind.broken.high
    assert LEFT_AFTER <= behind.study.n_buildings < 2 * LEFT_AFTER
    assert behind.study.stopped_because == LEFT
    told = json.loads(json.dumps(found.to_json()))["layouts"][0]["by_splitting"]
    assert told["mean"] == behind.share.mean
    assert told["runs"] == 32
    assert (told["holds"], told["over_rates"]) == ("under the assumed rates", "not tested")


def test_with_all_rates_high_splitting_holds_the_truth_there(judged_at):
    """Repeaters fail up to 0.11 times a year; at the low end, once in 2e9 lifetimes, none comes."""
    found = judged_at(20_000.0)

    def under(assumed):
        hardware = Hardware(8766 / assumed.get(RATE, 8766 / 20_000.0), 1.0)
        return replace(found.site, hazards=replace(found.site.hazards, hardware=hardware))

    shares = dict(over_rates(found, Alternatives(found.site, under), Effort(seconds=240.0)))
    assert shares.keys() == {"behind"}
    ends = shares["behind"]
    assert ends.rates == (RATE,)
    assert ends.high.estimate.low < both_away(8766 / 0.11) < ends.high.estimate.high


def test_what_never_came_about_in_any_run_stays_undecided(judged_at):
    beside = judged_at(3000.0).of_layout("beside")
    assert beside.rare is None
    assert beside.verdict is Verdict.UNDECIDED
    assert beside.share == beside.broken
    said = "Splitting came to nothing: none of 32 runs came to such a loss."
    assert said in verdict_words(beside)
    told = beside.to_json()["splitting_came_to_nothing_because"]
    assert told == "none of 32 runs came to such a loss"


def test_sensors_that_fail_count_where_the_promise_counts_them(judged_at):
    """Beside the gateway both sensors are dark at once as rarely as both of two units are away."""
    dark = replace(EVER, max_orphans=1, count=Lost.DARK)
    beside = judged_at(3000.0, dark).of_layout("beside")
    assert beside.share.low < both_away(3000.0) < beside.share.high


@pytest.mark.parametrize(
    ("kept_with", "engine", "is_left"),
    [(0.9999, COMPILED, True), (0.9998, COMPILED, False), (0.99999, REFERENCE, False)],
)
def test_only_rare_promises_are_split_and_only_where_lifetimes_can_branch(
    kept_with, engine, is_left
):
    policy = replace(EVER, kept_with_probability=kept_with)
    assert is_left_to_splitting(policy, engine) is is_left
