"""Counts and prices worked out by hand."""

import math

import pytest

from resilience.building.upkeep import NO_PRICES, Prices
from resilience.montecarlo.costs import installation, upkeep

ALL = Prices("EUR", device=80, gateway=400, cells=6, visit=150, hour=60)


@pytest.fixture
def study(made_study):
    """One sensor for a year, in two possible buildings."""
    counts = {"visits": [2, 4], "rounds": [1, 1], "cells": [10, 30], "devices": [1, 1]}
    return made_study("a", worked=[3.0, 5.0], **counts)


def test_a_year_of_upkeep_costs_what_its_parts_visits_and_hours_cost(study):
    """Mean of 1 x 80 + 20 x 6 + (3 + 1) x 150 + 4 x 60."""
    bill = upkeep(study, ALL)
    assert bill.cost.mean == pytest.approx(80 + 120 + 600 + 240)
    assert bill.cost.low < bill.cost.mean < bill.cost.high
    assert bill.unpriced == ()
    assert bill.counts["cells"].mean == 20
    assert bill.counts["worked_hours"].mean == 4


def test_what_has_no_price_is_counted_and_named(study):
    bill = upkeep(study, Prices(visit=150))
    assert bill.cost.mean == 600
    assert bill.unpriced == ("device", "cells", "hour")
    free = upkeep(study, NO_PRICES)
    assert free.cost is None
    assert free.to_json()["cost"] is None
    assert free.counts["visits"].mean == 3
    assert "gateway" not in free.unpriced


def test_bounds_of_a_cost_hold_nothing_back_from_few_lifetimes(study):
    bill = upkeep(study, ALL)
    assert (bill.cost.low, bill.cost.high) == (0.0, math.inf)


def test_installing_a_layout_costs_its_devices_gateways_and_first_cells(site):
    """A gateway, five sensors on cells, and in b a repeater on mains."""
    bills = [installation(site.layout(name), ALL) for name in "ab"]
    assert bills[0].counts == {"device": 5, "gateway": 1, "cells": 5}
    assert bills[1].counts == {"device": 6, "gateway": 1, "cells": 5}
    assert [bill.cost for bill in bills] == [5 * 80 + 400 + 5 * 6, 6 * 80 + 400 + 5 * 6]
    partly = installation(site.layout("a"), Prices(gateway=400))
    assert (partly.cost, partly.unpriced) == (400, ("device", "cells"))
    assert installation(site.layout("a"), Prices(hour=60)).cost is None
