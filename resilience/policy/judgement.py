"""What lifetimes say of a promise, layout by layout."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from resilience.building.service.policy import Policy
from resilience.building.site import Site
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.draws import STREAM_VERSION
from resilience.lifetime.picking import Bools
from resilience.lifetime.record import Holder
from resilience.montecarlo.estimates import LEVEL, SHARE, Estimate
from resilience.montecarlo.sequences import betting_sequence
from resilience.montecarlo.splitting.runs import RareFigure
from resilience.montecarlo.stopping import looks
from resilience.montecarlo.study import Study
from resilience.policy.bounds import breaks, broken_share, most_beyond, per_building
from resilience.policy.frontier import Step
from resilience.policy.rare import OverRates
from resilience.units import MS_PER_YEAR, ms_from_h

if TYPE_CHECKING:
    import pandas

LEAST_BROKEN = 10  # lifetimes, before it is told how they spread over buildings
SURVEY_SHARE = 0.5  # of the variance between buildings, from which on a survey decides


class Verdict(StrEnum):
    """What is shown of a layout."""

    KEPT = "kept"
    BROKEN = "broken"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Judged:
    """What lifetimes say of one layout.

    Parameters
    ----------
    study : Study
        Its lifetimes. [-]
    policy : Policy
        What is promised. [-]
    verdict : Verdict
        What is shown. [-]
    broken : Estimate
        Share of lifetimes that break the promise; its bounds decide. [-]
    frontier : tuple of Step
        What could be promised instead. [-]
    breaks : mapping of Holder to float
        What was lost in excess by what it is put down to; adds up to 1. [-]
    n_told : int
        Broken lifetimes that this is told from. [-]
    rare : RareFigure or None
        The share by splitting, where the verdict rests on that; None where it rests on bounds of
        finite samples, or nothing came of it. [-]
    over_rates : OverRates or None
        That share over the range of the failure rates; None where it was not tested. [-]
    why_not_split : str
        Why splitting came to nothing; empty where it did not, or was not asked. [-]
    """

    study: Study
    policy: Policy
    verdict: Verdict
    broken: Estimate
    frontier: tuple[Step, ...]
    breaks: Mapping[Holder, float] = field(default_factory=dict)
    n_told: int = 0
    rare: RareFigure | None = None
    over_rates: OverRates | None = None
    why_not_split: str = ""

    @property
    def layout(self) -> str:
        """Its name."""
        return self.study.layout

    @property
    def share(self) -> Estimate:
        """Share of lifetimes that break the promise, in the way that the verdict rests on."""
        return self.broken if self.rare is None else self.rare.estimate

    @property
    def max_count(self) -> int:
        """Sensors that may be lost at once."""
        return self.policy.max_count(len(self.study.sensors))

    @property
    def _is_broken(self) -> Bools:
        return breaks(self.study.tally, self.policy, len(self.study.sensors))

    @property
    def breaking(self) -> tuple[int, ...]:
        """Numbers of the lifetimes that break the promise."""
        return tuple(self._is_broken.nonzero()[0].tolist())

    @property
    def silent(self) -> Estimate:
        """Share of lifetimes in which more are silent for any reason, as an owner would see it."""
        most = most_beyond(self.study, "silent", ms_from_h(self.policy.longer_than_h))
        return betting_sequence(per_building(most > self.max_count), SHARE)

    @property
    def broken_per_year(self) -> float:
        """Constant rate that breaks the promise in as large a share of lifetimes."""
        years = self.study.horizon_ms / MS_PER_YEAR
        return -math.log1p(-self.share.mean) / years if self.share.mean < 1 else math.inf

    @property
    def holds_in(self) -> Estimate:
        """Share of possible buildings of which every lifetime played keeps the promise."""
        is_kept = per_building(self._is_broken) == 0
        return betting_sequence(is_kept.astype(float), SHARE)

    @property
    def between_buildings_share(self) -> float | None:
        """Part of the variance that is between buildings; None where too little broke."""
        broken = per_building(self._is_broken)
        mean = float(broken.mean())
        variance = mean * (1 - mean)
        if len(self.breaking) < LEAST_BROKEN or not variance:
            return None
        both = float((broken == 1).mean())
        return min(1.0, max(0.0, (both - mean**2) / variance))

    @property
    def depends_on_survey(self) -> bool:
        """Whether the unknown building decides more than chance in it."""
        share = self.between_buildings_share
        return share is not None and share >= SURVEY_SHARE

    @property
    def n_to_be_kept(self) -> int:
        """Lifetimes that would show that it is kept, if none of them broke the promise."""
        may_break = 1 - self.policy.kept_with_probability
        for n_buildings in looks():
            n = LIFETIMES_PER_BUILDING * n_buildings
            unbroken = np.zeros(n, np.int64)
            if broken_share(unbroken, 0, self.broken.level_share).high <= may_break:
                break
        return n

    def to_json(self) -> dict[str, object]:
        """Return what is said of the layout under stable keys."""
        rate = self.broken_per_year
        return {
            "name": self.layout,
            "lifetimes": self.study.n_lifetimes,
            "verdict": self.verdict.value,
            "max_orphans": self.max_count,
            "broken_share": self.broken.to_json(),
            "broken_per_year": rate if math.isfinite(rate) else None,
            "silent_share": self.silent.to_json(),
            "share_of_buildings_not_as_drawn": self.study.incomplete_share.to_json(),
            "share_of_buildings_that_keep_it": self.holds_in.to_json(),
            "variance_between_buildings_share": self.between_buildings_share,
            "depends_on_survey": self.depends_on_survey,
            "holds_over_rates": "not tested",
            "breaks_it": [
                {"cause": cause, "id": id, "share": share}
                for (cause, id), share in self.breaks.items()
            ],
            "by_splitting": None if self.rare is None else self._rare_json(self.rare),
            "splitting_came_to_nothing_because": self.why_not_split or None,
            "told_from_lifetimes": self.n_told,
            "look_at_lifetimes": list(self.breaking[:3]),
            "frontier": [step.to_json() for step in self.frontier],
        }

    def _rare_json(self, rare: RareFigure) -> dict[str, object]:
        spanned = "not tested" if self.over_rates is None else self.over_rates.to_json()
        return {**rare.to_json(), "holds": "under the assumed rates", "over_rates": spanned}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What lifetimes say of all layouts of a site.

    Parameters
    ----------
    site : Site
        The site. [-]
    policy : Policy
        What is promised. [-]
    judged : tuple of Judged
        In order of the layouts. [-]
    cautions : tuple of str
        What to know before signing. [-]
    """

    site: Site
    policy: Policy
    judged: tuple[Judged, ...]
    cautions: tuple[str, ...] = ()

    @property
    def longest(self) -> Study:
        """The layout that played most lifetimes, or one of them."""
        return max((one.study for one in self.judged), key=lambda study: study.n_lifetimes)

    @property
    def verdict(self) -> Verdict:
        """Kept if some layout keeps the promise, broken if all break it."""
        found = {one.verdict for one in self.judged}
        if Verdict.KEPT in found:
            return Verdict.KEPT
        return Verdict.BROKEN if found == {Verdict.BROKEN} else Verdict.UNDECIDED

    def of_layout(self, name: str) -> Judged:
        """Return what is said of one layout.

        Parameters
        ----------
        name : str
            Its name. [-]
        """
        return next(one for one in self.judged if one.layout == self.site.layout(name).name)

    def to_json(self) -> dict[str, object]:
        """Return verdicts, bounds and frontiers under stable keys."""
        study = self.longest
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "site": self.site.name,
            "begins": self.site.begins.isoformat(),
            "as_if_new": self.site.standing.today is None,
            "seed": study.seed,
            "lifetimes": study.n_lifetimes,
            "level": LEVEL,
            "stopped_because": study.stopped_because,
            "site_outages_counted": study.count_site_outages,
            "horizon_years": self.site.horizon_years,
            "policy": self.policy.to_json(),
            "verdict": self.verdict.value,
            "cautions": list(self.cautions),
            "layouts": [one.to_json() for one in self.judged],
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per layout."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "layout": one.layout,
                    "verdict": one.verdict.value,
                    "broken_share": one.broken.mean,
                    "broken_share_low": one.broken.low,
                    "broken_share_high": one.broken.high,
                    "silent_share": one.silent.mean,
                    "lifetimes": one.study.n_lifetimes,
                }
                for one in self.judged
            ]
        )
