"""All sites of a portfolio, until everything is played or time is up."""

import pickle
import zlib
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol, Self

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.montecarlo.runs.ledger import Ledger
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED
from resilience.policy.judgement import Verdict
from resilience.ranking.many.on_demand import OnDemand
from resilience.ranking.many.portfolio import Failure, Portfolio, Since
from resilience.ranking.many.sites import Among, Figure, Risk, SiteScore, placed, site_level_share
from resilience.sweep.course import Course, note_of_site
from resilience.sweep.crew import Crew, KillsError
from resilience.sweep.finding import Asked, Found, Terms, checked
from resilience.sweep.orders import Answer, Order

MORE = 2  # times as many lifetimes for whoever is undecided, in spare time
MOST_LIFETIMES = 1 << 20  # of a layout, however much time there is
KILLS = "each process that played it died, alone as well: too little memory, or a fault of ours"


class Watcher(Protocol):
    """Somebody who is told how far a run has come."""

    def checked(self, done: int, to_do: int) -> None:
        """Another site was checked."""

    def scored(self, score: SiteScore, was_kept: bool) -> None:
        """Another site has its score; an earlier run may have had it."""

    def failed(self, failure: Failure) -> None:
        """Another site has no answer."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be done.

    Parameters
    ----------
    top : Path
        The portfolio. [-]
    folders : tuple of Path
        Of its sites. [-]
    terms : Terms
        How they are played and judged. [-]
    lifetimes : int
        Of each layout, at least. [-]
    by : Risk
        By what sites are ranked. [-]
    left_s : callable or None
        Seconds until time is up, some of them for those that stay undecided; None allows as much
        as is needed, and no more than that. [s]
    since : Ledger or None
        Of an earlier run: what it has played of sites that are as they were is taken over. [-]
    """

    top: Path
    folders: tuple[Path, ...]
    terms: Terms
    lifetimes: int
    by: Risk = Risk.HOURS
    left_s: Callable[[], float] | None = None
    since: Ledger | None = None

    @property
    def whole_lifetimes(self) -> int:
        """Lifetimes of each layout, of whole building draws."""
        return -(-self.lifetimes // LIFETIMES_PER_BUILDING) * LIFETIMES_PER_BUILDING

    def is_over(self) -> bool:
        """Whether time is up."""
        return self.left_s is not None and self.left_s() <= 0


@dataclass(frozen=True, slots=True)
class Standing:
    """What is held in memory of a site that has its score; the rest is in the ledger.

    Parameters
    ----------
    found : Found
        The site. [-]
    lifetimes : int
        At which its score was made. [-]
    risk : Figure or None
        By which it is ranked; None where nothing is promised that could be broken. [-]
    packed : bytes
        Its score, which takes several times the room unpacked. [-]
    """

    found: Found
    lifetimes: int
    risk: Figure | None
    packed: bytes

    @classmethod
    def of(cls, found: Found, score: SiteScore, lifetimes: int, by: Risk) -> Self:
        """Keep of a score what tables of all sites need: all but its sensors."""
        light = replace(score, layouts=tuple(replace(one, sensors=()) for one in score.layouts))
        packed = zlib.compress(pickle.dumps(light, protocol=5), 1)
        return cls(found, lifetimes, score.risk(by), packed)

    @property
    def score(self) -> SiteScore:
        """The score, without sensors."""
        found = pickle.loads(zlib.decompress(self.packed))
        assert isinstance(found, SiteScore)
        return found


@dataclass
class Outcome:
    """What is known of a portfolio.

    Parameters
    ----------
    plan : Plan
        What was to be done. [-]
    found : list of Found
        Sound sites. [-]
    standings : dict of str to Standing
        Sites that have a score, by id. [-]
    failures : list of Failure
        Sites without an answer. [-]
    stopped_because : str
        Why it ended. [-]
    taken_over : list of str
        Sites of which an earlier run has played everything. [-]
    gone_on : list of str
        Sites of which it has played a part. [-]
    """

    plan: Plan
    found: list[Found] = field(default_factory=list)
    standings: dict[str, Standing] = field(default_factory=dict)
    failures: list[Failure] = field(default_factory=list)
    stopped_because: str = REACHED
    taken_over: list[str] = field(default_factory=list)
    gone_on: list[str] = field(default_factory=list)

    @property
    def level_share(self) -> float:
        """Level of each figure, so that those of all sites hold together."""
        return site_level_share(sum(len(one.layouts) for one in self.found))

    @property
    def not_reached(self) -> list[str]:
        """Sound sites for which there was no time."""
        out = {*self.standings, *(one.id for one in self.failures)}
        return [one.id for one in self.found if one.id not in out]

    def portfolio(self) -> Portfolio:
        """Return what is known so far, in order of risk."""
        plan = self.plan
        known = [self.standings[one.id] for one in self.found if one.id in self.standings]
        ranked = [(one, one.risk) for one in known if one.risk is not None]
        places = placed([risk for _, risk in ranked])
        return Portfolio(
            str(plan.top),
            plan.by,
            OnDemand(places, lambda place: (place, ranked[place.position][0].score)),
            OnDemand([one for one in known if one.risk is None], lambda one: one.score),
            tuple(self.failures),
            tuple(self.not_reached),
            plan.whole_lifetimes,
            plan.terms.seed,
            self.stopped_because,
            self._since(),
        )

    def _since(self) -> Since | None:
        if self.plan.since is None:
            return None
        return Since(str(self.plan.since.folder), tuple(self.taken_over), tuple(self.gone_on))

    def undecided(self) -> list[Found]:
        """Sites of which more lifetimes could tell more: the verdict, or whether they stand out."""
        open_ids = {
            score.id
            for place, score in self.portfolio().ranked
            if place.among_worst is Among.PERHAPS or score.verdict is Verdict.UNDECIDED
        }
        return [one for one in self.found if one.id in open_ids]


Keep = Callable[[Outcome, SiteScore | None], None]


def played_portfolio(
    plan: Plan, ledger: Ledger, crew: Callable[[], Crew], watcher: Watcher, keep: Keep
) -> Outcome:
    """Check all sites, play them and score them; what is finished is kept at every moment.

    Parameters
    ----------
    plan : Plan
        What is to be done. [-]
    ledger : Ledger
        Of the run. [-]
    crew : callable
        Makes the processes that play, if there is anything to be played. [-]
    watcher : Watcher
        Who is told. [-]
    keep : callable
        Takes the outcome so far and, of a site that has just been scored, its score. [-]
    """
    outcome = Outcome(plan)
    try:
        _check(outcome, ledger, watcher)
        _take_over(outcome, ledger)
        keep(outcome, None)
        sweep = _Sweep(outcome, ledger, watcher, keep)
        waiting = sweep.without_score(outcome.found, plan.whole_lifetimes)
        if waiting or plan.left_s is not None:
            with crew() as processes:
                sweep.play(processes, waiting, plan.whole_lifetimes)
                sweep.use_spare_time(processes)
    except KeyboardInterrupt:
        if not outcome.found:
            raise
        outcome.stopped_because = INTERRUPTED
    keep(outcome, None)
    return outcome


def _check(outcome: Outcome, ledger: Ledger, watcher: Watcher) -> None:
    """Check all sites, and keep them as they are now: files may change while others are played."""
    plan = outcome.plan

    def take(digest: str, asked: Asked) -> None:
        ledger.of(digest).keep_note(note_of_site(asked.id), asked.packed())

    for n, one in enumerate(checked(plan.top, plan.folders, plan.terms, take), start=1):
        watcher.checked(n, len(plan.folders))
        if isinstance(one, Found):
            outcome.found.append(one)
        else:
            outcome.failures.append(one)
            watcher.failed(one)


def _take_over(outcome: Outcome, ledger: Ledger) -> None:
    """Take over what an earlier run has played of sites that are as they were.

    Their scores are made anew, as bounds hold over all sites that there are now.
    """
    plan = outcome.plan
    if plan.since is None:
        return
    for found in outcome.found:
        earlier = plan.since.of(found.digest)
        ledger.of(found.digest).take_over(earlier)
        lifetimes = plan.whole_lifetimes
        n_missing = Course(found, earlier, lifetimes, outcome.level_share).n_missing
        if n_missing == 0:
            outcome.taken_over.append(found.id)
        elif n_missing < lifetimes:
            outcome.gone_on.append(found.id)


class _Sweep:
    """Courses of many sites, of which few are under way at a time."""

    def __init__(self, outcome: Outcome, ledger: Ledger, watcher: Watcher, keep: Keep) -> None:
        self._outcome, self._ledger = outcome, ledger
        self._watcher, self._keep = watcher, keep
        self._killers: list[Found] = []  # to be tried alone
        self._lost: set[Course] = set()  # of which no answer counts any more
        self._has_answer = False

    def _course(self, found: Found, lifetimes: int) -> Course:
        ledger = self._ledger.of(found.digest)
        return Course(found, ledger, lifetimes, self._outcome.level_share)

    def without_score(self, sites: Sequence[Found], lifetimes: int) -> list[Found]:
        """Take the scores that are kept, and return the sites that have none."""
        waiting = []
        for found in sites:
            score = self._course(found, lifetimes).kept_score()
            if score is None:
                waiting.append(found)
            else:
                self._take(found, score, lifetimes, was_kept=True)
        return waiting

    def _take(self, found: Found, score: SiteScore, lifetimes: int, was_kept: bool) -> None:
        outcome = self._outcome
        outcome.standings[found.id] = Standing.of(found, score, lifetimes, outcome.plan.by)
        self._watcher.scored(score, was_kept)
        self._keep(self._outcome, score)

    def _fail(self, found: Found, reason: str) -> None:
        failure = Failure(found.id, reason, was_played=True)
        self._outcome.failures.append(failure)
        self._outcome.standings.pop(found.id, None)
        self._watcher.failed(failure)

    def play(self, crew: Crew, sites: Sequence[Found], lifetimes: int) -> None:
        """Play sites until each has its score or time is up; those that kill come last, alone."""
        self._play(crew, iter(sites), lifetimes)
        alone, self._killers = self._killers, []
        for found in alone:
            self._play(crew, iter([found]), lifetimes)
        for found in self._killers:
            self._fail(found, KILLS)
        self._killers = []

    def _play(self, crew: Crew, sites: Iterator[Found], lifetimes: int) -> None:
        waiting: deque[tuple[Course, Order]] = deque()
        self._ask(crew, waiting, sites, lifetimes)
        for course, answer in crew.answers(self._outcome.plan.is_over):
            self._has_answer = True
            waiting.extend((course, order) for order in self._after(course, answer))
            self._ask(crew, waiting, sites, lifetimes)

    def _ask(
        self,
        crew: Crew,
        waiting: deque[tuple[Course, Order]],
        sites: Iterator[Found],
        lifetimes: int,
    ) -> None:
        """Ask for as much as keeps all processes busy: sites that wait take no memory."""
        # One order goes ahead: a first one may have to compile the engine, which one does for all.
        # It plays a single step then, so that the others need not wait for long.
        most = crew.n_wanted if self._has_answer else 1
        while len(crew) < most:
            if not waiting:
                found = next(sites, None)
                if found is None:
                    return
                course = self._course(found, lifetimes)
                waiting.extend((course, order) for order in course.orders())
            course, order = waiting.popleft()
            if course not in self._lost:
                crew.ask(order if self._has_answer else replace(order, seconds=0.0), course)

    def _after(self, course: Course, answer: Answer | Exception) -> list[Order]:
        """Take an answer, and return what is to be asked next of its site."""
        if course in self._lost:
            return []
        if isinstance(answer, Exception):
            self._lost.add(course)
            if isinstance(answer, KillsError):
                self._killers.append(course.found)
            else:
                self._fail(course.found, f"{type(answer).__name__}: {answer}")
            return []
        score = course.take(answer)
        if score is not None:
            self._take(course.found, score, course.lifetimes, was_kept=False)
            return []
        return course.orders() if course.is_idle else []

    def use_spare_time(self, crew: Crew) -> None:
        """Let sites that stay undecided play on, twice as long each time, until time is up."""
        outcome, lifetimes = self._outcome, self._outcome.plan.whole_lifetimes
        while outcome.plan.left_s is not None and not outcome.plan.is_over():
            undecided, lifetimes = outcome.undecided(), MORE * lifetimes
            if not undecided or lifetimes > MOST_LIFETIMES:
                return
            self.play(crew, self.without_score(undecided, lifetimes), lifetimes)
        if outcome.plan.left_s is not None:
            outcome.stopped_because = OUT_OF_TIME
