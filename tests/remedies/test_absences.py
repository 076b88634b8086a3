"""Sums of orphan time within spans, against counting millisecond by millisecond."""

import random

from resilience.lifetime.engines import REFERENCE
from resilience.lifetime.playing import Stage
from resilience.remedies.fragile.absences import CutOff, Suspect, carried_ms, united, watched


def test_time_cut_off_within_spans_is_what_counting_moments_finds():
    luck = random.Random(3)
    for _ in range(20):
        spells = [(start, start + luck.randint(1, 30)) for start in luck.sample(range(60), 6)]
        spans = united((start, start + luck.randint(1, 9)) for start in luck.sample(range(90), 5))
        expected = sum(
            start <= moment < end
            for span in spans
            for moment in range(*span)
            for start, end in spells
        )
        assert CutOff(spells).within_ms(spans) == expected


def test_united_spans_cover_the_same_moments_and_never_touch():
    assert united([(5, 9), (0, 3), (3, 4), (6, 7)]) == [(0, 4), (5, 9)]


def test_what_is_watched_adds_up_to_the_records(busy_site):
    """Two engines aside, the same lifetimes are told by their records."""
    stage = Stage(busy_site, busy_site.layouts[0], 3, False, REFERENCE)
    everything = Suspect(tuple(one.name for one in stage.hazards.elements), frozenset())
    seen = watched(stage, [everything], 4, lambda: False)
    records = [stage.play(number).record for number in range(4)]
    orphan_ms = sum(sum(one.orphan_ms.values()) for one in records)
    assert seen.seen[everything].all_ms.sum() == orphan_ms > 0
    held = sum(one.sum() for book in (seen.blame_ms, seen.early_ms) for one in book.values())
    assert held == orphan_ms
    outage_ms = sum(one.site_outage_ms for one in records)
    assert seen.clock_ms.sum() == 4 * stage.rules.horizon_ms - outage_ms


def test_a_sensor_is_carried_by_all_that_its_readings_pass(busy_site):
    """Over sensors, time with a route times hops less one is what they are carried between."""
    stage = Stage(busy_site, busy_site.layouts[0], 3, False, REFERENCE)
    lived = stage.play(0)
    carried = carried_ms(stage, lived.history)
    gateways = {one.id for one in stage.layout.gateways}
    depths = [depth for times in lived.record.depth_ms.values() for depth in times.items()]
    between = sum(time_ms for id, time_ms in carried.items() if id not in gateways)
    assert between == sum((depth - 1) * time_ms for depth, time_ms in depths) > 0


def test_only_the_first_building_is_played_where_it_is_late(busy_site):
    stage = Stage(busy_site, busy_site.layouts[0], 3, False, REFERENCE)
    assert watched(stage, [], 8, lambda: True).n_buildings == 1


def test_an_interrupt_leaves_the_buildings_that_were_complete(busy_site, monkeypatch):
    stage = Stage(busy_site, busy_site.layouts[0], 3, False, REFERENCE)
    play = stage.play

    def interrupted(number, with_links):
        if number == 3:
            raise KeyboardInterrupt
        return play(number, with_links)

    monkeypatch.setattr(stage, "play", interrupted)
    assert watched(stage, [], 8, lambda: False).n_buildings == 1
