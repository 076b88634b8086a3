"""What layouts cost, by the prices that a site states."""

from dataclasses import replace

from resilience.building.upkeep import NO_PRICES
from resilience.montecarlo.costs import installation, upkeep
from resilience.montecarlo.estimates import Estimate
from resilience.ranking.comparison import Comparison
from resilience.report.comparing.remarks import dominated
from resilience.report.pages import Block, Column, Table, Text, figures, titled, words
from resilience.report.words import listed, per_year, two_lines, visible


def costs_table(comparison: Comparison) -> Block:
    """What each layout costs to install and to keep up; nothing where no price is stated.

    Parameters
    ----------
    comparison : Comparison
        What was found. [-]
    """
    prices = comparison.site.prices
    if prices == replace(NO_PRICES, currency=prices.currency):
        return ()
    rows, missing = [], dict[str, None]()
    for placed in comparison.placed:
        first, yearly = installation(placed.layout, prices), upkeep(placed.study, prices)
        missing |= dict.fromkeys((*first.unpriced, *yearly.unpriced))
        counts = (yearly.counts[name] for name in ("devices", "cells", "worked_hours"))
        rows.append(
            (
                placed.layout.name,
                "" if first.cost is None else f"{first.cost:,.0f}",
                two_lines(yearly.cost) if isinstance(yearly.cost, Estimate) else "",
                *(per_year(one.mean if isinstance(one, Estimate) else one) for one in counts),
            )
        )
    unit = f", {visible(prices.currency)}" if prices.currency else ""
    columns = (
        *words("layout"),
        Column(f"to install{unit}", note="devices, gateways and first cells"),
        Column(f"upkeep{unit}", note="a year: parts, visits and rounds, hours"),
        *figures("devices\nreplaced", "sets of\ncells", "hours\nworked"),
    )
    note = f"Counted and not priced: {listed(list(missing))}." if missing else ""
    better = (Text(sentence) for sentence in dominated(comparison))
    return titled("What it costs", note, Table(columns, tuple(rows)), *better)
