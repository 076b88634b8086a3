"""What a history says to a site: counted by hand, and played back from known truths."""

import math
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from scipy import optimize, stats

from resilience.building.files.folder import read_site
from resilience.building.service.events import (
    History,
    Lasted,
    Moment,
    Strike,
    Took,
    Watch,
    hours_between,
)
from resilience.building.text.entries import Mark
from resilience.hazards.learning.evidence import lives_of, of_known_age, strikes_of
from resilience.hazards.learning.learning import learn
from resilience.hazards.learning.lessons import Conflict
from resilience.units import HOURS_PER_YEAR

START = datetime(2018, 1, 1)
END = datetime(2024, 1, 1)  # 2191 days
MARK = Mark("history.csv", 2)
FILES = {
    "site.yaml": "format: 1\nname: Invented annexe\nradio: {predict: off, environment: quiet}\n",
    "layouts/a/devices.csv": "id,kind\nG1,gateway\nS1,sensor\n",
    "layouts/a/links.csv": "a,b,prr\nG1,S1,0.9\n",
}


@pytest.fixture
def site(tmp_path):
    def read(**changes):
        for name, text in (FILES | changes).items():
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return read_site(tmp_path)

    return read


def watch(*causes, n=1, new=START, strikes=(), first=START):
    return Watch(causes, "", "", "", n, Moment(first, END), new, MARK, tuple(strikes))


def strike(cause, day, hours=None, device=""):
    at = START + timedelta(days=day)
    return Strike(cause, "", "", device, Moment(at, at), hours, Mark("history.csv", day))


def history(*watches, repairs=(), cells=()):
    return History(("history.csv",), 1, watches, tuple(repairs), tuple(cells))


def lesson(lessons, key):
    return next(one for one in lessons.found if one.key == key)


def test_time_away_is_not_at_risk():
    outage = strike("gateway_outage", 100, Lasted(300.0, 300.0))
    last = strike("gateway_outage", 2190, Lasted(5.0, math.inf))  # over after the watch, if ever
    seen = strikes_of([watch("gateway_outage", strikes=(outage, last))], "gateway_outage")
    assert seen.n == 2
    assert seen.at_risk_years == pytest.approx((2191 * 24 - 300 - 24) / HOURS_PER_YEAR)


def test_each_device_lives_until_it_fails_and_anew_when_it_is_mended():
    """Three devices watched from their second year on; one fails twice, one once unnamed."""
    first = START + timedelta(days=365)
    strikes = (
        strike("hardware", 400, Lasted(48.0, 48.0), "S1"),
        strike("hardware", 500, None),
        strike("hardware", 900, Lasted(24.0, math.inf), "S1"),
    )
    lives = lives_of([watch("hardware", n=3, strikes=strikes, first=first)], "hardware")
    begun, whole = 365 * 24.0, 2191 * 24.0
    assert lives.failed_h == (400 * 24.0, 498 * 24.0, 500 * 24.0)
    assert lives.spans_h == {
        (begun, 400 * 24.0): 1,
        (0.0, 498 * 24.0): 1,  # mended on day 402, failed again and not mended
        (begun, 500 * 24.0): 1,
        (0.0, whole - 500 * 24.0): 1,  # nobody wrote down when: at once
        (begun, whole): 1,
    }


def test_more_unnamed_failures_than_devices_have_no_age():
    """Two devices and three failures: one has failed again, and nobody knows which."""
    fails = [strike("hardware", 100 * k + 50) for k in range(3)]
    crowded, known = watch("hardware", n=2, strikes=fails), watch("hardware", n=3, strikes=fails)
    assert of_known_age([crowded, known], "hardware", known=True) == [known]
    assert of_known_age([crowded, known], "hardware", known=False) == [crowded]


