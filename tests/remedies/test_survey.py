"""What to measure first, on a site whose loss hangs on one weak link by construction."""

from dataclasses import replace

import numpy as np
import pytest

from resilience.connectivity.links import link_table
from resilience.connectivity.luck.routes import spares_in_buildings
from resilience.lifetime.record import LAYOUT
from resilience.ranking.comparison import ranked
from resilience.remedies.surveying.survey import survey_of
from resilience.remedies.surveying.unknowns import Kind, told_of

N = 160
SEED = 1  # of studies made by hand


@pytest.fixture(scope="module")
def site(small_site):
    """One sensor far from the gateway, at its limit, and two weak ones near that sensor."""
    places = {"g1": (0.0, 0.0), "s1": (250.0, 0.0), "s2": (258.0, 0.0), "s3": (250.0, 9.0)}
    weak = {"s2": {"transmit_dbm": -25.0}, "s3": {"transmit_dbm": -25.0}}
    devices = [small_site.device(id, *at, **weak.get(id, {})) for id, at in places.items()]
    return small_site(small_site.layout("a", *devices), building=small_site.open_plan)


def hours_of(site, share_hours) -> np.ndarray:
    """Hours in each building: some where the link to the gateway falls short, and luck."""
    table = link_table(site, site.layouts[0])
    row = table.link_ids.index("g1~s1")
    spare_db = spares_in_buildings(table, SEED, N)[:, row] / 100
    return share_hours * np.maximum(0.0, np.median(spare_db) - spare_db)


def surveyed(site, made_study, hours):
    blame = {LAYOUT: hours.tolist()}
    study = made_study("a", blame_h=blame, orphan=hours.tolist(), dark=hours.tolist())
    return survey_of(ranked(site, [study]), study, link_table(site, site.layouts[0]))


def test_the_link_that_the_loss_hangs_on_is_to_be_measured_first(site, made_study):
    found = surveyed(site, made_study, hours_of(site, 1.0))
    first = found.stops[0]
    assert (first.unknown.kind, first.unknown.id) == (Kind.LINK, "g1~s1")
    assert first.is_shown
    assert first.told_share > 0.4  # the error of one measurement hides a part
    assert first.saves_h == 0.0  # there is nothing to choose between
    assert found.knowable_share == pytest.approx(1.0)  # both lifetimes lose the same, by hand
    assert len([one for one in found.shown if one.unknown.kind is Kind.LINK]) <= 3


def test_luck_that_no_building_makes_is_not_to_be_measured(site, made_study):
    hours = np.abs(np.random.default_rng(4).normal(5.0, 2.0, N))
    assert len(surveyed(site, made_study, hours).shown) <= 1


def test_a_loss_of_one_building_tells_nothing_and_says_so(site, made_study):
    hours = np.zeros(N)
    hours[100] = 900.0
    found = surveyed(site, made_study, hours)
    assert found.is_lopsided
    assert found.stops == ()


def test_so_few_buildings_tell_nothing(site, made_study):
    found = surveyed(site, made_study, hours_of(site, 1.0)[:40])
    assert found.n_buildings == 0


def test_what_is_expected_of_a_link_is_what_is_predicted(site):
    table = link_table(site, site.layouts[0])
    told = {one.unknown.id: one.unknown for one in told_of(table, SEED, 8)}
    row = table.link_ids.index("g1~s1")
    expected = told["g1~s1"].expected
    assert expected.rssi_dbm == pytest.approx(table.rssi_dbm[row].min())
    assert expected.low_prr <= expected.prr <= expected.high_prr
    assert told["g1~s1"].levels == ("L1",)


def test_measured_links_are_not_to_be_measured_again(small_site):
    site = small_site.linked("g1~s1=0.5 s1~s2=0.9")
    assert list(told_of(link_table(site, site.layouts[0]), SEED, 8)) == []


def test_two_layouts_that_are_not_told_apart_have_a_choice_to_be_saved(site, made_study):
    """The other layout is the same site by another name, better in half of the buildings."""
    site = replace(site, layouts=(site.layouts[0], replace(site.layouts[0], name="b")))
    hours = hours_of(site, 1.0)
    even = np.full(N, hours.mean())
    studies = [
        made_study(name, blame_h={LAYOUT: one.tolist()}, orphan=one.tolist(), dark=one.tolist())
        for name, one in (("a", hours), ("b", even))
    ]
    comparison = ranked(site, studies)
    found = survey_of(comparison, studies[0], link_table(site, site.layouts[0]))
    assert found.rival == "b"
    assert found.stops[0].unknown.id == "g1~s1"
    # Knowing all would save the mean of what b is better by, where it is: an upper bound.
    assert 0 < found.stops[0].saves_h <= np.maximum(0.0, hours - even).mean() + 1e-9
