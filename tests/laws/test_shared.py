"""Events that strike several at once, against thinned Poisson processes and renewal theory."""

import math
from dataclasses import fields

import networkx
import pytest

from resilience import draws
from resilience.building.settings import CommonCause, Hardware, Hazards
from resilience.connectivity.links import link_table
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Drawn, Element, Mended, Reach
from resilience.hazards.laws import Law, exponential
from resilience.hazards.table import hazard_table
from resilience.units import MS_PER_H

AT_ONCE = Law(draws.FIXED, 1.0)  # 1 ms, a part in 10^6 of the times told here
EVENTS = ("zone", "east", "zone_works")


@pytest.fixture(scope="module")
def star(trials):
    """A gateway with so many sensors beside it: units that do not touch each other."""
    return lambda n: trials.mesh_of(networkx.Graph(("g", f"s{i:02}") for i in range(n)))


def _struck(ids, clock):
    return [Element("zone_works", id, Effect.DOWN, (id,), clock=clock) for id in ids]


def _down_share(record, horizon_h):
    return sum(record.down_ms.values()) / len(record.down_ms) / (horizon_h * MS_PER_H)


def _mean_unavailability(lam, mu, horizon):
    """Mean over (0, horizon) of a unit that is up at 0 (Trivedi; Birolini; Barlow and Proschan)."""
    total = lam + mu
    return lam / total - lam / (total**2 * horizon) * (1 - math.exp(-total * horizon))


def test_a_device_is_down_for_its_share_of_the_time_that_events_last(size, trials, star):
    """Events at 0.1 and ends at 0.5 per hour; each takes 3 of 10, drawn apart from all else.

    So whoever looks at one device finds it down for 0.3 of the mean unavailability of one unit.
    """
    mesh = star(10)
    clock = Drawn(exponential(10), exponential(2), Reach(EVENTS, 0.3))
    played = trials.records(mesh, _struck(mesh.sensors, clock), 50, size(gate=300))
    expected = 0.3 * _mean_unavailability(0.1, 0.5, 50)
    trials.agree([_down_share(record, 50) for record in played], expected)


def test_two_devices_are_down_together_as_often_as_both_are_hit(size, trials):
    """Both relays of a sensor are hit by 0.6 x 0.6 of the events, and come back together.

    Had each its own clock, they would be down together for the square of their shares.
    """
    graph = networkx.Graph([("g", "r1"), ("g", "r2"), ("r1", "s"), ("r2", "s")])
    clock = Drawn(exponential(10), exponential(2), Reach(EVENTS, 0.6))
    played = trials.records(trials.mesh_of(graph), _struck(("r1", "r2"), clock), 50, size(gate=800))
    orphan = [record.orphan_ms["s"] / (50 * MS_PER_H) for record in played]
    trials.agree(orphan, 0.36 * _mean_unavailability(0.1, 0.5, 50))


def test_what_is_hit_and_mended_at_once_is_hit_by_a_thinned_poisson_process(size, trials, star):
    """Events at 2 per hour, each hitting a quarter: 0.5 per hour (Kingman, Poisson Processes)."""
    mesh = star(10)
    clock = Mended(exponential(0.5), AT_ONCE, reach=Reach(EVENTS, 0.25))
    played = trials.records(mesh, _struck(mesh.sensors, clock), 20, size(gate=40))
    trials.agree([record.strikes.get("zone_works", 0) / 10 for record in played], 0.5 * 20)


def test_a_backup_leaves_the_losses_that_outlast_it_and_what_they_still_last(size, trials, star):
    """Losses at 0.1 per hour, exponential with mean 2 h, against 3 h of backup.

    Down at t is who was without supply at t - 3 and still is: exp(-3/2) of these, since what
    remains of an exponential time has no memory. The mean over (0, T) follows.
    """
    horizon_h, backup_h, lam, mu = 60.0, 3.0, 0.1, 0.5
    mesh = star(4)
    reach = Reach(("circuit", "C1", "circuit_outage"), after_ms=round(backup_h * MS_PER_H))
    clock = Drawn(exponential(1 / lam), exponential(1 / mu), reach)
    circuit = Element("circuit_outage", "C1", Effect.DOWN, mesh.sensors, clock=clock)
    played = trials.records(mesh, [circuit], horizon_h, size(gate=1000))
    late_h = horizon_h - backup_h
    share = late_h / horizon_h * _mean_unavailability(lam, mu, late_h)
    trials.agree(
        [_down_share(record, horizon_h) for record in played], math.exp(-mu * backup_h) * share
    )


@pytest.mark.parametrize(("staged_h", "down_h"), [(6.0, 5.0), (32.0, 1.0)])
def test_a_staged_release_spares_those_it_has_not_reached(size, trials, star, staged_h, down_h):
    """One release after 10 h that lasts 8 h, by hand: reached evenly within 6 h devices are down
    for 8 - 3 h, within 32 h a quarter of them is reached, for 4 h on average."""
    mesh = star(10)
    reach = Reach(("model", "m", "software_release"), spread_ms=round(staged_h * MS_PER_H))
    clock = Drawn(_fixed(10.0), _fixed(8.0), reach)
    played = trials.records(mesh, _struck(mesh.sensors, clock), 27, size(gate=100))
    trials.agree([27 * _down_share(record, 27) for record in played], down_h)


def _fixed(hours):
    return Law(draws.FIXED, hours * MS_PER_H)


def test_a_pair_of_one_model_fails_as_the_beta_factor_says(size, trials, small_site):
    """Fleming 1975, as in IEC 61508-6 annex D (from memory): of rate r, beta r takes both.

    Neither is repaired; a sensor behind the two is cut off by T with probability
    1 - exp(-beta r T) (1 - (1 - exp(-(1 - beta) r T))^2).
    """
    rate, beta, horizon_h = 1 / 20, 0.2, 10.0
    hazards = dict.fromkeys(field.name for field in fields(Hazards))
    hazards |= {"hardware": Hardware(1 / rate, 1.0), "common_cause": CommonCause(beta)}
    site = small_site.linked(
        "g1~r1=0.9 g1~r2=0.9 r1~s1=0.9 r2~s1=0.9", hazards=hazards, upkeep={"repair": None}
    )
    rows = hazard_table(site, link_table(site, site.layouts[0])).elements
    pair = [row for row in rows if row.id in ("r1", "r2")]
    assert len(pair) == 4
    graph = networkx.Graph([("g1", "r1"), ("g1", "r2"), ("r1", "s1"), ("r2", "s1")])
    played = trials.records(trials.mesh_of(graph), pair, horizon_h, size(gate=1000))
    alone = math.exp(-beta * rate * horizon_h)
    both = (1 - math.exp(-(1 - beta) * rate * horizon_h)) ** 2
    trials.agree([float(bool(record.spells)) for record in played], 1 - alone * (1 - both))
