"""The report of a site: all chapters in the order in which they answer questions."""

from collections.abc import Sequence
from pathlib import Path

from resilience.report.binding.document import Document
from resilience.report.pages import Page, Text, cautions, page
from resilience.report.showing.conclusion import (
    conclusion,
    conclusion_chapter,
    sureness_chapter,
    year_chapter,
)
from resilience.report.showing.facts import Shown
from resilience.report.showing.grounds import grounds_chapter
from resilience.report.showing.onsite import onsite_chapter
from resilience.report.showing.order import order_chapter, promise_chapter
from resilience.report.showing.within import layout_chapter
from resilience.report.words import listed, visible


def report(shown: Shown) -> Document:
    """Return everything that was found of a site as a document.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    caution = cautions(shown.is_surveyed).text
    return Document(
        "Failure resilience of a sensor network",
        shown.site.name,
        (caution,),
        (
            conclusion_chapter(shown),
            sureness_chapter(shown),
            year_chapter(shown),
            order_chapter(shown),
            *promise_chapter(shown),
            onsite_chapter(shown),
            *(layout_chapter(shown, one) for one in shown.layouts),
            grounds_chapter(shown),
        ),
        shown.stamp,
        caution,
    )


def report_page(shown: Shown, target: Path, handed: Sequence[str] = ()) -> Page:
    """Return what ``report`` tells on a terminal when the page is written.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    target : Path
        Where the page is. [-]
    handed : sequence of str
        Files of papers that were written, too. [-]
    """
    papers = Text(f"Papers: {listed(handed)}.") if handed else ()
    return page(
        *(Text(paragraph) for paragraph in conclusion(shown)),
        Text(f"All of it is in {visible(str(target))}: open it in a browser."),
        papers,
        cautions(shown.is_surveyed),
    )
