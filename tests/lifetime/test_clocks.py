"""Each strike, absence, repair and set of cells takes the next draw of its own fate."""

from dataclasses import replace
from itertools import accumulate, chain

from resilience import draws
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Clock, Drawn, Element, Mended
from resilience.hazards.fates import DeviceFate, Fate
from resilience.hazards.laws import Law
from resilience.lifetime.mesh import Rules

N = 6
STRIKES, LASTS = Law(draws.WEIBULL, 70.0), Law(draws.WEIBULL, 20.0)


def _element(clock: Clock) -> Element:
    return Element("hardware", "s", Effect.DOWN, ("s",), clock=clock)


def _edges(lifetime) -> list[int]:
    return [
        edge
        for absence in lifetime.history.absences
        for edge in (absence.start_ms, absence.end_ms)
        if edge is not None
    ]


def _until(calm: Rules, edges: list[int]) -> Rules:
    return replace(calm, horizon_ms=edges[-1] + 1)


def test_an_element_alternates_on_its_own_draws(mesh_of, played, calm):
    clock = Drawn(STRIKES, LASTS)
    element = _element(clock)
    fate = Fate.of(element, 1, 0)
    cycles = ((fate.at_risk_ms(clock, n), fate.away_ms(clock, n)) for n in range(N))
    edges = list(accumulate(chain.from_iterable(cycles)))
    lifetime = played(mesh_of({"g~s": 128}), element, rules=_until(calm, edges))
    assert _edges(lifetime)[: 2 * N] == edges
    assert len(set(edges)) == 2 * N


def test_a_mended_element_waits_for_the_repairs_of_its_device(mesh_of, played, calm):
    clock = Mended(STRIKES, LASTS)
    element = _element(clock)
    fate, upkeep = Fate.of(element, 1, 0), DeviceFate.of("s", 1, 0)
    cycles = ((fate.at_risk_ms(clock, n), upkeep.repair_ms(LASTS, n)) for n in range(N))
    edges = list(accumulate(chain.from_iterable(cycles)))
    lifetime = played(mesh_of({"g~s": 128}), element, rules=_until(calm, edges))
    assert _edges(lifetime)[: 2 * N] == edges


def test_each_set_of_cells_holds_its_own_charge(mesh_of, played, calm):
    spread = Law(draws.WEIBULL, 1.0, 3.0)
    cells = Cells("s", 1000.0, spread, 10, 0, 10, repair=LASTS)
    upkeep = DeviceFate.of("s", 1, 0)
    cycles = (
        (-(-upkeep.charge_na_ms(cells, n) // 10), upkeep.repair_ms(cells.repair, n))
        for n in range(N)
    )
    edges = list(accumulate(chain.from_iterable(cycles)))
    lifetime = played(mesh_of({"g~s": 128}), cells=(cells,), rules=_until(calm, edges))
    assert _edges(lifetime)[: 2 * N] == edges
