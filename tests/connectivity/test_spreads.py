"""How sure a link is, against the spread of many drawn buildings and against hand sums."""

import math
from dataclasses import replace

import numpy as np
import pytest

from resilience.building.site import Calibration, Correction, GivenLink
from resilience.building.structure import Shaft, Wall
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.prospect import prospect
from resilience.connectivity.luck.spreads import spreads_db
from resilience.connectivity.surveys.calibration import calibrate

N_DRAWS = 2500
ENDS_M = (("a", 0.0), ("b", 7.0))


def spreads(table):
    """Spreads by id of the link."""
    return dict(zip(table.link_ids, spreads_db(table).tolist(), strict=True))


@pytest.fixture(scope="module")
def site(small_site):
    """Three devices around a corner of two concrete walls and one brick wall, one pair measured."""
    walls = tuple(
        Wall(id, "L1", x_m, -99.0, x_m, 99.0, construction)
        for id, x_m, construction in (
            ("w1", 2.0, "concrete_200"),
            ("w2", 4.0, "concrete_200"),
            ("w3", 6.0, "brick_120"),
        )
    )
    building = replace(small_site.open_plan, walls=walls)
    places = {"s1": (0.0, 0.0), "s2": (9.0, 0.0), "s3": (0.0, 7.0), "s4": (3.0, 30.0)}
    devices = (small_site.device(id, *place, transmit_dbm=30.0) for id, place in places.items())
    layout = small_site.layout("a", *devices)
    layout = replace(layout, links=(GivenLink("s1", "s4", None, -70.0),))
    return small_site(layout, building=building)


@pytest.fixture(scope="module")
def hall(site):
    return link_table(site, site.layouts[0])


def test_parts_that_are_independent_add_up_in_square(hall):
    """By hand from the settings: 5 dB shadowing where walls are drawn, a distance coefficient of
    1 dB a decade is off by its spread, directions differ by 2.4 dB; concrete 3 dB, brick 2 dB.

    The two concrete walls are of one kind, so they are off together by 2 x 3 dB.
    """
    radio, found = hall.radio, spreads(hall)
    distance_db = radio.distance_power_spread * math.log10(9)
    through_db = math.hypot(2 * 3.0, 2.0)
    assert found["s1~s2"] == pytest.approx(math.hypot(5.0, distance_db, 1.2, through_db))
    distance_db = radio.distance_power_spread * math.log10(7)
    assert found["s1~s3"] == pytest.approx(math.hypot(5.0, distance_db, 1.2))


def test_both_sides_of_a_lining_are_off_together(site):
    """A lift of two sides of brick_120, 2 dB each, in the place of the walls: 4 dB, by hand."""
    outline = ((2.0, -99.0), (6.0, -99.0), (6.0, 99.0), (2.0, 99.0))
    lift = Shaft("lift", "L1", "L1", outline, "brick_120")
    building = replace(site.building, walls=site.building.walls[:0], shafts=(lift,))
    hall = link_table(replace(site, building=building), site.layouts[0])
    distance_db = hall.radio.distance_power_spread * math.log10(9)
    expected = math.hypot(hall.radio.shadowing_drawn_db, distance_db, 1.2, 2 * 2.0)
    assert spreads(hall)["s1~s2"] == pytest.approx(expected)


def test_a_measured_link_is_as_sure_as_the_survey(hall):
    assert spreads(hall)["s1~s4"] == pytest.approx(3.0)


def test_a_calibrated_building_is_surer_as_far_as_its_survey_tells(site, hall):
    """Spreads of a survey in the place of the documented ones: 1 dB of concrete, 0.5 dB a decade.

    A residual of 5 dB with 3 dB of its own error in it leaves 4 dB; brick stays at its 2 dB.
    """
    told = Calibration(
        Correction(0.0, 0.5, 9), (("concrete_200", Correction(0.0, 1.0, 9)),), 5.0, 9
    )
    found = spreads(link_table(replace(site, calibration=told), site.layouts[0]))
    distance_db = 0.5 * math.log10(9)
    assert found["s1~s2"] == pytest.approx(math.hypot(4.0, distance_db, 1.2, 2 * 1.0, 2.0))
    assert found["s1~s2"] < spreads(hall)["s1~s2"]
    assert found["s1~s4"] == pytest.approx(3.0)


def test_no_link_is_surer_than_it_is_right_where_only_a_sum_is_known(small_site):
    """Twelve links through one brick and one concrete wall each, all 10 dB weaker than assumed.

    The truth of this invented building is 10 dB for both walls together. Through both, a link that
    nobody measured is nearly right; through one alone it is hardly surer than before.
    """
    kinds = (("brick_250", 1.0), ("concrete_150", 2.0))
    walls = tuple(
        Wall(f"{kind}{n}", "L1", x_m, 60.0 * n - 20, x_m, 60.0 * n + 20, kind)
        for n in range(14)
        for kind, x_m in kinds
        if (n, kind) != (13, "concrete_150")
    )
    device = small_site.device
    devices = [device(f"s{n}{end}", x, 60.0 * n) for n in range(14) for end, x in ENDS_M]
    layout = small_site.layout("a", *devices)
    site = small_site(layout, building=replace(small_site.open_plan, walls=walls))
    bare = link_table(site, layout)
    before = {link.id: link.there.rssi_dbm for link in bare.links}
    given = (GivenLink(f"s{n}a", f"s{n}b", None, before[f"s{n}a~s{n}b"] - 10.0) for n in range(12))
    told = calibrate(replace(site, layouts=(replace(layout, links=tuple(given)),))).calibration
    known = link_table(replace(site, calibration=told), layout)
    both, one = "s12a~s12b", "s13a~s13b"
    after = {link.id: link.there.rssi_dbm for link in known.links}
    assert 7.5 < before[both] - after[both] < 10.0
    assert spreads(known)[both] > after[both] - (before[both] - 10.0)
    brick = dict(told.constructions)["brick_250"]
    assumed_db = site.building.construction("brick_250").spread_db
    assert 0.6 * assumed_db < brick.spread < assumed_db
    assert spreads(known)[one] > math.hypot(3.0, brick.spread)  # the survey's own 3 dB at least


def test_what_is_told_is_what_buildings_are_drawn_with(hall):
    """Variance over draws within four standard errors, sqrt(2 / n) of a normal law's own."""
    ready = prospect(hall)
    strengths_cdbm = np.array([ready.strengths_cdbm(6, draw) for draw in range(N_DRAWS)])
    ratios = np.var(strengths_cdbm[:, :, 0] / 100, axis=0, ddof=1) / spreads_db(hall) ** 2
    assert np.abs(ratios - 1).max() < 4 * math.sqrt(2 / N_DRAWS)


def test_a_site_without_places_has_spreads_too(small_site):
    site = small_site.linked("g1~s1=0.9")
    assert spreads(link_table(site, site.layouts[0])) == {"g1~s1": pytest.approx(3.0)}
