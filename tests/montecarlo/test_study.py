"""Figures of a study, from sums that are known by hand."""

import json
import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from resilience.errors import UsageError
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import DrainSums
from resilience.montecarlo.estimates import Limits
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.sequences import RATIO, shares_from_sums
from resilience.montecarlo.study import studies, study
from resilience.montecarlo.telling import sensors_frame, study_json

HOURS = [1.0, 4.0, 0.0, 7.0]  # per sensor-year, in four buildings


def test_hours_per_sensor_year_are_hours_over_installed_sensors_and_years(site):
    """A fixed denominator: 2 lifetimes x 5 sensors x 0.02 years."""
    one = study(site, "a", budget=Budget(8))
    orphan_h = one.tally.column("orphan_ms").reshape(-1, 2).sum(axis=1) / 3_600_000
    assert one.hours_per_sensor_year("orphan_ms") == pytest.approx(orphan_h / (2 * 5 * 0.02))
    assert (one.n_lifetimes, one.n_buildings) == (8, 4)


@pytest.mark.parametrize(
    ("figure", "column"),
    [
        ("orphan_hours", "orphan"),
        ("dark_hours", "dark"),
        ("not_reached_hours", "not_reached"),
        ("interrupted_hours", "interrupted"),
    ],
)
def test_each_figure_is_the_mean_of_its_column(made_study, figure, column):
    """Four building draws are too few for any bound."""
    found = getattr(made_study("a", **{column: HOURS}), figure)
    assert (found.mean, found.low, found.high) == (3.0, 0.0, 8766.0)


def test_figures_of_hours_tell_rare_ones_apart(made_study):
    hours = np.tile(HOURS, 100)
    found = made_study("a", orphan=hours).orphan_hours
    assert found == hours_estimate(hours)
    assert found.beyond.caps == Limits(0.0, 20.0)
    assert 2.0 < found.low < 3.0 < found.high < 4.0


def test_outages_are_added_where_they_were_not_counted_and_taken_off_where_they_were(made_study):
    cut_off = [2.0, 2.0, 2.0, 0.5]
    plain = made_study("a", orphan=HOURS, cut_off=cut_off)
    assert plain.orphan_hours_without_outages == plain.orphan_hours
    assert plain.orphan_hours_with_outages.mean == 3.0 + 1.625
    counted = made_study("a", orphan=[3.0, 6.0, 2.0, 7.5], cut_off=cut_off, counted=True)
    assert counted.orphan_hours_with_outages == counted.orphan_hours
    assert counted.orphan_hours_without_outages == plain.orphan_hours
    assert counted.orphan_hours == plain.orphan_hours_with_outages


def test_played_outages_are_the_same_two_figures_however_they_were_counted(site):
    """By definition orphan time with outages is orphan time without them plus time cut off."""
    layouts = site.layouts[:1]
    plain, counted = (
        studies(Undertaking(site, layouts, 5, count_site_outages=flag), Budget(12))[0]
        for flag in (False, True)
    )
    cut_off_ms = plain.tally.column("cut_off_ms")
    assert cut_off_ms.sum() > 0
    assert np.array_equal(
        counted.tally.column("orphan_ms"), plain.tally.column("orphan_ms") + cut_off_ms
    )
    assert counted.orphan_hours == plain.orphan_hours_with_outages
    assert counted.orphan_hours_without_outages == plain.orphan_hours


def test_hop_depth_is_weighted_with_time(made_study):
    """(10 + 90) hours at depths 1 and 2: 190 / 100, not the mean of 1 and 2."""
    one = made_study("a", routed=[10.0, 90.0], depth=[10.0, 180.0], deepest=[1, 2])
    assert one.hop_depth.mean == pytest.approx(1.9)
    assert one.deepest == 2


