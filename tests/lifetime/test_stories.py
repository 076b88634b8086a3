"""Orphans, interruptions, outages and blame, told on meshes small enough to work out by hand.

Lifetimes last 1000 ms; a short rejoin takes 10 ms and a long one 100 ms.
"""

from dataclasses import dataclass, replace

import pytest

from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element, Scripted
from resilience.lifetime.mesh import MeshDevice
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Spell

CHAIN = {"g~r1": 128, "r1~s": 128}
TWO_WAYS = {"g~r1": 128, "g~r2": 128, "r1~s": 128, "r2~s": 256}
HARDWARE = {id: ("hardware", id) for id in ("g", "g1", "r1", "r2", "s")}


def test_a_leaf_is_an_orphan_for_as_long_as_its_only_relay_is_down(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("r1", (100, 300))).record
    assert record.spells == (Spell("s", 100, 300, 200, is_cut=False),)
    assert record.orphan_ms == record.dark_ms == {"s": 200}
    assert record.depth_ms == {"s": {2: 800}}
    assert record.count_ms == {0: 800, 1: 200}
    assert record.blame_ms == {HARDWARE["r1"]: 200}
    assert record.began == {HARDWARE["r1"]: 1}


def test_a_dead_sensor_is_down_and_not_an_orphan(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("s", (100, 300)), down("r1", (200, 400))).record
    assert record.down_ms == {"s": 200}
    assert record.orphan_ms == {"s": 100}
    assert record.dark_ms == {"s": 300}


def test_a_mute_sensor_still_forwards(mesh_of, played, mute):
    record = played(mesh_of({"g~s1": 128, "s1~s2": 128}), mute("s1", (100, 300))).record
    assert record.dark_ms == {"s1": 200, "s2": 0}
    assert record.orphan_ms == record.down_ms == record.interrupted_ms == {"s1": 0, "s2": 0}


def test_a_mute_orphan_is_dark_once(mesh_of, played, mute, down):
    record = played(mesh_of(CHAIN), mute("s", (100, 300)), down("r1", (200, 400))).record
    assert record.dark_ms == {"s": 300}
    assert record.orphan_ms == {"s": 200}


def test_a_device_is_up_only_when_nothing_holds_it_down(mesh_of, played, down):
    second = replace(down("r1", (200, 500)), cause="water")
    record = played(mesh_of(CHAIN), down("r1", (100, 300)), second).record
    assert record.spells == (Spell("s", 100, 500, 400, is_cut=False),)


def test_a_neighbour_kept_ready_makes_a_short_rejoin(mesh_of, played, down):
    record = played(mesh_of(TWO_WAYS), down("r1", (100, 1000))).record
    assert record.interrupted_ms == {"s": 10}
    assert record.orphan_ms == {"s": 0}
    assert record.reparentings == {"s": 1}


def test_without_a_neighbour_kept_ready_the_rejoin_is_long(mesh_of, played, down, calm):
    rules = replace(calm, backups=0)
    record = played(mesh_of(TWO_WAYS), down("r1", (100, 1000)), rules=rules).record
    assert record.interrupted_ms == {"s": 100}
    assert record.orphan_ms == {"s": 0}


def test_a_sensor_waits_for_the_slowest_rejoin_on_its_new_path(mesh_of, played, down, calm):
    """Both hang on r1. s1 moves to s2, its first candidate; s2 to the gateway, its second."""
    mesh = mesh_of({"g~r1": 128, "g~s2": 512, "r1~s1": 128, "r1~s2": 128, "s1~s2": 128})
    one = played(mesh, down("r1", (100, 1000)), rules=replace(calm, backups=1))
    assert [change.new for change in one.history.parents] == [None, "s2", "g"]
    assert one.record.interrupted_ms == {"s1": 100, "s2": 100}
    two = played(mesh, down("r1", (100, 1000)), rules=replace(calm, backups=2))
    assert two.record.interrupted_ms == {"s1": 10, "s2": 10}


