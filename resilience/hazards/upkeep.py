"""How what has failed is mended: who is called, when somebody works, and how long it takes.

Working time is told in whole milliseconds from hand-over, which is midnight, local standard time.
Its functions are pure, and a compiled engine calls the same.
"""

from dataclasses import dataclass

from resilience.building.site import Site
from resilience.building.upkeep import Spares
from resilience.hazards.laws import ALWAYS_1, Law, lasting
from resilience.units import MS_PER_H, MS_PER_YEAR, ms_from_h

DAY_MS = 24 * MS_PER_H
WEEK_DAYS = 7
EVERY_DAY = (1 << WEEK_DAYS) - 1
NEVER_DONE_MS = 1 << 42  # 139 years of work are done after any horizon
Hours = tuple[int, int, int]  # opens and closes [ms], and the days of a week that are of work
ALWAYS: Hours = (0, DAY_MS, EVERY_DAY)
UNLIMITED = -1
DEVICES, CELLS = PARTS = ("devices", "cells")  # kinds of parts


@dataclass(frozen=True, slots=True)
class Shelf:
    """Parts for visits.

    Parameters
    ----------
    devices, cells : int
        How many are kept; ``UNLIMITED`` is as many as are needed. [-]
    dead_share : float
        Share of parts that turn out dead when they are put in. [-]
    delivery : Law
        From order to shelf. [ms]
    """

    devices: int = UNLIMITED
    cells: int = UNLIMITED
    dead_share: float = 0.0
    delivery: Law = ALWAYS_1

    def kept(self, part: str) -> int:
        """How many of one kind are kept."""
        return self.devices if part == DEVICES else self.cells


def delivery_luck(part: str) -> tuple[str, str, str]:
    """Kind, id and cause that the draws of deliveries of one kind of part are keyed by."""
    return ("part", part, "delivery")


@dataclass(frozen=True, slots=True)
class RoundPlan:
    """Rounds on which a crew of its own puts new cells in.

    Parameters
    ----------
    every_ms : int
        Rounds begin at its whole multiples. [ms]
    older_ms : int
        Age from which cells are renewed. [ms]
    below : int
        Cells with less than so many thousandths of their charge left are renewed. [1/1000]
    service_ms : int
        Time for which a device is off the mesh meanwhile. [ms]
    hours : tuple of int
        When a device may be begun with. [-]
    """

    every_ms: int
    older_ms: int
    below: int
    service_ms: int
    hours: Hours = ALWAYS


def rounds_of(site: Site) -> RoundPlan | None:
    """Return the planned rounds of a site; None where it states none.

    Parameters
    ----------
    site : Site
        States upkeep and working hours. [-]
    """
    rounds = site.upkeep.rounds
    if rounds is None:
        return None
    by_charge_alone = rounds.below_charge_share > 0 and rounds.older_than_years == 0
    return RoundPlan(
        every_ms=max(1, round(rounds.every_years * MS_PER_YEAR)),
        older_ms=NEVER_DONE_MS if by_charge_alone else round(rounds.older_than_years * MS_PER_YEAR),
        below=round(rounds.below_charge_share * 1000),
        service_ms=max(1, ms_from_h(rounds.service_h)),
        hours=_hours(site),
    )


def _hours(site: Site) -> Hours:
    """When somebody can be on site."""
    hours, first = site.working_hours, site.begins.weekday()
    days = sum(1 << (day - first) % WEEK_DAYS for day in hours.days)
    return ms_from_h(hours.opens_h), ms_from_h(hours.closes_h), days


def _shelf(spares: Spares | None) -> Shelf:
    if spares is None:
        return Shelf()
    devices, cells = (
        one if isinstance(one, int) else UNLIMITED for one in (spares.devices, spares.cells)
    )
    return Shelf(devices, cells, spares.dead_share, lasting(spares.delivery))


@dataclass(frozen=True, slots=True)
class Calls:
    """How calls to sensors and repeaters come about and are answered.

    Parameters
    ----------
    alarm_ms : int
        Silence that opens a call; with 0 what a visit mends opens it at once. [ms]
    repair : Law
        Length of the work. [ms]
    response : Law or None
        Time before it, to get there; None is none. [ms]
    hears_orphans : bool
        Whether being without a route is silence, too. [-]
    crews : int
        How many there are; 0 is as many as are called. [-]
    mends_site : bool
        Whether a visit mends all that is down as its work begins, or its device. [-]
    opens_ms, closes_ms : int
        Between which times of a day crews travel and work. [ms]
    days : int
        Bit d is set if day d of each week from hand-over is one of work; at least one is. [-]
    resurveys : bool
        Whether a visit to an orphan ends the lasting change that it is put down to. [-]
    shelf : Shelf
        Parts that visits take with them. [-]
    """

    alarm_ms: int
    repair: Law
    response: Law | None = None
    hears_orphans: bool = True
    crews: int = 0
    mends_site: bool = False
    opens_ms: int = 0
    closes_ms: int = DAY_MS
    days: int = EVERY_DAY
    resurveys: bool = False
    shelf: Shelf = Shelf()

    @property
    def hours(self) -> Hours:
        """What the functions below take to tell working time."""
        return self.opens_ms, self.closes_ms, self.days


