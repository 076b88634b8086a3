"""Lifetimes in rounds of pieces: every layout plays the same lifetimes before a study may stop.

Pieces are sized by the time they take, and tallies add exactly, so sizes never show in a result.
"""

import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from resilience.building.site import Layout, Site, outages_matter
from resilience.connectivity.links import site_table
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.connectivity.table import LinkTable
from resilience.errors import UsageError
from resilience.lifetime.engines import COMPILED
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import USUAL_WATCH, Watch
from resilience.lifetime.tally import Tally, joined
from resilience.montecarlo.runs.ledger import Finished, Ledger
from resilience.montecarlo.runs.pieces import Piece, Players, Sizes
from resilience.montecarlo.stopping import Question, looks, open_question

MOST_LOOSE_LIFETIMES = 512  # of a layout, before they are added up: rows are packed by that
MOST_LOOSE_PIECES = 64  # the same of small pieces

REACHED = "the lifetimes asked for were played"
OUT_OF_TIME = "the time allowed was used up"
INTERRUPTED = "it was interrupted"

Progress = Callable[[int, int], None]  # lifetimes done, lifetimes to do


def no_progress(done: int, to_do: int) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Budget:
    """When to stop.

    Parameters
    ----------
    lifetimes : int
        Lifetimes of each layout, at least 1; rounded up to whole building draws. [-]
    seconds : float
        Time after which no further piece begins. [s]
    clock : callable
        Seconds that only go up. [s]
    """

    lifetimes: int = 2000
    seconds: float = 60.0
    clock: Callable[[], float] = time.monotonic

    def __post_init__(self) -> None:
        if self.lifetimes < 1:
            raise UsageError(f"{self.lifetimes} lifetimes were asked for; at least 1 is needed")


@dataclass(frozen=True, slots=True)
class Undertaking:
    """What is played.

    Parameters
    ----------
    site : Site
        The site. [-]
    layouts : tuple of Layout
        Layouts that play the same lifetimes. [-]
    seed : int
        Seed of the study. [-]
    count_site_outages : bool
        Whether a site outage makes orphans. [-]
    engine : str
        Which engine plays; both tell the same story. [-]
    ledger : Ledger or None
        Where finished pieces are found and kept; None keeps nothing. [-]
    watch : Watch
        What rows of lifetimes tell of many being lost at once. [-]

    Raises
    ------
    UsageError
        The seed is negative.
    """

    site: Site
    layouts: tuple[Layout, ...]
    seed: int
    count_site_outages: bool
    engine: str = COMPILED
    ledger: Ledger | None = None
    watch: Watch = USUAL_WATCH

    def __post_init__(self) -> None:
        if self.seed < 0:
            raise UsageError(f"the seed is {self.seed}; it must be 0 or above")

    @classmethod
    def whole(
        cls, site: Site, seed: int, watch: Watch = USUAL_WATCH, engine: str = COMPILED
    ) -> "Undertaking":
        """Undertake all layouts of a site; outages count where layouts differ in what makes them.

        Parameters
        ----------
        site : Site
            The site. [-]
        seed : int
            Seed, from 0. [-]
        watch : Watch
            What rows of lifetimes tell of many being lost at once. [-]
        engine : str
            Which engine plays. [-]
        """
        return cls(site, site.layouts, seed, outages_matter(site.layouts), engine, watch=watch)

    def stage(self, layout: Layout, table: LinkTable | None = None) -> Stage:
        """Make a layout ready to be played."""
        how = (self.seed, self.count_site_outages, self.engine)
        return Stage(self.site, layout, *how, table, self.watch)


@dataclass(frozen=True, slots=True)
class Played:
    """What was played.

    Parameters
    ----------
    tallies : tuple of Tally
        One for each layout of the undertaking, of equally many lifetimes. [-]
    stopped_because : str
        Why it ended. [-]
    """

    tallies: tuple[Tally, ...]
    stopped_because: str


