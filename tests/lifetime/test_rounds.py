"""Planned rounds, parts and re-surveys, worked out by hand on a few devices, in both engines.

Lifetimes last 1000 ms. Cells of 4,000 nA ms at 10 nA last 400 ms.
"""

from dataclasses import replace

import pytest

from resilience import draws
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Element, Mended, Scripted
from resilience.hazards.laws import NEVER, Law
from resilience.hazards.table import HazardTable
from resilience.hazards.upkeep import Calls, RoundPlan, Shelf
from resilience.lifetime.engines import COMPILED, REFERENCE, player
from resilience.lifetime.mesh import Luck
from resilience.lifetime.record import Call

STAR = {"g~s1": 128, "g~s2": 128, "g~s3": 128}
CHAIN = {"g~r1": 128, "r1~s1": 128}
NO_AGE = 1 << 42


def _fixed(time_ms: float) -> Law:
    return Law(draws.FIXED, float(time_ms))


def _cells(device: str, charge: float = 4000.0, leaf_na: int = 10) -> Cells:
    return Cells(device, charge, _fixed(1), leaf_na, 0, leaf_na, _fixed(5))


def _failing(device: str, after_ms: int) -> Element:
    clock = Mended(_fixed(after_ms), _fixed(5))
    return Element("hardware", device, Effect.DOWN, (device,), clock=clock)


def _changed(*away_ms: tuple[int, int]) -> Element:
    """A lasting change that closes the only path of s1."""
    clock = Scripted(away_ms)
    return Element("lasting", "z", Effect.CUT, ("g~s1",), clock=clock, is_lasting=True)


@pytest.fixture(params=[REFERENCE, COMPILED])
def lived(request, mesh_of, calm):
    """A lifetime of a mesh with upkeep as stated."""

    def play(links, *elements, cells=(), **rules):
        hazards = HazardTable(tuple(sorted(elements, key=lambda one: one.name)), cells)
        ready = player(request.param, mesh_of(links), hazards, replace(calm, **rules))
        return ready.lifetime(Luck(1, 0))

    return play


def _away(lifetime, device, cause):
    return [
        (absence.start_ms, absence.end_ms)
        for absence in lifetime.history.absences
        if absence.element.name == (cause, device)
    ]


def test_a_round_renews_all_cells_device_by_device(lived):
    """It begins at 300; each device is off the mesh for 20 ms, one after the other."""
    cells = tuple(_cells(id) for id in ("s3", "s1", "s2"))
    lifetime = lived(STAR, cells=cells, rounds=RoundPlan(300, 0, 0, 20), horizon_ms=500)
    assert _away(lifetime, "s1", "service") == [(300, 320)]
    assert _away(lifetime, "s2", "service") == [(320, 340)]
    assert _away(lifetime, "s3", "service") == [(340, 360)]
    record = lifetime.record
    assert (record.rounds, record.cells, record.worked_ms, record.visits) == (1, 3, 60, 0)
    assert record.dark_ms == dict.fromkeys(record.dark_ms, 20)
    assert _away(lifetime, "s1", "battery") == []


def test_new_cells_last_from_the_end_of_the_service(lived):
    lifetime = lived(STAR, cells=(_cells("s1"),), rounds=RoundPlan(300, 0, 0, 20))
    assert _away(lifetime, "s1", "battery") == []
    longer = RoundPlan(390, 0, 0, 20)  # 410 + 400 is after the round of 780
    assert _away(lived(STAR, cells=(_cells("s1"),), rounds=longer), "s1", "battery") == []
    once = RoundPlan(350, 100, 0, 20)
    late = replace(once, every_ms=390, older_ms=380)
    first = lived(STAR, cells=(_cells("s1"),), rounds=late, horizon_ms=900)
    assert _away(first, "s1", "service") == [(390, 410)]  # 370 old at 780
    assert _away(first, "s1", "battery") == [(810, 815)]


def test_routes_move_while_a_repeater_is_in_service(lived):
    lifetime = lived(CHAIN, cells=(_cells("r1"),), rounds=RoundPlan(300, 0, 0, 20), horizon_ms=500)
    assert lifetime.record.orphan_ms == {"s1": 20}
    assert lifetime.record.blame_ms == {("service", "r1"): 20}


@pytest.mark.parametrize(("below", "served"), [(249, []), (251, ["s1"])])
def test_a_round_leaves_cells_that_hold_enough(lived, below, served):
    """At 300 a quarter of the charge of s1 is left, and half of that of s2."""
    cells = (_cells("s1"), _cells("s2", 6000.0))
    plan = RoundPlan(300, NO_AGE, below, 20)
    lifetime = lived(STAR, cells=cells, rounds=plan, horizon_ms=390)
    assert [id for id in ("s1", "s2") if _away(lifetime, id, "service")] == served
    assert lifetime.record.rounds == len(served)


def test_a_round_brings_flat_cells_back(lived):
    """Flat from 400 on; nobody mends it but the round of 600."""
    cells = (replace(_cells("s1"), repair=NEVER),)
    lifetime = lived(STAR, cells=cells, rounds=RoundPlan(600, 0, 0, 20), horizon_ms=900)
    assert _away(lifetime, "s1", "battery") == [(400, 620)]
    assert lifetime.record.cells == 1


def test_a_visit_that_comes_after_the_round_finds_nothing_flat(lived):
    """Called for at 400, there at 700; the round has been there from 600 to 620."""
    lifetime = lived(
        STAR,
        cells=(_cells("s1"),),
        calls=Calls(0, _fixed(300)),
        rounds=RoundPlan(600, 0, 0, 20),
        horizon_ms=900,
    )
    assert lifetime.history.calls == (Call("s1", 400, 400, 400, 700),)
    assert (lifetime.record.visits, lifetime.record.fruitless) == (1, 1)


