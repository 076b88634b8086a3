"""What the drawings of the demo sites do to the links; all of it common practice."""

from itertools import combinations

from resilience.building.site import Kind
from resilience.connectivity.links import Link, links


def link_between(demo, site_name: str, layout: str, ends: tuple[str, str]) -> Link | None:
    table = links(demo(site_name), layout)
    return next((one for one in table.links if (one.a, one.b) == ends), None)


def slabs_db(link: Link) -> list[float]:
    return [one.loss_db for one in link.hindrances if one.what.startswith("slab")]


def pairs_one_level_apart(demo, layout_name: str) -> list[tuple[str, str]]:
    """Repeaters of the tall house on levels that lie one above the other."""
    site = demo("seed-library")
    order = [level.id for level in site.building.levels]
    repeaters = site.layout(layout_name).of_kind(Kind.REPEATER)
    return [
        (a.id, b.id)
        for a, b in combinations(repeaters, 2)
        if abs(order.index(a.place.level) - order.index(b.place.level)) == 1
    ]


def test_stacked_repeaters_hear_each_other_through_a_slab_better_than_staggered_ones(demo):
    # common practice: straight up is the shortest way, and a slab met head-on takes the least.
    stacked = link_between(demo, "seed-library", "two-lines", ("W1", "W2"))
    assert len(slabs_db(stacked)) == 1
    staggered = [
        link_between(demo, "seed-library", "one-at-the-door", ends)
        for ends in pairs_one_level_apart(demo, "one-at-the-door")
    ]
    assert len(staggered) >= 3
    for link in staggered:
        assert link is None or link.there.rssi_dbm < stacked.there.rssi_dbm - 10
        assert link is None or slabs_db(link)[0] > slabs_db(stacked)[0]


def test_no_slab_stands_between_repeaters_over_the_open_stairwell(demo):
    link = link_between(demo, "seed-library", "two-lines", ("T1", "T2"))
    assert link.distance_m > 9  # three levels up
    assert link.hindrances == ()


def test_behind_the_lift_a_counter_is_lost_where_one_as_far_off_is_not(demo):
    # common practice: a lined lift shaft shades what hangs behind it.
    heard = links(demo("market-hall"), "edge-and-row").usable_neighbours("R2")
    assert "S07" not in heard
    assert "S12" in heard
    lost, kept = (
        link_between(demo, "market-hall", "edge-and-row", ("R2", other)) for other in ("S07", "S12")
    )
    assert [one.what for one in lost.hindrances] == ["lining of shaft goods-lift"]
    assert kept.distance_m > lost.distance_m


def test_behind_a_pillar_a_counter_is_heard_much_worse_than_one_as_far_off(demo):
    # ITU-R P.526: an edge that just touches the path takes 6 dB, and this one reaches into it.
    behind, beside = (
        link_between(demo, "market-hall", "edge-and-row", ("R1", other)) for other in ("S10", "S11")
    )
    assert [one.what for one in behind.hindrances] == ["wall flower-hall", "round pillar P06"]
    assert [one.what for one in beside.hindrances] == ["wall flower-hall"]
    assert beside.distance_m > behind.distance_m
    assert behind.there.rssi_dbm < beside.there.rssi_dbm - 6


def test_a_gateway_amid_the_hall_loses_the_counter_behind_the_lift_and_hears_its_neighbour(demo):
    heard = links(demo("market-hall"), "middle").usable_neighbours("G1")
    assert "S06" not in heard
    assert "S07" in heard


def test_one_device_alone_hears_the_gateway_of_the_first_layout(demo):
    assert links(demo("seed-library"), "one-at-the-door").usable_neighbours("G1") == ("R1",)


def test_a_link_that_was_tried_and_not_heard_is_none(demo):
    for layout in demo("seed-library").layouts:
        assert link_between(demo, "seed-library", layout.name, ("G1", "S01")) is None
