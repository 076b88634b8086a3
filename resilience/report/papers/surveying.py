"""Which links to measure, in walking order, what to expect, and from where on to accept."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from resilience.connectivity.hearing import LIMITS_DB, ears, other_end
from resilience.connectivity.luck.spreads import spreads_db
from resilience.connectivity.rows import Heard, Link
from resilience.connectivity.table import LinkTable
from resilience.report.binding.document import Chapter, Listing
from resilience.report.binding.tables import csv_of, csv_text
from resilience.report.pages import Bullets, Column, Row, Table, Text, words
from resilience.report.papers.paper import TO_TICK, TO_WRITE, Job, Paper
from resilience.report.showing.drawn import LEAST_SHARE
from resilience.report.words import rounded

ACCEPTED_DB = LIMITS_DB[1]
SPREADS = 2.0  # standard deviations within which 19 of 20 such links turn out
Spot = tuple[int, float, float]

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
    levels, spread_db = [level.id for level in job.shown.site.building.levels], spreads_db(links)
    spots = _spots(levels, links)
    carrying = [link for link, _ in job.within.carrying(LEAST_SHARE)]
    found = []
    for link in _in_walking_order(carrying, spots):
        level = levels[spots[link.id][0]] if levels else ""
        found.append(_Expected.of(job, link, float(spread_db[link.row]), level))
    columns = (
        *words("level", "from", "to"),
        Column(
            "expect, dBm", note="mean strength, everything calm; there / back where they differ"
        ),
        Column("at least", note="19 of 20 such links turn out between these two"),
        Column("at most"),
        Column(
            "accept from", note=f"{ACCEPTED_DB:g} dB above the receiver's floor: common practice"
        ),
        Column("carries, %", note="of the time, by the simulation: what matters most"),
        *words("there, dBm", "back, dBm", "doors", "accepted"),
    )
    shown = tuple((*one.cells, TO_WRITE, TO_WRITE, TO_WRITE, TO_TICK) for one in found)
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
    sheet = csv_text([[*SHEET, *OWN], *(row for one in found for row in one.rows)])
    listing = Listing("Links to measure", Table(columns, shown))
    return Paper(Chapter("Survey sheet", (lead, listing, how), True), {"survey.csv": sheet})


@dataclass(frozen=True, slots=True)
class _Expected:
    """What is expected of a link to be measured, shown in whole dBm and percent."""

    level: str
    link: Link
    off_db: float
    share: float

    @classmethod
    def of(cls, job: Job, link: Link, spread_db: float, level: str) -> "_Expected":
        """Put together what is known of a link."""
        carried = job.within.retold.carried_share
        share = sum(carried.get(way, 0.0) for way in ((link.a, link.b), (link.b, link.a)))
        return cls(level, link, SPREADS * spread_db, share)

    def _told(self, heard: Heard) -> tuple[str, str, str, str]:
        """Expected, least, most and accepted strength of one direction."""
        middle, off = heard.rssi_dbm, self.off_db
        values = (middle, middle - off, middle + off, heard.floor_dbm + ACCEPTED_DB)
        return tuple(rounded(one, 0) for one in values)  # type: ignore[return-value]

    @property
    def cells(self) -> Row:
        """As they are printed, both ways in one row."""
        there, back = self._told(self.link.there), self._told(self.link.back)
        ways = zip(there, back, strict=True)
        both = (one if one == other else f"{one} / {other}" for one, other in ways)
        return (self.level, self.link.a, self.link.b, *both, f"{100 * self.share:.0f}")

    @property
    def rows(self) -> list[list[str]]:
        """Rows of ``links.csv``, all that is measured left empty, ids as they are."""
        link, blank = self.link, [""] * (len(SHEET) - 2)
        ways = ((link.a, link.b, link.there), (link.b, link.a, link.back))
        share = f"{100 * self.share:.0f}"
        return [[a, b, *blank, self.level, *self._told(heard), share] for a, b, heard in ways]


def _spots(levels: Sequence[str], links: LinkTable) -> dict[str, Spot]:
    """Where one stands to measure each link: at its lower end, or at one of two on a level.

    Number of the level, and the place on it; the origin where nobody said.
    """
    found = {}
    order = {id: n for n, id in enumerate(levels)}
    for link_id, ends in zip(links.link_ids, links.ends.tolist(), strict=True):
        places = [place for row in ends if (place := links.devices[row].place) is not None]
        lowest = min(places, key=lambda one: order[one.level], default=None)
        found[link_id] = (
            (0, 0.0, 0.0) if lowest is None else (order[lowest.level], lowest.x_m, lowest.y_m)
        )
    return found


def _in_walking_order(found: Sequence[Link], spots: Mapping[str, Spot]) -> Iterator[Link]:
    """Yield links from the lowest level up, on each the nearest to where one stands next."""
    left = sorted(found, key=lambda one: (spots[one.id], one.id))
    here = (0.0, 0.0)
    while left:
        level = spots[left[0].id][0]
        far = [
            (math.dist(spots[one.id][1:], here), n)
            for n, one in enumerate(left)
            if spots[one.id][0] == level
        ]
        nearest = left.pop(min(far)[1])
        here = spots[nearest.id][1:]
        yield nearest


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
