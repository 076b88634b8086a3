"""Mean hours cut off of a layout that lost next to nothing, by splitting its lifetimes."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from resilience.connectivity.links import site_table
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.lifetime.branching.aims import FOR_EVER_MS
from resilience.lifetime.record import Watch
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import Undertaking
from resilience.montecarlo.splitting.cuts import Loss
from resilience.montecarlo.splitting.nearness import aim_of
from resilience.montecarlo.splitting.runs import RUNS, RareFigure, rare_figure
from resilience.montecarlo.study import Study
from resilience.ranking.pairs import RankedBy
from resilience.units import MS_PER_H, MS_PER_YEAR

LEAST_BUILDINGS = 256  # before which nothing is called rare
MOST_SEEN = 5  # of them with any such hours: too few for bounds that say how many
NEAR_ENOUGH_SHARE = 0.5  # of the mean, from the lower to the upper end of its interval


@dataclass(frozen=True, slots=True)
class SeldomHours:
    """Hours cut off of one layout by splitting.

    Parameters
    ----------
    layout : str
        Its name. [-]
    found : RareFigure
        Hours per sensor-year, told or not. [h/year]
    n_seen, n_plain : int
        Possible buildings with any such hours among those that plain lifetimes drew, and all of
        these. [-]
    """

    layout: str
    found: RareFigure
    n_seen: int
    n_plain: int

    @property
    def n_buildings(self) -> int:
        """Possible buildings that all runs together drew."""
        return RUNS * self.found.n_lifetimes // LIFETIMES_PER_BUILDING

    def to_json(self) -> dict[str, object]:
        """Return the hours and how they were found under stable keys."""
        told = {**self.found.to_json(), "holds": "under the assumed rates"}
        return {
            "hours_per_sensor_year": told if self.found.is_told else None,
            "came_to_nothing_because": self.found.why_not_told or None,
            "building_draws": self.n_buildings,
            "building_draws_with_loss_in_plain_lifetimes": self.n_seen,
        }


def n_with_loss(study: Study, by: RankedBy) -> int:
    """How many possible buildings had any of the hours that decide.

    Parameters
    ----------
    study : Study
        Lifetimes of a layout. [-]
    by : RankedBy
        Which hours. [-]
    """
    return int(np.count_nonzero(by.hours(study)))


def is_seldom(study: Study, by: RankedBy) -> bool:
    """Whether a layout lost so seldom that its bounds are no answer.

    Parameters
    ----------
    study : Study
        Its lifetimes. [-]
    by : RankedBy
        Which hours decide. [-]
    """
    return study.n_buildings >= LEAST_BUILDINGS and n_with_loss(study, by) <= MOST_SEEN


def seldom_hours(
    undertaking: Undertaking,
    study: Study,
    by: RankedBy,
    begin: Callable[[str], Callable[[], float]],
) -> SeldomHours | None:
    """Split lifetimes of a layout for its hours cut off; None where nothing branches.

    Parameters
    ----------
    undertaking : Undertaking
        What is played. [-]
    study : Study
        What plain lifetimes of the layout have shown. [-]
    by : RankedBy
        Which hours. [-]
    begin : callable
        Takes the name of the layout, and returns what tells the time that is left. [s]
    """
    watch = Watch(from_first_route=by is RankedBy.SERVICE)
    undertaking = replace(undertaking, watch=watch)
    layout = next(one for one in undertaking.layouts if one.name == study.layout)
    stage = undertaking.stage(layout, site_table(undertaking.site, (layout,)).of(layout))
    mesh, hazards = stage.calm()
    loss = Loss(0, counts_down=False, counts_outages=undertaking.count_site_outages)
    splitter = stage.splitter(aim_of(mesh, hazards, loss, FOR_EVER_MS))
    if splitter is None:
        return None
    splitter.make_ready()
    left_s = begin(layout.name)
    # All bounds of an answer miss together as one, those of plain lifetimes included.
    level_share = 1 - (1 - LEVEL) / len(undertaking.layouts)
    found = rare_figure(splitter, undertaking.seed, is_near_enough, left_s, level_share)
    sensor_years = len(study.sensors) * study.horizon_ms / MS_PER_YEAR
    in_hours = found.scaled(1 / (MS_PER_H * sensor_years))
    return SeldomHours(layout.name, in_hours, n_with_loss(study, by), study.n_buildings)


def is_near_enough(estimate: Estimate) -> bool:
    """Whether an interval is narrow enough to stop.

    Parameters
    ----------
    estimate : Estimate
        A mean with its interval. [-]
    """
    return estimate.high - estimate.low <= NEAR_ENOUGH_SHARE * estimate.mean
