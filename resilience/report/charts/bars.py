"""Parts of a whole, the largest first or in the order that they have."""

from collections.abc import Sequence
from dataclasses import dataclass

from resilience.report.charts.axes import LABEL_SIZE, WIDTH, Scale, add_grid, text
from resilience.report.charts.marks import mark
from resilience.report.charts.whiskers import FOOT, ROW, TOP
from resilience.report.drawing.ink import Element, put, short, width_of
from resilience.report.drawing.marks import Figure
from resilience.report.words import counted

MOST_LABEL, THICK = 300.0, 15.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One row.

    Parameters
    ----------
    label : str
        What it is of. [-]
    value : float
        How long it is. [unit]
    shown, told : str
        What stands at its end, and what a pointer finds. [-]
    """

    label: str
    value: float
    shown: str
    told: str


def bars(title: str, axis: str, rows: Sequence[Bar]) -> Figure:
    """Chart of values from 0 on.

    Parameters
    ----------
    title, axis : str
        What it shows, and what its axis is, with the unit. [-]
    rows : sequence of Bar
        At least one, from the top. [-]
    """
    left = min(MOST_LABEL, max(width_of(short(one.label), LABEL_SIZE) for one in rows)) + 16
    room = max(width_of(one.shown, LABEL_SIZE) for one in rows) + 16
    across = Scale(0.0, max(one.value for one in rows) or 1.0, left, WIDTH - room)
    group, bottom = Element("g"), TOP + ROW * len(rows)
    add_grid(group, across, TOP, bottom, axis)
    for n, one in enumerate(rows):
        y, end = TOP + ROW * (n + 0.5), across.at(one.value)
        made = mark(group, one.told, one.value)
        put(made, "rect", "catch", x=0, y=y - ROW / 2, width=WIDTH, height=ROW)
        text(made, "left row-label", short(one.label), (4, y + 4))
        put(made, "rect", "bar-body", x=left, y=y - THICK / 2, width=end - left, height=THICK)
        text(made, "left row-value", one.shown, (end + 8, y + 4))
    about = f"{counted(len(rows), 'bar')}, each with its number at its end."
    return Figure(title, about, WIDTH, bottom + FOOT, group)
