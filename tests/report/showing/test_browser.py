"""The page in a real browser: it opens from a file, answers pointer and keys, sorts, and prints.

The browser is the system's Chromium, or the one that RESILIENCE_CHROMIUM names; .ci/run installs
it. Without one these tests fail, since a page that nobody has opened is not tested.
"""

import json
import os
import re
import shutil
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from resilience.report.binding.html import html
from resilience.report.showing.whole import report
from resilience.report.words import figure, figure_parts, visible

QUIET = (  # what a browser would otherwise ask the network for by itself
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
A4_PT = (595.28, 841.89)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = os.environ.get("RESILIENCE_CHROMIUM") or shutil.which("chromium")
    assert found, "no Chromium: install Debian's package chromium, or name one"
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=found, args=list(QUIET))
        yield started
        started.close()


@pytest.fixture(scope="module")
def house_file(house_shown, tmp_path_factory) -> Path:
    target = tmp_path_factory.mktemp("pages") / "house.html"
    target.write_text(html(report(house_shown)), encoding="utf-8")
    return target


class Opened:
    """A page that is open, with everything that it asked for and complained of."""

    def __init__(self, browser: Browser, target: Path, **options: object) -> None:
        self.page: Page = browser.new_page(**options)
        self.asked: list[str] = []
        self.told: list[str] = []
        self.page.on("request", lambda one: self.asked.append(one.url))
        self.page.on("console", lambda one: self.told.append(one.text))
        self.page.on("pageerror", lambda one: self.told.append(str(one)))
        self.page.on("dialog", lambda one: self.told.append(one.message) or one.dismiss())
        self.page.goto(target.as_uri())


@pytest.fixture
def opened(browser, house_file) -> Iterator[Opened]:
    found = Opened(browser, house_file)
    yield found
    assert found.told == []
    assert found.asked == [house_file.as_uri()]  # itself, and nothing else
    found.page.close()


AS_TEXT = "all => all.map(row => [...row.cells].map(one => one.textContent.trim()).join('\\t'))"


def listing(page: Page, title: str):
    return page.locator(f"table[data-title={json.dumps(title)}]")


def cells(table, column: int) -> list[str]:
    return table.locator(f"tbody tr td:nth-child({column})").all_inner_texts()


def test_every_chart_and_plan_has_marks_and_every_name_stays_text(opened, house_shown):
    page = opened.page
    charts = page.locator("svg.chart")
    assert charts.count() >= 4 * len(house_shown.layouts)
    for n in range(charts.count()):
        assert charts.nth(n).locator(".mark").count() > 0
    for one in house_shown.layouts:
        ids = {visible(device.id) for device in one.placed.layout.devices}
        plans = page.locator(f"figure:has(figcaption:text-is('Level loft, layout {one.name}'))")
        drawn = plans.locator(".device").evaluate_all("all => all.map(g => g.dataset.device)")
        assert set(drawn) == {id for id in ids if id in drawn} != set()
    assert page.title() == house_shown.site.name
    assert page.locator("img, iframe, object, link, svg[onload]").count() == 0
    assert page.locator("script").count() == 1


def test_pointer_and_keys_tell_the_numbers_that_json_has(opened, house_shown):
    page, comparison = opened.page, house_shown.comparison
    rows = page.locator("figure:has(figcaption:text-is('Layouts by hours cut off')) .mark")
    document = json.loads(json.dumps(house_shown.to_json()))
    readout = page.locator("#readout")
    for n, (one, told) in enumerate(zip(comparison.placed, document["layouts"], strict=True)):
        value = float(rows.nth(n).get_attribute("data-value"))
        assert value == told["service_hours_per_sensor_year"]["mean"]
        rows.nth(n).hover()
        assert readout.inner_text().endswith(f"{figure(one.study.service_hours)} h a year")
    rows.nth(0).focus()
    first = readout.inner_text()
    page.keyboard.press("ArrowDown")
    assert readout.inner_text() != first
    assert page.evaluate("document.activeElement.classList.contains('mark')")
    page.keyboard.press("Escape")
    assert readout.is_hidden()


def test_lines_and_devices_tell_what_the_tables_and_plans_of_their_layout_have(opened, house_shown):
    page, one = opened.page, house_shown.layouts[1]
    chapter = page.locator(f"section:has(> h2:text-is('Layout {one.name}'))")
    readout, line = page.locator("#readout"), chapter.locator("[data-link]").first
    line.dispatch_event("pointerenter")
    a, b = line.get_attribute("data-link").split("~")
    told = readout.inner_text()
    rows = listing(page, f"Links that carry, layout {one.name}").locator("tbody tr")
    rows = [row.split("\t") for row in rows.evaluate_all(AS_TEXT)]
    row = next(row for row in rows if {row[0], row[1]} == {a, b})
    assert told.startswith(f"{row[0]} sends to {row[1]} {row[2]} % of the time; ")
    assert told.endswith(f"; in the way: {row[7]}")
    assert f"{row[4]} dB to spare, predicted, {row[5]} m" in told
    on_section = chapter.locator("[data-device=G1]:not([tabindex='0'])").first
    on_section.dispatch_event("pointerenter")
    assert readout.inner_text().startswith("G1, gateway on mains, at x 2 m and y 4 m")
    chapter.locator("svg:has([data-link^='G1~']) [data-device=G1]").first.dispatch_event(
        "pointerenter"
    )
    lit = chapter.locator("[data-link].lit").evaluate_all("all => all.map(g => g.dataset.link)")
    assert lit
    assert all("G1" in link.split("~") for link in lit)


