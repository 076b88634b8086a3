"""Charge, death and new cells, in numbers small enough to work out by hand."""

from dataclasses import replace

import pytest

from resilience import draws
from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Clock, Course, Drawn, Element, Mended
from resilience.hazards.laws import NEVER, Law, factor
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Luck, MeshDevice, Rules
from resilience.lifetime.reference.simulator import simulate
from resilience.units import MS_PER_H, NA_MS_PER_MAH

ALIKE = Law(draws.FIXED, 1.0)


def _fixed(duration_ms: float) -> Law:
    return Law(draws.FIXED, duration_ms)


def _cells(device: str = "s", charge_na_ms: float = 1000.0, **changes) -> Cells:
    """Cells that give 10 nA to a leaf, 5 more per sensor behind it, 20 to an orphan."""
    plain = Cells(device, charge_na_ms, ALIKE, 10, 5, 20, repair=NEVER)
    return replace(plain, **changes)


def _failing(clock: Clock) -> Element:
    return Element("hardware", "s", Effect.DOWN, ("s",), clock=clock)


def _hardware(strikes_ms: float, mends_ms: float) -> Element:
    return _failing(Mended(_fixed(strikes_ms), _fixed(mends_ms)))


def _absences(lifetime, cause: str) -> list[tuple[int, int | None]]:
    return [
        (absence.start_ms, absence.end_ms)
        for absence in lifetime.history.absences
        if absence.element.cause == cause
    ]


@pytest.fixture(scope="module")
def beside(mesh_of):
    """One sensor beside the gateway."""
    return mesh_of({"g~s": 128})


@pytest.mark.parametrize(
    "printed",
    [
        (230, 24_700, 9311.7409),  # TI application note SWRA347: "about 9311 h" (from memory)
        (230, 10_000, 2.62557 * 8760),  # charge over current, printed in years of 8760 h
        (2500, 100_000, 2.85388 * 8760),
        (2500, 67_300, 4.24054 * 8760),
    ],
)
def test_cells_last_for_their_charge_over_the_current(beside, played, calm, printed):
    capacity_mah, current_na, life_h = printed
    cells = _cells(charge_na_ms=capacity_mah * NA_MS_PER_MAH, leaf_na=current_na)
    rules = replace(calm, horizon_ms=50_000 * MS_PER_H)
    lifetime = played(beside, rules=rules, cells=(cells,))
    ((death_ms, _),) = _absences(lifetime, "battery")
    assert death_ms / MS_PER_H == pytest.approx(life_h, rel=2e-6)


@pytest.mark.parametrize(("charge_na_ms", "death_ms"), [(1000, 100), (1001, 101), (991, 100)])
def test_cells_die_in_the_first_millisecond_in_which_their_charge_is_used_up(
    beside, played, charge_na_ms, death_ms
):
    record = played(beside, cells=(_cells(charge_na_ms=charge_na_ms),)).record
    assert record.down_ms == {"s": 1000 - death_ms}
    assert record.strikes == {"battery": 1}


def test_forwarding_for_others_shortens_a_life(mesh_of, played, down):
    """15 nA with a child, 10 without: 3000 are gone after 200 ms, or 233.3 with a pause of 100."""
    chain = mesh_of({"g~s1": 128, "s1~s2": 128})
    cells = (_cells("s1", 3000),)
    assert _absences(played(chain, cells=cells), "battery") == [(200, None)]
    paused = played(chain, down("s2", (100, 200)), cells=cells)
    assert _absences(paused, "battery") == [(234, None)]
    alone = played(mesh_of({"g~s1": 128}), cells=cells)
    assert _absences(alone, "battery") == [(300, None)]


def test_every_sensor_behind_counts_and_repeaters_do_not(mesh_of, played):
    """s1 forwards for s2 and, two hops further, s3: 20 nA; the repeater reports nothing."""
    mesh = mesh_of({"g~s1": 128, "s1~s2": 128, "r~s1": 128, "r~s3": 128})
    assert _absences(played(mesh, cells=(_cells("s1", 2000),)), "battery") == [(100, None)]


