"""A picture as markup that weighs little, where a page holds dozens of them.

What can be read or pointed at stays as it is. Shorter are names that only tests count by, tags
round a single path, closed tags, the size of letters that most texts of a picture share, and paths:
they run from point to point, and to whole units where nobody can see a tenth.
"""

import re
import xml.etree.ElementTree as ET
from collections import Counter
from itertools import groupby

from resilience.report.drawing.frame import Point
from resilience.report.drawing.ink import Element

COARSE = {"link", "leader"}  # classes of lines whose ends a sign covers
N_NUMBERS = {"m": 2, "l": 2, "q": 4, "h": 1, "v": 1, "a": 7, "z": 0}
_STEP = re.compile(r"([MLQmlqhvaz])([^MLQmlqhvaz]*)")
_NUMBER = re.compile(r"-?\d*\.?\d+(?:e-?\d+)?")


def markup(drawn: Element) -> str:
    """Write a picture.

    Parameters
    ----------
    drawn : Element
        Its top element; it is changed. [-]
    """
    for one in list(drawn.iter()):
        one.attrib.pop("data-part", None)
        one[:] = _gathered([_single(child) for child in one])
    _share_size(drawn)
    for one in drawn.iter():
        is_coarse = not COARSE.isdisjoint(one.get("class", "").split())
        if "d" in one.attrib:
            is_link = "data-link" in one.attrib
            one.set("d", shorter(one.attrib["d"], 0 if is_coarse or is_link else 1))
        if one.tag in {"text", "tspan"} and "x" in one.attrib and "transform" not in one.attrib:
            one.attrib.update({side: f"{float(one.attrib[side]):.0f}" for side in "xy"})
    return ET.tostring(drawn, encoding="unicode").replace(" />", "/>")


def _single(group: Element) -> Element:
    """A path that stands alone in its group takes the group's place, with its title and class."""
    classes, paths = group.get("class", ""), group.findall("path")
    titles = group.findall("title")
    is_free = set(group.attrib) <= {"class", "data-link", "data-part"}
    if group.tag != "g" or classes[:4] not in {"", "link"} or not is_free:
        return group
    if len(paths) != 1 or len(titles) + 1 != len(group):
        return group
    both = f"{classes} {paths[0].get('class', '')}".strip()
    made = ET.Element("path", {**({"class": both} if both else {}), **group.attrib})
    made.attrib.update({"d": paths[0].attrib["d"], **({"class": both} if both else {})})
    made.extend(titles)
    return made


def _gathered(children: list[Element]) -> list[Element]:
    """Neighbours that look the same share what says so: lines of links, texts that lie level."""
    found: list[Element] = []
    for looks, some in groupby(children, _looks):
        alike = list(some)
        if looks is None or len(alike) < 2:
            found += alike
            continue
        shared = ET.Element("g" if alike[0].tag == "path" else "text", dict(looks))
        for one in alike:
            for name, _ in looks:
                del one.attrib[name]
            one.tag = "tspan" if one.tag == "text" else one.tag
        shared.extend(alike)
        found.append(shared)
    return found


def _looks(one: Element) -> tuple[tuple[str, str], ...] | None:
    """What neighbours have to have in common; None where it stays by itself."""
    if one.tag == "path" and "data-link" in one.attrib:
        return (("class", one.attrib["class"]),)
    if one.tag == "text" and set(one.attrib) == {"class", "x", "y", "font-size"} and not len(one):
        return tuple((name, one.attrib[name]) for name in ("class", "font-size"))
    return None


def _share_size(drawn: Element) -> None:
    """Let the picture itself say the size of letters that most of its texts have."""
    texts = [one for one in drawn.iter("text") if "font-size" in one.attrib]
    if not texts:
        return
    size = Counter(one.attrib["font-size"] for one in texts).most_common(1)[0][0]
    drawn.set("font-size", size)
    for one in texts:
        if one.attrib["font-size"] == size:
            del one.attrib["font-size"]


def shorter(path: str, places: int) -> str:
    """Path of the same course in fewer letters: each point as steps from the one before.

    Steps lie between rounded points, so that no error adds up.

    Parameters
    ----------
    path : str
        As ``line`` and its callers write it. [-]
    places : int
        Decimals that are kept. [-]
    """
    told, before = "", ""
    at = start = (0.0, 0.0)  # from which the first step, though small, counts (SVG 2, 9.3.3)
    for letter, rest in _STEP.findall(path):
        name, numbers = letter.lower(), [float(one) for one in _NUMBER.findall(rest)]
        size = N_NUMBERS[name]
        if not size:
            told, at, before = f"{told}{name}", start, name
        for n in range(0, len(numbers), size or 1):
            steps, at = _moved(letter, numbers[n : n + size], at, places)
            start = at if name == "m" else start
            is_implied = name == before != "m" or (before, name) == ("m", "l")
            words = _joined(steps, places)
            gap = " " if words[0] != "-" else ""
            told += f"{gap if is_implied else name}{words}"
            before = name
    return told


def _moved(letter: str, numbers: list[float], at: Point, places: int) -> tuple[list[float], Point]:
    """Steps from a point, and where they end; rounded as they are written."""
    if letter.isupper():
        ends = [round(one, places) for one in numbers]
        return [end - at[n % 2] for n, end in enumerate(ends)], (ends[-2], ends[-1])
    steps = [round(one, places) for one in numbers]
    x, y = {"h": (*steps, 0.0), "v": (0.0, *steps)}.get(letter, steps[-2:])
    return steps, (at[0] + x, at[1] + y)


def _joined(numbers: list[float], places: int) -> str:
    """Numbers with a space only where one is needed."""
    written = [f"{round(one, places) + 0.0:.{places}f}" for one in numbers]
    if places:
        written = [one.rstrip("0").rstrip(".") for one in written]
    short = [re.sub(r"^(-?)0\.", r"\1.", one) for one in written]
    return "".join(f"{'' if not n or one[0] == '-' else ' '}{one}" for n, one in enumerate(short))
