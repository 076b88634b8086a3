from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.site import Layout
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.figures import CellLife
from resilience.ranking.pairs import RankedBy, Verdict, pair_of
from resilience.remedies.fragile.bottlenecks import Bottlenecks, Lonely, Point, SinglePoint
from resilience.remedies.fragile.importance import Importance
from resilience.remedies.fragile.loads import Draining, Hub
from resilience.remedies.fragile.together import Cuts, Together
from resilience.remedies.supposing.changes import Without
from resilience.remedies.supposing.grammar import Supposition
from resilience.remedies.supposing.whatifs import WhatIf, WhatIfs
from resilience.remedies.surveying.survey import Stop, Survey
from resilience.remedies.surveying.unknowns import Expected, Kind, Unknown
from resilience.remedies.weakest import Culprit, Weakness
from resilience.report.advising.helping import help_for_device, help_for_pair
from resilience.report.advising.opening import opening
from resilience.report.advising.weakness import weakness_page
from resilience.report.comparing.ranking import comparison_page

GOLDEN = Path(__file__).parent.parent / "golden"


def about(mean: float, low: float, high: float) -> Estimate:
    return Estimate(mean, low, high, 0.95, "made by hand")


def culprit(holder, hours, share, importance=None, pattern="{id}") -> Culprit:
    return Culprit((pattern, holder[1]), hours, share, {holder: hours}, importance)


@pytest.fixture
def weakness(clear_case) -> Weakness:
    """Layout a of the clear case: R1 holds 31 of its 53 h."""
    placed = next(one for one in clear_case.placed if one.layout.name == "a")
    layout: Layout = placed.layout
    seen = Importance(41, 0.004, about(1.8, 1.2, 2.4))
    first = culprit(("hardware", "R1"), 31.0, about(0.58, 0.5, 0.66), seen)
    second = culprit(("radio draw", ""), 12.5, about(0.24, 0.1, 0.4), None, "")
    points = (
        SinglePoint(Point.DEVICE, "G1", ("S1", "S2"), 2.0, about(1.0, 0.97, 1.0)),
        SinglePoint(Point.DEVICE, "R1", ("S1",), 0.8, about(0.8, 0.7, 0.9)),
        SinglePoint(Point.LINK, "G1~R1", (), 0.1, about(0.1, 0.05, 0.2)),
        SinglePoint(Point.OBSTACLE, "D1", (), 0.1, about(0.1, 0.05, 0.2)),
        SinglePoint(Point.CIRCUIT, "C1", (), 0.1, about(0.1, 0.05, 0.2)),
    )
    found = Bottlenecks(points, (Lonely("S1", "R1", about(0.7, 0.6, 0.8)),), 200)
    stops = (
        Stop(
            Unknown(Kind.LINK, "G1~R1", ("L1", "L2"), Expected(-86.0, 7.2, 0.97, 0.85, 0.99)),
            0.6,
            1.25,
            is_shown=True,
        ),
        Stop(Unknown(Kind.CONSTRUCTION, "brick_120"), 0.2, 0.5, is_shown=True),
        Stop(Unknown(Kind.DISTANCE, ""), 0.01, 0.0, is_shown=False),
    )
    return Weakness(
        clear_case,
        layout,
        placed.study,
        found,
        Cuts((Together("R1", "S2", ("S1",)),), {"S1": ("R1",)}),
        (first, second),
        {("hardware", "R1"): seen},
        (Hub("S2", 1.4, 0.6),),
        (Draining("R1", CellLife(54.0, 40.0, 90.0), 1.5, 0.4, 0.1),),
        {"R1": 1.5, "G1": 2.0},
        Survey("b", 0.39, stops, 80),
        {"R1": "G1", "S1": "R1", "S2": "G1"},
        128,
    )


def test_the_page_reads_as_agreed(weakness, shown):
    """Compare with the page as it was read and approved; figures are those of the case."""
    golden = (GOLDEN / "weakness.txt").read_text(encoding="utf-8")
    assert shown(weakness_page(weakness)) == golden


def test_the_first_sentence_names_the_device_its_share_and_what_would_help(weakness):
    first = opening(weakness)[0]
    assert first.startswith("Most depends on R1: of the 53 h")
    assert "58 % (50 to 66)" in first
    assert "1.8 more sensors are cut off than otherwise (1.2 to 2.4)" in first
    assert first.endswith("What would help: a second device within reach of G1.")


def test_where_nothing_was_lost_nothing_is_to_blame(weakness, site_of, study_of):
    site = site_of({"a": "G1 R1 S1 S2"})
    study = study_of(site.layout("a"), [0.0] * 160, {})
    told = opening(replace(weakness, study=study, culprits=()))
    assert "nothing is to blame" in told[0]


def test_of_several_gateways_a_further_one_would_help(weakness, site_of):
    layout = site_of({"a": "G1 G2 R1 S1"}).layout("a")
    two = replace(weakness, layout=layout)
    assert help_for_device(two, "G2") == "a further gateway, or a backup supply for G2"
    assert help_for_pair(two, Together("G1", "G2", ("S1",))) == "a further gateway"
    assert help_for_pair(weakness, Together("R1", "S2", ())).endswith("within reach of G1")


def test_where_a_path_holds_most_the_device_that_carries_most_is_named_too(weakness):
    path = culprit(("link_blockage", "G1~R1"), 40.0, about(0.7, 0.5, 0.9), None, "path {path}")
    told = opening(replace(weakness, culprits=(path, *weakness.culprits)))
    assert told[0].startswith("Most depends on path G1 to R1: ")
    assert told[1].startswith("Of the devices, repeater R1 carries most: the readings of 2 of 1")


def test_hours_that_no_thing_holds_are_said_to_be_nobodys(weakness):
    told = opening(weakness)
    assert any(
        "No single thing is to blame for 24 % (10 to 40): paths weaker" in one for one in told
    )


def test_what_time_does_not_allow_and_what_changes_nothing_are_told(clear_case, shown, made_pair):
    supposed = Supposition("without R9", "", (Without(("R9",)),))
    found = WhatIfs(
        (
            WhatIf(supposed, "a", made_pair, about(-1.0, -2.0, -0.5)),
            WhatIf(supposed, "b", made_pair, about(0, 0, 0), is_alike=True),
            WhatIf(supposed, "b"),
        ),
        0.95,
        "the time allowed was used up",
    )
    page = shown(comparison_page(clear_case, what_ifs=found))
    assert "< better" in page
    assert "= nothing that counts differs" in page
    assert "not reached" in page
    assert "! Not all were played: the time allowed was used up." in page


@pytest.fixture
def made_pair(site_of, study_of):
    """Two studies of one layout, the first with 10 h less in every building."""
    layout = site_of({"a": "G1 S1"}).layout("a")
    holder = ("hardware", "R9")
    studies = [study_of(layout, [h] * 160, {holder: 160 * h}) for h in (20.0, 30.0)]
    pair = pair_of(*studies, 0.95, RankedBy.SERVICE)
    assert pair.verdict is Verdict.BETTER
    return pair
