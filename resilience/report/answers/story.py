"""One lifetime told in words and dates."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from resilience.building.structure import Building
from resilience.hazards.causes import SWING, Effect, described
from resilience.hazards.elements import Element
from resilience.lifetime.record import History, ParentChange, Spell
from resilience.lifetime.tracing import Trace
from resilience.report.pages import Bullets, Page, Table, Text, Tone, cautions, page, titled, words
from resilience.report.words import (
    counted,
    counted_strikes,
    listed,
    moment,
    span,
    visible,
    worded,
)
from resilience.units import h_from_ms, years_from_ms

MOST_STEPS = 60


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
    outage_begins: bool = False
    outage_ends: bool = False

    @property
    def n_device_events(self) -> int:
        """Devices that failed, or stopped measuring, or came back."""
        own = (Effect.DOWN, Effect.MUTE)
        return sum(one.effect in own for one in (*self.struck, *self.ended))

    @property
    def changes_nothing(self) -> bool:
        """Whether something came or went without any device noticing."""
        has_moved = self.moves or self.silenced or self.heard
        return not (has_moved or self.n_device_events or self.outage_begins or self.outage_ends)

    @property
    def weight(self) -> tuple[int, int, int, int]:
        """How telling the step is: outages, sensors lost or back, devices, then mere moves."""
        return (
            self.outage_begins + self.outage_ends,
            len(self.silenced) + len(self.heard),
            self.n_device_events,
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


def story_page(trace: Trace, is_full: bool) -> Page:
    """Return a lifetime as text: what it came to, then step by step.

    Parameters
    ----------
    trace : Trace
        The lifetime. [-]
    is_full : bool
        Whether every step is told, or the most telling ones. [-]
    """
    everything = steps(trace)
    eventful = [step for step in everything if not step.changes_nothing]
    told = eventful if is_full else _most_telling(eventful)
    title = (
        f"Lifetime {trace.number} of layout {visible(trace.layout.name)}, "
        f"{visible(trace.site.name)}"
    )
    left_out = [f"{counted(len(eventful), 'step')} changed something"]
    if len(told) < len(eventful):
        left_out.append(f"the {len(told)} most telling are shown (--full shows all)")
    n_idle = len(everything) - len(eventful)
    if n_idle:
        idle = counted(n_idle, "time")
        left_out.append(f"{idle} something got in or out of a path and no device noticed")
    return page(
        titled(title, f"Seed {trace.seed}. Dates count from hand-over, in UTC."),
        Bullets("What it came to", tuple(_summary(trace))),
        titled("What happened", "; ".join(left_out) + ".", _told(trace, told)),
        cautions(is_surveyed=not trace.site.radio.predict),
    )


def _most_telling(eventful: Sequence[Step]) -> list[Step]:
    if len(eventful) <= MOST_STEPS:
        return list(eventful)
    ranked = sorted(eventful, key=lambda step: (step.weight, -step.time_ms), reverse=True)
    return sorted(ranked[:MOST_STEPS], key=lambda step: step.time_ms)


def _summary(trace: Trace) -> list[str]:
    record = trace.record
    struck = Counter(absence.element.cause for absence in trace.history.absences)
    years = years_from_ms(trace.rules.horizon_ms)
    start, end = (moment(trace.site.hand_over, ms)[:10] for ms in (0, trace.rules.horizon_ms))
    strikes = [counted_strikes(n, described(cause)) for cause, n in sorted(struck.items())]
    sentences = [
        f"{years:.3g} years, {start} to {end}: "
        f"{listed(strikes) if strikes else 'nothing struck'}; "
        f"{counted(record.visits, 'repair visit')}."
    ]
    hours = sorted(((ms, id) for id, ms in record.orphan_ms.items() if ms), reverse=True)
    if hours:
        each = listed([f"{id} {span(h_from_ms(ms))}" for ms, id in hours])
        others = "" if len(hours) == len(record.orphan_ms) else "; the others never"
        sentences.append(f"Without a way to a gateway: {each}{others}.")
        sentences.append(_longest(trace, max(record.spells, key=lambda spell: spell.orphan_ms)))
    else:
        sentences.append("No sensor was ever without a way to a gateway.")
    missed_h = h_from_ms(sum(record.interrupted_ms.values()))
    n_moves = sum(record.reparentings.values())
    sentences.append(
        f"{counted(n_moves, 'move')} from one parent to another; readings missed while moving: "
        f"{span(missed_h)} in all."
    )
    sentences.append(_outages(trace))
    return sentences


def _longest(trace: Trace, spell: Spell) -> str:
    since = moment(trace.site.hand_over, spell.start_ms)
    cut = ", still silent at the end" if spell.is_cut else ""
    length = span(h_from_ms(spell.orphan_ms))
    return f"The longest such time: {visible(spell.sensor)}, {length} from {since}{cut}."


def _outages(trace: Trace) -> str:
    record = trace.record
    if not record.site_outages:
        return "There was always a gateway up."
    how = "counted as" if trace.rules.count_site_outages else "not counted as"
    return (
        f"No gateway was up on {counted(record.site_outages, 'occasion')}, for "
        f"{span(h_from_ms(record.site_outage_ms))} in all, {how} time without a way to a gateway."
    )


def _told(trace: Trace, told: Sequence[Step]) -> Table | Text:
    if not told:
        return Text("Nothing that any device noticed.")
    building = trace.site.building
    rows = [
        (Text(moment(trace.site.hand_over, step.time_ms), Tone.GOOD), telling(step, building))
        for step in told
    ]
    return Table(words("when", "what happened"), tuple(rows))


def telling(step: Step, building: Building) -> str:
    """Return one step as a paragraph.

    Parameters
    ----------
    step : Step
        What happened. [-]
    building : Building
        Where the doors and obstacles are drawn that may have changed. [-]
    """
    sentences = [_worded(one, building, begins=True) for one in step.struck]
    sentences += [_worded(one, building, begins=False) for one in step.ended]
    for device, parent in step.faded:
        sentences.append(worded(SWING.struck, (SWING.name, f"{device}~{parent}"), building))
    if step.outage_begins:
        sentences.append("No gateway is up: the whole site is cut off.")
    if step.outage_ends:
        sentences.append("The network has formed anew.")
    if step.silenced:
        sentences.append(f"{listed(step.silenced)} lost {_their(step.silenced)} way to a gateway.")
    if step.outage_begins or step.outage_ends:
        found = f"{listed(step.heard)} found a way again." if step.heard else ""
        return " ".join([*sentences, found]).strip()
    return " ".join([*sentences, *_moves(step)])


def _their(names: Sequence[str]) -> str:
    return "its" if len(names) == 1 else "their"


def _worded(element: Element, building: Building, *, begins: bool) -> str:
    cause = described(element.cause)
    return worded(cause.struck if begins else cause.ended, element.name, building)


def _moves(step: Step) -> list[str]:
    """What became of parents, devices with the same old and new parent together."""
    groups: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for move in step.moves:
        if move.new is not None and move.device in step.heard:
            groups["found a way again through", "", move.new].append(move.device)
        elif move.new is not None and move.old is not None:
            groups["moved from", f"{move.old} to ", move.new].append(move.device)
        elif move.new is not None:
            groups["joined", "", move.new].append(move.device)
    return [
        f"{listed(devices)} {did} {visible(old)}{visible(new)}."
        for (did, old, new), devices in groups.items()
    ]
