"""What cells hold and lose, against printed values, closed forms and scipy."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy import stats

from resilience.building.settings import Battery
from resilience.building.stated.equipment import batteries_of
from resilience.building.text.entries import Findings
from resilience.connectivity.links import link_table
from resilience.hazards.cells import (
    batch_spreads,
    month_shares,
    self_discharge_na,
    share_at,
    usable_mah,
    year_over_ms,
)
from resilience.hazards.fates import DeviceFate
from resilience.hazards.table import hazard_table
from resilience.units import MS_PER_H

PROFILES = batteries_of(None, None, Findings())
YARD_C = (-1.0, 0.0, 4.0, 9.0, 14.0, 17.0, 19.0, 18.0, 15.0, 10.0, 4.0, 1.0)
BOLTZMANN_EV = 8.617333262e-5  # per kelvin (CODATA)


def _arrhenius(ea_ev, from_c, to_c):
    return math.exp(ea_ev / BOLTZMANN_EV * (1 / (from_c + 273.15) - 1 / (to_c + 273.15)))


@pytest.mark.parametrize(
    ("profile", "at_0", "at_minus_20"),
    [  # bands of the trade, from memory: at light load, of the charge of 20 C
        ("two_aa_alkaline", (0.75, 0.80), (0.40, 0.50)),
        ("two_aa_lithium", (0.95, 1.0), (0.85, 0.90)),
        ("coin_cr2477", (0.88, 0.92), (0.68, 0.72)),
        ("aa_thionyl", (0.85, 0.95), (0.70, 0.85)),
    ],
)
def test_cells_give_in_the_cold_what_the_trade_says(profile, at_0, at_minus_20):
    cells = PROFILES[profile]
    assert at_0[0] <= share_at(cells, 0.0) <= at_0[1]
    assert at_minus_20[0] <= share_at(cells, -20.0) <= at_minus_20[1]
    assert share_at(cells, 20.0) == share_at(cells, 60.0) == 1.0


def test_what_the_cold_leaves_runs_straight_between_the_stated_points():
    """Alkaline, by hand: half way from 0.78 to 1, and from 0.45 to 0.78; 10 C below -20 C."""
    cells = PROFILES["two_aa_alkaline"]
    assert share_at(cells, 10.0) == pytest.approx(0.89)
    assert share_at(cells, -10.0) == pytest.approx(0.615)
    assert share_at(cells, -30.0) == pytest.approx(0.285)
    assert share_at(replace(cells, at_minus_20_c_share=0.1), -40.0) == 0.05


def test_self_discharge_is_a_share_of_the_nameplate_as_a_current():
    """By hand: 2600 mAh x 0.025 / 8766 h = 7.41501 uA."""
    assert self_discharge_na(PROFILES["two_aa_alkaline"], ()) == 7415


@pytest.mark.parametrize(
    ("profile", "draw_ua", "life_years"),
    [  # lives that a maker of an open sensor tag states for 1000 mAh coins (read)
        ("coin_cr2477", 15, 6),
        ("coin_cr2477", 18, 5),
        ("coin_cr2477", 13, 7),
    ],
)
def test_coins_last_as_long_as_a_maker_states(profile, draw_ua, life_years):
    """Plain division would promise 7.6, 6.3 and 8.8 years; stated are whole ones."""
    cells = PROFILES[profile]
    lost_ua = draw_ua + self_discharge_na(cells, ()) / 1000
    assert round(cells.capacity_mah * cells.usable_share * 1000 / lost_ua / 8766) == life_years


@pytest.mark.parametrize(
    ("profile", "draw_ua", "planned_share"),
    [
        ("two_aa_lithium", 45, 0.80),
        ("two_aa_alkaline", 45, 0.70),
        ("aa_thionyl", 45, 0.80),
        ("coin_cr2477", 15, 0.79),
        ("coin_cr2032", 10, 0.75),
    ],
)
def test_with_self_discharge_cells_give_what_people_plan_with(profile, draw_ua, planned_share):
    """Shares of the nameplate in which the load and the years count (common practice)."""
    cells = PROFILES[profile]
    lost_ua = draw_ua + self_discharge_na(cells, ()) / 1000
    assert cells.usable_share * draw_ua / lost_ua == pytest.approx(planned_share, abs=0.006)


def test_warmth_doubles_self_discharge_by_the_stated_step():
    """10 C warmer by half as much as printed for 0.5 and 0.6 eV: 1.92111 and 2.18909 (Arrhenius).

    The rule of a factor of 2 per 10 C equals 0.530818 eV from 20 to 30 C.
    """
    cells = replace(PROFILES["coin_cr2477"], self_discharge_per_year=0.5)
    warm, cool = self_discharge_na(cells, (30.0,) * 12), self_discharge_na(cells, (20.0,) * 12)
    assert _arrhenius(0.5, 20, 30) == pytest.approx(1.92111, abs=5e-6)
    assert _arrhenius(0.6, 20, 30) == pytest.approx(2.18909, abs=5e-6)
    assert 1.92111 < warm / cool < 2.18909
    assert warm / cool == pytest.approx(_arrhenius(0.530818, 20, 30), rel=1e-4)


@pytest.mark.parametrize(("temperature_c", "least", "most"), [(0, 0.97, 1.2), (40, 1.0, 1.15)])
def test_the_doubling_rule_keeps_near_the_arrhenius_law(temperature_c, least, most):
    """Two steps away the two part by less than a fifth: the rule says more on both sides."""
    cells = replace(PROFILES["coin_cr2477"], self_discharge_per_year=0.5)
    ratio = self_discharge_na(cells, (float(temperature_c),) * 12) / self_discharge_na(cells, ())
    assert least < ratio / _arrhenius(0.530818, 20, temperature_c) < most


def _life_h(cells, draw_ua, months_c):
    """Month by month, self-discharge by the temperature of each (own integration)."""
    left_uah, t_h = cells.capacity_mah * cells.usable_share * 1000, 0.0
    per_h = cells.capacity_mah * 1000 * cells.self_discharge_per_year / 8766
    for month in range(10_000):
        warmth = 2 ** ((months_c[month % 12] - 20) / cells.doubling_c)
        lost_ua = draw_ua + per_h * warmth
        if left_uah < lost_ua * 730.5:
            return t_h + left_uah / lost_ua
        left_uah, t_h = left_uah - lost_ua * 730.5, t_h + 730.5
    raise AssertionError


@pytest.mark.parametrize("profile", ["two_aa_alkaline", "coin_cr2477", "two_aa_rechargeable"])
@pytest.mark.parametrize("draw_ua", [5.0, 15.0, 40.0])
def test_the_mean_of_a_year_in_the_place_of_its_months_hardly_moves_a_death(profile, draw_ua):
    """A yard from -1 to 19 C: by less than 0.3 % of a life, of rechargeable cells 2 %.

    Nor by more than the charge by which a season departs from the mean lasts at the least current.
    """
    cells = PROFILES[profile]
    mean_ua = self_discharge_na(cells, YARD_C) / 1000
    life_h = cells.capacity_mah * cells.usable_share * 1000 / (draw_ua + mean_ua)
    moved_h = abs(life_h - _life_h(cells, draw_ua, YARD_C))
    months_ua = [self_discharge_na(cells, (month_c,) * 12) / 1000 for month_c in YARD_C]
    departs_uah = np.cumsum([0.0, *(month_ua - mean_ua for month_ua in months_ua)]) * 730.5
    assert moved_h <= np.ptp(departs_uah) / (draw_ua + min(months_ua))
    assert moved_h / life_h < (0.02 if profile == "two_aa_rechargeable" else 0.003)


@pytest.mark.parametrize("batch_share", [0.0, 0.3, 0.8, 1.0])
def test_factors_within_and_across_batches_make_up_the_stated_spread(batch_share):
    """Products of independent factors: 1 + CV^2 multiplies (elementary); CV of each by scipy."""
    product = 1.0
    for law in batch_spreads(Battery(0.12, batch_share)):
        if law.drawn(0.1) != law.drawn(0.9):
            of = stats.weibull_min(law.slope, scale=law.scale)
            assert of.mean() == pytest.approx(1.0)
            product *= 1 + (of.std() / of.mean()) ** 2
    assert product == pytest.approx(1 + 0.12**2, rel=1e-5)


@pytest.fixture(scope="module")
def delivered(small_site):
    """Return the cells of sensors that all come from one delivery, or each from its own."""

    def cells(n, hazard, batch):
        devices = [
            replace(small_site.device(f"s{i}"), batch=batch and batch.format(i)) for i in range(n)
        ]
        links = " ".join(f"g1~s{i}=0.9" for i in range(n))
        layout = small_site.layout("a", *devices, links=links)
        site = small_site(layout, radio={"predict": False}, hazards={"battery": hazard})
        return hazard_table(site, link_table(site, layout)).cells

    return cells


def _charges(all_cells, n_lifetimes):
    """Charges of first sets, shape (lifetimes, devices)."""
    return np.array(
        [
            [
                DeviceFate.of(cells.device, 5, lifetime, cells.batch).charge_na_ms(cells, 0)
                / cells.mean_charge_na_ms
                for cells in all_cells
            ]
            for lifetime in range(n_lifetimes)
        ]
    )


def test_cells_of_one_batch_vary_together_by_the_stated_share(delivered):
    """Covariance over variance is CV batch^2 / CV^2, which is the share (elementary).

    Two cells, 8,000 deliveries; four standard errors of a correlation and of a spread.
    """
    n = 8000
    pairs = _charges(delivered(2, Battery(0.12, 0.8), "b"), n)
    found = np.corrcoef(pairs.T)[0, 1]
    assert abs(found - 0.8) < 4 * (1 - 0.8**2) / math.sqrt(n) * 1.5  # tails are not normal
    assert pairs[:, 0].std() == pytest.approx(0.12, rel=4 / math.sqrt(2 * n) * 1.5)
    apart = np.corrcoef(_charges(delivered(2, Battery(0.12, 0.8), "b{}"), n).T)[0, 1]
    assert abs(apart) < 4 / math.sqrt(n)


@pytest.mark.parametrize("batch", ["", "b", "b{}"])
def test_the_first_of_a_batch_dies_where_order_statistics_put_it(delivered, batch):
    """The least of n Weibull factors of mean 1 has the mean n^(-1/slope); a batch multiplies it.

    Cells that name no batch, or each its own, are independent; of their product there is no closed
    form, so it is integrated from samples of scipy's laws, whose error counts as well.
    """
    n, n_lifetimes, hazard = 20, 1500, Battery(0.12, 0.8)
    first = _charges(delivered(n, hazard, batch), n_lifetimes).min(axis=1)
    within, shared = batch_spreads(hazard)
    if batch == "b":
        expected, error = n ** (-1 / within.slope), 0.0
    elif not batch:
        slope = _slope_by_scipy(0.12)
        expected, error = n ** (-1 / slope), 0.0
    else:
        rng = np.random.default_rng(1)
        factors = [
            stats.weibull_min.rvs(law.slope, scale=law.scale, size=(20_000, n), random_state=rng)
            for law in (within, shared)
        ]
        least = (factors[0] * factors[1]).min(axis=1)
        expected, error = least.mean(), least.std() / math.sqrt(20_000)
    error = math.hypot(error, first.std(ddof=1) / math.sqrt(n_lifetimes))
    assert abs(first.mean() - expected) < 4 * error


def _slope_by_scipy(spread):
    from scipy.optimize import brentq

    return brentq(
        lambda slope: stats.weibull_min.std(slope) / stats.weibull_min.mean(slope) - spread, 2, 200
    )


def test_a_cold_store_shrinks_the_charge_and_a_yard_keeps_some_of_it_back(small_site):
    """Alkaline at -18 C all year: 0.45 + 0.033; a yard keeps what its month takes of its best."""
    alkaline = PROFILES["two_aa_alkaline"]
    store = replace(small_site.device("s1"), battery=alkaline, by_month_c=(-18.0,) * 12)
    yard = replace(small_site.device("s2"), battery=alkaline, by_month_c=YARD_C)
    site = small_site(
        small_site.layout("a", store, yard, links="g1~s1=0.9 g1~s2=0.9"),
        radio={"predict": False},
    )
    in_store, in_yard = hazard_table(site, link_table(site, site.layouts[0])).cells
    assert in_store.mean_charge_na_ms == pytest.approx(2600 * 0.82 * 0.483 * 3.6e12)
    assert in_store.course.kept == ()
    assert in_yard.mean_charge_na_ms == pytest.approx(2600 * 0.82 * 0.989 * 3.6e12)
    shares = month_shares(alkaline, YARD_C)  # January -1 C: 0.78 - 0.0165; July 19 C: 0.989
    assert (shares[0], shares[6]) == pytest.approx((0.7635, 0.989))
    assert in_yard.course.kept[0] == round(1000 * (1 - 0.7635 / 0.989))
    assert in_yard.course.kept[6] == 0
    assert usable_mah(yard) == pytest.approx(2600 * 0.82 * 0.7635)


@pytest.mark.parametrize(
    ("day", "over_h"),
    [
        (date(2030, 1, 1), 0),
        (date(2030, 2, 1), 730.5),
        (date(2031, 4, 3), 3 * 730.5 + 48),
        (date(2030, 12, 31), 12 * 730.5 - 10.5),  # 720 h into a month of 730.5
    ],
)
def test_months_are_twelve_alike(day, over_h):
    assert year_over_ms(day) == pytest.approx(over_h * MS_PER_H, abs=1)


@pytest.mark.parametrize(
    ("every_s", "life_years"), [(10, 7.4971), (60, 11.6674), (300, 12.8072), (900, 13.0192)]
)
def test_currents_follow_from_reports(small_site, every_s, life_years):
    """15.0211 uC a report (50 octets sent at 6.40 mA, 0.544 ms heard at 6.53) beside 2 uA asleep.

    230 mAh without self-discharge last so many years of 8760 h, by hand.
    """
    report_uc = 1.792e-3 * 6400 + 0.544e-3 * 6530
    assert report_uc == pytest.approx(15.0211, abs=1e-4)
    model = small_site.device(
        "s1", sleep_ua=2.0, report_uc=report_uc, reports_per_h=3600 / every_s, sendings=1.0
    ).model
    assert 230_000 / model.drawn_leaf_ua / 8760 == pytest.approx(life_years, rel=1e-5)


def test_each_sensor_behind_costs_what_receiving_and_sending_on_takes(small_site):
    """60 an hour of 20 uC, 1.5 times each: 0.5 uA; forwarded twice that, or as stated."""
    reports = {"sleep_ua": 2.0, "report_uc": 20.0, "reports_per_h": 60.0, "sendings": 1.5}
    model = small_site.device("s1", **reports).model
    assert (model.drawn_leaf_ua, model.drawn_forwarding_ua) == pytest.approx((2.5, 1.0))
    stated = small_site.device("s1", **reports, forwarded_uc=100.0).model
    assert stated.drawn_forwarding_ua == pytest.approx(2.5)
    plain = small_site.device("s1").model
    assert (plain.drawn_leaf_ua, plain.drawn_forwarding_ua) == (30.0, 3.0)
