"""What other defaults show of a promise, as values."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from resilience.assumptions.catalogue import Setting
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.runs.running import REACHED
from resilience.policy.judgement import Judgement
from resilience.policy.rare import OverRates


class Shown(StrEnum):
    """What lifetimes under other defaults show of the promise."""

    KEPT = "kept"
    BROKEN = "broken"
    UNDECIDED = "undecided"
    IMPOSSIBLE = "no room"  # the site has no room for the value
    NOT_TESTED = "not tested"


class Holds(StrEnum):
    """Whether a promise holds over the ranges of the defaults."""

    YES = "yes"
    NO = "no"
    OPEN = "open"  # broken nowhere, but not shown to be kept everywhere
    NOT_TESTED = "not tested"


@dataclass(frozen=True, slots=True)
class Seen:
    """What one layout shows under other defaults.

    Parameters
    ----------
    shown : Shown
        Whether the promise is kept there. [-]
    broken : Estimate or None
        Share of lifetimes that break it; None where nothing was played. [-]
    n_lifetimes : int
        Lifetimes that show it. [-]
    is_moved : bool
        Whether anything that is played differs from what is assumed. [-]
    """

    shown: Shown
    broken: Estimate | None = None
    n_lifetimes: int = 0
    is_moved: bool = True

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "shows": self.shown.value,
            "broken_share": self.broken and self.broken.to_json(),
            "lifetimes": self.n_lifetimes,
            "differs": self.is_moved,
        }


UNSEEN = Seen(Shown.NOT_TESTED)
ByLayout = Mapping[str, Seen]


@dataclass(frozen=True, slots=True)
class Tried:
    """One default at both ends of its range.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    low, high : mapping of str to Seen
        What its ends show, by layout. [-]
    """

    setting: Setting
    low: ByLayout
    high: ByLayout

    def ends(self, layout: str) -> tuple[tuple[float, Seen], tuple[float, Seen]]:
        """Values of both ends with what they show of a layout.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        low, high = self.low.get(layout, UNSEEN), self.high.get(layout, UNSEEN)
        return (self.setting.value_at(0.0), low), (self.setting.value_at(1.0), high)

    @property
    def is_moved(self) -> bool:
        """Whether it moves anything that is played."""
        return any(seen.is_moved for seen in (*self.low.values(), *self.high.values()))


