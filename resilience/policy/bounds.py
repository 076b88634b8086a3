"""How often each promise of a grid of durations and counts is broken, at least and at most.

The share that is bounded is that of lifetimes that break a promise; a building draw is worth the
mean of its two. The duration of the policy gets half of the miss, the others share the rest, so
that all bounds of a layout hold together with its verdict.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from resilience.building.service.policy import Policy, Start
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.lifetime.picking import Bools
from resilience.lifetime.record import DURATIONS_H, Watch
from resilience.lifetime.tally import Tally
from resilience.montecarlo.estimates import LEVEL, SHARE, Estimate, Floats, Ints
from resilience.montecarlo.sequences import BETTING, BOLD_BET_SHARE, betting_sequence
from resilience.montecarlo.study import Study
from resilience.units import ms_from_h


def level_shares(n_layouts: int) -> tuple[float, float]:
    """Levels of the policy's own duration and of each other, all together at the usual one.

    Parameters
    ----------
    n_layouts : int
        Layouts that are judged. [-]
    """
    half_miss = (1 - LEVEL) / max(1, n_layouts) / 2
    return 1 - half_miss, 1 - half_miss / (len(DURATIONS_H) - 1)


def most_beyond(study: Study, counted: str, duration_ms: int) -> Ints:
    """Largest numbers lost at once for longer than a duration, shape (lifetimes,).

    Parameters
    ----------
    study : Study
        Lifetimes of a layout. [-]
    counted : str
        One of ``record.COUNTED``. [-]
    duration_ms : int
        One of those that the study watches. [ms]
    """
    place = study.watch.durations_ms.index(duration_ms)
    return study.tally.column(f"most_{counted}_beyond_{place}")


def breaks(tally: Tally, policy: Policy, n_sensors: int) -> Bools:
    """Which lifetimes break a promise, shape (lifetimes,).

    Parameters
    ----------
    tally : Tally
        Lifetimes of a layout that were watched for the promise. [-]
    policy : Policy
        What is promised. [-]
    n_sensors : int
        Sensors of the layout. [-]
    """
    place = watch_of(policy).durations_ms.index(ms_from_h(policy.longer_than_h))
    most = tally.column(f"most_{policy.count.value}_beyond_{place}")
    found: Bools = most > policy.max_count(n_sensors)
    return found


def watch_of(policy: Policy) -> Watch:
    """Return what lifetimes have to tell so that a policy can be judged.

    Parameters
    ----------
    policy : Policy
        What is promised. [-]
    """
    from_first_route = policy.start is Start.FIRST_ROUTE
    return Watch.of(ms_from_h(policy.longer_than_h), from_first_route, policy.per_sensor)


def broken_share(most: Ints, max_count: int, level_share: float) -> Estimate:
    """Share of lifetimes in which more than so many were lost at once.

    Parameters
    ----------
    most : Ints
        Largest numbers lost at once for longer than the duration, shape (lifetimes,). [-]
    max_count : int
        So many may be lost. [-]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    return betting_sequence(per_building(most > max_count), SHARE, level_share, BOLD_BET_SHARE)


def per_building(is_broken: Bools) -> Floats:
    """Share of the lifetimes of each building draw in which something holds, shape (buildings,)."""
    means: Floats = is_broken.reshape(-1, LIFETIMES_PER_BUILDING).mean(axis=1)
    return means


@dataclass(frozen=True)
class Bounds:
    """Bounds for every duration that a study watches and every count.

    They rise neither with the duration nor with the count, as the truth does not.

    Parameters
    ----------
    study : Study
        Lifetimes of a layout. [-]
    counted : str
        One of ``record.COUNTED``. [-]
    own_ms : int
        The policy's duration; one of those that the study watches. [ms]
    n_layouts : int
        Layouts that are judged together. [-]
    """

    study: Study
    counted: str
    own_ms: int
    n_layouts: int

    def _level_share(self, duration_ms: int) -> float:
        own, other = level_shares(self.n_layouts)
        return own if duration_ms == self.own_ms else other

    def of_duration(self, duration_ms: int) -> tuple[Floats, Floats]:
        """Lower and upper bounds by count, from one duration alone, shape (sensors,) each.

        Upper ones are as high as any of a larger count. So the least count at which one is low
        enough was reached from above, test after test, and errs no more often than one of them.

        Parameters
        ----------
        duration_ms : int
            One of those that the study watches. [ms]
        """
        most = most_beyond(self.study, self.counted, duration_ms)
        level_share = self._level_share(duration_ms)
        low, high = np.zeros((2, len(self.study.sensors)))
        seen = np.unique(most)
        for k in range(len(low)):
            if k and k not in seen:  # as many lifetimes lie above it as above the one before
                low[k], high[k] = low[k - 1], high[k - 1]
                continue
            found = broken_share(most, k, level_share)
            low[k], high[k] = found.low, found.high
        return np.minimum.accumulate(low), np.maximum.accumulate(high[::-1])[::-1]

    @cached_property
    def _all(self) -> tuple[Floats, Floats]:
        """Lower and upper bounds, shape (durations, sensors) each."""
        lows, highs = zip(*map(self.of_duration, self.study.watch.durations_ms), strict=True)
        # What lasts longer than one duration also lasts longer than every shorter one.
        low = np.maximum.accumulate(np.array(lows)[::-1], axis=0)[::-1]
        return low, np.minimum.accumulate(np.array(highs), axis=0)

    def of(self, duration_ms: int) -> tuple[Floats, Floats]:
        """Lower and upper bounds by count, from all durations together, shape (sensors,) each.

        Parameters
        ----------
        duration_ms : int
            One of those that the study watches. [ms]
        """
        place = self.study.watch.durations_ms.index(duration_ms)
        low, high = self._all
        return low[place], high[place]

    def estimate(self, max_count: int) -> Estimate:
        """Share of lifetimes that break the promise of a count and the policy's own duration.

        Parameters
        ----------
        max_count : int
            So many may be lost. [-]
        """
        level_share = self._level_share(self.own_ms)
        most = most_beyond(self.study, self.counted, self.own_ms)
        mean = float((most > max_count).mean())
        if max_count >= len(self.study.sensors):  # more than all cannot be lost
            return Estimate(0.0, 0.0, 0.0, level_share, BETTING)
        low, high = (float(bounds[max_count]) for bounds in self.of(self.own_ms))
        return Estimate(mean, min(low, mean), max(high, mean), level_share, BETTING)
