"""Calls, crews and visits, worked out by hand on meshes of a few devices, in both engines.

Lifetimes last 1000 ms. A failure is scripted by how long its device lives each time it is new.
"""

from dataclasses import replace

import pytest

from resilience import draws
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Drawn, Element, Mended
from resilience.hazards.laws import NEVER, Law
from resilience.hazards.table import HazardTable
from resilience.hazards.upkeep import Calls
from resilience.lifetime.engines import COMPILED, REFERENCE, player
from resilience.lifetime.mesh import Luck
from resilience.lifetime.record import Call

STAR = {"g~s1": 128, "g~s2": 128, "g~s3": 128}
CHAIN = {"g~r1": 128, "r1~s1": 128, "r1~s2": 128}


def _fixed(time_ms: float) -> Law:
    return Law(draws.FIXED, float(time_ms))


def _failing(device: str, after_ms: int, cause: str = "hardware") -> Element:
    """A failure so long after its device is new; NEVER mends it but a visit."""
    clock = Mended(_fixed(after_ms), _fixed(5))  # the 5 ms are for who waits for no call
    return Element(cause, device, Effect.DOWN, (device,), clock=clock)


def _unplugged(device: str, after_ms: int, lasts_ms: int) -> Element:
    clock = Drawn(_fixed(after_ms), _fixed(lasts_ms))
    return Element("mains_outage", device, Effect.DOWN, (device,), clock=clock)


@pytest.fixture(params=[REFERENCE, COMPILED])
def lived(request, mesh_of, calm):
    """A lifetime of a mesh on which calls are answered as stated."""

    def play(links, calls, *elements, cells=(), **rules):
        mesh = links if not isinstance(links, dict) else mesh_of(links)
        hazards = HazardTable(tuple(sorted(elements, key=lambda one: one.name)), cells)
        ready = player(request.param, mesh, hazards, replace(calm, calls=calls, **rules))
        return ready.lifetime(Luck(1, 0))

    return play


def _away(lifetime, device, cause="hardware"):
    return [
        (absence.start_ms, absence.end_ms)
        for absence in lifetime.history.absences
        if absence.element.name == (cause, device)
    ]


@pytest.mark.parametrize("alarm_ms", [0, 1, 70])
def test_the_alarm_time_adds_to_the_outage_exactly(lived, alarm_ms):
    lifetime = lived(STAR, Calls(alarm_ms, _fixed(40)), _failing("s1", 300), horizon_ms=600)
    assert _away(lifetime, "s1") == [(300, 340 + alarm_ms)]
    assert lifetime.record.dark_ms["s1"] == 40 + alarm_ms


def test_response_comes_before_the_work_and_both_count_as_worked(lived):
    lifetime = lived(STAR, Calls(0, _fixed(40), _fixed(25)), _failing("s1", 500))
    assert _away(lifetime, "s1")[0] == (500, 565)
    assert (lifetime.record.visits, lifetime.record.fruitless) == (1, 0)
    assert lifetime.record.worked_ms == 65


def test_a_short_silence_opens_no_call(lived):
    lifetime = lived(STAR, Calls(50, _fixed(10)), _unplugged("s1", 100, 49))
    assert lifetime.history.calls == ()
    assert lived(STAR, Calls(50, _fixed(10)), _unplugged("s1", 100, 50)).record.visits == 0


def test_who_comes_for_what_ends_by_itself_comes_in_vain(lived):
    """Silent from 100 on, called at 150, visited until 160; heard again at 400, at risk anew."""
    lifetime = lived(STAR, Calls(50, _fixed(10)), _unplugged("s1", 100, 300), horizon_ms=500)
    assert lifetime.history.calls == (Call("s1", 100, 150, 150, 160),)
    assert (lifetime.record.visits, lifetime.record.fruitless) == (1, 1)
    assert _away(lifetime, "s1", "mains_outage") == [(100, 400)]


