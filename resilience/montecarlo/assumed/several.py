"""Several sites on the same few lifetimes, side by side: how much hangs on what is assumed."""

from collections.abc import Callable, Generator, Hashable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from itertools import islice
from threading import Event
from typing import Generic, TypeVar

from resilience.building.site import Site
from resilience.connectivity.links import site_table
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.connectivity.table import LinkTable
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import Tally, joined
from resilience.montecarlo.runs.running import REACHED, Undertaking
from resilience.montecarlo.stopping import Question, open_question
from resilience.montecarlo.study import Study, as_studies

OF_LINKS = ("building", "radio", "routing", "calibration", "layouts")  # what links rest on
LIFETIMES_A_PIECE = 16  # so many are finished once all is over

Name = TypeVar("Name", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Told(Generic[Name]):
    """What one of several sites has shown.

    Parameters
    ----------
    name : Name
        Which of them. [-]
    studies : tuple of Study
        One for each layout of the site. [-]
    is_alike : bool
        Whether nothing that counts differs from the first site, so that nothing was played. [-]
    """

    name: Name
    studies: tuple[Study, ...]
    is_alike: bool = False


class Several:
    """Plays sites that differ in what is assumed of them on the same lifetimes.

    A site may have some of the layouts of the first one only; those are played.

    Parameters
    ----------
    undertaking : Undertaking
        The first site, to which the others are compared; nothing is kept. [-]
    n_lifetimes : int
        Of each layout of each site, at most; rounded up to whole building draws. [-]
    workers : int
        Threads, each with a site of its own; 1 plays in the caller's. [-]
    is_over : callable
        Asked between pieces: whether what is under way is to be given up. [-]
    question : callable
        Asked of each site whenever its lifetimes have doubled; what is settled plays no more. [-]
    """

    def __init__(
        self,
        undertaking: Undertaking,
        n_lifetimes: int,
        workers: int,
        is_over: Callable[[], bool],
        question: Question[Study] = open_question,
    ) -> None:
        self._undertaking, self._question = undertaking, question
        self._n = -(-n_lifetimes // LIFETIMES_PER_BUILDING) * LIFETIMES_PER_BUILDING
        self._workers, self._is_over = workers, is_over
        self._cut = Event()
        self._tables: tuple[LinkTable, ...] = ()
        self._tables = self._tables_of(undertaking)
        self._stages = self._staged(undertaking)
        self._of_layout = {stage.layout.name: stage for stage in self._stages}

    def first(self) -> tuple[Study, ...] | None:
        """Return the studies of the first site; None if all is over before."""
        return self._played(self._undertaking, self._stages)

    def told(
        self, first: tuple[Study, ...], sites: Iterable[tuple[Name, Site]]
    ) -> Generator[Told[Name], None, None]:
        """Yield what each site has shown as soon as that is known, until all is over.

        Parameters
        ----------
        first : tuple of Study
            Of the first site. [-]
        sites : iterable of (Name, Site)
            Taken one by one, when a thread has nothing to do. [-]
        """
        waiting = iter(sites)
        with ThreadPoolExecutor(self._workers) as pool:
            running: set[Future[Told[Name] | None]] = set()
            try:
                while not self._is_over():
                    for name, site in islice(waiting, self._workers - len(running)):
                        running.add(pool.submit(self._of, name, site, first))
                    if not running:
                        return
                    done, running = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        if (found := future.result()) is not None:
                            yield found
                for future in running:  # those that were as good as finished
                    if (found := future.result()) is not None:
                        yield found
            finally:
                self._cut.set()

    def _of(self, name: Name, site: Site, first: tuple[Study, ...]) -> Told[Name] | None:
        undertaking = replace(self._undertaking, site=site, layouts=site.layouts)
        stages = self._staged(undertaking)
        if all(stage.loses_like(self._of_layout[stage.layout.name]) for stage in stages):
            return Told(name, first, is_alike=True)
        found = self._played(undertaking, stages)
        return None if found is None else Told(name, found)

    def _staged(self, undertaking: Undertaking) -> tuple[Stage, ...]:
        asked, tables = undertaking, self._tables_of(undertaking)
        return tuple(map(asked.stage, asked.layouts, tables))

    def _tables_of(self, undertaking: Undertaking) -> tuple[LinkTable, ...]:
        """Links of each layout: those of the first site where nothing of the radio is otherwise."""
        first, site = self._undertaking, undertaking.site
        if self._tables and all(getattr(site, one) == getattr(first.site, one) for one in OF_LINKS):
            known = dict(zip(first.layouts, self._tables, strict=True))
            return tuple(known[layout] for layout in undertaking.layouts)
        paths = site_table(site, undertaking.layouts)
        return tuple(paths.of(layout) for layout in undertaking.layouts)

    def _played(
        self, undertaking: Undertaking, stages: tuple[Stage, ...]
    ) -> tuple[Study, ...] | None:
        playing, done = set(range(len(stages))), 0
        pieces: list[list[Tally]] = [[] for _ in stages]
        found: tuple[Study, ...] = ()
        for end in self._ends():
            for place in sorted(playing):
                for start in range(done, end, LIFETIMES_A_PIECE):
                    if self._cut.is_set() or self._is_over():
                        return None
                    n = min(LIFETIMES_A_PIECE, end - start)
                    pieces[place].append(stages[place].tally(start, n))
            done, found = end, _studies(undertaking, pieces)
            ruling = self._question(found)
            if ruling.ends_because:
                break
            playing -= ruling.dropped
        return found

    def _ends(self) -> Iterator[int]:
        """Lifetimes after which the question is asked; the last is the end."""
        end = LIFETIMES_A_PIECE
        while end < self._n:
            yield end
            end *= 2
        yield self._n


def _studies(undertaking: Undertaking, pieces: Sequence[list[Tally]]) -> tuple[Study, ...]:
    return as_studies(undertaking, [joined(ones) for ones in pieces], REACHED)
