"""What a layout takes to install and to keep up: numbers of parts, visits and hours, and money.

Prices are inputs. What has none is counted and left out of the sum, which then says so.
"""

import math
from dataclasses import dataclass

import numpy as np

from resilience.building.site import Kind, Layout
from resilience.building.upkeep import Prices
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.montecarlo.estimates import Estimate, Floats, Limits
from resilience.montecarlo.sequences import capped_sequence
from resilience.montecarlo.study import Study
from resilience.units import MS_PER_H, MS_PER_YEAR

WITHOUT_END = Limits(0.0, math.inf)
ROOM = 20.0  # of a count in a year that bounds always take in full
COLUMNS = {
    "visits": "visits",
    "fruitless_visits": "fruitless",
    "resurveys": "resurveys",
    "rounds": "rounds",
    "services": "services",
    "cells": "cells",
    "devices": "devices",
    "gateways": "gateways",
    "worked_hours": "worked_ms",
}
# What each price is paid for.
PAID = {
    "device": ("devices",),
    "gateway": ("gateways",),
    "cells": ("cells",),
    "visit": ("visits", "rounds"),
    "hour": ("worked_hours",),
}


@dataclass(frozen=True, slots=True)
class Bill:
    """What something takes, and what of that has a price.

    Parameters
    ----------
    counts : dict of str to Estimate or int
        By name. [-]
    cost : Estimate or float or None
        Of all that has a price; None if nothing has. [currency]
    unpriced : tuple of str
        What is needed and has no price. [-]
    """

    counts: dict[str, Estimate] | dict[str, int]
    cost: Estimate | float | None
    unpriced: tuple[str, ...]

    @property
    def whole_cost(self) -> float | None:
        """Of all that is needed, on average; None if something of it has no price. [currency]."""
        if self.unpriced or self.cost is None:
            return None
        return self.cost.mean if isinstance(self.cost, Estimate) else self.cost

    def to_json(self) -> dict[str, object]:
        """Return cost, counts, and what has no price."""

        def plain(value: Estimate | float | None) -> object:
            return value.to_json() if isinstance(value, Estimate) else value

        counts = {name: plain(value) for name, value in self.counts.items()}
        return {"cost": plain(self.cost), "counts": counts, "unpriced": list(self.unpriced)}


def installation(layout: Layout, prices: Prices) -> Bill:
    """Return what a layout takes to install: devices, gateways, and the first sets of cells.

    Parameters
    ----------
    layout : Layout
        The layout. [-]
    prices : Prices
        What parts cost. [currency]
    """
    n_gateways = len(layout.of_kind(Kind.GATEWAY))
    counts = {
        "device": len(layout.devices) - n_gateways,
        "gateway": n_gateways,
        "cells": sum(device.battery is not None for device in layout.devices),
    }
    priced = _priced(prices)
    needed = [name for name, n in counts.items() if n]
    cost = math.fsum(priced[name] * counts[name] for name in needed if name in priced)
    is_priced = any(name in priced for name in needed)
    missing = tuple(name for name in needed if name not in priced)
    return Bill(counts, cost if is_priced else None, missing)


def upkeep(study: Study, prices: Prices) -> Bill:
    """Return what a year of a layout takes to keep it up, with bounds.

    Parameters
    ----------
    study : Study
        Its lifetimes. [-]
    prices : Prices
        What parts and work cost. [currency]
    """
    years = {name: _per_year(study, name) for name in COLUMNS}
    counts = {name: capped_sequence(one, WITHOUT_END, ROOM) for name, one in years.items()}
    priced = _priced(prices)
    needed = [name for name, paid in PAID.items() if any(years[one].any() for one in paid)]
    missing = tuple(name for name in needed if name not in priced)
    if not priced:
        return Bill(counts, None, missing)
    costs = np.zeros(study.n_buildings)
    for name, price in priced.items():
        for one in PAID[name]:
            costs += price * years[one]
    room = ROOM * math.fsum(priced.values()) or ROOM
    return Bill(counts, capped_sequence(costs, WITHOUT_END, room), missing)


def _priced(prices: Prices) -> dict[str, float]:
    """Prices that somebody stated, by what they are paid for."""
    named = {name: getattr(prices, name) for name in PAID}
    return {name: price for name, price in named.items() if price is not None}


def _per_year(study: Study, name: str) -> Floats:
    """Numbers or hours a year of the whole layout, shape (buildings,)."""
    years = LIFETIMES_PER_BUILDING * study.horizon_ms / MS_PER_YEAR
    found: Floats = study.tally.per_building(COLUMNS[name]) / years
    return found / MS_PER_H if name == "worked_hours" else found
