"""Which links to measure, in walking order, what to expect, and from where on to accept."""

import math
from collections.abc import Iterator, Sequence

from resilience.building.site import Place
from resilience.building.structure import Building
from resilience.connectivity.hearing import LIMITS_DB, ears, other_end
from resilience.connectivity.luck.spreads import spreads_db
from resilience.connectivity.rows import Link
from resilience.connectivity.table import Floats, LinkTable
from resilience.report.binding.document import Chapter, Listing
from resilience.report.binding.tables import csv_of, csv_text
from resilience.report.pages import Bullets, Column, Row, Table, Text, words
from resilience.report.papers.paper import TO_TICK, TO_WRITE, Job, Paper
from resilience.report.showing.drawn import LEAST_SHARE
from resilience.report.words import rounded

ACCEPTED_DB = LIMITS_DB[1]
SPREADS = 2.0  # standard deviations within which 19 of 20 such links turn out
SHEET = ("a", "b", "prr", "rssi_dbm", "state", "measured_h", "share")
OWN = ("#level", "#expect_dbm", "#from_dbm", "#to_dbm", "#accept_from_dbm", "#carries_percent")
BEST = 3  # links of each device, in the table of what to expect


def surveying(job: Job) -> Paper:
    """Survey sheet: links that carry, both ways, in walking order.

    Filled in it is a ``links.csv`` of the site; what stays empty is left out when that is read.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    links = job.within.links
    spread_db = spreads_db(links)
    rows = [
        row
        for link in _in_walking_order(_carrying(job), job.shown.site.building, links)
        for row in _both_ways(job, link, spread_db)
    ]
    columns = (
        *words("level", "from", "to"),
        Column("expect, dBm", note="mean strength at the receiver, everything calm"),
        Column("from", note="19 of 20 such links turn out between these two"),
        Column("to"),
        Column(
            "accept from", note=f"{ACCEPTED_DB:g} dB above the receiver's floor: common practice"
        ),
        Column("carries, %", note="of the time, by the simulation: what matters most"),
        *words("measured, dBm", "frames heard / sent", "hours", "doors", "accepted"),
    )
    blank = (TO_WRITE,) * 4
    shown = tuple((*row, *blank, TO_TICK) for row in rows)
    lead = Text(
        "Links that carry 1 % of the time or more, level by level, each next to the one before it. "
        "Measure with doors as in daily use, and say where they were not."
    )
    how = Bullets(
        "Then",
        (
            "Write what was measured into survey.csv, save it as links.csv in the site folder, and "
            "ask resilience calibrate: rows that stay empty are left out.",
            "A link below its limit is no fault of the installer: say so before handing over.",
        ),
    )
    sheet = csv_text([[*SHEET, *OWN], *(_sheet_row(row) for row in rows)])
    listing = Listing("Links to measure", Table(columns, shown))
    return Paper(Chapter("Survey sheet", (lead, listing, how), True), {"survey.csv": sheet})


def _carrying(job: Job) -> list[Link]:
    ways = {
        frozenset(way)
        for way, share in job.within.retold.carried_share.items()
        if share >= LEAST_SHARE
    }
    return [link for link in job.within.links.links if frozenset((link.a, link.b)) in ways]


def _in_walking_order(
    found: Sequence[Link], building: Building, links: LinkTable
) -> Iterator[Link]:
    """Yield links from the lowest level up, on each the nearest to where one stands next."""
    places = {one.id: one.place for one in links.devices}
    order = {level.id: n for n, level in enumerate(building.levels)}

    def spot(link: Link) -> tuple[int, float, float]:
        ends = [place for id in (link.a, link.b) if (place := places[id]) is not None]
        if not ends:
            return 0, 0.0, 0.0
        lowest: Place = min(ends, key=lambda one: order[one.level])
        return order[lowest.level], lowest.x_m, lowest.y_m

    left = sorted(found, key=lambda one: (spot(one), one.id))
    here = (0.0, 0.0)
    while left:
        level = min(spot(one)[0] for one in left)
        here_now = here
        nearest = min(
            (one for one in left if spot(one)[0] == level),
            key=lambda one: (math.dist(spot(one)[1:], here_now), one.id),
        )
        here = spot(nearest)[1:]
        left.remove(nearest)
        yield nearest


def _both_ways(job: Job, link: Link, spread_db: Floats) -> Iterator[tuple[str, ...]]:
    """Yield a row for each direction."""
    places = {one.id: one.place for one in job.within.links.devices}
    carried = job.within.retold.carried_share
    share = carried.get((link.a, link.b), 0.0) + carried.get((link.b, link.a), 0.0)
    off_db = SPREADS * float(spread_db[link.row])
    for a, b, heard in ((link.a, link.b, link.there), (link.b, link.a, link.back)):
        place = places[b]
        yield (
            place.level if place else "",
            a,
            b,
            rounded(heard.rssi_dbm, 0),
            rounded(heard.rssi_dbm - off_db, 0),
            rounded(heard.rssi_dbm + off_db, 0),
            rounded(heard.floor_dbm + ACCEPTED_DB, 0),
            f"{100 * share:.0f}",
        )


def _sheet_row(row: tuple[str, ...]) -> list[str]:
    """Row of ``links.csv``, everything that is measured left empty, ids as they are."""
    level, a, b, *told = row
    return [a, b, "", "", "", "", "", level, *told]


def accepting(job: Job) -> Paper:
    """What each device is expected to hear, for acceptance.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    links, rows = job.within.links, list[Row]()
    for ear in ears(links):
        parents = [parent for parent, _ in job.within.parents_of(ear.device.id)]
        usual = job.tree.parents.get(ear.device.id, "")
        for place, link in enumerate(ear.usable[:BEST]):
            other, margin_db = other_end(link, ear.device.id), links.margin_db(link)
            rows.append(
                (
                    ear.device.id,
                    str(place + 1),
                    other,
                    rounded(margin_db, 0),
                    "yes" if margin_db >= ACCEPTED_DB else "no",
                    "its parent at hand-over"
                    if other == usual
                    else "a parent at times"
                    if other in parents
                    else "",
                    TO_WRITE,
                    TO_TICK,
                )
            )
    columns = (
        *words("device"),
        Column("place"),
        *words("hears"),
        Column("to spare, dB"),
        Column(f"{ACCEPTED_DB:g} dB", is_text=True, note="asked for at hand-over: common practice"),
        *words("what for", "found, dB", "accepted"),
    )
    table = Table(columns, tuple(rows))
    lead = Text(f"The best {BEST} neighbours of each device, with everything calm.")
    listing = Listing("Expected links of each device", table)
    return Paper(Chapter("Expected links", (lead, listing), True), {"expected.csv": csv_of(table)})
