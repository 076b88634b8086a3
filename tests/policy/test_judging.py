"""Verdicts on small sites of which everybody can see what breaks the promise."""

import json
from dataclasses import replace
from functools import partial

import pytest

from resilience import Policy, judge
from resilience.building.service.policy import Lost, Start
from resilience.building.settings import Duration, GatewayOutage, Hardware
from resilience.building.upkeep import Upkeep
from resilience.errors import UsageError
from resilience.lifetime.playing import Stage
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.study import studies
from resilience.policy.bounds import breaks, watch_of
from resilience.policy.judgement import Verdict
from resilience.policy.judging import Judging, judged

NOTHING = dict.fromkeys(
    (
        *("hardware", "early_failure", "battery", "link_blockage", "obstacles"),
        *("gateway_outage", "mains_outage", "gateway_hardware"),
    )
)
REPAIR = Upkeep(Duration("exponential", mean_h=30.0), None)
DAY = Policy(24.0, 0.9, max_orphans=1)
BUDGET = Budget(400, 3600.0)


@pytest.fixture(scope="module")
def fork(small_site):
    """Three sensors behind one repeater or beside the gateway; devices fail every 400 h."""
    behind = "g1~r1=1 r1~s1=1 r1~s2=1 r1~s3=1"
    layouts = [
        small_site.layout(name, links=links)
        for name, links in (("behind", behind), ("beside", "g1~s1=1 g1~s2=1 g1~s3=1"))
    ]
    site = small_site(
        *layouts,
        horizon_years=0.1,
        radio={"predict": False, "swing_db": 0.0},
        hazards=NOTHING | {"hardware": Hardware(400.0, 1.0)},
    )
    return replace(site, upkeep=REPAIR)


@pytest.fixture(scope="module")
def found(fork):
    return judge(fork, DAY, budget=BUDGET)


def test_what_hangs_on_one_repeater_breaks_it_and_what_hangs_on_nothing_keeps_it(found):
    """A repeater is away for more than a day once in 400 / exp(-24 / 30) = 890 h; 877 h are played.

    So some 60 of 100 lifetimes break it, where 10 may; beside the gateway nobody is ever an orphan.
    """
    assert found.of_layout("behind").verdict is Verdict.BROKEN
    assert 0.5 < found.of_layout("behind").broken.mean < 0.75
    beside = found.of_layout("beside")
    assert beside.verdict is Verdict.KEPT
    assert beside.broken.mean == 0 < beside.broken.high <= 0.1
    assert found.verdict is Verdict.KEPT


def test_what_breaks_it_is_the_repeater_and_nothing_else(found):
    behind = found.of_layout("behind")
    assert list(behind.breaks) == [("hardware", "r1")]
    assert sum(behind.breaks.values()) == pytest.approx(1)
    assert found.of_layout("beside").breaks == {}


def test_lifetimes_to_look_at_break_it(found, fork):
    behind = found.of_layout("behind")
    stage = Stage(fork, fork.layout("behind"), found.longest.seed, False)
    for number in behind.breaking[:3]:
        assert stage.play(number).record.longest_above_ms[1] > 24 * 3_600_000


def test_a_dark_sensor_counts_though_it_has_failed_itself(fork):
    """Beside the gateway two of three are down for a day at once now and then."""
    dark = judge(fork, replace(DAY, count=Lost.DARK), budget=BUDGET)
    beside = dark.of_layout("beside")
    assert beside.broken.mean > 0
    assert {cause for cause, _ in beside.breaks} == {"hardware"}
    assert {id for _, id in beside.breaks} == {"s1", "s2", "s3"}
    behind = dark.of_layout("behind")
    assert behind.broken.mean > found_share(fork)
    assert behind.breaks["hardware", "r1"] > 0.5


def found_share(fork):
    """Share of the same lifetimes in which orphans alone break it."""
    return judge(fork, DAY, budget=BUDGET).of_layout("behind").broken.mean


