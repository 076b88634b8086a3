"""Tables of what happened, read by hand and with every mistake that a logbook can hold."""

import math
from datetime import datetime

import pytest

from resilience.building.service.events import FAILURES, FLAT, OUTAGES, Lasted
from resilience.building.service.logbook import Own, read_history
from resilience.building.site import Kind
from resilience.errors import InputError
from resilience.hazards.causes import CAUSES

HEAD = "what,cause,from,to,lasted_h,ended,n_watched,installed,site,group,device\n"
TODAY = datetime(2026, 5, 31)
OWN = Own("Invented annexe", {"G1": Kind.GATEWAY, "S1": Kind.SENSOR, "R1": Kind.REPEATER})
WATCHED = "watched,hardware,2024-01-01,2025-12-31,,,20,2024-01-01,,,\n"
GATEWAY = "watched,gateway_outage gateway_hardware,2024-01-01,2025-12-31,,,1,,,,G1\n"


@pytest.fixture
def told(tmp_path):
    """Read one table of these rows as the logbook of the invented annexe."""

    def read(rows, own=OWN, head=HEAD):
        path = tmp_path / "history.csv"
        path.write_text(head + rows, encoding="utf-8")
        return read_history([(path, own)], TODAY)

    return read


@pytest.fixture
def faults(told):
    def found(rows):
        with pytest.raises(InputError) as caught:
            told(rows)
        return [str(fault) for fault in caught.value.faults]

    return found


def test_causes_of_a_logbook_are_those_that_can_strike():
    assert {*FAILURES, *OUTAGES, FLAT} <= set(CAUSES)


def test_a_watch_counts_its_last_day(told):
    """731 days of 2024 (a leap year) and 2025, of 20 devices."""
    watch = told(WATCHED).watches[0]
    assert watch.each_h == 731 * 24
    assert watch.watched_years == pytest.approx(20 * 731 * 24 / 8766)


def test_what_struck_belongs_to_the_row_that_watched_for_it(told):
    rows = (
        "failure,hardware,2024-06-02,2024-06-05,,,,,,,S1\n"
        "outage,gateway_outage,2024-06-02 14:00,2024-06-02 15:30,,,,,,,G1\n"
        "outage,gateway_outage,2025-01-01,,0.5,,,,,,\n"
    )
    devices, gateway = told(WATCHED + GATEWAY + rows).watches
    assert [one.device for one in devices.of_cause("hardware")] == ["S1"]
    assert [one.lasted for one in gateway.of_cause("gateway_outage")] == [
        Lasted(1.5, 1.5),
        Lasted(0.5, 0.5),
    ]
    assert gateway.of_cause("gateway_hardware") == ()


def test_days_bound_what_nobody_timed(told):
    """From some hour of the 2nd to some hour of the 5th: between 2 and 4 days."""
    rows = "repair,hardware,2024-06-02,2024-06-05,,,,,,,\n"
    rows += "repair,battery,2024-06-02,2024-06-02,,,,,,,\n"
    assert [one.lasted for one in told(rows).repairs] == [Lasted(48.0, 96.0), Lasted(0.0, 24.0)]


def test_what_had_not_ended_lasted_at_least_so_long(told):
    rows = "cells,battery,2024-06-02,2025-06-02,,no,,,,leaf,\ncells,,2024-06-02,,900,,,,,,\n"
    first, second = told(rows).cells
    assert (first.of, first.lasted) == ("leaf", Lasted(364 * 24.0, math.inf))
    assert (second.of, second.lasted) == ("", Lasted(900.0, 900.0))


def test_groups_and_sites_keep_apart_what_is_alike(told):
    rows = (
        "watched,hardware,2024-01-01,2025-12-31,,,5,2024-01-01,Quay,first,\n"
        "watched,hardware,2024-01-01,2025-12-31,,,5,2022-01-01,Quay,second,\n"
        "failure,hardware,2024-06-02,,,,,,quay,second,\n"
    )
    history = told(WATCHED + rows)
    assert [len(watch.strikes) for watch in history.watches] == [0, 0, 1]
    assert history.n_sites == 2


def test_rows_with_the_title_of_the_site_are_its_own(told):
    rows = "failure,hardware,2024-06-02,,,,,,Invented annexe,,S1\n"
    assert len(told(WATCHED + rows).watches[0].strikes) == 1