def test_what_hangs_behind_a_sensor_is_not_kept_ready(mesh_of, played, down):
    """s2 would cost s1 512 and r2 costs 640, but s2 hangs on s1: r2 is its first candidate."""
    mesh = mesh_of({"g~r1": 128, "g~r2": 128, "r1~s1": 128, "r2~s1": 512, "s1~s2": 128})
    record = played(mesh, down("r1", (100, 1000))).record
    assert record.interrupted_ms == {"s1": 10, "s2": 10}


def test_the_end_of_an_orphan_spell_costs_a_long_rejoin(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("r1", (100, 300))).record
    assert record.interrupted_ms == {"s": 100}


def test_coming_back_and_moving_for_a_gain_cost_nothing(mesh_of, played, down, dearer):
    back = played(mesh_of(CHAIN), down("s", (100, 300))).record
    assert back.interrupted_ms == {"s": 0}
    gain = played(mesh_of(TWO_WAYS), dearer("r1~s", (0, 500), amount=300)).record
    assert gain.reparentings == {"s": 1}
    assert gain.interrupted_ms == {"s": 0}


def test_of_two_interruptions_that_overlap_the_later_end_holds(mesh_of, played, down):
    """Long from 300 to 400, and a short one inside it from 350 to 360."""
    elements = (down("r1", (350, 1000)), down("r2", (200, 300)))
    first = replace(down("r1", (200, 300)), cause="water")
    record = played(mesh_of(TWO_WAYS), *elements, first).record
    assert record.orphan_ms == {"s": 100}
    assert record.interrupted_ms == {"s": 100}


@pytest.mark.parametrize("cutter", ["r1", "s"])
def test_a_new_absence_cuts_an_interruption(mesh_of, played, down, cutter):
    second = replace(down(cutter, (340, 1000)), cause="water")
    record = played(mesh_of(CHAIN), down("r1", (100, 300)), second).record
    assert record.interrupted_ms == {"s": 40}


def test_the_horizon_cuts_a_spell_and_an_interruption(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("r1", (100, 950))).record
    assert record.interrupted_ms == {"s": 50}
    record = played(mesh_of(CHAIN), down("r1", (900, 1200))).record
    assert record.spells == (Spell("s", 900, 1000, 100, is_cut=True),)


def test_what_falls_on_the_horizon_does_not_happen(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("r1", (1000, 1100))).record
    assert record.strikes == {}
    assert played(mesh_of(CHAIN), down("r1", (999, 1100))).record.orphan_ms == {"s": 1}


def test_changes_of_one_millisecond_are_one_step(mesh_of, played, down, cut):
    """One way opens as the other closes, so nobody was ever cut off."""
    for element in (down, cut):
        targets = ("r1", "r2") if element is down else ("r1~s", "r2~s")
        record = played(
            mesh_of(TWO_WAYS), element(targets[0], (300, 1000)), element(targets[1], (0, 300))
        ).record
        assert record.orphan_ms == {"s": 0}
        assert record.reparentings == {"s": 1}


def test_a_sensor_not_reached_at_hand_over_is_told_apart(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("r1", (0, 300), (500, 600))).record
    assert record.not_reached_ms == {"s": 300}
    assert record.orphan_ms == {"s": 400}


def test_an_uncounted_site_outage_makes_no_orphans(mesh_of, played, down, calm):
    rules = replace(calm, reformation_ms=50)
    record = played(mesh_of(CHAIN), down("g", (100, 200)), rules=rules).record
    assert record.site_outage_ms == 150
    assert record.orphan_ms == record.dark_ms == record.interrupted_ms == {"s": 0}
    assert record.count_ms == {0: 850}
    assert record.blame_ms == {}
    assert record.depth_ms == {"s": {2: 850}}
    assert record.cut_off_ms == {"s": 150}


def test_a_counted_site_outage_is_the_gateways_with_its_re_formation(mesh_of, played, down, calm):
    rules = replace(calm, reformation_ms=50, count_site_outages=True)
    record = played(mesh_of(CHAIN), down("g", (100, 200)), rules=rules).record
    assert record.site_outage_ms == 150
    assert record.orphan_ms == {"s": 150}
    assert record.blame_ms == {HARDWARE["g"]: 150}
    assert record.count_ms == {0: 850, 1: 150}
    assert record.interrupted_ms == {"s": 100}
    assert record.reparentings == {}