def test_tables_sort_by_number_and_by_name_and_go_along_as_text(opened, house_shown, tmp_path):
    page, first = opened.page, house_shown.layouts[0]
    table = listing(page, f"Sensors of {first.name}")
    silent = table.locator("th button", has_text="silent, %")
    silent.click()
    up = [float(one) for one in cells(table, 3)]
    assert up == sorted(up)
    silent.click()
    assert [float(one) for one in cells(table, 3)] == sorted(up, reverse=True)
    assert table.locator("th[aria-sort]").get_attribute("aria-sort") == "descending"
    silent = {one.id: figure_parts(one.dark_share, 100)[0] for one in first.study.sensor_figures}
    assert dict(zip(cells(table, 1), cells(table, 3), strict=True)) == silent
    with page.expect_download() as found:
        table.locator("xpath=../..").locator("button.take").click()
    found.value.save_as(tmp_path / "taken.csv")
    lines = (tmp_path / "taken.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1 + len(first.study.sensors)
    assert lines[0].startswith('"sensor","level","silent, %"')
    assert any(line.startswith("\"'=cmd|") for line in lines)  # no formula for a spreadsheet


def test_nothing_sticks_out_of_a_window_of_320_to_2560_pixels(opened):
    page = opened.page
    for width in (320, 768, 2560):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(
    ("scheme", "rules"),
    [("light", {}), ("dark", {"runOnly": ["color-contrast"]})],  # the others know no colours
)
def test_no_rule_of_access_is_broken(browser, house_file, scheme, rules):
    """By axe-core, every rule that it has, with everything unfolded.

    Four rows of each table stay: all rows of a table are alike, and their colours take long.
    """
    opened = Opened(browser, house_file, color_scheme=scheme, reduced_motion="reduce")
    page = opened.page
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    page.evaluate(
        "document.querySelectorAll('tbody tr:nth-child(n+5)').forEach(one => one.remove())"
    )
    axe = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    page.evaluate(axe)  # by the driver, beside the page's policy, which lets in no script of others
    found = page.evaluate("rules => axe.run(document, rules)", rules)
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []
    passed = {one["id"] for one in found["passes"]}
    assert passed >= ({"color-contrast"} if rules else {"color-contrast", "svg-img-alt", "region"})
    page.close()


def test_everything_prints_on_a4_with_the_stamp_on_each_sheet(browser, house_file, house_shown):
    opened = Opened(browser, house_file)
    printed = pypdfium2.PdfDocument(opened.page.pdf(prefer_css_page_size=True))
    texts = []
    for sheet in printed:
        assert sheet.get_size() == pytest.approx(A4_PT, abs=2)
        texts.append(sheet.get_textpage().get_text_range())
        assert "Predicted, not surveyed." in texts[-1]
    whole = re.sub(r"\s+", "", "".join(texts))
    for title in opened.page.locator("h2, h3, summary, figcaption").all_inner_texts():
        assert re.sub(r"\s+", "", title) in whole
    last = listing(opened.page, "Assumptions with their sources").locator("tr").last
    assert re.sub(r"\s+", "", last.locator("td").first.inner_text()) in whole
    opened.page.close()


def test_nothing_is_cut_at_the_edge_of_a_sheet(browser, house_file):
    opened = Opened(browser, house_file, viewport={"width": 695, "height": 900})  # A4 less margins
    opened.page.emulate_media(media="print")
    sticking = opened.page.evaluate(
        "Array.from(document.querySelectorAll('table, svg, p, h2, h3, li'))"
        ".filter(one => one.getBoundingClientRect().right > 696)"
        ".map(one => one.outerHTML.slice(0, 120))"
    )
    assert sticking == []
    opened.page.close()


def test_it_can_be_read_without_scripts(browser, house_file, house_shown):
    opened = Opened(browser, house_file, java_script_enabled=False)
    page = opened.page
    assert page.locator("h2").all_inner_texts()[0] == "In short"
    assert page.locator("svg.chart .mark title").count() > 20
    assert page.locator("details summary").count() > 3
    page.locator("details summary").first.click()
    assert page.locator("details[open] table").count() == 1
    page.close()


def test_a_crowd_of_400_is_painted_within_two_seconds_and_stays_usable(browser, crowd_of, tmp_path):
    target = tmp_path / "crowd.html"
    target.write_text(html(report(crowd_of(400, "one"))), encoding="utf-8")
    paint_ms = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
    for _ in range(3):  # others may be at work on the same cores
        opened = Opened(browser, target)
        if opened.page.evaluate(paint_ms) < 2000:
            break
    assert opened.page.evaluate(paint_ms) < 2000
    table = listing(opened.page, "Sensors of one")
    began = time.perf_counter()
    table.locator("th button", has_text="sensor").click()
    table.locator("th button", has_text="sensor").click()
    assert time.perf_counter() - began < 5
    assert cells(table, 1)[0] == "S399"
    assert opened.told == []
    opened.page.close()
