"""The report of a site: all chapters in the order in which they answer questions."""

from collections.abc import Sequence
from pathlib import Path

from resilience.report.binding.document import Document
from resilience.report.charts.looks import RULES
from resilience.report.drawing.marks import Figure
from resilience.report.pages import Page, Text, cautions, page
from resilience.report.sheet import Sheet, svg
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


def picture(shown: Shown) -> str:
    """Return in short what was found, with the charts of all layouts, as one SVG for a letter.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    charts = [one for one in order_chapter(shown).pieces if isinstance(one, Figure)]
    caution = cautions(shown.is_surveyed).text
    sheet = Sheet(shown.site.name, conclusion(shown), tuple(charts), caution, shown.stamp)
    return svg(sheet, RULES)


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
    what = "All of it" if target.suffix.lower() == ".html" else "The picture"
    papers = Text(f"Papers: {listed(handed)}.") if handed else ()
    return page(
        *(Text(paragraph) for paragraph in conclusion(shown)),
        Text(f"{what} is in {visible(str(target))}: open it in a browser."),
        papers,
        cautions(shown.is_surveyed),
    )
