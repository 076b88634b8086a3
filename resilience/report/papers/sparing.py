"""Which parts to keep on the shelf, by how many the lifetimes have used up."""

from resilience.assumptions.catalogue import default
from resilience.building.sections.changes import mean_h
from resilience.building.settings import Duration
from resilience.building.upkeep import NO_PRICES, Spares
from resilience.montecarlo.costs import upkeep
from resilience.montecarlo.estimates import TOO_FEW, Estimate
from resilience.report.binding.document import Chapter, Listing
from resilience.report.binding.tables import csv_of
from resilience.report.pages import Column, Row, Table, Text, words
from resilience.report.papers.paper import TO_WRITE, Job, Paper
from resilience.report.showing.facts import bound_cells
from resilience.report.words import counted
from resilience.units import HOURS_PER_YEAR

SERVED_SHARE = 0.95  # of calls that shall find their part on the shelf
USUAL = Duration(
    "lognormal",
    *(float(str(default(f"upkeep.spares.{name}"))) for name in ("median_h", "p90_h")),
)
H_PER_DAY = 24
PARTS = {"devices": "sensor or repeater", "gateways": "gateway", "cells": "set of cells"}


def sparing(job: Job) -> Paper:
    """Spare plan.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    site = job.shown.site
    used = upkeep(job.within.study, NO_PRICES).counts
    kept = site.upkeep.spares
    wait_h = mean_h(kept.delivery if kept else USUAL)
    rows: list[Row] = []
    for name, part in PARTS.items():
        year = used[name]
        assert isinstance(year, Estimate)
        of_horizon = f"{year.mean * site.horizon_years:.1f}"
        most = year.mean if year.method == TOO_FEW else year.high
        shelf = shelf_for(most, wait_h) if year.mean > 0 else 0
        rows.append((part, *bound_cells(year), of_horizon, str(shelf), TO_WRITE, TO_WRITE))
    columns = (
        *words("part"),
        Column("used\na year", note="put in by visits and rounds, mean of all lifetimes played"),
        Column("at\nleast"),
        Column("at\nmost"),
        Column("over\nthe horizon"),
        Column("on the\nshelf", note=_why(wait_h)),
        *words("kept here", "ordered, date"),
    )
    table = Table(columns, tuple(rows))
    lead = Text(
        f"For {counted(round(site.horizon_years), 'year')}. {_played(kept)} Cells of one age go "
        "together, which one shelf does not cover: order those of a round before it, by the "
        "battery plan. Cells age on the shelf, too."
    )
    chapter = Chapter("Spare plan", (lead, Listing("Parts to keep", table)), starts_page=True)
    return Paper(chapter, {"spares.csv": csv_of(table)})


def _why(wait_h: float) -> str:
    return (
        f"so many that {SERVED_SHARE:.0%} of calls find their part while others are on order for "
        f"{wait_h / H_PER_DAY:.0f} days, at the upper bound of what is used: calls that come by "
        "chance, one ordered for each that is taken"
    )


def _played(kept: Spares | None) -> str:
    if kept is None:
        return "The lifetimes never lack a part; a shelf that runs empty makes repairs later."
    return f"The lifetimes keep {kept.devices} devices and {kept.cells} sets of cells."


def shelf_for(used_per_year: float, wait_h: float) -> int:
    """Return the least stock from which enough calls are served at once.

    One is ordered for each that is taken, so what is on order is Poisson whatever the law of
    deliveries (Palm's theorem), and a call waits if all of the stock is on order.

    Parameters
    ----------
    used_per_year : float
        Calls for a part, by chance. [1/year]
    wait_h : float
        Mean time from order to shelf. [h]
    """
    from scipy.stats import poisson

    on_order = used_per_year * wait_h / HOURS_PER_YEAR
    return int(poisson.ppf(SERVED_SHARE, on_order)) + 1
