"""What a history holds for one cause: counts, time at risk, ages and durations."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from resilience.building.service.events import History, Lasted, Strike, Watch, hours_between
from resilience.units import HOURS_PER_YEAR

AT_ONCE_H = 12.0  # age of what failed on its first day: nobody wrote down the hour


@dataclass(frozen=True, slots=True)
class Lives:
    """Devices whose age is known, while they were watched.

    Parameters
    ----------
    spans_h : dict of (float, float) to int
        Age at the beginning and at the end of the watch, or at the failure, and how many. [h]
    failed_h : tuple of float
        Ages at which some failed. [h]
    """

    spans_h: dict[tuple[float, float], int]
    failed_h: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Strikes:
    """How often something struck in how much time.

    Parameters
    ----------
    n : int
        Strikes. [-]
    at_risk_years : float
        Time watched, less the time it was away. [years]
    """

    n: int
    at_risk_years: float


def watches_for(history: History, cause: str) -> list[Watch]:
    """Return the watches that would have noted a cause."""
    return [watch for watch in history.watches if cause in watch.causes]


def strikes_of(watches: Iterable[Watch], cause: str) -> Strikes:
    """Return counts and time at risk of some watches, for one cause.

    Parameters
    ----------
    watches : iterable of Watch
        Those that would have noted it. [-]
    cause : str
        Its name. [-]
    """
    n, at_risk_h = 0, 0.0
    for watch in watches:
        struck = watch.of_cause(cause)
        n += len(struck)
        away_h = sum(_away_h(one, watch) for one in struck)
        watched_h = watch.n_watched * watch.each_h
        # Overlapping outages of things that nobody named cannot take more than there is.
        at_risk_h += max(watched_h - away_h, watched_h / 1000)
    return Strikes(n, at_risk_h / HOURS_PER_YEAR)


def _away_h(strike: Strike, watch: Watch) -> float:
    """Time of the watch that a strike took away."""
    if strike.lasted is None:
        return 0.0
    left_h = max(0.0, hours_between(strike.at.earliest, watch.over.latest))
    # What was not over at the last look may have ended later than the watch, never before.
    return min(strike.lasted.likely_h, left_h) if strike.lasted.has_ended else left_h


def lives_of(watches: Iterable[Watch], cause: str) -> Lives:
    """Return the ages through which devices were watched, and those at which some failed.

    A device that failed is as new when it is mended, at once where nobody wrote down when.

    Parameters
    ----------
    watches : iterable of Watch
        Those of devices of known age. [-]
    cause : str
        Name of the cause. [-]
    """
    spans_h: Counter[tuple[float, float]] = Counter()
    failed_h: list[float] = []
    for watch in watches:
        struck = watch.of_cause(cause)
        whom = [_target(n, one, watch) for n, one in enumerate(struck)]
        for target in dict.fromkeys(whom):
            mine = [one for one, other in zip(struck, whom, strict=True) if other == target]
            _renewals(mine, watch, spans_h, failed_h)
        n_whole = watch.n_watched - len(set(whom))
        if n_whole > 0:
            spans_h[_ages_h(watch)] += n_whole
    return Lives(dict(spans_h), tuple(failed_h))


def _target(n: int, strike: Strike, watch: Watch) -> str:
    """Whom it struck; of many alike, whom nobody named, each time another one."""
    if watch.n_watched == 1:
        return watch.device
    return strike.device or f"{strike.mark.line}, {n}"


def _ages_h(watch: Watch) -> tuple[float, float]:
    assert watch.new_since is not None
    return (
        hours_between(watch.new_since, watch.over.earliest),
        hours_between(watch.new_since, watch.over.latest),
    )


def _renewals(
    strikes: list[Strike],
    watch: Watch,
    spans_h: Counter[tuple[float, float]],
    failed_h: list[float],
) -> None:
    """Add the lives of one device that failed, one after the other."""
    assert watch.new_since is not None
    new, seen_from = watch.new_since, watch.over.earliest
    for strike in strikes:
        at = strike.at.earliest + (strike.at.latest - strike.at.earliest) / 2
        age_h = max(AT_ONCE_H, hours_between(new, at))
        begun_h = min(hours_between(new, seen_from), age_h)
        spans_h[begun_h, age_h] += 1
        failed_h.append(age_h)
        if strike.lasted is not None and not strike.lasted.has_ended:
            return
        new = seen_from = _mended(at, strike.lasted)
    last_h = hours_between(new, watch.over.latest)
    if last_h > 0:
        spans_h[0.0, last_h] += 1


def _mended(at: datetime, lasted: Lasted | None) -> datetime:
    return at if lasted is None else at + timedelta(hours=lasted.likely_h)


def durations_of(history: History, cause: str) -> list[Lasted]:
    """Return how long outages by one cause, or repairs after it, took.

    Parameters
    ----------
    history : History
        What happened. [-]
    cause : str
        Name of the cause. [-]
    """
    struck = [one for watch in history.watches for one in watch.of_cause(cause)]
    took = [one.lasted for one in struck if one.lasted is not None]
    return took + [one.lasted for one in history.repairs if one.of == cause]


def of_known_age(watches: Iterable[Watch], cause: str, known: bool) -> list[Watch]:
    """Return those watches of which it is known, or not, how old the devices were that failed.

    Where more failed than there are, without a name, some failed again, and nobody knows which.

    Parameters
    ----------
    watches : iterable of Watch
        Those that would have noted it. [-]
    cause : str
        Name of the cause. [-]
    known : bool
        Which of them. [-]
    """
    return [watch for watch in watches if _knows_age(watch, cause) == known]


def _knows_age(watch: Watch, cause: str) -> bool:
    whom = {_target(n, one, watch) for n, one in enumerate(watch.of_cause(cause))}
    return watch.new_since is not None and len(whom) <= watch.n_watched
