"""Who was cut off while what was away, in lifetimes that are played and told.

Everything is told on the clock that stands still while an uncounted site outage runs: nobody is cut
off then, whatever is away.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.hazards.elements import HOLDS_DEVICES, Element, Mended
from resilience.hazards.fates import Fate
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import History, Holder, Lifetime, Spell
from resilience.montecarlo.estimates import Ints

Spans = list[tuple[int, int]]  # start and end of each absence, in order. [ms]


@dataclass(frozen=True, slots=True)
class Suspect:
    """Something that may cut sensors off while it is away, for whatever cause.

    Parameters
    ----------
    elements : tuple of Holder
        Cause and id of each absence that counts. [-]
    own : frozenset of str
        Devices that it holds itself: among the others they do not count. [-]
    """

    elements: tuple[Holder, ...]
    own: frozenset[str]


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen of one suspect, by building draw.

    Parameters
    ----------
    n_absences : int
        How often it was away, over all lifetimes. [-]
    away_ms : Ints
        For how long, shape (buildings,). [ms]
    while_away_ms, all_ms : Ints
        Orphan time of others while it was away, and in all, shape (buildings,). [ms]
    """

    n_absences: int
    away_ms: Ints
    while_away_ms: Ints
    all_ms: Ints


@dataclass(frozen=True, slots=True)
class Watched:
    """What lifetimes that were told have shown.

    Parameters
    ----------
    seen : dict of Suspect to Seen
        By suspect. [-]
    clock_ms : Ints
        Time that passed on the clock of orphans, shape (buildings,). [ms]
    blame_ms : dict of Holder to Ints
        Orphan time in service by what held it, shape (buildings,). [ms]
    early_ms : dict of Holder to Ints
        The same before a sensor's first route. [ms]
    carried : dict of str to float
        Sensors behind each device that have a route, mean over time; itself left out. [-]
    """

    seen: dict[Suspect, Seen]
    clock_ms: Ints
    blame_ms: dict[Holder, Ints]
    early_ms: dict[Holder, Ints]
    carried: dict[str, float]

    @property
    def n_buildings(self) -> int:
        """Building draws watched."""
        return len(self.clock_ms)


def watched(
    stage: Stage, suspects: Iterable[Suspect], n_lifetimes: int, is_late: Callable[[], bool]
) -> Watched:
    """Play lifetimes, tell each, and see who was cut off while what was away.

    An interrupt leaves what is known by then.

    Parameters
    ----------
    stage : Stage
        The layout, ready to be played. [-]
    suspects : iterable of Suspect
        What to look for. [-]
    n_lifetimes : int
        How many at most; whole building draws. [-]
    is_late : callable
        Asked between building draws, the first of which is played whatever it says. [-]
    """
    book = _Book(stage, tuple(suspects))
    for first in range(0, n_lifetimes, LIFETIMES_PER_BUILDING):
        if first and is_late():
            break
        numbers = range(first, first + LIFETIMES_PER_BUILDING)
        try:
            told = [stage.play(number, with_links=False) for number in numbers]
        except KeyboardInterrupt:
            if not first:
                raise
            break
        book.open_building()
        for number, lived in zip(numbers, told, strict=True):
            book.take(number, lived)
    return book.closed()


class _Clock:
    """The clock on which orphans are told: it stands still during uncounted site outages."""

    def __init__(self, history: History, horizon_ms: int, counts_outages: bool) -> None:
        outages = () if counts_outages else history.outages_ms
        self._spans = tuple(outages)
        self.end_ms = self.at(horizon_ms)

    def at(self, time_ms: int) -> int:
        """Return what it shows at a time."""
        stood_ms = sum(min(end, time_ms) - start for start, end in self._spans if start < time_ms)
        return time_ms - stood_ms


class CutOff:
    """Sensors cut off as a function of time, ready to be summed between any two moments.

    Parameters
    ----------
    spans : sequence of (int, int)
        Start and end of each orphan spell. [ms]
    """

    def __init__(self, spans: Sequence[tuple[int, int]]) -> None:
        told = np.array(spans, np.int64).reshape(-1, 2)
        self._edges = [np.sort(told[:, side]) for side in (0, 1)]
        self._before = [np.concatenate(([0], np.cumsum(edges))) for edges in self._edges]

    def until_ms(self, times_ms: Ints) -> Ints:
        """Orphan time, over sensors, from the beginning to each of some moments."""
        begun, ended = (
            np.searchsorted(edges, times_ms) * times_ms - before[np.searchsorted(edges, times_ms)]
            for edges, before in zip(self._edges, self._before, strict=True)
        )
        found: Ints = begun - ended
        return found

    def within_ms(self, spans: Spans) -> int:
        """Orphan time, over sensors, within some spans that do not overlap."""
        told = np.array(spans, np.int64).reshape(-1, 2)
        return int((self.until_ms(told[:, 1]) - self.until_ms(told[:, 0])).sum())


def united(spans: Iterable[tuple[int, int]]) -> Spans:
    """Spans joined where they overlap or touch, in order.

    Parameters
    ----------
    spans : iterable of (int, int)
        Start and end of each. [ms]
    """
    found: Spans = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


