"""Many sites in order of risk, the worst first, with bounds that hold over all of them."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, Self

import numpy as np

from resilience.montecarlo.estimates import LEVEL, Estimate, Floats, Ints
from resilience.policy.judgement import Verdict

N_WORST = 10  # of which is told who is surely or perhaps among them
WORST_SHARE = 0.25  # of the sites of a small portfolio


VERDICTS = (Verdict.KEPT, Verdict.UNDECIDED, None, Verdict.BROKEN)  # the best first


class Risk(StrEnum):
    """By what sites are ranked."""

    HOURS = "hours"  # cut off a sensor and year, site outages apart
    BREACH = "breach"  # share of lifetimes that break the promise
    SENSOR = "sensor"  # share of time for which the worst sensor is cut off


class Among(StrEnum):
    """Whether a site is among the worst."""

    SURELY = "surely"
    PERHAPS = "perhaps"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of one layout with its bounds, which hold over all sites of a run.

    Parameters
    ----------
    mean, low, high : float
        Best single value and bounds. [unit]
    rare_share : float
        Possible buildings that the upper bound leaves aside, at most. [-]
    """

    mean: float
    low: float
    high: float
    rare_share: float = 0.0

    @classmethod
    def of(cls, estimate: Estimate) -> Self:
        """Take what an estimate says.

        Parameters
        ----------
        estimate : Estimate
            At the level of a run. [unit]
        """
        rare = estimate.beyond.share.high if estimate.beyond else 0.0
        return cls(estimate.mean, estimate.low, estimate.high, rare)


@dataclass(frozen=True, slots=True)
class SensorScore:
    """One sensor: shares of the horizon, each with bounds of its own.

    Parameters
    ----------
    id : str
        The sensor. [-]
    orphan_share, dark_share : Figure
        Works without a way to a gateway; silent for any reason but its gateways'. [-]
    """

    id: str
    orphan_share: Figure
    dark_share: Figure