def test_an_outage_rate_is_the_gamma_law_of_count_and_time(site):
    """Before: mean 6 and 2.5 % above 18; 12 outages in 6 years: (a + 12) / (a / 6 + 6)."""
    outages = [strike("gateway_outage", 100 * n + 50) for n in range(12)]
    lessons = learn(site(), history(watch("gateway_outage", strikes=outages)))
    found = lesson(lessons, "hazards.gateway_outage.per_year")
    shape = optimize.brentq(lambda a: stats.gamma.ppf(0.975, a) / a - 18 / 6, 0.5, 50)
    years = hours_between(START, END) / HOURS_PER_YEAR
    assert found.before.value == pytest.approx(6.0)
    assert found.after.value == pytest.approx((shape + 12) / (shape / 6 + years), rel=1e-4)
    assert found.after.low < found.after.value < found.after.high
    assert found.after.width < found.before.width
    assert found.basis.n_seen == 12


def test_what_the_site_states_is_what_was_believed(site):
    text = FILES["site.yaml"] + "hazards:\n  gateway_outage: {per_year: 1}\n"
    lessons = learn(site(**{"site.yaml": text}), history(watch("gateway_outage")))
    assert lesson(lessons, "hazards.gateway_outage.per_year").before.value == pytest.approx(1.0)


def test_blockages_are_held_against_the_rate_of_their_environment(site):
    seen = history(watch("link_blockage", n=4))
    found = lesson(learn(site(), seen), "hazards.link_blockage.per_year")
    assert (found.before.value, found.span) == (pytest.approx(0.5), (0.06, 2.0))


@pytest.mark.parametrize(
    ("n", "conflict"), [(0, Conflict.BELOW), (30, Conflict.NONE), (200, Conflict.ABOVE)]
)
def test_a_history_beyond_the_range_is_a_conflict(site, n, conflict):
    """6 years of one gateway: 12 to 108 outages are within 2 to 18 a year; 200 or none are not."""
    outages = [strike("gateway_outage", 10 * k + 5) for k in range(n)]
    lessons = learn(site(), history(watch("gateway_outage", strikes=outages)))
    assert lesson(lessons, "hazards.gateway_outage.per_year").conflict is conflict


@pytest.mark.parametrize(("n", "conflict"), [(3, Conflict.NONE), (120, Conflict.ABOVE)])
def test_hardware_that_fails_beyond_the_range_is_a_conflict(site, n, conflict):
    """30 devices, 180 device-years: 0.11 a year are 20 failures; 120 are far more."""
    fails = [strike("hardware", 18 * k + 9, None, f"S{k % 30}") for k in range(n)]
    lessons = learn(site(), history(watch("hardware", n=30, strikes=fails)))
    assert lesson(lessons, "hazards.hardware.per_year").conflict is conflict


def test_repairs_and_failures_both_tell_how_long_mending_takes(site):
    fails = [strike("hardware", 100 * k + 5, Lasted(20.0, 20.0), f"S{k}") for k in range(10)]
    seen = history(
        watch("hardware", n=30, strikes=fails),
        repairs=[Took("battery", Lasted(20.0, 20.0))] * 10,
    )
    found = lesson(learn(site(), seen), "upkeep.repair.median_h")
    assert found.basis.n_seen == 20
    assert found.after.value == pytest.approx(20, rel=0.2)
    assert found.conflict is Conflict.BELOW  # the range begins at 24 h, and all took exactly 20
    p90 = lesson(learn(site(), seen), "upkeep.repair.p90_h")
    assert p90.after.value < p90.before.value


def test_an_exponential_duration_is_taken_by_its_points(site):
    """Median ln 2 and 90 % point ln 10 times the mean."""
    text = FILES["site.yaml"] + "upkeep:\n  repair: {mean_h: 100}\n"
    seen = history(repairs=[Took("hardware", Lasted(24.0, 72.0))])
    lessons = learn(site(**{"site.yaml": text}), seen)
    assert lesson(lessons, "upkeep.repair.median_h").before.value == pytest.approx(69.3, abs=0.1)
    assert lesson(lessons, "upkeep.repair.p90_h").before.value == pytest.approx(230.3, abs=0.1)


