"""Single units, pairs and renewals against closed forms."""

import math

import networkx
import numpy as np
import pytest
from scipy import linalg, optimize, stats

from resilience import draws
from resilience.building.settings import Duration
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Drawn, Element, Mended
from resilience.hazards.laws import NEVER, Law, exponential, factor, lasting, weibull
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Luck, Rules
from resilience.lifetime.reference.simulator import simulate
from resilience.units import MS_PER_H

AT_ONCE = Law(draws.FIXED, 1.0)  # 1 ms, a part in 10^6 of the times told here


@pytest.fixture(scope="module")
def star(trials):
    """A gateway with so many sensors beside it: units that do not touch each other."""
    return lambda n: trials.mesh_of(networkx.Graph(("g", f"s{i:02}") for i in range(n)))


def _down_share(record, horizon_h: float) -> float:
    return sum(record.down_ms.values()) / len(record.down_ms) / (horizon_h * MS_PER_H)


@pytest.mark.parametrize("kind", [Drawn, Mended])
def test_a_unit_is_down_for_the_share_of_time_that_theory_says(size, trials, star, kind):
    """Failures at 0.01 per hour, repairs at 0.5: available for 0.9842133920 of the first 10 h.

    Closed form (Trivedi; Birolini; Barlow and Proschan).
    """
    mesh = star(20)
    elements = [
        Element(
            "hardware",
            sensor,
            Effect.DOWN,
            (sensor,),
            clock=kind(exponential(100), exponential(2)),
        )
        for sensor in mesh.sensors
    ]
    played = trials.records(mesh, elements, 10, size(gate=375))
    trials.agree([_down_share(record, 10) for record in played], 1 - 0.9842133920)


def test_the_shape_of_repairs_changes_the_transient_only(size, trials, star):
    """In the long run only the mean repair counts, u = m / (m + 1 / lam).

    Over T, all up at 0, the mean time down is u T - lam m2 / (2 (1 + lam m)^2) and terms that die
    out: expand the transform of the alternating renewal process at 0, lam (1 - g) /
    (s (s + lam - lam g)), with g = 1 - m s + m2 s^2 / 2. For exponential repairs (m2 = 2 m^2)
    that is the transient of the closed form above. The lognormal here has m2 = 3.2 m^2.
    """
    horizon_h, mean_h, rate = 400.0, 4.0, 1 / 20
    sigma = math.log(4) / stats.norm.ppf(0.9)
    median_h = mean_h * math.exp(-(sigma**2) / 2)
    repair = lasting(Duration("lognormal", median_h=median_h, p90_h=4 * median_h))
    second_moment = {"lognormal": mean_h**2 * math.exp(sigma**2), "exponential": 2 * mean_h**2}
    mesh = star(5)
    for shape, law in (("lognormal", repair), ("exponential", exponential(mean_h))):
        played = trials.records(
            mesh, trials.on_devices(mesh.sensors, exponential(20), law), horizon_h, size(gate=25)
        )
        busy = rate * mean_h
        share = busy / (1 + busy)
        transient_h = rate * second_moment[shape] / (2 * (1 + busy) ** 2)
        expected = share - transient_h / horizon_h
        trials.agree([_down_share(record, horizon_h) for record in played], expected)


@pytest.mark.parametrize(
    "printed",
    [(5, 10, 3, 0.1175030974), (5, 8, 4, 0.1415165620), (3, 5, 2, 0.3023236739)],
)
def test_unrepaired_units_fail_as_the_weibull_law_says(size, trials, star, printed):
    """Printed with the Weibull table of any reliability text: 1 - exp(-(T / scale)^slope)."""
    horizon_h, scale_h, slope, failed = printed
    mesh = star(30)
    strikes = weibull(scale_h * math.gamma(1 + 1 / slope), slope)
    played = trials.records(
        mesh, trials.on_devices(mesh.sensors, strikes, NEVER), horizon_h, size(gate=100)
    )
    trials.agree([record.strikes.get("hardware", 0) / 30 for record in played], failed)