def test_another_house_may_have_any_device(told):
    rows = WATCHED.replace(",,,\n", ",Quay,,\n") + "failure,hardware,2024-06-02,,,,,,Quay,,X9\n"
    assert len(told(rows).watches[0].strikes) == 1


def test_semicolons_and_decimal_commas_are_read(told):
    head = HEAD.replace(",", ";")
    rows = "watched;gateway_outage;2024-01-01;2025-12-31;;;1;;;;\n"
    rows += "outage;gateway_outage;2024-06-02;;1,5;;;;;;\n"
    assert told(rows, head=head).watches[0].strikes[0].lasted == Lasted(1.5, 1.5)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("flood,hardware,2024-06-02,,,,,,,,", 'column what: found "flood"; expected watched'),
        ("failure,hardwear,2024-06-02,,,,,,,,", "did you mean hardware?"),
        ("failure,battery,2024-06-02,,,,,,,,", "cells that went flat have rows of their own"),
        ("failure,hardware gateway_hardware,2024-06-02,,,,,,,,", "column cause: found"),
        ("failure,,2024-06-02,,,,,,,,", "column cause: found nothing"),
        ("failure,hardware,,,,,,,,,", "column from: found nothing; expected a date such as"),
        ("failure,hardware,2024-02-30,,,,,,,,", "there is no such day or hour"),
        ("failure,hardware,2024-06-02 25:10,,,,,,,,", "there is no such day or hour"),
        ("failure,hardware,02.06.2024,,,,,,,,", "give the column the format YYYY-MM-DD"),
        ("failure,hardware,yesterday,,,,,,,,", 'found "yesterday"; expected a date such as'),
        ("failure,hardware,1899-12-30,,,,,,,,", "expected a date from 1970-01-01 on"),
        ("failure,hardware,2026-06-01,,,,,,,,", "expected today (2026-05-31) or earlier"),
        ("failure,hardware,2024-06-02,2024-06-01,,,,,,,", "expected it behind from, 2024-06-02"),
        ("failure,hardware,2024-06-02,2024-06-05,72,,,,,,", "expected either to or lasted_h"),
        ("failure,hardware,2024-06-02,,-72,,,,,,", "expected hours, above 0 and at most 876600"),
        ("failure,hardware,2024-06-02,,nan,,,,,,", 'column lasted_h: found "nan"'),
        ("failure,hardware,2024-06-02,,,no,,,,,", "expected the date of the last look"),
        ("failure,hardware,2024-06-02,2024-06-05,,perhaps,,,,,", "expected on or off"),
        ("failure,hardware,2024-06-02,,,,3,,,,", "expected nothing in a row with failure"),
        ("failure,hardware,2024-06-02,,,,,,,,S9", 'column device: found "S9"; expected a device'),
        ("failure,hardware,2024-06-02,,,,,,,,G1", "expected a sensor or repeater, which hardware"),
        ("outage,gateway_outage,2024-06-02,,1,,,,,,S1", "expected a gateway, which gateway_outage"),
        ("outage,link_blockage,2024-06-02,,1,,,,,,S1", "expected the two ends of the link"),
        ("outage,mains_outage,2024-06-02,,1,,,,,,", "found mains_outage that nobody watched for"),
        ("failure,hardware,2024-06-02,,,,,,Quay,,", 'with what watched of site "Quay"'),
        (
            "failure,hardware,2023-06-02,,,,,,,,",
            "a time that was watched: 2024-01-01 to 2025-12-31",
        ),
        ("watched,hardware,2024-06-02,,,,2,,,,", "column to: found nothing; expected a date"),
        ("watched,hardware,2024-06-02,2024-01-01,,,2,,,x,", "expected it behind from, 2024-06-02"),
        ("watched,hardware,2024-06-02,2024-07-01,,,0,,,x,", "a whole number, at least 1"),
        ("watched,hardware,2024-06-02,2024-07-01,,,1.5,,,x,", "a whole number, at least 1"),
        (
            "watched,hardware,2024-06-02,2024-07-01,,,2,2024-06-03,,x,",
            "not behind from, 2024-06-02",
        ),
        ("watched,hardware,2024-06-02,2024-07-01,,,2,,,,S1", "expected 1, as column device names"),
        (
            "watched,hardware,2024-06-02,2024-07-01,5,,2,,,x,",
            "expected nothing in a row with watched",
        ),
        ("watched,hardware,2024-01-01,2025-12-31,,,20,,,,", "line 2 watches the same for hardware"),
        (
            "repair,mains_outage,2024-06-02,2024-06-05,,,,,,,",
            "expected hardware, gateway_hardware or",
        ),
        ("repair,hardware,2024-06-02,,,,,,,,", "expected its end, or how long it took in lasted_h"),
        ("cells,,,2024-06-02,,,,,,,", "expected the date at which it began, or lasted_h alone"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_a_way_out(faults, row, message):
    found = faults(f"{WATCHED}{GATEWAY}{row}\n")
    assert len(found) == 1, found
    assert found[0].startswith("history.csv, line 4")
    assert message in found[0]


def test_every_mistake_is_told_at_once(faults):
    rows = "failure,hardware,2024-13-01,,,,,,,,\nflood,x,,,,,,,,,\nrepair,hardware,,,-1,,,,,,\n"
    assert [one.split(":")[0] for one in faults(WATCHED + rows)] == [
        "history.csv, line 3, column from",
        "history.csv, line 4, column what",
        "history.csv, line 5, column lasted_h",
    ]


def test_a_watch_that_cannot_be_read_is_not_told_again_of_what_it_saw(faults):
    rows = WATCHED.replace("2025-12-31", "2023-12-31") + "failure,hardware,2024-06-02,,,,,,,,\n"
    assert len(faults(rows)) == 1


def test_the_same_event_twice_is_a_mistake(faults):
    row = "failure,hardware,2024-06-02,,,,,,,,S1\n"
    assert "hardware of S1 again; expected it once" in faults(WATCHED + row + row)[0]


def test_an_outage_within_an_outage_of_the_only_gateway_is_a_mistake(faults):
    rows = "outage,gateway_outage,2024-06-02 08:00,,300,,,,,,\n"
    rows += "outage,gateway_outage,2024-06-03 08:00,,1,,,,,,G1\n"
    assert "behind the end of that in line 3" in faults(GATEWAY + rows)[0]


def test_two_outages_on_one_day_are_none(told):
    rows = "outage,gateway_outage,2024-06-02,,1,,,,,,\n" * 2
    assert len(told(GATEWAY + rows).watches[0].strikes) == 2


def test_more_failed_devices_than_were_watched_are_a_mistake(faults):
    rows = "watched,hardware,2024-01-01,2025-12-31,,,1,,Quay,,\n"
    rows += "failure,hardware,2024-06-02,,,,,,Quay,,A\nfailure,hardware,2024-07-02,,,,,,Quay,,B\n"
    assert "expected n_watched to be at least 2" in faults(rows)[0]


def test_a_failure_that_devices_of_two_ages_could_have_had_is_a_mistake(faults):
    rows = WATCHED + "watched,hardware,2024-01-01,2025-12-31,,,5,2022-01-01,,old,\n"
    rows += "failure,hardware,2024-06-02,,,,,,,,\n"
    assert "lines 2 and 3 watch devices of other ages" in faults(rows)[0]


@pytest.mark.parametrize("text", ["", "# nothing\n", HEAD, "a,b\n1,2\n"])
def test_a_table_that_tells_nothing_is_a_mistake(tmp_path, text):
    path = tmp_path / "history.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"history\.csv"):
        read_history([(path, OWN)], TODAY)


def test_tables_of_several_houses_are_pooled_and_none_counts_twice(tmp_path):
    paths = [tmp_path / name / "history.csv" for name in ("a", "b")]
    for path in paths:
        path.parent.mkdir()
        path.write_text(HEAD + WATCHED, encoding="utf-8")
    history = read_history([(path, None) for path in paths], TODAY)
    assert (history.n_sites, len(history.watches)) == (2, 2)
    with pytest.raises(InputError, match="the same table again"):
        read_history([(paths[0], None), (tmp_path / "b" / ".." / "a" / "history.csv", None)], TODAY)
    with pytest.raises(InputError, match="no such file"):
        read_history([(tmp_path / "c.csv", None)], TODAY)