def test_what_is_in_service_is_not_missed(lived):
    calls = Calls(10, _fixed(10))
    plan = RoundPlan(300, 0, 0, 50)
    lifetime = lived(STAR, cells=(_cells("s1"),), calls=calls, rounds=plan, horizon_ms=390)
    assert lifetime.history.calls == ()
    orphaned = lived(CHAIN, cells=(_cells("r1"),), calls=calls, rounds=plan, horizon_ms=390)
    assert [call.device for call in orphaned.history.calls] == ["s1"]


def test_what_fails_while_it_is_in_service_is_missed_after_the_alarm_time(lived):
    """Down from 310 to 330 by an absence that ends by itself, amid the service of 300 to 350."""
    clock = Scripted(((310, 330),))
    outage = Element("outage", "s1", Effect.DOWN, ("s1",), clock=clock)
    rules = {"rounds": RoundPlan(300, 0, 0, 50), "horizon_ms": 390}
    called = lived(STAR, outage, cells=(_cells("s1"),), calls=Calls(10, _fixed(5)), **rules)
    assert called.history.calls == (Call("s1", 310, 320, 320, 325),)
    slower = lived(STAR, outage, cells=(_cells("s1"),), calls=Calls(30, _fixed(5)), **rules)
    assert slower.history.calls == ()


def test_a_round_waits_for_working_hours_and_finishes_what_it_has_begun(lived):
    """Work is from 310 to 325 of each day: s1 is begun and finished, s2 waits for another day."""
    plan = RoundPlan(300, 0, 0, 20, (310, 325, 127))
    lifetime = lived(STAR, cells=(_cells("s1"), _cells("s2")), rounds=plan, horizon_ms=390)
    assert _away(lifetime, "s1", "service") == [(310, 330)]
    assert _away(lifetime, "s2", "service") == []


def test_a_call_waits_for_a_spare_that_is_ordered_as_the_last_one_is_taken(lived):
    """One spare: s1 has it at 100; the next comes at 300, and the one ordered for s3 at 350."""
    shelf = Shelf(devices=1, delivery=_fixed(200))
    failures = (_failing("s1", 100), _failing("s2", 120), _failing("s3", 150))
    lifetime = lived(STAR, *failures, calls=Calls(0, _fixed(10), shelf=shelf), horizon_ms=400)
    assert _away(lifetime, "s1", "hardware")[0] == (100, 110)
    assert _away(lifetime, "s2", "hardware")[0] == (120, 310)
    assert _away(lifetime, "s3", "hardware")[0] == (150, 330)
    assert lifetime.record.devices == 4  # s1 once more at 210, from 320 on


def test_flat_cells_need_no_spare_device(lived):
    calls = Calls(0, _fixed(10), shelf=Shelf(devices=0, delivery=_fixed(900)))
    lifetime = lived(STAR, _failing("s2", 100), cells=(_cells("s1"),), calls=calls)
    assert _away(lifetime, "s1", "battery") == [(400, 410), (810, 820)]
    assert _away(lifetime, "s2", "hardware") == [(100, None)]


def test_a_visit_to_the_site_takes_what_lies_on_the_shelf(lived):
    """Two spares for three that fail at once: one has to wait for a delivery."""
    calls = Calls(0, _fixed(20), mends_site=True, shelf=Shelf(devices=2, delivery=_fixed(200)))
    failures = (_failing(id, 100) for id in ("s1", "s2", "s3"))
    lifetime = lived(STAR, *failures, calls=calls, horizon_ms=350)
    ends = [_away(lifetime, id, "hardware")[0][1] for id in ("s1", "s2", "s3")]
    assert ends == [120, 120, 320]


def test_a_dead_part_ends_nothing_and_the_visit_comes_again(lived):
    """All parts are dead but those that the draws of the device let live."""
    dead = 0.7
    calls = Calls(0, _fixed(10), shelf=Shelf(dead_share=dead))
    lifetime = lived(STAR, _failing("s1", 100), calls=calls)
    start = draws.stream(1, 0, draws.element_key("device", "s1", "part"))
    n_dead = next(n for n in range(99) if draws.uniform(start, n) >= dead)
    assert _away(lifetime, "s1", "hardware")[0] == (100, 110 + 10 * n_dead)
    assert lifetime.record.fruitless >= n_dead
    assert [call.n_dead for call in lifetime.history.calls[: n_dead + 1]] == [1] * n_dead + [0]


@pytest.mark.parametrize(("resurveys", "ends_ms"), [(True, 160), (False, 500)])
def test_a_visit_works_round_a_lasting_change(lived, resurveys, ends_ms):
    """Closed from 100 to 500 and from 600 to 900; called for at 150, surveyed at 160."""
    calls = Calls(50, _fixed(10), resurveys=resurveys)
    lifetime = lived(STAR, _changed((100, 500), (600, 900)), calls=calls, horizon_ms=700)
    assert _away(lifetime, "z", "lasting")[0] == (100, ends_ms)
    record = lifetime.record
    assert record.orphan_ms["s1"] == ends_ms - 100 + (60 if resurveys else 100)
    assert (record.visits, record.resurveys) == (2, 2 * resurveys)
    assert record.fruitless == 2 - 2 * resurveys
    assert lifetime.history.calls[0].mended == ((("lasting", "z"),) if resurveys else ())
