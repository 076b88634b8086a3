"""What to check on site before the layout that was placed first is installed."""

from resilience.building.site import Kind
from resilience.connectivity.hearing import THIN_MARGIN_DB
from resilience.connectivity.luck.spreads import spreads_db
from resilience.report.binding.document import Chapter, Listing, Piece
from resilience.report.pages import Bullets, Column, Row, Table, Text, words
from resilience.report.showing.facts import Shown, Within
from resilience.report.words import counted, listed, rounded, visible

LEAST_SHARE = 0.1  # of the time that a link carries, from which on it is worth a measurement
MOST_LINKS, MOST_SOLES = 10, 5


def onsite_chapter(shown: Shown) -> Chapter:
    """Chapter of what to check on site.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    first = shown.layouts[0]
    told = [*_soles(first), *_unsure(first)]
    told.append(
        "Switch off, one after the other, the devices that others lean on, and compare who falls "
        "silent with what is predicted: resilience report --papers writes the sheet for it, and "
        "the one for the survey."
    )
    pieces: tuple[Piece, ...] = (
        Text(f"For {visible(first.name)}, the layout placed first."),
        Bullets("", tuple(told)),
        *_links(first),
    )
    return Chapter("What to check on site", pieces)


def _soles(within: Within) -> list[str]:
    """What all ways lead through, gateways of their own left out."""
    gateways = {one.id for one in within.placed.layout.of_kind(Kind.GATEWAY)}
    return [
        f"Make sure of {visible(id)}: all ways of {counted(len(behind), 'sensor')} lead through it."
        for id, behind in list(within.soles.items())[:MOST_SOLES]
        if id not in gateways
    ]


def _unsure(within: Within) -> list[str]:
    """Sensors that find no way in many possible buildings."""
    ways = within.routes
    few = [id for id, n in ways.in_buildings.items() if n < 0.95 * ways.n_buildings]
    if not few:
        return []
    return [
        f"Measure whether {listed(few)} can be heard at all: in more than 1 of 20 possible "
        "buildings there is no way from there."
    ]


def _links(within: Within) -> list[Listing]:
    """Predicted links that carry much and have little to spare, those that carry most first."""
    links, rows = within.links, list[Row]()
    spread_db = spreads_db(links)
    for link, share in within.carrying(LEAST_SHARE):
        margin_db = links.margin_db(link)
        if link.measured or margin_db >= THIN_MARGIN_DB:
            continue
        sure = f"{spread_db[link.row]:.0f}"
        rows.append((link.a, link.b, f"{100 * share:.0f}", rounded(margin_db, 0), sure))
    columns = (
        *words("from", "to"),
        Column("carries, %", note="of the time"),
        Column("to spare, dB", note="as predicted; less than 10 dB is not accepted at hand-over"),
        Column("sure to, dB", note="two of three such links turn out within so many dB"),
    )
    table = Table(columns, tuple(rows[:MOST_LINKS]))
    return [Listing("Links to measure first", table)] if rows else []
