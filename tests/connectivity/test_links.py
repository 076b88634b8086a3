"""The link table: strength, margin, cost, measured links, and facts of common practice."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.settings import Duration, Hazards
from resilience.building.site import (
    Calibration,
    Correction,
    Device,
    GivenLink,
    Kind,
    Layout,
    Place,
    Site,
)
from resilience.building.structure import (
    Building,
    Change,
    Door,
    Level,
    Obstacle,
    Pillar,
    Shaft,
    Wall,
)
from resilience.building.upkeep import Upkeep
from resilience.connectivity.links import CUT_DB, link_table, usable_from_dbm
from resilience.connectivity.reception import reception_curve
from resilience.connectivity.shapes.crossings import Hindrance

LEVELS = (
    Level("L1", 0.0, 2.7, "concrete_200"),
    Level("L2", 3.0, 2.7, "concrete_200"),
    Level("L3", 6.0, 2.7, "concrete_200"),
)
FAR_AWAY = Wall("far", "L1", 900.0, 900.0, 901.0, 900.0, "brick_120")  # drawn, in nobody's way
OPEN_PLAN = Building(LEVELS, walls=(FAR_AWAY,), constructions=tuple(CONSTRUCTIONS.items()))
UNDRAWN = Building(LEVELS)
SQUARE = ((4.0, 4.0), (6.0, 4.0), (6.0, 6.0), (4.0, 6.0))


@pytest.fixture(scope="session")
def device(model):
    def made(id, *place, kind=Kind.SENSOR, **changes):
        x_m, y_m, *level = place or (None, None)
        spot = None if x_m is None else Place(level[0] if level else "L1", x_m, y_m, 1.2)
        return Device(id, kind, spot, model(**changes), None)

    return made


@pytest.fixture(scope="session")
def table(radio, routing):
    """Link table of devices in a building; keywords replace settings of radio and routing."""

    def made(
        devices, *, building=OPEN_PLAN, given=(), objective="etx", calibration=None, **changes
    ):
        layout = Layout("made", tuple(devices), tuple(given))
        site = Site(
            "Made up",
            1.0,
            date(2026, 1, 1),
            building,
            replace(radio, **changes),
            replace(routing, objective=objective),
            Hazards(**dict.fromkeys(Hazards.__slots__)),
            Upkeep(None, None),
            (layout,),
            calibration,
        )
        return link_table(site, layout)

    return made


@pytest.fixture(scope="session")
def measured(device, table):
    """The table of two devices without places and the one link measured between them."""

    def made(*given, **changes):
        return table([device("A"), device("B")], given=given, predict=False, **changes)

    return made


def test_strength_in_the_open_is_power_less_free_space(device, table):
    """ITU-R P.525: 60.1956 dB over 10 m at 2440 MHz."""
    (link,) = table([device("A", 0, 0), device("B", 10, 0)]).links
    assert link.distance_m == 10
    assert link.open_loss_db == pytest.approx(60.1956, abs=6e-5)
    assert link.there.rssi_dbm == link.back.rssi_dbm == pytest.approx(-60.1956, abs=6e-5)
    assert link.hindrances == ()
    assert not link.measured


def test_antennas_and_mountings_count_at_both_ends_and_power_at_the_sender(device, table):
    """Link budget by hand: 4 + (2 - 1) + (-3 - 5) - 60.1956 dB, and 8 dB less the other way."""
    a = device("A", 0, 0, transmit_dbm=4.0, antenna_dbi=2.0, mounting_loss_db=1.0)
    b = device("B", 10, 0, transmit_dbm=-4.0, antenna_dbi=-3.0, mounting_loss_db=5.0)
    (link,) = table([a, b]).links
    assert link.there.rssi_dbm == pytest.approx(-63.1956, abs=6e-5)
    assert link.back.rssi_dbm == pytest.approx(-71.1956, abs=6e-5)


def test_hindrances_come_off_the_strength(device, table):
    """Concrete 0.20 m head-on: 14.7143 dB without ripple (closed form, P.2040-3)."""
    core = Wall("W1", "L1", 5, -3, 5, 3, "concrete_200")
    building = replace(OPEN_PLAN, walls=(core,))
    (link,) = table([device("A", 0, 0), device("B", 10, 0)], building=building).links
    assert [hindrance.what for hindrance in link.hindrances] == ["wall W1"]
    assert link.there.rssi_dbm == pytest.approx(-60.1956 - 14.7143, abs=2e-3)


@pytest.mark.parametrize(("metres", "loss_db"), [(5, 60.7169), (10, 69.7478), (20, 78.7787)])
def test_where_no_wall_is_drawn_p1238_stands_for_the_walls(device, table, metres, loss_db):
    """ITU-R P.1238, office at 2.4 GHz: N = 30 (from memory)."""
    found = table([device("A", 0, 0), device("B", metres, 0)], building=UNDRAWN)
    assert found.links[0].there.rssi_dbm == pytest.approx(-loss_db, abs=6e-5)
    assert found.links[0].hindrances == ()


@pytest.mark.parametrize(("level", "floors_db"), [("L2", 14.0), ("L3", 18.0)])
def test_where_no_wall_is_drawn_floors_cost_what_p1238_says(device, table, level, floors_db):
    """ITU-R P.1238: 14 dB through one floor of an office; 4 dB for each further one (borrowed)."""
    rise_m = 3.0 if level == "L2" else 6.0
    found = table([device("A", 0, 0), device("B", 4, 0, level)], building=UNDRAWN)
    expected_db = 39.7478 + 30 * math.log10(math.hypot(4, rise_m)) + floors_db
    assert found.links[0].open_loss_db == pytest.approx(expected_db, abs=6e-5)


def test_links_are_in_order_of_their_ends_and_named_by_them(device, table):
    """Code points: digits before capitals before small letters."""
    devices = [device("b", 2, 0), device("B", 1, 0), device("007", 0, 0)]
    found = table(devices).links
    assert [link.id for link in found] == ["007~B", "007~b", "B~b"]
    assert all(link.a < link.b for link in found)


def test_gateways_never_link_to_gateways(device, table):
    gateways = [device("G1", 0, 0, kind=Kind.GATEWAY), device("G2", 1, 0, kind=Kind.GATEWAY)]
    found = table([*gateways, device("S1", 2, 0)], given=[GivenLink("G1", "G2", 1.0, -40.0)])
    assert [link.id for link in found.links] == ["G1~S1", "G2~S1"]


@pytest.mark.parametrize("case", [(0.1, 1), (-0.1, 0)])
def test_pairs_are_kept_down_to_the_cut_below_usable(device, table, radio, routing, case):
    """By hand: free space over 10 m is 60.1956 dB; the power is set so that the cut is met."""
    inside_db, n_links = case
    power_dbm = usable_from_dbm(-100.0, radio, routing) - CUT_DB + 60.1956 + inside_db
    weak = {"transmit_dbm": power_dbm}
    found = table([device("A", 0, 0, **weak), device("B", 10, 0, **weak)])
    assert len(found.links) == n_links
    louder = device("B", 10, 0, transmit_dbm=power_dbm + 5)  # one better direction is enough
    assert len(table([device("A", 0, 0, **weak), louder]).links) == 1


def test_a_link_is_usable_only_above_the_receivers_own_floor(device, table):
    """-60.2 dBm against floors of -60 and -61 dBm."""
    for floor_dbm, neighbours in ((-60.0, ()), (-61.0, ("B",))):
        deaf = device("A", 0, 0, receive_floor_dbm=floor_dbm)
        assert table([deaf, device("B", 10, 0)]).usable_neighbours("A") == neighbours


def test_margin_is_that_of_the_weaker_direction_above_what_stops_it(device, table, radio):
    """The floor of -70 dBm stops A's reception; the reception curve stops B's."""
    a = device("A", 0, 0, receive_floor_dbm=-70.0)
    b = device("B", 10, 0)
    found = table([a, b])
    assert found.margin_db(found.links[0]) == pytest.approx(70 - 60.1956, abs=6e-5)
    both = table([device("A", 0, 0), b])
    stops_dbm = reception_curve(radio).rssi_cdbm(0.30) / 100
    assert both.margin_db(both.links[0]) == pytest.approx(-60.1956 - stops_dbm, abs=6e-5)


def test_losing_just_the_margin_leaves_a_link_and_losing_more_ends_it(device, table):
    a, b = device("A", 0, 0), device("B", 10, 0)
    open_plan = table([a, b])
    margin_db = open_plan.margin_db(open_plan.links[0])
    for extra_db, neighbours in ((margin_db - 0.02, ("B",)), (margin_db + 0.02, ())):
        boxed = device("B", 10, 0, mounting_loss_db=extra_db)
        assert table([a, boxed]).usable_neighbours("A") == neighbours


def test_cost_is_expected_transmissions_and_none_where_unusable(measured):
    """De Couto et al. 2003: 1 / (0.8 x 0.9) is 1.3889 transmissions, 178 of 128ths."""
    found = measured(GivenLink("A", "B", 0.8, -60.0), GivenLink("B", "A", 0.9, -60.0))
    assert found.cost(found.links[0]) == 178
    weak = measured(GivenLink("A", "B", 0.8, -60.0), GivenLink("B", "A", 0.2, -60.0))
    assert weak.cost(weak.links[0]) is None


def test_with_hops_every_usable_link_costs_one(measured):
    found = measured(GivenLink("A", "B", 0.5, -60.0), objective="hops")
    assert found.cost(found.links[0]) == 128
    weak = measured(GivenLink("A", "B", 0.2, -60.0), objective="hops")
    assert weak.cost(weak.links[0]) is None


@pytest.mark.parametrize(("quality", "neighbours"), [(0.35, ("B",)), (0.25, ())])
def test_a_link_quality_of_35_percent_passes_and_25_percent_does_not(measured, quality, neighbours):
    """Common practice: a third of the frames is the least that carries readings."""
    assert measured(GivenLink("A", "B", quality, None)).usable_neighbours("A") == neighbours


def test_a_link_of_minus_98_dbm_passes_in_a_quiet_band_and_one_past_minus_100_does_not(measured):
    """Past -100 dBm a link is too weak (common practice)."""
    for rssi_dbm, neighbours in ((-98.0, ("B",)), (-100.5, ())):
        found = measured(GivenLink("A", "B", None, rssi_dbm), environment="quiet")
        assert found.usable_neighbours("A") == neighbours


def test_without_prediction_only_given_links_exist(device, table):
    devices = [device("A", 0, 0), device("B", 1, 0), device("C", 2, 0)]
    found = table(devices, given=[GivenLink("A", "B", 0.9, None)], predict=False)
    (link,) = found.links
    assert (link.id, link.distance_m, link.open_loss_db) == ("A~B", 1.0, None)


def test_devices_without_a_place_have_no_distance(measured):
    (link,) = measured(GivenLink("A", "B", 0.9, None)).links
    assert link.distance_m is None
    assert link.measured


def test_a_missing_direction_takes_the_others(measured):
    found = measured(GivenLink("B", "A", 0.9, -61.0))
    (link,) = found.links
    assert link.there == link.back
    assert link.back.rssi_dbm == -61.0
    assert found.calm_prr[0].tolist() == pytest.approx([0.9 * 2**16] * 2, rel=1e-3)  # 0.01 dB


@pytest.mark.parametrize("mute", [("A", "B"), ("B", "A")])
def test_a_direction_that_was_not_heard_is_no_link(device, table, mute):
    """Though prediction would give one over 1 m."""
    heard = GivenLink(*reversed(mute), 0.9, -50.0)
    devices = [device("A", 0, 0), device("B", 1, 0)]
    assert table(devices, given=[GivenLink(*mute, 0.0, None), heard]).links == ()


def test_an_empty_measurement_leaves_the_prediction(device, table):
    devices = [device("A", 0, 0), device("B", 10, 0)]
    found = table(devices, given=[GivenLink("A", "B", None, None)])
    assert not found.links[0].measured
    assert found.links[0].there.rssi_dbm == pytest.approx(-60.1956, abs=6e-5)


def test_a_measurement_overrides_the_prediction_and_keeps_what_stands_in_the_way(device, table):
    building = replace(OPEN_PLAN, walls=(Wall("W1", "L1", 5, -3, 5, 3, "concrete_200"),))
    devices = [device("A", 0, 0), device("B", 10, 0)]
    given = [GivenLink("A", "B", None, -66.0), GivenLink("B", "A", None, -68.0)]
    (link,) = table(devices, building=building, given=given).links
    assert (link.there.rssi_dbm, link.back.rssi_dbm) == (-66.0, -68.0)
    assert [hindrance.what for hindrance in link.hindrances] == ["wall W1"]
    assert link.measured


def test_a_ratio_alone_sets_strength_and_margin_through_the_reception_curve(
    measured, radio, routing
):
    """It stands for the strength at which the site receives so much, and no better is known."""
    found = measured(GivenLink("A", "B", 0.95, None))
    (link,) = found.links
    assert link.there.rssi_dbm == link.there.heard_dbm
    assert found.calm_prr[0].tolist() == pytest.approx([0.95 * 2**16] * 2, rel=1e-3)
    stops_dbm = usable_from_dbm(-100.0, radio, routing)
    assert found.margin_db(link) == pytest.approx(link.there.rssi_dbm - stops_dbm, abs=1e-9)


def test_with_both_the_ratio_sets_reception_and_the_strength_the_floors_margin(measured):
    """Half of the frames arrive at -98 dBm, 2 dB above the receiver's floor of -100 dBm."""
    found = measured(GivenLink("A", "B", 0.5, -98.0))
    (link,) = found.links
    assert found.calm_prr[0].tolist() == pytest.approx([2**15] * 2, rel=2e-3)  # told to 0.01 dB
    assert link.there.heard_dbm > link.there.rssi_dbm
    assert found.margin_db(link) == pytest.approx(2.0)


