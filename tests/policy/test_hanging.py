"""Values up to which a promise is kept, against rates at which the answer is known.

A sensor hangs on one repeater that fails at a constant rate r, T years long, and is away for an
exponential time of median m. It breaks a promise of D hours in 1 - exp(-r T 2^(-D / m)) of all
lifetimes: failures thinned to those that last, a Poisson process but for the repeater's absences,
which are shorter than a thousandth of T (Barlow and Proschan 1965).
"""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from resilience import Policy, judge
from resilience.assumptions.catalogue import settings, uncertain
from resilience.building.settings import Duration, Hardware
from resilience.building.upkeep import Upkeep
from resilience.errors import Fault, InputError
from resilience.montecarlo.assumed.variants import Effort
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED, Budget
from resilience.policy.hanging.conditions import Holds, Shown, judgement_json
from resilience.policy.hanging.crossing import HALVINGS, Crossing, between, share_of
from resilience.policy.hanging.trial import UNSURE, lifetimes_for, over_defaults
from resilience.policy.judgement import Verdict

RATE, REPAIR = "hazards.hardware.per_year", "upkeep.repair.median_h"
YEARS, LONGER_THAN_H, KEPT_WITH, MAY_BREAK = 10.0, 200.0, 0.7, 0.3
EFFORT = Effort(n_lifetimes=600, n_draws=2, seconds=3600.0)
SETTINGS = {one.key: one for one in settings()}
PROMISE = Policy(LONGER_THAN_H, KEPT_WITH, max_orphans=0)


def broken(per_year: float, median_h: float) -> float:
    return 1 - math.exp(-per_year * YEARS * 2 ** (-LONGER_THAN_H / median_h))


def even_rate(median_h: float) -> float:
    """Rate at which the promise is broken exactly as often as it may be."""
    return -math.log(KEPT_WITH) / YEARS / 2 ** (-LONGER_THAN_H / median_h)


def even_median_h(per_year: float) -> float:
    return -LONGER_THAN_H / math.log2(-math.log(KEPT_WITH) / YEARS / per_year)


@pytest.fixture(scope="module")
def behind(small_site):
    """A sensor behind a repeater, and one beside the gateway, whose repeater carries nothing."""

    def made(per_year=0.025, median_h=240.0, beside=False):
        layouts = [small_site.layout("behind", links="g1~r1=1 r1~s1=1")]
        if beside:
            layouts += [small_site.layout("beside", links="g1~s1=1 g1~r1=1")]
        hazards = dict.fromkeys(small_site(*layouts).hazards.__slots__)
        hazards["hardware"] = Hardware(8766 / per_year, 1.0)
        routing = {"objective": "hops", "look_around_h": 168.0}
        radio = {"predict": False, "swing_db": 0.0}
        site = small_site(
            *layouts, horizon_years=YEARS, routing=routing, radio=radio, hazards=hazards
        )
        mean_h = median_h / math.log(2)
        return replace(site, upkeep=Upkeep(Duration("exponential", mean_h=mean_h), None))

    return made


def under(site, *keys):
    """The site under other values of these keys; it states all others itself."""

    def found(assumed):
        changed = site
        for key in keys:
            if key == RATE and key in assumed:
                hazards = replace(changed.hazards, hardware=Hardware(8766 / assumed[key], 1.0))
                changed = replace(changed, hazards=hazards)
            elif key in assumed:
                length = Duration("exponential", mean_h=assumed[key] / math.log(2))
                changed = replace(changed, upkeep=replace(changed.upkeep, repair=length))
        return changed

    return found


def found_on(site, *keys, effort=EFFORT, watch=lambda *_: None):
    judgement = judge(site, PROMISE, budget=Budget(2000, 3600.0))
    return judgement, over_defaults(judgement, under(site, *keys), effort, watch)


@pytest.fixture(scope="module")
def by_rate(behind):
    return found_on(behind(beside=True), RATE)


