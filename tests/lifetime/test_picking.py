"""Lifetimes picked from rows made by hand."""

import numpy as np
import pytest

from resilience.errors import UsageError
from resilience.lifetime.picking import Pick, picked
from resilience.lifetime.tally import COLUMNS, Tally

H = 3_600_000


def tally(orphan_h: list[int], dark_h: list[int] | None = None) -> Tally:
    rows = np.zeros((len(orphan_h), len(COLUMNS)), np.int64)
    rows[:, COLUMNS.index("orphan_ms")] = np.array(orphan_h) * H
    rows[:, COLUMNS.index("dark_ms")] = np.array(dark_h or orphan_h) * H
    return Tally(0, rows, {}, {}, {})


def test_a_typical_lifetime_is_the_middle_one_by_orphan_time():
    found = picked(tally([9, 0, 40, 3, 7, 100]), Pick.TYPICAL)
    assert (found.number, found.orphan_h, found.place, found.n_lifetimes) == (0, 9.0, 4, 6)


def test_of_equal_orphan_time_the_dark_time_decides():
    assert picked(tally([0, 0, 0], [5, 9, 7]), Pick.TYPICAL).number == 2


def test_one_in_twenty_are_as_bad_as_a_bad_one_or_worse():
    hours = list(range(100))
    found = picked(tally(hours), Pick.BAD)
    assert sum(one >= found.orphan_h for one in hours[found.number + 1 :]) == 5


def test_a_bad_one_of_few_is_the_worst():
    assert picked(tally([3, 8, 1, 2]), Pick.BAD).number == 1


def test_the_first_with_an_orphan_is_the_first_by_number():
    assert picked(tally([0, 0, 2, 1]), Pick.FIRST_ORPHAN).number == 2


def test_a_breach_is_the_first_that_breaks_the_promise():
    assert picked(tally([9, 0, 2, 1]), Pick.BREACH, np.array([0, 0, 1, 1], bool)).number == 2


def test_where_nothing_broke_the_promise_the_way_to_one_that_does_is_named():
    with pytest.raises(UsageError, match=r"none of the first 4 lifetimes breaks .* judge names"):
        picked(tally([9, 0, 2, 1]), Pick.BREACH, np.zeros(4, bool))


def test_where_nobody_was_ever_lost_another_pick_is_named():
    with pytest.raises(UsageError, match=r"none of the first 4 lifetimes .* --pick typical"):
        picked(tally([0] * 4), Pick.FIRST_ORPHAN)