class _Book:
    """Adds up lifetime after lifetime."""

    def __init__(self, stage: Stage, suspects: tuple[Suspect, ...]) -> None:
        self._stage, self._suspects = stage, suspects
        self._rules = stage.rules
        elements = (*stage.hazards.elements, *(one.death for one in stage.hazards.cells))
        known = {one.name: one for one in elements}
        wanted = {name for one in suspects for name in one.elements}
        self._by_luck = [  # runs on its draws alone, so that nobody has to play it
            known[name] for name in sorted(wanted & known.keys()) if _is_apart(known[name])
        ]
        self._clock_ms: list[int] = []
        self._n: dict[Suspect, int] = dict.fromkeys(suspects, 0)
        self._sums: dict[Suspect, list[list[int]]] = {one: [] for one in suspects}
        self._blame: tuple[dict[Holder, dict[int, int]], ...] = (
            defaultdict(lambda: defaultdict(int)),
            defaultdict(lambda: defaultdict(int)),
        )
        self._carried_ms: dict[str, int] = defaultdict(int)

    def open_building(self) -> None:
        """Go on with the next building draw."""
        self._clock_ms.append(0)
        for sums in self._sums.values():
            sums.append([0, 0, 0])

    def take(self, number: int, lived: Lifetime) -> None:
        """Add a lifetime to the building at hand."""
        building = len(self._clock_ms) - 1
        clock = _Clock(lived.history, self._rules.horizon_ms, self._rules.count_site_outages)
        self._clock_ms[-1] += clock.end_ms
        spans = self._absences(number, lived.history, clock)
        self._suspect(spans, lived.record.spells, clock)
        for holder, time_ms in lived.record.blame_ms.items():
            early_ms = lived.record.early_blame_ms.get(holder, 0)
            self._blame[0][holder][building] += time_ms - early_ms
            self._blame[1][holder][building] += early_ms
        for device, time_ms in carried_ms(self._stage, lived.history).items():
            self._carried_ms[device] += time_ms

    def _absences(self, number: int, history: History, clock: _Clock) -> dict[Holder, Spans]:
        """Absences of what holds devices, and of what else somebody asks for."""
        found: dict[Holder, Spans] = defaultdict(list)
        horizon_ms = self._rules.horizon_ms
        for one in history.absences:
            if one.element.effect in HOLDS_DEVICES:
                end_ms = horizon_ms if one.end_ms is None else one.end_ms
                found[one.element.name].append((clock.at(one.start_ms), clock.at(end_ms)))
        for element in self._by_luck:
            assert not isinstance(element.clock, Mended)
            fate = Fate.of(element, self._stage.seed, number)
            for start_ms, end in fate.absences_ms(element.clock, horizon_ms):
                end_ms = horizon_ms if end is None else end
                found[element.name].append((clock.at(start_ms), clock.at(end_ms)))
        return found

    def _suspect(
        self, away: Mapping[Holder, Spans], spells: Sequence[Spell], clock: _Clock
    ) -> None:
        told = [(one.sensor, clock.at(one.start_ms), clock.at(one.end_ms)) for one in spells]
        by_sensor: dict[str, Spans] = defaultdict(list)
        for sensor, start, end in told:
            by_sensor[sensor].append((start, end))
        everybody = CutOff([(start, end) for _, start, end in told])
        all_ms = sum(end - start for _, start, end in told)
        for suspect in self._suspects:
            spans = united(span for name in suspect.elements for span in away.get(name, ()))
            own = [span for id in suspect.own for span in by_sensor.get(id, ())]
            while_ms = own_ms = 0
            if spans:
                own_while = CutOff(own).within_ms(spans) if own else 0
                while_ms = everybody.within_ms(spans) - own_while
            own_ms = sum(end - start for start, end in own)
            sums = self._sums[suspect][-1]
            sums[0] += sum(end - start for start, end in spans)
            sums[1] += while_ms
            sums[2] += all_ms - own_ms
            self._n[suspect] += len(spans)

    def closed(self) -> Watched:
        """Return what was seen."""
        n_buildings = len(self._clock_ms)
        seen = {}
        for suspect, rows in self._sums.items():
            away, while_away, everything = np.array(rows, np.int64).reshape(-1, 3).T
            seen[suspect] = Seen(self._n[suspect], away, while_away, everything)
        in_service, early = (
            {holder: _column(times, n_buildings) for holder, times in sorted(book.items())}
            for book in self._blame
        )
        wall_ms = n_buildings * LIFETIMES_PER_BUILDING * self._rules.horizon_ms
        carried = {id: ms / wall_ms for id, ms in self._carried_ms.items()}
        clock_ms = np.array(self._clock_ms, np.int64)
        return Watched(seen, clock_ms, in_service, early, carried)


def _is_apart(element: Element) -> bool:
    """Whether an element strikes links: then its fate depends on draws alone."""
    return element.effect not in HOLDS_DEVICES


def _column(times_ms: Mapping[int, int], n: int) -> Ints:
    column = np.zeros(n, np.int64)
    for building, time_ms in times_ms.items():
        column[building] = time_ms
    return column


def carried_ms(stage: Stage, history: History) -> dict[str, int]:
    """How many sensors stand behind each device, summed over the time of a lifetime.

    Parameters
    ----------
    stage : Stage
        The layout that was played. [-]
    history : History
        What happened. [-]
    """
    parents = dict(history.first_parents)
    sensors = [one.id for one in stage.layout.sensors]
    found: dict[str, int] = defaultdict(int)
    for since_ms, until_ms, changes in _periods(history, stage.rules.horizon_ms):
        parents.update(changes)
        for sensor in sensors:
            above = parents[sensor]
            while above is not None:
                found[above] += until_ms - since_ms
                above = parents.get(above)
    return found


def _periods(
    history: History, horizon_ms: int
) -> Iterator[tuple[int, int, Mapping[str, str | None]]]:
    """Yield spans of time in which no parent changes, with the changes at their beginning."""
    steps: dict[int, dict[str, str | None]] = {0: {}}
    for change in history.parents:
        steps.setdefault(change.time_ms, {})[change.device] = change.new
    times_ms = [*steps, horizon_ms]
    for since_ms, until_ms in pairwise(times_ms):
        yield since_ms, until_ms, steps[since_ms]
