"""Sections upkeep and calendar: what they say, and what is refused with line and way out."""

import pytest

from resilience.building.files.folder import read_site
from resilience.building.settings import Duration, Learnt, LearntValue
from resilience.building.stated.upkeep import upkeep_of
from resilience.building.text.documents import read_document
from resilience.building.text.entries import Findings
from resilience.building.upkeep import NO_PRICES, Prices, Rounds, Spares

LINKED = "format: 1\nradio: {predict: off}\n"


def read(folder, text):
    return folder.write(site_yaml=LINKED + text + "\n").read()


def test_what_is_left_out_asks_nobody_to_wait(linked_folder):
    site = read(linked_folder, "")
    upkeep, hours = site.upkeep, site.working_hours
    assert (upkeep.alarm_h, upkeep.crews, upkeep.mends) == (0, "unlimited", "device")
    assert upkeep.response is None
    assert (hours.opens_h, hours.closes_h, hours.days) == (0, 24, (0, 1, 2, 3, 4, 5, 6))


def test_every_key_is_read(linked_folder):
    text = (
        "upkeep: {alarm_h: 48, alarm_on: down, crews: 2, mends: site, response: {median_h: 12}}\n"
        "calendar: {opens_h: 7.5, closes_h: 16, access_days: mon-wed fri}"
    )
    site = read(linked_folder, text)
    upkeep, hours = site.upkeep, site.working_hours
    assert (upkeep.alarm_h, upkeep.alarm_on, upkeep.crews, upkeep.mends) == (48, "down", 2, "site")
    assert upkeep.response == Duration("lognormal", median_h=12, p90_h=48)  # four times, by default
    assert (hours.opens_h, hours.closes_h, hours.days) == (7.5, 16, (0, 1, 2, 4))


@pytest.mark.parametrize("text", ["upkeep: {response: off}", "upkeep: {response: }"])
def test_a_response_can_be_off(linked_folder, text):
    assert read(linked_folder, text).upkeep.response is None


def test_crews_may_stand_among_the_repairs(linked_folder):
    upkeep = read(linked_folder, "upkeep: {repair: {mean_h: 10, crews: 3}}").upkeep
    assert (upkeep.crews, upkeep.repair) == (3, Duration("exponential", mean_h=10))
    assert read(linked_folder, "upkeep: {repair: {crews: unlimited}}").upkeep.crews == "unlimited"


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("upkeep: {alarm_h: 0}", "upkeep.alarm_h"),
        ("upkeep: {repair: off}", "upkeep.repair.median_h"),
        ("upkeep: {response: {median_h: 12}}", "upkeep.response.median_h"),
        ("upkeep: {repair: {crews: 3}}", "upkeep.crews"),
        ("calendar: {opens_h: 0}", "calendar.opens_h"),
    ],
)
def test_what_a_site_states_of_upkeep_is_known_to_be_its_own(linked_folder, text, key):
    assert not read(linked_folder, "").states(key)
    assert read(linked_folder, text).states(key)


def test_other_defaults_of_upkeep_hold_where_a_site_states_nothing(linked_folder):
    read(linked_folder, "upkeep: {repair: {median_h: 9, p90_h: 10}}\ncalendar: {opens_h: 6}")
    keys = ("alarm_h", "repair.median_h", "gateway_repair.median_h", "response.median_h")
    assumed = dict.fromkeys((f"upkeep.{key}" for key in keys), 30.0)
    assumed |= {"calendar.opens_h": 10.0, "calendar.closes_h": 15.0}
    site = read_site(linked_folder.path, assumed=assumed)
    assert site.upkeep.alarm_h == site.upkeep.gateway_repair.median_h == 30
    assert site.upkeep.repair.median_h == 9
    assert site.upkeep.response is None  # nobody comes later for a response that nobody stated
    assert (site.working_hours.opens_h, site.working_hours.closes_h) == (6, 15)


@pytest.mark.parametrize(
    ("days", "read_as"),
    [
        ("every", (0, 1, 2, 3, 4, 5, 6)),
        ("mon", (0,)),
        ("Mon, Thu", (0, 3)),
        ("fri-mon", (0, 4, 5, 6)),
    ],
)
def test_days_of_access_are_words_and_spans(linked_folder, days, read_as):
    site = read(linked_folder, f'calendar: {{access_days: "{days}"}}')
    assert site.working_hours.days == read_as


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("upkeep: {alarm_h: -1}", 'key upkeep.alarm_h: found "-1"; expected'),
        ("upkeep: {alarm_on: light}", 'found "light"; expected dark or down'),
        ("upkeep: {crews: 0}", 'key upkeep.crews: found "0"; expected unlimited or a whole'),
        ("upkeep: {crews: 1.5}", 'found "1.5"; expected unlimited or a whole number'),
        ("upkeep: {crews: many}", 'found "many"; expected unlimited or a whole number from 1'),
        ("upkeep: {repair: {crews: 0}}", 'key upkeep.repair.crews: found "0"; expected unlimited'),
        ("upkeep: {crews: 1, repair: {crews: 2}}", "found crews in both places; expected it once"),
        ("upkeep: {mends: everything}", 'found "everything"; expected device or site'),
        ("upkeep: {response: {median_h: -3}}", 'key upkeep.response.median_h: found "-3"'),
        ("upkeep: {respons: off}", "did you mean response?"),
        ("upkeep: {repair: {mean_h: 0}}", 'key upkeep.repair.mean_h: found "0"'),
        (
            "calendar: {opens_h: 9, closes_h: 9}",
            "key calendar.closes_h: found no working hours; expected closes_h at least 0.1 h after "
            "opens_h, 9: nothing would ever be mended",
        ),
        ("calendar: {opens_h: 24}", 'key calendar.opens_h: found "24"; expected hours, at least 0'),
        ("calendar: {closes_h: 25}", 'key calendar.closes_h: found "25"; expected'),
        (
            "calendar: {access_days: never}",
            'key calendar.access_days: found "never"; expected every, or some of mon tue',
        ),
        ('calendar: {access_days: ","}', "expected every, or some of mon tue"),
        ("calendar: {access_days: mon-funday}", "expected every, or some of mon tue"),
    ],
)
def test_a_bad_value_is_told_with_its_key_and_what_was_wanted(linked_folder, text, message):
    faults = linked_folder.write(site_yaml=LINKED + text + "\n").faults()
    assert any(message in fault and "site.yaml, line 3" in fault for fault in faults), faults


