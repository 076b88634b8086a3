"""Scales and their ticks: from numbers to places in a chart."""

import math
from dataclasses import dataclass

from resilience.report.drawing.frame import Point, bar_m
from resilience.report.drawing.ink import Element, line, put

WIDTH = 720.0
LABEL_SIZE, TICK_SIZE = 12.0, 11.0
USUAL_TICKS, LEAST_TICKS = 5, 3


@dataclass(frozen=True, slots=True)
class Scale:
    """One axis.

    Parameters
    ----------
    least, most : float
        Values at its ends; above 0 where it is logarithmic. [unit]
    begin, end : float
        Where they lie in the picture. [units]
    is_log : bool
        Whether equal ratios are equally far apart. [-]
    """

    least: float
    most: float
    begin: float
    end: float
    is_log: bool = False

    def at(self, value: float) -> float:
        """Return where a value lies; what is beyond an end lies at that end."""
        near = min(max(value, self.least), self.most)
        if self.is_log:
            share = math.log(near / self.least) / math.log(self.most / self.least)
        else:
            share = (near - self.least) / (self.most - self.least)
        return self.begin + share * (self.end - self.begin)

    def holds(self, value: float) -> bool:
        """Whether a value is on the axis and not beyond it."""
        return self.least <= value <= self.most

    @property
    def ticks(self) -> list[float]:
        """Round values on it."""
        if self.is_log:
            first, last = math.floor(math.log10(self.least)), math.floor(math.log10(self.most))
            powers = [10.0**power for power in range(first, last + 1)]
            round_ones = [step * power for power in powers for step in (1, 2, 5)]
            tried = (powers, round_ones)  # powers alone, unless hardly one is on the axis
            found = [[one for one in some if self.holds(one)] for some in tried]
            return found[len(found[0]) < LEAST_TICKS]
        step = bar_m((self.most - self.least) / USUAL_TICKS * 1.01)
        step *= 2 if (self.most - self.least) / step > 2 * USUAL_TICKS else 1
        first, last = math.ceil(self.least / step), math.floor(self.most / step + 1e-9)
        return [n * step for n in range(first, last + 1)]


def add_grid(group: Element, across: Scale, top: float, bottom: float, title: str) -> None:
    """Draw upright lines with their values below, and what the values are.

    Parameters
    ----------
    group : Element
        The picture. [-]
    across : Scale
        The axis. [-]
    top, bottom : float
        From where to where the lines reach. [units]
    title : str
        What it shows, with its unit. [-]
    """
    made = put(group, "g", "grid", aria_hidden="true")
    for value in across.ticks:
        x = across.at(value)
        put(made, "path", "rule", d=line((x, top), (x, bottom)))
        text(made, "tick-label", f"{value:,g}", (x, bottom + 15), TICK_SIZE)
    middle = (across.begin + across.end) / 2
    text(made, "axis-title", title, (middle, bottom + 33), TICK_SIZE)


def text(group: Element, classes: str, words: str, at: Point, size: float = LABEL_SIZE) -> Element:
    """Write words at a place, the foot of their letters at its height.

    Parameters
    ----------
    group : Element
        Where they go. [-]
    classes, words : str
        How they look, and what they say. [-]
    at : (float, float)
        Where they begin, or where their middle is. [units]
    size : float
        How large. [units]
    """
    made = put(group, "text", classes, x=at[0], y=at[1], font_size=size)
    made.text = words
    return made
