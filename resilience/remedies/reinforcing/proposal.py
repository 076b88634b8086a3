"""What came of looking for changes: each with its bounds, and what they come to together."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resilience.building.site import Layout, Site
from resilience.draws import STREAM_VERSION
from resilience.montecarlo.costs import installation
from resilience.montecarlo.estimates import Estimate
from resilience.ranking.pairs import Pair, Verdict
from resilience.remedies.reinforcing.options import Option

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True, slots=True)
class Confirmed:
    """An option whose lifetimes were played.

    Parameters
    ----------
    option : Option
        What would be changed. [-]
    screened_h : float
        Hours per sensor-year by which it looked better on the screen. [h/year]
    pair : Pair
        With the change less without it, on the same lifetimes. [-]
    """

    option: Option
    screened_h: float
    pair: Pair

    @property
    def is_shown(self) -> bool:
        """Whether it is shown to be better."""
        return self.pair.verdict is Verdict.BETTER

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            **self.option.to_json(),
            "difference": self.pair.difference.to_json(),
            "verdict": self.pair.verdict.value,
            "screened_difference": -self.screened_h,
            "building_draws": self.pair.n_buildings,
        }


@dataclass(frozen=True, slots=True)
class Step:
    """One change: what was tried for it, and what was taken.

    Parameters
    ----------
    confirmed : tuple of Confirmed
        What was played, the least loss first. [-]
    taken : Confirmed or None
        What the next change builds on; None where nothing was worth it. [-]
    hours : Estimate
        Orphan hours per sensor-year before it. [h/year]
    cost : float or None
        What it costs to install more; None where something has no price. [currency]
    is_look_back : bool
        Whether something added before was moved. [-]
    """

    confirmed: tuple[Confirmed, ...]
    taken: Confirmed | None
    hours: Estimate
    cost: float | None = None
    is_look_back: bool = False

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "hours_before_per_sensor_year": self.hours.to_json(),
            "taken": self.taken and self.taken.to_json(),
            "tried": [one.to_json() for one in self.confirmed],
            "installation_cost": self.cost,
            "look_back": self.is_look_back,
        }


@dataclass(frozen=True, slots=True)
class Reinforcement:
    """What a few changes of a layout buy.

    Parameters
    ----------
    site : Site
        The site. [-]
    start, layout : Layout
        As it is, and after all that was taken. [-]
    steps : tuple of Step
        In order. [-]
    total : Pair or None
        After all of them less before, on lifetimes of its own; None where nothing was taken, or no
        time was left. [-]
    seed : int
        Of what was drawn. [-]
    level_share : float
        Level of each bound, so that all hold together. [-]
    n_places, n_forbidden, n_options : int
        Places looked at; stated ones where nothing can hang; options on the screen. [-]
    n_deaf : int
        Places from which nothing of the layout is heard. [-]
    stopped_because : str
        Why it went no further. [-]
    removes : bool
        Whether devices were to be left out. [-]
    """

    site: Site
    start: Layout
    layout: Layout
    steps: tuple[Step, ...]
    total: Pair | None
    seed: int
    level_share: float
    n_places: int
    n_forbidden: int
    n_options: int
    n_deaf: int
    stopped_because: str
    removes: bool = False

    @property
    def taken(self) -> tuple[Confirmed, ...]:
        """All changes that were taken, in order."""
        return tuple(one.taken for one in self.steps if one.taken is not None)

    def hours_saved(self, pair: Pair) -> float:
        """Hours a year, over all sensors, by which a change is better on average.

        Parameters
        ----------
        pair : Pair
            With the change less without it. [-]
        """
        return -pair.difference.mean * len(self.start.sensors)

    def to_json(self) -> dict[str, object]:
        """Return everything under stable keys."""
        prices = self.site.prices
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "site": self.site.name,
            "layout": self.start.name,
            "seed": self.seed,
            "level": self.level_share,
            "stopped_because": self.stopped_because,
            "leaves_out": self.removes,
            "places": self.n_places,
            "places_forbidden": self.n_forbidden,
            "places_deaf": self.n_deaf,
            "options_screened": self.n_options,
            "steps": [one.to_json() for one in self.steps],
            "total_difference": self.total and self.total.difference.to_json(),
            "total_verdict": self.total and self.total.verdict.value,
            "installation": {
                "before": installation(self.start, prices).to_json(),
                "after": installation(self.layout, prices).to_json(),
            },
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per option that was played."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "step": number,
                    "change": one.option.move.value,
                    "device": one.option.device,
                    "place": one.option.spot,
                    "difference": one.pair.difference.mean,
                    "low": one.pair.difference.low,
                    "high": one.pair.difference.high,
                    "verdict": one.pair.verdict.value,
                    "taken": one is step.taken,
                }
                for number, step in enumerate(self.steps, 1)
                for one in step.confirmed
            ]
        )