def test_a_gateway_on_cells_pays_for_every_sensor_that_reaches_it(mesh_of, played, cut):
    """20 nA for two sensors, or 15 once s2 is cut off: 1000 + 1005 of 2005 last 50 + 67 ms."""
    mesh = mesh_of({"g~s1": 128, "s1~s2": 128})
    cells = (_cells("g", 2000),)
    assert _absences(played(mesh, cells=cells), "battery") == [(100, None)]
    lifetime = played(mesh, cut("s1~s2", (50, 1000)), cells=(_cells("g", 2005),))
    assert _absences(lifetime, "battery") == [(117, None)]


def test_a_gateway_that_stands_by_pays_for_nobody(mesh_of, played):
    standby = MeshDevice("g2", Kind.GATEWAY, standby=True)
    mesh = mesh_of({"g1~s": 128, "g2~s": 128}, g2=standby)
    lifetime = played(mesh, cells=(_cells("g2"),))
    assert _absences(lifetime, "battery") == [(100, None)]


def test_a_gateway_searches_while_the_network_forms_anew(beside, played, down, calm):
    """15 nA for 20 ms, 20 for the 30 of the re-formation, then 15 again: 300 + 600 + 105."""
    rules = replace(calm, reformation_ms=30)
    lifetime = played(beside, down("g", (20, 60)), rules=rules, cells=(_cells("g", 1005),))
    assert _absences(lifetime, "battery") == [(97, None)]


def test_more_children_bring_death_nearer(mesh_of, played, cut):
    """10 nA for 100 ms, then 15: the remaining 500 last 33.3 ms."""
    mesh = mesh_of({"g~s1": 128, "s1~s2": 128})
    lifetime = played(mesh, cut("s1~s2", (0, 100)), cells=(_cells("s1", 1500),))
    assert _absences(lifetime, "battery") == [(134, None)]


def test_an_orphan_searches_at_another_current(beside, played, cut, down, calm):
    """10 nA for 50 ms, then 20 for 25 ms."""
    lifetime = played(beside, cut("g~s", (50, 1000)), cells=(_cells(),))
    assert _absences(lifetime, "battery") == [(75, None)]
    outage = played(beside, down("g", (50, 1000)), cells=(_cells(),))
    assert _absences(outage, "battery") == [(75, None)], "so does a sensor in a site outage"


def test_a_device_that_is_down_uses_nothing(beside, played, down):
    lifetime = played(beside, down("s", (50, 350)), cells=(_cells(),))
    assert _absences(lifetime, "battery") == [(400, None)]


def test_a_mute_device_uses_as_much(beside, played, mute):
    lifetime = played(beside, mute("s", (50, 350)), cells=(_cells(),))
    assert _absences(lifetime, "battery") == [(100, None)]


def test_a_repair_puts_in_new_cells(beside, played):
    lifetime = played(beside, cells=(_cells(repair=_fixed(200)),))
    assert _absences(lifetime, "battery") == [(100, 300), (400, 600), (700, 900)]
    assert (lifetime.record.visits, lifetime.record.cells) == (3, 3)
    assert lifetime.record.down_ms == {"s": 600}


def test_a_mended_hardware_failure_brings_new_cells(beside, played):
    """Failures at 60, 140, ... each leave a full 100 ms of charge: the cells never run out."""
    new = played(beside, _hardware(60, 20), cells=(_cells(),))
    assert _absences(new, "battery") == []
    assert _absences(new, "hardware")[:2] == [(60, 80), (140, 160)]
    assert new.record.cells == new.record.visits == 12
    by_itself = _failing(Drawn(_fixed(60), _fixed(20)))
    assert _absences(played(beside, by_itself, cells=(_cells(),)), "battery") == [(120, None)]


