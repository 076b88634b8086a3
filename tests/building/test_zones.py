"""Drawn zones: which devices are in them, and what they state of hazards."""

import random

import pytest

from resilience.building.sections.zones import zone_at
from resilience.building.site import Place
from resilience.building.structure import Building, Level, Zone

L_SHAPE = ((0.0, 0.0), (10.0, 0.0), (10.0, 4.0), (4.0, 4.0), (4.0, 10.0), (0.0, 10.0))
TRIANGLE = ((5.0, 5.0), (12.0, 6.0), (7.0, 12.0))
SITE = """\
format: 1
radio: {{environment: quiet}}
building:
  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]
  levels: [{{id: ground}}]
  zones:
{zones}
{more}
"""
HALL = "{id: hall, level: ground, outline: [[0, 0], [10, 0], [10, 10], [0, 10]]}"
DEVICES = """\
id,kind,level,x_m,y_m,zone
G1,gateway,ground,1,1,
S1,sensor,ground,5,5,
S2,sensor,ground,15,5,
S3,sensor,ground,6,5,annexe
"""


def is_inside(corners, x, y):
    """Even-odd rule (from memory): a ray to the right crosses the sides an odd number of times."""
    n = 0
    for (x1, y1), (x2, y2) in zip(corners, (*corners[1:], corners[0]), strict=True):
        if (y1 > y) != (y2 > y):
            n += x < x1 + (y - y1) / (y2 - y1) * (x2 - x1)
    return n % 2 == 1


def test_a_place_is_in_a_zone_as_a_ray_from_it_counts_sides():
    zones = (Zone("l", "ground", L_SHAPE), Zone("t", "ground", TRIANGLE))
    building = Building((Level("ground", 0.0, 3.0, "concrete_200"),), zones=zones)
    dice = random.Random(5)
    found = set()
    for _ in range(500):
        x, y = dice.uniform(-2, 14), dice.uniform(-2, 14)
        inside = [zone.id for zone in zones if is_inside(zone.outline, x, y)]
        zone = zone_at(building, Place("ground", x, y, 1.0))
        assert [zone] == (inside or [""])
        found.add(zone)
    assert found == {"", "l", "t"}


def test_a_place_on_another_level_or_nowhere_is_in_no_zone():
    zones = (Zone("l", "ground", L_SHAPE), Zone("named"))
    building = Building((Level("ground", 0.0, 3.0, "concrete_200"),), zones=zones)
    assert zone_at(building, Place("upper", 1.0, 1.0, 1.0)) == ""
    assert zone_at(building, None) == ""
    assert zone_at(building, Place("ground", 0.0, 5.0, 1.0)) == "l"  # on its edge


@pytest.fixture
def drawn(folder):
    def written(*zones, more="", devices=DEVICES):
        lines = "\n".join(f"    - {zone}" for zone in zones)
        text = SITE.format(zones=lines, more=more)
        return folder.write(site_yaml=text, layouts__a__devices_csv=devices)

    return written


def zones_of(site):
    return {device.id: device.zone_id for device in site.layouts[0].devices}


def test_a_device_without_a_zone_of_its_own_is_in_the_one_it_hangs_in(drawn):
    site = drawn(HALL).read()
    assert zones_of(site) == {"G1": "hall", "S1": "hall", "S2": "ground", "S3": "annexe"}


def test_temperatures_follow_drawn_zones(drawn):
    site = drawn(HALL, more="temperatures: {hall: {all_year_c: 5}}").read()
    found = {device.id: device.by_month_c[0] for device in site.layouts[0].devices}
    assert found == {"G1": 5.0, "S1": 5.0, "S2": 20.0, "S3": 20.0}


def test_a_rate_of_a_zone_brings_a_hazard_there_alone(drawn):
    site = drawn(HALL.replace("}", ", works_per_year: 0.7, removed_per_year: 2}")).read()
    assert site.hazards.zone_works.per_year == 0
    assert (site.hazards.removed.reach_per_year, site.hazards.removed.high_per_year) == (0, 0)
    assert site.hazards.zone_water is None
    (zone,) = site.building.zones
    assert (zone.works_per_year, zone.removed_per_year, zone.heat_per_year) == (0.7, 2.0, None)


def test_a_hazard_that_is_off_stays_off_in_every_zone(drawn):
    zone = HALL.replace("}", ", works_per_year: 0.7}")
    assert drawn(zone, more="hazards: {zone_works: off}").read().hazards.zone_works is None


def test_a_rate_of_0_is_a_hazard_that_is_off_unless_a_zone_has_another(drawn):
    more = "hazards: {zone_works: {per_year: 0, share: 0.9}}"
    assert drawn(HALL, more=more).read().hazards.zone_works is None
    site = drawn(HALL.replace("}", ", works_per_year: 1}"), more=more).read()
    assert (site.hazards.zone_works.per_year, site.hazards.zone_works.share) == (0, 0.9)
    changed = site.with_setting("hazards.zone_works.share", 0.5)
    assert (changed.hazards.zone_works.per_year, changed.hazards.zone_works.share) == (0, 0.5)


@pytest.mark.parametrize(
    ("zones", "wanted"),
    [
        (["{id: hall, level: ground}"], "expected corners"),
        (["{id: hall, outline: [[0, 0], [1, 0], [1, 1]]}"], "expected a level"),
        (["{id: hal, works_per_year: 1}"], "a zone without devices"),
        ([HALL, HALL.replace("hall", "nook")], "expected one beside zone hall"),
        (
            ["{id: hall, level: ground, outline: [[30, 0], [31, 0], [31, 1]]}"],
            "expected an outline on level ground",
        ),
        ([HALL.replace("}", ", works_per_year: -1}")], "works_per_year"),
    ],
)
def test_zones_that_cannot_be_meant_are_told(drawn, zones, wanted):
    faults = drawn(*zones).faults()
    assert len(faults) == 1
    assert wanted in faults[0]


def test_zones_side_by_side_may_touch(drawn):
    beside = (
        HALL.replace("hall", "yard").replace("[0, 0]", "[20, 0]").replace("[0, 10]", "[20, 10]")
    )
    assert zones_of(drawn(HALL, beside).read())["S2"] == "yard"
