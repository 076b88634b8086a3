"""What is left of lives and cells of a site in service, against scipy and closed forms."""

import math
from dataclasses import fields, replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy import special, stats

from resilience import draws
from resilience.building.settings import Battery, EarlyFailure, Hardware, Hazards
from resilience.building.stated.standing import InService, Standing
from resilience.connectivity.links import link_table
from resilience.hazards.elements import Cells, Mended
from resilience.hazards.fates import DeviceFate, Fate
from resilience.hazards.laws import NEVER, exponential, factor, weibull
from resilience.hazards.table import hazard_table
from resilience.lifetime.engines import REFERENCE
from resilience.lifetime.playing import Stage
from resilience.lifetime.reference.upkeep import Battery as Set
from resilience.units import MS_PER_DAY, MS_PER_H, NA_MS_PER_MAH

TODAY = date(2033, 5, 1)
MIDDLES = (np.arange(4000) + 0.5) / 4000


@pytest.mark.parametrize("slope", [0.6, 1.5, 2.0, 4.0])
@pytest.mark.parametrize("lived", [0.1, 1.0, 2.5])
def test_the_mean_of_what_is_left_is_the_closed_one(slope, lived):
    """Of a Weibull law: its upper incomplete gamma function (Rausand and Hoyland, from memory)."""
    worn = (lived / 3.0) ** slope
    upper = special.gammaincc(1 + 1 / slope, worn) * special.gamma(1 + 1 / slope)
    closed = 3.0 * upper * math.exp(worn) - lived
    drawn = [draws.residual((draws.WEIBULL, 3.0, slope), u, lived) for u in MIDDLES]
    assert np.mean(drawn) == pytest.approx(closed, rel=2e-3)  # the grid leaves out the last tail


@pytest.mark.parametrize("slope", [0.1, 0.8, 3.0, 20.0, 300.0])
@pytest.mark.parametrize("lived", [1e-6, 0.01, 1.0, 1.2])
def test_what_is_left_has_the_survival_of_the_law_given_the_age(slope, lived):
    law = stats.weibull_min(slope)
    for u in (1e-6, 0.1, 0.5, 0.999):
        left = draws.residual((draws.WEIBULL, 1.0, slope), u, lived)
        given = law.logsf(lived + left) - law.logsf(lived)
        # Of a steep law the last digit of a time moves its logarithm that much.
        room = 1e-12 * max(1.0, slope * lived**slope)
        assert given == pytest.approx(math.log1p(-u), rel=1e-6, abs=room)


def test_age_means_nothing_where_the_rate_is_constant():
    law = exponential(1000.0).numbers
    for u in MIDDLES[::100]:
        assert draws.residual(law, u, 1e9) == draws.residual(law, u, 0.0)


def test_what_is_new_has_the_whole_law_before_it():
    for law in (weibull(1000.0, 2.0), weibull(5.0, 0.7), NEVER, factor(0.1)):
        for u in MIDDLES[::100]:
            assert draws.residual(law.numbers, u, 0.0) == law.drawn(u)


def test_early_deaths_are_outlived_as_the_mixture_says():
    """Survival from an age on is S(a + x) / S(a), S that of wear times that of the mixture."""
    share, early_h, age_h, more_h = 0.3, 500.0, 700.0, 300.0
    wear = weibull(4000.0, 1.5)
    clock = Mended(
        wear,
        NEVER,
        weak_share=share,
        weak_ms=early_h * MS_PER_H,
        lived_ms=age_h * MS_PER_H,
    )

    def survives(hours):
        worn = (hours * MS_PER_H / wear.scale) ** wear.slope
        return math.exp(-worn) * (1 - share + share * math.exp(-hours / early_h))

    n, expected = 20_000, survives(age_h + more_h) / survives(age_h)
    keys = (draws.element_key("device", f"s{k}", "hardware") for k in range(n))
    fates = [Fate(start, start) for start in (draws.stream(1, 0, key) for key in keys)]
    n_left = sum(fate.at_risk_ms(clock, 0) > more_h * MS_PER_H for fate in fates)
    assert abs(n_left - n * expected) < 4 * math.sqrt(n * expected * (1 - expected))


def test_a_second_life_is_one_of_new():
    new, old = (Mended(weibull(900.0, 3.0), NEVER, lived_ms=age) for age in (0.0, 9e8))
    fate = Fate(5, 5)
    assert fate.at_risk_ms(old, 0) < fate.at_risk_ms(new, 0)
    assert fate.at_risk_ms(old, 1) == fate.at_risk_ms(new, 1)


