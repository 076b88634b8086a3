"""Whether the order survives other defaults, against rates at which the answer is known."""

from dataclasses import replace

import pytest

from resilience.assumptions.catalogue import settings, uncertain
from resilience.building.settings import Blockage, Duration, Learnt, LearntValue, MainsOutage
from resilience.errors import Fault, InputError, UsageError
from resilience.lifetime.engines import COMPILED
from resilience.montecarlo.assumed.several import Several
from resilience.montecarlo.assumed.variants import Effort, drawn_values, open_settings
from resilience.montecarlo.runs.running import (
    INTERRUPTED,
    OUT_OF_TIME,
    REACHED,
    Budget,
    Undertaking,
)
from resilience.ranking.comparison import compare, ranked
from resilience.ranking.variation import Survival, Variation, binomial_share
from resilience.ranking.varying import claim_of, varied

RATE = "hazards.link_blockage.busy_per_year"
HOURS_PER_YEAR = 8766
QUIET_AIR = {"predict": False, "swing_db": 0.0, "survey_spread_db": 0.0, "survey_settled_db": 0.0}


def hours_away(per_year: float, mean_h: float) -> float:
    """Hours a year: 1 - A with A = 1 / (1 + rate x mean), alternating renewals (Barlow 1965)."""
    away = per_year * mean_h / HOURS_PER_YEAR
    return HOURS_PER_YEAR * away / (1 + away)


@pytest.fixture(scope="module")
def two_ways(small_site):
    """Layout path hangs on one weak link that gets blocked, relay on one repeater on mains.

    The relay's links have more to spare than a blockage takes.
    """

    def made(mains_per_year: float):
        path = small_site.layout("path", links="g1~s1=0.5")
        relay = small_site.layout("relay", links="g1~r1=1 r1~s1=1")
        hazards = dict.fromkeys(small_site(path).hazards.__slots__)
        hazards["link_blockage"] = Blockage(
            None, 0.5, 20.0, 10.0, Duration("exponential", mean_h=3.0)
        )
        hazards["mains_outage"] = MainsOutage(mains_per_year, Duration("exponential", mean_h=4.0))
        routing = {"objective": "hops", "hysteresis": 0}
        site = small_site(path, relay, radio=QUIET_AIR, routing=routing, hazards=hazards)
        return replace(site, horizon_years=2.0)

    return made


def only(site, *keys):
    """The site under other values of these keys; it states all others itself."""

    def under(assumed):
        changed = site
        for key in keys:
            if key in assumed:
                changed = changed.with_setting(key, assumed[key])
        return changed

    return under


def of(variation: Variation, key: str):
    (found,) = (one for one in variation.varied if one.setting.key == key)
    return found


def test_the_order_turns_where_blockages_are_many_enough(two_ways):
    """Path loses 60 h at 20 blockages a year, 148 at 50; relay 103, mains lost 26 times."""
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=256))
    variation = varied(comparison, only(site, RATE), Effort(n_draws=12))
    assert variation.survival is Survival.TURNED
    assert [one.setting.key for one in variation.varied] == [RATE]
    rate = of(variation, RATE)
    assert (rate.low.survival, rate.high.survival) == (Survival.HELD, Survival.TURNED)
    for per_year, case in ((5, rate.low), (20, variation.usual), (50, rate.high)):
        expected_h = hours_away(26, 4) - hours_away(per_year, 3)
        difference = case.pair.difference
        assert -difference.high <= expected_h <= -difference.low
        assert case.gap_h == pytest.approx(expected_h, abs=12)
    assert rate.moves_h(variation.usual) == pytest.approx(
        hours_away(50, 3) - hours_away(20, 3), abs=12
    )


def test_a_draw_turns_the_order_only_where_its_own_rate_does(two_ways):
    """At 103 h a year the two are even: 35.3 blockages a year of 3 h each."""
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=256))
    variation = varied(comparison, only(site, RATE), Effort(n_draws=12))
    even_per_year = 35.3
    assert hours_away(even_per_year, 3) == pytest.approx(hours_away(26, 4), rel=0.02)
    seed, setting = comparison.leader.seed, of(variation, RATE).setting
    for draw, case in enumerate(variation.sample):
        per_year = drawn_values([setting], seed, draw)[RATE]
        wrong = Survival.TURNED if per_year < even_per_year else Survival.HELD
        assert case.survival is not wrong
    shows = [case.survival for case in variation.sample]
    assert len(shows) == 12
    assert Survival.HELD in shows


