"""Calls that wait for a crew, against queueing theory and a general-purpose queueing simulator."""

import math

import networkx
import numpy as np
import pytest
from scipy import linalg

from resilience.building.settings import Duration
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element, Mended
from resilience.hazards.laws import Law, exponential, lasting
from resilience.hazards.upkeep import Calls
from resilience.units import MS_PER_H


@pytest.fixture(scope="module")
def units(trials):
    """So many sensors beside a gateway, each failing at a rate per hour."""

    def built(n: int, rate: float):
        mesh = trials.mesh_of(networkx.Graph(("g", f"s{i:02}") for i in range(n)))
        clock = Mended(exponential(1 / rate), exponential(1.0))
        failures = [
            Element("hardware", sensor, Effect.DOWN, (sensor,), clock=clock)
            for sensor in mesh.sensors
        ]
        return mesh, failures

    return built


def _down_shares(records, horizon_h: float) -> list[float]:
    return [
        sum(record.down_ms.values()) / len(record.down_ms) / (horizon_h * MS_PER_H)
        for record in records
    ]


def _generator(n: int, crews: int, rate: float, repair_rate: float) -> np.ndarray:
    """Rates between the numbers of units that are down: machine repair, M/M/c//n."""
    rates = np.zeros((n + 1, n + 1))
    for down in range(n + 1):
        if down < n:
            rates[down, down + 1] = (n - down) * rate
        if down > 0:
            rates[down, down - 1] = min(down, crews) * repair_rate
    return rates - np.diag(rates.sum(axis=1))


def _mean_down(rates: np.ndarray, horizon_h: float) -> float:
    """Mean number down over a time from all up: the integral of the matrix exponential."""
    n = len(rates)
    whole = np.zeros((2 * n, 2 * n))  # Van Loan 1978: its upper right block is the integral
    whole[:n, :n], whole[:n, n:] = rates, np.eye(n)
    integral = linalg.expm(whole * horizon_h)[:n, n:]
    return float(integral[0] @ np.arange(n)) / horizon_h


@pytest.mark.parametrize(
    "printed",
    [
        (5, 1, 0.1, 0.8720956463),  # units, crews, failures an hour; available
        (5, 2, 0.1, 0.9070411209),  # 5 robots, 2 repairers (Gross and Harris, from memory)
        (10, 3, 0.2, 0.8195702065),
    ],
)
def test_units_that_share_crews_are_down_as_long_as_machine_repair_says(
    size, trials, units, printed
):
    """Birth and death, one repair takes an hour; printed is the steady state (any queueing text).

    The lifetimes begin with all units up, so they are held to the transient of the same rates.
    """
    n, crews, rate, available = printed
    horizon_h, rates = 60.0, _generator(n, crews, rate, 1.0)
    steady = linalg.null_space(rates.T)[:, 0]
    assert 1 - steady @ np.arange(n + 1) / steady.sum() / n == pytest.approx(available, abs=1e-9)
    calls = Calls(0, exponential(1.0), crews=crews)
    played = trials.records(*units(n, rate), horizon_h, size(gate=60), calls)
    trials.agree(_down_shares(played, horizon_h), _mean_down(rates, horizon_h) / n)


def test_a_crew_that_is_bound_by_travel_and_work_is_bound_by_their_sum(size, trials, units):
    """Two exponential stages of half an hour are a phase-type repair: states are (down, stage)."""
    n, rate, horizon_h = 4, 0.15, 60.0
    states = [(0, 0), *((down, stage) for down in range(1, n + 1) for stage in (1, 2))]
    place = {state: i for i, state in enumerate(states)}
    rates = np.zeros((len(states), len(states)))
    for down, stage in states:
        if down < n:
            rates[place[down, stage], place[down + 1, max(stage, 1)]] += (n - down) * rate
        if stage == 1:
            rates[place[down, 1], place[down, 2]] += 2.0
        if stage == 2:
            rates[place[down, 2], place[down - 1, min(down - 1, 1)]] += 2.0
    rates -= np.diag(rates.sum(axis=1))
    whole = np.block([[rates, np.eye(len(states))], [np.zeros((len(states), 2 * len(states)))]])
    integral = linalg.expm(whole * horizon_h)[0, len(states) :]
    expected = integral @ np.array([down for down, _ in states]) / horizon_h / n
    calls = Calls(0, exponential(0.5), exponential(0.5), crews=1)
    played = trials.records(*units(n, rate), horizon_h, size(gate=60), calls)
    trials.agree(_down_shares(played, horizon_h), expected)


