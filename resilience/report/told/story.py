"""One lifetime told in words and dates."""

from collections import Counter, defaultdict
from collections.abc import Sequence

from resilience.building.structure import Building
from resilience.hazards.causes import SWING, Effect, described
from resilience.hazards.elements import Element
from resilience.lifetime.picking import Pick, Picked
from resilience.lifetime.record import Absence, Holder, Spell
from resilience.lifetime.tracing import Trace
from resilience.report.evidence import evidence_block
from resilience.report.pages import (
    Block,
    Bullets,
    Page,
    Row,
    Table,
    Text,
    Tone,
    cautions,
    figures,
    page,
    titled,
    words,
)
from resilience.report.told.steps import OWN_EFFECTS, Run, Step, runs, steps
from resilience.report.told.visits import told_calls
from resilience.report.words import counted, counted_strikes, listed, moment, span, visible, worded
from resilience.units import h_from_ms, years_from_ms

MOST_STEPS = 60  # lines
MOST_ROWS = 12
MOST_IN_A_ROW = 6  # sensors


def story_page(trace: Trace, is_full: bool, chosen: Picked | None = None) -> Page:
    """Return a lifetime as text: what it came to, what counts, then step by step.

    Parameters
    ----------
    trace : Trace
        The lifetime. [-]
    is_full : bool
        Whether every step is told, or the most telling ones and runs of like ones as one. [-]
    chosen : Picked or None
        Why this lifetime was picked; None where somebody named it. [-]
    """
    title = f"Lifetime {trace.number} of layout {trace.layout.name}, {trace.site.name}"
    since = "today" if trace.site.standing.today else "hand-over"
    note = f"Seed {trace.seed}. Dates count from {since}, in local standard time."
    return page(
        titled(title, f"{note}{_why(chosen)}"),
        Bullets("What it came to", tuple(_summary(trace))),
        _cut_off(trace),
        _away(trace),
        _happened(trace, is_full),
        evidence_block(trace.site, is_played=True),
        cautions(is_surveyed=not trace.site.radio.predict),
    )


def _why(chosen: Picked | None) -> str:
    if chosen is None:
        return ""
    hours = f"{span(chosen.orphan_h)} over all sensors" if chosen.orphan_h else "none at all"
    n_worse = chosen.n_lifetimes - chosen.place
    stands = {
        Pick.TYPICAL: "the middle one by time without a way to a gateway",
        Pick.BAD: f"{n_worse} are as bad or worse",
        Pick.FIRST_ORPHAN: "the first in which a sensor has no way to a gateway",
        Pick.BREACH: "the first that breaks the promise",
    }[chosen.pick]
    return (
        f" Picked as {chosen.pick.value} among the first {chosen.n_lifetimes} lifetimes: {stands} "
        f"({hours}). --lifetime {chosen.number} shows the same."
    )


def _cut_off(trace: Trace) -> Block:
    """Every time for which sensors had no way, those alike on one line, the longest kept."""
    together: dict[int, list[Spell]] = defaultdict(list)
    for spell in trace.record.spells:
        together[spell.start_ms].append(spell)
    at_step = {step.time_ms: step for step in steps(trace)}
    alike: dict[tuple[str, str], list[Spell]] = defaultdict(list)
    for at, spells in sorted(together.items()):
        who = _who([one.sensor for one in spells], len(trace.record.orphan_ms))
        alike[who, _reason(trace, at_step[at])] += spells
    longest = sorted(alike, key=lambda key: -sum(one.orphan_ms for one in alike[key]))
    kept = set(longest[:MOST_ROWS])
    rows = tuple(_cut_off_row(trace, *key, alike[key]) for key in alike if key in kept)
    if not rows:
        return ()
    n_more = len(alike) - len(rows)
    note = f"The {len(rows)} that weigh most; {n_more} more are shorter." if n_more else ""
    columns = (*words("first"), *figures("times", "for"), *words("sensors", "as"))
    return titled("Without a way to a gateway", note, Table(columns, rows))


def _who(sensors: Sequence[str], n_sensors: int) -> str:
    is_all = MOST_IN_A_ROW < n_sensors == len(sensors)
    return f"all {n_sensors} sensors" if is_all else listed(sorted(sensors), MOST_IN_A_ROW)


def _cut_off_row(trace: Trace, who: str, reason: str, spells: Sequence[Spell]) -> Row:
    lengths = list(dict.fromkeys(_length(one) for one in sorted(spells, key=_by_length)))
    return (
        Text(moment(trace.site.begins, spells[0].start_ms), Tone.GOOD),
        str(len({one.start_ms for one in spells})),
        lengths[0] if len(lengths) == 1 else f"{lengths[0]} to {lengths[-1]}",
        who,
        reason,
    )


def _by_length(spell: Spell) -> int:
    return spell.orphan_ms


