"""A page stays so small that a mail takes it, and what makes it small changes nothing on it."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from resilience.report.binding.html import html
from resilience.report.binding.markup import markup, shorter
from resilience.report.showing.whole import report

NUMBER = r"-?\d*\.?\d+"
LAYOUTS = ("one", "two", "three", "four", "five", "six")


def corners(path: str) -> list[tuple[float, float]]:
    """Where a path goes, by the rules of SVG 2 (chapter 9), as far as pictures use them."""
    found, at, start = [], (0.0, 0.0), (0.0, 0.0)
    for letter, rest in re.findall(r"([a-zA-Z])([^a-zA-Z]*)", path):
        numbers = [float(one) for one in re.findall(NUMBER, rest)]
        size = {"m": 2, "l": 2, "q": 4, "a": 7, "h": 1, "z": 0}[letter.lower()]
        if not size:
            at = start
        for n in range(0, len(numbers), size or 1):
            some, base = numbers[n : n + size], at if letter.islower() else (0.0, 0.0)
            x, y = (some[0], 0.0) if letter == "h" else some[-2:]
            if letter in "qQ":
                found.append((base[0] + some[0], base[1] + some[1]))
            at = (base[0] + x, base[1] + y)
            start = at if letter in "mM" and n == 0 else start
            found.append(at)
    return found


@pytest.mark.parametrize(
    "path",
    [
        "M10.4 20.6L110.2 20.6L110.2 80.1z",
        "M1 2L3 4M0.4 0.2L-0.3 0.4M5 5L6 6",
        "M116.4 234.5a7 7 0 1 0 14 0a7 7 0 1 0 -14 0z",
        "M40 16h12m22 0h12",
        "M10 10Q55.5 -3.2 100.1 10.4",
    ],
)
@pytest.mark.parametrize("places", [0, 1])
def test_a_shorter_path_goes_where_the_longer_one_did(path, places):
    short = shorter(path, places)
    assert len(corners(short)) == len(corners(path))
    for one, other in zip(corners(short), corners(path), strict=True):
        assert one == pytest.approx(other, abs=0.5 * 10**-places + 1e-9)


def test_a_long_path_does_not_drift():
    path = "M0 0" + "".join(f"L{n * 0.26:.2f} 0.4" for n in range(1, 1000))
    assert len(shorter(path, 1)) < 0.6 * len(path)
    assert corners(shorter(path, 1))[-1] == pytest.approx((999 * 0.26, 0.4), abs=0.05 + 1e-9)


def test_neighbours_that_look_the_same_say_so_once_and_keep_their_words():
    drawn = ET.fromstring(
        '<svg><g class="link often" data-link="A~B"><path d="M0 0L9 9"/></g>'
        '<g class="link often" data-link="A~C"><path d="M0 0L9 5"/></g>'
        '<text class="margin halo" x="1.4" y="2" font-size="8.5">7</text>'
        '<text class="margin halo" x="5" y="6" font-size="8.5">34</text>'
        '<text class="name halo" x="5" y="6" font-size="12">A &lt; B</text></svg>'
    )
    assert markup(drawn) == (
        '<svg font-size="8.5"><g class="link often"><path data-link="A~B" d="m0 0 9 9"/>'
        '<path data-link="A~C" d="m0 0 9 5"/></g><text class="margin halo">'
        '<tspan x="1" y="2">7</tspan><tspan x="5" y="6">34</tspan></text>'
        '<text class="name halo" x="5" y="6" font-size="12">A &lt; B</text></svg>'
    )


def test_of_layouts_that_are_copies_one_is_shown_and_the_other_names_it(crowd_of):
    shown = crowd_of(8, "one", "two")
    first, other = shown.layouts
    devices, links = first.placed.layout.devices, first.placed.layout.links
    copied = replace(other.placed.layout, devices=devices, links=links)
    twin = replace(other, placed=replace(other.placed, layout=copied))
    chapters = report(replace(shown, layouts=(first, twin))).chapters
    (told,) = next(one.pieces for one in chapters if one.title == "Layout two")
    assert told.text.startswith("A copy of one: the same devices at the same places")
    whole = next(one for one in report(shown).chapters if one.title == "Layout two")
    assert len(whole.pieces) > 10


def test_a_page_of_sixty_devices_in_six_layouts_is_below_a_megabyte(crowd_of):
    """Each sensor sends to six others, which makes some 340 lines a layout."""
    page = html(report(crowd_of(59, *LAYOUTS)))
    assert page.count("data-link=") == len(LAYOUTS) * (59 * 6 - (1 + 2 + 3 + 4 + 5 + 6))
    assert len(page.encode()) < 1_000_000