def test_that_everything_arrived_does_not_bound_the_strength_from_above(measured):
    """1.00 over a link as strong as -20 dBm says no more than that it is strong."""
    (link,) = measured(GivenLink("A", "B", 1.0, -20.0)).links
    assert link.there.heard_dbm == -20.0


def door(adds_db=20.0, construction="wooden_door"):
    """A wall across the middle between (0, 0) and (10, 0) with a door that shuts now and then."""
    change = Change(adds_db, 12.0, Duration("exponential", mean_h=4.0))
    return replace(
        OPEN_PLAN,
        walls=(Wall("W1", "L1", 5, -50, 5, 50, "brick_120"),),
        doors=(Door("D1", "W1", 49.0, 2.0, 2.1, construction, change),),
    )


@pytest.mark.parametrize(("changed", "rssi_dbm"), [((), -80.0), (("D1",), -60.0)])
def test_a_strength_read_through_a_shut_door_is_brought_to_the_open_one(
    device, table, changed, rssi_dbm
):
    devices = [device("A", 0, 0), device("B", 10, 0)]
    given = [GivenLink("A", "B", None, -80.0, changed)]
    (link,) = table(devices, building=door(), given=given).links
    assert (link.there.rssi_dbm, link.back.rssi_dbm) == (rssi_dbm, rssi_dbm)
    assert [one.id for one in link.hindrances] == ["D1"]


