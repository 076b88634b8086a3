"""For each cause a site on which it alone decides: the ranking, what it hangs on, and the story.

Nothing else strikes, and links do not swing. What mutes a sensor takes no layout its way, so there
is nothing for it to decide; its story is told in ``tests/hazards/test_deciding.py``.
"""

from dataclasses import dataclass, field, fields, replace

import pytest

from resilience.building.settings import (
    Battery,
    Blockage,
    BusyHours,
    CircuitOutage,
    CommonCause,
    Duration,
    GatewayOutage,
    Hardware,
    Hazards,
    MainsOutage,
    Obstacles,
    Removed,
    SoftwareRelease,
    ZoneLoss,
    ZoneWater,
    ZoneWorks,
)
from resilience.building.site import Place
from resilience.building.stated.equipment import batteries_of
from resilience.building.structure import Change, Obstacle, Zone
from resilience.building.text.entries import Findings
from resilience.building.timetable import Timetable
from resilience.lifetime.engines import COMPILED
from resilience.lifetime.playing import Stage
from resilience.lifetime.tracing import told
from resilience.montecarlo.runs.running import Budget
from resilience.ranking.comparison import compare
from resilience.ranking.pairs import Verdict
from resilience.report.told.story import steps, telling

NONE = dict.fromkeys(field.name for field in fields(Hazards))
DAYS = Duration("exponential", mean_h=48.0)
BOTH = "g1~r1=1 g1~r2=1 r1~s1=1 r2~s1=1"
ONE = "g1~r1=1 r1~s1=1"
OFFICE = Timetable("08:00-17:00", "mon-fri")
CELLS = batteries_of(None, None, Findings())["two_aa_lithium"]
EAST, WEST = {"zone": "east"}, {"zone": "west"}
HERE, ASIDE = {"place": Place("L1", 10.0, 0.0, 2.0)}, {"place": Place("L1", 10.0, 12.0, 2.0)}
ENDS = {"g1": {"place": Place("L1", 0, 0, 2)}, "s1": {"place": Place("L1", 20, 0, 2)}}


@dataclass(frozen=True)
class Case:
    """A cause, the links and changed devices of both layouts, what else holds, and its words."""

    cause: str
    hazards: dict
    worse: dict
    better: dict
    words: str
    links: tuple[str, str] = (BOTH, BOTH)
    more: dict = field(default_factory=dict)
    building: dict = field(default_factory=dict)


def both(changes):
    return {"r1": changes, "r2": changes}


def zoned(cause, hazard, key, words):
    """A hazard that has a rate in zone east alone, in which both repeaters hang or neither."""
    zones = {"zones": (Zone("east", **{key: 20.0}),)}
    return Case(cause, {cause: hazard}, both(EAST), both(WEST), words, building=zones)


def lorry(change):
    standing = Obstacle("V1", "vehicle", "L1", 5.0, 0.0, 1.0, 2.0, 0.0, 2.8, 0.0, change)
    return {"obstacles": (standing,)}


