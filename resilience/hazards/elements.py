"""What strikes: elements with a cause, an effect and a clock of their own.

Both engines read these rows and name no cause; only the battery is mechanics of theirs.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count, pairwise, takewhile

from resilience import draws
from resilience.connectivity.rows import link_ends
from resilience.draws import element_key, stream, uniform
from resilience.errors import KeyCollisionError
from resilience.hazards.causes import BATTERY, Effect, described
from resilience.hazards.laws import NEVER, Law


@dataclass(frozen=True, slots=True)
class Element:
    """One thing that strikes, again and again, on its own clock.

    Parameters
    ----------
    cause : str
        Name of the hazard; ``causes`` describes it. [-]
    id : str
        Which one of that hazard: the device, the link, the door or the obstacle it is. [-]
    effect : Effect
        What it does while it is away. [-]
    targets : tuple of str
        Ids of the devices or links that it holds. [-]
    amount : int
        Loss in hundredths of a dB, or extra cost; 0 for other effects. [cdB or 1/128 ETX]
    strikes : Law
        Time at risk until the next strike. [ms]
    lasts : Law
        Time away; for a mended element the repair, NEVER for a lasting one. [ms]
    is_mended : bool
        Whether it ends with a repair visit to its device instead of by itself. [-]
    renews : bool
        Whether its end puts in new cells; the clock of any element begins anew with it. [-]
    weak_share : float
        Share of new devices that also carry an early death. [-]
    weak_ms : float
        Mean time to that early death, exponential. [ms]
    away_ms : tuple of (int, int) or None
        Scripted absences in the place of draws, as start and end. [ms]
    """

    cause: str
    id: str
    effect: Effect
    targets: tuple[str, ...]
    amount: int = 0
    strikes: Law = NEVER
    lasts: Law = NEVER
    is_mended: bool = False
    renews: bool = False
    weak_share: float = 0.0
    weak_ms: float = 1.0
    away_ms: tuple[tuple[int, int], ...] | None = None

    @property
    def name(self) -> tuple[str, str]:
        """Cause and id, the order in which equal times are taken."""
        return (self.cause, self.id)

    @property
    def luck(self) -> tuple[str, str, str]:
        """Kind, id and cause: what its draws are keyed by, the same in every layout."""
        kind = described(self.cause).luck or ("link" if link_ends(self.id) else "device")
        return (kind, self.id, self.cause)


@dataclass(frozen=True, slots=True)
class Cells:
    """The battery of one device: what it holds and how fast it is used.

    Parameters
    ----------
    device : str
        Id of the device. [-]
    mean_charge_na_ms : float
        Usable charge of an average set of cells. [nA ms]
    spread : Law
        Factor on it, with mean 1. [-]
    leaf_na, forwarding_na, searching_na : int
        Drain with a route; added per sensor behind it; without a route. [nA]
    repair : Law
        From death to new cells. [ms]
    """

    device: str
    mean_charge_na_ms: float
    spread: Law
    leaf_na: int
    forwarding_na: int
    searching_na: int
    repair: Law

    @property
    def death(self) -> Element:
        """The element that strikes when the charge is used up."""
        return Element(
            BATTERY.name,
            self.device,
            BATTERY.effect,
            (self.device,),
            lasts=self.repair,
            is_mended=True,
            renews=True,
        )


@dataclass(frozen=True, slots=True)
class Fate:
    """The luck of one element in one lifetime.

    Parameters
    ----------
    start : int
        Start of its stream of draws. [-]
    """

    start: int

    @classmethod
    def of(cls, element: Element, seed: int, lifetime: int) -> "Fate":
        """Return the fate of an element, the same in every layout that holds it."""
        return cls(stream(seed, lifetime, element_key(*element.luck)))

    def at_risk_ms(self, element: Element, n: int) -> int:
        """Time from coming back (or from hand-over) to strike n, counted from 0."""
        return draws.at_risk_ms(
            self.start, n, element.strikes.numbers, element.weak_share, element.weak_ms
        )

    def away_ms(self, element: Element, n: int) -> int:
        """Time that absence n lasts, for an element that ends by itself."""
        return draws.away_ms(self.start, n, element.lasts.numbers)

    def absences_ms(self, element: Element, horizon_ms: int) -> tuple[tuple[int, int | None], ...]:
        """Start and end of every absence of an element that ends by itself.

        Those that begin at or after the horizon are left out; the end is None where the horizon
        comes first.

        Parameters
        ----------
        element : Element
            Scripted, or with a clock of its own draws. [-]
        horizon_ms : int
            End of the lifetime. [ms]
        """
        if element.is_mended and element.away_ms is None:
            raise ValueError(f"{element.name} ends with a visit, not by itself")
        clock = self._clock(element) if element.away_ms is None else element.away_ms
        before_horizon = takewhile(lambda absence: absence[0] < horizon_ms, clock)
        return tuple((start, end if end < horizon_ms else None) for start, end in before_horizon)

    def _clock(self, element: Element) -> Iterator[tuple[int, int]]:
        """Yield start and end of absence after absence, without end."""
        back_ms = 0
        for n in count():
            start_ms = back_ms + self.at_risk_ms(element, n)
            back_ms = start_ms + self.away_ms(element, n)
            yield start_ms, back_ms


@dataclass(frozen=True, slots=True)
class DeviceFate:
    """The luck of one device's upkeep in one lifetime: repairs and sets of cells.

    Parameters
    ----------
    repairs, cells : int
        Starts of the two streams of draws. [-]
    """

    repairs: int
    cells: int

    @classmethod
    def of(cls, device: str, seed: int, lifetime: int) -> "DeviceFate":
        """Return the fate of a device, the same in every layout that holds it."""
        return cls(
            stream(seed, lifetime, element_key("device", device, "repair")),
            stream(seed, lifetime, element_key("device", device, "cells")),
        )

    def repair_ms(self, law: Law, n: int) -> int:
        """Time from the silence that opens visit n to its end."""
        return law.drawn_ms(uniform(self.repairs, n))

    def charge_na_ms(self, cells: Cells, n: int) -> int:
        """Usable charge of the n-th set of cells, at least 1."""
        factor = cells.spread.drawn(uniform(self.cells, n))
        return max(1, int(cells.mean_charge_na_ms * factor))


def refuse_collisions(names: list[tuple[str, str, str]]) -> None:
    """Raise KeyCollisionError where two of these (kind, id, cause) would share their luck."""
    known = set(names)
    keys = [(element_key(*name), name) for name in known]
    if len(dict(keys)) == len(known):
        return
    for (key, name), (next_key, other) in pairwise(sorted(keys)):
        if key == next_key:
            raise KeyCollisionError(f"{name} and {other} share a draw key; rename one of the two")
