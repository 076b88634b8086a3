"""Links that swing, told on meshes small enough to work out by hand.

Levels are +3 or -3 dB and last 4 ms; a lifetime lasts 20 ms. For each test a lifetime is looked up
whose draws give the wanted levels, with the replayer's own reading of how they are drawn. A short
rejoin takes 1 ms and a long one 3 ms; devices look around at hand-over only, unless told otherwise.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import count

import numpy as np
import pytest
from scipy import stats

from resilience.connectivity.air import Air
from resilience.connectivity.reception import FULL, ReceptionCurve
from resilience.connectivity.swing import N_LEVELS, levels_cdb
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Element, Scripted
from resilience.hazards.laws import NEVER, Law
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Luck, Mesh, Rules
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Lifetime, ParentChange, Spell
from resilience.lifetime.reference.simulator import simulate

FULL_EVERYWHERE = ReceptionCurve(np.full(12_001, FULL))
TWO_LEVELS_CDB = np.repeat([-300, 300], N_LEVELS // 2)
AIR = Air(FULL_EVERYWHERE, 1, False, TWO_LEVELS_CDB, holds_ms=4)
RULES = Rules(20, 0, 1, 1, 3, 0, look_around_ms=1000)


@dataclass(frozen=True)
class Weak:
    """A link that takes so much loss before it closes, and costs a unit more for each dB."""

    spare_cdb: int
    calm_cost: int = 128

    def cost(self, loss_cdb: int) -> int | None:
        return None if loss_cdb > self.spare_cdb else self.calm_cost + loss_cdb // 100


@pytest.fixture(scope="module")
def lifetime_with(replay):
    """Look up a lifetime in which links have these levels, hold by hold, from hand-over on."""

    def found(mesh: Mesh, wanted: dict[str, str]) -> Luck:
        for number in count():
            luck = Luck(1, number)
            swings = replay.swings(mesh, luck)
            if all(
                swings[id].parts[0].phase_ms == 0 and _signs(swings[id]).startswith(signs)
                for id, signs in wanted.items()
            ):
                return luck
        raise AssertionError

    return found


def _signs(swing) -> str:
    return "".join("+" if swing.level_cdb(ms) > 0 else "-" for ms in range(0, 20, 4))


@pytest.fixture(scope="module")
def swung(mesh_of, lifetime_with) -> Callable[..., Lifetime]:
    """Play a mesh of links of given cost, or weak ones, whose levels are wanted."""

    def played(links, levels, *elements, rules=RULES, drawn=(), cells=()) -> Lifetime:
        given = mesh_of({id: 128 if isinstance(one, Weak) else one for id, one in links.items()})
        ends = (
            replace(link, path=links[link.id]) if isinstance(links[link.id], Weak) else link
            for link in given.links
        )
        mesh = replace(given, links=tuple(ends), routed_at_mean=frozenset(drawn), air=AIR)
        luck = lifetime_with(mesh, levels)
        return simulate(mesh, HazardTable(elements, cells), rules, luck)

    return played


def _loss(loss_cdb: int, *away_ms: tuple[int, int]) -> Element:
    return Element("rack", "g~s", Effect.LOSS, ("g~s",), loss_cdb, Scripted(away_ms))


def test_a_weak_branch_makes_an_orphan_for_as_long_as_its_level_is_low(swung):
    lifetime = swung({"g~s": Weak(200)}, {"g~s": "+--+-"})
    record = lifetime.record
    assert record.spells == (Spell("s", 4, 12, 8, is_cut=False), Spell("s", 16, 20, 4, is_cut=True))
    assert record.blame_ms == {("swing", "g~s"): 12}
    assert record.began == {("swing", "g~s"): 2}
    assert record.interrupted_ms == {"s": 3}
    assert record.strikes == {}
    assert lifetime.history.absences == ()
    assert lifetime.history.faded == ((4, "g~s"), (16, "g~s"))
    assert lifetime.history.parents == (
        ParentChange(4, "s", "g", None),
        ParentChange(12, "s", None, "g"),
        ParentChange(16, "s", "g", None),
    )


def test_a_branch_with_as_much_to_spare_as_the_lowest_level_takes_never_closes(swung):
    record = swung({"g~s": Weak(300)}, {"g~s": "+--+-"}).record
    assert record.orphan_ms == {"s": 0}


def test_a_link_that_is_low_at_hand_over_is_away_since_0(swung):
    lifetime = swung({"g~s": Weak(200)}, {"g~s": "-+++"})
    assert lifetime.history.first_parents == {"s": None}
    assert lifetime.record.not_reached_ms == {"s": 4}
    assert lifetime.record.blame_ms == {("swing", "g~s"): 4}
    assert lifetime.history.faded == ()


def test_what_has_no_swing_of_its_own_stays(swung):
    """A link of given cost has no strength that could swing."""
    assert swung({"g~s": 128}, {"g~s": "+-+--"}).record.orphan_ms == {"s": 0}


@pytest.mark.parametrize(("look_around_ms", "moved_ms"), [(10, 10), (7, 14), (8, 8), (20, None)])
def test_a_device_notices_a_better_neighbour_only_when_it_looks_around(
    swung, look_around_ms, moved_ms
):
    """g1 costs 125 at first and 131 from 8 on; g2 always 128."""
    lifetime = swung(
        {"g1~s": Weak(500), "g2~s": 128},
        {"g1~s": "++---"},
        rules=replace(RULES, look_around_ms=look_around_ms),
    )
    assert lifetime.history.first_parents == {"s": "g1"}
    moves = () if moved_ms is None else (ParentChange(moved_ms, "s", "g1", "g2"),)
    assert lifetime.history.parents == moves
    assert lifetime.record.interrupted_ms == {"s": 0}
    assert lifetime.record.reparentings == ({"s": 1} if moves else {})


@pytest.mark.parametrize(("hysteresis", "moves"), [(2, 1), (3, 0)])
def test_costs_of_the_moment_decide_whether_a_gain_is_beyond_the_hysteresis(
    swung, hysteresis, moves
):
    """At 10 the device would save 131 - 128 = 3."""
    rules = replace(RULES, look_around_ms=10, hysteresis=hysteresis)
    lifetime = swung({"g1~s": Weak(500), "g2~s": 128}, {"g1~s": "++---"}, rules=rules)
    assert len(lifetime.history.parents) == moves


def test_who_has_lost_a_branch_chooses_by_the_costs_of_that_moment(swung, cut):
    """When g1 is cut, g3 costs 130, and g2 125 or 131 after 125 at hand-over."""
    links = {"g1~s": 124, "g2~s": Weak(500), "g3~s": 130}
    lifetime = swung(links, {"g2~s": "+-"}, cut("g1~s", (4, 20)))
    assert lifetime.history.parents == (ParentChange(4, "s", "g1", "g3"),)
    lifetime = swung(links, {"g2~s": "++"}, cut("g1~s", (4, 20)))
    assert lifetime.history.parents == (ParentChange(4, "s", "g1", "g2"),)


@pytest.mark.parametrize(
    "case",
    [
        ("++", "g3", 1),  # g3 is the neighbour kept ready, and the best
        ("--", "g2", 1),
        ("+-", "g2", 3),  # a millisecond before, g3 was kept ready for its 125 before g2 for 130
        ("-+", "g3", 3),  # and here g2, before g3 for 131
    ],
)
def test_neighbours_are_kept_ready_by_the_costs_of_a_millisecond_before(swung, case):
    levels, parent, silent_ms = case
    lifetime = swung(
        {"g1~s": Weak(200, 100), "g2~s": 130, "g3~s": Weak(500)},
        {"g1~s": "+--", "g3~s": levels},
        rules=replace(RULES, horizon_ms=12),
    )
    assert lifetime.history.parents == (ParentChange(4, "s", "g1", parent),)
    assert lifetime.history.faded == ((4, "g1~s"),)
    assert lifetime.record.interrupted_ms == {"s": silent_ms}
    assert lifetime.record.orphan_ms == {"s": 0}


def test_a_whole_island_is_back_when_one_of_its_links_opens(swung):
    lifetime = swung({"g~s1": Weak(200), "s1~s2": 128}, {"g~s1": "-+++"})
    assert lifetime.history.parents == (
        ParentChange(4, "s1", None, "g"),
        ParentChange(4, "s2", None, "s1"),
    )
    assert lifetime.record.blame_ms == {("swing", "g~s1"): 8}


def test_a_loss_that_closes_a_link_at_the_level_of_the_moment_is_blamed(swung):
    """Of 4 dB to spare a rack takes 2 and a low level 3: only together too much."""
    lifetime = swung({"g~s": Weak(400)}, {"g~s": "+-+++"}, _loss(200, (1, 19)))
    assert lifetime.record.spells == (Spell("s", 4, 8, 4, is_cut=False),)
    assert lifetime.record.blame_ms == {("rack", "g~s"): 4}
    assert lifetime.history.faded == ((4, "g~s"),)


def test_a_branch_that_a_loss_closes_has_not_faded(swung):
    lifetime = swung({"g~s": Weak(400)}, {"g~s": "+-+++"}, _loss(200, (5, 7)))
    assert lifetime.record.spells == (Spell("s", 5, 7, 2, is_cut=False),)
    assert lifetime.history.faded == ()


def test_a_branch_that_closes_as_its_device_fails_has_not_faded(swung, down):
    lifetime = swung({"g~s": Weak(200)}, {"g~s": "+-+++"}, down("s", (4, 12)))
    assert lifetime.history.faded == ()
    assert lifetime.record.orphan_ms == {"s": 0}


def test_a_loss_takes_a_level_into_account_when_it_strikes(swung):
    """5 dB of loss close a link with 4 to spare, but not while its level is high."""
    lifetime = swung({"g~s": Weak(400)}, {"g~s": "++-++"}, _loss(500, (1, 20)))
    assert lifetime.record.spells == (Spell("s", 8, 12, 4, is_cut=False),)
    assert lifetime.record.blame_ms == {("rack", "g~s"): 4}


def test_what_is_not_usable_when_calm_is_never_put_down_to_its_swing(swung):
    """It carries at a high level only, which nobody would have found at hand-over."""
    levels = {"g~s": "+-+++"}
    lifetime = swung({"g~s": Weak(-100)}, levels)
    assert lifetime.record.blame_ms == {LAYOUT: 4}
    assert lifetime.history.faded == ((4, "g~s"),)
    drawn = swung({"g~s": Weak(-100)}, levels, drawn=("s",))
    assert drawn.record.blame_ms == {RADIO_DRAW: 4}


def test_when_a_level_has_risen_the_rest_is_blamed_on_what_is_still_away(swung, cut):
    """s loses r at 4, r loses the gateway at 6; at 8 s reaches r again, which is no way yet."""
    lifetime = swung({"g~r": 128, "r~s": Weak(200)}, {"r~s": "+-+++"}, cut("g~r", (6, 18)))
    assert lifetime.record.spells == (Spell("s", 4, 18, 14, is_cut=False),)
    assert lifetime.record.blame_ms == {("swing", "r~s"): 4, ("blockage", "g~r"): 10}
    assert lifetime.record.began == {("swing", "r~s"): 1}


def test_a_run_of_low_levels_began_with_its_first(swung, cut):
    """Low from 4 to 12. At 9, when the first cut is over, the second is the last to have begun."""
    cuts = (cut("g2~s", (5, 9)), replace(cut("g2~s", (6, 20)), cause="van"))
    lifetime = swung({"g1~s": Weak(200, 100), "g2~s": 128}, {"g1~s": "+--++"}, *cuts)
    assert lifetime.record.spells == (Spell("s", 5, 12, 7, is_cut=False),)
    assert lifetime.record.blame_ms == {("blockage", "g2~s"): 4, ("van", "g2~s"): 3}


def test_the_absence_that_began_last_is_blamed_be_it_a_level_or_not(swung, cut):
    """Both ways are closed from 8 on: g2 by a cut at 6, g1 by its level at 8."""
    links = {"g1~s": Weak(200, 100), "g2~s": 128}
    late = swung(links, {"g1~s": "++--+"}, cut("g2~s", (6, 20)))
    assert late.record.blame_ms == {("swing", "g1~s"): 8}
    early = swung(links, {"g1~s": "++--+"}, cut("g2~s", (9, 20)))
    assert early.record.blame_ms == {("blockage", "g2~s"): 7}
    at_once = swung(links, {"g1~s": "++--+"}, cut("g2~s", (8, 20)))
    assert at_once.record.blame_ms == {("swing", "g1~s"): 8}, "swing comes after blockage"


def test_a_run_that_began_anew_during_an_outage_is_blamed_when_it_is_over(swung, down, cut):
    """Low from 4 to 8 and from 12 to 16; no gateway from 5 to 13, when the cut comes."""
    lifetime = swung({"g~s": Weak(200)}, {"g~s": "+-+-+"}, down("g", (5, 13)), cut("g~s", (13, 18)))
    assert lifetime.record.spells == (Spell("s", 4, 18, 6, is_cut=False),)
    assert lifetime.record.blame_ms == {("swing", "g~s"): 1, ("blockage", "g~s"): 5}


def test_charge_is_used_at_the_rate_of_every_moment(swung):
    """10 nA with a route, 20 without: 40 + 80 + 30 of 150 are used after 4, 8 and 11 ms."""
    cells = Cells("s", 150.0, Law(3, 1.0), 10, 5, 20, NEVER)
    lifetime = swung({"g~s": Weak(200)}, {"g~s": "+-+++"}, cells=(cells,))
    ((death),) = lifetime.history.absences
    assert (death.element.cause, death.start_ms) == ("battery", 11)


def test_devices_that_look_around_at_every_change_cannot_swing(swung):
    with pytest.raises(ValueError, match="look_around_ms"):
        swung({"g~s": Weak(200)}, {}, rules=replace(RULES, look_around_ms=0))


def test_in_still_air_nothing_swings(mesh_of):
    still = replace(AIR, levels_cdb=np.zeros(N_LEVELS, np.int64))
    mesh = mesh_of({"g~s": 128})
    weak = replace(mesh.links[0], path=Weak(0))
    still_mesh = replace(mesh, links=(weak,), air=still)
    rules = replace(RULES, look_around_ms=0)
    assert simulate(still_mesh, HazardTable((), ()), rules, Luck(1, 0)).record.orphan_ms == {"s": 0}


@pytest.mark.parametrize("spare_db", [0.5, 1.8, 4.0])
def test_a_weak_link_is_closed_for_the_share_of_time_that_a_normal_law_says(mesh_of, spare_db):
    """Levels of 1.8 dB are below minus the spare for Phi(-spare / 1.8) of independent holds."""
    n_holds, horizon_ms = 20_000, 20_000 * 4
    mesh = mesh_of({"g~s": 128})
    weak = replace(mesh.links[0], path=Weak(round(100 * spare_db)))
    air = replace(AIR, levels_cdb=levels_cdb(1.8))
    rules = replace(RULES, horizon_ms=horizon_ms, look_around_ms=horizon_ms)
    swinging = replace(mesh, links=(weak,), air=air)
    record = simulate(swinging, HazardTable((), ()), rules, Luck(2, 0)).record
    expected = stats.norm.cdf(-spare_db / 1.8)
    error = math.sqrt(expected * (1 - expected) / n_holds)
    assert abs(record.orphan_ms["s"] / horizon_ms - expected) < 4 * error