def test_an_orphan_is_called_for_and_found_well(lived):
    """r1 fails at 100 and nobody is called for it before 150; then s1 and s2 are called for, too.

    The visit to r1 ends at 250. With one crew the orphans wait, and are heard again before it is
    free.
    """
    calls = Calls(50, _fixed(100), crews=1)
    lifetime = lived(CHAIN, calls, _failing("r1", 100), horizon_ms=300)
    assert lifetime.history.calls == (
        Call("r1", 100, 150, 150, 250, (("hardware", "r1"),)),
        Call("s1", 100, 150, None, 250),
        Call("s2", 100, 150, None, 250),
    )
    assert (lifetime.record.visits, lifetime.record.fruitless) == (1, 0)
    many = lived(CHAIN, replace(calls, crews=0), _failing("r1", 100), horizon_ms=300).record
    assert (many.visits, many.fruitless) == (3, 2)


def test_alarms_on_what_is_down_leave_orphans_alone(lived):
    calls = Calls(50, _fixed(100), hears_orphans=False)
    record = lived(CHAIN, calls, _failing("r1", 100), horizon_ms=300).record
    assert (record.visits, record.fruitless) == (1, 0)
    assert record.orphan_ms == {"s1": 150, "s2": 150}


def test_nobody_comes_twice_for_the_same_silence_unless_something_failed(lived, mesh_of):
    """s2 never has a way. Its cells die at 400, long after the visit of 50 to 60."""
    cells = Cells("s2", 4000.0, _fixed(1), 10, 0, 10, _fixed(5))
    mesh = mesh_of({"g~s1": 128}, alone="s2")
    lifetime = lived(mesh, Calls(50, _fixed(10)), cells=(cells,), horizon_ms=700)
    assert lifetime.history.calls == (
        Call("s2", 0, 50, 50, 60),
        Call("s2", 400, 450, 450, 460, (("battery", "s2"),)),
    )
    assert lifetime.record.cells == 1


@pytest.mark.parametrize(("crews", "ends"), [(0, (200, 200, 200)), (1, (200, 300, 400))])
def test_calls_wait_for_a_crew_in_order_of_alarm_and_id(lived, crews, ends):
    failures = (_failing(id, 100) for id in ("s3", "s1", "s2"))
    lifetime = lived(STAR, Calls(0, _fixed(100), crews=crews), *failures, horizon_ms=450)
    first_ends = tuple(_away(lifetime, id)[0][1] for id in ("s1", "s2", "s3"))
    assert first_ends == ends


def test_a_crew_goes_to_who_called_first_whatever_the_id(lived):
    """s3 and then s2 fail while the crew is with s1; s3 has waited longer."""
    failures = (_failing("s1", 100), _failing("s2", 120), _failing("s3", 110))
    lifetime = lived(STAR, Calls(0, _fixed(100), crews=1), *failures, horizon_ms=450)
    assert _away(lifetime, "s3")[0] == (110, 300)
    assert _away(lifetime, "s2")[0] == (120, 400)


def test_two_crews_work_at_the_same_time(lived):
    failures = (_failing(id, 100) for id in ("s1", "s2", "s3"))
    lifetime = lived(STAR, Calls(0, _fixed(100), crews=2), *failures, horizon_ms=350)
    assert [_away(lifetime, id)[0][1] for id in ("s1", "s2", "s3")] == [200, 200, 300]


def test_one_visit_to_the_site_mends_all_that_is_down_as_its_work_begins(lived):
    """The crew for s1 sets out at 100 and works from 130 to 180: s2 is down by then, s3 is not."""
    calls = Calls(0, _fixed(50), _fixed(30), mends_site=True)
    failures = (_failing("s1", 100), _failing("s2", 130), _failing("s3", 131))
    lifetime = lived(STAR, calls, *failures, horizon_ms=220)
    assert _away(lifetime, "s1")[0] == (100, 180)
    assert _away(lifetime, "s2")[0] == (130, 180)
    assert _away(lifetime, "s3")[0] == (131, 131 + 80)
    mended = (("hardware", "s1"), ("hardware", "s2"))
    assert lifetime.history.calls[:2] == (
        Call("s1", 100, 100, 100, 180, mended),
        Call("s2", 130, 130, None, 130, seen_to_by="s1"),
    )
    assert lifetime.record.visits == 2


