"""How sure a link is, against the spread of many drawn buildings and against hand sums."""

import math
from dataclasses import replace

import numpy as np
import pytest

from resilience.building.site import Calibration, Correction, GivenLink
from resilience.building.structure import Wall
from resilience.connectivity.links import link_table
from resilience.hazards.buildings import drawn_paths
from resilience.hazards.spreads import spreads_db

N_DRAWS = 2500


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
    radio, found = hall.radio, spreads_db(hall)
    distance_db = radio.distance_power_spread * math.log10(9)
    through_db = math.hypot(2 * 3.0, 2.0)
    assert found["s1~s2"] == pytest.approx(math.hypot(5.0, distance_db, 1.2, through_db))
    distance_db = radio.distance_power_spread * math.log10(7)
    assert found["s1~s3"] == pytest.approx(math.hypot(5.0, distance_db, 1.2))


def test_a_measured_link_is_as_sure_as_the_survey(hall):
    assert spreads_db(hall)["s1~s4"] == pytest.approx(3.0)


def test_a_calibrated_building_is_surer_as_far_as_its_survey_tells(site, hall):
    """Spreads of a survey in the place of the documented ones: 1 dB of concrete, 0.5 dB a decade.

    A residual of 5 dB with 3 dB of its own error in it leaves 4 dB; brick stays at its 2 dB.
    """
    told = Calibration(
        Correction(0.0, 0.5, 9), (("concrete_200", Correction(0.0, 1.0, 9)),), 5.0, 9
    )
    found = spreads_db(link_table(replace(site, calibration=told), site.layouts[0]))
    distance_db = 0.5 * math.log10(9)
    assert found["s1~s2"] == pytest.approx(math.hypot(4.0, distance_db, 1.2, 2 * 1.0, 2.0))
    assert found["s1~s2"] < spreads_db(hall)["s1~s2"]
    assert found["s1~s4"] == pytest.approx(3.0)


def test_what_is_told_is_what_buildings_are_drawn_with(hall):
    """Variance over draws within four standard errors, sqrt(2 / n) of a normal law's own."""
    strengths = {link.id: np.zeros(N_DRAWS) for link in hall.links}
    for draw in range(N_DRAWS):
        for id, path in drawn_paths(hall, 6, draw).items():
            strengths[id][draw] = path.there.rssi_cdbm / 100
    for id, spread_db in spreads_db(hall).items():
        ratio = np.var(strengths[id], ddof=1) / spread_db**2
        assert abs(ratio - 1) < 4 * math.sqrt(2 / N_DRAWS), id


def test_a_site_without_places_has_spreads_too(small_site):
    site = small_site.linked("g1~s1=0.9")
    assert spreads_db(link_table(site, site.layouts[0])) == {"g1~s1": pytest.approx(3.0)}