@dataclass(frozen=True, slots=True)
class LayoutScore:
    """What lifetimes say of one layout of a site.

    Parameters
    ----------
    name : str
        The layout. [-]
    lifetimes : int
        Played. [-]
    hours : Figure
        Cut off a sensor and year, from hand-over on, without site outages. [h/year]
    outage_hours : float
        Cut off by site outages. [h/year]
    breach : Figure or None
        Share of lifetimes that break the promise; None without one. [-]
    verdict : Verdict or None
        Whether it is kept, by bounds of the site alone, as ``judge`` tells. [-]
    worst_sensor : str
        The sensor that is cut off for longest. [-]
    sensor : Figure
        Share of time for which it is. [-]
    not_as_drawn_share : float
        Possible buildings in which some sensor never finds a way. [-]
    visits_per_month : float
        Of the crew. [1/month]
    worked_h_per_month : float or None
        Its travel and work; None where the site does not tell repairs from waiting. [h/month]
    hangs_on, happens : str
        What most hours are put down to, and what happens to it; may be empty. [-]
    hangs_on_share : float
        Part of all hours that is put down to it. [-]
    sensors : tuple of SensorScore
        In order of id. [-]
    """

    name: str
    lifetimes: int
    hours: Figure
    outage_hours: float
    breach: Figure | None
    verdict: Verdict | None
    worst_sensor: str
    sensor: Figure
    not_as_drawn_share: float
    visits_per_month: float
    worked_h_per_month: float | None
    hangs_on: str
    happens: str
    hangs_on_share: float
    sensors: tuple[SensorScore, ...]

    def figure(self, by: Risk) -> Figure | None:
        """Return the figure by which layouts are ranked.

        Parameters
        ----------
        by : Risk
            Which. [-]
        """
        return {Risk.HOURS: self.hours, Risk.BREACH: self.breach, Risk.SENSOR: self.sensor}[by]

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> Self:
        """Return what ``SiteScore.to_json`` told of a layout.

        Parameters
        ----------
        told : mapping
            Under the names of the fields. [-]
        """
        breach, verdict = told["breach"], told["verdict"]
        figures = {name: Figure(**told[name]) for name in ("hours", "sensor")}
        sensors = [
            SensorScore(one["id"], Figure(**one["orphan_share"]), Figure(**one["dark_share"]))
            for one in told["sensors"]
        ]
        more = {
            "breach": Figure(**breach) if breach else None,
            "verdict": Verdict(verdict) if verdict else None,
            "sensors": tuple(sensors),
        }
        return cls(**{**told, **figures, **more})


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the prediction of a site rests on: the less, the safer it may look than it is.

    Parameters
    ----------
    links_measured, things_drawn : int
        Pairs of devices; walls, doors, pillars and whatever else stands there. [-]
    defaults_taken, defaults : int
        Uncertain defaults that the site does not state itself, of how many. [-]
    """

    links_measured: int
    things_drawn: int
    defaults_taken: int
    defaults: int


@dataclass(frozen=True, slots=True)
class SiteScore:
    """What lifetimes say of one site.

    Parameters
    ----------
    id : str
        Its folder, below that of the portfolio. [-]
    title : str
        As its file gives it. [-]
    starts : str
        From which state its lifetimes start, such as ``as if new``. [-]
    promise : str
        Whose promise it is judged by: ``own``, ``shared`` or ``none``. [-]
    outages_counted : bool
        Whether site outages break the promise and count for sensors. [-]
    evidence : Evidence
        What the prediction rests on. [-]
    layouts : tuple of LayoutScore
        In order of name. [-]
    tags : tuple of str
        As its file gives them. [-]
    """

    id: str
    title: str
    starts: str
    promise: str
    outages_counted: bool
    evidence: Evidence
    layouts: tuple[LayoutScore, ...]
    tags: tuple[str, ...] = ()

    def best(self, by: Risk) -> LayoutScore:
        """Return the layout that the site is taken to have: one that keeps the promise, if any.

        Among those it is the one with the least risk. As bounds of all layouts hold together, it
        may be chosen by what lifetimes show.

        Parameters
        ----------
        by : Risk
            By which layouts are ranked. [-]
        """

        def order(layout: LayoutScore) -> tuple[int, float, float]:
            found = layout.figure(by)
            return VERDICTS.index(layout.verdict), found.mean if found else 0.0, layout.hours.mean

        return min(self.layouts, key=order)

    def risk(self, by: Risk) -> Figure | None:
        """Return the risk of that layout; None if there is no promise to break.

        Parameters
        ----------
        by : Risk
            By which. [-]
        """
        return self.best(by).figure(by)

    @property
    def verdict(self) -> Verdict | None:
        """Kept if some layout keeps the promise, broken if all break it; None without one."""
        found = {layout.verdict for layout in self.layouts} - {None}
        if not found:
            return None
        if Verdict.KEPT in found:
            return Verdict.KEPT
        return Verdict.BROKEN if found == {Verdict.BROKEN} else Verdict.UNDECIDED

    def to_json(self) -> dict[str, Any]:
        """Return everything under the names of the fields."""
        return asdict(self)

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> Self:
        """Return what ``to_json`` told.

        Parameters
        ----------
        told : mapping
            Under the names of the fields. [-]
        """
        layouts = tuple(map(LayoutScore.from_json, told["layouts"]))
        tags = tuple(told.get("tags", ()))  # runs of earlier versions have none
        evidence = Evidence(**told["evidence"])
        return cls(**{**told, "evidence": evidence, "layouts": layouts, "tags": tags})


@dataclass(frozen=True, slots=True)
class Place:
    """Where a site stands among all.

    Parameters
    ----------
    position : int
        In the order given. [-]
    rank : int
        By its mean, 1 for the worst. [-]
    best_rank, worst_rank : int
        Least and largest rank that the bounds allow. [-]
    among_worst : Among
        Whether it is among the worst. [-]
    """

    position: int
    rank: int
    best_rank: int
    worst_rank: int
    among_worst: Among


def site_level_share(n_layouts: int) -> float:
    """Level of one figure so that those of all layouts of all sites hold together (Bonferroni).

    Parameters
    ----------
    n_layouts : int
        Layouts of all sites. [-]
    """
    return 1 - (1 - LEVEL) / max(1, n_layouts)


def n_worst_of(n_sites: int) -> int:
    """How many sites are called the worst: ten, or a quarter of few.

    Parameters
    ----------
    n_sites : int
        Sites that are ranked. [-]
    """
    return max(1, min(N_WORST, int(WORST_SHARE * n_sites)))


def placed(figures: Sequence[Figure]) -> tuple[Place, ...]:
    """Order sites by risk, the worst first, and say which ranks the bounds allow.

    Parameters
    ----------
    figures : sequence of Figure
        Risk of each site. [unit]
    """
    if not figures:
        return ()
    n_worst = n_worst_of(len(figures))
    means, lows, highs = (
        np.array([getattr(one, name) for one in figures]) for name in ("mean", "low", "high")
    )
    best, worst = _ranks(lows, highs)
    among = np.where(best > n_worst, Among.NO, Among.PERHAPS)
    among[worst <= n_worst] = Among.SURELY
    order = np.lexsort((np.arange(len(means)), -means)).tolist()
    return tuple(
        Place(k, rank, int(best[k]), int(worst[k]), Among(among[k]))
        for rank, k in enumerate(order, start=1)
    )


def _ranks(lows: Floats, highs: Floats) -> tuple[Ints, Ints]:
    """Return least and largest rank of each: by who is surely, and who may be, at greater risk."""
    n = len(lows)
    n_surely_worse = n - np.searchsorted(np.sort(lows), highs, side="right")
    n_perhaps_worse = n - np.searchsorted(np.sort(highs), lows, side="left") - 1  # less itself
    return n_surely_worse + 1, n_perhaps_worse + 1
