"""Shared causes, each deciding by itself between two layouts of a sensor behind two repeaters.

A sensor that stops measuring decides between no layouts: every layout has the same sensors.
"""

from dataclasses import dataclass, fields, replace

import pytest

from resilience.building.settings import (
    CircuitOutage,
    CommonCause,
    DeviceMute,
    Duration,
    Hardware,
    Hazards,
    MainsOutage,
    Removed,
    SoftwareRelease,
    ZoneLoss,
    ZoneWater,
    ZoneWorks,
)
from resilience.building.site import Place
from resilience.lifetime.engines import REFERENCE
from resilience.lifetime.playing import Stage
from resilience.lifetime.tracing import told
from resilience.report.told.story import steps, telling

LINKS = "g1~r1=0.99 g1~r2=0.99 r1~s1=0.99 r2~s1=0.99"
NONE = dict.fromkeys(field.name for field in fields(Hazards))
TWO_DAYS = Duration("exponential", mean_h=48.0)
N = 12


def _high(metres):
    return Place("L1", 0.0, 0.0, metres)


@dataclass(frozen=True)
class Case:
    """A cause, what of the repeaters differs in the worse and the better layout, and its words."""

    cause: str
    hazards: dict
    worse: tuple[dict, dict]
    better: tuple[dict, dict]
    words: str


CASES = (
    Case(
        "circuit_outage",
        {"mains_outage": MainsOutage(20.0, TWO_DAYS), "circuit_outage": CircuitOutage(1.0)},
        ({"circuit": "C1"}, {"circuit": "C1"}),
        ({"circuit": "C1"}, {"circuit": "C2"}),
        "Circuit C1 lost its supply: r1 and r2 went down. s1 lost its way to a gateway.",
    ),
    Case(
        "common_cause",
        {"hardware": Hardware(1000.0, 1.0), "common_cause": CommonCause(1.0)},
        ({"model_name": "old"}, {"model_name": "old"}),
        ({"model_name": "old"}, {"model_name": "other"}),
        "r1 and r2 failed with all of one model.",
    ),
    Case(
        "software_release",
        {"software_release": SoftwareRelease(20.0, 1.0, 0.0, TWO_DAYS)},
        ({"model_name": "old"}, {"model_name": "old"}),
        ({"model_name": "old"}, {"model_name": "other"}),
        "A faulty release took r1 and r2 down.",
    ),
    Case(
        "zone_works",
        {"zone_works": ZoneWorks(20.0, 0.7, TWO_DAYS)},
        ({"zone": "east"}, {"zone": "east"}),
        ({"zone": "east"}, {"zone": "west"}),
        "Building works took r1 and r2 down. s1 lost its way to a gateway.",
    ),
    Case(
        "zone_water",
        {"zone_water": ZoneWater(20.0, 0.7)},
        ({"zone": "east"}, {"zone": "east"}),
        ({"zone": "east"}, {"zone": "west"}),
        "Water got into r1 and r2. s1 lost its way to a gateway.",
    ),
    Case(
        "zone_interference",
        {"zone_interference": ZoneLoss(20.0, 60.0, TWO_DAYS)},
        ({"zone": "east"}, {"zone": "east"}),
        ({"zone": "east"}, {"zone": "west"}),
        "A new source of interference disturbs zone east. s1 lost its way to a gateway.",
    ),
    Case(
        "zone_heat",
        {"zone_heat": ZoneLoss(20.0, 60.0, TWO_DAYS)},
        ({"zone": "east"}, {"zone": "east"}),
        ({"zone": "east"}, {"zone": "west"}),
        "Heat weakens the radios in zone east. s1 lost its way to a gateway.",
    ),
    Case(
        "lasting_change",
        {"lasting_change": ZoneLoss(20.0, 60.0, TWO_DAYS)},
        ({"zone": "east"}, {"zone": "east"}),
        ({"zone": "east"}, {"zone": "west"}),
        "Furniture or partitions of zone east changed: all its paths are weaker. s1 lost its way",
    ),
    Case(
        "removed",
        {"removed": Removed(30.0, 3.0, 2.5)},
        ({"place": _high(1.0)}, {"place": _high(1.0)}),
        ({"place": _high(2.8)}, {"place": _high(2.8)}),
        "Somebody took r1 away, covered or broke it.",
    ),
)


@pytest.fixture(params=CASES, ids=[case.cause for case in CASES])
def case(request):
    return request.param


@pytest.fixture
def contest(small_site, case):
    """The two layouts, in which a hazard strikes or none does."""

    def layout(name, changes):
        whole = small_site.layout(name, links=LINKS)

        def apart(id):
            return {"zone": id, "model_name": id}

        changed = dict(zip(("r1", "r2"), changes, strict=True))
        return replace(
            whole,
            devices=tuple(
                replace(one, **(apart(one.id) | changed.get(one.id, {}))) for one in whole.devices
            ),
        )

    def site(hazards):
        layouts = (layout("better", case.better), layout("worse", case.worse))
        return small_site(
            *layouts,
            horizon_years=0.5,
            radio={"predict": False, "swing_db": 0.0},
            routing={"look_around_h": 168.0},
            hazards=NONE | hazards,
        )

    return site


def orphan_h(site, name):
    stage = Stage(site, site.layout(name), 5, False, REFERENCE)
    return [sum(stage.play(n).record.orphan_ms.values()) / 3_600_000 for n in range(N)]


def test_it_alone_decides_between_two_layouts(contest, case):
    """Without it neither layout ever loses an hour; with it the shared fate loses more.

    What weakens the zones of gateway and sensor costs both layouts alike, hence a fifth only.
    """
    still = contest({})
    assert set(orphan_h(still, "worse") + orphan_h(still, "better")) == {0.0}
    struck = contest(case.hazards)
    worse_h, better_h = (sum(orphan_h(struck, name)) for name in ("worse", "better"))
    assert worse_h > 1.2 * better_h
    assert worse_h > N


def test_its_story_is_told_in_plain_words(contest, case):
    site = contest(case.hazards)
    stage = Stage(site, site.layout("worse"), 5, False, REFERENCE)
    text = " ".join(
        telling(step, site.building) for n in range(N) for step in steps(told(site, stage, n))
    )
    assert case.words in text
    assert case.cause not in text


def test_hours_are_blamed_on_the_cause(contest, case):
    site = contest(case.hazards)
    record = Stage(site, site.layout("worse"), 5, False, REFERENCE).play(0).record
    assert {cause for cause, _ in record.blame_ms} <= {case.cause}


def test_a_sensor_that_stops_measuring_goes_on_relaying(small_site):
    """Sensor s2 hangs behind s1, which is mute for long: s1 is dark, and neither is an orphan."""
    mute = {"device_mute": DeviceMute(50.0)}
    site = small_site.linked("g1~s1=0.99 s1~s2=0.99", horizon_years=0.5, hazards=NONE | mute)
    stage = Stage(site, site.layouts[0], 5, False, REFERENCE)
    record = stage.play(0).record
    assert record.dark_ms["s1"] > 0
    assert sum(record.orphan_ms.values()) == sum(record.down_ms.values()) == 0
    text = " ".join(telling(step, site.building) for step in steps(told(site, stage, 0)))
    assert "s1 stopped measuring and goes on relaying." in text
    assert record.visits > 0