def test_one_visit_mends_all_that_failed_before_it_came(beside, played):
    """Cells die at 100, hardware at 120, and the visit that the cells called ends at 150."""
    hardware = _hardware(120, 700)
    lifetime = played(beside, hardware, cells=(_cells(repair=_fixed(50)),))
    assert _absences(lifetime, "battery")[0] == (100, 150)
    assert _absences(lifetime, "hardware")[0] == (120, 150)
    first = played(beside, hardware, cells=(_cells(repair=_fixed(50)),), rules=_until(200)).record
    assert (first.visits, first.cells) == (1, 1)
    assert first.down_ms == {"s": 50}


def _until(horizon_ms: int) -> Rules:
    return Rules(horizon_ms, 0, 1, 10, 100, 0)


def test_of_two_failures_in_one_millisecond_the_lesser_name_calls_the_visit(beside, played):
    """battery comes before hardware: its repair takes 50 ms, that of the hardware 700."""
    hardware, cells = _hardware(100, 700), _cells(repair=_fixed(50))
    lifetime = played(beside, hardware, cells=(cells,), rules=_until(200))
    assert _absences(lifetime, "battery") == _absences(lifetime, "hardware") == [(100, 150)]


def test_a_failure_in_the_last_millisecond_of_a_visit_calls_another(beside, played):
    """Cells die at 100 and are new at 150, when the hardware fails for 30 ms."""
    hardware, cells = _hardware(150, 30), _cells(repair=_fixed(50))
    lifetime = played(beside, hardware, cells=(cells,), rules=_until(200))
    assert _absences(lifetime, "battery") == [(100, 150)]
    assert _absences(lifetime, "hardware") == [(150, 180)]
    assert lifetime.record.visits == 2


def test_a_failure_after_the_visit_calls_another(beside, played):
    """Cells die at 100 and are new at 110; hardware then fails at 120 and waits for its own."""
    hardware = _hardware(120, 30)
    cells = (_cells(repair=_fixed(10)),)
    lifetime = played(beside, hardware, cells=cells, rules=_until(200))
    assert _absences(lifetime, "battery") == [(100, 110)]
    assert _absences(lifetime, "hardware") == [(120, 150)]
    assert (lifetime.record.visits, lifetime.record.cells) == (2, 2)


def test_a_dead_relay_orphans_those_behind_it(mesh_of, played):
    chain = mesh_of({"g~s1": 128, "s1~s2": 128})
    record = played(chain, cells=(_cells("s1", 3000, repair=_fixed(300)),)).record
    assert record.spells[0].start_ms == 200
    assert record.spells[0].end_ms == 500
    assert set(record.blame_ms) == {("battery", "s1")}


@pytest.mark.parametrize(
    "printed",
    [
        # mAh, uA, share of the nameplate a year, years of 8760 h: C / (8760 I + s C) by hand
        (230, 10, 0.015, 2.52608),
        (2500, 100, 0.03, 2.62881),
        (2500, 67.3, 0.03, 3.76196),
        (2400, 20, 0.01, 12.04819),
        (3000, 50, 0.01, 6.41026),
    ],
)
def test_self_discharge_takes_the_same_share_of_the_nameplate_each_year(
    beside, played, calm, printed
):
    capacity_mah, current_ua, per_year, life_years = printed
    cells = _cells(
        charge_na_ms=capacity_mah * NA_MS_PER_MAH,
        leaf_na=round(current_ua * 1000),
        self_na=round(capacity_mah * 1e6 * per_year / 8760),
    )
    lifetime = played(beside, rules=replace(calm, horizon_ms=200_000 * MS_PER_H), cells=(cells,))
    ((death_ms, _),) = _absences(lifetime, "battery")
    half_a_na = 0.5 / 10_000  # drain is whole nA, 10 uA at least
    assert death_ms / MS_PER_H / 8760 == pytest.approx(life_years, rel=half_a_na)


