"""Figures of a study, from sums that are known by hand."""

import json
import math

import numpy as np
import pytest

from resilience.errors import UsageError
from resilience.lifetime.playing import Stage
from resilience.montecarlo.estimates import SHARE, TOO_FEW
from resilience.montecarlo.running import Budget, Undertaking
from resilience.montecarlo.sequences import BETTING, asymptotic_sequence
from resilience.montecarlo.study import studies, study

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
    """Mean 3, standard deviation sqrt(10), 5.2934411 of them at 4 (package confseq 0.0.11)."""
    found = getattr(made_study("a", **{column: HOURS}), figure)
    half = 5.2934410607 * math.sqrt(10)
    assert (found.mean, found.low) == (3.0, 0.0)
    assert found.high == pytest.approx(3 + half, abs=1e-5)


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
    """64 buildings alike: 0.073310108 of the way to 10 hops (package confseq 0.0.11).

    One sensor alone can only be at depth 1.
    """
    hours = {"routed": [10.0, 90.0] * 32, "depth": [10.0, 90.0] * 32}
    found = made_study("a", **hours).hop_depth
    assert (found.mean, found.low, found.method) == (1.0, 1.0, BETTING)
    assert found.high == pytest.approx(1 + 9 * 0.073310108, abs=1e-7)
    assert made_study("a", n_repeaters=0, **hours).hop_depth.high == 1.0


def test_repeaters_make_the_depth_that_is_possible_larger(site):
    plain, helped = (study(site, name, budget=Budget(2)) for name in "ab")
    assert (plain.hop_depth.high, helped.hop_depth.high) == (5.0, 6.0)  # one building: all possible
    assert plain.hop_depth.method == TOO_FEW


def test_the_largest_number_of_orphans_is_told_as_mean_and_quantile(made_study):
    one = made_study("a", most_orphans=[0, 1, 1, 0])
    assert one.most_orphans.mean == 0.5
    assert (one.most_orphans_p95.mean, one.most_orphans_p95.high) == (1.0, 1.0)


def test_events_are_counted_per_year_of_the_whole_layout(made_study):
    counts = {"device_failures": [1, 3], "battery_deaths": [0, 2], "gateway_outages": [6, 8]}
    year = made_study("a", **counts, visits=[2, 2]).typical_year
    assert year.strikes == {"device_failures": 2.0, "battery_deaths": 1.0, "gateway_outages": 7.0}
    assert year.visits == 2.0
    moves = made_study("a", reparentings=[10, 20]).reparentings_per_year
    assert (moves.mean, moves.low) == (15.0, 0.0)


def test_shares_of_sensors_have_the_variance_that_numpy_finds(site):
    """Exact whole-number sums of squares against numpy on the shares of the buildings."""
    one = study(site, "a", budget=Budget(16))
    by_hand = {}
    stage = Stage(site, site.layouts[0], one.seed, False)
    records = [stage.play(number).record for number in range(16)]
    for sensor in one.sensors:
        shares = np.array([record.dark_ms[sensor] for record in records]) / one.horizon_ms
        by_hand[sensor] = asymptotic_sequence(shares.reshape(-1, 2).mean(axis=1), SHARE)
    for figures in one.sensor_figures:
        expected = by_hand[figures.id]
        assert figures.dark_share.mean == pytest.approx(expected.mean, rel=1e-12)
        if figures.dark_share.method != BETTING:
            assert figures.dark_share.low == pytest.approx(expected.low, rel=1e-9)
            assert figures.dark_share.high == pytest.approx(expected.high, rel=1e-9)


def test_a_sensor_that_is_always_an_orphan_has_a_share_of_1(made_study):
    """29 buildings of 29: 0.8468383009 by bets (package confseq 0.0.11, crossing by halving)."""
    one = made_study("a", orphan=[8766.0] * 29)
    (figures,) = one.sensor_figures
    assert (figures.orphan_share.mean, figures.orphan_share.high) == (1.0, 1.0)
    assert figures.orphan_share.low == pytest.approx(0.8468383009, abs=1e-9)
    assert figures.down_share.high == pytest.approx(1 - 0.8468383009, abs=1e-9)
    assert one.orphan_hours.low == pytest.approx(8766 * 0.8468383009, rel=1e-9)


def test_a_single_building_bounds_no_share(made_study):
    (figures,) = made_study("a", orphan=[87.66]).sensor_figures
    assert (figures.orphan_share.mean, figures.orphan_share.method) == (0.01, TOO_FEW)
    assert (figures.orphan_share.low, figures.orphan_share.high) == (0.0, 1.0)


def test_blame_adds_up_to_the_orphan_hours(site, made_study):
    one = study(site, "a", budget=Budget(16))
    assert sum(one.blame_hours.values()) == pytest.approx(one.orphan_hours.mean, rel=1e-12)
    two = made_study("a", orphan=[3.0], blame_h={("hardware", "s2"): [1.0], ("layout", ""): [2.0]})
    assert two.blame_hours == {("hardware", "s2"): 1.0, ("layout", ""): 2.0}


def test_the_json_of_a_study_is_finite_and_names_its_figures(site):
    for lifetimes in (2, 12):  # a single building has endless bounds
        form = json.loads(
            json.dumps(study(site, "b", 3, Budget(lifetimes)).to_json(), allow_nan=False)
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
    form = json.loads(json.dumps(study(site, "a", budget=Budget(4)).to_json(), allow_nan=False))
    assert form["orphan_hours_per_sensor_year"]["mean"] == 8766.0
    assert form["not_reached_at_handover"]["mean"] == 8766.0
    assert form["hop_depth"] == {"mean": None, "low": 1.0, "high": 1.0, "max": 0}


def test_the_frame_has_one_row_per_sensor_with_all_bounds(made_study):
    frame = made_study("a", orphan=HOURS, dark=[8.0] * 4).to_frame()
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
    assert named.to_json() == handed.to_json()
