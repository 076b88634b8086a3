"""What-ifs as a person says them."""

from dataclasses import replace

import pytest

from resilience.building.settings import Duration
from resilience.errors import UsageError
from resilience.remedies.supposing.grammar import hazard_words, supposition


@pytest.fixture
def site(small_site):
    """Two layouts; the second has a repeater more, and another of a different name."""
    short = small_site.layout("short", links="g1~r1=0.9 r1~s1=0.9 g1~s2=0.9")
    long = small_site.layout("long", links="g1~r1=0.9 r1~s1=0.9 r2~s2=0.9 g1~r2=0.9")
    return small_site(short, long, radio={"predict": False})


def made(site, text, layout="short"):
    return supposition(text, site).made(site, site.layout(layout))


def test_what_is_not_there_takes_its_links_with_it(site):
    changed = made(site, "Without r1").layouts[0]
    assert [one.id for one in changed.devices] == ["g1", "s1", "s2"]
    assert {one.a + one.b for one in changed.links} == {"g1s2", "s2g1"} & {
        one.a + one.b for one in site.layout("short").links
    }


def test_devices_go_on_mains_several_at_once(site):
    changed = made(site, "s1 and S2 on mains").layouts[0]
    assert {one.id for one in changed.devices if one.battery} == set()


def test_a_standby_hears_what_the_gateway_beside_it_hears(site):
    changed = made(site, "standby for G1").layouts[0]
    beside = next(one for one in changed.devices if one.id == "g1-standby")
    assert beside.standby
    assert replace(beside, id="g1", standby=False) == site.layout("short").gateways[0]
    ends = [{one.a, one.b} - {"g1", "g1-standby"} for one in changed.links]
    assert sorted(map(sorted, ends)) == [["r1"]] * 2 + [["r1", "s1"]] + [["s2"]] * 2


@pytest.mark.parametrize(
    ("text", "years"),
    [("cells renewed every 2 years", 2.0), ("cells renewed every 18 months", 1.5)],
)
def test_cells_are_renewed_by_planned_rounds(site, text, years):
    assert made(site, text).upkeep.rounds.every_years == years


@pytest.mark.parametrize(
    ("text", "hours"), [("crew in 2 days", 48), ("crew in 36 hours", 36), ("Crew in 1 week", 168)]
)
def test_a_crew_comes_within_the_median_and_the_spread_stays(site, text, hours):
    """The default repair is 120 h in the median, 480 h for 9 of 10: four times as long."""
    assert made(site, text).upkeep.repair == Duration("lognormal", hours, 4.0 * hours)


def test_where_a_response_is_stated_the_crew_is_that(site):
    response = Duration("exponential", mean_h=30.0)
    stated = replace(site, upkeep=replace(site.upkeep, response=response))
    changed = made(stated, "crew in 1 day")
    assert changed.upkeep.response == Duration("exponential", mean_h=24.0)
    assert changed.upkeep.repair == stated.upkeep.repair


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("no gateway outages", "gateway_outage"),
        ("no flat batteries", "battery"),
        ("no batteries", "battery"),
        ("no blocked paths", "link_blockage"),
        ("no device failures", "hardware"),
        ("no obstacles", "obstacles"),
        ("no hazards.hardware", None),
    ],
)
def test_a_hazard_is_switched_off_by_what_people_call_it(site, text, name):
    if name is None:
        with pytest.raises(UsageError, match="is no hazard"):
            supposition(text, site)
        return
    assert getattr(made(site, text).hazards, name) is None


def test_every_hazard_has_a_name_of_its_own(site):
    known = hazard_words()
    assert set(known.values()) == set(type(site.hazards).__annotations__)


def test_any_setting_can_be_stated_and_changes_follow_each_other(site):
    changed = made(site, "radio.swing_db = 3; without r1; hazards.battery = off")
    assert changed.radio.swing_db == 3.0
    assert changed.hazards.battery is None
    assert "r1" not in {one.id for one in changed.layouts[0].devices}


def test_a_layout_can_be_named_and_else_any_that_has_room_will_do(site):
    assert supposition("long: without r2", site).layout == "long"
    assert supposition("without r2", site).layout == ""
    with pytest.raises(UsageError, match="short has no device 'r2'"):
        supposition("short: without r2", site)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("without r11", "did you mean r1"),
        ("without s1", "s1 is a sensor, and what-ifs leave every sensor where it is"),
        ("without g1", "would have no gateway left"),
        ("r1 on mains", "is on mains already"),
        ("standby for r1", "is no gateway that serves"),
        ("cells renewed every 0 years", "upkeep.rounds.every_years"),
        ("crew in 0 days", "expected more than 0"),
        ("no gateway outrages", "did you mean gateway outage"),
        ("shrt: without r1", "did you mean short"),
        ("radio.swng_db = 3", "did you mean radio.swing_db"),
        ("radio.swing_db = -3", "radio.swing_db"),
        ("without", "not understood; expected"),
        ("more luck", "not understood; expected"),
        (" ; ", "says nothing; expected"),
        ("without ,", "names no device"),
    ],
)
def test_what_cannot_be_supposed_says_why_and_what_would_do(site, text, told):
    with pytest.raises(UsageError) as refused:
        supposition(text, site)
    assert told in str(refused.value)
