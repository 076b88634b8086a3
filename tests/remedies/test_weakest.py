"""Everything of one small layout, on lifetimes of the reference engine."""

import math
from dataclasses import replace
from functools import partial

import pytest

from resilience.lifetime.engines import REFERENCE
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.study import studies
from resilience.ranking.comparison import compared
from resilience.remedies.fragile.loads import hubs_of
from resilience.remedies.supposing.grammar import supposition
from resilience.remedies.supposing.whatifs import Effort, whatifs
from resilience.remedies.weakest import weakness_of

N_LIFETIMES = 40
NO_LIMIT_S = 1e9
UP_H, DOWN_H = 300.0, 20.0


@pytest.fixture(scope="module")
def undertaking(small_site):
    """A chain g1 - r1 - s1 - s2 whose repeater often fails, beside one that does without it."""
    chain = "g1~r1=0.99 r1~s1=0.99 s1~s2=0.99"
    layouts = (
        small_site.layout("chain", links=chain),
        small_site.layout("direct", links=f"{chain} g1~s1=0.99"),
    )
    site = small_site(*layouts, horizon_years=0.05, radio={"predict": False})
    for hazard in (
        *("battery", "link_blockage", "early_failure", "mains_outage", "circuit_outage"),
        *("gateway_outage", "gateway_hardware"),
    ):
        site = site.with_setting(f"hazards.{hazard}", False)
    for key, value in (
        ("radio.swing_db", 0.0),
        ("hazards.hardware.mttf_h", UP_H),
        ("hazards.hardware.shape", 1.0),
        ("upkeep.repair.mean_h", DOWN_H),
    ):
        site = site.with_setting(key, value)
    return replace(Undertaking.whole(site, 5), engine=REFERENCE)


@pytest.fixture(scope="module")
def comparison(undertaking):
    play = partial(studies, undertaking, Budget(N_LIFETIMES, NO_LIMIT_S))
    return compared(undertaking.site, play)


@pytest.fixture(scope="module")
def weakness(undertaking, comparison):
    return weakness_of(undertaking, comparison, "chain")


def test_the_one_way_to_the_gateway_holds_the_loss(weakness):
    first = weakness.culprits[0]
    assert first.subject[1] == "r1"
    assert first.share.mean > 0.5
    assert first.share.low < first.share.mean < first.share.high
    assert math.isclose(sum(one.hours for one in weakness.culprits), weakness.hours.mean)


def test_while_the_repeater_is_away_all_that_are_up_are_cut_off(weakness):
    """Both sensors if it is away, else the second while the first is down; each as far as it is up.

    Four standard errors, where bounds are two.
    """
    seen = weakness.culprits[0].importance
    assert seen.n_absences >= 30
    up = UP_H / (UP_H + DOWN_H)
    half = seen.sensors.high - seen.sensors.mean
    assert abs(seen.sensors.mean - (2 * up - (1 - up) * up)) < 2 * half


def test_each_cause_has_its_own_importance_as_well(weakness):
    assert ("hardware", "r1") in weakness.elements
    assert weakness.elements["hardware", "r1"].n_absences >= 30


def test_the_first_layout_is_looked_at_if_none_is_named(undertaking, comparison):
    found = weakness_of(undertaking, comparison)
    assert found.layout.name == comparison.leader.layout == "direct"
    assert {one.subject[1] for one in found.culprits if one.hours} == {"s1"}


def test_json_and_table_hold_the_same_things(weakness):
    told = weakness.to_json()
    assert [one["id"] for one in told["things"]] == list(weakness.to_frame()["thing"])
    assert {one["id"] for one in told["single_points"]} >= {"g1", "r1", "s1", "g1~r1"}
    assert told["worse_together"] == []


def test_hubs_are_sensors_that_carry_more_than_repeaters(small_site):
    layout = small_site.layout("a", links="g1~r1=0.9 g1~s1=0.9 s1~s2=0.9")
    carried = {"r1": 1.5, "s1": 4.0, "s2": 1.4}
    assert [(one.sensor, one.by_repeaters) for one in hubs_of(layout, carried)] == [("s1", 1.5)]
    alone = small_site.layout("a", links="g1~s1=0.9 s1~s2=0.9")
    assert [one.sensor for one in hubs_of(alone, {"s1": 1.2, "s2": 0.5})] == ["s1"]


def test_what_ifs_are_compared_on_the_same_lifetimes(undertaking, comparison):
    said = ("chain: without r1", "chain: no device failures", "chain: no gateway outages")
    supposed = [supposition(text, undertaking.site) for text in said]
    effort = Effort(n_lifetimes=N_LIFETIMES, seconds=NO_LIMIT_S)
    found = whatifs(undertaking, comparison, supposed, effort)
    without, sound, same = found.found
    assert found.level_share == pytest.approx(1 - 0.05 / 3)
    # Without the repeater nobody ever has a way, which is no loss in service: there is no service.
    as_is = next(one.study for one in comparison.placed if one.layout.name == "chain")
    assert without.silent.mean == pytest.approx(8766 - as_is.silent_hours.total)
    assert sound.pair.difference.mean == -as_is.service_hours.mean
    assert sound.silent.mean < sound.pair.difference.mean < 0
    assert same.is_alike
    assert same.pair.difference.mean == 0.0
    assert [one["reached"] for one in found.to_json()] == [True, True, True]


def test_what_time_does_not_allow_is_told_as_not_reached(undertaking, comparison):
    supposed = [supposition("chain: no device failures", undertaking.site)]
    found = whatifs(undertaking, comparison, supposed, Effort(seconds=-1.0))
    assert found.found[0].pair is None
    assert found.stopped_because == "the time allowed was used up"