def _length(spell: Spell) -> str:
    return f"{span(h_from_ms(spell.orphan_ms))}{' or more' if spell.is_cut else ''}"


def _reason(trace: Trace, step: Step) -> str:
    """What happened in the millisecond in which sensors lost their way, and who was away then."""
    told = _causes(step, trace.site.building)
    if step.outage_begins:
        told.append("No gateway is up.")
    away = sorted(
        {
            target
            for one in trace.history.absences
            if one.element.effect is Effect.DOWN
            and one.start_ms < step.time_ms
            and (one.end_ms is None or step.time_ms < one.end_ms)
            for target in one.element.targets
        }
    )
    if away:
        told.append(f"Away then: {listed(away)}.")
    return " ".join(told) or ("As drawn." if step.time_ms == 0 else "A device was missed.")


def _away(trace: Trace) -> Block:
    """Devices that failed or were without power, each cause of each device on one line."""
    absences: dict[Holder, list[Absence]] = defaultdict(list)
    for one in trace.history.absences:
        if one.element.effect in OWN_EFFECTS:
            absences[one.element.name].append(one)
    if not absences:
        return ()
    rows = []
    for each in list(absences.values())[:MOST_ROWS]:
        first = each[0]
        end_ms = trace.rules.horizon_ms
        total_ms = sum((one.end_ms or end_ms) - one.start_ms for one in each)
        still = any(one.end_ms is None for one in each)
        rows.append(
            (
                Text(moment(trace.site.begins, first.start_ms), Tone.GOOD),
                _worded([first.element], trace.site.building, begins=True)[0],
                str(len(each)),
                f"{span(h_from_ms(total_ms))}{', still away' if still else ''}",
            )
        )
    n_more = len(absences) - len(rows)
    note = f"The first {len(rows)}; {n_more} more followed." if n_more else ""
    columns = (*words("first", "what"), *figures("times", "away in all"))
    return titled("Devices that were away", note, Table(columns, tuple(rows)))


def _happened(trace: Trace, is_full: bool) -> Block:
    everything = steps(trace)
    eventful = [step for step in everything if not step.changes_nothing]
    gateways = frozenset(one.id for one in trace.layout.gateways)
    gathered = [Run((step,), is_alike=False) for step in eventful]
    if not is_full:
        gathered = list(runs(eventful, gateways))
    told = gathered if is_full else _most_telling(gathered)
    left_out = [f"{counted(len(eventful), 'step')} changed something"]
    if len(gathered) < len(eventful):
        left_out.append("runs of like ones are one line")
    if len(told) < len(gathered):
        left_out.append(f"the {len(told)} most telling lines are shown")
    if len(told) < len(eventful):
        left_out[-1] += " (--full shows all)"
    n_idle = len(everything) - len(eventful)
    if n_idle:
        idle = counted(n_idle, "time")
        left_out.append(f"{idle} something got in or out of a path and no device noticed")
    return titled("What happened", "; ".join(left_out) + ".", _told(trace, told))


def _most_telling(gathered: Sequence[Run]) -> list[Run]:
    if len(gathered) <= MOST_STEPS:
        return list(gathered)
    ranked = sorted(gathered, key=lambda run: (run.weight, -run.steps[0].time_ms), reverse=True)
    return sorted(ranked[:MOST_STEPS], key=lambda run: run.steps[0].time_ms)


def _summary(trace: Trace) -> list[str]:
    record = trace.record
    struck = Counter(absence.element.cause for absence in trace.history.absences)
    years = years_from_ms(trace.rules.horizon_ms)
    start, end = (moment(trace.site.begins, ms)[:10] for ms in (0, trace.rules.horizon_ms))
    strikes = [counted_strikes(n, described(cause)) for cause, n in sorted(struck.items())]
    sentences = [
        f"{years:.3g} years, {start} to {end}: "
        f"{listed(strikes) if strikes else 'nothing struck'}; "
        f"{counted(record.visits, 'repair visit')}{_in_vain(trace)}."
    ]
    lost = [ms for ms in record.orphan_ms.values() if ms]
    if lost:
        everyone = counted(len(record.orphan_ms), "sensor")
        sentences.append(
            f"Without a way to a gateway: {len(lost)} of {everyone}, {span(h_from_ms(sum(lost)))} "
            f"in all, {span(h_from_ms(max(lost)))} at most."
        )
        sentences.append(_longest(trace, max(record.spells, key=_by_length)))
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


def _in_vain(trace: Trace) -> str:
    """What is said of visits where crews are called for."""
    record = trace.record
    if trace.rules.calls is None or not record.visits:
        return ""
    vain = f", {record.fruitless} of them in vain" if record.fruitless else ""
    return f"{vain}, {span(h_from_ms(record.worked_ms))} of working time"


def _longest(trace: Trace, spell: Spell) -> str:
    since = moment(trace.site.begins, spell.start_ms)
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


