"""Whether everything that struck was watched for, once, and by somebody who could have seen it."""

from collections import defaultdict
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

from resilience.building.service.events import FAILURES, Strike, Watch, hours_between
from resilience.building.text.entries import Findings, Mark, quoted

MOST_TIMES = 3  # named in one message


def matched(
    watches: list[Watch], strikes: list[Strike], findings: Findings, unseen: Findings
) -> tuple[Watch, ...]:
    """Return the watches of one table, each with what struck whom it watched.

    Parameters
    ----------
    watches, strikes : list
        As read. [-]
    findings, unseen : Findings
        Where faults go, and where those of strikes that no row watched for. [-]
    """
    _check_watched_once(watches, findings)
    struck: dict[int, list[Strike]] = defaultdict(list)
    for strike in strikes:
        found = _watch_of(strike, watches, findings, unseen)
        if found is not None:
            struck[found].append(strike)
    found_with = [
        replace(watch, strikes=tuple(sorted(struck[n], key=lambda one: one.at.earliest)))
        for n, watch in enumerate(watches)
    ]
    for watch in found_with:
        _check_struck_once(watch, findings)
        _check_enough(watch, findings)
    return tuple(found_with)


def _watch_of(
    strike: Strike, watches: list[Watch], findings: Findings, unseen: Findings
) -> int | None:
    """Return the number of the watch that saw a strike; a fault and None if none did."""
    mine = [(n, watch) for n, watch in enumerate(watches) if _could_see(watch, strike)]
    if not mine:
        site = f" of site {quoted(strike.site)}" if strike.site else ""
        whom = f" and {strike.device}" if strike.device else ""
        group = f" and group {strike.group}" if strike.group else ""
        wanted = (
            f"expected a row with what watched{site} for {strike.cause}{whom}{group}: how often it "
            "strikes can be told only of time that was watched"
        )
        _fault(
            strike.mark, "column cause", f"{strike.cause} that nobody watched for", wanted, unseen
        )
        return None
    during = [(n, watch) for n, watch in mine if _is_during(strike, watch)]
    if not during:
        times = ", ".join(_time_of(watch) for _, watch in mine[:MOST_TIMES])
        wanted = f"expected a time that was watched: {times}"
        _fault(strike.mark, "column from", f"{strike.at.earliest:%Y-%m-%d}", wanted, unseen)
        return None
    # Of a strike that names no device a row that names one tells only where no other row does.
    nearest = [one for one in during if bool(one[1].device) == bool(strike.device)] or during
    ages = {watch.new_since for _, watch in nearest}
    if strike.cause in FAILURES and len(ages) > 1:
        lines = " and ".join(str(watch.mark.line) for _, watch in nearest)
        wanted = f"expected column group here and there: lines {lines} watch devices of other ages"
        _fault(strike.mark, "column group", "a failure of an unknown age", wanted, findings)
    return nearest[0][0]


def _could_see(watch: Watch, strike: Strike) -> bool:
    return (
        strike.cause in watch.causes
        and watch.site.casefold() == strike.site.casefold()
        and (not strike.device or watch.device in ("", strike.device))
        and (not strike.group or watch.group == strike.group)
    )


def _is_during(strike: Strike, watch: Watch) -> bool:
    return strike.at.latest > watch.over.earliest and strike.at.earliest < watch.over.latest


def _time_of(watch: Watch) -> str:
    last = watch.over.latest - timedelta(seconds=1)
    return f"{watch.over.earliest:%Y-%m-%d} to {last:%Y-%m-%d} (line {watch.mark.line})"


def _check_watched_once(watches: list[Watch], findings: Findings) -> None:
    """Refuse time that would count twice: the same rows, or one device in two at once."""
    for n, one in enumerate(watches):
        for other in watches[:n]:
            is_same = (one.site.casefold(), one.group, one.device) == (
                other.site.casefold(),
                other.group,
                other.device,
            )
            shared = [cause for cause in one.causes if cause in other.causes]
            counts_twice = bool(one.device or one.group) or one.over == other.over
            if is_same and shared and counts_twice and _overlap(one, other):
                wanted = (
                    f"expected each time once: line {other.mark.line} watches the same for "
                    f"{shared[0]}; name another group if they are others"
                )
                _fault(one.mark, "", "time that is watched already", wanted, findings)
                break


def _overlap(one: Watch, other: Watch) -> bool:
    first = max(one.over.earliest, other.over.earliest)
    # Two watches that meet on one day may share it.
    return min(one.over.latest, other.over.latest) - first > timedelta(days=1)


def _check_struck_once(watch: Watch, findings: Findings) -> None:
    """Refuse what strikes somebody while the same still lasts, or in a second row."""
    by_target: dict[tuple[str, str], list[Strike]] = defaultdict(list)
    for strike in watch.strikes:
        if strike.device or watch.n_watched == 1:
            by_target[strike.cause, strike.device or watch.device].append(strike)
    for same in by_target.values():
        for earlier, later in pairwise(same):
            since_h = hours_between(earlier.at.earliest, later.at.latest)
            is_on = earlier.lasted is not None and earlier.lasted.least_h > since_h
            has_hour = later.at.earliest == later.at.latest
            is_again = later.at == earlier.at and (has_hour or later.cause in FAILURES)
            if is_on or is_again:
                wanted = f"expected it once, and behind the end of that in line {earlier.mark.line}"
                whom = f" of {later.device}" if later.device else ""
                _fault(later.mark, "column from", f"{later.cause}{whom} again", wanted, findings)


def _check_enough(watch: Watch, findings: Findings) -> None:
    """Refuse more devices that failed than were watched."""
    for cause in FAILURES:
        names = [one.device for one in watch.of_cause(cause)]
        n_named = len({name for name in names if name})
        if n_named > watch.n_watched:
            wanted = f"expected n_watched to be at least {n_named}, as so many of them failed"
            _fault(watch.mark, "column n_watched", str(watch.n_watched), wanted, findings)


def _fault(mark: Mark, item: str, found: str, wanted: str, findings: Findings) -> None:
    findings.fault(Mark(mark.file, mark.line, item), found, wanted)
