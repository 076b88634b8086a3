"""Models, cells and temperatures as a site states them; defaults are those of the catalogue."""

import pytest

from resilience.assumptions.catalogue import default

LINKED = "format: 1\nradio: {predict: off}\n"
ROWS = """\
id,kind,battery,batch,zone
G1,gateway,,,
S1,sensor,mine,b7,yard
S2,sensor,two_aa_alkaline,,store
"""
YARD_C = (-1, 0, 4, 9, 14, 17, 19, 18, 15, 10, 4, 1)


def devices(folder, text):
    site = folder.write(site_yaml=LINKED + text, layouts__a__devices_csv=ROWS).read()
    return {device.id: device for device in site.layouts[0].devices}


MINE = "batteries: {mine: {chemistry: alkaline, capacity_mah: 5000}}\n"


def test_cells_are_what_their_chemistry_says_unless_they_say_otherwise(linked_folder):
    found = devices(linked_folder, MINE)["S1"].battery
    assert (found.capacity_mah, found.usable_share) == (5000.0, default("batteries.*.usable_share"))
    for key in ("self_discharge_per_year", "doubling_c", "at_0_c_share", "at_minus_20_c_share"):
        assert getattr(found, key) == default(f"chemistries.alkaline.{key}")
    own = MINE.replace("5000", "5000, self_discharge_per_year: 0.1")
    found = devices(linked_folder, own)["S1"].battery
    assert found.self_discharge_per_year == 0.1
    assert found.at_0_c_share == default("chemistries.alkaline.at_0_c_share")


def test_a_chemistry_that_the_site_states_counts_for_all_cells_of_it(linked_folder):
    stated = MINE + "chemistries: {alkaline: {self_discharge_per_year: 0.04}}\n"
    found = devices(linked_folder, stated)
    assert {found[id].battery.self_discharge_per_year for id in ("S1", "S2")} == {0.04}
    assert found["S2"].battery.doubling_c == default("chemistries.alkaline.doubling_c")


def test_a_known_profile_keeps_what_the_site_does_not_state_of_it(linked_folder):
    stated = MINE.replace("}}", "}, two_aa_alkaline: {capacity_mah: 2800}}")
    found = devices(linked_folder, stated)["S2"].battery
    assert (found.capacity_mah, found.chemistry) == (2800.0, "alkaline")
    assert found.usable_share == default("batteries.two_aa_alkaline.usable_share")
    assert found.at_0_c_share == default("chemistries.alkaline.at_0_c_share")


def test_cells_without_a_chemistry_are_those_of_the_usual_one(linked_folder):
    found = devices(linked_folder, "batteries: {mine: {capacity_mah: 5000}}\n")["S1"].battery
    assert found.chemistry == default("batteries.*.chemistry")
    assert found.at_0_c_share == default("batteries.*.at_0_c_share")


def test_a_device_is_as_warm_as_its_zone_else_as_everywhere(linked_folder):
    text = (
        MINE
        + f"temperatures: {{everywhere: {{all_year_c: 23}}, yard: {{by_month_c: {[*YARD_C]}}}}}\n"
    )
    found = devices(linked_folder, text)
    assert found["S1"].by_month_c == YARD_C
    assert found["S2"].by_month_c == (23.0,) * 12
    assert devices(linked_folder, MINE)["S1"].by_month_c == (20.0,) * 12