def calls_of(site: Site) -> Calls | None:
    """Return how calls are answered; None where every failure has a visit of its own at once.

    Parameters
    ----------
    site : Site
        States upkeep and working hours. [-]
    """
    upkeep = site.upkeep
    if upkeep.repair is None:
        return None
    opens_ms, closes_ms, days = _hours(site)
    calls = Calls(
        alarm_ms=ms_from_h(upkeep.alarm_h),
        repair=lasting(upkeep.repair),
        response=None if upkeep.response is None else lasting(upkeep.response),
        hears_orphans=upkeep.alarm_on == "dark" and upkeep.alarm_h > 0,
        crews=upkeep.crews if isinstance(upkeep.crews, int) else 0,
        mends_site=upkeep.mends == "site",
        opens_ms=opens_ms,
        closes_ms=closes_ms,
        days=days,
        resurveys=upkeep.resurvey,
        shelf=_shelf(upkeep.spares),
    )
    is_plain = calls == Calls(0, calls.repair, hears_orphans=False)
    return None if is_plain else calls


def worked_ms(time_ms: int, opens_ms: int, closes_ms: int, days: int) -> int:
    """Working time from hand-over to a moment.

    Parameters
    ----------
    time_ms : int
        The moment. [ms]
    opens_ms, closes_ms : int
        Between which times of a day somebody works. [ms]
    days : int
        Bit d is set if day d of each week from hand-over is one of work. [-]
    """
    day = time_ms // DAY_MS
    weeks, rest = day // WEEK_DAYS, day % WEEK_DAYS
    n_days = weeks * _n_days(days) + _n_days(days & ((1 << rest) - 1))
    found_ms = n_days * (closes_ms - opens_ms)
    if days >> rest & 1:
        found_ms += min(max(time_ms - day * DAY_MS - opens_ms, 0), closes_ms - opens_ms)
    return found_ms


def moment_ms(worked: int, opens_ms: int, closes_ms: int, days: int) -> int:
    """First moment up to which somebody has worked for so long.

    Parameters
    ----------
    worked : int
        Working time from hand-over, above 0. [ms]
    opens_ms, closes_ms : int
        Between which times of a day somebody works. [ms]
    days : int
        Bit d is set if day d of each week from hand-over is one of work; at least one is. [-]
    """
    day_ms = closes_ms - opens_ms
    full, rest_ms = (worked - 1) // day_ms, (worked - 1) % day_ms + 1
    day, left = full // _n_days(days) * WEEK_DAYS, full % _n_days(days)
    while left > 0 or days >> day % WEEK_DAYS & 1 == 0:
        left -= days >> day % WEEK_DAYS & 1
        day += 1
    return day * DAY_MS + opens_ms + rest_ms


def after_work_ms(time_ms: int, work_ms: int, opens_ms: int, closes_ms: int, days: int) -> int:
    """Moment at which some work that begins at another moment is done; pauses count for nothing.

    Work of no length is done when somebody could begin with it.

    Parameters
    ----------
    time_ms : int
        When somebody is ready for it. [ms]
    work_ms : int
        Its length; ``NEVER_DONE_MS`` is never done. [ms]
    opens_ms, closes_ms : int
        Between which times of a day somebody works. [ms]
    days : int
        Bit d is set if day d of each week from hand-over is one of work. [-]
    """
    if work_ms >= NEVER_DONE_MS:
        return NEVER_DONE_MS
    before_ms = worked_ms(time_ms, opens_ms, closes_ms, days)
    if work_ms == 0:
        return moment_ms(before_ms + 1, opens_ms, closes_ms, days) - 1
    return moment_ms(before_ms + work_ms, opens_ms, closes_ms, days)


def _n_days(days: int) -> int:
    """Count the bits that are set."""
    n = 0
    for day in range(WEEK_DAYS):
        n += days >> day & 1
    return n