def test_cells_that_lasted_so_far_are_among_the_larger_ones():
    """By scipy: the charge of a set, given that it is more than what its age has taken."""
    spread, mean = 0.2, 1000.0 * NA_MS_PER_MAH
    aged = Cells("s", mean, factor(spread), 9000, 500, 1, NEVER, self_na=1000, age_ms=10**11)
    used = (9000 + 1000 + 2 * 500) * 10**11
    law = stats.weibull_min(factor(spread).slope, scale=mean * factor(spread).scale)
    left = []
    for k in range(4000):
        cells = Set(aged, DeviceFate.of(f"s{k}", 3, 0))
        cells.age(2)
        cells.drain(0, 10**6)
        left.append(cells.death_ms() * 10**6)
    given = stats.ks_1samp(left, lambda x: 1 - law.sf(used + x) / law.sf(used))
    assert 0 < law.cdf(used) < 1
    assert given.pvalue > 1e-3


def test_cells_without_spread_that_should_be_flat_go_at_once():
    aged = Cells("s", 1000.0, factor(0.0), 10, 0, 0, NEVER, age_ms=500)
    cells = Set(aged, DeviceFate.of("s", 1, 0))
    cells.age(0)
    cells.drain(0, 10)
    assert cells.death_ms() == 1


@pytest.fixture(scope="module")
def annexe(small_site):
    """A gateway and two sensors, in which hardware wears and cells run down."""
    hazards = dict.fromkeys(field.name for field in fields(Hazards)) | {
        "hardware": Hardware(8766.0, 2.0),
        "gateway_hardware": Hardware(9000.0, 2.0),
        "early_failure": EarlyFailure(0.1, 300.0),
        "battery": Battery(0.1, 0.5),
    }
    devices = [small_site.device(id, x, 0.0) for id, x in (("g1", 0.0), ("s1", 8.0), ("s2", 9.0))]
    return small_site(small_site.layout("a", *devices), hazards=hazards, horizon_years=1.0)


def _standing(*rows):
    return Standing(TODAY, tuple(InService(*row) for row in rows))


def _told(site, lifetime=0):
    return Stage(site, site.layouts[0], 7, False, REFERENCE).play(lifetime)


def test_a_lifetime_of_a_site_of_which_nothing_is_used_is_that_of_a_new_one(annexe):
    today = replace(annexe, standing=_standing(("s1", TODAY, TODAY), ("g1", TODAY, TODAY, 1.0)))
    new = replace(annexe, hand_over=TODAY)
    assert [_told(today, n) for n in range(6)] == [_told(new, n) for n in range(6)]


def test_rows_know_ages_of_devices_and_cells(annexe):
    since = TODAY - timedelta(days=100)
    site = replace(annexe, standing=_standing(("s1", since, TODAY), ("s2", since, since, 0.25)))
    table = hazard_table(site, link_table(site, site.layouts[0]))
    ages = {one.id: one.clock.lived_ms for one in table.elements}
    assert ages == {"g1": 0, "s1": 100 * MS_PER_DAY, "s2": 100 * MS_PER_DAY}
    assert [(one.age_ms, one.left_share) for one in table.cells] == [
        (0, None),
        (100 * MS_PER_DAY, 0.25),
    ]


def test_a_device_that_is_down_starts_down_and_is_new_with_its_visit(annexe):
    since = TODAY - timedelta(days=100)
    site = replace(annexe, standing=_standing(("s1", since, since, None, since)))
    absences = [one for one in _told(site).history.absences if one.element.id == "s1"]
    assert (absences[0].element.cause, absences[0].start_ms) == ("hardware", 0)
    assert absences[0].end_ms > 0


def test_a_device_that_is_down_starts_down_though_hardware_never_fails(annexe):
    off = replace(annexe.hazards, hardware=None, early_failure=None, gateway_hardware=None)
    rows = (("s1", TODAY, TODAY, None, TODAY), ("g1", TODAY, TODAY, None, TODAY))
    site = replace(annexe, hazards=off, standing=_standing(*rows))
    record = _told(site).record
    assert record.strikes == {"hardware": 1, "gateway_hardware": 1}
    assert record.site_outages == 1  # the one gateway, until its visit


def test_cells_with_less_left_go_flat_sooner(annexe):
    since = TODAY - timedelta(days=1)
    hazards = replace(annexe.hazards, hardware=None, early_failure=None, gateway_hardware=None)

    def first_flat_ms(share):
        standing = _standing(("s1", since, since, share))
        site = replace(annexe, hazards=hazards, horizon_years=2.0, standing=standing)
        found = [one for one in _told(site).history.absences if one.element.id == "s1"]
        return found[0].start_ms

    more, half = first_flat_ms(0.1), first_flat_ms(0.05)
    assert half == pytest.approx(more / 2, rel=0.01)  # the drain hardly changes in one building
    assert first_flat_ms(0.0) == 1
