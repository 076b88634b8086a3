"""Pictures bound: one page that opens without a network, or one picture of all of them."""

import base64
import hashlib
import textwrap
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from resilience.report.drawing.frame import WIDTH
from resilience.report.drawing.ink import ADVANCE, Element, put, stylesheet
from resilience.report.drawing.marks import Figure
from resilience.report.words import visible

OURS = "resilience plan"  # marks what may be written over
LONGEST_HEAD = 2000  # bytes in which it is looked for
SVG = "http://www.w3.org/2000/svg"
TEXT_SIZE, TITLE_SIZE, LINE, TEXT_LEFT = 11.0, 16.0, 15.0, 40
HINT = (
    "Point at a device for its links, or step from one to the next with the Tab key; point at a "
    "line for what it is."
)
PAGE = """
body{margin:0 auto;max-width:1080px;padding:1.2rem;font:1rem/1.5 Georgia,'Noto Serif',serif}
body{background:$paper;color:$ink}
h1{font-size:1.5rem;margin:0}
h2{font-size:1.15rem;margin:2rem 0 .3rem}
p{margin:.3rem 0;max-width:48rem}
figure{margin:0}
.scroll{overflow-x:auto}
.scroll:focus-visible{outline:2px solid $ink}
svg{display:block;width:100%;min-width:620px;height:auto}
figcaption,.quiet{color:$quiet;font-size:.9rem}
.caution{border-top:1px solid $quiet;margin-top:2rem;padding-top:.6rem}
@media print{body{max-width:none;padding:0;background:none}.scroll{overflow:visible}
svg{min-width:0}figure{break-inside:avoid}.hint{display:none}}
"""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is bound.

    Parameters
    ----------
    title, lead : str
        What it is of, and what comes first, one paragraph an entry. [-]
    figures : tuple of Figure
        In order. [-]
    caution, stamp : str
        What everything ends with, and what stands below each picture. [-]
    """

    title: str
    lead: tuple[str, ...]
    figures: tuple[Figure, ...]
    caution: str
    stamp: str


def html(sheet: Sheet) -> str:
    """One page that needs nothing beside itself.

    Parameters
    ----------
    sheet : Sheet
        What it shows. [-]
    """
    rules = stylesheet(PAGE)
    root = Element("html", lang="en")
    head = ET.SubElement(root, "head")
    put(head, "meta", charset="utf-8")
    policy = f"default-src 'none'; style-src '{digest(rules)}'; base-uri 'none'; form-action 'none'"
    put(head, "meta", content=policy).set("http-equiv", "Content-Security-Policy")
    put(head, "meta", name="generator", content=OURS)
    put(head, "meta", name="viewport", content="width=device-width, initial-scale=1")
    put(head, "meta", name="color-scheme", content="light dark")
    put(head, "title").text = visible(sheet.title)
    put(head, "style").text = rules
    body = ET.SubElement(root, "body")
    main = put(body, "main")
    put(main, "h1").text = visible(sheet.title)
    for sentence in sheet.lead:
        put(main, "p").text = sentence
    put(main, "p", "hint").text = HINT
    for figure in sheet.figures:
        _add_figure(main, figure, sheet.stamp)
    put(main, "p", "caution").text = sheet.caution
    # Written as XML, which escapes more than HTML has to; only an element without an end differs.
    text = ET.tostring(root, encoding="unicode", short_empty_elements=False)
    return f"<!DOCTYPE html>\n{text.replace('></meta>', '>')}\n"


def _add_figure(main: Element, figure: Figure, stamp: str) -> None:
    made = put(main, "figure")
    put(made, "h2").text = figure.title
    scroll = put(made, "div", "scroll", tabindex=0, role="region", aria_label=figure.title)
    box = f"0 0 {figure.width:g} {figure.height:g}"
    drawn = put(scroll, "svg", viewBox=box, role="group")
    put(drawn, "title").text = figure.title
    put(drawn, "desc").text = figure.about
    drawn.append(figure.drawn)
    put(made, "figcaption").text = " ".join((*figure.notes, stamp))


def digest(text: str) -> str:
    """Name of a style sheet or a script in a content security policy (W3C, CSP level 3).

    Parameters
    ----------
    text : str
        All that stands between its tags. [-]
    """
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def head_of(target: Path) -> str:
    """Beginning of a file, in which a page says what made it.

    Parameters
    ----------
    target : Path
        A file that exists. [-]
    """
    with target.open("rb") as stream:
        return stream.read(LONGEST_HEAD).decode("utf-8", "replace")


def is_ours(target: Path) -> bool:
    """Whether a file is a drawing of ours.

    Parameters
    ----------
    target : Path
        A file that exists. [-]
    """
    head = head_of(target)
    return f'content="{OURS}"' in head or f"<desc>{OURS}." in head


def svg(sheet: Sheet, more_rules: str = "") -> str:
    """All pictures in one, below each other.

    Parameters
    ----------
    sheet : Sheet
        What it shows. [-]
    more_rules : str
        How it looks, beside what every drawing has. [-]
    """
    root = Element("svg", {"xmlns": SVG, "role": "group"})
    put(root, "desc").text = f"{OURS}. {' '.join(one.about for one in sheet.figures)}"
    put(root, "title").text = visible(sheet.title)
    put(root, "style").text = stylesheet(more_rules)
    put(root, "rect", "ground", width="100%", height="100%")
    down = _write(root, [visible(sheet.title)], TITLE_SIZE, 30)
    down = _write(root, sheet.lead, TEXT_SIZE, down + 6)
    for figure in sheet.figures:
        down = _write(root, [figure.title], TITLE_SIZE, down + 24)
        left = min(TEXT_LEFT, (WIDTH - figure.width) / 2)  # a chart is narrower than a plan
        moved = put(root, "g", transform=f"translate({left:g} {down:.0f})", role="group")
        put(moved, "desc").text = figure.about
        moved.append(figure.drawn)
        down = _write(root, (*figure.notes, sheet.stamp), TEXT_SIZE, down + figure.height)
    down = _write(root, [sheet.caution], TEXT_SIZE, down + 20) + 10
    root.set("viewBox", f"0 0 {WIDTH:g} {down:g}")
    root.set("width", f"{WIDTH:g}")
    root.set("height", f"{down:g}")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="unicode")}\n'


def _write(root: Element, paragraphs: Sequence[str], size: float, down: float) -> float:
    """Write paragraphs; returns where they end."""
    letters = int((WIDTH - 80) / (size * ADVANCE))
    for paragraph in paragraphs:
        for one in textwrap.wrap(paragraph, letters):
            classes = "left title" if size == TITLE_SIZE else "left"
            put(root, "text", classes, x=TEXT_LEFT, y=down + size, font_size=size).text = one
            down += LINE + size - TEXT_SIZE
    return down
