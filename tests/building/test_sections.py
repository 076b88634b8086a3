"""Settings of site.yaml; defaults are compared with the catalogue, shapes with the design."""

import pytest

from resilience.assumptions.catalogue import default
from resilience.building.settings import Duration

LINKED = "format: 1\nradio: {predict: off}\n"


def read(folder, text):
    return folder.write(site_yaml=LINKED + text).read()


def test_what_is_not_named_keeps_its_documented_default(linked_folder):
    site = read(linked_folder, "")
    assert site.horizon_years == default("horizon_years")
    assert site.routing.hysteresis == default("routing.hysteresis")
    assert site.hazards.link_blockage.per_year == default("hazards.link_blockage.per_year")
    assert site.upkeep.repair.median_h == default("upkeep.repair.median_h")
    assert site.hand_over.isoformat() == default("calendar.hand_over")


def test_a_rate_becomes_its_mean_time_between_years_of_8766_hours(linked_folder):
    """A year is 365.25 days of 24 h = 8766 h (Julian year, IAU)."""
    site = read(linked_folder, "hazards: {hardware: {per_year: 0.5}}\n")
    assert site.hazards.hardware.mttf_h == 365.25 * 24 / 0.5


def test_a_rate_of_zero_switches_a_hazard_off(linked_folder):
    hazards = read(
        linked_folder, "hazards: {hardware: {per_year: 0}, gateway_outage: {per_year: 0.0}}\n"
    ).hazards
    assert hazards.hardware is None
    assert hazards.gateway_outage is None
    assert hazards.battery is not None


def test_all_others_off_leaves_what_is_named(linked_folder):
    hazards = read(
        linked_folder, "hazards: {all_others: off, battery: {spread: 0.2}, gateway_hardware: on}\n"
    ).hazards
    assert hazards.battery.spread == 0.2
    assert hazards.gateway_hardware.shape == 1.0
    assert hazards.hardware is hazards.early_failure is hazards.link_blockage is None


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ("mean_h: 4", Duration("exponential", mean_h=4.0)),
        ("mean_h: 4, distribution: exponential", Duration("exponential", mean_h=4.0)),
        ("mean_h: 4, distribution: fixed", Duration("fixed", mean_h=4.0)),
        ("median_h: 3, p90_h: 5", Duration("lognormal", median_h=3.0, p90_h=5.0)),
        # the catalogue's 120 h and 480 h: the 90 % point is four medians away
        ("median_h: 3", Duration("lognormal", median_h=3.0, p90_h=12.0)),
    ],
)
def test_a_duration_is_a_mean_or_a_median_with_its_ninety_percent_point(
    linked_folder, keys, expected
):
    assert read(linked_folder, f"upkeep: {{repair: {{{keys}}}}}\n").upkeep.repair == expected


def test_with_hops_the_hysteresis_is_zero_unless_it_is_stated(linked_folder):
    assert read(linked_folder, "routing: {objective: hops}\n").routing.hysteresis == 0
    stated = read(linked_folder, "routing: {objective: hops, hysteresis: 7}\n")
    assert stated.routing.hysteresis == 7


