"""The luck of elements: named by what they are, drawn without regard to anything else."""

import math
from itertools import accumulate, chain

import numpy as np
import pytest
from scipy import optimize, stats

from resilience.building.settings import Duration
from resilience.errors import KeyCollisionError
from resilience.hazards.causes import OBSTACLE, Effect
from resilience.hazards.elements import (
    Cells,
    Drawn,
    Element,
    Mended,
    Reach,
    Scripted,
    refuse_collisions,
)
from resilience.hazards.fates import DeviceFate, Fate
from resilience.hazards.laws import NEVER, exponential, factor, lasting, weibull
from resilience.units import MS_PER_H

REPAIR = lasting(Duration("lognormal", median_h=10, p90_h=30))
WEAK = Element(
    "hardware",
    "s1",
    Effect.DOWN,
    ("s1",),
    clock=Mended(weibull(1000, 1.5), REPAIR, weak_share=0.5, weak_ms=100 * MS_PER_H),
)


def _fate(seed: int, id: str = "s1", lifetime: int = 0) -> Fate:
    return Fate.of(Element("hardware", id, Effect.DOWN, (id,)), seed, lifetime)


def test_fates_are_unchanged():
    """Pinned for stream version 1: other numbers need another version."""
    fate, upkeep = Fate.of(WEAK, 1, 0), DeviceFate.of("s1", 1, 0)
    away = Drawn(NEVER, REPAIR)
    assert [(fate.at_risk_ms(WEAK.clock, n), fate.away_ms(away, n)) for n in range(3)] == [
        (98811255, 28967413),
        (6355870981, 17205160),
        (580538558, 8204837),
    ]
    cells = Cells("s1", 1e12, factor(0.12), 1, 1, 1, NEVER)
    assert [upkeep.charge_na_ms(cells, n) for n in range(3)] == [
        1219165284417,
        1088877685295,
        932274890604,
    ]
    assert [upkeep.repair_ms(exponential(24), n) for n in range(3)] == [
        96061112,
        203254281,
        87227766,
    ]


def test_an_elements_luck_depends_on_its_name_and_lifetime_alone():
    """Targets, effect and laws may differ from layout to layout; luck may not."""
    other = Element("hardware", "s1", Effect.MUTE, ("s1", "s2"), 5, Drawn(exponential(1), NEVER))
    assert Fate.of(other, 1, 0) == Fate.of(WEAK, 1, 0)
    fates = {Fate.of(WEAK, seed, lifetime) for seed in range(20) for lifetime in range(20)}
    assert len(fates) == 400
    assert _fate(1, "s2") != Fate.of(WEAK, 1, 0)


def test_two_causes_on_one_device_have_separate_luck():
    water = Element("water", "s1", Effect.DOWN, ("s1",))
    upkeep = DeviceFate.of("s1", 1, 0)
    starts = [Fate.of(WEAK, 1, 0).start, Fate.of(water, 1, 0).start, upkeep.repairs, upkeep.cells]
    assert len(set(starts)) == len(starts)


def test_a_door_has_luck_of_its_own_even_where_a_device_has_its_id():
    door = Element(OBSTACLE.name, "s1", Effect.LOSS, ("g1~s1", "s1~s2"), 900)
    assert door.luck == ("obstacle", "s1", "obstacle")
    assert Fate.of(door, 1, 0) != _fate(1)
    through_others = Element(OBSTACLE.name, "s1", Effect.LOSS, ("r1~s7",), 1)
    assert Fate.of(through_others, 1, 0) == Fate.of(door, 1, 0)


def test_times_at_risk_follow_the_law_of_strikes():
    """Kolmogorov and Smirnov against the Weibull law of scipy, over elements and over cycles."""
    clock = Drawn(weibull(1000, 1.5), NEVER)
    ages = [_fate(3, f"s{n}").at_risk_ms(clock, n % 7) for n in range(5000)]
    reference = stats.weibull_min(1.5, scale=1000 / math.gamma(1 + 1 / 1.5) * MS_PER_H)
    assert stats.kstest(ages, reference.cdf).pvalue > 1e-4


def test_absences_follow_the_law_of_durations():
    fate, clock = _fate(4), Drawn(exponential(1), REPAIR)
    logs = np.log([fate.away_ms(clock, n) for n in range(5000)])
    reference = stats.norm(math.log(10 * MS_PER_H), math.log(3) / stats.norm.ppf(0.9))
    assert stats.kstest(logs, reference.cdf).pvalue > 1e-4


