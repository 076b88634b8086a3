"""What strikes: elements with a cause, an effect and a clock of their own.

Both engines read these rows and name no cause; only the battery is mechanics of theirs.
"""

from dataclasses import dataclass
from itertools import chain, pairwise, repeat

from resilience import draws
from resilience.connectivity.rows import link_ends
from resilience.draws import element_key
from resilience.errors import KeyCollisionError
from resilience.hazards.causes import BATTERY, SERVICE, Effect, described
from resilience.hazards.laws import ALWAYS_1, NEVER, Law, Windows
from resilience.units import MS_PER_MONTH


@dataclass(frozen=True, slots=True)
class Reach:
    """How events that many share come to strike one of them: late, in turn, or not at all.

    The events have a clock of their own, which runs on whomever they strike. Each of those that
    they may strike is an element whose clock holds the same ``luck``.

    Parameters
    ----------
    luck : tuple of (str, str, str)
        Kind, id and cause: what the draws of the events are keyed by. [-]
    share : float
        Chance that an event strikes this one, drawn by event and element. [-]
    after_ms : int
        Time from an event to its effect; what ends before that strikes nobody. [ms]
    spread_ms : int
        The effect comes at an even draw within so long after that. [ms]
    """

    luck: tuple[str, str, str]
    share: float = 1.0
    after_ms: int = 0
    spread_ms: int = 0

    def delay_ms(self, start: int, n: int) -> int:
        """Time from event n to its effect on what has that stream of draws; -1 where it has none.

        Parameters
        ----------
        start : int
            Start of the stream of what may be struck. [-]
        n : int
            Number of the event, from 0. [-]
        """
        return draws.delay_ms(start, n, self.share, self.after_ms, self.spread_ms)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A clock that strikes and ends on draws: its own, or those of events that others share.

    Parameters
    ----------
    strikes : Law
        Time at risk until the next strike, or the next event. [ms]
    lasts : Law
        Time away, or that the event lasts: what it strikes later ends with it. [ms]
    reach : Reach or None
        How such events come to strike this one. [-]
    within : Windows or None
        The times that ``strikes`` passes in; None is at all times. [-]
    """

    strikes: Law
    lasts: Law
    reach: Reach | None = None
    within: Windows | None = None


@dataclass(frozen=True, slots=True)
class Mended:
    """A clock that strikes on draws and ends with a visit, after which its device is new.

    New are its cells, too, and whether it is weak is drawn anew.

    Parameters
    ----------
    strikes : Law
        Time at risk until the next strike; NEVER where cells run down instead. [ms]
    repair : Law
        Length of the visit, if this strike is what opens it. [ms]
    weak_share : float
        Share of new devices that also carry an early death. [-]
    weak_ms : float
        Mean time to that early death, exponential. [ms]
    reach : Reach or None
        How events of no length that others share come to strike this one, one after the other. [-]
    lived_ms : float
        Age of its device when the lifetime begins. [ms]
    is_found_down : bool
        Whether it is away when the lifetime begins: then that is its first strike. [-]
    """

    strikes: Law
    repair: Law
    weak_share: float = 0.0
    weak_ms: float = 1.0
    reach: Reach | None = None
    lived_ms: float = 0.0
    is_found_down: bool = False

    def __post_init__(self) -> None:
        if self.lived_ms > 0 and self.strikes.shape not in (draws.NEVER, draws.WEIBULL):
            raise ValueError("what is left of a life is known of Weibull laws only")
        if self.reach is not None and (self.lived_ms > 0 or self.is_found_down):
            raise ValueError("shared events know no age")
        if self.reach is not None and (self.weak_share > 0 or self.reach.spread_ms > 0):
            raise ValueError("shared events that are mended know no early death and no turns")


@dataclass(frozen=True, slots=True)
class Scripted:
    """A clock whose absences are known beforehand.

    Parameters
    ----------
    away_ms : tuple of (int, int)
        Start and end of each, in order; between two there is at least a millisecond. [ms]
    """

    away_ms: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        edges = [-1, *chain(*self.away_ms)]
        if any(before >= after for before, after in pairwise(edges)):
            raise ValueError(f"scripted absences {self.away_ms} do not follow one another")


Clock = Drawn | Mended | Scripted
HOLDS_DEVICES = (Effect.DOWN, Effect.MUTE)
DRAWN = ("repair", "cells", "response", "part")  # of the upkeep of a device


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
        Ids of the devices or links that it holds; what is mended holds one device. [-]
    amount : int
        Loss in hundredths of a dB, or extra cost; 0 for other effects. [cdB or 1/128 ETX]
    clock : Drawn, Mended or Scripted
        When it strikes and how it ends; a script without absences never does. [-]
    amounts : tuple of int
        The amount of each target, where they differ; ``amount`` is the largest. [as amount]
    is_lasting : bool
        Whether a visit to a sensor that is put down to it can end it early. [-]
    """

    cause: str
    id: str
    effect: Effect
    targets: tuple[str, ...]
    amount: int = 0
    clock: Clock = Scripted()
    amounts: tuple[int, ...] = ()
    is_lasting: bool = False

    def __post_init__(self) -> None:
        is_visited = len(self.targets) == 1 and self.effect in HOLDS_DEVICES
        if isinstance(self.clock, Mended) and not is_visited:
            raise ValueError(f"{self.name} is mended by visits, but it does not hold one device")
        if self.is_lasting and self.effect in HOLDS_DEVICES:
            raise ValueError(f"{self.name} changes for good, but it holds devices")

    @property
    def name(self) -> tuple[str, str]:
        """Cause and id, the order in which equal times are taken."""
        return (self.cause, self.id)

    @property
    def loads(self) -> dict[str, int]:
        """What it adds to each of its targets, by id."""
        return dict(zip(self.targets, self.amounts or repeat(self.amount), strict=False))

    @property
    def luck(self) -> tuple[str, str, str]:
        """Kind, id and cause: what its draws are keyed by, the same in every layout."""
        kind = described(self.cause).luck or ("link" if link_ends(self.id) else "device")
        return (kind, self.id, self.cause)


