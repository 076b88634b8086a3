"""What happened in one lifetime, gathered into steps, and steps into runs of like ones."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.lifetime.record import Call, History, ParentChange
from resilience.lifetime.tracing import Trace

OWN_EFFECTS = (Effect.DOWN, Effect.MUTE)  # of a device by itself


@dataclass(slots=True)
class Step:
    """All that happened in one millisecond.

    Parameters
    ----------
    time_ms : int
        From hand-over. [ms]
    struck, ended : list of Element
        What went away and what came back. [-]
    silenced, heard : list of str
        Sensors whose time without a route began; ended with a route. [-]
    moves : list of ParentChange
        Devices with another parent than before. [-]
    faded : list of (str, str)
        Devices whose branch to their parent swung out of use, with that parent. [-]
    opened, left, closed : list of Call
        Calls that were opened, that a crew set out for, that were over. [-]
    outage_begins, outage_ends : bool
        Whether the last gateway went, or the network formed anew. [-]
    """

    time_ms: int
    struck: list[Element] = field(default_factory=list)
    ended: list[Element] = field(default_factory=list)
    silenced: list[str] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    moves: list[ParentChange] = field(default_factory=list)
    faded: list[tuple[str, str]] = field(default_factory=list)
    opened: list[Call] = field(default_factory=list)
    left: list[Call] = field(default_factory=list)
    closed: list[Call] = field(default_factory=list)
    outage_begins: bool = False
    outage_ends: bool = False

    @property
    def n_device_events(self) -> int:
        """Devices that failed, stopped measuring or came back, were called for or visited."""
        n_own = sum(one.effect in OWN_EFFECTS for one in (*self.struck, *self.ended))
        return n_own + len(self.opened) + len(self.left) + len(self.closed)

    @property
    def changes_nothing(self) -> bool:
        """Whether something came or went without any device noticing."""
        has_moved = self.moves or self.silenced or self.heard
        return not (has_moved or self.n_device_events or self.outage_begins or self.outage_ends)

    @property
    def is_of_moves(self) -> bool:
        """Whether devices moved to another parent and nothing else came of it."""
        has_outage = self.outage_begins or self.outage_ends
        return not (self.silenced or self.heard or self.n_device_events or has_outage)

    def is_of_outage(self, gateways: frozenset[str], is_out: bool) -> bool:
        """Whether it is part of a site outage, and tells of nothing else.

        Parameters
        ----------
        gateways : frozenset of str
            Ids of the gateways. [-]
        is_out : bool
            Whether no gateway is up after it. [-]
        """
        own = [one for one in (*self.struck, *self.ended) if one.effect in OWN_EFFECTS]
        is_other = any(not gateways.issuperset(one.targets) for one in own)
        is_other = is_other or bool(self.opened or self.left or self.closed)
        has_outage = is_out or self.outage_ends
        is_lost = self.silenced and not self.outage_begins
        is_found = self.heard and not self.outage_ends
        return has_outage and not (is_lost or is_found or is_other)

    @property
    def weight(self) -> tuple[int, int, int, int]:
        """How telling the step is: sensors lost or back, devices, outages, then mere moves."""
        return (
            len(self.silenced) + len(self.heard),
            self.n_device_events,
            self.outage_begins + self.outage_ends,
            len(self.moves),
        )


def steps(trace: Trace) -> tuple[Step, ...]:
    """Return all that happened, gathered by its millisecond, in order.

    Parameters
    ----------
    trace : Trace
        The lifetime. [-]
    """
    found: dict[int, Step] = {}

    def at(time_ms: int) -> Step:
        return found.setdefault(time_ms, Step(time_ms))

    horizon_ms = trace.rules.horizon_ms
    for absence in trace.history.absences:
        at(absence.start_ms).struck.append(absence.element)
        if absence.end_ms is not None and absence.end_ms < horizon_ms:
            at(absence.end_ms).ended.append(absence.element)
    for change in trace.history.parents:
        at(change.time_ms).moves.append(change)
    for change, parent in _faded(trace.history):
        at(change.time_ms).faded.append((change.device, parent))
    for call in trace.history.calls:
        at(call.opened_ms).opened.append(call)
        if call.left_ms is not None:
            at(call.left_ms).left.append(call)
        if call.closed_ms is not None:
            at(call.closed_ms).closed.append(call)
    for start_ms, end_ms in trace.history.outages_ms:
        at(start_ms).outage_begins = True
        if end_ms < horizon_ms:
            at(end_ms).outage_ends = True
    for spell in trace.record.spells:
        at(spell.start_ms).silenced.append(spell.sensor)
        if not spell.is_cut and spell.end_ms < horizon_ms:
            at(spell.end_ms).heard.append(spell.sensor)
    return tuple(_found_route(step) for _, step in sorted(found.items()))


def _faded(history: History) -> Iterator[tuple[ParentChange, str]]:
    """Yield what left its parent because the path between them faded, with that parent."""
    faded = set(history.faded)
    for change in history.parents:
        if change.old is not None:
            a, b = sorted((change.device, change.old))
            if (change.time_ms, f"{a}~{b}") in faded:
                yield change, change.old


def _found_route(step: Step) -> Step:
    """Keep as heard only those whose spell ended because they have a parent again."""
    down = {target for one in step.struck if one.effect is Effect.DOWN for target in one.targets}
    step.heard = sorted(set(step.heard) - down)
    step.silenced.sort()
    return step


@dataclass(frozen=True, slots=True)
class Run:
    """Steps in a row told together: one by itself, several alike, or one thing over and over.

    Parameters
    ----------
    steps : tuple of Step
        At least one, in order of time. [-]
    is_alike : bool
        Whether they are moves from one parent to another and site outages, and no more. [-]
    """

    steps: tuple[Step, ...]
    is_alike: bool

    @property
    def weight(self) -> tuple[int, int, int, int]:
        """How telling it is: runs of like steps come last."""
        return (0, 0, 0, len(self.steps)) if self.is_alike else self.steps[0].weight

    @property
    def loss(self) -> tuple[object, ...]:
        """Who lost the way and over which paths; empty unless that is all that happened."""
        first = self.steps[0]
        if self.is_alike or not first.silenced or first.n_device_events or first.outage_begins:
            return ()
        return (*first.silenced, *first.faded, *(one.name for one in first.struck))

    @property
    def is_return(self) -> bool:
        """Whether sensors found a way again and nothing else happened."""
        first = self.steps[0]
        is_more = first.silenced or first.n_device_events or first.outage_ends
        return bool(first.heard and not is_more)


def runs(told: Sequence[Step], gateways: frozenset[str]) -> tuple[Run, ...]:
    """Gather steps that are alike and follow each other.

    Parameters
    ----------
    told : sequence of Step
        Those in which something changed, in order. [-]
    gateways : frozenset of str
        Ids of the gateways. [-]
    """
    found: list[Run] = []
    is_out = False
    for step in told:
        is_out = (is_out or step.outage_begins) and not step.outage_ends
        is_alike = step.is_of_outage(gateways, is_out) or step.is_of_moves
        if is_alike and found and found[-1].is_alike:
            found[-1] = Run((*found[-1].steps, step), is_alike=True)
        else:
            found.append(Run((step,), is_alike))
    return tuple(_over_and_over(found))


def _over_and_over(found: Sequence[Run]) -> Iterator[Run]:
    """Join what follows each other if the same sensors lose the same way and find it again."""
    at = 0
    while at < len(found):
        loss, last, n_losses = found[at].loss, at, 1
        for place in range(at + 1, len(found) if loss else 0):
            run = found[place]
            if not (run.is_alike or run.is_return or run.loss == loss):
                break
            n_losses += run.loss == loss
            last = last if run.is_alike else place
        last = last if n_losses > 1 else at
        yield Run(
            tuple(step for run in found[at : last + 1] for step in run.steps), found[at].is_alike
        )
        at = last + 1