def test_an_uncounted_site_outage_pauses_a_spell(mesh_of, played, down):
    record = played(mesh_of(CHAIN), down("r1", (100, 400)), down("g", (200, 250))).record
    assert record.spells == (Spell("s", 100, 400, 250, is_cut=False),)
    assert record.orphan_ms == {"s": 250}
    assert record.longest_above_ms == (250,)


def test_re_formation_starts_anew_when_the_gateway_goes_again(mesh_of, played, down, calm):
    rules = replace(calm, reformation_ms=50)
    record = played(mesh_of(CHAIN), down("g", (100, 200), (240, 260)), rules=rules).record
    assert record.site_outage_ms == 210
    assert record.site_outages == 1


def test_a_standby_gateway_serves_after_its_switch_over(mesh_of, played, down, calm):
    standby = MeshDevice("g2", Kind.GATEWAY, standby=True)
    mesh = mesh_of({"g1~s": 256, "g2~s": 128}, g2=standby)
    lifetime = played(mesh, down("g1", (100, 300)), rules=replace(calm, standby_switch_ms=40))
    assert lifetime.history.first_parents == {"s": "g1"}
    assert [(one.time_ms, one.old, one.new) for one in lifetime.history.parents] == [
        (100, "g1", None),
        (140, None, "g2"),
        (300, "g2", "g1"),
    ]
    record = lifetime.record
    assert record.site_outage_ms == 0
    assert record.orphan_ms == {"s": 40}
    assert record.blame_ms == {HARDWARE["g1"]: 40}
    assert record.reparentings == {"s": 1}


def test_a_standby_waits_anew_each_time_the_primary_goes(mesh_of, played, down, calm):
    standby = MeshDevice("g2", Kind.GATEWAY, standby=True)
    mesh = mesh_of({"g1~s": 256, "g2~s": 128}, g2=standby)
    rules = replace(calm, standby_switch_ms=80)
    record = played(mesh, down("g1", (100, 150), (300, 400)), rules=rules).record
    assert [(one.start_ms, one.end_ms) for one in record.spells] == [(100, 150), (300, 380)]


def test_once_a_site_outage_is_over_a_standby_serves_without_waiting(mesh_of, played, down, calm):
    standby = MeshDevice("g2", Kind.GATEWAY, standby=True)
    mesh = mesh_of({"g1~s": 256, "g2~s": 128}, g2=standby)
    rules = replace(calm, standby_switch_ms=500, reformation_ms=30)
    lifetime = played(mesh, down("g1", (100, 900)), down("g2", (110, 120)), rules=rules)
    assert lifetime.history.outages_ms == ((110, 150),)
    assert [(one.time_ms, one.new) for one in lifetime.history.parents] == [
        (100, None),
        (150, "g2"),
        (900, "g1"),
    ]
    assert lifetime.record.orphan_ms == {"s": 10}


def test_the_absence_that_struck_last_is_blamed(mesh_of, played, down):
    """Both ways are closed from 200 on, and the second to close opens last."""
    record = played(mesh_of(TWO_WAYS), down("r1", (100, 500)), down("r2", (200, 600))).record
    assert record.spells == (Spell("s", 200, 500, 300, is_cut=False),)
    assert record.blame_ms == {HARDWARE["r2"]: 300}


def test_when_the_holder_returns_the_rest_is_blamed_on_what_is_still_away(mesh_of, played, down):
    mesh = mesh_of({"g~r2": 128, "r1~r2": 128, "r1~s": 128})
    record = played(mesh, down("r2", (100, 300)), down("r1", (200, 400))).record
    assert record.blame_ms == {HARDWARE["r2"]: 200, HARDWARE["r1"]: 100}
    assert record.began == {HARDWARE["r2"]: 1}


def test_a_holder_that_came_back_during_an_outage_and_struck_again_is_blamed_anew(
    mesh_of, played, down, cut
):
    """r1's first absence ends in the outage from 150 to 300; by its end the blockage came last."""
    r1 = down("r1", (100, 200), (260, 400))
    record = played(mesh_of(CHAIN), r1, down("g", (150, 300)), cut("r1~s", (270, 500))).record
    assert record.spells == (Spell("s", 100, 500, 250, is_cut=False),)
    assert record.blame_ms == {HARDWARE["r1"]: 50, ("blockage", "r1~s"): 200}