def test_a_depth_that_never_varied_is_not_taken_for_certain(made_study):
    """One sensor alone can only be at depth 1."""
    hours = {"routed": [10.0, 90.0] * 32, "depth": [10.0, 90.0] * 32}
    found = made_study("a", **hours).hop_depth
    assert (found.mean, found.low, found.method) == (1.0, 1.0, RATIO)
    assert found.high == 10.0
    assert made_study("a", n_repeaters=0, **hours).hop_depth.high == 1.0


def test_repeaters_make_the_depth_that_is_possible_larger(site):
    plain, helped = (study(site, name, budget=Budget(2)) for name in "ab")
    assert (plain.hop_depth.high, helped.hop_depth.high) == (5.0, 6.0)  # one building: all possible


def test_the_largest_number_of_orphans_is_told_as_mean_and_quantile(made_study):
    one = made_study("a", most_orphans=[0, 1, 1, 0])
    assert one.most_orphans.mean == 0.5
    assert one.most_orphans_p95.mean == 1.0


def test_events_are_counted_per_year_of_the_whole_layout(made_study):
    counts = {"device_failures": [1, 3], "battery_deaths": [0, 2], "gateway_outages": [6, 8]}
    year = made_study("a", **counts, visits=[2, 2]).typical_year
    strikes = {"device_failures": 2.0, "battery_deaths": 1.0, "gateway_outages": 7.0}
    assert year.strikes == {**strikes, "services": 0.0}
    assert year.visits == 2.0
    moves = made_study("a", reparentings=[10, 20]).reparentings_per_year
    assert (moves.mean, moves.low, moves.high) == (15.0, 0.0, math.inf)


def test_shares_of_sensors_are_those_of_their_building_draws(site):
    """Exact whole-number sums against shares worked out record by record."""
    one = study(site, "a", budget=Budget(16))
    stage = Stage(site, site.layouts[0], one.seed, False)
    records = [stage.play(number).record for number in range(16)]
    shares = np.array([[record.dark_ms[id] for id in one.sensors] for record in records])
    of_buildings = (shares / one.horizon_ms).reshape(-1, 2, len(one.sensors)).mean(axis=1)
    expected = shares_from_sums(of_buildings.sum(axis=0), (of_buildings**2).sum(axis=0), 8)
    for figures, bound in zip(one.sensor_figures, expected, strict=True):
        for name in ("mean", "low", "high"):
            assert getattr(figures.dark_share, name) == pytest.approx(getattr(bound, name))


def test_a_sensor_that_never_is_an_orphan_may_still_become_one(made_study):
    """log(2 x 8 / 0.05) / (0.98 n) after n building draws, by the boldest of eight bets."""
    one = made_study("a", orphan=[0.0] * 2900)
    (figures,) = one.sensor_figures
    assert (figures.orphan_share.mean, figures.orphan_share.low) == (0.0, 0.0)
    assert figures.orphan_share.high == pytest.approx(math.log(320) / (0.98 * 2900))


def test_what_comes_before_the_first_route_is_not_service(made_study):
    """7 of 10 h in service; of 7 h held by the layout 3 h came before a first route."""
    held = {("layout", ""): [7.0], ("hardware", "r1"): [3.0]}
    one = made_study("a", orphan=[10.0], not_reached=[3.0], blame_h=held)
    early_ms = Counter({("layout", ""): 2 * 3 * 3_600_000})
    one = replace(one, tally=replace(one.tally, early_blame_ms=early_ms))
    assert (one.service_hours.mean, one.orphan_hours.mean) == (7.0, 10.0)
    assert one.service_blame_hours == {("layout", ""): 4.0, ("hardware", "r1"): 3.0}
    assert sum(one.blame_hours.values()) == 10.0


def test_buildings_in_which_a_sensor_never_has_a_route_are_counted(made_study):
    one = made_study("a", unreached=[0, 2, 0, 0])
    assert one.incomplete_share.mean == 0.25
    assert one.incomplete_share.high > 0.5


