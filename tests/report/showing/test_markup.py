"""Pages are valid HTML: parsed without an error by the rules of the standard, all references met.

The parser is tinyhtml5, which follows "Parsing HTML documents" of the HTML Living Standard
(WHATWG) and notes each of its parse errors.
"""

import re

import pytest
import tinyhtml5
from tinyhtml5.parser import HTMLParser

from resilience.building.files.folder import read_site
from resilience.connectivity.links import links
from resilience.ranking.many.portfolio import Failure, Portfolio
from resilience.ranking.many.sites import Risk
from resilience.report.answers.plan import plan, plan_sheet
from resilience.report.binding.html import html
from resilience.report.many.overview import overview
from resilience.report.papers.whole import layout_of, papers
from resilience.report.sheet import html as sheet_html
from resilience.report.showing.whole import report

REFERENCES = ("aria-labelledby", "aria-describedby", "aria-controls", "for")


@pytest.fixture(scope="module")
def pages(house, house_shown) -> dict[str, str]:
    """Every kind of page, of a house with names that nobody should trust."""
    site = read_site(house)
    wrong = (Failure('<b id="x">', "<i>", was_played=False),)
    failed = Portfolio("<p>", Risk.HOURS, (), (), wrong, ("&amp",), 2, 1, "")
    return {
        "report": html(report(house_shown)),
        "papers": html(papers(house_shown, layout_of(house_shown, "with-relay")).document),
        "plan": sheet_html(plan_sheet(plan(site, links(site, "with-relay")))),
        "portfolio": html(overview(failed, '"<', {})),
    }


def errors_of(page: str) -> list[object]:
    parser = HTMLParser()
    parser.parse(page)
    return parser.errors


def test_an_error_is_found():
    assert errors_of("<!DOCTYPE html><title>x</title><p><div></p>")
    assert not errors_of("<!DOCTYPE html><title>x</title><p>y</p>")


@pytest.mark.parametrize("kind", ["report", "papers", "plan", "portfolio"])
def test_a_page_is_parsed_without_an_error(pages, kind):
    assert errors_of(pages[kind]) == []


@pytest.mark.parametrize("kind", ["report", "papers", "plan", "portfolio"])
def test_every_name_is_given_once_and_every_reference_is_met(pages, kind):
    everything = list(tinyhtml5.parse(pages[kind]).iter())
    ids = [one.get("id") for one in everything if one.get("id")]
    assert len(ids) == len(set(ids))
    asked = {name for one in everything for key in REFERENCES for name in one.get(key, "").split()}
    asked |= {one.get("href")[1:] for one in everything if one.get("href", "").startswith("#")}
    asked |= set(re.findall(r"url\(#([^)]+)\)", pages[kind]))
    assert asked <= set(ids)
