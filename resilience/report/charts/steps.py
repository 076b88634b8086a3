"""Curves in steps, one a layout: told apart by colour, dash, sign and a name beside each."""

from collections.abc import Sequence
from dataclasses import dataclass

from resilience.report.charts.axes import TICK_SIZE, WIDTH, Scale, add_grid, text
from resilience.report.charts.marks import mark
from resilience.report.drawing.ink import Element, line, put, short, width_of
from resilience.report.drawing.marks import Figure
from resilience.report.words import counted

LEFT, RIGHT, TOP, FOOT, HIGH = 62.0, 24.0, 14.0, 44.0, 260.0
N_STYLES = 6
KEY_ROW, SAMPLE = 22.0, 34.0
REACH = 4.5


@dataclass(frozen=True, slots=True)
class Dot:
    """One value of a curve.

    Parameters
    ----------
    x, y : float
        Where it is. [unit]
    told : str
        What a pointer finds. [-]
    is_open : bool
        Whether it stands beside the curve, with its sign left open. [-]
    """

    x: float
    y: float
    told: str
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve.

    Parameters
    ----------
    name : str
        Of what. [-]
    dots : tuple of Dot
        From the left. [-]
    """

    name: str
    dots: tuple[Dot, ...]


@dataclass(frozen=True, slots=True)
class Axes:
    """What a chart of curves is drawn on.

    Parameters
    ----------
    across, up : str
        What the axes are, with their units. [-]
    across_is_log, up_is_log : bool
        Whether equal ratios are equally far apart. [-]
    up_most : float or None
        Upper end of the axis; None takes the largest value. [unit]
    note : str
        What is said below. [-]
    """

    across: str
    up: str
    across_is_log: bool = False
    up_is_log: bool = False
    up_most: float | None = None
    note: str = ""


def steps(title: str, axes: Axes, curves: Sequence[Curve]) -> Figure:
    """Chart of curves that hold a value until the next one.

    Parameters
    ----------
    title : str
        What it shows. [-]
    axes : Axes
        On what. [-]
    curves : sequence of Curve
        At least one dot among them. [-]
    """
    group, top = Element("g"), TOP + KEY_ROW * len(curves) + 20
    across, up = _scales(axes, curves, top)
    add_grid(group, across, top, top + HIGH, axes.across)
    _add_heights(group, up, across, axes.up)
    for n, curve in enumerate(curves):
        style, y = f"series-{n % N_STYLES}", TOP + KEY_ROW * n
        key = put(group, "g", f"series {style}", aria_hidden="true")
        put(key, "path", "curve", d=line((LEFT, y), (LEFT + SAMPLE, y)))
        put(key, "path", "knot", d=_knot(n % N_STYLES, LEFT + SAMPLE / 2, y))
        text(key, "left row-label", short(curve.name), (LEFT + SAMPLE + 10, y + 4))
        made = put(group, "g", f"series {style}")
        put(made, "path", "curve", d=_path(curve, across, up))
        for dot in curve.dots:
            one = mark(made, dot.told, dot.y, "open" if dot.is_open else "")
            at = across.at(dot.x), up.at(dot.y)
            put(one, "path", "knot", d=_knot(n % N_STYLES, *at))
    about = f"{counted(len(curves), 'curve')}: {axes.up}, {axes.across}."
    notes = (axes.note,) if axes.note else ()
    return Figure(title, about, WIDTH, top + HIGH + FOOT, group, notes)


def _scales(axes: Axes, curves: Sequence[Curve], top: float) -> tuple[Scale, Scale]:
    xs = [dot.x for curve in curves for dot in curve.dots]
    ys = [dot.y for curve in curves for dot in curve.dots if dot.y > 0]
    least = min(ys, default=1.0) / 2 if axes.up_is_log else 0.0
    most = axes.up_most or max(ys, default=1.0)
    right = max(xs) * (1.25 if axes.across_is_log else 1.0)
    left = min(xs) / 1.25 if axes.across_is_log else min(0.0, *xs)
    return (
        Scale(left, right if right > left else left + 1, LEFT, WIDTH - RIGHT, axes.across_is_log),
        Scale(least, most, top + HIGH, top, axes.up_is_log),
    )


def _add_heights(group: Element, up: Scale, across: Scale, title: str) -> None:
    made = put(group, "g", "grid", aria_hidden="true")
    for value in up.ticks:
        y, words = up.at(value), f"{value:,g}"
        put(made, "path", "rule", d=line((across.begin, y), (across.end, y)))
        x = across.begin - width_of(words, TICK_SIZE) - 6
        text(made, "left tick-label", words, (x, y + 4), TICK_SIZE)
    text(made, "left axis-title", title, (4, up.end - 10), TICK_SIZE)


def _path(curve: Curve, across: Scale, up: Scale) -> str:
    points: list[tuple[float, float]] = []
    for dot in (one for one in curve.dots if not one.is_open):
        x, y = across.at(dot.x), up.at(dot.y)
        if points:
            points.append((x, points[-1][1]))
        points.append((x, y))
    return line(*points) if len(points) > 1 else ""


def _knot(style: int, x: float, y: float) -> str:
    """Sign of a curve: disc, square, triangle, diamond, triangle upside down, bow tie."""
    r = REACH
    if style == 0:
        half = f"a{r:g} {r:g} 0 1 0 "
        return f"{line((x - r, y))}{half}{2 * r:g} 0{half}{-2 * r:g} 0z"
    corners = {
        1: ((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)),
        2: ((x, y - 1.3 * r), (x + 1.2 * r, y + r), (x - 1.2 * r, y + r)),
        3: ((x, y - 1.4 * r), (x + 1.4 * r, y), (x, y + 1.4 * r), (x - 1.4 * r, y)),
        4: ((x, y + 1.3 * r), (x - 1.2 * r, y - r), (x + 1.2 * r, y - r)),
        5: ((x - 1.2 * r, y - r), (x + 1.2 * r, y + r), (x + 1.2 * r, y - r), (x - 1.2 * r, y + r)),
    }
    return line(*corners[style]) + "z"