def test_absences_within_a_horizon_are_those_of_the_draws_in_turn():
    fate, clock, n = _fate(9), Drawn(exponential(10), exponential(2)), 50
    cycles = ((fate.at_risk_ms(clock, k), fate.away_ms(clock, k)) for k in range(n))
    edges = list(accumulate(chain.from_iterable(cycles)))
    pairs = tuple(zip(edges[::2], edges[1::2], strict=True))
    assert fate.absences_ms(clock, edges[-1] + 1)[:n] == pairs
    assert fate.absences_ms(clock, edges[-1]) == (*pairs[:-1], (pairs[-1][0], None))
    assert fate.absences_ms(clock, edges[-2] + 1) == (*pairs[:-1], (pairs[-1][0], None))
    assert fate.absences_ms(clock, edges[-2]) == pairs[:-1]
    assert fate.absences_ms(clock, edges[0]) == ()


def test_scripted_absences_are_cut_by_the_horizon():
    fate, clock = _fate(9), Scripted(((0, 10), (20, 30), (40, 50)))
    assert fate.absences_ms(clock, 51) == ((0, 10), (20, 30), (40, 50))
    assert fate.absences_ms(clock, 30) == ((0, 10), (20, None))
    assert fate.absences_ms(clock, 20) == ((0, 10),)
    assert fate.absences_ms(Scripted(), 51) == ()


def test_what_never_strikes_is_never_away_and_what_lasts_never_ends():
    assert _fate(9).absences_ms(Drawn(NEVER, REPAIR), 1000 * MS_PER_H) == ()
    ((_, end_ms),) = _fate(9).absences_ms(Drawn(exponential(1), NEVER), 1000 * MS_PER_H)
    assert end_ms is None


@pytest.mark.parametrize(
    "away_ms",
    [((-2, 5),), ((5, 5),), ((9, 5),), ((0, 10), (10, 20)), ((0, 10), (5, 20)), ((20, 30), (0, 9))],
)
def test_a_script_whose_absences_touch_overlap_or_go_back_cannot_be_written(away_ms):
    with pytest.raises(ValueError, match="do not follow one another"):
        Scripted(away_ms)


@pytest.mark.parametrize(
    ("effect", "targets"),
    [
        (Effect.DOWN, ("s1", "s2")),
        (Effect.DOWN, ()),
        (Effect.CUT, ("g~s1",)),
        (Effect.LOSS, ("s1",)),
    ],
)
def test_what_does_not_hold_one_device_cannot_be_mended_by_a_visit_to_it(effect, targets):
    with pytest.raises(ValueError, match="does not hold one device"):
        Element("fire", "s1", effect, targets, clock=Mended(exponential(1), REPAIR))


def test_time_at_risk_and_time_away_are_unlinked():
    fate, clock = _fate(5), Drawn(exponential(10), exponential(2))
    at_risk = [fate.at_risk_ms(clock, n) for n in range(5000)]
    away = [fate.away_ms(clock, n) for n in range(5000)]
    ranks = stats.spearmanr(at_risk, away).statistic
    later = stats.spearmanr(at_risk[1:], away[:-1]).statistic
    assert max(abs(ranks), abs(later)) < 4 / math.sqrt(5000)


def test_a_weak_share_dies_early_and_the_rest_does_not():
    """Survival of a mixture of two exponentials: S(t) (1 - w + w S_weak(t))."""
    share, t_h = 0.2, 50
    clock = Mended(exponential(500), NEVER, weak_share=share, weak_ms=20 * MS_PER_H)
    n_devices = 8000
    alive = np.mean(
        [
            _fate(6, lifetime=lifetime).at_risk_ms(clock, 0) > t_h * MS_PER_H
            for lifetime in range(n_devices)
        ]
    )
    survival = math.exp(-t_h / 500) * (1 - share + share * math.exp(-t_h / 20))
    assert abs(alive - survival) < 4 * math.sqrt(survival * (1 - survival) / n_devices)


def test_a_repaired_device_may_be_weak_again():
    """Half of new devices die within 1 h, the others never."""
    fate, clock = _fate(7), Mended(NEVER, NEVER, weak_share=0.5, weak_ms=MS_PER_H / 100)
    n_weak = sum(fate.at_risk_ms(clock, n) < MS_PER_H for n in range(2000))
    assert abs(n_weak - 1000) < 4 * math.sqrt(2000 * 0.25)