def _told(trace: Trace, told: Sequence[Run]) -> Table | Text:
    if not told:
        return Text("Nothing that any device noticed.")
    rows = [
        (Text(moment(trace.site.begins, run.steps[0].time_ms), Tone.GOOD), _run(trace, run))
        for run in told
    ]
    return Table(words("when", "what happened"), tuple(rows))


def _run(trace: Trace, run: Run) -> str:
    """Return what is alike as one sentence with counts, a single step in full."""
    if len(run.steps) == 1:
        return telling(run.steps[0], trace.site.building)
    if not run.is_alike:
        return _over_and_over(trace, run)
    first_ms, last_ms = run.steps[0].time_ms, run.steps[-1].time_ms
    times_ms = [
        end_ms - start_ms
        for start_ms, end_ms in trace.history.outages_ms
        if first_ms <= start_ms <= last_ms
    ]
    moves = [move for step in run.steps if step.is_of_moves for move in step.moves]
    if len(times_ms) == 1 and not moves:
        began = " ".join(_causes(run.steps[0], trace.site.building))
        return f"{began} No gateway was up for {span(h_from_ms(times_ms[0]))}.".strip()
    told = []
    if times_ms:
        total, longest = (span(h_from_ms(ms)) for ms in (sum(times_ms), max(times_ms)))
        most = f" ({longest} at most)" if len(times_ms) > 1 else ""
        told.append(f"no gateway was up {_times(len(times_ms))}, for {total} in all{most}")
    if moves:
        movers = counted(len({move.device for move in moves}), "device")
        told.append(f"{movers} changed parent {_times(len(moves))}")
    n_faded = sum(len(step.faded) for step in run.steps)
    if n_faded:
        told.append(f"{counted(n_faded, 'path')} faded")
    return f"Until {moment(trace.site.begins, last_ms)}: {'; '.join(told)}."


def _over_and_over(trace: Trace, run: Run) -> str:
    """Return as one sentence that the same sensors lost their way again and again."""
    first, last_ms = run.steps[0], run.steps[-1].time_ms
    spells = [
        spell
        for spell in trace.record.spells
        if spell.sensor == first.silenced[0] and first.time_ms <= spell.start_ms <= last_ms
    ]
    total = span(h_from_ms(sum(spell.orphan_ms for spell in spells)))
    until = moment(trace.site.begins, last_ms)
    return (
        f"Until {until}, {_times(len(spells))}: {' '.join(_causes(first, trace.site.building))} "
        f"{listed(first.silenced)} lost {_their(first.silenced)} way to a gateway, for {total} in "
        "all."
    )


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"


def telling(step: Step, building: Building) -> str:
    """Return one step as a paragraph.

    Parameters
    ----------
    step : Step
        What happened. [-]
    building : Building
        Where the doors and obstacles are drawn that may have changed. [-]
    """
    sentences = _worded(step.struck, building, begins=True)
    sentences += _worded(step.ended, building, begins=False)
    sentences += _faded(step, building)
    if step.outage_begins:
        sentences.append("No gateway is up: the whole site is cut off.")
    if step.outage_ends:
        sentences.append("The network has formed anew.")
    if step.silenced and not step.outage_begins:
        sentences.append(f"{listed(step.silenced)} lost {_their(step.silenced)} way to a gateway.")
    if step.outage_begins or step.outage_ends:
        found = f"{listed(step.heard)} found a way again." if step.heard else ""
        return " ".join([*sentences, found, *told_calls(step)]).strip()
    return " ".join([*sentences, *_moves(step), *told_calls(step)])


def _causes(step: Step, building: Building) -> list[str]:
    """What struck in a step, and which paths faded."""
    return [
        *_worded(step.struck, building, begins=True),
        *_faded(step, building),
    ]


def _faded(step: Step, building: Building) -> list[str]:
    return [
        worded(SWING.struck, (SWING.name, f"{device}~{parent}"), building)
        for device, parent in step.faded
    ]


def _their(names: Sequence[str]) -> str:
    return "its" if len(names) == 1 else "their"


def _worded(elements: Sequence[Element], building: Building, *, begins: bool) -> list[str]:
    """Return what strikes or ends in a step, devices with the same fate in one sentence."""
    told: dict[Holder, list[str]] = {}
    for one in elements:
        pattern = _pattern(one, begins=begins)
        is_told_once = "{devices}" in pattern and "{id}" not in pattern
        holder = (one.cause, "") if is_told_once else one.name
        told.setdefault(holder, []).extend(one.targets)
    patterns = {one.cause: _pattern(one, begins=begins) for one in elements}
    return [
        worded(patterns[holder[0]], holder, building, targets) for holder, targets in told.items()
    ]


def _pattern(element: Element, *, begins: bool) -> str:
    cause = described(element.cause)
    return cause.struck if begins else cause.ended


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