def test_each_direction_is_brought_to_the_drawn_state_by_itself(device, table):
    devices = [device("A", 0, 0), device("B", 10, 0)]
    given = [GivenLink("A", "B", None, -80.0, ("D1",)), GivenLink("B", "A", None, -61.0)]
    (link,) = table(devices, building=door(), given=given).links
    assert (link.there.rssi_dbm, link.back.rssi_dbm) == (-60.0, -61.0)


def test_a_shut_door_elsewhere_is_no_matter(device, table):
    devices = [device("A", 0, 10), device("B", 10, 10)]
    given = [GivenLink("A", "B", None, -80.0, ("D1",))]
    (link,) = table(devices, building=door(), given=given).links
    assert link.there.rssi_dbm == -80.0


def test_a_ratio_read_through_a_shut_door_moves_with_the_strength(device, table):
    """Both by the 5 dB that the door takes."""
    devices = [device("A", 0, 0), device("B", 10, 0)]
    for ratio in (0.5, 0.9):
        shut, still = (
            table(devices, building=door(5.0), given=[GivenLink("A", "B", ratio, -85.0, changed)])
            for changed in (("D1",), ())
        )
        assert (shut.rssi_dbm == -80.0).all()
        assert shut.heard_dbm - still.heard_dbm == pytest.approx(np.full((1, 2), 5.0))


