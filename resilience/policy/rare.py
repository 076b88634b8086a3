"""Promises that are to be broken so rarely that plain lifetimes cannot show it.

What splitting says is an interval of independent runs, not a bound of finite samples: a verdict
that rests on it says so. It holds under the assumed rates, as no record is long enough to say how
often what is that rare comes about.
"""

from collections.abc import Callable
from dataclasses import dataclass

from resilience.building.service.policy import Lost, Policy
from resilience.connectivity.links import site_table
from resilience.lifetime.engines import COMPILED, why_not_compiled
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.splitting.cuts import Loss
from resilience.montecarlo.splitting.nearness import aim_of
from resilience.montecarlo.splitting.runs import RareFigure, rare_figure
from resilience.montecarlo.study import Study
from resilience.units import ms_from_h

RARE = 0.9999  # from this probability on
LEFT_AFTER = 1024  # building draws, which settle what is not rare
LEFT = "what is rarer than these lifetimes can show was left to splitting"

Clock = Callable[[], float]  # how much time is left [s]


@dataclass(frozen=True, slots=True)
class Splitting:
    """How a promise is judged where plain lifetimes leave it open.

    Parameters
    ----------
    begin : callable
        Takes the name of a layout that is about to be played, and returns its clock. [-]
    """

    begin: Callable[[str], Clock]

    @classmethod
    def within(cls, budget: Budget, n_layouts: int) -> "Splitting":
        """Return one that takes as long as plain lifetimes may, all layouts together.

        Parameters
        ----------
        budget : Budget
            Of plain lifetimes. [-]
        n_layouts : int
            Layouts that are judged. [-]
        """

        def begin(_: str) -> Clock:
            end_s = budget.clock() + budget.seconds / n_layouts
            return lambda: end_s - budget.clock()

        return cls(begin)


@dataclass(frozen=True, slots=True)
class OverRates:
    """What splitting says with every failure rate that is not stated at one end of its range.

    Parameters
    ----------
    low, high : RareFigure or None
        With all of them as low, and as high, as they may be; None where that was not told. [-]
    rates : tuple of str
        Keys of the rates. [-]
    """

    low: RareFigure | None
    high: RareFigure | None
    rates: tuple[str, ...]

    def to_json(self) -> dict[str, object]:
        """Return both ends under stable keys, None for one that was not told."""
        return {
            "all_low": self.low and self.low.to_json(),
            "all_high": self.high and self.high.to_json(),
            "rates": list(self.rates),
        }


def is_left_to_splitting(policy: Policy, engine: str) -> bool:
    """Whether a promise is so rare, and lifetimes can branch here.

    Parameters
    ----------
    policy : Policy
        What is promised. [-]
    engine : str
        Which plays. [-]
    """
    is_rare = policy.kept_with_probability >= RARE
    return is_rare and engine == COMPILED and not why_not_compiled()


def broken_rarely(
    undertaking: Undertaking,
    policy: Policy,
    study: Study,
    splitting: Splitting,
    is_sure: Callable[[Estimate], bool],
) -> RareFigure | None:
    """Share of lifetimes that break a promise, by splitting; None where nothing can branch.

    It may have come to nothing, as time was up or too few runs came to a breach.

    Parameters
    ----------
    undertaking : Undertaking
        What is played. [-]
    policy : Policy
        What is promised. [-]
    study : Study
        What plain lifetimes of the layout have shown. [-]
    splitting : Splitting
        How long it may take. [-]
    is_sure : callable
        Whether an estimate answers the question. [-]
    """
    layout = next(one for one in undertaking.layouts if one.name == study.layout)
    table = site_table(undertaking.site, (layout,)).of(layout)
    stage = undertaking.stage(layout, table)
    mesh, hazards = stage.calm()
    loss = Loss(
        policy.max_count(len(layout.sensors)),
        policy.count is Lost.DARK,
        undertaking.count_site_outages,
    )
    splitter = stage.splitter(aim_of(mesh, hazards, loss, ms_from_h(policy.longer_than_h)))
    if splitter is None:
        return None
    splitter.make_ready()
    left_s = splitting.begin(layout.name)
    level_share = 1 - (1 - LEVEL) / len(undertaking.layouts)
    return rare_figure(splitter, undertaking.seed, is_sure, left_s, level_share)
