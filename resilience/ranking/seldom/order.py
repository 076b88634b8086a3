"""What hours by splitting say of the order of layouts."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from resilience.lifetime.engines import COMPILED, why_not_compiled
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.runs.running import Undertaking
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.seldom.hours import SeldomHours, is_seldom, seldom_hours


class Against(StrEnum):
    """What intervals show of one layout against another; they are no bounds, so nothing is sure."""

    BETTER = "better"
    WORSE = "worse"
    TOO_CLOSE = "too close to call"


@dataclass(frozen=True, slots=True)
class SeldomOrder:
    """Hours by splitting of the layouts that lost next to nothing, and their order.

    Parameters
    ----------
    comparison : Comparison
        What plain lifetimes show. [-]
    hours : tuple of SeldomHours
        In the order of the layouts' places. [-]
    """

    comparison: Comparison
    hours: tuple[SeldomHours, ...]

    def of(self, layout: str) -> SeldomHours | None:
        """Return what was found of a layout; None where nothing was split.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        return next((one for one in self.hours if one.layout == layout), None)

    def against(self, one: SeldomHours) -> dict[str, Against]:
        """What is shown of a layout whose hours are told, against each of the others.

        Parameters
        ----------
        one : SeldomHours
            The layout. [-]
        """
        return {
            placed.layout.name: _against(one.found.estimate, self._bounds(placed.study))
            for placed in self.comparison.placed
            if placed.layout.name != one.layout
        }

    def _bounds(self, study: Study) -> Estimate | None:
        """Bounds of a layout's hours; None where it was split and that came to nothing."""
        split = self.of(study.layout)
        if split is not None:
            return split.found.estimate if split.found.is_told else None
        level_share = 1 - (1 - LEVEL) / len(self.comparison.placed)
        hours = self.comparison.ranked_by.hours(study)
        return hours_estimate(hours, level_share=level_share)

    def to_json(self) -> dict[str, object]:
        """Return the hours by layout under stable keys, with what they show of the order."""
        return {
            one.layout: {
                **one.to_json(),
                "shown_to_be": (
                    {name: shown.value for name, shown in self.against(one).items()}
                    if one.found.is_told
                    else None
                ),
            }
            for one in self.hours
        }


def _against(one: Estimate, other: Estimate | None) -> Against:
    if other is None:
        return Against.TOO_CLOSE
    if one.high < other.low:
        return Against.BETTER
    # An upper bound that leaves rare buildings aside shows nothing of what is rare.
    is_bounded = other.beyond is None
    return Against.WORSE if is_bounded and other.high < one.low else Against.TOO_CLOSE


def seldom_layouts(undertaking: Undertaking, comparison: Comparison) -> tuple[str, ...]:
    """Return names of the layouts that lost next to nothing, where their lifetimes can branch.

    Parameters
    ----------
    undertaking : Undertaking
        What was played. [-]
    comparison : Comparison
        What that has shown. [-]
    """
    if undertaking.engine != COMPILED or why_not_compiled() or len(comparison.placed) < 2:
        return ()
    by = comparison.ranked_by
    return tuple(one.layout.name for one in comparison.placed if is_seldom(one.study, by))


def seldom_order(
    undertaking: Undertaking,
    comparison: Comparison,
    begin: Callable[[str], Callable[[], float]],
) -> SeldomOrder | None:
    """Split lifetimes of all layouts that lost next to nothing; None where there is none.

    Parameters
    ----------
    undertaking : Undertaking
        What was played. [-]
    comparison : Comparison
        What that has shown. [-]
    begin : callable
        Takes the name of a layout, and returns what tells the time that is left for it. [s]
    """
    names, by = seldom_layouts(undertaking, comparison), comparison.ranked_by
    studies = [one.study for one in comparison.placed if one.layout.name in names]
    found = (seldom_hours(undertaking, study, by, begin) for study in studies)
    hours = tuple(one for one in found if one is not None)
    return SeldomOrder(comparison, hours) if hours else None