def test_what_was_not_heard_through_a_shut_door_says_nothing_of_the_open_one(device, table):
    devices = [device("A", 0, 0), device("B", 10, 0)]
    (link,) = table(devices, building=door(), given=[GivenLink("A", "B", 0.0, None, ("D1",))]).links
    assert not link.measured
    assert link.there.rssi_dbm > -65
    back = GivenLink("B", "A", None, -66.0)
    given = [GivenLink("A", "B", 0.0, None, ("D1",)), back]
    (link,) = table(devices, building=door(), given=given).links
    assert (link.there.rssi_dbm, link.back.rssi_dbm, link.measured) == (-66.0, -66.0, True)
    elsewhere = [GivenLink("A", "B", 0.0, None, ("V1",))]
    assert table(devices, building=door(), given=elsewhere).links == ()


def test_a_measured_link_tells_what_stands_in_it_where_nothing_is_predicted(device, table):
    devices = [device("A", 0, 0), device("B", 10, 0)]
    given = [GivenLink("A", "B", None, -80.0, ("D1",))]
    (link,) = table(devices, building=door(), given=given, predict=False).links
    assert [one.what for one in link.hindrances] == ["door D1"]
    assert (link.there.rssi_dbm, link.open_loss_db, link.predicted_dbm) == (-60.0, None, None)


