"""What one lifetime leaves: a record for statistics and a history for people."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from resilience.hazards import causes
from resilience.hazards.elements import Element
from resilience.units import MS_PER_H

Holder = tuple[str, str]  # cause and id of what a spell is put down to
LAYOUT: Holder = ("layout", "")
RADIO_DRAW: Holder = ("radio draw", "")
SWING = causes.SWING.name  # what a link is put down to that its level alone closes; also its draws

# What is counted at once: orphans; dark sensors; those silent for any reason, site outages too.
COUNTED = ("orphans", "dark", "silent")
DURATIONS_H = (1, 2, 4, 8, 12, 24, 48, 72, 168, 336, 720, 1440)


@dataclass(frozen=True, slots=True)
class Watch:
    """For how long too many sensors may be lost at once, as far as a lifetime's row tells of it.

    Parameters
    ----------
    durations_ms : tuple of int
        As many as in ``DURATIONS_H``, rising. [ms]
    from_first_route : bool
        Whether a sensor counts from its first route on only. [-]
    by_sensor : bool
        Whether each of the sensors has to be lost for so long; else so many by turns will do. [-]
    """

    durations_ms: tuple[int, ...] = tuple(hours * MS_PER_H for hours in DURATIONS_H)
    from_first_route: bool = False
    by_sensor: bool = False

    def __post_init__(self) -> None:
        rising = tuple(sorted(set(self.durations_ms)))
        if len(self.durations_ms) != len(DURATIONS_H) or rising != self.durations_ms:
            raise ValueError(f"{len(DURATIONS_H)} rising durations are needed")

    @classmethod
    def of(cls, own_ms: int, from_first_route: bool, by_sensor: bool = False) -> "Watch":
        """Return a watch that holds one duration; it takes the place of the one nearest to it."""
        usual = cls().durations_ms
        if own_ms in usual:
            return cls(usual, from_first_route, by_sensor)
        nearest = min(usual, key=lambda one: abs(one - own_ms))
        durations_ms = tuple(sorted({*usual, own_ms} - {nearest}))
        return cls(durations_ms, from_first_route, by_sensor)


USUAL_WATCH = Watch()


@dataclass(frozen=True, slots=True)
class Spell:
    """One unbroken time for which a sensor was an orphan.

    Parameters
    ----------
    sensor : str
        Its id. [-]
    start_ms, end_ms : int
        Wall times; an uncounted site outage in between is not orphan time. [ms]
    orphan_ms : int
        Length without such pauses. [ms]
    is_cut : bool
        Whether the horizon cut it. [-]
    """

    sensor: str
    start_ms: int
    end_ms: int
    orphan_ms: int
    is_cut: bool


@dataclass(frozen=True, slots=True)
class Record:
    """The figures of one lifetime, in whole milliseconds and counts.

    Mappings by depth, count, cause or holder leave out what is zero.

    Parameters
    ----------
    orphan_ms, dark_ms, down_ms, interrupted_ms, not_reached_ms, cut_off_ms : dict of str to int
        By sensor; every sensor is present. Cut off is up during a site outage, which is orphan
        time as well only where site outages are counted. [ms]
    depth_ms : dict of str to dict of int to int
        Time that each sensor spent at each hop depth. [ms]
    count_ms : dict of int to int
        Time by number of orphans at once, uncounted site outages left out. [ms]
    longest_above_ms, longest_dark_ms, longest_silent_ms : tuple of int
        For K = 0, 1, ... sensors - 1: longest time for which more than K were orphans; dark; dark
        or without any gateway. The first two stand still during an uncounted site outage. [ms]
    reparentings : dict of str to int
        Changes from one parent to another, by device that changed. [-]
    spells : tuple of Spell
        Orphan spells in order of (sensor, start). [-]
    blame_ms, began : dict of Holder to int
        Orphan time by what held it; spells by what began them. [ms, -]
    early_blame_ms : dict of Holder to int
        The part of ``blame_ms`` that came before a sensor's first route. [ms]
    site_outage_ms : int
        Time without a serving network. [ms]
    struck : dict of Holder to int
        Strikes of each element that holds devices, battery deaths included. [-]
    unreached : tuple of str
        Sensors that never had a route, in order. [-]
    drain_na : dict of str to int
        What each device on cells drew on average while it was up; those that never were are left
        out. [nA]
    site_outages, visits, cells : int
        Site outages begun; repair visits ended; sets of cells put in. [-]
    fruitless : int
        Visits among them that mended nothing. [-]
    worked_ms : int
        What visits to sensors and repeaters and services took in all, in working hours. [ms]
    resurveys : int
        Visits among them that ended a lasting change. [-]
    devices, gateways : int
        Devices replaced, of sensors and repeaters and of gateways. [-]
    rounds : int
        Planned rounds that renewed any cells. [-]
    """

    orphan_ms: dict[str, int]
    dark_ms: dict[str, int]
    down_ms: dict[str, int]
    interrupted_ms: dict[str, int]
    not_reached_ms: dict[str, int]
    cut_off_ms: dict[str, int]
    depth_ms: dict[str, dict[int, int]]
    count_ms: dict[int, int]
    longest_above_ms: tuple[int, ...]
    longest_dark_ms: tuple[int, ...]
    longest_silent_ms: tuple[int, ...]
    reparentings: dict[str, int]
    spells: tuple[Spell, ...]
    blame_ms: dict[Holder, int]
    began: dict[Holder, int]
    early_blame_ms: dict[Holder, int]
    site_outage_ms: int
    struck: dict[Holder, int]
    unreached: tuple[str, ...]
    drain_na: dict[str, int]
    site_outages: int
    visits: int
    cells: int
    fruitless: int = 0
    worked_ms: int = 0
    resurveys: int = 0
    devices: int = 0
    gateways: int = 0
    rounds: int = 0

    def most_beyond(self, counted: str, duration_ms: int) -> int:
        """Largest number that was lost at once for longer than a duration.

        Parameters
        ----------
        counted : str
            One of ``COUNTED``. [-]
        duration_ms : int
            Only what lasts strictly longer counts. [ms]
        """
        longest = (self.longest_above_ms, self.longest_dark_ms, self.longest_silent_ms)
        return sum(one > duration_ms for one in longest[COUNTED.index(counted)])

    @property
    def most_orphans(self) -> int:
        """Largest number of orphans at once."""
        return max((n for n, time_ms in self.count_ms.items() if time_ms), default=0)

    @property
    def strikes(self) -> dict[str, int]:
        """Strikes of what holds devices, by cause."""
        strikes: Counter[str] = Counter()
        for (cause, _), n in self.struck.items():
            strikes[cause] += n
        return dict(strikes)


@dataclass(frozen=True, slots=True)
class Absence:
    """One time for which an element was away.

    Parameters
    ----------
    element : Element
        What was away, battery deaths included. [-]
    start_ms : int
        When it struck. [ms]
    end_ms : int or None
        When it came back; None where the horizon came first. [ms]
    """

    element: Element
    start_ms: int
    end_ms: int | None


@dataclass(frozen=True, slots=True)
class ParentChange:
    """One device that has another parent after a step than before it; None is no parent."""

    time_ms: int
    device: str
    old: str | None
    new: str | None


@dataclass(frozen=True, slots=True)
class Held:
    """Unbroken orphan time of a sensor that is put down to one thing.

    Parameters
    ----------
    sensor : str
        Its id. [-]
    holder : Holder
        What it is put down to. [-]
    start_ms, end_ms : int
        On the clock that stands still during an uncounted site outage. [ms]
    is_early : bool
        Whether the sensor had not had a route yet. [-]
    """

    sensor: str
    holder: Holder
    start_ms: int
    end_ms: int
    is_early: bool


def joined_held(told: Iterable[Held]) -> tuple[Held, ...]:
    """Join what follows each other unbroken, in order of (sensor, start), no time at all left out.

    Parameters
    ----------
    told : iterable of Held
        Those of one sensor never overlap. [-]
    """
    found: list[Held] = []
    for one in sorted(told, key=lambda one: (one.sensor, one.start_ms, one.end_ms)):
        if one.end_ms == one.start_ms:
            continue
        if found and replace(one, start_ms=found[-1].start_ms, end_ms=one.start_ms) == found[-1]:
            found[-1] = replace(found[-1], end_ms=one.end_ms)
        else:
            found.append(one)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody was called for a silent device.

    Parameters
    ----------
    device : str
        Its id. [-]
    silent_ms, opened_ms : int
        Since when its silence counted; when the call was opened. [ms]
    left_ms : int or None
        When a crew set out; None if none did. [ms]
    closed_ms : int or None
        End of the visit, or when it was not needed any more; None: open at the horizon. [ms]
    mended : tuple of Holder
        What the visit ended, lasting changes among it, in order. [-]
    seen_to_by : str
        The device to which a crew was called that saw to this one as well; empty if none. [-]
    n_dead : int
        Parts that turned out dead on the visit. [-]
    """

    device: str
    silent_ms: int
    opened_ms: int
    left_ms: int | None = None
    closed_ms: int | None = None
    mended: tuple[Holder, ...] = ()
    seen_to_by: str = ""
    n_dead: int = 0


@dataclass(frozen=True, slots=True)
class History:
    """Everything that happened in one lifetime, in order of time.

    Parameters
    ----------
    first_parents : dict of str to str or None
        Parent of each device after the first step. [-]
    absences : tuple of Absence
        In order of (start, cause, id). [-]
    parents : tuple of ParentChange
        In order of (time, device), the first step left out. [-]
    outages_ms : tuple of (int, int)
        Start and end of each site outage; the horizon ends the last. [ms]
    faded : tuple of (int, str)
        Time and link of each branch that closed between two devices that are up and would not
        have closed at its level of a millisecond earlier; in order. [ms, -]
    calls : tuple of Call
        In order of (opened, device); none where every failure has a visit of its own at once. [-]
    held : tuple of Held
        All orphan time by what it is put down to. [-]
    """

    first_parents: dict[str, str | None]
    absences: tuple[Absence, ...]
    parents: tuple[ParentChange, ...]
    outages_ms: tuple[tuple[int, int], ...]
    faded: tuple[tuple[int, str], ...] = ()
    calls: tuple[Call, ...] = ()
    held: tuple[Held, ...] = ()


@dataclass(frozen=True, slots=True)
class Lifetime:
    """One lifetime: its record and its history."""

    record: Record
    history: History
