"""What the page says: in plain words first, with the numbers that every other answer has."""

import re
from dataclasses import replace
from html import unescape

import pytest

from resilience.montecarlo.estimates import TOO_FEW, Estimate
from resilience.montecarlo.runs.running import INTERRUPTED
from resilience.remedies.fragile.bottlenecks import Point
from resilience.report.advising.weakness import HELP, weakness_page
from resilience.report.binding.document import Document, Listing
from resilience.report.binding.html import html
from resilience.report.binding.tables import csv_of
from resilience.report.drawing.marks import Figure
from resilience.report.pages import Alert, Column, Table, words
from resilience.report.showing.conclusion import conclusion, conclusion_chapter
from resilience.report.showing.drawn import pictures
from resilience.report.showing.facts import bound_cells
from resilience.report.showing.onsite import onsite_chapter
from resilience.report.showing.whole import report
from resilience.report.showing.within import layout_chapter
from resilience.report.words import visible

JARGON = re.compile(r"\b(etx|prr|orphan\w*|frontier|interval\w*)\b", re.IGNORECASE)
TITLES = (
    *("In short", "How sure it is", "A typical year", "Which layout", "The promise"),
    "What to check on site",
    *("Layout bare", "Layout with-relay", "What it rests on"),
)


@pytest.fixture(scope="module")
def document(house_shown) -> Document:
    return report(house_shown)


def test_the_conclusion_is_at_most_150_words_without_jargon(house_shown):
    told = " ".join(conclusion(house_shown))
    assert len(told.split()) <= 150
    assert not JARGON.search(told)
    assert "The promise is " in told


def test_a_report_of_a_run_that_was_interrupted_says_so_first(house_shown):
    comparison = house_shown.comparison
    placed = [
        replace(one, study=replace(one.study, stopped_because=INTERRUPTED))
        for one in comparison.placed
    ]
    cut = replace(house_shown, comparison=replace(comparison, placed=tuple(placed)))
    first = conclusion_chapter(cut).pieces[0]
    assert isinstance(first, Alert)
    assert first.sentence.startswith("Interrupted: ")
    assert not isinstance(conclusion_chapter(house_shown).pieces[0], Alert)


def test_chapters_come_in_the_order_in_which_somebody_asks(document):
    titles = [chapter.title for chapter in document.chapters]
    assert sorted(titles) == sorted(TITLES)
    assert titles[:6] == list(TITLES[:6])
    assert titles[-1] == TITLES[-1]


def test_links_to_measure_first_are_predicted_carry_much_and_have_little_to_spare(house_shown):
    chapter = onsite_chapter(house_shown)
    first = house_shown.layouts[0]
    carried = first.retold.carried_share
    found = [one for one in chapter.pieces if isinstance(one, Listing)]
    weak = {
        (link.a, link.b)
        for link in first.links.links
        if not link.measured
        and first.links.margin_db(link) < 10
        and carried.get((link.a, link.b), 0) + carried.get((link.b, link.a), 0) >= 0.1
    }
    assert weak
    assert {row[:2] for row in found[0].table.rows} == weak


def test_every_link_that_carries_a_hundredth_of_the_time_is_drawn_once_a_layout(house_shown):
    for one in house_shown.layouts:
        carried: dict[frozenset[str], float] = {}
        for way, share in one.retold.carried_share.items():
            carried[frozenset(way)] = carried.get(frozenset(way), 0.0) + share
        n_links = sum(share >= 0.01 for share in carried.values())
        figures = [piece for piece in pictures(one) if isinstance(piece, Figure)]
        drawn = [link for figure in figures for link in figure.drawn.iterfind(".//g[@data-link]")]
        assert len(drawn) == n_links > 0


def test_single_points_of_failure_are_marked_by_shape_and_named_in_the_legend(house_shown):
    for one in house_shown.layouts:
        figures = [piece for piece in pictures(one) if isinstance(piece, Figure)]
        devices = [
            mark for figure in figures for mark in figure.drawn.iterfind(".//g[@data-device]")
        ]
        points = [
            point
            for point in one.weakness.bottlenecks.points
            if point.kind is Point.DEVICE and point.as_drawn
        ]
        marked = {mark.get("data-device") for mark in devices if has_corners(mark, "sole")}
        assert marked == {visible(point.id) for point in points} >= {"G1"}
        words = {text.text for text in figures[0].drawn.iter("text")}
        assert "single point of failure" in words
        at_times = {mark.get("data-device") for mark in devices if has_corners(mark, "sole seldom")}
        assert bool(at_times) == ("so in 5 % of possible buildings or more" in words)