def test_a_later_strike_does_not_take_a_spell_from_its_holder(mesh_of, played, down):
    mesh = mesh_of({"g~r2": 128, "r1~r2": 128, "r1~s": 128})
    record = played(mesh, down("r2", (100, 400)), down("r1", (200, 300))).record
    assert record.blame_ms == {HARDWARE["r2"]: 300}


def test_a_strike_away_from_the_island_is_not_blamed(mesh_of, played, down):
    """r2 stands beyond r1 and struck later, but does not touch what s still reaches."""
    mesh = mesh_of({"g~r2": 128, "r1~r2": 128, "r1~s": 128})
    record = played(mesh, down("r1", (100, 400)), down("r2", (100, 400))).record
    assert record.blame_ms == {HARDWARE["r1"]: 300}


def test_of_two_strikes_in_one_millisecond_the_greater_name_is_blamed(mesh_of, played, down, cut):
    record = played(mesh_of(TWO_WAYS), down("r1", (100, 400)), down("r2", (100, 400))).record
    assert record.blame_ms == {HARDWARE["r2"]: 300}
    record = played(mesh_of(TWO_WAYS), cut("r2~s", (100, 400)), down("r1", (100, 400))).record
    assert record.blame_ms == {HARDWARE["r1"]: 300}, "hardware comes after blockage"


@dataclass(frozen=True)
class FadingPath:
    """A link that grows dearer by a unit per dB and closes beyond 10 dB of loss."""

    def cost(self, loss_cdb: int) -> int | None:
        return None if loss_cdb > 1000 else 128 + loss_cdb // 100


def _loss(cause: str, loss_cdb: int, *away_ms: tuple[int, int]) -> Element:
    return Element(cause, "g~s", Effect.LOSS, ("g~s",), loss_cdb, Scripted(away_ms))


def test_a_loss_closes_a_link_only_beyond_its_margin(mesh_of, played):
    mesh = mesh_of({"g~s": 128})
    faded = replace(mesh, links=(replace(mesh.links[0], path=FadingPath()),))
    assert played(faded, _loss("rack", 1000, (100, 300))).record.orphan_ms == {"s": 0}
    closed = played(faded, _loss("rack", 1001, (100, 300))).record
    assert closed.blame_ms == {("rack", "g~s"): 200}


def test_two_losses_add_up_and_go_again_and_neither_is_blamed_alone(mesh_of, played):
    """7 and 6 dB close the link together from 200 to 300; by itself neither would."""
    mesh = mesh_of({"g~s": 128})
    faded = replace(mesh, links=(replace(mesh.links[0], path=FadingPath()),))
    losses = (_loss("rack", 700, (100, 300)), _loss("door", 600, (200, 400)))
    record = played(faded, *losses).record
    assert record.orphan_ms == {"s": 100}
    assert record.blame_ms == {LAYOUT: 100}


def test_a_sensor_that_nothing_cut_off_is_the_radio_draws_or_the_layouts(mesh_of, played):
    layout = mesh_of({"g~s1": 128}, alone="s2")
    drawn = replace(layout, routed_at_mean=frozenset({"s2"}))
    assert played(layout).record.blame_ms == {LAYOUT: 1000}
    assert played(drawn).record.blame_ms == {RADIO_DRAW: 1000}
    assert played(drawn).record.not_reached_ms == {"s1": 0, "s2": 1000}


def test_counts_and_their_longest_times_follow_two_orphans(mesh_of, played, down):
    """s2 is cut off from 100 to 600, s1 from 200 to 300 and again from 500 to 600."""
    mesh = mesh_of({"g~r1": 128, "g~r2": 128, "r1~s1": 128, "r2~s2": 128})
    record = played(mesh, down("r1", (200, 300), (500, 600)), down("r2", (100, 600))).record
    assert record.count_ms == {0: 500, 1: 300, 2: 200}
    assert record.longest_above_ms == (500, 100)
    assert record.most_orphans == 2
    assert min(spell.start_ms for spell in record.spells) == 100
