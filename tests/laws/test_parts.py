"""Spare parts, dead parts and planned rounds against what inventory and renewal theory say."""

import networkx
import numpy as np
import pytest
from scipy import linalg, stats

from resilience import draws
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Element, Mended
from resilience.hazards.laws import Law, exponential, weibull
from resilience.hazards.table import HazardTable
from resilience.hazards.upkeep import Calls, RoundPlan, Shelf
from resilience.lifetime.mesh import Luck, Rules
from resilience.lifetime.reference.simulator import simulate
from resilience.units import MS_PER_H

AT_ONCE = Law(draws.FIXED, 1.0)  # 1 ms


@pytest.fixture(scope="module")
def units(trials):
    """So many sensors beside a gateway, each failing at a rate per hour."""

    def built(n: int, rate: float):
        mesh = trials.mesh_of(networkx.Graph(("g", f"s{i:02}") for i in range(n)))
        clock = Mended(exponential(1 / rate), AT_ONCE)
        failures = [
            Element("hardware", sensor, Effect.DOWN, (sensor,), clock=clock)
            for sensor in mesh.sensors
        ]
        return mesh, failures

    return built


def _on_order(n: int, kept: int, rate: float) -> np.ndarray:
    """Rates between numbers on order: base stock, ample crews, deliveries of mean 1 h.

    Whoever fails orders at once; who finds no part on the shelf stays down and fails no more.
    """
    rates = np.zeros((n + kept + 1, n + kept + 1))
    for ordered in range(n + kept):
        rates[ordered, ordered + 1] = (n - max(ordered - kept, 0)) * rate
        rates[ordered + 1, ordered] = ordered + 1
    return rates - np.diag(rates.sum(axis=1))


@pytest.mark.parametrize("kept", [0, 1, 3])
def test_stock_on_order_is_poisson_for_a_large_fleet(kept):
    """Palm's theorem (Sherbrooke, METRIC; from memory), here of the rates that the next test uses.

    With demand m in a delivery time, calls that wait are E (X - S)+ for X Poisson of mean m.
    """
    n, mean = 2000, 1.5
    rates = _on_order(n, kept, mean / n)[:60, :60]
    rates -= np.diag(rates.sum(axis=1))
    steady = np.abs(linalg.null_space(rates.T)[:, 0])
    waiting = steady @ np.maximum(np.arange(60) - kept, 0) / steady.sum()
    ordered = np.arange(kept, 200)
    expected = float((ordered - kept) @ stats.poisson.pmf(ordered, mean))
    assert waiting == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("kept", [0, 2])
def test_calls_wait_for_spares_as_base_stock_theory_says(size, trials, units, kept):
    """(S - 1, S) with exponential deliveries of 1 h, ample crews, no time to mend, a full shelf.

    The mean number down over a time is the integral of the matrix exponential (Van Loan 1978).
    """
    n, rate, horizon_h = 10, 0.15, 25.0
    rates = _on_order(n, kept, rate)
    m = len(rates)
    whole = np.zeros((2 * m, 2 * m))
    whole[:m, :m], whole[:m, m:] = rates, np.eye(m)
    integral = linalg.expm(whole * horizon_h)[0, m:]
    expected = integral @ np.maximum(np.arange(m) - kept, 0) / horizon_h / n
    calls = Calls(0, AT_ONCE, shelf=Shelf(devices=kept, delivery=exponential(1.0)))
    played = trials.records(*units(n, rate), horizon_h, size(30), calls)
    horizon_ms = horizon_h * MS_PER_H
    shares = [sum(record.down_ms.values()) / n / horizon_ms for record in played]
    trials.agree(shares, expected)


def test_parts_dead_on_arrival_take_a_geometric_number_of_visits(size, trials, units):
    """A unit is down for r times a geometric number of mean 1 / (1 - p).

    Over T from up, the mean time down is u T - lam m2 / (2 (1 + lam m)^2) and terms that die out,
    m = r / (1 - p), m2 = r^2 (1 + p) / (1 - p)^2: alternating renewals, as in ``test_renewal``.
    """
    n, rate, dead, repair_h, horizon_h = 5, 0.1, 0.4, 1.0, 100.0
    repair = Law(draws.FIXED, repair_h * MS_PER_H)
    calls = Calls(0, repair, shelf=Shelf(dead_share=dead))
    played = trials.records(*units(n, rate), horizon_h, size(25), calls)
    mean_h = repair_h / (1 - dead)
    square = repair_h**2 * (1 + dead) / (1 - dead) ** 2
    busy = rate * mean_h
    expected = busy / (1 + busy) - rate * square / (2 * (1 + busy) ** 2) / horizon_h
    horizon_ms = horizon_h * MS_PER_H
    shares = [sum(record.down_ms.values()) / n / horizon_ms for record in played]
    trials.agree(shares, expected)
    trials.agree([record.fruitless - dead * record.visits for record in played], 0.0)


def _renewals(life: stats.rv_continuous, until: float, n_steps: int = 4000) -> float:
    """Renewal function: M(t) = F(t) + integral of M(t - x) dF(x), step by step."""
    times = np.linspace(0, until, n_steps + 1)
    falls = np.diff(life.cdf(times))
    found = life.cdf(times)
    for step in range(1, n_steps + 1):
        found[step] += falls[:step] @ found[:step][::-1]
    return float(found[-1])


def test_the_renewal_function_is_that_of_the_exponential():
    assert _renewals(stats.expon(), 1.5) == pytest.approx(1.5, rel=2e-3)


def test_cells_renewed_in_blocks_go_flat_as_often_as_the_renewal_function_says(size, trials):
    """Block replacement (Barlow and Proschan 1965; from memory): M(T) deaths in each interval.

    Lives are Weibull with slope 2 and mean 100 h; a round comes every 120 h, and flat cells are
    replaced at once. Four intervals are played, with rounds between them.
    """
    n, every_h, slope = 4, 120, 2.0
    mesh = trials.mesh_of(networkx.Graph(("g", f"s{i}") for i in range(n)))
    spread = weibull(1 / MS_PER_H, slope)  # a factor of mean 1
    cells = tuple(
        Cells(sensor, 10.0 * 100 * MS_PER_H, spread, 10, 0, 10, AT_ONCE) for sensor in mesh.sensors
    )
    every_ms = every_h * MS_PER_H
    rules = Rules(4 * every_ms, 0, 1, 1, 1, 0, rounds=RoundPlan(every_ms, 0, 0, 1))
    table = HazardTable((), cells)
    records = [
        simulate(mesh, table, rules, Luck(20260101, number)).record for number in range(size(60))
    ]
    scale = 100 / float(stats.weibull_min(slope).mean())
    expected = 4 * _renewals(stats.weibull_min(slope, scale=scale), every_h)
    trials.agree([record.strikes.get("battery", 0) / n for record in records], expected)
    assert all(record.rounds == 3 for record in records)
    assert all(record.strikes["service"] == 3 * n for record in records)