def test_what_comes_and_goes_is_told_where_no_wall_is_drawn(device, table):
    """ITU-R P.1238 over 10 m: 69.7478 dB; racking as drawn takes nothing, but may fill up."""
    change = Change(15.0, 2.0, Duration("exponential", mean_h=400.0))
    racking = Obstacle("R1", "racking", "L1", 5, 0, 1, 6, 0, 2.7, 0.0, change)
    building = replace(UNDRAWN, obstacles=(racking,))
    (link,) = table([device("A", 0, 0), device("B", 10, 0)], building=building).links
    assert link.there.rssi_dbm == pytest.approx(-69.7478, abs=6e-5)
    assert tuple(link.hindrances) == (Hindrance("racking R1", "", 0.0, "R1", 0),)


def corrections(distance=None, **constructions):
    """Offsets as measured, however sure."""
    return Calibration(
        None if distance is None else Correction(distance, 1.0, 9),
        tuple((name, Correction(offset, 1.0, 9)) for name, offset in constructions.items()),
        3.0,
        9,
    )


@pytest.mark.parametrize(("metres", "added_db"), [(0.5, 0.0), (1, 0.0), (10, 3.0), (100, 6.0)])
@pytest.mark.parametrize("building", [OPEN_PLAN, UNDRAWN])
def test_a_corrected_distance_counts_by_decades_from_1_m(device, table, building, metres, added_db):
    devices = [device("A", 0, 0), device("B", metres, 0)]
    (drawn,) = table(devices, building=building).links
    (link,) = table(devices, building=building, calibration=corrections(3.0)).links
    assert link.there.rssi_dbm == pytest.approx(drawn.there.rssi_dbm - added_db, abs=1e-9)
    assert link.open_loss_db == pytest.approx(drawn.open_loss_db + added_db, abs=1e-9)
    assert link.correction_db == pytest.approx(added_db, abs=1e-9)
    assert drawn.correction_db == 0


