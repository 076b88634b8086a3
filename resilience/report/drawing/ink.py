"""Colours, texts and elements: everything that a picture is drawn with.

Colours are those of Okabe and Ito (2008), "Color Universal Design", which people with any kind of
colour vision tell apart; beside each stands a shape, a line style or a word. On dark ground lighter
ones of the same set are taken.
"""

import unicodedata
import xml.etree.ElementTree as ET
from dataclasses import dataclass, fields
from string import Template

from resilience.report.words import visible

Element = ET.Element

FONT = "ui-monospace, 'DejaVu Sans Mono', 'Liberation Mono', Menlo, Consolas, monospace"
ADVANCE = 0.61  # width of a letter of these fonts, as a share of the size
WIDE_ADVANCE = 1.1  # of a letter of the East, from whichever font has it
LONGEST = 28  # letters of a name in a picture; the whole of it is in its title


@dataclass(frozen=True, slots=True)
class Palette:
    """One ground with what is readable on it; names are what a colour is for.

    Parameters
    ----------
    paper, floor : str
        Ground of the page, and of a level. [-]
    ink, wall, quiet, faint : str
        Words, walls, what is beside the point, what is hardly to be seen. [-]
    gateway, repeater, sensor : str
        The kinds of devices. [-]
    link, measured : str
        Predicted and measured links. [-]
    moving : str
        What comes and goes. [-]
    """

    paper: str
    floor: str
    ink: str
    wall: str
    quiet: str
    faint: str
    gateway: str
    repeater: str
    sensor: str
    link: str
    measured: str
    moving: str


BLUE, SKY, GREEN, VERMILLION = "#0072b2", "#56b4e9", "#009e73", "#d55e00"
ORANGE, BLACK = "#e69f00", "#000000"
LIGHT = Palette(
    *("#f6f3ec", "#fffefb", BLACK, "#4a463f", "#6b665c", "#d8d2c4"),
    *(VERMILLION, BLACK, BLUE, BLUE, VERMILLION, GREEN),
)
DARK = Palette(
    *("#17191c", "#202328", "#f2efe8", "#b9b3a6", "#a39d91", "#41454c"),
    *(ORANGE, "#f2efe8", SKY, SKY, ORANGE, GREEN),
)

_RULES = Template(
    """
.ground{fill:$paper}
.floor{fill:$floor;stroke:$quiet;stroke-width:1}
text{fill:$ink}
.halo{stroke:$floor}
.ghost{stroke:$faint}
.name{fill:$ink}
.part{fill:$quiet}
.wall .body{stroke:$wall}
.wall .core{stroke:$floor}
.low .body{stroke:$quiet}
.slab{fill:$wall}
.slab.beyond{fill:$faint}
.block{fill:$wall}
.hole{fill:$paper;stroke:$quiet}
.cross,.leader{stroke:$quiet}
.fill{stroke:$wall}
.moving{stroke:$moving;fill:none}
.moving.box{fill:$moving;fill-opacity:.14}
.plate{stroke:$quiet;fill:$faint;fill-opacity:.35}
.cut,.bar{stroke:$ink}
.link{stroke:$link}
.link.measured{stroke:$measured}
.margin{fill:$link}
.margin.measured{fill:$ink}
.gateway .sign{fill:$gateway;stroke:$floor}
.repeater .sign{fill:$repeater;stroke:$floor}
.sensor .sign{fill:$sensor;stroke:$floor}
.standby .sign{fill:$floor;stroke:$gateway}
.ring,.sole{stroke:$ink}
.gap{fill:$floor}
.own{stroke:$ink}
.device:focus .sign{stroke:$ink}
"""
)
_SHAPES = f"""
text{{font-family:{FONT};text-anchor:middle}}
.halo{{paint-order:stroke;stroke-width:5px;stroke-linejoin:round}}
.left{{text-anchor:start}}
.title{{font-weight:bold}}
.name{{font-weight:bold}}
.floor,.plate{{stroke-linejoin:round}}
.wall path,.fill,.moving,.cut,.bar,.leader,.cross,.own,.ring,.sole,.link,.ghost{{fill:none}}
.low .body{{stroke-dasharray:9 2}}
.wall.solid .core{{stroke:none}}
.light .core{{stroke-dasharray:3 3}}
.brick .core{{stroke-dasharray:8 2.5}}
.heavy .core{{stroke-dasharray:2 2}}
.moving{{stroke-width:1.6}}
.moving.box{{stroke-dasharray:7 3}}
.hole{{stroke-dasharray:5 3}}
.lined{{stroke-dasharray:none}}
.plate{{stroke-dasharray:2 3}}
.cut{{stroke-width:1.2;stroke-dasharray:10 3 2 3}}
.bar{{stroke-width:1.5}}
.leader{{stroke-width:.8}}
.cross{{stroke-width:.6}}
.link{{stroke-linecap:round}}
.near{{stroke-width:1.1;stroke-dasharray:.1 4}}
.thin{{stroke-width:1.2;stroke-dasharray:6 4}}
.ample{{stroke-width:1.2}}
.strong{{stroke-width:2.4}}
.mainly{{stroke-width:3.4}}
.often{{stroke-width:1.8}}
.seldom{{stroke-width:1.2;stroke-dasharray:6 4}}
.sole{{stroke-width:2;stroke-dasharray:none}}
.sole.seldom{{stroke-width:1.4;stroke-dasharray:1.6 1.6}}
.crowd .ample,.crowd .near,.crowd .thin{{stroke-width:.8}}
.crowd .strong{{stroke-width:1.4}}
.tick{{stroke-width:1.6;stroke-dasharray:none}}
.ring{{stroke-width:1.4;stroke-dasharray:3 2}}
.sign{{stroke-width:1.2}}
.standby .sign{{stroke-width:2.4}}
.own,.tip{{visibility:hidden}}
.own{{stroke-width:1.8;stroke-opacity:.8;pointer-events:none}}
.device:hover .own,.device:focus .own,.device:hover .tip,.device:focus .tip{{visibility:visible}}
.device:focus{{outline:none}}
.device:focus .sign{{stroke-width:3}}
"""
_PRINT = "@media print{.own,.tip{visibility:hidden!important}}\n"