def played(
    undertaking: Undertaking,
    budget: Budget,
    question: Question[Tally] = open_question,
    workers: int = 1,
    progress: Progress = no_progress,
) -> Played:
    """Play lifetimes of every layout until a question is settled or the budget is spent.

    A question ends it at a look. Time and KeyboardInterrupt end it at any number of lifetimes that
    all layouts have reached, one piece later at most. One building draw of each is played however
    little time there is; an interrupt before that is raised again.

    The result depends on the number of lifetimes reached, never on workers, pieces or ledger.

    Parameters
    ----------
    undertaking : Undertaking
        What to play. [-]
    budget : Budget
        When to stop; making layouts ready takes no time, nor what a ledger holds. [-]
    question : callable
        Asked at every look. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    progress : callable
        Told the lifetimes done and to do, over all layouts: when the layouts are ready to be
        played, and after each piece that is. [-]
    """
    to_do = -(-budget.lifetimes // LIFETIMES_PER_BUILDING) * LIFETIMES_PER_BUILDING
    course = _Course(undertaking, to_do, progress)
    try:
        with Players(course.stages, workers, budget.clock) as players:
            why = _play(course, players, question, budget.clock() + budget.seconds)
    except KeyboardInterrupt:
        if not course.done:
            raise
        why = INTERRUPTED
    return Played(course.tallies(), why)


def _play(course: "_Course", players: Players, question: Question[Tally], deadline: float) -> str:
    """Play round after round, and say why it ends."""

    def left_s() -> float:
        return deadline + players.made_ready_s - players.clock()

    def is_over() -> bool:
        return course.done > 0 and left_s() <= 0

    sizes = Sizes()
    for look in _looks_until(course.to_do):
        while course.done < look:
            draws = sizes.draws_within(left_s())
            missing = course.missing(look, draws * LIFETIMES_PER_BUILDING, players.workers)
            times_s = {}
            for piece, tally, seconds in players.tallies(missing, is_over):
                course.keep(piece, tally)
                times_s[piece] = seconds
            if len(times_s) < len(missing):
                return OUT_OF_TIME
            sizes.learn(times_s)
        ruling = question(course.tallies())
        if ruling.ends_because:
            return ruling.ends_because
        course.playing -= ruling.dropped
    return REACHED


def _looks_until(lifetimes: int) -> Iterator[int]:
    """Looks in lifetimes, and the end."""
    for look in looks():
        yield min(look * LIFETIMES_PER_BUILDING, lifetimes)
        if look * LIFETIMES_PER_BUILDING >= lifetimes:
            return


class _Course:
    """What is played so far: a sum for each layout, and pieces that are not yet added to it.

    An interrupt may come between any two steps, so ``done`` is worked out and not kept.
    """

    def __init__(self, undertaking: Undertaking, to_do: int, progress: Progress) -> None:
        self.undertaking, self.to_do = undertaking, to_do
        self.playing = frozenset(range(len(undertaking.layouts)))
        self._names = [layout.name for layout in undertaking.layouts]
        self._ledger, self._progress = undertaking.ledger, progress
        self._finished = [
            undertaking.ledger.finished(name) if undertaking.ledger else Finished({})
            for name in self._names
        ]
        self._sums: tuple[Tally | None, ...] = (None,) * len(self._names)
        self._loose: list[dict[int, Tally]] = [{} for _ in self._names]

    def stages(self) -> tuple[Stage, ...]:
        """Make the layouts ready to be played, and tell so."""
        asked, paths = self.undertaking, site_table(self.undertaking.site, self.undertaking.layouts)
        made = tuple(asked.stage(layout, paths.of(layout)) for layout in asked.layouts)
        for stage in made:
            stage.make_ready()
        self.tell()
        return made

    @property
    def done(self) -> int:
        """Lifetimes that every layout still playing has reached."""
        return max(frozenset.intersection(*(self._reached(layout) for layout in self.playing)))

    def _reached(self, layout: int) -> frozenset[int]:
        """Numbers of lifetimes at which this layout could end."""
        ends = [self._n_added(layout)]
        while ends[-1] in self._loose[layout]:
            ends.append(ends[-1] + self._loose[layout][ends[-1]].n_lifetimes)
        return frozenset(ends)

    def _n_added(self, layout: int) -> int:
        tally = self._sums[layout]
        return tally.n_lifetimes if tally else 0

    def tallies(self) -> tuple[Tally, ...]:
        """Add up what each layout has shown; fewer lifetimes of those that were dropped."""
        done = self.done
        found = tuple(self._sum(layout, done) for layout in range(len(self._names)))
        self._sums = found
        for loose in self._loose:
            for first in [first for first in loose if first < done]:
                del loose[first]
        return found

    def _sum(self, layout: int, end: int) -> Tally:
        """Sum of one layout, with the pieces that begin before an end."""
        added, before = self._n_added(layout), self._sums[layout]
        more = [tally for first, tally in self._loose[layout].items() if added <= first < end]
        if before is None:
            return joined(more)
        return joined([before, *more]) if more else before

    def missing(self, look: int, longest: int, workers: int) -> list[Piece]:
        """Return the next pieces to be played, after taking those that the ledger holds.

        Parameters
        ----------
        look : int
            Number of lifetimes that they may not cross. [-]
        longest : int
            Lifetimes of a piece, at most. [-]
        workers : int
            Pieces of each layout. [-]
        """
        if any(_is_much(loose.values()) for loose in self._loose):
            self.tallies()
        done = self.done
        end = self._common_end(min(done + longest * workers, look), look)
        draws_each = -(-(end - done) // (workers * LIFETIMES_PER_BUILDING))
        longest = min(longest, draws_each * LIFETIMES_PER_BUILDING)
        pieces = [
            Piece(layout, first, n)
            for layout in sorted(self.playing)
            for first, n in self._finished[layout].pieces(done, end, longest)
        ]
        return sorted((one for one in pieces if not self._take(one)), key=lambda one: one.first)

    def _common_end(self, end: int, look: int) -> int:
        """First end from ``end`` on that cuts no finished piece of any layout, or the look."""
        while end < look:
            later = max(self._finished[layout].end_from(end) for layout in self.playing)
            if later == end:
                break
            end = min(later, look)
        return end

    def _take(self, piece: Piece) -> bool:
        """Take a piece from the ledger, and say whether it was there."""
        if self._ledger is None:
            return False
        tally = self._ledger.tally(self._names[piece.layout], piece.first, piece.n)
        if tally is not None:
            self._loose[piece.layout][piece.first] = tally
        return tally is not None

    def keep(self, piece: Piece, tally: Tally) -> None:
        """Take a piece that was played, and give it to the ledger."""
        if self._ledger is not None:
            self._ledger.keep(self._names[piece.layout], tally)
        self._loose[piece.layout][piece.first] = tally
        self.tell()

    def tell(self) -> None:
        """Tell how far all layouts have come."""
        had = [
            self._n_added(layout) + sum(tally.n_lifetimes for tally in loose.values())
            for layout, loose in enumerate(self._loose)
        ]
        to_come = sum(self.to_do - had[layout] for layout in self.playing)
        self._progress(sum(had), sum(had) + to_come)


def _is_much(loose: Collection[Tally]) -> bool:
    n_lifetimes = sum(tally.n_lifetimes for tally in loose)
    return len(loose) > MOST_LOOSE_PIECES or n_lifetimes > MOST_LOOSE_LIFETIMES
