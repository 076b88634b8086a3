"""Hours of layouts that lose next to nothing, against a two-state Markov chain."""

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.building.settings import Duration, Hardware
from resilience.building.upkeep import Upkeep
from resilience.connectivity.links import site_table
from resilience.lifetime.branching.aims import FOR_EVER_MS
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.record import Watch
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.splitting.cuts import Loss
from resilience.montecarlo.splitting.nearness import aim_of
from resilience.ranking.comparison import compare
from resilience.ranking.seldom.hours import LEAST_BUILDINGS, MOST_SEEN, n_with_loss
from resilience.ranking.seldom.order import Against, seldom_layouts, seldom_order
from resilience.report.comparing.ranking import comparison_page
from resilience.report.screen import screen_lines

PORTFOLIO = Path(__file__).parents[2] / "sites" / "portfolio"
COUNTED_MS = "orphan_ms", "not_reached_ms"
NOTHING = dict.fromkeys(
    (
        *("hardware", "early_failure", "battery", "link_blockage", "obstacles"),
        *("gateway_outage", "mains_outage", "gateway_hardware"),
    )
)
UP_H, VISIT_H, YEARS, YEAR_H = 2000.0, 2.0, 0.1, 8766.0


def hours_away(n: int) -> float:
    """Mean hours a year for which all of n units are away that begin up, each by itself.

    One is away at t with probability u (1 - exp(-s t)); the n-th power is integrated in thin steps.
    """
    u, s, n_steps = VISIT_H / (UP_H + VISIT_H), 1 / UP_H + 1 / VISIT_H, 200_000
    step_h = YEARS * YEAR_H / n_steps
    shares = ((u * -math.expm1(-s * (i + 0.5) * step_h)) ** n for i in range(n_steps))
    return math.fsum(shares) * step_h / YEARS


@pytest.fixture(scope="module")
def compared(small_site):
    """Three layouts of one sensor, behind one repeater, behind either of two, or of three."""
    layouts = [
        small_site.layout(name, links=" ".join(f"g1~r{k}=1 r{k}~s1=1" for k in range(1, n + 1)))
        for n, name in ((1, "one"), (2, "two"), (3, "three"))
    ]
    site = small_site(
        *layouts,
        horizon_years=YEARS,
        radio={"predict": False, "swing_db": 0.0},
        hazards=NOTHING | {"hardware": Hardware(UP_H, 1.0)},
    )
    site = replace(site, upkeep=Upkeep(Duration("exponential", mean_h=VISIT_H), None))
    comparison = compare(site, budget=Budget(1200, 240.0))
    return replace(Undertaking.whole(site, 1), engine=COMPILED), comparison


def page_of(comparison, found):
    """Words of the page, joined again."""
    lines = screen_lines(comparison_page(comparison, seldom=found), 100)
    return " ".join("\n".join("".join(part.text for part in line) for line in lines).split())


def always(_):
    return lambda: math.inf


def never(_):
    return lambda: 0.0


def test_layouts_that_lost_next_to_nothing_are_split_for_their_hours(compared):
    undertaking, comparison = compared
    assert set(seldom_layouts(undertaking, comparison)) == {"two", "three"}
    for placed in comparison.placed:
        is_enough = placed.study.n_buildings >= LEAST_BUILDINGS
        n_seen = n_with_loss(placed.study, comparison.ranked_by)
        assert (placed.layout.name != "one") == (is_enough and n_seen <= MOST_SEEN)
    reference = replace(undertaking, engine=REFERENCE)
    assert seldom_layouts(reference, comparison) == ()
    assert seldom_order(reference, comparison, always) is None


def test_hours_by_splitting_hold_the_truth_and_order_what_lifetimes_could_not(compared):
    found = seldom_order(*compared, always)
    for name, n in (("two", 2), ("three", 3)):
        one = found.of(name).found
        assert one.is_told
        assert abs(one.estimate.mean - hours_away(n)) < 4 * one.standard_error
        assert one.estimate.low < hours_away(n) < one.estimate.high
    best, second = found.of("three"), found.of("two")
    assert set(found.against(best).values()) == {Against.BETTER}
    assert found.against(second) == {"three": Against.WORSE, "one": Against.BETTER}
    told = json.loads(json.dumps(found.to_json()))["two"]
    assert told["hours_per_sensor_year"]["holds"] == "under the assumed rates"
    assert told["shown_to_be"]["three"] == "worse"
    page = page_of(compared[1], found)
    assert "by splitting, under" in page
    assert "By these intervals it is better than two and one." in page
    assert "By these intervals it is better than one; worse than three." in page
    assert "no bound of finite samples). No link is predicted: it holds for this building" in page
    predicted = replace(compared[1].site, radio=replace(compared[1].site.radio, predict=True))
    open_radio = replace(found, comparison=replace(compared[1], site=predicted))
    page = page_of(compared[1], open_radio)
    assert f"over possible buildings, of which the runs drew {best.n_buildings:,}" in page


@pytest.mark.parametrize("from_first_route", [True, False])
def test_time_lost_counts_from_a_first_way_on_exactly_where_the_ranking_does(from_first_route):
    """Against what tallies say of the same lifetimes; some sensors wait for their first way."""
    site = read_site(PORTFOLIO / "amogarth-infirmary")
    layout, watch = site.layout("gateway-only"), Watch(from_first_route=from_first_route)
    undertaking = replace(Undertaking.whole(site, 5), watch=watch)
    stage = undertaking.stage(layout, site_table(site, (layout,)).of(layout))
    loss = Loss(0, counts_down=False, counts_outages=undertaking.count_site_outages)
    splitter = stage.splitter(aim_of(*stage.calm(), loss, FOR_EVER_MS))
    found = splitter.play(5, 0, 20, [1] * splitter.aim.n_levels)
    sums = {name: int(stage.tally(0, 20).per_building(name).sum()) for name in COUNTED_MS}
    assert sums["not_reached_ms"] > 0
    expected = sums["orphan_ms"] - from_first_route * sums["not_reached_ms"]
    assert found.lost_ms * 20 == pytest.approx(expected, rel=1e-12)


def test_without_time_hours_stay_open_and_the_page_says_so(compared):
    found = seldom_order(*compared, never)
    assert all(not one.found.is_told for one in found.hours)
    page = page_of(compared[1], found)
    assert "splitting came to nothing: there was no time for 32 runs" in page
    assert found.to_json()["two"]["hours_per_sensor_year"] is None
    assert found.to_json()["two"]["shown_to_be"] is None