@pytest.mark.parametrize(
    "printed",
    [
        (1.0, 2, 2.0),  # exponential: rate x time
        (1.5, 1, 0.8415781),  # Weibull renewal function, by Riemann-Stieltjes sums
        (2.0, 1, 0.7536913),
        (2.0, 2, 1.8940394),
        (3.0, 2, 1.8010753),
    ],
)
def test_parts_replaced_at_once_are_renewed_as_often_as_theory_says(size, trials, star, printed):
    """Scale 1 h; time over mean life would give 2.26 in place of 1.89 at slope 2."""
    slope, horizon_h, renewals = printed
    mesh = star(20)
    strikes = weibull(math.gamma(1 + 1 / slope), slope)
    played = trials.records(
        mesh, trials.on_devices(mesh.sensors, strikes, AT_ONCE), horizon_h, size(gate=40)
    )
    trials.agree([record.strikes["hardware"] / 20 for record in played], renewals)


def _first_orphan_ms(record) -> int:
    return min(spell.start_ms for spell in record.spells)


@pytest.mark.parametrize(("n", "life_h"), [(1, 1.0), (2, 1.5), (3, 11 / 6), (5, 2.2833333333)])
def test_a_sensor_behind_n_relays_is_first_orphaned_after_the_sum_of_1_over_i(
    size, trials, n, life_h
):
    """One of n without repair: mean time to failure (1/lam) (1 + 1/2 + ... + 1/n) (textbook)."""
    graph = networkx.Graph([("g", f"r{i}") for i in range(n)] + [(f"r{i}", "s") for i in range(n)])
    elements = trials.on_devices([f"r{i}" for i in range(n)], exponential(1), NEVER)
    played = trials.records(trials.mesh_of(graph), elements, 40, size(gate=500))
    trials.agree([_first_orphan_ms(record) / MS_PER_H for record in played], life_h)


def test_a_sensor_behind_two_repaired_relays_is_first_orphaned_as_late_as_theory_says(size, trials):
    """Three states, both down absorbing: failures at 0.1, repairs at 1 per hour.

    Its mean time to failure is printed as (3 lam + mu) / (2 lam^2) = 65 h (Trivedi; Ross); the
    matrix exponential of the same three states gives the survival compared here.
    """
    rates = np.array([[-0.2, 0.2, 0.0], [1.0, -1.1, 0.1], [0.0, 0.0, 0.0]])
    assert np.linalg.solve(-rates[:2, :2], np.ones(2))[0] == pytest.approx(65)
    survival = 1 - linalg.expm(rates * 20)[0, 2]
    graph = networkx.Graph([("g", "r1"), ("g", "r2"), ("r1", "s"), ("r2", "s")])
    elements = trials.on_devices(["r1", "r2"], exponential(10), exponential(1))
    played = trials.records(trials.mesh_of(graph), elements, 20, size(gate=1000))
    trials.agree([float(not record.spells) for record in played], survival)


def test_the_first_of_30_batteries_dies_where_order_statistics_put_it(size, trials, star):
    """The least of n Weibull draws has the mean n^(-1/slope) of one (elementary).

    With a spread of 5 % the printed 0.8979 is that of a normal law; the tail of the Weibull law
    is longer, and scipy solves for the slope that has this spread: 0.8726.
    """

    def excess(slope: float) -> float:
        return stats.weibull_min.std(slope) / stats.weibull_min.mean(slope) - 0.05

    slope = optimize.brentq(excess, 2, 200)
    mesh, life_ms = star(30), 10_000_000
    cells = tuple(
        Cells(sensor, 10.0 * life_ms, factor(0.05), 10, 0, 10, NEVER) for sensor in mesh.sensors
    )
    rules = Rules(round(0.99 * life_ms), 0, 1, 1, 1, 0)
    first = [
        min(
            (absence.start_ms for absence in lifetime.history.absences),
            default=draws.LONGEST_MS,  # would show at once
        )
        for lifetime in (
            simulate(mesh, HazardTable((), cells), rules, Luck(5, n)) for n in range(size(gate=125))
        )
    ]
    trials.agree([first_ms / life_ms for first_ms in first], 30 ** (-1 / slope))
