"""A value with its bounds, row by row."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from resilience.report.charts.axes import LABEL_SIZE, WIDTH, Scale, add_grid, text
from resilience.report.charts.marks import mark
from resilience.report.drawing.ink import Element, line, put, short, width_of
from resilience.report.drawing.marks import Figure
from resilience.report.words import counted

ROW, TOP, FOOT = 26.0, 8.0, 44.0
MOST_LABEL = 210.0
MOST_FACTOR = 3.0  # bounds so many times beyond the largest value end in an arrow
REACH = 5.0


@dataclass(frozen=True, slots=True)
class Whisker:
    """One row.

    Parameters
    ----------
    label : str
        What it is of. [-]
    mean, low, high : float
        Best value and bounds; a bound may be without end. [unit]
    shown, told : str
        What stands at the end of the row, and what a pointer finds. [-]
    """

    label: str
    mean: float
    low: float
    high: float
    shown: str
    told: str


def whiskers(title: str, axis: str, rows: Sequence[Whisker], least: float = 0.0) -> Figure:
    """Chart of values with their bounds.

    Parameters
    ----------
    title, axis : str
        What it shows, and what its axis is, with the unit. [-]
    rows : sequence of Whisker
        At least one, from the top. [-]
    least : float
        Where the axis begins. [unit]
    """
    left = min(MOST_LABEL, max(width_of(short(one.label), LABEL_SIZE) for one in rows)) + 16
    right = WIDTH - max(width_of(one.shown, LABEL_SIZE) for one in rows) - 16
    across = Scale(least, _most(rows, least), left, max(right, left + 80))
    group, bottom = Element("g"), TOP + ROW * len(rows)
    add_grid(group, across, TOP, bottom, axis)
    for n, one in enumerate(rows):
        _add(group, one, across, TOP + ROW * (n + 0.5))
    about = f"{counted(len(rows), 'row')}: a dot for the best value, a line for its bounds."
    return Figure(title, about, WIDTH, bottom + FOOT, group)


def _most(rows: Sequence[Whisker], least: float) -> float:
    """End of the axis: all bounds, unless some reach far beyond all values."""
    largest = max(one.mean for one in rows if math.isfinite(one.mean)) if rows else 0.0
    highs = [one.high for one in rows if math.isfinite(one.high)]
    most = max([largest, *highs])
    if largest > least:
        most = min(most, least + MOST_FACTOR * (largest - least))
    return most if most > least else least + 1.0


def _add(group: Element, one: Whisker, across: Scale, y: float) -> None:
    made = mark(group, one.told, one.mean)
    put(made, "rect", "catch", x=0, y=y - ROW / 2, width=WIDTH, height=ROW)
    text(made, "left row-label", short(one.label), (4, y + 4))
    low, high = across.at(one.low), across.at(one.high)
    span = line((low, y), (high, y)) + line((low, y - REACH), (low, y + REACH))
    if across.holds(one.high):
        span += line((high, y - REACH), (high, y + REACH))
    else:
        put(made, "path", "tip-arrow", d=line((high, y - 4), (high + 7, y), (high, y + 4)) + "z")
    put(made, "path", "span", d=span)
    put(made, "circle", "dot", cx=across.at(one.mean), cy=y, r=REACH)
    text(made, "left row-value", one.shown, (across.end + 14, y + 4))
