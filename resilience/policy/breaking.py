"""What breaks a promise: the first lifetimes that broke it, told once more, and what was away."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence

from resilience.building.service.policy import Lost, Policy
from resilience.hazards.causes import Effect
from resilience.lifetime.mesh import Rules
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import History, Holder
from resilience.units import ms_from_h

Span = tuple[int, int]  # start and end on the promise clock, in ms
MOST_TOLD = 12  # lifetimes


def excess_ms(stage: Stage, number: int, policy: Policy) -> Counter[Holder]:
    """What one lifetime lost in excess of a promise, by what it is put down to.

    Parameters
    ----------
    stage : Stage
        The layout, ready to be played. [-]
    number : int
        A lifetime that broke the promise. [-]
    policy : Policy
        What is promised. [-]
    """
    max_count = policy.max_count(len(stage.layout.sensors))
    parts: Counter[Holder] = Counter()
    history = stage.play(number).history
    lost = dict(_lost(history, stage.rules, policy.count))
    beyond = (max_count, ms_from_h(policy.longer_than_h), policy.per_sensor)
    for start, end in _merged(excesses(lost.values(), *beyond)):
        for spans in lost.values():
            for first, last, holder in spans:
                parts[holder] += max(0, min(last, end) - max(first, start))
    return +parts


def shares_of(parts: Counter[Holder]) -> dict[Holder, float]:
    """Return parts of a whole, the largest first; they add up to 1.

    Parameters
    ----------
    parts : Counter of Holder
        None is below 0. [ms]
    """
    total = parts.total()
    return {holder: part / total for holder, part in parts.most_common() if part}


Told = tuple[int, int, Holder]  # a span, and what it is put down to


def _lost(history: History, rules: Rules, count: Lost) -> Iterator[tuple[str, list[Told]]]:
    """Yield each sensor that was ever lost, and when, with what that is put down to."""
    found: dict[str, list[Told]] = defaultdict(list)
    for one in history.held:
        if not (one.is_early and rules.watch.from_first_route):
            found[one.sensor].append((one.start_ms, one.end_ms, one.holder))
    if count is Lost.DARK:
        starts = _first_routes(history, rules)
        for absence in history.absences:
            if absence.element.effect in {Effect.DOWN, Effect.MUTE}:
                end = rules.horizon_ms if absence.end_ms is None else absence.end_ms
                for target in absence.element.targets:
                    start = max(absence.start_ms, starts.get(target, end))
                    first, last = (_promise(time, history, rules) for time in (start, end))
                    if first < last:
                        found[target].append((first, last, absence.element.name))
    yield from found.items()


def _first_routes(history: History, rules: Rules) -> dict[str, int]:
    """When each device counts from: its first route, or hand-over; none where that never comes."""
    if not rules.watch.from_first_route:
        return dict.fromkeys(history.first_parents, 0)
    found = {id: 0 for id, parent in history.first_parents.items() if parent is not None}
    for change in history.parents:
        if change.new is not None:
            found.setdefault(change.device, change.time_ms)
    return found


def _promise(time_ms: int, history: History, rules: Rules) -> int:
    """Wall time less the uncounted site outages before it."""
    if rules.count_site_outages:
        return time_ms
    return time_ms - sum(
        min(end, time_ms) - start for start, end in history.outages_ms if start < time_ms
    )


def excesses(
    lost: Iterable[Sequence[Told]], max_count: int, duration_ms: int, per_sensor: bool = False
) -> Iterator[Span]:
    """Yield when more than so many sensors were lost at once without a break, for long enough.

    Counted each by itself, one such time may begin before another is over.

    Parameters
    ----------
    lost : iterable of sequences of Told
        When each sensor was lost; its spans may meet and overlap. [ms]
    max_count : int
        So many may be lost at once. [-]
    duration_ms : int
        Only what lasts strictly longer is told. [ms]
    per_sensor : bool
        Whether it has to last so long for each of them; else they may be lost by turns. [-]
    """
    alone_ms = duration_ms if per_sensor else 0  # before a sensor counts
    steps: Counter[int] = Counter()
    for spans in lost:
        for start, end in _merged(spans):
            if end - start > alone_ms:
                steps[start + alone_ms] += 1
                steps[end] -= 1
    n, since = 0, None
    for time in sorted(steps):
        n += steps[time]
        if n > max_count and since is None:
            since = time
        elif n <= max_count and since is not None:
            if time - since > duration_ms - alone_ms:
                yield since - alone_ms, time
            since = None


def _merged(spans: Iterable[Told | Span]) -> Iterator[Span]:
    """Yield when any of some spans lasted."""
    reached: int | None = None
    first = 0
    for start, end, *_ in sorted(spans):
        if reached is None or start > reached:
            if reached is not None:
                yield first, reached
            first, reached = start, end
        reached = max(reached, end)
    if reached is not None:
        yield first, reached
