"""What a history says of what several share, and of people: gamma laws by scipy, known truths."""

import math
from datetime import datetime, timedelta

import numpy as np
import pytest
from scipy import optimize, stats

from resilience.assumptions.catalogue import section
from resilience.assumptions.hazards import ON_REQUEST
from resilience.building.files.folder import read_site
from resilience.building.service.events import History, Lasted, Moment, Strike, Watch
from resilience.building.service.learnt import write_learnt
from resilience.building.service.logbook import read_history
from resilience.building.settings import Learnt, LearntValue
from resilience.building.text.entries import Mark
from resilience.errors import InputError
from resilience.hazards.learning.learning import learn
from resilience.units import HOURS_PER_YEAR

START, DAYS = datetime(2018, 1, 1), 2191
YEARS = DAYS * 24 / HOURS_PER_YEAR
ON = f"hazards: {{{', '.join(f'{name}: on' for name in ON_REQUEST)}}}\n"
HEAD = "what,cause,from,to,lasted_h,n_watched,device\n"
TIMED = ("zone_works", "zone_interference", "zone_heat", "lasting_change", "software_release")


@pytest.fixture
def annexe(tmp_path):
    (tmp_path / "layouts/a").mkdir(parents=True)
    (tmp_path / "site.yaml").write_text(f"format: 1\nradio: {{predict: off}}\n{ON}")
    (tmp_path / "layouts/a/devices.csv").write_text("id,kind\nG1,gateway\nS1,sensor\n")
    return tmp_path


def seen(cause, n_watched, days, lasted_h=None):
    lasted = None if lasted_h is None else Lasted(lasted_h, lasted_h)
    strikes = []
    for day in days:
        at = START + timedelta(days=float(day))
        mark = Mark("history.csv", int(day))
        strikes.append(Strike(cause, "", "", "", Moment(at, at), lasted, mark))
    over = Moment(START, START + timedelta(days=DAYS))
    return Watch((cause,), "", "", "", n_watched, over, None, Mark("h.csv", 2), tuple(strikes))


def lessons_of(folder, *watches):
    found = learn(read_site(folder), History(("history.csv",), 1, watches, (), ()))
    return {one.key: one for one in found.found}, found.untold


def prior_shape(mean, high):
    """Shape of the gamma law of that mean with 2.5 % beyond the end of the range."""
    return optimize.brentq(lambda a: stats.gamma.ppf(0.975, a) / a - high / mean, 0.5, 200)


@pytest.mark.parametrize(
    ("key", "n_watched", "n_struck", "hours"),
    [
        *((f"{cause}.per_year", 4, 30, 10.0) for cause in TIMED),
        ("zone_water.per_year", 4, 7, None),
        ("device_mute.per_year", 40, 5, None),
        ("removed.reach_per_year", 40, 9, None),
    ],
)
def test_a_rate_is_the_gamma_law_of_count_and_time(annexe, key, n_watched, n_struck, hours):
    """By scipy, whichever end of the range is the nearer one for the law to reach beyond."""
    cause, _, name = key.partition(".")
    days = np.linspace(10, DAYS - 10, n_struck)
    found, _ = lessons_of(annexe, seen(cause, n_watched, days, hours))
    one = found[f"hazards.{key}"]
    setting = next(one for one in section(f"hazards.{cause}") if one.name == name)
    mean, low, high = setting.default, setting.low, setting.high

    def outside(shape):  # of the end that holds less
        law = stats.gamma(shape, scale=mean / shape)
        return min(law.cdf(low), law.sf(high)) - 0.025

    shape = 0.5 if outside(0.5) < 0 else optimize.brentq(outside, 0.5, 500)
    at_risk = n_watched * YEARS - n_struck * (hours or 0.0) / HOURS_PER_YEAR
    law = stats.gamma(shape + n_struck, scale=1 / (shape / mean + at_risk))
    assert one.after.value == pytest.approx(law.mean(), rel=1e-3)
    assert (one.after.low, one.after.high) == pytest.approx(law.interval(0.95), rel=1e-3)
    assert one.basis.at_risk_years == pytest.approx(at_risk)