@dataclass(frozen=True, slots=True)
class Side:
    """How far a promise is shown to be kept towards one end of a default's range.

    Parameters
    ----------
    kept_to : float
        Farthest value that was tried and at which it is shown to be kept. [unit]
    is_whole : bool
        Whether that is the end of the range. [-]
    broken_from : float or None
        Nearest value beyond at which it is shown to be broken; None where none was. [unit]
    """

    kept_to: float
    is_whole: bool = False
    broken_from: float | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """Over which values of one default a layout is shown to keep the promise.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    layout : str
        Name. [-]
    low, high : Side or None
        Towards both ends of its range; None where it is shown to be kept nowhere. [-]
    """

    setting: Setting
    layout: str
    low: Side | None = None
    high: Side | None = None

    @property
    def is_everywhere(self) -> bool:
        """Whether the promise is kept at both ends of the range."""
        return all(side is not None and side.is_whole for side in (self.low, self.high))

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys; null where no value of the range is a limit."""
        low, high = self.low, self.high
        return {
            "key": self.setting.key,
            "unit": self.setting.unit,
            "assumed": self.setting.default,
            "range": [self.setting.value_at(0.0), self.setting.value_at(1.0)],
            "kept_anywhere": low is not None,
            "kept_from": None if low is None or low.is_whole else low.kept_to,
            "kept_to": None if high is None or high.is_whole else high.kept_to,
            "broken_below": low and low.broken_from,
            "broken_above": high and high.broken_from,
        }


@dataclass(frozen=True, slots=True)
class Hanging:
    """What other defaults show of a promise, layout by layout.

    Parameters
    ----------
    usual : mapping of str to Seen
        What is shown of each layout as assumed. [-]
    layouts : tuple of str
        Layouts that were tried under other defaults. [-]
    tried : tuple of Tried
        Every default that something hangs on, at both ends of its range. [-]
    sample : tuple of mapping of str to Seen
        Draws of all of them together. [-]
    limits : tuple of Limit
        Over which values of those that matter most the promise is kept. [-]
    n_lifetimes : int
        Of each layout and variant, at most. [-]
    n_draws : int
        Draws that were asked for. [-]
    stopped_because : str
        Why nothing more was tried. [-]
    rare : mapping of str to OverRates
        What splitting says under other rates, of layouts where it decides. [-]
    """

    usual: ByLayout
    layouts: tuple[str, ...]
    tried: tuple[Tried, ...]
    sample: tuple[ByLayout, ...]
    limits: tuple[Limit, ...]
    n_lifetimes: int
    n_draws: int
    stopped_because: str
    rare: Mapping[str, OverRates] = field(default_factory=dict)

    def holds(self, layout: str) -> Holds:
        """Whether the promise of a layout holds over all ranges, as far as that was tried.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        usual = self.usual[layout].shown
        shown = [seen.shown for seen in self._seen(layout)]
        if usual is Shown.BROKEN or Shown.BROKEN in shown:
            return Holds.NO
        is_tried = layout in self.layouts and (self.tried or self.stopped_because == REACHED)
        if not is_tried or Shown.NOT_TESTED in shown:
            return Holds.NOT_TESTED
        return Holds.OPEN if Shown.UNDECIDED in {usual, *shown} else Holds.YES

    def _seen(self, layout: str) -> Iterator[Seen]:
        for one in self.tried:
            yield from (seen for _, seen in one.ends(layout))
        for draw in range(self.n_draws):
            yield self.drawn(draw, layout)

    def drawn(self, draw: int, layout: str) -> Seen:
        """What a draw of all defaults together shows of a layout.

        Parameters
        ----------
        draw : int
            Its number, from 0. [-]
        layout : str
            Name. [-]
        """
        return self.sample[draw].get(layout, UNSEEN) if draw < len(self.sample) else UNSEEN

    def n_drawn(self, layout: str, shown: Shown) -> int:
        """Draws that show something of a layout.

        Parameters
        ----------
        layout : str
            Its name. [-]
        shown : Shown
            What. [-]
        """
        return sum(self.drawn(draw, layout).shown is shown for draw in range(self.n_draws))

    def ends(self, layout: str, shown: Shown) -> list[tuple[Setting, float, Seen]]:
        """Ends of ranges that show something of a layout, the worst first.

        Parameters
        ----------
        layout : str
            Its name. [-]
        shown : Shown
            What. [-]
        """
        found = [
            (one.setting, value, seen)
            for one in self.tried
            for value, seen in one.ends(layout)
            if seen.shown is shown
        ]
        return sorted(found, key=lambda one: -one[2].broken.low if one[2].broken else 0.0)

    def limits_of(self, layout: str) -> tuple[Limit, ...]:
        """Limits that were found for a layout.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        return tuple(one for one in self.limits if one.layout == layout)

    def to_json(self) -> dict[str, object]:
        """Return all that was tried under stable keys."""
        return {
            "lifetimes": self.n_lifetimes,
            "stopped_because": self.stopped_because,
            "layouts": list(self.layouts),
            "draws": self.n_draws,
            "defaults": [
                {
                    "key": one.setting.key,
                    "unit": one.setting.unit,
                    "assumed": one.setting.default,
                    "layouts": {layout: _ends_json(one, layout) for layout in self.layouts},
                }
                for one in self.tried
            ],
        }


def _ends_json(one: Tried, layout: str) -> dict[str, object]:
    low, high = ({"value": value, **seen.to_json()} for value, seen in one.ends(layout))
    return {"low": low, "high": high}


def spanned(judgement: Judgement, hanging: Hanging | None) -> Judgement:
    """Return a judgement whose rare figures carry what they are under other rates.

    Parameters
    ----------
    judgement : Judgement
        What lifetimes say of a promise. [-]
    hanging : Hanging or None
        What other defaults show of it; None if nobody asked. [-]
    """
    if hanging is None:
        return judgement
    rare = hanging.rare
    judged = (replace(one, over_rates=rare.get(one.layout)) for one in judgement.judged)
    return replace(judgement, judged=tuple(judged))


def judgement_json(judgement: Judgement, hanging: Hanging | None) -> dict[str, object]:
    """Return a judgement with what it hangs on, under stable keys.

    Parameters
    ----------
    judgement : Judgement
        What lifetimes say of a promise. [-]
    hanging : Hanging or None
        What other defaults show of it; None if nobody asked. [-]
    """
    judgement = spanned(judgement, hanging)
    told = judgement.to_json()
    if hanging is None:
        return {**told, "over_defaults": None}
    layouts = [
        {
            **one.to_json(),
            "holds_over_rates": hanging.holds(one.layout).value,
            "conditions": [limit.to_json() for limit in hanging.limits_of(one.layout)],
            "draws": {shown.value: hanging.n_drawn(one.layout, shown) for shown in Shown},
        }
        for one in judgement.judged
    ]
    return {**told, "layouts": layouts, "over_defaults": hanging.to_json()}
