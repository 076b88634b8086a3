"""All layouts in order: ranks, ties, hop depth, outages, and facts of the trade."""

import json
import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from resilience.building.site import outages_matter
from resilience.building.upkeep import Prices
from resilience.errors import UsageError
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.runs.running import Budget
from resilience.ranking.comparison import compare, ranked
from resilience.ranking.pairs import DIFFERENCE, RankedBy, Verdict

N = 1600  # building draws
PRICES = Prices(device=80, gateway=400, cells=6, visit=150, hour=60)
STEADY = np.tile([-0.1, 0.1], N // 2)  # caps of 20 h leave 0.15 h open
WILD = 1000 * STEADY  # and these 10 h


@pytest.fixture(scope="module")
def comparison(small_site, made_study):
    """Layouts ranked by orphan hours per building draw; ``depths`` gives hop depths by name."""

    def of(depths=None, not_reached=None, **hours):
        site = small_site(*(small_site.layout(name, links="g1~s1=0.9") for name in hours))
        found = [
            made_study(
                name,
                orphan=values,
                routed=np.full(N, 1000.0),
                depth=np.full(N, 1000.0 * (depths or {}).get(name, 1)),
                not_reached=np.full(N, (not_reached or {}).get(name, 0.0)),
            )
            for name, values in hours.items()
        ]
        return ranked(site, found)

    return of


def test_who_is_better_and_costs_no_more_dominates(comparison):
    found = comparison(a=30 + STEADY, b=10 + STEADY[::-1], c=10 + STEADY)
    assert found.dominated == {}  # nobody stated a price
    priced = replace(found, site=replace(found.site, prices=PRICES))
    assert set(priced.dominated) == {"a"}
    assert priced.to_json()["dominated"] == priced.dominated
    partly = replace(PRICES, cells=None)  # each layout needs cells, so nobody knows its cost
    assert replace(found, site=replace(found.site, prices=partly)).dominated == {}


def test_who_is_better_and_costs_more_does_not_dominate(small_site, made_study):
    links = {"a": "g1~s1=0.9", "b": "g1~s1=0.9 g1~r1=0.9"}
    site = small_site(*(small_site.layout(name, links=text) for name, text in links.items()))
    hours = {"a": 30 + STEADY, "b": 10 + STEADY[::-1]}
    found = ranked(site, [made_study(name, orphan=values) for name, values in hours.items()])
    priced = replace(found, site=replace(site, prices=PRICES))
    assert ranks(priced)[0] == ("b", 1)
    assert priced.dominated == {}


def ranks(comparison):
    return [(placed.layout.name, placed.rank) for placed in comparison.placed]


def test_the_layout_with_the_fewest_orphan_hours_comes_first(comparison):
    found = comparison(a=30 + STEADY, b=10 + STEADY[::-1], c=20 + 2 * STEADY)
    assert ranks(found) == [("b", 1), ("c", 2), ("a", 3)]
    assert found.leader.layout == "b"
    assert {pair.verdict for pair in found.pairs} == {Verdict.BETTER}


def test_every_two_layouts_are_a_pair_with_the_better_placed_one_first(comparison):
    found = comparison(a=30 + STEADY, b=10 + STEADY[::-1], c=20 + 2 * STEADY, d=15 + 3 * STEADY)
    order = [name for name, _ in ranks(found)]
    assert [(pair.first, pair.second) for pair in found.pairs] == list(combinations(order, 2))
    assert found.pair("b", "a").difference.mean == pytest.approx(-20.0)
    with pytest.raises(UsageError, match="a is not placed before b"):
        found.pair("a", "b")


def test_layouts_that_nothing_separates_share_a_rank(comparison):
    found = comparison(a=130 + WILD, b=131 - WILD, c=160 + STEADY)
    assert ranks(found) == [("a", 1), ("b", 1), ("c", 3)]


def test_a_rank_counts_only_those_that_are_shown_to_be_better(comparison):
    """a is better than c, and b, between them, is not told from either."""
    found = comparison(a=230 + STEADY, b=233 + 2 * WILD, c=242 - STEADY)
    assert found.pair("a", "c").verdict is Verdict.BETTER
    assert ranks(found) == [("a", 1), ("b", 1), ("c", 2)]


def test_equal_hours_are_placed_by_name(comparison):
    assert [name for name, _ in ranks(comparison(c=30 + STEADY, a=30 + STEADY, b=30 + STEADY))] == [
        "a",
        "b",
        "c",
    ]


@pytest.mark.parametrize(("names", "n_pairs"), [("ab", 1), ("abc", 3), ("abcd", 6)])
def test_all_pairs_together_keep_the_level(comparison, names, n_pairs):
    """Bonferroni: 95 % over m pairs takes 1 - 0.05 / m each."""
    hours = {name: 10 * n + (n + 1) * STEADY for n, name in enumerate(names, start=1)}
    found = comparison(**hours)
    assert len(found.pairs) == n_pairs
    for pair in found.pairs:
        expected = hours_estimate(
            hours[pair.first] - hours[pair.second], DIFFERENCE, 1 - 0.05 / n_pairs
        )
        assert pair.difference.low == pytest.approx(expected.low, abs=1e-6)
        assert pair.difference.high == pytest.approx(expected.high, abs=1e-6)


def test_a_single_layout_is_placed_first_of_one(comparison):
    found = comparison(a=10 + STEADY)
    assert ranks(found) == [("a", 1)]
    assert found.pairs == ()


def test_layouts_that_are_alike_are_ordered_by_hop_depth(comparison):
    found = comparison(depths={"a": 3, "b": 2}, a=10 + STEADY, b=10.1 - STEADY)
    assert ranks(found) == [("b", 1), ("a", 1)]
    assert found.is_ordered_by_depth
    assert found.pair("b", "a").verdict is Verdict.ALIKE


def test_three_that_are_alike_are_ordered_by_hop_depth(comparison):
    found = comparison(
        depths={"a": 3, "b": 2, "c": 1}, a=10 + STEADY, b=10.1 - STEADY, c=10.2 + 2 * STEADY
    )
    assert [name for name, _ in ranks(found)] == ["c", "b", "a"]


def test_alike_layouts_that_are_in_order_of_depth_stay(comparison):
    for depths in ({"a": 1, "b": 2}, {"a": 2, "b": 2}):
        found = comparison(depths=depths, a=10 + STEADY, b=10.1 - STEADY)
        assert [name for name, _ in ranks(found)] == ["a", "b"]
        assert not found.is_ordered_by_depth


def test_hop_depth_never_overrules_orphan_hours(comparison):
    """A layout that loses its far sensors looks shallow: depth alone must not rank it up."""
    for b_h, verdict in ((13 - STEADY, Verdict.BETTER), (11 + WILD, Verdict.TOO_CLOSE)):
        found = comparison(depths={"a": 5, "b": 1}, a=10 + STEADY, b=b_h)
        assert found.pairs[0].verdict is verdict
        assert [name for name, _ in ranks(found)] == ["a", "b"]
        assert not found.is_ordered_by_depth


def test_what_hand_over_would_find_does_not_count_against_a_layout_in_service(comparison):
    """a has 22 h of which 17 h precede the first route of a sensor; b 10 h and 2.5 h."""
    found = comparison(
        not_reached={"a": 2.5, "b": 1.5}, a=8 + STEADY, b=10 + STEADY, c=5.2 + STEADY
    )
    assert found.ranked_by is RankedBy.SERVICE
    assert [name for name, _ in ranks(found)] == ["c", "a", "b"]


def test_hand_over_decides_where_it_makes_more_of_a_difference(comparison):
    found = comparison(not_reached={"a": 19.0}, a=20 + STEADY, b=10 + STEADY, c=5 + STEADY)
    assert found.ranked_by is RankedBy.ALL
    assert [name for name, _ in ranks(found)] == ["c", "b", "a"]


def test_layouts_fall_into_groups_that_are_told_apart(comparison):
    """a and b are 1 h apart within their luck; all others lie far below them."""
    found = comparison(a=130 + WILD, b=131 - WILD, c=460 + STEADY, d=560 + STEADY)
    assert found.to_json()["groups"] == [["a", "b"], ["c"], ["d"]]
    assert found.widest_split.n_better == 2


def test_a_comparison_is_told_under_stable_keys(comparison):
    found = comparison(a=30 + STEADY, b=10 - STEADY)
    form = json.loads(json.dumps(found.to_json(), allow_nan=False))
    assert [(one["rank"], one["name"]) for one in form["layouts"]] == [(1, "b"), (2, "a")]
    assert form["ranked_by"] == "orphan hours in service per sensor-year"
    assert (form["lifetimes"], form["seed"], form["level"]) == (2 * N, 1, 0.95)
    assert form["pairs"][0]["verdict"] == "better"
    assert form["site_outages_counted"] is False
    assert form["stopped_because"] == "made by hand"


def test_the_frame_has_one_row_per_layout_best_first(comparison):
    frame = comparison(depths={"b": 2}, a=30 + STEADY, b=10 - STEADY).to_frame()
    assert list(frame["layout"]) == ["b", "a"]
    assert list(frame["rank"]) == [1, 2]
    assert list(frame["orphan_hours_per_sensor_year"]) == pytest.approx([10.0, 30.0])
    assert list(frame["hop_depth"]) == [2.0, 1.0]
    assert (frame["service_hours_low"] < frame["service_hours_high"]).all()


# Whether site outages are part of the difference.


@pytest.fixture(scope="module")
def with_gateways(small_site):
    def layout(name, *gateways):
        return small_site.layout(name, small_site.device("s1", 9.0, 0.0), *gateways)

    return layout


def test_outages_matter_only_where_gateways_differ(small_site, with_gateways):
    device = small_site.device
    here = device("g1", 0.0, 0.0)
    on_cells = replace(here, battery=small_site.device("s1").battery)
    same = with_gateways("a", here)
    assert not outages_matter([same, with_gateways("b", here, device("r1", 4.0, 0.0))])
    assert not outages_matter([same])
    for others in (
        (device("g1", 1.0, 0.0),),
        (device("g2", 0.0, 0.0),),
        (on_cells,),
        (replace(here, circuit="C1"),),
        (here, device("g2", 5.0, 0.0)),
        (here, device("g2", 5.0, 0.0, standby=True)),
    ):
        assert outages_matter([same, with_gateways("b", *others)])
    standbys = (device("g2", 5.0, 0.0), device("g2", 5.0, 0.0, standby=True))
    assert outages_matter(
        [with_gateways(name, here, g2) for name, g2 in zip("ab", standbys, strict=True)]
    )


def test_a_comparison_counts_outages_only_where_gateways_differ(small_site, with_gateways):
    here, there = small_site.device("g1", 0.0, 0.0), small_site.device("g1", 1.0, 0.0)
    for other, counted in ((here, False), (there, True)):
        site = small_site(with_gateways("a", here), with_gateways("b", other), horizon_years=0.1)
        found = compare(site, budget=Budget(2))
        assert found.to_json()["site_outages_counted"] is counted
        study = found.leader
        cut_off_h = study.hours_per_sensor_year("cut_off_ms").mean()
        with_outages_h = study.orphan_hours_with_outages.mean
        assert with_outages_h == pytest.approx(study.orphan_hours_without_outages.mean + cut_off_h)


def test_a_comparison_refuses_what_makes_no_sense(small_site):
    with pytest.raises(UsageError, match="0 or above"):
        compare(small_site.linked("g1~s1=0.9"), seed=-1)


def test_a_comparison_tells_its_progress(small_site):
    told = []
    found = compare(
        small_site.linked("g1~s1=0.9", horizon_years=0.1),
        budget=Budget(4),
        progress=lambda done, to_do: told.append((done, to_do)),
    )
    assert told[0] == (0, 4)  # ready to be played
    assert told[-1] == (4, 4)
    assert told == sorted(told)
    assert found.leader.n_lifetimes == 4


# Played lifetimes: 150 building draws of one year each.

ROW = "s1~s2=0.6 s2~s3=0.6 s3~s4=0.6 s4~s5=0.6 s5~s6=0.6"


@pytest.fixture(scope="module")
def hours(small_site):
    """Orphan hours per building draw of layouts of given links, played on the same lifetimes."""

    def of(**links):
        layouts = [small_site.layout(name, links=text) for name, text in links.items()]
        site = small_site(*layouts, radio={"predict": False})
        found = compare(site, seed=20300101, budget=Budget(300))
        return found, {
            placed.layout.name: placed.study.hours_per_sensor_year("orphan_ms")
            for placed in found.placed
        }

    return of


def in_errors(differences):
    return differences.mean() / (differences.std(ddof=1) / math.sqrt(len(differences)))


def test_common_luck_takes_most_of_the_noise_out_of_a_difference(hours):
    """Var(a - b) = Var a + Var b - 2 Cov (Law, Simulation Modeling and Analysis)."""
    chain = "g1~s1=0.9 s1~s2=0.9 s2~s3=0.9 s3~s4=0.9"
    _, found = hours(a=chain, b=f"{chain} s2~s4=0.9")
    apart = found["a"].var(ddof=1) + found["b"].var(ddof=1)
    assert (found["a"] - found["b"]).var(ddof=1) < apart / 4
    assert np.corrcoef(found["a"], found["b"])[0, 1] > 0.7


def test_a_second_device_in_reach_of_the_gateway_lowers_orphan_hours(hours):
    """common practice: the gateway should hear more than one first-hop device."""
    chain = "g1~s1=0.6 s1~s2=0.6 s2~s3=0.6"
    comparison, found = hours(alone=chain, helped=f"{chain} g1~s2=0.6")
    assert in_errors(found["alone"] - found["helped"]) > 4
    assert ranks(comparison) == [("helped", 1), ("alone", 2)]
    assert comparison.pairs[0].verdict is Verdict.BETTER


def test_a_gateway_in_the_middle_beats_one_at_the_edge(hours):
    """common practice: place the gateway centrally, keep the depth to a few hops."""
    comparison, found = hours(edge=f"{ROW} g1~s1=0.6", middle=f"{ROW} g1~s3=0.6")
    assert in_errors(found["edge"] - found["middle"]) > 4
    assert ranks(comparison) == [("middle", 1), ("edge", 2)]
    middle, edge = (placed.study.tally for placed in comparison.placed)
    edge_depth, middle_depth = (
        one.per_building("depth_ms") / one.per_building("routed_ms") for one in (edge, middle)
    )
    assert in_errors(edge_depth - middle_depth) > 4


def test_the_heaviest_reason_against_a_chain_is_the_link_that_all_its_readings_pass(hours):
    """common practice: the only way into the gateway decides over all that lies behind it."""
    chain = "g1~s1=0.9 s1~s2=0.9 s2~s3=0.9"
    comparison, _ = hours(alone=chain, helped=f"{chain} g1~s2=0.9")
    pair = comparison.pair("helped", "alone")
    assert (pair.reasons[0].subject, pair.reasons[0].causes) == ("g1~s1", ("link_blockage",))
    assert sum(one.hours for one in pair.reasons) == pytest.approx(pair.difference.mean, rel=1e-12)
