"""What was found of a site, all of it, before anybody says how it is shown."""

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from resilience.building.site import Kind, Site
from resilience.connectivity.luck.routes import Routes
from resilience.connectivity.rows import Link, link_id
from resilience.connectivity.table import LinkTable
from resilience.montecarlo.estimates import TOO_FEW, Estimate
from resilience.montecarlo.retelling import Retold
from resilience.montecarlo.study import Study
from resilience.policy.judgement import Judgement
from resilience.ranking.comparison import Comparison, Placed
from resilience.ranking.variation import Variation
from resilience.remedies.weakest import Weakness
from resilience.report.words import counted, decimals, rounded
from resilience.units import MS_PER_YEAR

STAMP = "Predicted, not surveyed."
SURVEYED = "As measured."


@dataclass(frozen=True, slots=True)
class Within:
    """One layout, from within.

    Parameters
    ----------
    placed : Placed
        Its place in the order, with its lifetimes. [-]
    links : LinkTable
        Who hears whom in it, at mean shadowing. [-]
    routes : Routes
        Who has a way to a gateway, and through whom all ways lead. [-]
    retold : Retold
        Some of its lifetimes, told once more. [-]
    weakness : Weakness or None
        On what it hangs most; None if nobody looked. [-]
    """

    placed: Placed
    links: LinkTable
    routes: Routes
    retold: Retold
    weakness: Weakness | None = None

    @property
    def name(self) -> str:
        """Of the layout."""
        return self.placed.layout.name

    @property
    def study(self) -> Study:
        """Its lifetimes."""
        return self.placed.study

    @property
    def told_from(self) -> str:
        """What the figures rest on that a tally does not hold."""
        years = self.retold.years
        whole = self.study.horizon_ms / MS_PER_YEAR
        part = "" if years >= whole else f"the first {counted(round(years), 'year')} of "
        return f"Told from {part}{counted(self.retold.n_lifetimes, 'lifetime')}."

    @property
    def soles(self) -> Mapping[str, tuple[str, ...]]:
        """Sensors whose every way leads through a device, by the device."""
        return self.routes.behind

    def carrying(self, least_share: float) -> list[tuple[Link, float]]:
        """Links that carry for so large a share of the time, either way, the most first.

        Parameters
        ----------
        least_share : float
            Of the time. [-]
        """
        shares: dict[str, float] = defaultdict(float)
        for (device, parent), share in self.retold.carried_share.items():
            shares[link_id(*sorted((device, parent)))] += share
        rows = {id: row for row, id in enumerate(self.links.link_ids) if id in shares}
        found = [(shares[id], id, row) for id, row in rows.items() if shares[id] >= least_share]
        found.sort(key=lambda one: (-one[0], one[1]))
        return [(self.links.link(row), share) for share, _, row in found]

    def parents_of(self, device: str) -> list[tuple[str, float]]:
        """Whom a device passes its readings to, and for which share of the time, most first.

        Parameters
        ----------
        device : str
            Its id. [-]
        """
        carried = self.retold.carried_share.items()
        own = [(parent, share) for (child, parent), share in carried if child == device]
        return sorted(own, key=lambda one: (-one[1], one[0]))


@dataclass(frozen=True, slots=True)
class Shown:
    """Everything that a report shows.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    layouts : tuple of Within
        The same from within, in that order. [-]
    judgement : Judgement or None
        What lifetimes say of the promise of the site; None if it has none. [-]
    variation : Variation or None
        What other defaults show of the order; None if nobody asked. [-]
    made_on : date
        When it was made. [-]
    engine : str
        Which engine played. [-]
    versions : mapping of str to str
        Of what played, by name. [-]
    """

    comparison: Comparison
    layouts: tuple[Within, ...]
    judgement: Judgement | None
    variation: Variation | None
    made_on: date
    engine: str
    versions: Mapping[str, str] = field(default_factory=dict)

    @property
    def site(self) -> Site:
        """Whose report it is."""
        return self.comparison.site

    @property
    def is_surveyed(self) -> bool:
        """Whether every link of every layout is measured."""
        return all(bool(one.links.is_measured.all()) for one in self.layouts)

    @property
    def stamp(self) -> str:
        """What stands below every picture and on every printed page."""
        return SURVEYED if self.is_surveyed else STAMP

    def to_json(self) -> dict[str, object]:
        """Return everything that is shown under stable keys."""
        return {
            **self.comparison.to_json(),
            "engine": self.engine,
            "versions": dict(self.versions),
            "policy": self.judgement.to_json() if self.judgement else None,
            "told": [
                {
                    "name": one.name,
                    **one.retold.to_json(),
                    "only_way_of": {id: list(behind) for id, behind in one.soles.items()},
                    "weakness": one.weakness.to_json() if one.weakness else None,
                }
                for one in self.layouts
            ],
        }


def bound_cells(estimate: Estimate, scale: float = 1.0) -> tuple[str, str, str]:
    """Best value and both bounds as cells of a table; a bound that is not known is empty.

    Parameters
    ----------
    estimate : Estimate
        The figure. [unit]
    scale : float
        Factor, 100 to show a share as a percentage. [-]
    """
    mean, low, high = (scale * one for one in (estimate.mean, estimate.low, estimate.high))
    if math.isnan(mean):
        return "", "", ""
    if estimate.method == TOO_FEW:
        return f"{mean:.3g}", "", ""
    half = (min(high, 1e12) - low) / 2
    if half <= 0:
        return f"{mean:.3g}", f"{low:.3g}", f"{high:.3g}"
    places = max(decimals(half, mean), decimals(half))
    return rounded(mean, places), rounded(low, places), rounded(high, places)


def n_repeaters(placed: Placed) -> int:
    """Repeaters of a layout."""
    return len(placed.layout.of_kind(Kind.REPEATER))