def test_cells_last_as_long_as_their_charge_at_the_mean_draw(made_study):
    """2,400 mAh at 0.1, 0.2 and 0.25 mA: 24,000, 12,000 and 9,600 h, of 730.5 h a month."""
    drains = {"s1": DrainSums(4, 800_000, 100_000, 250_000)}
    one = made_study("a", orphan=[0.0])
    one = replace(one, tally=replace(one.tally, drains=drains), usable_mah={"s1": 2400.0})
    life = one.cell_lives["s1"]
    assert life.mean_months == pytest.approx(12_000 / 730.5)
    assert life.least_months == pytest.approx(9_600 / 730.5)
    assert life.most_months == pytest.approx(24_000 / 730.5)


def test_strikes_are_told_by_what_they_strike(site):
    one = study(site, "a", budget=Budget(16))
    years = 16 * 0.02
    by_cause = sum(n for (cause, _), n in one.strikes_per_year.items() if cause == "hardware")
    assert by_cause == pytest.approx(one.tally.column("device_failures").sum() / years)


def test_a_single_building_bounds_hardly_anything(made_study):
    (figures,) = made_study("a", orphan=[87.66]).sensor_figures
    assert (figures.orphan_share.mean, figures.orphan_share.high) == (0.01, 1.0)


def test_blame_adds_up_to_the_orphan_hours(site, made_study):
    one = study(site, "a", budget=Budget(16))
    assert sum(one.blame_hours.values()) == pytest.approx(one.orphan_hours.mean, rel=1e-12)
    two = made_study("a", orphan=[3.0], blame_h={("hardware", "s2"): [1.0], ("layout", ""): [2.0]})
    assert two.blame_hours == {("hardware", "s2"): 1.0, ("layout", ""): 2.0}


def test_the_json_of_a_study_is_finite_and_names_its_figures(site):
    for lifetimes in (2, 12):  # a single building has endless bounds
        form = json.loads(
            json.dumps(study_json(study(site, "b", 3, Budget(lifetimes))), allow_nan=False)
        )
        assert (form["name"], form["seed"], form["lifetimes"]) == ("b", 3, lifetimes)
        assert [one["id"] for one in form["sensors"]] == ["s1", "s2", "s3", "s4", "s5"]
        assert set(form["orphan_hours_per_sensor_year"]) == {"mean", "low", "high"}
        assert form["level"] == 0.95


def test_a_layout_in_which_nobody_ever_has_a_route_can_be_told(small_site):
    """All its sensors are orphans in every lifetime: 8766 h a year each, at no hop depth."""
    site = small_site(
        small_site.layout("a", small_site.device("g1"), small_site.device("s1")),
        hazards={
            "hardware": None,
            "early_failure": None,
            "battery": None,
            "gateway_outage": None,
            "gateway_hardware": None,
        },
    )
    form = json.loads(json.dumps(study_json(study(site, "a", budget=Budget(4))), allow_nan=False))
    assert form["orphan_hours_per_sensor_year"]["mean"] == 8766.0
    assert form["not_reached_at_handover"]["mean"] == 8766.0
    assert form["hop_depth"] == {"mean": None, "low": 1.0, "high": 1.0, "max": 0}


def test_the_frame_has_one_row_per_sensor_with_all_bounds(made_study):
    frame = sensors_frame(made_study("a", orphan=HOURS, dark=[8.0] * 4))
    assert list(frame["sensor"]) == ["s1"]
    assert frame["orphan_share_mean"][0] == pytest.approx(3 / 8766)
    assert frame["dark_share_low"][0] < frame["dark_share_mean"][0] < frame["dark_share_high"][0]
    assert len(frame.columns) == 10


def test_requests_that_make_no_sense_are_refused(site):
    with pytest.raises(UsageError, match="0 or above"):
        study(site, "a", seed=-1)
    with pytest.raises(UsageError, match="no layout 'c'"):
        study(site, "c")


def test_a_layout_is_named_or_handed_over(site):
    named, handed = (study(site, one, budget=Budget(2)) for one in ("a", site.layouts[0]))
    assert study_json(named) == study_json(handed)