def test_a_level_has_a_temperature_too_and_a_zone_comes_before_it(folder):
    site = folder.read()
    page = (folder.path / "site.yaml").read_text(encoding="utf-8")
    folder.write(
        site_yaml=page
        + "temperatures: {upper: {all_year_c: 5}, roof: {all_year_c: -5}, ground: {}}\n",
        layouts__a__devices_csv="id,kind,level,x_m,y_m,zone\nG1,gateway,ground,1,1,\n"
        "S1,sensor,upper,5,5,\nS2,sensor,upper,8,5,roof\n",
    )
    found = {device.id: device.by_month_c[0] for device in folder.read().layouts[0].devices}
    assert found == {"G1": 20.0, "S1": 5.0, "S2": -5.0}
    assert {device.by_month_c[0] for device in site.layouts[0].devices} == {20.0}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("batteries: {mine: {chemistry: alkalin}}", 'found "alkalin"; expected lithium_iron or'),
        ("batteries: {mine: {chemistry: alkalin}}", "did you mean alkaline?"),
        ("chemistries: {alkalin: {}}", "did you mean alkaline?"),
        (
            "batteries: {mine: {self_discharge_per_year: 1.0}}",
            'batteries.mine.self_discharge_per_year: found "1.0"; expected a share per year, '
            "at least 0 and at most 0.99",
        ),
        ("batteries: {mine: {self_discharge_per_year: 3}}", "at least 0 and at most 0.99"),
        ("batteries: {mine: {self_discharge_per_year: -0.01}}", 'found "-0.01"; expected'),
        ("batteries: {mine: {at_0_c_share: 0}}", "expected a number, at least 0.05 and at most 1"),
        ("batteries: {mine: {doubling_c: 0}}", 'batteries.mine.doubling_c: found "0"; expected'),
        ("models: {a: {leaf_ua: -3}}", 'models.a.leaf_ua: found "-3"; expected a number in uA'),
        ("models: {a: {forwarding_ua: -1}}", 'found "-1"; expected a number in uA'),
        (
            "models: {a: {sleep_ua: 2, report_uc: -5, reports_per_h: 60}}",
            'models.a.report_uc: found "-5"; expected a number in uC',
        ),
        (
            "models: {a: {sleep_ua: 2, report_uc: 50}}",
            "sleep_ua without reports_per_h; expected reports_per_h beside it",
        ),
        ("models: {a: {forwarded_uc: 9}}", "forwarded_uc without sleep_ua; expected sleep_ua and"),
        (
            "models: {a: {sleep_ua: 2, leaf_ua: 30, report_uc: 5, reports_per_h: 1}}",
            "expected either sleep_ua or leaf_ua",
        ),
        ("models: {a: {sendings: 0.9, sleep_ua: 1}}", 'models.a.sendings: found "0.9"; expected'),
        (
            f"temperatures: {{everywhere: {{by_month_c: {[*YARD_C[:11]]}}}}}",
            "key temperatures.everywhere.by_month_c: found 11 values; expected a list of twelve "
            "temperatures in C, from January on",
        ),
        ("temperatures: {everywhere: {by_month_c: 4}}", 'found "4"; expected a list of twelve'),
        ("temperatures: {everywhere: {by_month_c: []}}", "found 0 values; expected a list of"),
        (
            f"temperatures: {{everywhere: {{by_month_c: {[*YARD_C[:11], 'x']}}}}}".replace("'", ""),
            'found "x"; expected a number in C',
        ),
        (
            f"temperatures: {{everywhere: {{by_month_c: {[*YARD_C]}, all_year_c: 3}}}}",
            "expected either all_year_c or by_month_c",
        ),
        ("temperatures: {everywhere: {all_year_c: -60}}", 'found "-60"; expected a number in C'),
        ("temperatures: {everywhere: {all_year_c: 293}}", 'found "293"; expected a number in C'),
        ("temperatures: {everywhere: {mean_c: 3}}", "key temperatures.everywhere.mean_c"),
        ("temperatures: {yart: {all_year_c: 3}}", 'found "yart"; expected everywhere, a level'),
        ("temperatures: {yart: {all_year_c: 3}}", "did you mean yard?"),
        ("temperatures: 20", 'key temperatures: found "20"; expected keys and values'),
        ("hazards: {battery: {batch_share: 1.1}}", 'found "1.1"; expected a number, at least 0'),
    ],
)
def test_a_bad_value_is_told_with_its_line_and_what_was_wanted(linked_folder, text, message):
    rows = ROWS.replace("mine", "")
    faults = linked_folder.write(
        site_yaml=LINKED + text + "\n", layouts__a__devices_csv=rows
    ).faults()
    assert any(message in fault and "site.yaml, line 3" in fault for fault in faults), faults


def test_cells_that_nobody_knows_are_told_with_the_nearest(linked_folder):
    (fault,) = linked_folder.write(
        site_yaml=LINKED, layouts__a__devices_csv=ROWS.replace("mine", "alkaline")
    ).faults()
    assert fault == (
        'layouts/a/devices.csv, line 3, column battery: found "alkaline"; expected a battery '
        "profile; did you mean two_aa_alkaline?"
    )
