"""The luck of elements and of devices' upkeep in one lifetime: when they strike, for how long."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import count, takewhile

from resilience import draws
from resilience.draws import element_key, stream, uniform
from resilience.hazards.elements import (
    DRAWN,
    Cells,
    Drawn,
    Element,
    Mended,
    Scripted,
)
from resilience.hazards.laws import Law


@dataclass(frozen=True, slots=True)
class Fate:
    """The luck of one element in one lifetime.

    Parameters
    ----------
    start : int
        Start of its stream of draws. [-]
    events : int
        Start of the stream of the events that it shares with others; else its own. [-]
    """

    start: int
    events: int

    @classmethod
    def of(cls, element: Element, seed: int, lifetime: int) -> "Fate":
        """Return the fate of an element, the same in every layout that holds it."""
        start = stream(seed, lifetime, element_key(*element.luck))
        reach = None if isinstance(element.clock, Scripted) else element.clock.reach
        events = start if reach is None else stream(seed, lifetime, element_key(*reach.luck))
        return cls(start, events)

    def at_risk_ms(self, clock: Drawn | Mended, n: int) -> int:
        """Time from coming back (or from hand-over) to strike or event n, counted from 0."""
        weak, lived_ms = (0.0, 1.0), 0.0
        if isinstance(clock, Mended):
            weak, lived_ms = (clock.weak_share, clock.weak_ms), clock.lived_ms if n == 0 else 0.0
        return draws.at_risk_ms(self.events, n, clock.strikes.numbers, weak, lived_ms)

    def away_ms(self, clock: Drawn, n: int) -> int:
        """Time that absence or event n lasts."""
        return draws.away_ms(self.events, n, clock.lasts.numbers)

    def strike_ms(self, clock: Mended, n: int, now_ms: int, horizon_ms: int) -> int:
        """Time of strike n of what is as good as new now; the horizon where none comes before.

        Parameters
        ----------
        clock : Mended
            When it strikes. [-]
        n : int
            Number of the strike, from 0; shared events come by their own count. [-]
        now_ms : int
            When it came back, or 0. [ms]
        horizon_ms : int
            End of the lifetime. [ms]
        """
        if clock.is_found_down and n == 0:
            return 0
        if clock.reach is None:
            return now_ms + self.at_risk_ms(clock, n)
        hits_ms = (start_ms for start_ms, _ in self._cycles(clock, horizon_ms))
        return next((hit_ms for hit_ms in hits_ms if hit_ms > now_ms), horizon_ms)

    def absences_ms(
        self, clock: Drawn | Scripted, horizon_ms: int
    ) -> tuple[tuple[int, int | None], ...]:
        """Start and end of every absence that ends by itself.

        Those that begin at or after the horizon are left out; the end is None where the horizon
        comes first.

        Parameters
        ----------
        clock : Drawn or Scripted
            When it strikes. [-]
        horizon_ms : int
            End of the lifetime. [ms]
        """
        if isinstance(clock, Scripted):
            absences: Iterable[tuple[int, int]] = clock.away_ms
        else:
            absences = self._cycles(clock, horizon_ms)
        before_horizon = takewhile(lambda absence: absence[0] < horizon_ms, absences)
        return tuple((start, end if end < horizon_ms else None) for start, end in before_horizon)

    def _cycles(self, clock: Drawn | Mended, horizon_ms: int) -> Iterator[tuple[int, int]]:
        """Yield start and end of absence after absence, to the one that passes the horizon."""
        back_ms = 0
        for n in count():
            start_ms = back_ms + self.at_risk_ms(clock, n)
            if isinstance(clock, Drawn) and clock.within is not None:
                start_ms = clock.within.after_ms(back_ms, start_ms - back_ms)
            back_ms = start_ms + (self.away_ms(clock, n) if isinstance(clock, Drawn) else 0)
            delay_ms = 0 if clock.reach is None else clock.reach.delay_ms(self.start, n)
            strikes = isinstance(clock, Mended) or delay_ms < back_ms - start_ms
            if delay_ms >= 0 and strikes:
                yield start_ms + delay_ms, back_ms
            if start_ms >= horizon_ms:
                return


@dataclass(frozen=True, slots=True)
class DeviceFate:
    """The luck of one device's upkeep in one lifetime: repairs, sets of cells, responses, parts.

    Parameters
    ----------
    repairs, cells, responses, parts, batch : int
        Starts of the streams of draws; devices of one batch share the last. [-]
    """

    repairs: int
    cells: int
    responses: int
    parts: int
    batch: int

    @classmethod
    def of(cls, device: str, seed: int, lifetime: int, batch: str = "") -> "DeviceFate":
        """Return the fate of a device, the same in every layout that holds it."""
        names = [*(("device", device, what) for what in DRAWN), batch_luck(batch)]
        return cls(*(stream(seed, lifetime, element_key(*name)) for name in names))

    def repair_ms(self, law: Law, n: int) -> int:
        """Length of the work of visit n."""
        return law.drawn_ms(uniform(self.repairs, n))

    def response_ms(self, law: Law | None, n: int) -> int:
        """Time that the crew of visit n takes to get there."""
        return 0 if law is None else law.drawn_ms(uniform(self.responses, n))

    def is_dead(self, dead_share: float, n: int) -> bool:
        """Whether part n that is put in turns out dead."""
        return uniform(self.parts, n) < dead_share

    def charge_na_ms(self, cells: Cells, n: int) -> int:
        """Usable charge of the n-th set of cells, at least 1; all n-th sets of a batch share."""
        factor = cells.spread.drawn(uniform(self.cells, n))
        shared = cells.batch_spread.drawn(uniform(self.batch, n))
        return max(1, int(cells.mean_charge_na_ms * factor * shared))


def batch_luck(batch: str) -> tuple[str, str, str]:
    """Kind, id and cause that the draws of a delivery of cells are keyed by."""
    return ("batch", batch, "cells")