def test_a_device_takes_the_model_and_the_battery_that_its_row_names(linked_folder):
    devices = (
        "id,kind,model,battery,supply\nG1,gateway,,,\nS1,sensor,strong,,\n"
        "S2,sensor,,mine,\nR1,repeater,,,mains\n"
    )
    linked_folder.write(layouts__a__devices_csv=devices)
    site = read(
        linked_folder,
        "models: {strong: {transmit_dbm: 8, battery: mine}, gateway: {antenna_dbi: 3}}\n"
        "batteries: {mine: {capacity_mah: 500}}\n",
    )
    gateway, repeater, strong, own = site.layouts[0].devices
    assert (gateway.model.antenna_dbi, gateway.battery, repeater.battery) == (3.0, None, None)
    assert (strong.model.transmit_dbm, strong.battery.capacity_mah) == (8.0, 500.0)
    assert (own.model.transmit_dbm, own.battery.capacity_mah) == (0.0, 500.0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("horizon_years: 0", 'key horizon_years: found "0"; expected a number in years, above 0'),
        ("horizon_years: five", 'found "five"; expected a number in years'),
        ("horizon_years: '5'", "without quotes"),
        ("horizon_years: .inf", 'found ".inf"; expected a number in years'),
        ("horizon_years: [5]", "key horizon_years: found a list; expected a single value"),
        ("horizn_years: 5", "did you mean horizon_years?"),
        ("routing: {hysteresis: 1.5}", 'found "1.5"; expected a whole number'),
        ("routing: {objective: hop}", 'found "hop"; expected etx or hops'),
        ("routing: 5", 'key routing: found "5"; expected keys and values'),
        ("models: {a: {battery: two_aa}}", 'models.a.battery: found "two_aa"; expected a battery'),
        ("models: {a/b: {}}", 'key models.a/b: found "a/b"; expected an id without'),
        ("hazards: {hardwear: off}", "did you mean hardware?"),
        ("hazards: {hardware: {mttf_h: 9, per_year: 1}}", "expected either mttf_h or per_year"),
        ("hazards: {hardware: {mttf_h: -9}}", 'hazards.hardware.mttf_h: found "-9"'),
        ("hazards: {hardware: never}", 'found "never"; expected on or off'),
        ("hazards: {all_others: maybe}", 'found "maybe"; expected on or off'),
        (
            "hazards: {link_blockage: {mean_h: 1, median_h: 2}}",
            "expected either mean_h or median_h",
        ),
        ("upkeep: {repair: {p90_h: 3}}", 'p90_h: found "3"; expected median_h beside it'),
        ("upkeep: {repair: {median_h: 5, p90_h: 3}}", "expected at least median_h, 5"),
        ("upkeep: {repair: {distribution: fixed}}", "expected mean_h with it, or lognormal"),
        ("upkeep: {repair: {mean_h: 1, distribution: lognormal}}", "exponential or fixed"),
        ("calendar: {hand_over: 2030-02-30}", 'found "2030-02-30"; expected a date such as'),
        ('name: "a\\u202eb"', 'key name: found "a\\u202eb"; expected text without control'),
        ("format: 2", "the same key again"),
    ],
)
def test_a_bad_value_is_told_with_its_key_and_what_was_wanted(linked_folder, text, message):
    faults = linked_folder.write(site_yaml=LINKED + text + "\n").faults()
    assert any(message in fault and "site.yaml, line 3" in fault for fault in faults), faults


@pytest.mark.parametrize("first", ["name: a", "format: 2", "format: one"])
def test_the_format_must_be_one(linked_folder, first):
    (fault,) = linked_folder.write(site_yaml=first + "\nradio: {predict: off}\n").faults()
    assert "key format" in fault


def test_a_value_far_outside_its_range_is_told_and_kept(linked_folder):
    # listed range of the rate is 0.06 to 50: five times 50 is 250
    told = read(linked_folder, "hazards: {link_blockage: {per_year: 251}}\n")
    assert told.hazards.link_blockage.per_year == 251
    assert any(
        "hazards.link_blockage.per_year: is 251 meant? It is more" in note for note in told.notes
    )
    quiet = read(linked_folder, "hazards: {link_blockage: {per_year: 249}}\n")
    assert not any("outside" in note for note in quiet.notes)


@pytest.mark.parametrize(
    ("page", "told"),
    [
        # 8766 h / 0.025 a year is 350,640 h; the range of 0.005 to 0.11 a year is one of 79,691 h
        # to 1,753,200 h, and five times less is 15,938 h
        ("hazards: {hardware: {mttf_h: 15938}}", "hardware.mttf_h: is 15,938 meant?"),
        ("hazards: {hardware: {mttf_h: 15939}}", ""),
        # half of the gateway's outages last 0.25 to 8 h, and nine of ten eight times as long: 1.5
        # and 12 h by default
        ("hazards: {gateway_outage: {mean_h: 40}}", ""),
        ("hazards: {gateway_outage: {mean_h: 41}}", "gateway_outage.mean_h: is 41 meant?"),
        ("hazards: {gateway_outage: {p90_h: 321, median_h: 2}}", "p90_h: is 321 meant?"),
        ("hazards: {gateway_outage: {p90_h: 319, median_h: 2}}", ""),
        ("batteries: {big: {capacity_mah: 1000000}}", "big.capacity_mah: is 1,000,000 meant?"),
    ],
)
def test_means_that_stand_for_a_rate_or_a_median_are_held_to_its_range(linked_folder, page, told):
    text = f"format: 1\nradio: {{predict: off}}\n{page}\n"
    notes = linked_folder.write(site_yaml=text).read().notes
    asked = [note for note in notes if "meant?" in note]
    assert len(asked) == bool(told), asked
    assert all(told in note for note in asked)
