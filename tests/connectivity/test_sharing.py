"""One table for all layouts of a site: its slices are the tables that each layout has alone."""

from dataclasses import fields, replace

import numpy as np
import pytest

from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.settings import Duration
from resilience.building.site import Calibration, Correction, GivenLink
from resilience.building.structure import Building, Change, Door, Level, Wall
from resilience.connectivity.links import link_table, site_table
from resilience.connectivity.luck.prospect import prospect

SHUT = Change(9.0, 12.0, Duration("exponential", mean_h=4.0))
KNOWN = Calibration(
    Correction(1.5, 0.5, 9), (("brick_120", Correction(2.0, 1.0, 9)),), residual_db=5.0, n_links=9
)


def building():
    """Two levels, three walls, and a door that changes."""
    walls = [
        Wall(f"w{n}", level, x_m, -9.0, x_m, 9.0, kind)
        for n, (level, x_m, kind) in enumerate(
            (("L1", 2.0, "brick_120"), ("L1", 6.0, "concrete_200"), ("L2", 4.0, "brick_120"))
        )
    ]
    return Building(
        (Level("L1", 0.0, 2.7, "concrete_200"), Level("L2", 3.0, 2.7, "concrete_200")),
        walls=tuple(walls),
        doors=(Door("d1", "w0", 8.0, 2.0, 2.1, "wooden_door", SHUT),),
        constructions=tuple(CONSTRUCTIONS.items()),
    )


def placed(device, level):
    return replace(device, place=replace(device.place, level=level))


@pytest.fixture(scope="module", params=["drawn", "calibrated", "undrawn", "not predicted"])
def site(small_site, request):
    """Three layouts: a repeater hangs elsewhere in the second, and each has links of its own."""
    device, layout = small_site.device, small_site.layout
    sensors = [device("s1", 0.0, 0.0), device("s2", 9.0, 0.0), placed(device("s3", 4.5, 3.0), "L2")]
    lost = device("s4")  # nobody placed it
    gateways = [device("g1", -3.0, 1.0), device("g2", 12.0, 0.0)]
    near, far = device("r1", 4.0, 0.0), placed(device("r1", 7.0, 5.0, transmit_dbm=9.0), "L2")
    given = {
        "a": (GivenLink("s1", "s2", 0.9, -70.0), GivenLink("g1", "r1", 0.0, None)),
        "b": (GivenLink("r1", "s1", None, -80.0), GivenLink("s4", "s1", 0.6, None)),
        "c": (GivenLink("g1", "s1", None, -75.0, ("d1",)), GivenLink("s2", "s1", 0.0, None)),
    }
    members = {
        "a": (near, *gateways),
        "b": (far, lost, gateways[0]),
        "c": (gateways[1], gateways[0]),
    }
    layouts = [
        replace(layout(name, *sensors, *members[name]), links=given[name]) for name in members
    ]
    drawn = small_site.undrawn if request.param == "undrawn" else building()
    if request.param == "undrawn":
        drawn = replace(drawn, levels=building().levels)
    radio = {"predict": request.param != "not predicted"}
    found = small_site(*layouts, building=drawn, radio=radio)
    return replace(found, calibration=KNOWN) if request.param == "calibrated" else found


def are_equal(one, other):
    """Whether two tables say the same to the last bit."""
    assert one.layout == other.layout
    assert one.link_ids == other.link_ids
    for column in (field.name for field in fields(one)):
        if isinstance(getattr(one, column), np.ndarray):
            same = np.array_equal(getattr(one, column), getattr(other, column), equal_nan=True)
        else:
            same = column in ("layout", "hindrances") or getattr(one, column) == getattr(
                other, column
            )
        assert same, column
    return tuple(one.links) == tuple(other.links)


def test_a_layouts_share_of_the_sites_table_is_the_table_it_has_alone(site):
    shared = site_table(site)
    for layout in site.layouts:
        alone = link_table(site, layout)
        assert len(alone.ends) > 0
        assert are_equal(shared.of(layout), alone)


def test_measured_links_count_in_their_own_layouts_alone(site):
    shared = site_table(site)
    measured = [
        {link.id for link in shared.of(layout).links if link.measured} for layout in site.layouts
    ]
    assert measured == [{"s1~s2"}, {"r1~s1", "s1~s4"}, {"g1~s1"}]


def test_a_table_without_some_devices_is_that_of_the_smaller_layout(site):
    for layout in site.layouts:
        gone = {"s3", "r1"}
        smaller = replace(
            layout,
            devices=tuple(one for one in layout.devices if one.id not in gone),
            links=tuple(one for one in layout.links if not {one.a, one.b} & gone),
        )
        assert are_equal(link_table(site, layout).without(gone), link_table(site, smaller))
        assert are_equal(site_table(site).of(smaller), link_table(site, smaller))


def test_two_layouts_are_never_mixed(site):
    """The first one's gateway and the second one's repeater hang together nowhere."""
    first, second, _ = site.layouts
    mixed = {one.id: one for one in (*first.devices, second.devices[1])}
    layout = replace(first, devices=tuple(mixed.values()), links=())
    with pytest.raises(ValueError, match="no layout of the site has"):
        site_table(site).of(layout)


def test_columns_cannot_be_written_to(site):
    table = link_table(site, site.layouts[0])
    for column in (table.rssi_dbm, table.ends, table.hindrances.loss_db):
        with pytest.raises(ValueError, match="read-only"):
            column[:] = 0


def test_rows_and_columns_say_the_same(site):
    for layout in site.layouts:
        table = link_table(site, layout)
        for row, link in enumerate(table.links):
            assert (link.a, link.b) == tuple(table.ids[end] for end in table.ends[row])
            assert [link.there.rssi_dbm, link.back.rssi_dbm] == table.rssi_dbm[row].tolist()
            assert table.is_usable(link) == (table.cost(link) is not None)
            assert (table.margin_db(link) >= 0) == table.is_usable(link)
        assert table.links[-1:] == (table.links[len(table.ends) - 1],)


def test_places_keep_their_luck_in_every_slice(site):
    """Draws are keyed by places, so what is left out takes nobody's luck with it."""
    table = link_table(site, site.layouts[0])
    smaller = table.without({"r1"})
    kept = np.isin(table.link_ids, smaller.link_ids)
    for draw in range(3):
        drawn = prospect(table).strengths_cdbm(1, draw)
        assert np.array_equal(drawn[kept], prospect(smaller).strengths_cdbm(1, draw))
