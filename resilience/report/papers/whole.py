"""All papers of a layout: one document to be printed, and tables beside it."""

from dataclasses import dataclass

from resilience.building.text.entries import alternatives
from resilience.connectivity.trees import CalmTree
from resilience.errors import UsageError
from resilience.report.binding.document import Document
from resilience.report.pages import cautions
from resilience.report.papers.mounting import buying, mounting
from resilience.report.papers.paper import TO_WRITE, Job
from resilience.report.papers.promising import calendar, promising, sharing
from resilience.report.papers.sparing import sparing
from resilience.report.papers.surveying import accepting, surveying
from resilience.report.papers.switching import switching
from resilience.report.showing.facts import Shown, Within

PAGE = "papers.html"
TABLES = ("buy", "mounting", "survey", "expected", "switch-off", "shared", "batteries", "spares")
MAKERS = (buying, mounting, surveying, accepting, switching, sharing, calendar, sparing, promising)


@dataclass(frozen=True, slots=True)
class Papers:
    """Everything that is handed over.

    Parameters
    ----------
    document : Document
        To be printed. [-]
    tables : dict of str to str
        Comma-separated text by the name of its file. [-]
    """

    document: Document
    tables: dict[str, str]


def layout_of(shown: Shown, name: str | None) -> Within:
    """Layout that is installed; the one placed first where nobody says.

    Parameters
    ----------
    shown : Shown
        Everything that was found of the site. [-]
    name : str or None
        Of the layout. [-]

    Raises
    ------
    UsageError
        There is no such layout.
    """
    for one in shown.layouts:
        if name in (None, one.name):
            return one
    ways = alternatives(name or "", (one.name for one in shown.layouts))
    raise UsageError(f"the site has no layout {name!r}: {ways}")


def papers(shown: Shown, within: Within) -> Papers:
    """Make all papers of a layout.

    Parameters
    ----------
    shown : Shown
        Everything that was found of the site. [-]
    within : Within
        The layout that is installed. [-]
    """
    job = Job(shown, within, CalmTree(within.links))
    made = [make(job) for make in MAKERS]
    titles, site = shown.site.titles, shown.site
    head = (
        f"Client: {titles.client or TO_WRITE}. Drawings: {titles.drawing_revision or TO_WRITE}. "
        f"Author: {titles.author or TO_WRITE}. Made on {shown.made_on.isoformat()}, seed "
        f"{within.study.seed}.",
        cautions(shown.is_surveyed).text,
    )
    document = Document(
        "Papers for hand-over",
        f"{site.name}: layout {within.name}",
        head,
        tuple(one.chapter for one in made),
        shown.stamp,
        cautions(shown.is_surveyed).text,
    )
    return Papers(document, {name: text for one in made for name, text in one.tables.items()})