def test_the_order_survives_where_no_default_matters_enough(two_ways):
    """Mains lost 200 times a year is 732 h, and the path loses 148 h at most."""
    site = two_ways(200.0)
    variation = varied(
        compare(site, budget=Budget(lifetimes=256)), only(site, RATE), Effort(n_draws=6)
    )
    assert variation.survival is Survival.HELD
    assert variation.stopped_because == REACHED
    assert variation.n_drawn(Survival.HELD) == variation.n_played == 6
    # From memory: with n of n the lower bound is (alpha / 2)^(1 / n), Clopper and Pearson 1934.
    assert variation.share(Survival.HELD).low == pytest.approx(0.025 ** (1 / 6))
    assert variation.share(Survival.HELD).high == 1


def test_what_the_lifetimes_do_not_hang_on_is_not_played(two_ways):
    """The band is busy, so quiet rates cannot matter; nor can a rejoin, which is no orphan time."""
    site = two_ways(26.0)
    unmoved = ("hazards.link_blockage.quiet_per_year", "routing.rejoin_long_h")
    comparison = compare(site, budget=Budget(lifetimes=64))
    variation = varied(comparison, only(site, *unmoved), Effort(n_lifetimes=64, n_draws=2))
    assert variation.varied == ()
    assert set(unmoved) <= {setting.key for setting in variation.unmoved}
    assert [case.gap_h for case in variation.sample] == [variation.usual.gap_h] * 2


def test_too_few_lifetimes_neither_confirm_nor_refute(two_ways):
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=256))
    variation = varied(comparison, only(site, RATE), Effort(n_lifetimes=8, n_draws=2))
    assert variation.survival is Survival.OPEN
    assert {case.survival for case in variation.sample} == {Survival.OPEN}


def test_an_order_that_was_never_shown_cannot_survive(two_ways, made_study):
    site = two_ways(26.0)
    even = [made_study(name, orphan=[10.0, 12.0] * 60) for name in ("path", "relay")]
    comparison = ranked(site, even)
    assert not claim_of(comparison).is_shown
    variation = varied(comparison, only(site, RATE), Effort(n_draws=0))
    assert variation.survival is Survival.OPEN
    assert of(variation, RATE).high.survival is Survival.TURNED  # relay is shown to be better there


def test_what_a_site_has_no_room_for_is_said_and_not_played(two_ways):
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=64))
    allowed = only(site, RATE)

    def under(assumed):
        if assumed.get(RATE, 0) > 20:
            raise InputError([Fault("site.yaml", "50", "expected less")])
        return allowed(assumed)

    variation = varied(comparison, under, Effort(n_lifetimes=64, n_draws=0))
    high = of(variation, RATE).high
    assert high.survival is Survival.IMPOSSIBLE
    assert "expected less" in high.why


def test_time_that_is_up_leaves_the_rest_untested(two_ways):
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=64))
    ticks = iter(range(10**6))
    effort = Effort(n_lifetimes=32, seconds=12, n_draws=3, clock=lambda: next(ticks))
    variation = varied(comparison, only(site, RATE), effort)
    assert variation.stopped_because == OUT_OF_TIME
    assert Survival.NOT_TESTED in {case.survival for _, case in of(variation, RATE).ends}
    assert len(variation.sample) < 3


def test_an_interrupt_leaves_what_is_known(two_ways):
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=256))

    def watch(n_before, _n_all, _variant):
        if n_before == 4:
            raise KeyboardInterrupt

    keys = (RATE, "hazards.link_blockage.loss_db")
    variation = varied(comparison, only(site, *keys), Effort(n_draws=3), watch)
    assert variation.stopped_because == INTERRUPTED
    assert variation.survival is not Survival.HELD
    assert variation.sample == ()
    shown = {case.survival for one in variation.varied for _, case in one.ends}
    assert shown - {Survival.NOT_TESTED}


def test_threads_change_nothing(two_ways):
    site = two_ways(26.0)
    comparison = compare(site, budget=Budget(lifetimes=64))
    efforts = (Effort(n_lifetimes=64, n_draws=4, workers=n) for n in (1, 3))
    one, three = (varied(comparison, only(site, RATE), effort) for effort in efforts)
    assert one.to_json() == three.to_json()


def test_one_layout_has_no_order(two_ways):
    site = two_ways(26.0)
    alone = replace(site, layouts=site.layouts[:1])
    with pytest.raises(UsageError, match="one layout"):
        varied(compare(alone, budget=Budget(lifetimes=2)), lambda _: alone)


