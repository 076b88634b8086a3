"""A stage: the same number gives the same lifetime, two to a building."""

from collections import Counter
from dataclasses import replace

import pytest

from resilience.errors import UsageError
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import tallied
from resilience.units import MS_PER_H


@pytest.fixture(scope="module")
def site(busy_site):
    """One layout for 0.05 years (438 h)."""
    return replace(busy_site, layouts=busy_site.layouts[:1], horizon_years=0.05)


def stage(site, seed=3, counted=False):
    return Stage(site, site.layouts[0], seed, counted)


def test_the_lifetimes_have_something_to_tell(site):
    """Guards the tests below against a site on which nothing happens."""
    records = [stage(site).play(number).record for number in range(6)]
    assert sum(sum(record.orphan_ms.values()) for record in records) > 0
    assert sum(record.site_outage_ms for record in records) > 0
    assert sum(sum(record.reparentings.values()) for record in records) > 0


def test_a_number_gives_the_same_lifetime_whatever_was_played_before(site):
    busy = stage(site)
    in_some_order = {number: busy.play(number) for number in (5, 0, 3, 2, 1, 4)}
    for number, lifetime in in_some_order.items():
        assert lifetime == stage(site).play(number) == busy.play(number)


@pytest.mark.parametrize("counted", [False, True])
@pytest.mark.parametrize("engine", ["compiled", "reference"])
def test_a_tally_adds_up_the_lifetimes_that_are_told_one_by_one(site, engine, counted):
    layout = site.layouts[0]
    found = Stage(site, layout, 3, counted, engine).tally(4, 10)
    told = [stage(site, counted=counted).play(number).record for number in range(4, 14)]
    expected = tallied(4, told)
    assert found.rows.tolist() == expected.rows.tolist()
    assert (found.first, found.sensors) == (4, expected.sensors)
    assert (+found.blame_ms, +found.began) == (+expected.blame_ms, +expected.began)


def test_both_engines_tell_the_same_story(site):
    layout = site.layouts[0]
    reference = Stage(site, layout, 3, False, engine="reference")
    for number in range(4):
        assert reference.play(number) == stage(site).play(number)
    with pytest.raises(UsageError, match="there is no engine 'other'"):
        Stage(site, layout, 3, False, engine="other").play(0)


@pytest.mark.parametrize("engine", ["compiled", "reference"])
def test_a_history_without_links_lacks_what_strikes_them_and_nothing_else(site, engine):
    ready = Stage(site, site.layouts[0], 3, False, engine)
    whole, part = ready.play(1), ready.play(1, with_links=False)
    on_devices = tuple(one for one in whole.history.absences if "~" not in one.element.id)
    assert 0 < len(on_devices) < len(whole.history.absences)
    assert part.history == replace(whole.history, absences=on_devices)
    assert part.record == whole.record


def test_a_twin_plays_the_same_lifetimes_and_disturbs_no_other(site):
    """Threads play side by side, each on a stage of its own."""
    one = stage(site)
    twin = one.twin()
    told = [(one.play(number), twin.play(5 - number)) for number in range(6)]
    assert [mine for mine, _ in told] == [other for _, other in told][::-1]


def test_two_lifetimes_share_a_building_and_the_next_two_another(site):
    """Sharing separates what a survey would remove from what chance will do."""
    strengths = [
        tuple(link.path.rssi_cdbm for link in stage(site).building(number)[0].links)
        for number in range(4)
    ]
    assert strengths[0] == strengths[1]
    assert strengths[2] == strengths[3]
    assert strengths[0] != strengths[2]


def test_lifetimes_of_one_building_have_luck_of_their_own(site):
    one = stage(site)
    assert one.play(0).history.absences != one.play(1).history.absences


def test_another_seed_tells_another_lifetime(site):
    assert stage(site, seed=3).play(0) != stage(site, seed=4).play(0)


def test_the_order_of_devices_in_a_layout_makes_no_difference(site):
    layout = site.layouts[0]
    for devices in (layout.devices[::-1], layout.devices[2:] + layout.devices[:2]):
        turned = Stage(site, replace(layout, devices=devices), 3, False)
        for number in range(3):
            assert turned.play(number) == stage(site).play(number)


def test_layouts_that_share_a_device_share_its_strikes(site, small_site):
    """Common random numbers: another repeater moves no clock that runs by itself."""
    layout = site.layouts[0]
    more = (*layout.devices, small_site.device("r1", 35.0, 3.0))
    other = replace(layout, devices=tuple(sorted(more, key=lambda one: one.id)))

    def strikes(stage, causes):
        absences = stage.play(2).history.absences
        return [
            (one.element.name, one.start_ms, one.end_ms)
            for one in absences
            if one.element.cause in causes
        ]

    def firsts(stage):
        found = {}
        for name, start_ms, _ in strikes(stage, {"hardware"}):
            found.setdefault(name, start_ms)
        return found

    one, two = stage(site), Stage(site, other, 3, False)
    assert strikes(one, {"gateway_outage"}) == strikes(two, {"gateway_outage"}) != []
    shared = {name: ms for name, ms in firsts(two).items() if name[1] != "r1"}
    assert shared == firsts(one) != {}


def test_the_rules_are_those_of_the_site(site):
    """8766 h a year; 0.02, 0.25, 0.5 and 0.05 h by the catalogue."""
    rules = stage(site, counted=True).rules
    assert rules.horizon_ms == 0.05 * 8766 * MS_PER_H
    assert (rules.hysteresis, rules.backups, rules.count_site_outages) == (192, 2, True)
    assert (rules.rejoin_short_ms, rules.rejoin_long_ms) == (72_000, 900_000)
    assert (rules.reformation_ms, rules.standby_switch_ms) == (1_800_000, 180_000)


def test_counted_outages_add_exactly_the_time_cut_off(site):
    """By definition: with outages counted, who is up and cut off is an orphan, in every ms."""
    for number in range(8):
        plain, counted = (stage(site, counted=flag).play(number).record for flag in (False, True))
        assert counted.cut_off_ms == plain.cut_off_ms
        assert Counter(counted.orphan_ms) == Counter(plain.orphan_ms) + Counter(plain.cut_off_ms)
        assert counted.down_ms == plain.down_ms
        assert counted.depth_ms == plain.depth_ms
        assert counted.site_outage_ms == plain.site_outage_ms


def test_a_device_that_does_not_forward_has_no_children(site):
    layout = site.layouts[0]
    devices = tuple(
        replace(one, model=replace(one.model, forwards=False)) for one in layout.devices
    )
    site = replace(site, layouts=(replace(layout, devices=devices),))
    history = stage(site).play(0).history
    parents = {*history.first_parents.values(), *(change.new for change in history.parents)}
    assert parents == {"g1", None}