def test_a_visit_to_one_device_leaves_the_others(lived):
    calls = Calls(0, _fixed(50), _fixed(30), crews=1)
    lifetime = lived(STAR, calls, _failing("s1", 100), _failing("s2", 100), horizon_ms=270)
    assert _away(lifetime, "s2")[0] == (100, 260)


def test_a_failure_during_the_work_on_a_site_waits_for_the_next_visit(lived):
    """s1 fails at 100; its second cause strikes at 110, in the work from 100 to 150."""
    calls = Calls(0, _fixed(50), mends_site=True)
    both = (_failing("s1", 100), _failing("s1", 110, "water"))
    lifetime = lived(STAR, calls, *both, horizon_ms=205)
    assert _away(lifetime, "s1")[0] == (100, 150)
    assert _away(lifetime, "s1", "water")[0] == (110, 200)
    one = lived(STAR, replace(calls, mends_site=False), *both, horizon_ms=160)
    assert _away(one, "s1", "water")[0] == (110, 150)


def test_orphans_of_a_relay_are_seen_to_with_it(lived):
    calls = Calls(50, _fixed(100), _fixed(20), mends_site=True)
    lifetime = lived(CHAIN, calls, _failing("r1", 100), horizon_ms=350)
    assert [call.seen_to_by for call in lifetime.history.calls] == ["", "r1", "r1"]
    assert (lifetime.record.visits, lifetime.record.fruitless) == (1, 0)


def test_a_gateway_is_mended_at_once_by_a_service_of_its_own(lived):
    """Its visit takes the 5 ms of its own law and needs no crew, though the only one is away."""
    calls = Calls(200, _fixed(300), crews=1)
    lifetime = lived(STAR, calls, _failing("s1", 100), _failing("g", 350), horizon_ms=700)
    assert _away(lifetime, "g")[0] == (350, 355)
    assert _away(lifetime, "s1")[0] == (100, 600)
    assert [call.device for call in lifetime.history.calls] == ["s1"]
    assert lifetime.record.worked_ms == 300


def test_nobody_is_called_for_sensors_while_the_whole_site_is_cut_off(lived, down):
    lifetime = lived(STAR, Calls(50, _fixed(10)), down("g", (100, 700)))
    assert lifetime.history.calls == ()
    counted = lived(STAR, Calls(50, _fixed(10)), down("g", (100, 700)), count_site_outages=True)
    assert counted.history.calls == (), "the same, however outages are counted"


def test_a_visit_is_paused_outside_working_hours(lived):
    """Somebody works in the first 300 ms of each day, so in this life until 300 alone."""
    calls = Calls(0, _fixed(50), opens_ms=0, closes_ms=300)
    lifetime = lived(STAR, calls, _failing("s1", 200), _failing("s2", 260))
    assert _away(lifetime, "s1")[0] == (200, 250)
    assert _away(lifetime, "s2")[0] == (260, None)


def test_nobody_works_before_the_day_begins(lived):
    calls = Calls(0, _fixed(50), opens_ms=400, closes_ms=900)
    lifetime = lived(STAR, calls, _failing("s1", 200), horizon_ms=500)
    assert _away(lifetime, "s1")[0] == (200, 450)


def test_a_visit_that_never_ends_binds_its_crew(lived):
    lifetime = lived(STAR, Calls(0, NEVER, crews=1), _failing("s1", 200), _failing("s2", 300))
    assert (lifetime.record.visits, lifetime.record.worked_ms) == (0, 0)
    assert [call.left_ms for call in lifetime.history.calls] == [200, None]


def test_luck_of_visits_belongs_to_the_device_that_was_called_for(lived):
    """The second repair of s1 takes as long whether s2 exists or not, however crews are busy."""
    law = Law(draws.WEIBULL, 20.0, 1.0)
    alone = lived(STAR, Calls(0, law, law), _failing("s1", 100))
    crowded = lived(STAR, Calls(0, law, law, crews=1), _failing("s1", 100), _failing("s2", 90))

    def lasted(lifetime):
        calls = (call for call in lifetime.history.calls if call.device == "s1")
        return [one.closed_ms - one.left_ms for one in calls if one.closed_ms is not None]

    assert len(lasted(crowded)) >= 2
    assert lasted(alone)[: len(lasted(crowded))] == lasted(crowded)
