"""What is promised and assumed, what strikes several at once, and when cells go."""

import math
from collections import defaultdict
from datetime import timedelta

from resilience.building.site import Device
from resilience.report.binding.document import Chapter, Listing
from resilience.report.binding.tables import csv_of
from resilience.report.comparing.opening import CUT_OFF
from resilience.report.evidence import evidence
from resilience.report.pages import Bullets, Column, Row, Table, Text, cautions, words
from resilience.report.papers.paper import TO_WRITE, Job, Paper
from resilience.report.showing.conclusion import promise_sentences
from resilience.report.words import counted, figure, listed

MONTHS_PER_YEAR = 12
DAYS_PER_MONTH = 30.4375
LEAST_SHARED = 2
UNPROMISED = "Nothing is promised: the site has no policy.yaml."


def promising(job: Job) -> Paper:
    """What the promise is, and what it assumes.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    shown, within = job.shown, job.within
    hours = shown.comparison.hours(within.study)
    told = promise_sentences(shown, within.name)
    year = within.study.typical_year
    expected = (
        f"A sensor in service is {CUT_OFF} for {figure(hours)} h a year.",
        f"{year.visits:.1f} repair visits and {year.cells:.1f} sets of cells a year.",
    )
    assumed = (
        f"{evidence(shown.site)}",
        "Devices hang as the mounting schedule says, and walls and doors are as drawn.",
        "Failure rates are those of the report, which lists each with its source; nobody has "
        "published such rates of these devices.",
        *(shown.judgement.cautions if shown.judgement else ()),
        *shown.site.notes,
    )
    chapter = Chapter(
        "What is promised",
        (
            *(Text(one) for one in told or (UNPROMISED,)),
            Bullets("What to expect", expected),
            Bullets("What that assumes", assumed),
            cautions(shown.is_surveyed),
            Text(f"For the installer {TO_WRITE * 2}   For the owner {TO_WRITE * 2}"),
        ),
        True,
    )
    return Paper(chapter)


def sharing(job: Job) -> Paper:
    """Risks that strike several devices at once.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    shared: dict[tuple[str, str], list[str]] = defaultdict(list)
    for device in job.within.placed.layout.devices:
        for what in _shares(device):
            shared[what].append(device.id)
    rows: list[Row] = [
        (what, name, str(len(ids)), listed(ids, most=40))
        for (what, name), ids in sorted(shared.items())
        if len(ids) >= LEAST_SHARED
    ]
    rows += [
        ("all ways lead through", id, str(len(behind)), listed(behind, most=40))
        for id, behind in job.within.soles.items()
    ]
    table = Table(
        (*words("what they share", "name"), Column("devices"), *words("which")), tuple(rows)
    )
    lead = Text(
        "What takes several devices away at once. Ask who may switch it, and put up a sign there."
    )
    chapter = Chapter("Shared risks", (lead, Listing("What several devices share", table)), True)
    return Paper(chapter, {"shared.csv": csv_of(table)})


def _shares(device: Device) -> list[tuple[str, str]]:
    found = [("zone", device.zone_id)]
    if device.circuit_id:
        found.append(("supply circuit", device.circuit_id))
    if device.batch:
        found.append(("batch of cells", device.batch))
    return found


def calendar(job: Job) -> Paper:
    """Battery plan: which year each set of cells goes, and who is to be visited then.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    lives, begins = job.within.study.cell_lives, job.shown.site.hand_over
    rounds: dict[int, list[str]] = defaultdict(list)
    rows: list[Row] = []
    for id, life in lives.items():
        if not math.isfinite(life.mean_months):
            continue
        first = begins + timedelta(days=min(life.least_months, 1200) * DAYS_PER_MONTH)
        mean = begins + timedelta(days=min(life.mean_months, 1200) * DAYS_PER_MONTH)
        rounds[int(life.least_months // MONTHS_PER_YEAR) + 1].append(id)
        rows.append(
            (id, f"{first:%Y-%m}", f"{mean:%Y-%m}", f"{life.mean_months:.0f}", TO_WRITE, TO_WRITE)
        )
    columns = (
        *words("device"),
        Column("at the\nearliest", is_text=True, note="shortest of all lifetimes played"),
        Column("on\naverage", is_text=True, note="average cells at the mean draw"),
        Column("months"),
        *words("changed", "changed again"),
    )
    table = Table(columns, tuple(rows))
    visits = tuple(
        f"Year {year}: {counted(len(ids), 'set')}, {listed(ids, most=30)}."
        for year, ids in sorted(rounds.items())
    )
    lead = Text(
        f"Counted from hand-over on {begins.isoformat()}. A round in the year before the earliest "
        "date finds every cell alive; cells carry more or less than their data sheet says."
    )
    pieces = (lead, Bullets("Rounds by the earliest date", visits), Listing("Cells", table))
    return Paper(Chapter("Battery plan", pieces, True), {"batteries.csv": csv_of(table)})