@pytest.mark.parametrize(
    ("n_seen", "n", "low", "high"),
    [
        (0, 20, 0.0, 0.1684),
        (10, 20, 0.2720, 0.7280),
        (20, 20, 0.8316, 1.0),
        (4, 10, 0.1216, 0.7376),
    ],
)
def test_shares_have_exact_intervals(n_seen, n, low, high):
    """Tables of Clopper and Pearson 1934 as reprinted since, four digits, from memory."""
    found = binomial_share(n_seen, n)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


def test_no_draw_says_nothing():
    found = binomial_share(0, 0)
    assert (found.low, found.high) == (0, 1)


def test_every_uncertain_setting_is_a_number_within_a_range():
    assert uncertain()
    for one in uncertain():
        assert one.low <= one.value_at(0.5) <= one.high
        assert (one.value_at(0.0), one.value_at(1.0)) == pytest.approx((one.low, one.high))
    questions = {"horizon_years", "radio.frequency_mhz"}  # asked for; and known from the standard
    assert not questions & {one.key for one in uncertain()}


def test_draws_are_even_over_the_range_or_its_logarithm():
    """Half of the draws lie below the middle, give or take four standard errors (binomial)."""
    found = {one.key: one for one in settings()}
    logarithmic, even = found[RATE], found["radio.quiet_95_dbm"]
    middle = {logarithmic.key: (5 * 50) ** 0.5, even.key: (-91 - 83) / 2}
    n = 2000
    draws = [drawn_values([logarithmic, even], 1, draw) for draw in range(n)]
    for key, value in middle.items():
        below = sum(draw[key] < value for draw in draws)
        assert abs(below - n / 2) < 4 * (n / 4) ** 0.5


def test_a_draw_of_one_setting_does_not_hang_on_the_others():
    first, *others = uncertain()
    assert drawn_values([first], 5, 3)[first.key] == drawn_values([*others, first], 5, 3)[first.key]


def test_upkeep_and_rates_are_tried_before_radio(two_ways):
    """If time runs out it is radio that is left, of which something has been published."""
    site, tried = two_ways(26.0), []
    comparison = compare(site, budget=Budget(lifetimes=2))
    keys = ("radio.direction_difference_db", "routing.min_prr", RATE)

    def watch(_n_before, _n_all, variant):
        tried.append(variant.key)

    varied(comparison, only(site, *keys), Effort(n_lifetimes=2, n_draws=1), watch)
    first = [tried.index(key) for key in (RATE, "routing.min_prr", "radio.direction_difference_db")]
    assert first == sorted(first)
    assert tried[-1] == ""  # all of them together


def test_what_was_learnt_is_varied_within_its_own_bounds(two_ways):
    values = (
        LearntValue("hazards.link_blockage.per_year", 4.0, 2.0, 8.0, 9, 3.0),
        LearntValue("upkeep.repair.median_h", 48.0, 30.0, 70.0, 5, 0.0),
        LearntValue("upkeep.repair.p90_h", 200.0, 100.0, 400.0, 5, 0.0),
    )
    site = replace(two_ways(1.0), learnt=Learnt(values))
    found = {one.key: (one.value_at(0.0), one.value_at(1.0)) for one in open_settings(site)}
    assert found["hazards.link_blockage.per_year"] == pytest.approx((2.0, 8.0))
    assert found["upkeep.repair.median_h"] == pytest.approx((30.0, 70.0))
    assert "upkeep.repair.p90_h" not in found
    assert set(found) == {one.key for one in uncertain()} | {"hazards.link_blockage.per_year"}
    assert [one.key for one in open_settings(two_ways(1.0))] == [one.key for one in uncertain()]


def test_links_are_predicted_anew_only_where_something_of_the_radio_is_otherwise(two_ways):
    site = two_ways(1.0)
    undertaking = Undertaking(site, site.layouts, 3, False, COMPILED)
    several = Several(undertaking, 2, 1, lambda: False)

    def tables(other):
        return several._tables_of(replace(undertaking, site=other))

    first = tables(site)
    same = tables(site.with_setting("hazards.mains_outage.per_year", 2.0))
    assert all(one is other for one, other in zip(same, first, strict=True))
    other = tables(site.with_setting("radio.swing_db", 1.0))
    assert [one.link_ids for one in other] == [one.link_ids for one in first]
    assert [one.radio.swing_db for one in other] == [1.0, 1.0]