def test_a_corrected_construction_counts_at_every_crossing(device, table):
    walls = tuple(Wall(f"W{x}", "L1", x, -50, x, 50, "brick_120") for x in (3, 5))
    other = Wall("W7", "L1", 7, -50, 7, 50, "glass_10")
    building = replace(OPEN_PLAN, walls=(*walls, other))
    devices = [device("A", 0, 0), device("B", 10, 0)]
    (drawn,) = table(devices, building=building).links
    (link,) = table(devices, building=building, calibration=corrections(brick_120=4.0)).links
    assert [one.loss_db for one in link.hindrances] == pytest.approx(
        [one.loss_db + more_db for one, more_db in zip(drawn.hindrances, (4, 4, 0), strict=True)]
    )
    assert link.there.rssi_dbm == pytest.approx(drawn.there.rssi_dbm - 8.0, abs=1e-9)
    assert link.correction_db == pytest.approx(8.0, abs=1e-9)


def test_no_correction_makes_a_wall_strengthen_a_signal(device, table):
    building = replace(OPEN_PLAN, walls=(Wall("W1", "L1", 5, -50, 5, 50, "brick_120"),))
    devices = [device("A", 0, 0), device("B", 10, 0)]
    (link,) = table(devices, building=building, calibration=corrections(brick_120=-50.0)).links
    assert link.hindrances[0].loss_db == 0
    assert link.there.rssi_dbm == pytest.approx(-60.1956, abs=6e-5)


def test_a_correction_may_open_and_close_the_way_round(device, table):
    """The wall's end is 0.3 m out of the path: about 11.7 dB round it, 14.7 dB through as drawn."""
    building = replace(OPEN_PLAN, walls=(Wall("W1", "L1", 5, -50, 5, 0.3, "concrete_200"),))
    devices = [device("A", 0, 0), device("B", 10, 0)]
    found = {}
    for offset_db in (0.0, -6.0):
        known = corrections(concrete_200=offset_db)
        (link,) = table(devices, building=building, calibration=known).links
        found[offset_db] = link.hindrances[0]
        total_db = sum(one.loss_db for one in link.hindrances)
        assert link.there.rssi_dbm == pytest.approx(-60.1956 - total_db, abs=6e-5)
    assert found[0.0].what == "round wall W1"
    assert found[-6.0].loss_db == pytest.approx(14.7143 - 6.0, abs=2e-3)


def test_a_measured_link_keeps_what_was_predicted_for_it(device, table):
    devices = [device("A", 0, 0, transmit_dbm=4.0), device("B", 10, 0)]
    (link,) = table(devices, given=[GivenLink("A", "B", None, -70.0)]).links
    assert (link.there.rssi_dbm, link.back.rssi_dbm) == (-70.0, -70.0)
    assert link.predicted_dbm == pytest.approx((-56.1956, -60.1956), abs=6e-5)
    (bare,) = table(devices).links
    assert bare.predicted_dbm == (bare.there.rssi_dbm, bare.back.rssi_dbm)


def test_a_correction_can_bring_a_pair_within_the_cut(device, table, radio, routing):
    """By hand: the power is set so that a pair 10 m apart misses the cut by 1 dB."""
    power_dbm = usable_from_dbm(-100.0, radio, routing) - CUT_DB + 60.1956 - 1.0
    devices = [device(id, x_m, 0, transmit_dbm=power_dbm) for id, x_m in (("A", 0), ("B", 10))]
    assert table(devices).links == ()
    assert len(table(devices, calibration=corrections(-2.0)).links) == 1