def test_an_alarm_that_nobody_waits_for_is_told(linked_folder):
    notes = read(linked_folder, "upkeep: {alarm_on: down}").notes
    assert any("upkeep.alarm_on: it has no say as long as alarm_h is 0" in note for note in notes)


@pytest.mark.parametrize(
    ("text", "counted_twice"),
    [
        ("{alarm_h: 24, response: {mean_h: 5}}", "alarm_h and response"),
        ("{alarm_h: 24, crews: 2}", "alarm_h"),
        ("{crews: 1, response: off}", ""),
    ],
)
def test_a_learnt_repair_is_told_to_hold_what_comes_before_the_work(tmp_path, text, counted_twice):
    learnt = Learnt((LearntValue("upkeep.repair.median_h", 90, 60, 120, 12, 0),))
    (tmp_path / "a.yaml").write_text(f"upkeep: {text}\n")
    findings = Findings()
    found = read_document(tmp_path / "a.yaml", "a.yaml", findings)
    upkeep = upkeep_of(found.entries["upkeep"], findings, learnt)
    assert upkeep.repair.median_h == 90
    told = any(f"so it holds {counted_twice} already" in note for note in findings.notes)
    assert told == bool(counted_twice)


def test_one_setting_can_be_changed_in_memory(linked_folder):
    site = read(linked_folder, "upkeep: {alarm_h: 24, mends: site}")
    changed = site.with_setting("upkeep.crews", 1)
    assert (changed.upkeep.crews, changed.upkeep.alarm_h, changed.upkeep.mends) == (1, 24, "site")
    assert changed.with_setting("upkeep.crews", "unlimited") == site
    slow = site.with_setting("upkeep.response.mean_h", 5.0).upkeep
    assert slow.response == Duration("exponential", mean_h=5)


def test_rounds_spares_and_prices_are_there_only_where_they_are_stated(linked_folder):
    site = read(linked_folder, "")
    assert (site.upkeep.rounds, site.upkeep.spares, site.upkeep.resurvey) == (None, None, False)
    assert site.prices == NO_PRICES
    off = read(linked_folder, "upkeep: {rounds: off, spares: off}").upkeep
    assert (off.rounds, off.spares) == (None, None)


def test_rounds_spares_and_prices_are_read(linked_folder):
    text = (
        "upkeep: {rounds: {every_years: 4, below_charge_share: 0.3}, alarm_h: 24, resurvey: on,\n"
        "  spares: {devices: 2, median_h: 48, dead_share: 0.02}}\n"
        "prices: {currency: EUR, device: 80, visit: 0}"
    )
    site = read(linked_folder, text)
    assert site.upkeep.rounds == Rounds(4, 0, 0.3, 0.25)
    delivery = Duration("lognormal", median_h=48, p90_h=144)  # three times, by default
    assert site.upkeep.spares == Spares(2, "unlimited", 0.02, delivery)
    assert site.upkeep.resurvey is True
    assert site.prices == Prices("EUR", device=80, visit=0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("upkeep: {rounds: {every_years: 0}}", 'key upkeep.rounds.every_years: found "0"; exp'),
        ("upkeep: {rounds: {service_h: -1}}", 'key upkeep.rounds.service_h: found "-1"; expected'),
        ("upkeep: {rounds: {each: 3}}", "upkeep.rounds.each"),
        ("upkeep: {rounds: {below_charge_share: 30}}", 'found "30"; expected'),
        (
            "upkeep: {spares: {devices: -1}}",
            'found "-1"; expected unlimited or a whole number',
        ),
        ("upkeep: {spares: {devices: many}}", 'found "many"; expected unlimited or a whole'),
        ("upkeep: {spares: {dead_share: 1}}", 'key upkeep.spares.dead_share: found "1"; expected'),
        ("upkeep: {resurvey: perhaps}", 'found "perhaps"; expected on or off'),
        ("prices: {device: -1}", 'key prices.device: found "-1"; expected'),
        ("prices: {visits: 10}", "did you mean visit?"),
    ],
)
def test_bad_rounds_spares_and_prices_are_told(linked_folder, text, message):
    faults = linked_folder.write(site_yaml=LINKED + text + "\n").faults()
    assert any(message in fault and "site.yaml, line 3" in fault for fault in faults), faults


def test_a_resurvey_that_nobody_is_called_for_is_told(linked_folder):
    notes = read(linked_folder, "upkeep: {resurvey: on}").notes
    assert any("upkeep.resurvey: it has no say as long as nobody is called" in one for one in notes)


def test_one_setting_of_rounds_or_spares_can_be_changed_in_memory(linked_folder):
    site = read(linked_folder, "upkeep: {rounds: {every_years: 4}}")
    changed = site.with_setting("upkeep.rounds.older_than_years", 2.0)
    assert changed.upkeep.rounds == Rounds(4, 2, 0, 0.25)
    assert site.with_setting("upkeep.spares.devices", 3).upkeep.spares.devices == 3
