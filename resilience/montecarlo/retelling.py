"""A few lifetimes told once more, for what tallies do not hold: who passed readings to whom, when.

A tally is all that a study of a million lifetimes can afford to keep. What links carry, how many
sensors are cut off at once and in which year are told from the first of the same lifetimes, so the
figures are those of the study on fewer lifetimes, and every one says how many.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import History, Lifetime, ParentChange
from resilience.montecarlo.estimates import Estimate, Ints
from resilience.montecarlo.figures import hours_estimate
from resilience.units import MS_PER_H, MS_PER_YEAR

MOST_RETOLD = 256  # lifetimes: what a year loses has bounds from 66 on
MOST_TOLD_WHOLE = 100  # devices; of more, moves are so many that the first year alone is told

Way = tuple[str, str]  # ids of the device that passes on and of its parent


@dataclass(frozen=True, slots=True)
class Retold:
    """What some lifetimes of one layout show from within.

    Parameters
    ----------
    n_lifetimes : int
        How many were told, the first ones of the study. [-]
    years : float
        How much of each, from hand-over on. [years]
    carried_share : mapping of Way to float
        Share of the time for which a device had another as its parent. [-]
    at_once_share : mapping of int to float
        Share of the time by number of sensors that were orphans at once; uncounted site outages
        count as none. [-]
    depth_share : mapping of int to float
        Share of the sensors' time by hop depth; the rest had no route. [-]
    hours_by_year : tuple of Estimate
        Orphan hours of a sensor, year after year; a last part of a year as if it were whole. [h]
    """

    n_lifetimes: int
    years: float
    carried_share: Mapping[Way, float]
    at_once_share: Mapping[int, float]
    depth_share: Mapping[int, float]
    hours_by_year: tuple[Estimate, ...]

    def above_share(self, n: int) -> float:
        """Share of the time for which at least so many sensors were orphans at once."""
        return sum(share for count, share in self.at_once_share.items() if count >= n)

    def to_json(self) -> dict[str, object]:
        """Return what was told under stable keys."""
        return {
            "lifetimes": self.n_lifetimes,
            "years": self.years,
            "links_carry": [
                {"device": device, "parent": parent, "share": share}
                for (device, parent), share in self.carried_share.items()
            ],
            "orphans_at_once": [
                {"orphans": n, "share": share} for n, share in self.at_once_share.items()
            ],
            "hop_depths": [{"hops": n, "share": share} for n, share in self.depth_share.items()],
            "orphan_hours_by_year": [one.to_json() for one in self.hours_by_year],
        }


def retold(stage: Stage, n_lifetimes: int, is_late: Callable[[], bool]) -> Retold:
    """Tell the first lifetimes of a layout once more.

    Parameters
    ----------
    stage : Stage
        The layout, ready to be played. [-]
    n_lifetimes : int
        How many were played, at least those of one building; of a great many the first few are
        told. [-]
    is_late : callable
        Whether to stop after the building at hand. [-]
    """
    stage, sensors = _shortened(stage), stage.layout.sensors
    horizon_ms = stage.rules.horizon_ms
    carried: Counter[Way] = Counter()
    counts: Counter[int] = Counter()
    depths: Counter[int] = Counter()
    by_year: list[list[int]] = []
    n_told = 0
    while n_told < min(n_lifetimes, MOST_RETOLD) and not (n_told and is_late()):
        numbers = range(n_told, n_told + LIFETIMES_PER_BUILDING)
        told = [stage.play(number, with_links=False) for number in numbers]
        for one in told:
            carried.update(carried_ms(one.history, horizon_ms))
            counts.update(one.record.count_ms)
            for times_ms in one.record.depth_ms.values():
                depths.update(times_ms)
        by_year.append(_by_year_ms(told, horizon_ms))
        n_told += len(told)
    whole_ms = n_told * horizon_ms
    counts[0] += whole_ms - counts.total()
    return Retold(
        n_told,
        horizon_ms / MS_PER_YEAR,
        {way: ms / whole_ms for way, ms in sorted(carried.items()) if ms},
        {n: ms / whole_ms for n, ms in sorted(counts.items()) if ms},
        {n: ms / (whole_ms * len(sensors)) for n, ms in sorted(depths.items()) if ms},
        tuple(_hours(np.array(by_year), len(sensors), horizon_ms)),
    )


def _shortened(stage: Stage) -> Stage:
    """Return the layout with lifetimes that are short enough to be told."""
    if len(stage.layout.devices) <= MOST_TOLD_WHOLE:
        return stage
    twin = stage.twin()
    twin.rules = replace(twin.rules, horizon_ms=min(MS_PER_YEAR, twin.rules.horizon_ms))
    return twin


def carried_ms(history: History, horizon_ms: int) -> Counter[Way]:
    """For how long each device had each of its parents in one lifetime.

    Parameters
    ----------
    history : History
        What happened. [-]
    horizon_ms : int
        Length of the lifetime. [ms]
    """
    found: Counter[Way] = Counter()
    since = {device: (0, parent) for device, parent in history.first_parents.items()}
    ends = (ParentChange(horizon_ms, device, None, None) for device in history.first_parents)
    for change in (*history.parents, *ends):
        start_ms, parent = since.get(change.device, (0, None))
        if parent is not None:
            found[change.device, parent] += change.time_ms - start_ms
        since[change.device] = (change.time_ms, change.new)
    return found


def _by_year_ms(told: list[Lifetime], horizon_ms: int) -> list[int]:
    """Orphan time of all sensors in each year, over the lifetimes of one building."""
    n_years = -(-horizon_ms // MS_PER_YEAR)
    found = [0] * n_years
    for one in told:
        for held in one.history.held:
            for year in range(held.start_ms // MS_PER_YEAR, n_years):
                begins_ms, ends_ms = year * MS_PER_YEAR, (year + 1) * MS_PER_YEAR
                found[year] += max(0, min(held.end_ms, ends_ms) - max(held.start_ms, begins_ms))
    return found


def _hours(by_year_ms: Ints, n_sensors: int, horizon_ms: int) -> Iterator[Estimate]:
    """Orphan hours of a sensor in each year; shape of what is added up (buildings, years)."""
    for year in range(by_year_ms.shape[1]):
        long_ms = min(MS_PER_YEAR, horizon_ms - year * MS_PER_YEAR)
        shares = by_year_ms[:, year] / (LIFETIMES_PER_BUILDING * n_sensors * long_ms)
        yield hours_estimate(shares * MS_PER_YEAR / MS_PER_H)