def test_a_promise_is_kept_up_to_a_rate_just_below_the_exact_one(by_rate):
    """It breaks in 30 of 100 lifetimes at 0.064 a year; 0.025 are assumed."""
    _, hanging = by_rate
    exact = even_rate(240.0)
    assert broken(exact, 240.0) == pytest.approx(MAY_BREAK)
    (limit,) = hanging.limits_of("behind")
    assert 0.025 < limit.high.kept_to < exact < limit.high.broken_from
    assert broken(limit.high.kept_to, 240.0) > 0.6 * MAY_BREAK
    assert limit.low.is_whole
    assert limit.low.kept_to == SETTINGS[RATE].low


def test_the_end_that_breaks_it_says_that_it_does_not_hold(by_rate):
    _, hanging = by_rate
    assert hanging.holds("behind") is Holds.NO
    ((setting, value, seen),) = hanging.ends("behind", Shown.BROKEN)
    assert (setting.key, value) == (RATE, SETTINGS[RATE].high)
    assert seen.broken.low < broken(value, 240.0) < seen.broken.high


def test_a_layout_that_hangs_on_nothing_holds_everywhere(by_rate):
    _, hanging = by_rate
    assert hanging.holds("beside") is Holds.YES
    (limit,) = hanging.limits_of("beside")
    assert limit.is_everywhere
    assert hanging.stopped_because == REACHED


def test_json_says_of_each_layout_whether_it_holds_and_while_what(by_rate):
    judgement, hanging = by_rate
    told = {one["name"]: one for one in judgement_json(judgement, hanging)["layouts"]}
    assert told["behind"]["holds_over_rates"] == "no"
    assert told["beside"]["holds_over_rates"] == "yes"
    (condition,) = told["behind"]["conditions"]
    assert condition["key"] == RATE
    assert condition["kept_from"] is None  # down to the end of its range
    assert condition["kept_to"] < even_rate(240.0) < condition["broken_above"]
    assert judgement_json(judgement, None)["layouts"][0]["holds_over_rates"] == "not tested"


def test_a_promise_is_kept_up_to_a_repair_just_shorter_than_the_exact_one(behind):
    """At 0.05 failures a year repairs of a median of 412 h break it in 30 of 100."""
    site = behind(per_year=0.05, median_h=120.0)
    exact_h = even_median_h(0.05)
    assert broken(0.05, exact_h) == pytest.approx(MAY_BREAK)
    _, hanging = found_on(site, REPAIR)
    (limit,) = hanging.limits
    assert 120.0 < limit.high.kept_to < exact_h
    assert broken(0.05, limit.high.kept_to) > 0.6 * MAY_BREAK
    assert limit.high.broken_from is None or limit.high.broken_from > exact_h


def test_of_a_promise_that_is_broken_it_is_told_what_would_keep_it(behind):
    """Three failures in ten years are too many; 0.064 a year would do."""
    judgement, hanging = found_on(behind(per_year=0.3), RATE)
    assert judgement.verdict is Verdict.BROKEN
    assert hanging.holds("behind") is Holds.NO
    (limit,) = hanging.limits
    assert limit.low.is_whole
    assert SETTINGS[RATE].low < limit.high.kept_to < even_rate(240.0)


def test_a_layout_that_breaks_it_is_not_played_where_another_keeps_it(behind):
    judgement, hanging = found_on(behind(per_year=0.3, beside=True), RATE)
    assert judgement.of_layout("behind").verdict is Verdict.BROKEN
    assert hanging.layouts == ("beside",)
    assert hanging.holds("behind") is Holds.NO


def test_nothing_is_tried_where_it_is_open_whether_the_promise_is_kept(behind):
    judgement = judge(behind(), PROMISE, budget=Budget(4, 3600.0))
    assert judgement.verdict is Verdict.UNDECIDED
    hanging = over_defaults(judgement, under(behind(), RATE), EFFORT)
    assert (hanging.layouts, hanging.tried, hanging.stopped_because) == ((), (), UNSURE)
    assert hanging.holds("behind") is Holds.NOT_TESTED