def test_cells_discharge_by_themselves_while_their_device_is_down(beside, played, down):
    """12 nA for 50 ms, then 2: the remaining 400 last 200 ms more, and nothing calls them back."""
    lifetime = played(beside, down("s", (50, 350)), cells=(_cells(self_na=2),))
    assert _absences(lifetime, "battery") == [(250, None)]
    assert lifetime.record.down_ms == {"s": 950}


def test_what_is_lost_in_all_is_the_charge_of_the_cells(beside, played, down):
    """Charge is drain by time: 12 nA for 50 ms and 2 for 200 are 1000, 4 nA on average.

    Flat cells lose nothing more, though the device stays down to the horizon.
    """
    lifetime = played(beside, down("s", (50, 350)), cells=(_cells(self_na=2),))
    assert lifetime.record.drain_na == {"s": 4}


def _course(first_ms: int = 0, **kept: int) -> Course:
    """Months of 100 ms, m0 to m11, that keep so many thousandths."""
    return Course(tuple(kept.get(f"m{n}", 0) for n in range(12)), first_ms, month_ms=100)


@pytest.mark.parametrize(
    ("course", "death_ms"),
    [
        (_course(), 900),
        (_course(m5=400), 540),  # 9000 - 10 x 540 = 3600, of 9000 what this month keeps
        (_course(m6=400), 600),  # 3000 are left when it begins, and it keeps 3600
        (_course(m3=400), 900),  # 5000 are left when it ends
        (_course(m3=400, m8=100), 810),
        (_course(first_ms=250, m8=400), 550),  # two months and a half earlier
        (_course(m0=950), 45),
    ],
)
def test_cells_die_in_the_month_whose_cold_keeps_what_is_left(beside, played, course, death_ms):
    """9000 nA ms at 10 nA last 900 ms in the warmth."""
    cells = _cells(charge_na_ms=9000.0, course=course)
    assert _absences(played(beside, cells=(cells,)), "battery") == [(death_ms, None)]


def test_the_next_winter_ends_what_the_first_left(beside, played, calm):
    """At 5 nA 6500 of 9000 are left in month 5, which keeps 3600; 500 when it comes again."""
    cells = _cells(charge_na_ms=9000.0, leaf_na=5, course=_course(m5=400))
    lifetime = played(beside, rules=replace(calm, horizon_ms=3000), cells=(cells,))
    assert _absences(lifetime, "battery") == [(1700, None)]


def test_cells_that_rested_through_the_onset_of_the_cold_die_when_they_are_used(
    beside, played, down
):
    """Down from 350 to 650: 5500 left, of which month 6 keeps 7200; gone a millisecond later."""
    cells = _cells(charge_na_ms=9000.0, course=_course(m6=800))
    lifetime = played(beside, down("s", (350, 650)), cells=(cells,))
    assert _absences(lifetime, "battery") == [(651, None)]


def test_devices_of_one_batch_share_a_factor_and_others_do_not(mesh_of):
    """With all spread in common two cells of one delivery die in one millisecond."""
    mesh = mesh_of({"g~s1": 128, "g~s2": 128, "g~s3": 128})
    spread = factor(0.3)
    cells = tuple(
        _cells(id, 5000.0, batch=batch, batch_spread=spread)
        for id, batch in (("s1", "b"), ("s2", "b"), ("s3", "other"))
    )
    down_ms = [
        simulate(mesh, HazardTable((), cells), _until(1000), Luck(1, n)).record.down_ms
        for n in range(20)
    ]
    assert all(one["s1"] == one["s2"] > 0 for one in down_ms)
    assert all(one["s1"] != one["s3"] for one in down_ms)
    assert len({one["s1"] for one in down_ms}) > 15


@pytest.mark.parametrize("kept", [(0,) * 11, (1,) * 12, (*(0,) * 11, 1000)])
def test_a_course_has_twelve_months_of_which_the_warmest_keeps_nothing(kept):
    with pytest.raises(ValueError, match="are not twelve shares"):
        Course(kept)