def test_the_first_of_30_cells_dies_where_order_statistics_put_it():
    """The least of n Weibull draws is Weibull with the same slope and scale n^(-1/slope).

    The printed 0.8979 of the mean for n = 30 and 5 % is that of a normal law; a Weibull law with
    the same mean and spread has a longer lower tail, and scipy solves for its slope here.
    """
    cells = Cells("s", 1e15, factor(0.05), 1, 1, 1, NEVER)
    least = [
        min(DeviceFate.of(f"s{n}", 8, lifetime).charge_na_ms(cells, 0) for n in range(30)) / 1e15
        for lifetime in range(300)
    ]
    error = np.std(least, ddof=1) / math.sqrt(len(least))
    assert abs(np.mean(least) - 30 ** (-1 / _slope(0.05))) < 4 * error


def _slope(spread: float) -> float:
    return optimize.brentq(
        lambda k: stats.weibull_min.std(k) / stats.weibull_min.mean(k) - spread, 1, 500
    )


def test_two_names_with_one_key_are_refused():
    """The parts of a name are joined by a separator; a part that holds it can imitate another."""
    name = ("device", "s1", "hardware")
    refuse_collisions([name, name, ("device", "s2", "hardware")])
    collision = [("a\x1fb", "c", "d"), ("a", "b\x1fc", "d")]
    with pytest.raises(KeyCollisionError, match="rename one of the two"):
        refuse_collisions(collision)


EVENTS = ("zone", "east", "works")
FAR_MS = 10**12


def _reached(id: str, clock: Drawn | Mended) -> tuple[Fate, Drawn | Mended]:
    return Fate.of(Element("works", id, Effect.DOWN, (id,), clock=clock), 7, 0), clock


def _absences_ms(id: str, reach: Reach, horizon_ms: int = FAR_MS) -> tuple:
    fate, clock = _reached(id, Drawn(exponential(100), exponential(20), reach))
    return fate.absences_ms(clock, horizon_ms)


def test_all_that_share_events_go_and_come_back_together():
    together = _absences_ms("s1", Reach(EVENTS))
    assert together == _absences_ms("s2", Reach(EVENTS))
    assert together != _absences_ms("s1", Reach(("zone", "west", "works")))


def test_whom_an_event_hits_is_each_ones_own_draw():
    """Of some 2,300 events 0.4 hit each of two devices and 0.16 both, within four errors."""
    every = set(_absences_ms("s1", Reach(EVENTS)))
    first, second = (set(_absences_ms(id, Reach(EVENTS, 0.4))) for id in ("s1", "s2"))
    assert first < every
    assert second < every
    for hit, share in ((first, 0.4), (second, 0.4), (first & second, 0.16)):
        error = math.sqrt(len(every) * share * (1 - share))
        assert abs(len(hit) - share * len(every)) < 4 * error


def test_a_delay_cuts_the_start_and_leaves_out_what_is_over_by_then():
    every = _absences_ms("s1", Reach(EVENTS))
    late_ms = 15 * MS_PER_H
    expected = tuple(
        (start_ms + late_ms, end_ms)
        for start_ms, end_ms in every[:-1]
        if start_ms + late_ms < end_ms
    )
    assert 0 < len(expected) < len(every) - 1
    assert _absences_ms("s1", Reach(EVENTS, after_ms=late_ms))[: len(expected)] == expected


def test_events_that_never_hit_end_with_the_horizon():
    assert _absences_ms("s1", Reach(EVENTS, 0.0)) == ()
    fate, clock = _reached("s1", Mended(exponential(1), REPAIR, reach=Reach(EVENTS, 0.0)))
    assert fate.strike_ms(clock, 0, 0, 10**9) == 10**9


def test_what_is_mended_is_struck_by_the_first_event_after_it_came_back():
    fate, clock = _reached("s1", Mended(exponential(100), REPAIR, reach=Reach(EVENTS)))
    first_ms = fate.strike_ms(clock, 0, 0, FAR_MS)
    second_ms = fate.strike_ms(clock, 1, first_ms, FAR_MS)
    assert first_ms < second_ms
    assert fate.strike_ms(clock, 1, second_ms - 1, FAR_MS) == second_ms
    assert fate.strike_ms(clock, 1, second_ms, FAR_MS) > second_ms


@pytest.mark.parametrize(
    ("weak_share", "spread_ms"), [(0.5, 0), (0.0, 1)], ids=["early death", "in turns"]
)
def test_what_shared_events_and_visits_do_not_know_is_refused(weak_share, spread_ms):
    with pytest.raises(ValueError, match="no early death and no turns"):
        Mended(NEVER, NEVER, weak_share, reach=Reach(EVENTS, spread_ms=spread_ms))