@dataclass(frozen=True, slots=True)
class Course:
    """What of a set's charge cannot be had, month by month: in the cold it stays in the cells.

    Parameters
    ----------
    kept : tuple of int
        Of each month of the year from January on, in thousandths of the charge; empty where no
        month differs. The warmest month keeps nothing. [1/1000]
    first_ms : int
        How much of a year is over at hand-over. [ms]
    month_ms : int
        Length of each month; twelve make a year. [ms]
    """

    kept: tuple[int, ...] = ()
    first_ms: int = 0
    month_ms: int = MS_PER_MONTH

    def __post_init__(self) -> None:
        kept = self.kept
        if kept and not (len(kept) == 12 and min(kept) == 0 and max(kept) < 1000):
            raise ValueError(f"{kept} are not twelve shares of which the least is 0")


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
    self_na : int
        Self-discharge, beside what the device draws and while it is down. [nA]
    course : Course
        What cannot be had in the cold. [-]
    batch : str
        Delivery whose factor its sets share; empty where nobody said. [-]
    batch_spread : Law
        That factor, with mean 1. [-]
    age_ms : int
        How long the first set has served as the lifetime begins. [ms]
    left_share : float or None
        What is left of it; None where nobody measured it, so that its age says it. [-]
    """

    device: str
    mean_charge_na_ms: float
    spread: Law
    leaf_na: int
    forwarding_na: int
    searching_na: int
    repair: Law
    self_na: int = 0
    course: Course = Course()
    batch: str = ""
    batch_spread: Law = ALWAYS_1
    age_ms: int = 0
    left_share: float | None = None

    @property
    def death(self) -> Element:
        """The element that strikes when the charge is used up."""
        clock = Mended(NEVER, self.repair)
        return Element(BATTERY.name, self.device, BATTERY.effect, (self.device,), clock=clock)

    @property
    def service(self) -> Element:
        """The element that holds the device down while a planned round renews its cells."""
        return Element(SERVICE.name, self.device, SERVICE.effect, (self.device,))


def refuse_collisions(names: list[tuple[str, str, str]]) -> None:
    """Raise KeyCollisionError where two of these (kind, id, cause) would share their luck."""
    known = set(names)
    keys = [(element_key(*name), name) for name in known]
    if len(dict(keys)) == len(known):
        return
    for (key, name), (next_key, other) in pairwise(sorted(keys)):
        if key == next_key:
            raise KeyCollisionError(f"{name} and {other} share a draw key; rename one of the two")
