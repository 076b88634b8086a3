"""Values to be tried between one at which a promise is kept and an end at which it is not.

They are round ones, so that a value that is told is one that was played.
"""

import math
from collections.abc import Iterator

from resilience.assumptions.catalogue import Setting
from resilience.montecarlo.estimates import LEVEL
from resilience.policy.hanging.conditions import Limit, Seen, Shown, Side

HALVINGS = 4  # tests at most between two values
N_BETWEEN = 2**HALVINGS - 1
MOST_TESTS = 2 * (HALVINGS + 1)  # of one default: towards both ends, these included
# Each test errs on one side only, with half of what is left; all of a default miss as one bound.
KEPT_LEVEL = 1 - 2 * (1 - LEVEL) / MOST_TESTS


def share_of(setting: Setting, value: float) -> float:
    """Share of a setting's range below a value: the inverse of ``Setting.value_at``.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    value : float
        A value; one beyond an end counts as that end. [unit]
    """
    low, high = setting.low, setting.high
    assert low is not None
    assert high is not None
    if setting.is_drawn_in_logarithm:
        share = math.log(max(value, low) / low) / math.log(high / low)
    else:
        share = (value - low) / (high - low)
    return min(1.0, max(0.0, share))


def between(setting: Setting, start: float, at: int) -> tuple[float, ...]:
    """Round values between a start and an end of a setting's range, in that order, both left out.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    start : float
        A value of its range. [unit]
    at : int
        0 for the low end, 1 for the high one. [-]
    """
    first, end = share_of(setting, start), setting.value_at(at)
    found: dict[float, None] = {}
    for k in range(1, N_BETWEEN + 1):
        value = setting.value_at(first + (at - first) * k / (N_BETWEEN + 1))
        value = _rounded(setting, value, is_down=bool(at))
        if min(start, end) < value < max(start, end):
            found[value] = None
    return tuple(found)


def _rounded(setting: Setting, value: float, is_down: bool) -> float:
    """Round towards the start: to two digits, or to as many as the steps of an even range need."""
    assert setting.low is not None
    assert setting.high is not None
    size = value if setting.is_drawn_in_logarithm else 2 * (setting.high - setting.low)
    places = 1 - math.floor(math.log10(abs(size)))
    if isinstance(setting.default, int):
        places = min(places, 0)
    scaled = value * 10.0**places
    whole = math.floor(scaled + 1e-9) if is_down else math.ceil(scaled - 1e-9)
    return float(round(whole / 10.0**places, max(0, places)))


class Crossing:
    """Search among values in a row for the last at which a promise is still kept.

    Parameters
    ----------
    values : tuple of float
        From the start to the end, both left out. [unit]
    """

    def __init__(self, values: tuple[float, ...]) -> None:
        self._values = values
        self._kept, self._not_kept = -1, len(values)

    @property
    def kept_to(self) -> float | None:
        """Farthest value at which it is kept; None where none was."""
        return self._values[self._kept] if self._kept >= 0 else None

    @property
    def next(self) -> float | None:
        """Value to be tried next; None where the search is over."""
        if self._not_kept - self._kept <= 1:
            return None
        return self._values[(self._kept + self._not_kept) // 2]

    def learn(self, is_kept: bool) -> None:
        """Take what the next value has shown.

        Parameters
        ----------
        is_kept : bool
            Whether the promise is shown to be kept there. [-]
        """
        middle = (self._kept + self._not_kept) // 2
        if is_kept:
            self._kept = middle
        else:
            self._not_kept = middle


class Search:
    """Where a layout stops keeping a promise as one default moves to either end of its range.

    It starts where the promise is kept: at what is assumed, else at the one end where it is.

    Parameters
    ----------
    setting : Setting
        The default. [-]
    layout : str
        Name. [-]
    usual : Seen
        What is shown as assumed. [-]
    ends : tuple of Seen
        What both ends show. [-]
    """

    def __init__(self, setting: Setting, layout: str, usual: Seen, ends: tuple[Seen, Seen]) -> None:
        self.setting, self.layout = setting, layout
        kept = [at for at in (0, 1) if ends[at].shown is Shown.KEPT]
        self._start = _start(setting, usual, kept)
        self._whole = frozenset(kept)
        self._broken_from = {
            at: setting.value_at(at) for at in (0, 1) if ends[at].shown is Shown.BROKEN
        }
        self._is_begun = all(one.shown is not Shown.NOT_TESTED for one in ends)
        self._crossings: dict[int, Crossing] = {}
        if self._start is not None and self._is_begun:
            for at in {0, 1} - self._whole:
                self._crossings[at] = Crossing(between(setting, self._start, at))

    @property
    def is_over(self) -> bool:
        """Whether it is known how far the promise is kept, towards both ends."""
        return self._is_begun and next(self.asked(), None) is None

    def asked(self) -> Iterator[float]:
        """Yield values that are to be tried next; none where it is over."""
        for crossing in self._crossings.values():
            if crossing.next is not None:
                yield crossing.next

    def learn(self, value: float, seen: Seen) -> None:
        """Take what a value has shown.

        Parameters
        ----------
        value : float
            One that was asked for. [unit]
        seen : Seen
            What is shown there. [-]
        """
        for at, crossing in self._crossings.items():
            if crossing.next == value:
                crossing.learn(seen.shown is Shown.KEPT)
                if seen.shown is Shown.BROKEN:
                    self._broken_from[at] = value

    def limit(self) -> Limit:
        """Return what is known by now."""
        if self._start is None:
            return Limit(self.setting, self.layout)
        return Limit(self.setting, self.layout, self._side(0), self._side(1))

    def _side(self, at: int) -> Side:
        assert self._start is not None
        if at in self._whole:
            return Side(self.setting.value_at(at), True)
        found = self._crossings[at].kept_to if at in self._crossings else None
        return Side(self._start if found is None else found, False, self._broken_from.get(at))


def _start(setting: Setting, usual: Seen, kept: list[int]) -> float | None:
    """Where the promise is kept to begin with; None where it is nowhere."""
    assert isinstance(setting.default, int | float)
    if usual.shown is Shown.KEPT or len(kept) > 1:
        return float(setting.default)
    return setting.value_at(kept[0]) if kept else None
