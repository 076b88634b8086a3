"""What is known of a whole portfolio: which sites are at most risk, and which few to visit."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import islice
from typing import TYPE_CHECKING

from resilience.draws import STREAM_VERSION
from resilience.montecarlo.estimates import LEVEL
from resilience.policy.judgement import Verdict
from resilience.ranking.many.sites import Among, Place, Risk, SiteScore, n_worst_of
from resilience.ranking.pairs import INDIFFERENCE_H

if TYPE_CHECKING:
    import pandas

MOST_VISITS = 5  # sites that are named as worth one


@dataclass(frozen=True, slots=True)
class Failure:
    """A site without an answer.

    Parameters
    ----------
    id : str
        Its folder, below that of the portfolio. [-]
    reason : str
        What is wrong, one line a mistake. [-]
    was_played : bool
        Whether it was sound and failed while it was played. [-]
    """

    id: str
    reason: str
    was_played: bool

    @property
    def verb(self) -> str:
        """What to ask of the site alone to see it again."""
        return "compare" if self.was_played else "check"


@dataclass(frozen=True, slots=True)
class Since:
    """An earlier run from which lifetimes were taken over.

    Parameters
    ----------
    run : str
        Its folder. [-]
    taken_over : tuple of str
        Sites that are as they were, so that nothing of them had to be played. [-]
    gone_on : tuple of str
        Sites that are as they were, of which more lifetimes are asked for. [-]
    """

    run: str
    taken_over: tuple[str, ...]
    gone_on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Portfolio:
    """Sites in order of risk.

    Parameters
    ----------
    name : str
        Folder of the portfolio, as it was named. [-]
    by : Risk
        By what sites are ranked. [-]
    ranked : sequence of (Place, SiteScore)
        The worst first. [-]
    unranked : sequence of SiteScore
        Sites that have no such risk, since nothing is promised of them. [-]
    failures : tuple of Failure
        Sites without an answer. [-]
    not_reached : tuple of str
        Sound sites for which there was no time. [-]
    lifetimes : int
        Of each layout, at least. [-]
    seed : int
        Of all studies. [-]
    stopped_because : str
        Why it ended. [-]
    since : Since or None
        The earlier run that it goes on from; None for none. [-]
    """

    name: str
    by: Risk
    ranked: Sequence[tuple[Place, SiteScore]]
    unranked: Sequence[SiteScore]
    failures: tuple[Failure, ...]
    not_reached: tuple[str, ...]
    lifetimes: int
    seed: int
    stopped_because: str
    since: Since | None = None

    def scores(self) -> Iterator[SiteScore]:
        """Yield all sites that have a score, the worst first."""
        yield from (score for _, score in self.ranked)
        yield from self.unranked

    @property
    def n_scored(self) -> int:
        """How many sites have a score."""
        return len(self.ranked) + len(self.unranked)

    @property
    def n_worst(self) -> int:
        """How many sites are called the worst."""
        return n_worst_of(len(self.ranked))

    @property
    def verdicts(self) -> Mapping[Verdict | None, int]:
        """How many sites have each verdict; None is those without a promise."""
        found = [score.verdict for score in self.scores()]
        return {verdict: found.count(verdict) for verdict in (*Verdict, None)}

    @property
    def visits_per_month(self) -> float:
        """Visits of a crew that looks after all sites."""
        return sum(score.best(self.by).visits_per_month for score in self.scores())

    @property
    def worked_h_per_month(self) -> float | None:
        """Hours of travel and work of such a crew; None where some site does not tell them."""
        told = [score.best(self.by).worked_h_per_month for score in self.scores()]
        known = [hours for hours in told if hours is not None]
        return sum(known) if len(known) == len(told) else None

    @property
    def worth_a_visit(self) -> tuple[SiteScore, ...]:
        """The few sites that stand out: surely among the worst, or with a broken promise."""
        found = (score for place, score in self.ranked if self._stands_out(place, score))
        return tuple(islice(found, MOST_VISITS))

    def _stands_out(self, place: Place, score: SiteScore) -> bool:
        if score.verdict is Verdict.BROKEN:
            return True
        loses = score.best(self.by).hours.mean > INDIFFERENCE_H
        return loses and place.among_worst is Among.SURELY

    def to_json(self) -> dict[str, object]:
        """Return ranks, scores and failures under stable keys."""
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "portfolio": self.name,
            "seed": self.seed,
            "level": LEVEL,
            "lifetimes": self.lifetimes,
            "stopped_because": self.stopped_because,
            "ranked_by": self.by.value,
            "n_worst": self.n_worst,
            "visits_per_month": self.visits_per_month,
            "worked_hours_per_month": self.worked_h_per_month,
            "worth_a_visit": [score.id for score in self.worth_a_visit],
            "sites": [
                {
                    "rank": place.rank,
                    "best_rank": place.best_rank,
                    "worst_rank": place.worst_rank,
                    "among_worst": place.among_worst.value,
                    "verdict": score.verdict,
                    **score.to_json(),
                }
                for place, score in self.ranked
            ],
            "sites_without_a_promise": [score.to_json() for score in self.unranked],
            "failures": [{"id": one.id, "reason": one.reason} for one in self.failures],
            "not_reached": list(self.not_reached),
            "since": asdict(self.since) if self.since else None,
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per ranked site, the worst first."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "rank": place.rank,
                    "site": score.id,
                    "among_worst": place.among_worst.value,
                    "verdict": score.verdict,
                    "layout": score.best(self.by).name,
                    "orphan_hours_per_sensor_year": score.best(self.by).hours.mean,
                }
                for place, score in self.ranked
            ]
        )