def test_an_alarm_time_adds_to_every_outage_where_crews_are_many(size, trials, units):
    """One unit is up for a mean m and then down for exactly a + r: an alternating renewal process.

    Over T from up, the mean time down is u T - lam d^2 / (2 (1 + lam d)^2), d = a + r, and terms
    that die out: as for repairs of other shapes in ``test_renewal``.
    """
    n, rate, alarm_h, repair_h, horizon_h = 8, 0.1, 3.0, 2.0, 300.0
    calls = Calls(round(alarm_h * MS_PER_H), lasting(Duration("fixed", mean_h=repair_h)))
    played = trials.records(*units(n, rate), horizon_h, size(gate=30), calls)
    busy = rate * (alarm_h + repair_h)
    lost_h = rate * (alarm_h + repair_h) ** 2 / (2 * (1 + busy) ** 2)
    expected = busy / (1 + busy) - lost_h / horizon_h
    trials.agree(_down_shares(played, horizon_h), expected)


def _lognormal(mean_h: float, sigma: float) -> Law:
    median_h = mean_h * math.exp(-(sigma**2) / 2)
    return lasting(
        Duration("lognormal", median_h=median_h, p90_h=median_h * math.exp(sigma * 1.2815515655))
    )


def _waiting_share(ciw, seed: int, n: int, rate: float, horizon_h: float) -> float:
    """Share of time that units are down, played by a general-purpose queueing simulator.

    A closed network: units run (as many servers as units), then wait for one crew.
    """
    mean_h, sigma = 1.0, 1.0
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Sequential([0.0] * n + [math.inf]), None],
        service_distributions=[
            ciw.dists.Exponential(rate=rate),
            ciw.dists.Lognormal(mean=math.log(mean_h) - sigma**2 / 2, sd=sigma),
        ],
        routing=[[0.0, 1.0], [1.0, 0.0]],
        number_of_servers=[math.inf, 1],
    )
    ciw.seed(seed)
    played = ciw.Simulation(network)
    played.simulate_until_max_time(horizon_h)
    up_h = 0.0
    for unit in played.get_all_individuals():
        up_h += sum(one.service_time for one in unit.data_records if one.node == 1)
        if unit.node == 1 and unit.service_start_date is not False:
            up_h += horizon_h - unit.service_start_date
    return 1 - up_h / n / horizon_h


def test_long_tailed_repairs_queue_as_a_queueing_simulator_has_them(size, trials, units):
    """No closed form: one crew, lognormal repairs of mean 1 h and sigma 1, against ciw."""
    import ciw

    n, rate, horizon_h, n_lives = 5, 0.15, 80.0, size(gate=60)
    calls = Calls(0, _lognormal(1.0, 1.0), crews=1)
    ours = _down_shares(trials.records(*units(n, rate), horizon_h, n_lives, calls), horizon_h)
    theirs = [_waiting_share(ciw, seed, n, rate, horizon_h) for seed in range(n_lives)]
    error = math.hypot(*(np.std(one, ddof=1) / math.sqrt(n_lives) for one in (ours, theirs)))
    assert error > 0
    assert abs(np.mean(ours) - np.mean(theirs)) < 4 * error, (np.mean(ours), np.mean(theirs), error)
