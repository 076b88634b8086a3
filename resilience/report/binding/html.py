"""A document as one HTML file that needs nothing beside itself."""

import copy
import hashlib
import re
import xml.etree.ElementTree as ET
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from resilience.report.binding.document import Document
from resilience.report.binding.markup import markup
from resilience.report.charts.looks import RULES
from resilience.report.drawing.frame import TIP_HIGH
from resilience.report.drawing.ink import Element, put, stylesheet
from resilience.report.drawing.marks import Figure
from resilience.report.pages import Table, Text
from resilience.report.sheet import digest, head_of
from resilience.report.words import visible

if TYPE_CHECKING:
    from markupsafe import Markup

MAKER = "resilience report"  # marks what may be written over
STAMP = "STAMP"  # where the rules take what stands on every printed page
LIFE_SAFETY = "Not for fire, gas, medical or other life-safety signalling."
LONGEST_WORD = 22  # letters; a longer one may be broken anywhere
MOST_COLUMNS = 20  # of a table
NARROW = 800.0  # width of a picture below which it is never drawn larger than it is


def html(document: Document) -> str:
    """Bind a document.

    Parameters
    ----------
    document : Document
        What it shows. [-]
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    templates = Environment(
        loader=PackageLoader("resilience.report.binding"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # What stands in the margin of every printed page is ours: no name finds its way into the rules.
    page_rules = _beside("page.css").replace(STAMP, f"{document.stamp} {LIFE_SAFETY}")
    rules, script = stylesheet(page_rules + _figure_rules() + RULES), _beside("page.js")
    return templates.get_template("document.html.j2").render(
        document=document,
        maker=MAKER,
        rules=Markup(rules),
        script=Markup(script),
        policy=(
            f"default-src 'none'; style-src '{digest(rules)}'; script-src '{digest(script)}'; "
            "base-uri 'none'; form-action 'none'"
        ),
        anchor=_anchor,
        drawn=_drawn,
        class_of=_class_of,
        figures_of=_figures_of,
        notes_of=_notes_of,
        kind_of=_kind_of,
        cell_of=_cell_of,
    )


def is_ours(target: Path) -> bool:
    """Whether a file is a document of ours.

    Parameters
    ----------
    target : Path
        A file that exists. [-]
    """
    return f'name="generator" content="{MAKER}"' in head_of(target)


def _beside(name: str) -> str:
    return files("resilience.report.binding").joinpath(f"templates/{name}").read_text("utf-8")


def _shown(value: object) -> object:
    """Text with every control character and direction mark as an escape; markup as it stands."""
    is_markup = hasattr(value, "__html__")
    return visible(value) if isinstance(value, str) and not is_markup else value


def _anchor(title: str) -> str:
    """Name of a place in the document: its title in plain letters, and a digest that no other has.

    Parameters
    ----------
    title : str
        Any text. [-]
    """
    plain = re.sub("[^a-z0-9]+", "-", title.lower()).strip("-")[:40]
    return f"{plain}-{hashlib.sha256(title.encode('utf-8', 'surrogatepass')).hexdigest()[:6]}"


def _kind_of(piece: object) -> str:
    return type(piece).__name__


def _cell_of(cell: str | Text) -> tuple[list[str], str]:
    """Lines of a cell, and how they are meant."""
    if isinstance(cell, Text):
        return cell.text.split("\n"), cell.tone.name.lower()
    return cell.split("\n"), "plain"


def _is_chart(figure: Figure) -> bool:
    return figure.width < NARROW


def _notes_of(figure: Figure, document: Document) -> str:
    """What is said below a picture; one of links says each time whether anybody measured them."""
    return " ".join((*figure.notes, *([] if _is_chart(figure) else [document.stamp])))


def _drawn(figure: Figure) -> "Markup":
    """Picture as SVG; whatever it holds was put there as text."""
    from markupsafe import Markup

    classes = "chart" if _is_chart(figure) else "plan"
    top: Element = ET.Element("svg", {"class": classes, "role": "group"})
    put(top, "title").text = visible(figure.title)
    put(top, "desc").text = visible(figure.about)
    top.append(copy.deepcopy(figure.drawn))
    high = figure.height
    if top.find(".//text[@class='tip left']") is not None:
        high -= TIP_HIGH  # a line at the foot of the page takes its place
    top.set("viewBox", f"0 0 {figure.width:g} {high:g}")
    for device in top.iterfind(".//g[@role='img'][@data-device]"):
        _leave_to_script(device)
    return Markup(markup(top))


def _leave_to_script(device: Element) -> None:
    """Take out what the page says in another way: by a line at its foot, or from another picture.

    On a section, which has no stops for the Tab key, a device says its name alone: the plan of its
    level has the rest.
    """
    for one in device.findall("text[@class='tip left']") + device.findall("path[@class='own']"):
        device.remove(one)
    if "tabindex" not in device.attrib:
        for title in device.findall("title"):
            title.text = device.attrib["data-device"]


def _class_of(lines: list[str], tone: str) -> "Markup":
    """Attribute of a cell; most cells need none, and there are thousands."""
    from markupsafe import Markup

    is_long = any(len(word) > LONGEST_WORD for line in lines for word in line.split())
    classes = [name for name, is_so in {tone: tone != "plain", "long": is_long}.items() if is_so]
    return Markup(f' class="{" ".join(classes)}"' if classes else "")


def _figures_of(table: Table) -> "Markup":
    """Attribute of a table: in which of its columns figures stand."""
    from markupsafe import Markup

    places = [f"f{n + 1}" for n, one in enumerate(table.columns) if not one.is_text]
    assert len(table.columns) <= MOST_COLUMNS
    return Markup(f' class="{" ".join(places)}"' if places else "")


def _figure_rules() -> str:
    """Rules for the cells of such columns, so that none has to say it for itself."""
    cells = ",".join(f".f{n} td:nth-child({n})" for n in range(1, MOST_COLUMNS + 1))
    return (
        f"{cells}{{text-align:right;font-variant-numeric:tabular-nums}}\n"
        f"@media print{{{cells}{{white-space:nowrap;overflow-wrap:normal}}}}\n"
    )
