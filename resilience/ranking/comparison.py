"""All layouts of a site in order, the most robust first."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from resilience.building.site import Layout, Site
from resilience.draws import DEFAULT_SEED, STREAM_VERSION
from resilience.errors import UsageError
from resilience.montecarlo.costs import installation, upkeep
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import Budget, Progress, Undertaking, no_progress
from resilience.montecarlo.study import Play, Study, studies
from resilience.montecarlo.telling import figures_json
from resilience.ranking.groups import Split, splits_of
from resilience.ranking.pairs import INDIFFERENCE_H, Pair, RankedBy, Verdict, pair_of, ranked_by
from resilience.ranking.settling import Settling, pair_level_share

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True, slots=True)
class Placed:
    """One layout with its place in the order.

    Parameters
    ----------
    rank : int
        One more than the number of layouts shown to be better; equal ranks are not separated. [-]
    layout : Layout
        What is installed. [-]
    study : Study
        What its lifetimes say. [-]
    """

    rank: int
    layout: Layout
    study: Study


@dataclass(frozen=True, slots=True)
class Comparison:
    """The layouts of a site ranked by robustness.

    Parameters
    ----------
    site : Site
        The site. [-]
    placed : tuple of Placed
        Layouts, best first. [-]
    ranked_by : RankedBy
        Which hours decide the order. [-]
    pairs : tuple of Pair
        Every two layouts, the better placed one first. [-]
    is_ordered_by_depth : bool
        Whether hop depth decided the order of layouts that are alike. [-]
    """

    site: Site
    placed: tuple[Placed, ...]
    ranked_by: RankedBy
    pairs: tuple[Pair, ...]
    is_ordered_by_depth: bool

    @property
    def leader(self) -> Study:
        """The layout placed first."""
        return self.placed[0].study

    def pair(self, first: str, second: str) -> Pair:
        """Return the pair of two layouts in the order of their places.

        Parameters
        ----------
        first, second : str
            Names, the better placed one first. [-]
        """
        for pair in self.pairs:
            if (pair.first, pair.second) == (first, second):
                return pair
        raise UsageError(f"{first} is not placed before {second}")

    def hours(self, study: Study) -> Estimate:
        """The hours by which layouts are ranked."""
        return self.ranked_by.estimate(study)

    @property
    def splits(self) -> tuple[Split, ...]:
        """Where the order falls into groups that are told apart."""
        verdicts = {(pair.first, pair.second): pair.verdict for pair in self.pairs}
        layouts = [placed.layout for placed in self.placed]
        return splits_of(layouts, lambda first, second: verdicts[first, second])

    def _gap_h(self, split: Split) -> float:
        better, worse = self.placed[split.n_better - 1 : split.n_better + 1]
        return self.hours(worse.study).mean - self.hours(better.study).mean

    @property
    def widest_split(self) -> Split | None:
        """The split with most hours between the layouts next to it."""
        return max(self.splits, key=self._gap_h, default=None)

    @property
    def widest_gap(self) -> Split | None:
        """The same of all places in the order, shown or not, if more than indifference."""
        layouts = [placed.layout for placed in self.placed]
        gaps = splits_of(layouts, lambda _first, _second: Verdict.BETTER)
        widest = max(gaps, key=self._gap_h, default=None)
        return widest if widest and self._gap_h(widest) > INDIFFERENCE_H else None

    @property
    def dominated(self) -> dict[str, str]:
        """Layouts than which another is shown to be more robust and costs no more, and that one.

        Neither to install nor, on average, to keep up; the one placed first of several. Where
        something that is needed has no price, nobody knows.
        """
        prices, found = self.site.prices, dict[str, str]()
        costs = {
            one.layout.name: (
                installation(one.layout, prices).whole_cost,
                upkeep(one.study, prices).whole_cost,
            )
            for one in self.placed
        }
        for pair in self.pairs:
            if pair.verdict is Verdict.BETTER and _costs_no_more(
                costs[pair.first], costs[pair.second]
            ):
                found.setdefault(pair.second, pair.first)
        return found

    def to_json(self) -> dict[str, object]:
        """Return ranking, figures and pairs under stable keys."""
        leader = self.leader
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "site": self.site.name,
            "begins": self.site.begins.isoformat(),
            "as_if_new": self.site.standing.today is None,
            "seed": leader.seed,
            "lifetimes": leader.n_lifetimes,
            "level": LEVEL,
            "stopped_because": leader.stopped_because,
            "ranked_by": self.ranked_by.value,
            "site_outages_counted": leader.count_site_outages,
            "groups": self._groups_json(),
            "currency": self.site.prices.currency,
            "layouts": [
                {
                    "rank": placed.rank,
                    **figures_json(placed.study),
                    "installation": installation(placed.layout, self.site.prices).to_json(),
                    "upkeep": upkeep(placed.study, self.site.prices).to_json(),
                }
                for placed in self.placed
            ],
            "dominated": self.dominated,
            "pairs": [pair.to_json() for pair in self.pairs],
        }

    def _groups_json(self) -> list[list[str]]:
        names = [placed.layout.name for placed in self.placed]
        ends = [0, *(split.n_better for split in self.splits), len(names)]
        return [names[start:end] for start, end in pairwise(ends)]

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per layout, best first."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "rank": placed.rank,
                    "layout": placed.layout.name,
                    "service_hours_per_sensor_year": placed.study.service_hours.mean,
                    "service_hours_low": placed.study.service_hours.low,
                    "service_hours_high": placed.study.service_hours.high,
                    "orphan_hours_per_sensor_year": placed.study.orphan_hours.mean,
                    "dark_hours_per_sensor_year": placed.study.dark_hours.mean,
                    "hop_depth": placed.study.hop_depth.mean,
                }
                for placed in self.placed
            ]
        )


def compare(
    site: Site,
    seed: int = DEFAULT_SEED,
    budget: Budget | None = None,
    workers: int = 1,
    progress: Progress = no_progress,
) -> Comparison:
    """Rank the layouts of a site on the same lifetimes.

    Parameters
    ----------
    site : Site
        The site. [-]
    seed : int
        Seed, from 0. [-]
    budget : Budget or None
        When to stop; None takes the default. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    progress : callable
        Told the lifetimes done and to do, over all layouts. [-]

    Raises
    ------
    UsageError
        The seed is negative.
    """
    undertaking = Undertaking.whole(site, seed)
    play = partial(studies, undertaking, budget or Budget(), workers=workers, progress=progress)
    return compared(site, play)


def compared(site: Site, play: Play) -> Comparison:
    """Rank the layouts of a site on lifetimes, whoever plays them.

    Parameters
    ----------
    site : Site
        The site. [-]
    play : callable
        Gives a study of each layout, in their order. [-]
    """
    settling = Settling()
    return ranked(site, play(settling), settling.pair)


PairOf = Callable[[Study, Study, float, RankedBy], Pair]


def ranked(site: Site, found: Sequence[Study], pair: PairOf = pair_of) -> Comparison:
    """Order studies that played the same lifetimes, dropped ones fewer of them.

    Parameters
    ----------
    site : Site
        The site. [-]
    found : sequence of Study
        One for each of its layouts. [-]
    pair : callable
        Compares two of them at a level; ``Settling.pair`` where some were dropped. [-]
    """
    level_share, by = pair_level_share(len(found)), ranked_by(found)

    def between(first: Study, second: Study) -> Pair:
        return pair(first, second, level_share, by)

    by_hours = sorted(found, key=lambda study: (by.hours(study).mean(), study.layout))
    ordered = _shallower_first(by_hours, between)
    pairs = tuple(between(*two) for two in combinations(ordered, 2))
    better: dict[str, int] = dict.fromkeys((study.layout for study in found), 0)
    for one in pairs:  # none is worse: only layouts that are alike stand against their hours
        if one.verdict is Verdict.BETTER:
            better[one.second] += 1
    placed = tuple(
        Placed(1 + better[study.layout], site.layout(study.layout), study) for study in ordered
    )
    return Comparison(site, placed, by, pairs, ordered != by_hours)


def _shallower_first(by_hours: list[Study], between: Callable[[Study, Study], Pair]) -> list[Study]:
    """Let hop depth decide between neighbours in the order that are alike."""
    ordered = list(by_hours)
    depth = {study.layout: study.mean_hop_depth for study in ordered}
    for end in range(len(ordered), 1, -1):
        for k in range(end - 1):
            first, second = ordered[k], ordered[k + 1]
            is_shallower = depth[second.layout] < depth[first.layout]
            if is_shallower and between(first, second).verdict is Verdict.ALIKE:
                ordered[k : k + 2] = [second, first]
    return ordered


def _costs_no_more(one: Sequence[float | None], other: Sequence[float | None]) -> bool:
    """Whether all costs are known, and none of one is more than the other's."""
    return all(
        first is not None and second is not None and first <= second
        for first, second in zip(one, other, strict=True)
    )
