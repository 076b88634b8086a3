"""Several sites on the same few lifetimes, side by side: how much hangs on what is assumed."""

from collections.abc import Callable, Generator, Hashable, Iterable
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
from resilience.lifetime.tally import joined
from resilience.montecarlo.runs.running import REACHED, Undertaking
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
        One for each layout. [-]
    is_alike : bool
        Whether nothing that counts differs from the first site, so that nothing was played. [-]
    """

    name: Name
    studies: tuple[Study, ...]
    is_alike: bool = False


class Several:
    """Plays sites that differ in what is assumed of them, each the same number of lifetimes.

    Parameters
    ----------
    undertaking : Undertaking
        The first site, to which the others are compared; nothing is kept. [-]
    n_lifetimes : int
        Of each layout of each site; rounded up to whole building draws. [-]
    workers : int
        Threads, each with a site of its own; 1 plays in the caller's. [-]
    is_over : callable
        Asked between pieces: whether what is under way is to be given up. [-]
    """

    def __init__(
        self, undertaking: Undertaking, n_lifetimes: int, workers: int, is_over: Callable[[], bool]
    ) -> None:
        self._undertaking = undertaking
        self._n = -(-n_lifetimes // LIFETIMES_PER_BUILDING) * LIFETIMES_PER_BUILDING
        self._workers, self._is_over = workers, is_over
        self._cut = Event()
        self._tables: tuple[LinkTable, ...] = ()
        self._tables = self._tables_of(undertaking)
        self._stages = self._staged(undertaking)

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
        if all(map(Stage.loses_like, stages, self._stages)):
            return Told(name, first, is_alike=True)
        found = self._played(undertaking, stages)
        return None if found is None else Told(name, found)

    def _staged(self, undertaking: Undertaking) -> tuple[Stage, ...]:
        asked = undertaking
        how = (asked.seed, asked.count_site_outages, asked.engine)
        return tuple(
            Stage(asked.site, layout, *how, table)
            for layout, table in zip(asked.layouts, self._tables_of(asked), strict=True)
        )

    def _tables_of(self, undertaking: Undertaking) -> tuple[LinkTable, ...]:
        """Links of each layout: those of the first site where nothing of the radio is otherwise."""
        first, site = self._undertaking.site, undertaking.site
        if self._tables and all(getattr(site, name) == getattr(first, name) for name in OF_LINKS):
            return self._tables
        paths = site_table(site, undertaking.layouts)
        return tuple(paths.of(layout) for layout in undertaking.layouts)

    def _played(
        self, undertaking: Undertaking, stages: tuple[Stage, ...]
    ) -> tuple[Study, ...] | None:
        tallies = []
        for stage in stages:
            pieces = []
            for start in range(0, self._n, LIFETIMES_A_PIECE):
                if self._cut.is_set() or self._is_over():
                    return None
                pieces.append(stage.tally(start, min(LIFETIMES_A_PIECE, self._n - start)))
            tallies.append(joined(pieces))
        return as_studies(undertaking, tallies, REACHED)