def has_corners(mark, look: str) -> bool:
    return any(path.get("class") == look for path in mark.findall("path"))


def test_a_site_without_a_promise_has_no_chapter_of_it(house_shown):
    titles = [one.title for one in report(replace(house_shown, judgement=None)).chapters]
    assert "The promise" not in titles


def test_every_setting_of_the_catalogue_is_listed_with_its_source(document, house_shown):
    from resilience.assumptions.catalogue import settings

    listing = document.chapters[-1].pieces[-1]
    assert isinstance(listing, Listing)
    rows = {row[0]: row for row in listing.table.rows}
    assert set(rows) == {one.key for one in settings()}
    assert all(one.source in str(rows[one.key][-1]) for one in settings())
    stated = {key for key, row in rows.items() if row[1] == "the site"}
    assert stated == {one.key for one in settings() if house_shown.site.states(one.key)}
    assert "hazards.hardware.mttf_h" in stated


def test_titles_of_tables_and_chapters_are_all_different(document):
    listings = [
        one.title
        for chapter in document.chapters
        for one in chapter.pieces
        if isinstance(one, Listing)
    ]
    assert len(set(listings)) == len(listings)
    page = html(document)
    ids = re.findall(r' id="([^"]*)"', page)
    assert len(set(ids)) == len(ids)


def test_every_picture_of_links_and_the_margin_of_every_sheet_say_that_nobody_measured(document):
    page = html(document)
    assert page.count("Predicted, not surveyed.") > len(re.findall('class="plan"', page))
    assert '@bottom-left{content:"Predicted, not surveyed. Not for fire, gas, medical' in page


def test_the_policy_of_the_page_names_its_own_rules_and_script_alone(document):
    page = html(document)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    parts = dict(part.strip().split(" ", 1) for part in unescape(policy).split(";"))
    assert parts["default-src"] == "'none'"
    assert parts["base-uri"] == parts["form-action"] == "'none'"
    assert set(parts) == {"default-src", "style-src", "script-src", "base-uri", "form-action"}
    assert all(parts[one].startswith("'sha256-") for one in ("style-src", "script-src"))


def test_a_page_of_three_layouts_with_sixty_devices_is_below_a_megabyte(crowd_of):
    page = html(report(crowd_of(59, "one", "three", "two")))
    assert page.count('class="device sensor"') >= 3 * 59
    assert len(page.encode()) < 1_000_000


def test_a_text_that_a_spreadsheet_would_run_has_an_apostrophe_before_it():
    table = Table(
        (*words("id"), Column("value")), (("=1+1", "-3.5"), ("@x", "+4"), ("plain\ntwo", "1,234"))
    )
    assert csv_of(table) == "id,value\n'=1+1,-3.5\n'@x,+4\nplain two,\"1,234\"\n"


@pytest.mark.parametrize(
    ("estimate", "cells"),
    [
        (Estimate(1.234, 0.9, 1.7, 0.95, ""), ("1.2", "0.9", "1.7")),
        (Estimate(1.234, 0.0, 8766.0, 0.95, TOO_FEW), ("1.23", "", "")),
        (Estimate(float("nan"), 0.0, 1.0, 0.95, ""), ("", "", "")),
        (Estimate(5.0, 5.0, 5.0, 0.95, ""), ("5", "5", "5")),
    ],
)
def test_bounds_stand_in_cells_of_their_own_with_the_digits_that_they_bear(estimate, cells):
    assert bound_cells(estimate) == cells


def test_each_layout_says_what_would_help_as_weakest_does(house_shown):
    for one in house_shown.layouts:
        pieces = layout_chapter(house_shown, one).pieces
        listings = [piece for piece in pieces if isinstance(piece, Listing)]
        shown = {row for listing in listings for row in listing.table.rows}
        told = [part for block in weakness_page(one.weakness).blocks for part in block]
        tables = [part for part in told if isinstance(part, Table) and part.columns[-1] == HELP]
        helping = [table for table in tables if table.columns[0].head != "device"]  # else of cells
        assert helping
        assert all(set(table.rows) <= shown for table in helping)


def test_the_conclusion_names_no_option(house_shown):
    assert house_shown.variation is None
    assert "Not tested: whether this order survives" in " ".join(conclusion(house_shown))
    assert "--" not in " ".join(conclusion(house_shown))