def test_a_sensor_without_any_way_counts_unless_the_promise_begins_with_its_first_way(small_site):
    layout = small_site.layout(
        "a", small_site.device("s2"), small_site.device("s3"), links="g1~s1=1"
    )
    site = small_site(layout, horizon_years=0.1, radio={"predict": False}, hazards=NOTHING)
    from_hand_over = judge(site, DAY, budget=BUDGET).judged[0]
    assert from_hand_over.verdict is Verdict.BROKEN
    assert from_hand_over.study.incomplete_share.mean == 1
    assert from_hand_over.breaks == {("layout", ""): 1.0}
    later = judge(site, replace(DAY, start=Start.FIRST_ROUTE), budget=BUDGET).judged[0]
    assert later.verdict is Verdict.KEPT
    assert later.study.incomplete_share.mean == 1


def test_an_owner_sees_site_outages_that_the_promise_does_not_count(small_site):
    """The gateway is away for 50 h once a week: nobody is an orphan, and all are silent."""
    outage = GatewayOutage(52.0, Duration("fixed", mean_h=50.0))
    site = small_site.linked(
        "g1~s1=1 g1~s2=1 g1~s3=1",
        horizon_years=0.2,
        radio={"swing_db": 0.0},
        hazards=NOTHING | {"gateway_outage": outage},
    )
    one = judge(site, DAY, budget=BUDGET).judged[0]
    assert one.verdict is Verdict.KEPT
    assert one.broken.mean == 0
    assert one.silent.mean > 0.99


def test_the_same_lifetimes_broken_or_not_whoever_tells_them(fork, found):
    """A tally's rows against records told one by one."""
    stage = Stage(fork, fork.layout("behind"), 5, False, watch=watch_of(DAY))
    told = [stage.play(number).record.longest_above_ms[1] for number in range(20)]
    assert breaks(stage.tally(0, 20), DAY, 3).tolist() == [ms > 24 * 3_600_000 for ms in told]
    assert 0 < sum(ms > 24 * 3_600_000 for ms in told) < 20


def test_a_layout_whose_verdict_is_sure_plays_no_further(broken_study):
    studies = [broken_study("a", [1] * 256), broken_study("b", [1, 0, 0, 0, 0, 0, 0, 0] * 32)]
    ruling = Judging(DAY)(studies)
    assert ruling.dropped == {0}
    assert not ruling.ends_because


def test_json_and_frame_tell_every_layout(found):
    told = json.loads(json.dumps(found.to_json()))
    assert [one["verdict"] for one in told["layouts"]] == ["broken", "kept"]
    assert told["policy"]["max_orphans"] == 1
    assert told["layouts"][0]["holds_over_rates"] == "not tested"
    assert len(told["layouts"][0]["frontier"]) == 12
    assert found.to_frame()["verdict"].tolist() == ["broken", "kept"]


@pytest.mark.parametrize(
    ("policy", "wanted"),
    [
        (Policy(24.0, 0.9, max_orphans=4), "at most 3"),
        (Policy(900.0, 0.9, max_orphans=1), "less than the horizon"),
    ],
)
def test_a_policy_that_makes_no_sense_for_a_site_is_refused(fork, policy, wanted):
    with pytest.raises(UsageError, match=wanted):
        judge(fork, policy)


def test_a_promise_that_cannot_be_broken_is_kept_and_said_to_be_empty(fork):
    found = judge(fork, replace(DAY, max_orphans=3), budget=Budget(128, 3600.0))
    assert found.verdict is Verdict.KEPT
    assert "cannot be broken" in found.cautions[0]


def test_layouts_take_turns_at_telling_what_breaks_it(fork):
    """There is time for three lifetimes, and both layouts break it."""
    dark = replace(DAY, max_orphans=0, count=Lost.DARK)
    undertaking = Undertaking(fork, fork.layouts, 1, False, watch=watch_of(dark))
    asked = []

    def is_late():
        asked.append(None)
        return len(asked) > 3

    found = judged(undertaking, dark, partial(studies, undertaking, Budget(64, 3600.0)), is_late)
    assert [one.n_told for one in found.judged] == [2, 1]
    assert all(sum(one.breaks.values()) == pytest.approx(1) for one in found.judged)