@pytest.mark.parametrize("cause", TIMED)
def test_many_durations_bring_their_median_out(annexe, cause):
    """Sixty equal ones: the median is theirs, whatever was believed (to a few per cent)."""
    found, _ = lessons_of(annexe, seen(cause, 50, np.linspace(10, 1000, 60), 40.0))
    assert found[f"hazards.{cause}.median_h"].after.value == pytest.approx(40.0, rel=0.06)


def test_the_share_of_circuits_is_their_rate_in_units_of_the_mains(annexe):
    """Circuits lose 0.35 a year of which devices lose 0.7: a half, whatever was believed."""
    n = round(0.35 * 400 * YEARS)
    found, _ = lessons_of(annexe, seen("circuit_outage", 400, np.linspace(1, DAYS - 1, n)))
    share = found["hazards.circuit_outage.share"].after
    shape = prior_shape(0.7, 1.0)
    assert shape > 1
    assert share.value == pytest.approx((shape + n) / (shape / 0.7 + 0.7 * 400 * YEARS), rel=0.02)
    assert share.low < 0.5 < share.high


def test_a_share_is_never_more_than_all(annexe):
    found, _ = lessons_of(annexe, seen("circuit_outage", 1, np.linspace(1, DAYS - 1, 60)))
    share = found["hazards.circuit_outage.share"].after
    assert share.value == share.high == 1.0


def test_what_a_site_does_not_ask_for_is_told_only_where_somebody_watched(annexe):
    (annexe / "site.yaml").write_text("format: 1\nradio: {predict: off}\n")
    _, untold = lessons_of(annexe)
    assert not [one for one in untold if one.partition(":")[0] in ON_REQUEST]
    _, untold = lessons_of(annexe, seen("zone_works", 1, [5], 10.0))
    assert "zone_works: it is off at this site, and stays so" in untold


def test_bounds_hold_a_known_truth_as_often_as_they_say(annexe):
    """A hundred histories of rates drawn from what is believed: 95 % of bounds hold them."""
    held, rng = 0, np.random.default_rng(11)
    shape = optimize.brentq(lambda a: stats.gamma(a, scale=0.1 / a).sf(0.4) - 0.025, 0.5, 50)
    for per_year in rng.gamma(shape, 0.1 / shape, 100):
        n = rng.poisson(per_year * 30 * YEARS)
        found, _ = lessons_of(annexe, seen("zone_works", 30, rng.uniform(0, DAYS, n)))
        one = found["hazards.zone_works.per_year"].after
        held += one.low <= per_year <= one.high
    assert stats.binomtest(held, 100, 0.95).pvalue > 1e-3


def read(folder, rows):
    path = folder / "history.csv"
    path.write_text(HEAD + rows)
    return read_history([(path, None)], datetime(2026, 1, 1))


def test_a_zone_a_model_and_a_circuit_are_named_as_devices_are(annexe):
    told = read(
        annexe,
        "watched,zone_works zone_heat,2020-01-01,2021-12-31,,3,\n"
        "outage,zone_works,2020-05-01,2020-06-01,,,cellar\n"
        "watched,circuit_outage,2020-01-01,2021-12-31,,2,\n"
        "outage,circuit_outage,2020-05-01 10:00,,2,,B7\n"
        "watched,removed device_mute hardware,2020-01-01,2021-12-31,,20,\n"
        "failure,removed,2021-05-01,2021-05-09,,,\n",
    )
    assert [[one.device for one in watch.strikes] for watch in told.watches] == [
        ["cellar"],
        ["B7"],
        [""],
    ]


def test_one_row_watches_one_kind_of_thing(annexe):
    with pytest.raises(InputError) as caught:
        read(annexe, "watched,hardware zone_works,2020-01-01,2021-12-31,,3,\n")
    told = str(caught.value.faults[0])
    assert "expected a row for each of device and zone, as n_watched counts one of them" in told


def test_what_was_learnt_of_shared_causes_is_read_back(annexe):
    keys = ("hazards.circuit_outage.share", "hazards.removed.reach_per_year")
    values = tuple(LearntValue(key, 0.2, 0.1, 0.4, 3, 60.0) for key in keys)
    write_learnt(annexe, Learnt(values))
    site = read_site(annexe)
    assert site.hazards.circuit_outage.share == site.hazards.removed.reach_per_year == 0.2
    assert math.isclose(site.hazards.removed.high_per_year, 0.015)  # of which nothing was learnt