def test_time_that_is_up_leaves_the_rest_untested(behind):
    ticks = iter(range(10**6))
    effort = replace(EFFORT, seconds=3, clock=lambda: next(ticks))
    _, hanging = found_on(behind(), RATE, effort=effort)
    assert hanging.stopped_because == OUT_OF_TIME
    assert hanging.holds("behind") is Holds.NOT_TESTED


def test_an_interrupt_leaves_what_is_known(behind):
    def watch(_n_before, _n_all, variant):
        if variant.at == -1:
            raise KeyboardInterrupt

    _, hanging = found_on(behind(), RATE, watch=watch)
    assert hanging.stopped_because == INTERRUPTED
    assert hanging.holds("behind") is Holds.NO  # both ends were tried by then
    assert hanging.limits == ()  # a search that was cut short is not told


def test_what_a_site_has_no_room_for_breaks_nothing(behind):
    site = behind()
    allowed = under(site, RATE)

    def narrow(assumed):
        if assumed.get(RATE, 0) > 0.03:
            raise InputError([Fault("site.yaml", "0.11", "expected less")])
        return allowed(assumed)

    judgement = judge(site, PROMISE, budget=Budget(2000, 3600.0))
    hanging = over_defaults(judgement, narrow, replace(EFFORT, n_draws=0))
    (tried,) = hanging.tried
    assert tried.high["behind"].shown is Shown.IMPOSSIBLE
    assert hanging.holds("behind") is Holds.YES


def test_what_the_lifetimes_do_not_hang_on_is_not_played(behind):
    _, hanging = found_on(behind())
    assert hanging.tried == ()
    assert hanging.limits == ()
    assert hanging.holds("behind") is Holds.YES


def test_threads_change_nothing(behind):
    judgement = judge(behind(), PROMISE, budget=Budget(2000, 3600.0))
    one, three = (
        over_defaults(judgement, under(behind(), RATE), replace(EFFORT, workers=n)) for n in (1, 3)
    )
    assert judgement_json(judgement, one) == judgement_json(judgement, three)


def test_rarer_breaks_are_given_more_lifetimes():
    """With none broken a bound of 1 in 100 takes -ln(0.005) / 0.01 = 530 buildings at least."""
    assert lifetimes_for(0.95, 20000) == 512
    assert lifetimes_for(0.99, 20000) > 2 * 530
    assert lifetimes_for(0.99, 700) == 700


@given(st.integers(0, 40), st.data())
def test_halving_finds_the_last_value_that_keeps_it(n, data):
    values = tuple(float(k) for k in range(n))
    n_kept = data.draw(st.integers(0, n))
    crossing, n_tests = Crossing(values), 0
    while (value := crossing.next) is not None:
        crossing.learn(value < n_kept)
        n_tests += 1
    assert crossing.kept_to == (values[n_kept - 1] if n_kept else None)
    assert n_tests <= math.ceil(math.log2(n + 1))


@given(st.sampled_from(uncertain()), st.floats(0, 1), st.sampled_from([0, 1]))
def test_values_tried_are_round_and_go_from_the_start_to_the_end(setting, share, at):
    start = setting.value_at(share)
    values = between(setting, start, at)
    assert len(values) < 2**HALVINGS
    inner = [start, *values, setting.value_at(at)]
    assert inner == sorted(inner, reverse=not at)
    for value in values:
        assert len(f"{value:.12g}".lstrip("-0.").replace(".", "").rstrip("0")) <= 4


@given(st.sampled_from(uncertain()), st.floats(0, 1))
def test_the_share_of_a_value_leads_back_to_it(setting, share):
    value = setting.value_at(share)
    assert setting.value_at(share_of(setting, value)) == pytest.approx(value, rel=1e-9, abs=1e-9)
