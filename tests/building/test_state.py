"""``state.csv``: how a site in service stands today, and what is wrong with such a table."""

from datetime import date

import pytest

from resilience.building.stated.standing import AS_NEW, InService
from resilience.units import MS_PER_DAY

SITE = """\
format: 1
building: {levels: [{id: ground}], outline: [[0, 0], [20, 0], [20, 10], [0, 10]]}
calendar: {hand_over: 2030-01-01, today: 2033-01-01}
"""
DEVICES = (
    "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,5,5\nS2,sensor,ground,8,5\n"
)
HEADER = "id,in_service_since,cells_since,charge_left_share,down_since\n"


@pytest.fixture
def served(empty_folder):
    """A site of a gateway and two sensors with such rows in its table."""

    def with_rows(*rows, site=SITE):
        table = HEADER + "".join(f"{row}\n" for row in rows)
        return empty_folder.write(site_yaml=site, layouts__a__devices_csv=DEVICES, state_csv=table)

    return with_rows


def test_a_row_says_how_old_a_device_and_its_cells_are(served):
    site = served("S1,2030-01-01,2032-12-30,,", "S2,2032-01-01,,,2032-12-31").read()
    assert site.standing.devices == (
        InService("S1", date(2030, 1, 1), date(2032, 12, 30)),
        InService("S2", date(2032, 1, 1), date(2032, 1, 1), None, date(2032, 12, 31)),
    )
    days = (2030, 2031, 2032)  # the last a leap year
    assert site.standing.age_ms("S1") == (365 * len(days) + 1) * MS_PER_DAY
    assert site.standing.cells_age_ms("S1") == 2 * MS_PER_DAY
    assert site.standing.cells_age_ms("S2") == 366 * MS_PER_DAY
    assert [site.standing.is_down(id) for id in ("G1", "S1", "S2")] == [False, False, True]


def test_a_measured_charge_stands_in_the_place_of_the_age_of_the_cells(served):
    standing = served("S1,2030-01-01,2031-01-01,0.4,").read().standing
    assert standing.left_share("S1") == 0.4
    assert standing.left_share("S2") is None


def test_lifetimes_begin_today_where_there_is_a_table_and_at_hand_over_else(served):
    site = served("S1,2030-01-01,,,")
    assert site.read().begins == date(2033, 1, 1)
    (site.path / "state.csv").unlink()
    bare = site.read()
    assert bare.begins == date(2030, 1, 1)
    assert bare.standing == AS_NEW
    assert any("no say" in note for note in bare.notes)


def test_devices_that_the_table_leaves_out_are_told_to_start_as_if_new(served):
    notes = served("S1,2030-01-01,,,").read().notes
    told = [note for note in notes if note.startswith("state.csv")]
    assert told == ["state.csv tells of 1 of 3 devices; the others start as if new: G1, S2."]
    assert not any("state.csv" in note for note in served(*ALL).read().notes)


ALL = ("G1,2030-01-01,,,", "S1,2030-01-01,,,", "S2,2030-01-01,,,")


@pytest.mark.parametrize(
    ("row", "where", "wanted"),
    [
        ("S11,2030-01-01,,,", "column id", "did you mean S1"),
        ("S1,,,,", "column in_service_since", "expected a date"),
        ("S1,2033-01-02,,,", "column in_service_since", "expected today (2033-01-01) or earlier"),
        ("S1,2029-12-31,,,", "column in_service_since", "expected 2030-01-01 or later"),
        ("S1,31.12.2030,,,", "column in_service_since", "YYYY-MM-DD"),
        ("S1,2031-01-01,2030-12-31,,", "column cells_since", "expected 2031-01-01 or later"),
        ("S1,2031-01-01,,,2030-12-31", "column down_since", "expected 2031-01-01 or later"),
        ("S1,2031-01-01,,,2034-01-01", "column down_since", "today (2033-01-01) or earlier"),
        ("S1,2031-01-01,,1.2,", "column charge_left_share", "at most 1"),
        ("S1,2031-01-01,,-0.1,", "column charge_left_share", "at least 0"),
        ("G1,2031-01-01,,0.5,", "column charge_left_share", "no layout has it on cells"),
    ],
)
def test_a_row_that_cannot_be_is_told_with_its_place(served, row, where, wanted):
    (fault,) = served(row).faults()
    assert fault.startswith(f"state.csv, line 2, {where}")
    assert wanted in fault


def test_a_device_stands_once_in_the_table(served):
    (fault,) = served("S1,2030-01-01,,,", "s1,2030-01-01,,,").faults()
    assert fault.startswith("state.csv, line 3")


def test_a_table_needs_the_day_that_it_tells_of(served):
    (fault,) = served(*ALL, site=SITE.replace(", today: 2033-01-01", "")).faults()
    assert "calendar: {today:" in fault


def test_today_lies_behind_hand_over(served):
    faults = served(*ALL, site=SITE.replace("2033", "2029")).faults()
    assert "expected the day of hand-over, 2030-01-01, or a later one" in faults[0]