CASES = (
    Case("hardware", {"hardware": Hardware(1000.0, 1.0)}, {}, {}, "r1 failed", (ONE, BOTH)),
    Case(
        "battery",
        {"battery": Battery(0.12)},
        {"r1": {"battery": CELLS, "leaf_ua": 2000.0}},
        {"r1": {"battery": CELLS, "leaf_ua": 20.0}},
        "The battery of r1 is flat.",
        (ONE, ONE),
    ),
    Case(
        "link_blockage",
        {"link_blockage": Blockage(40.0, 0.5, 20.0, 60.0, DAYS)},
        {},
        {},
        "Something came between",
        (ONE, BOTH),
    ),
    Case(
        "gateway_outage",
        {"gateway_outage": GatewayOutage(20.0, DAYS)},
        {},
        {},
        "g1 went down (supply, network or computer).",
        ("g1~s1=1", "g1~s1=1 g2~s1=1"),
    ),
    Case(
        "gateway_hardware",
        {"gateway_hardware": Hardware(1000.0, 1.0)},
        {},
        {"g2": {"standby": True}},
        "g1 failed (hardware).",
        ("g1~s1=1", "g1~s1=1 g2~s1=1"),
    ),
    Case(
        "mains_outage",
        {"mains_outage": MainsOutage(20.0, DAYS)},
        {},
        {},
        "r1 lost its mains supply.",
        (ONE, BOTH),
    ),
    Case(
        "circuit_outage",
        {"mains_outage": MainsOutage(20.0, DAYS), "circuit_outage": CircuitOutage(1.0)},
        both({"circuit": "C1"}),
        {"r1": {"circuit": "C1"}, "r2": {"circuit": "C2"}},
        "Circuit C1 lost its supply: r1 and r2 went down.",
    ),
    Case(
        "common_cause",
        {"hardware": Hardware(1000.0, 1.0), "common_cause": CommonCause(1.0)},
        both({"model_name": "old"}),
        {"r1": {"model_name": "old"}},
        "r1 and r2 failed with all of one model.",
    ),
    Case(
        "software_release",
        {"software_release": SoftwareRelease(20.0, 1.0, 0.0, DAYS)},
        both({"model_name": "old"}),
        {"r1": {"model_name": "old"}},
        "A faulty release took r1 and r2 down.",
    ),
    zoned("zone_works", ZoneWorks(0.0, 0.7, DAYS), "works_per_year", "Building works took r"),
    zoned("zone_water", ZoneWater(0.0, 0.7), "water_per_year", "Water got into r"),
    zoned(
        "zone_interference",
        ZoneLoss(0.0, 60.0, DAYS),
        "interference_per_year",
        "A new source of interference disturbs zone east.",
    ),
    zoned(
        "zone_heat",
        ZoneLoss(0.0, 60.0, DAYS, Timetable(months="jun-aug")),
        "heat_per_year",
        "Heat weakens the radios in zone east.",
    ),
    zoned(
        "lasting_change",
        ZoneLoss(0.0, 60.0, DAYS),
        "changes_per_year",
        "Furniture or partitions of zone east changed",
    ),
    zoned("removed", Removed(0.0, 0.0, 2.5), "removed_per_year", "Somebody took r"),
    Case(
        "obstacle",
        {"obstacles": Obstacles(0.5)},
        ENDS | {"r1": HERE},
        ENDS | {"r1": ASIDE},
        "Vehicle V1 now stands there. s1 lost its way",
        (ONE, ONE),
        building=lorry(Change(60.0, 100.0, DAYS)),
    ),
    Case(
        "obstacle by timetable",
        {"obstacles": Obstacles(0.5)},
        ENDS | {"r1": HERE},
        ENDS | {"r1": ASIDE},
        "Vehicle V1 now stands there. s1 lost its way",
        (ONE, ONE),
        building=lorry(
            Change(60.0, OFFICE.per_year, Duration("fixed", mean_h=9.0), OFFICE, is_fixed=True)
        ),
    ),
    Case(
        "busy_hours",
        {"busy_hours": BusyHours(3.0, OFFICE)},
        {},
        {},
        "Busy hours have begun: people weaken every path. s1 lost its way",
        ("g1~r1=1 r1~s1=0.5", ONE),
    ),
    Case(
        "hardware in the queue of one crew",
        {"hardware": Hardware(1500.0, 1.0)},
        {},
        {},
        "A crew sets out for r1, who waited",
        (" ".join([ONE, *(f"g1~r{n}=1" for n in range(2, 9))]), ONE),
        {"upkeep": {"crews": 1, "repair": Duration("fixed", mean_h=100.0)}},
    ),
)


@pytest.fixture(params=CASES, ids=[case.cause for case in CASES])
def case(request):
    return request.param


@pytest.fixture
def contest(small_site, case):
    """The two layouts, in which the hazard strikes or none does."""

    def layout(name, links, changes):
        whole = small_site.layout(name, links=links)
        return replace(whole, devices=tuple(_changed(one, changes) for one in whole.devices))

    def site(hazards):
        layouts = zip(("worse", "better"), case.links, (case.worse, case.better), strict=True)
        building = replace(small_site.open_plan, **case.building)
        return small_site(
            *(layout(*one) for one in layouts),
            building=building,
            radio={
                "predict": False,
                "swing_db": 0.0,
                "survey_spread_db": 0.0,
                "survey_settled_db": 0.0,
            },
            routing={"look_around_h": 168.0},
            hazards=NONE | hazards,
            **case.more,
        )

    return site


def _changed(device, changes):
    """A device on mains with a model and a zone of its own, changed as the case has it."""
    mine = {
        "battery": None,
        "model_name": device.id,
        "zone": device.id,
        **changes.get(device.id, {}),
    }
    sheet = {key: mine.pop(key) for key in ("leaf_ua",) if key in mine}
    return replace(device, model=replace(device.model, **sheet), **mine)


def test_it_alone_decides_the_ranking_and_is_named_as_the_reason(contest, case):
    still = compare(contest({}), seed=5, budget=Budget(lifetimes=128))
    assert still.pairs[0].reasons == ()
    assert still.pairs[0].difference.mean == 0
    found = compare(contest(case.hazards), seed=5, budget=Budget(lifetimes=512))
    pair = found.pair("better", "worse")
    assert pair.verdict is Verdict.BETTER
    assert {cause for reason in pair.reasons for cause in reason.causes} == {case.cause.split()[0]}


def test_its_story_names_it(contest, case):
    site = contest(case.hazards)
    stage = Stage(site, site.layout("worse"), 5, True, COMPILED)
    text = " ".join(
        telling(step, site.building) for n in range(4) for step in steps(told(site, stage, n))
    )
    assert case.words in text