# What everyone who installs such networks knows (common practice).


def test_an_open_shaft_beats_the_slab(device, table):
    stair = Shaft("stair", "L1", "L2", SQUARE, None)
    building = replace(OPEN_PLAN, shafts=(stair,))
    low, inside, beside = device("A", 5, 5), device("B", 5.5, 5, "L2"), device("C", 8, 5, "L2")
    through_shaft, through_slab = table([low, inside, beside], building=building).links[:2]
    assert through_shaft.hindrances == ()
    assert through_shaft.there.rssi_dbm > through_slab.there.rssi_dbm + 10


def test_a_device_behind_a_pillar_is_lost_where_its_neighbour_is_not(device, table):
    """Both with so little power that 5 dB more loss, as far as the neighbour, is too much."""

    def heard_by_a(pillars, **changes):
        places = {"A": (0, 5), "behind": (25, 5), "beside": (25, 15)}
        devices = [device(id, *place, **changes) for id, place in places.items()]
        found = table(devices, building=replace(OPEN_PLAN, pillars=pillars))
        return found, {link.b: link for link in found.links if link.a == "A"}

    pillar = Pillar("P1", "L1", "L1", 1.0, 5.0, 0.5, 0.5, "concrete_200")
    found, strong = heard_by_a(())
    power_dbm = 5.0 - found.margin_db(strong["beside"])
    found, weak = heard_by_a((pillar,), transmit_dbm=power_dbm)
    assert found.usable_neighbours("A") == ("beside",)
    assert [one.what for one in weak["behind"].hindrances] == ["round pillar P1"]


def test_a_device_behind_a_lined_shaft_is_lost_where_its_neighbour_is_not(device, table):
    lift = Shaft("lift", "L1", "L3", SQUARE, "concrete_200")
    building = replace(OPEN_PLAN, shafts=(lift,))
    devices = [device("A", 0, 5), device("behind", 25, 5), device("beside", 25, 20)]
    assert table(devices, building=building).usable_neighbours("A") == ("beside",)


def test_stacked_devices_join_levels_better_than_staggered_ones(device, table):
    """The straight way through a slab is shorter, in the concrete as in the air."""
    low, stacked = device("A", 0, 0), device("B", 0, 0, "L2")
    staggered = device("C", 6, 0, "L2")
    straight, slanted = table([low, stacked, staggered]).links[:2]
    assert straight.hindrances[0].loss_db < slanted.hindrances[0].loss_db
    assert straight.there.rssi_dbm > slanted.there.rssi_dbm + 6


def test_ordinary_paths_lie_between_free_space_and_40_db_below_it(device, table):
    """Brun-Laguna et al. 2016 and 2018: so in an office and in an orchard, without exception.

    Office floor of 30 m x 18 m: a corridor between two rows of rooms of 5 m behind stud walls, and
    a concrete cross wall; a device in every room.
    """
    rooms = [
        Wall(f"{side}{n}", "L1", 5.0 * n, y_m, 5.0 * n, y_m + 8.0, "stud_wall")
        for side, y_m in (("N", 10.0), ("S", 0.0))
        for n in range(1, 6)
    ]
    corridor = [Wall(f"C{y}", "L1", 0, float(y), 30, float(y), "stud_wall") for y in (8, 10)]
    cross = Wall("X", "L1", 15.5, 0.0, 15.5, 18.0, "concrete_150")
    building = replace(OPEN_PLAN, walls=(*rooms, *corridor, cross))
    devices = [
        device(f"{row}{n}", 2.0 + 5.0 * n, y_m)
        for row, y_m in (("n", 13.0), ("s", 4.0))
        for n in range(6)
    ]
    links = table(devices, building=building).links
    assert len(links) == 66
    for link in links:
        free_space_dbm = -(32.4477832 + 20 * math.log10(2.44 * link.distance_m))
        assert free_space_dbm - 40 <= link.there.rssi_dbm <= free_space_dbm + 1e-6