def stylesheet(more: str = "") -> str:
    """Rules for every class of a picture, light and dark.

    Viewers that know neither variables nor media rules show the light one, so that a picture can
    also be put into a letter.

    Parameters
    ----------
    more : str
        Rules of whoever binds the pictures, with the names of colours as ``$paper``. [-]
    """
    light, dark = (
        _RULES.substitute(colours(one)) + Template(more).safe_substitute(colours(one))
        for one in (LIGHT, DARK)
    )
    return f"{_SHAPES}{light}@media screen and (prefers-color-scheme:dark){{{dark}}}\n{_PRINT}"


def colours(palette: Palette) -> dict[str, str]:
    """Return the colours of a palette by what they are for."""
    return {one.name: getattr(palette, one.name) for one in fields(palette)}


def put(parent: Element, name: str, classes: str = "", /, **attributes: object) -> Element:
    """Add an element and return it.

    Parameters
    ----------
    parent : Element
        Where it goes, behind what is there. [-]
    name, classes : str
        What it is, and how it looks. [-]
    attributes
        Numbers are rounded to a tenth; ``_`` in a name stands for ``-``. [-]
    """
    told = {key.replace("_", "-"): number(value) for key, value in attributes.items()}
    return ET.SubElement(parent, name, {"class": classes, **told} if classes else told)


def say(element: Element, text: str) -> Element:
    """Give an element the text that a pointer or a reader finds, and return it.

    Parameters
    ----------
    element : Element
        Any; it has no children yet. [-]
    text : str
        Anything; control characters and direction marks are shown as escapes. Nothing is said of
        what has none. [-]
    """
    if text:
        ET.SubElement(element, "title").text = visible(text)
    return element


def number(value: object) -> str:
    """Attribute as it is written: a number to a tenth, all else as it stands."""
    return f"{round(value, 1) + 0.0:g}" if isinstance(value, float) else str(value)


def short(name: str) -> str:
    """Name as a picture shows it, with an ellipsis where it is too long."""
    shown = visible(name)
    return shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1]}…"


def width_of(text: str, size: float) -> float:
    """Room that a text takes, a little more rather than less.

    Parameters
    ----------
    text : str
        What is shown. [-]
    size : float
        Size of its letters. [units]
    """
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)
    return size * (ADVANCE * (len(text) - wide) + WIDE_ADVANCE * wide)


def line(*points: tuple[float, float]) -> str:
    """Path through points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