def test_what_is_off_stays_off_and_what_nobody_watched_is_told(site):
    text = FILES["site.yaml"] + "hazards:\n  gateway_outage: off\nupkeep:\n  repair: off\n"
    seen = history(
        watch("gateway_outage", strikes=[strike("gateway_outage", 9)]),
        repairs=[Took("hardware", Lasted(24.0, 72.0))],
    )
    lessons = learn(site(**{"site.yaml": text}), seen)
    assert lessons.found == ()
    assert lessons.learnt is None
    untold = "\n".join(lessons.untold)
    assert "gateway_outage: it is off at this site, and stays so" in untold
    assert "upkeep.repair: it is off at this site" in untold
    assert "mains_outage: nobody watched for it" in untold


def test_one_flat_set_says_nothing_of_the_spread(site):
    one = Took("leaf", Lasted(20_000.0, 20_000.0))
    lessons = learn(site(), history(cells=[one]))
    assert lessons.found == ()
    assert any("no group with two sets" in told for told in lessons.untold)
    assert lessons.cells[0].n_flat == 1


def test_cells_alike_narrow_the_spread_and_tell_their_life(site):
    lives = (19_000.0, 20_000.0, 20_500.0, 21_000.0, 19_500.0, 20_200.0)
    cells = [Took("leaf", Lasted(one, one)) for one in lives]
    cells += [Took("leaf", Lasted(15_000.0, math.inf))]
    lessons = learn(site(), history(cells=cells))
    found = lesson(lessons, "hazards.battery.spread")
    # Their own coefficient of variation is 0.036.
    assert 0.03 < found.after.value < 0.08
    assert (found.basis.n_seen, found.basis.n_open) == (6, 1)
    years = lessons.cells[0].mean_years
    assert years.low < 20_033 / HOURS_PER_YEAR < years.high


def test_a_history_of_a_known_world_gives_it_back(site):
    """A few hundred devices over six years: 0.2 failures a year at slope 1.8, mended in days."""
    luck = np.random.default_rng(4)
    scale_h = HOURS_PER_YEAR / 0.2 / math.gamma(1 + 1 / 1.8)
    fails = []
    for k in range(300):
        at_h = scale_h * luck.weibull(1.8)
        while at_h < hours_between(START, END):
            took_h = 50.0 * math.exp(0.9 * luck.standard_normal())
            at = START + timedelta(hours=at_h)
            lasted = Lasted(took_h, took_h)
            fails.append(Strike("hardware", "", "", f"S{k}", Moment(at, at), lasted, MARK))
            at_h += took_h + scale_h * luck.weibull(1.8)
    text = FILES["site.yaml"] + "hazards:\n  early_failure: off\n"
    fails.sort(key=lambda one: one.at.earliest)
    lessons = learn(site(**{"site.yaml": text}), history(watch("hardware", n=300, strikes=fails)))
    truths = {
        "hazards.hardware.per_year": 0.2,
        "hazards.hardware.shape": 1.8,
        "upkeep.repair.median_h": 50.0,
        "upkeep.repair.p90_h": 50.0 * math.exp(0.9 * 1.2816),
    }
    for key, truth in truths.items():
        found = lesson(lessons, key)
        assert found.after.low < truth < found.after.high, key
        assert found.after.width < 0.4, key


def test_devices_watched_for_two_causes_count_their_years_once(site):
    two = (watch("hardware", n=10), watch("link_blockage", n=40))
    lessons = learn(site(), history(*two, replace(two[0], causes=("mains_outage",))))
    assert lessons.device_years == pytest.approx(10 * 2191 * 24 / HOURS_PER_YEAR)


def test_lessons_have_json_of_plain_values(site):
    told = learn(site(), history(watch("gateway_outage"))).to_json()
    assert told["learnt"][0]["conflict"] == "below"
    assert told["n_sites"] == 1
    assert isinstance(told["cannot_tell"], list)
