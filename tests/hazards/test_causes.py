"""A hazard that nobody has thought of yet: described once, it is told, blamed and counted."""

from itertools import chain

import pytest

from resilience.building.structure import Building
from resilience.draws import element_key
from resilience.hazards import causes, table
from resilience.hazards.causes import Cause, Effect, described
from resilience.hazards.elements import Element, Scripted
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import COLUMNS, row_of
from resilience.lifetime.tracing import told
from resilience.ranking.comparison import ranked
from resilience.ranking.pairs import reasons_of
from resilience.report.comparing.opening import opening, reason_words
from resilience.report.told.story import steps, telling

H = 3_600_000  # ms
UNDRAWN = Building(())
FLOOD = Cause(
    "flood",
    struck="Water stands around {id}.",
    ended="{id} has dried.",
    noun="flood",
    reason="{id} under water",
    occasion="while {id} is under water",
    column="device_failures",
)
TIDE = Cause(
    "tide",
    Effect.LOSS,
    struck="The tide came in between {ends}.",
    reason="path {path} over water",
    occasion="while path {path} is over water",
)
ROWS = (
    Element(
        "flood", "r1", Effect.DOWN, ("r1",), clock=Scripted(((2 * H, 5 * H), (20 * H, 21 * H)))
    ),
    Element("tide", "g1~r1", Effect.CUT, ("g1~r1",), clock=Scripted(((40 * H, 44 * H),))),
    Element("blight", "r1", Effect.DOWN, ("r1",), clock=Scripted(((60 * H, 61 * H),))),
)


@pytest.fixture
def invented(monkeypatch):
    """Two invented causes, each described; ``blight`` strikes without a description."""
    for cause in (FLOOD, TIDE):
        monkeypatch.setitem(causes.CAUSES, cause.name, cause)
    known = table.hazard_table

    def with_invented(site, links):
        found = known(site, links)
        ordered = sorted((*found.elements, *ROWS), key=lambda row: row.name)
        return table.HazardTable(tuple(ordered), found.cells)

    monkeypatch.setattr("resilience.lifetime.playing.hazard_table", with_invented)


@pytest.fixture(params=[COMPILED, REFERENCE])
def lived(request, invented, small_site):
    """The first lifetime of a chain in which nothing else strikes."""
    site = small_site.linked(
        "g1~r1=0.99 r1~s1=0.99",
        horizon_years=0.01,
        hazards=dict.fromkeys(table.Hazards.__dataclass_fields__),
    )
    return told(site, Stage(site, site.layouts[0], 3, False, request.param), 0)


def test_the_story_of_an_invented_hazard_is_told_in_its_words(lived):
    text = [telling(step, lived.site.building) for step in steps(lived)]
    assert text[0].startswith("Water stands around r1. s1 lost its way")
    assert text[1].startswith("r1 has dried.")
    assert any(one.startswith("The tide came in between g1 and r1.") for one in text)


def test_a_cause_that_nobody_described_gets_plain_words(lived):
    """Blight takes r1 away like the flood does, and has a name only."""
    text = " ".join(telling(step, lived.site.building) for step in steps(lived))
    assert "r1 went away (blight)." in text
    assert "r1 is back (blight)." in text
    assert lived.record.strikes["blight"] == 1


def test_strikes_are_counted_in_the_column_that_the_cause_names(lived):
    """Of flood there are two; blight and tide name no column."""
    row = dict(zip(COLUMNS, row_of(lived.record), strict=True))
    assert (row["device_failures"], row["battery_deaths"], row["gateway_outages"]) == (2, 0, 0)


def test_the_compiled_engine_counts_them_as_well(invented, lived):
    tally = Stage(lived.site, lived.layout, 3, False).tally(0, 2)
    assert tally.column("device_failures").tolist() == [2, 2]


def test_hours_are_put_down_to_it_by_its_name(invented, small_site, made_study):
    """A layout with 40 h under water and 10 h over water, against one that has none of it."""
    site = small_site(*(small_site.layout(name, links="g1~s1=0.99") for name in ("dry", "wet")))
    held = {("flood", "r1"): [38.0, 42.0] * 60, ("tide", "g1~r1"): [9.0, 11.0] * 60}
    wet = made_study("wet", orphan=[47.0, 53.0] * 60, blame_h=held)
    comparison = ranked(site, (made_study("dry", orphan=[0.0] * 120, blame_h={}), wet))
    why = " ".join(opening(comparison))
    assert "while r1 is under water" in why
    assert "while path g1 to r1 is over water" in why
    named = [reason_words(one, site.building) for one in comparison.pairs[0].reasons]
    assert named == ["r1 under water", "path g1 to r1 over water"]


def test_a_path_that_faded_and_was_blocked_is_two_reasons_and_a_device_one(made_study):
    """What is called by another name is another reason: 3 h faded, 2 h blocked, 5 h away."""
    held = {
        ("swing", "g1~r1"): [3.0],
        ("link_blockage", "g1~r1"): [2.0],
        ("hardware", "r1"): [4.0],
        ("battery", "r1"): [1.0],
    }
    first = made_study("a", orphan=[10.0], blame_h=held)
    reasons = reasons_of(first.blame_hours, {})
    named = {reason_words(one, UNDRAWN): one.hours for one in reasons}
    assert named == {"r1 away": 5.0, "path g1 to r1 faded": 3.0, "path g1 to r1 blocked": 2.0}


def test_no_description_moves_a_draw_but_that_of_a_door(invented):
    """By hand: the kind is what an id says, and ``obstacle`` for what is drawn."""
    expected = {
        ("flood", "r1"): ("device", "r1", "flood"),
        ("tide", "g1~r1"): ("link", "g1~r1", "tide"),
        ("battery", "s1"): ("device", "s1", "battery"),
        ("obstacle", "s1"): ("obstacle", "s1", "obstacle"),
        ("swing", "g1~s1"): ("link", "g1~s1", "swing"),
    }
    for (cause, id), luck in expected.items():
        assert Element(cause, id, Effect.DOWN, (id,)).luck == luck
    assert len({element_key(*luck) for luck in expected.values()}) == len(expected)


def test_every_cause_is_described_under_its_own_name():
    assert all(described(name).name == name for name in chain(causes.CAUSES, ["blight"]))
