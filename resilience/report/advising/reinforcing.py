"""What ``reinforce`` tells: which change buys most, what the next ones add, what was tried."""

from resilience.building.site import Kind
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.runs.running import OUT_OF_TIME, REACHED
from resilience.ranking.pairs import Verdict
from resilience.remedies.reinforcing.options import Move, Option
from resilience.remedies.reinforcing.proposal import Confirmed, Reinforcement, Step
from resilience.report.comparing.supposing import SHOWS
from resilience.report.evidence import evidence
from resilience.report.pages import (
    Alert,
    Block,
    Column,
    Page,
    Table,
    Text,
    Tone,
    cautions,
    page,
    titled,
    words,
)
from resilience.report.words import counted, figure, figure_parts, turned, two_digits, visible


def reinforcement_page(found: Reinforcement) -> Page:
    """Return everything that ``reinforce`` tells.

    Parameters
    ----------
    found : Reinforcement
        What came of it. [-]
    """
    return page(
        *(Text(sentence) for sentence in _opening(found)),
        _warnings(found),
        _steps(found),
        *(_tried(found, number, step) for number, step in enumerate(found.steps, 1)),
        [_made_by(found), Text(evidence(found.site), Tone.QUIET)],
        cautions(is_surveyed=not found.site.radio.predict),
    )


def change_words(option: Option, is_done: bool = False) -> str:
    """Say a change in a few words.

    Parameters
    ----------
    option : Option
        The change. [-]
    is_done : bool
        Whether it is told as what was done, with the place in full. [-]
    """
    id, spot = visible(option.device), visible(option.spot)
    kind = option.kind.value
    match option.move:
        case Move.ADD:
            return f"{kind} {id}{_where(option)}" if is_done else f"add {kind} {id}"
        case Move.MOVE:
            return f"{id} moved to {spot}{_where(option)}" if is_done else f"move {id} to {spot}"
        case Move.MAINS:
            return f"{id} on mains"
        case _:
            return f"without {id}"


def _where(option: Option) -> str:
    place = option.after.place if option.after else None
    if place is None:
        return ""
    return f" ({visible(place.level)}, x {place.x_m:g} m, y {place.y_m:g} m)"


def _opening(found: Reinforcement) -> tuple[str, ...]:
    name = visible(found.start.name)
    if not found.steps:
        return (f"{name}: {found.stopped_because}.",)
    first = found.steps[0]
    if first.taken is None:
        best = first.confirmed[0]
        least = "loses least" if found.removes else "looks best"
        return (
            f"{name} is best left as it is: {found.stopped_because}. Of what was tried, "
            f"{change_words(best.option, is_done=True)} {least}: {_gain_words(best)}.",
        )
    done = "; then ".join(change_words(one.option, is_done=True) for one in found.taken)
    start = f"Of {name} this could be left out" if found.removes else f"What would help {name} most"
    told = [f"{start}: {done}."]
    told.append(f"The first of it: {_gain_words(first.taken)}.{_value(found, first)}")
    if found.total is not None and len(found.taken) > 1:
        told.append(
            f"All of it together, on lifetimes of its own: {_hours_words(found.total.difference)}"
            f", {_sure(found.total.verdict)}."
        )
    return tuple(told)


def _hours_words(difference: Estimate) -> str:
    saved = turned(difference)
    if saved.mean >= 0:
        return f"a sensor is cut off {figure(saved)} h a year less"
    return f"a sensor is cut off {figure(difference)} h a year more"


def _gain_words(one: Confirmed) -> str:
    return f"{_hours_words(one.pair.difference)}, {_sure(one.pair.verdict)}"


def _sure(verdict: Verdict) -> str:
    if verdict is Verdict.BETTER:
        return "which is shown"
    if verdict is Verdict.WORSE:
        return "which is shown to be a loss"
    if verdict in {Verdict.ALIKE, Verdict.SAME, Verdict.NEARLY_ALIKE}:
        return f"which is {verdict.value}"
    return "which these lifetimes do not prove yet (more --seconds would tell)"


def _value(found: Reinforcement, step: Step) -> str:
    """Hours saved for the money, or for each device."""
    if found.removes or step.taken is None:
        return ""
    saved_h = found.hours_saved(step.taken.pair)
    currency = found.site.prices.currency
    if step.cost is not None and step.cost > 0 and saved_h > 0:
        return (
            f" It costs {step.cost:g} {visible(currency)} to install and saves "
            f"{two_digits(saved_h)} hours a year over all sensors: "
            f"{two_digits(saved_h / step.cost)} h for each {visible(currency) or 'unit of money'}."
        )
    if saved_h > 0 and step.taken.option.devices_more > 0:
        return f" Over all sensors that is {two_digits(saved_h)} hours a year for one device."
    return ""


def _warnings(found: Reinforcement) -> Block:
    told = []
    if found.n_forbidden:
        told.append(
            f"{counted(found.n_forbidden, 'place')} of places.csv left out: outside the outline, "
            "in a shaft or in something solid."
        )
    if found.n_deaf:
        n = f"{found.n_deaf} of {counted(found.n_places, 'place')}"
        told.append(f"From {n} nothing of the layout is ever heard.")
    if found.stopped_because == OUT_OF_TIME:
        told.append("The time allowed was used up before all was played: --seconds gives it more.")
    return tuple(Alert(one) for one in told)


def _steps(found: Reinforcement) -> Block:
    """What each further change adds."""
    taken = [(one, one.taken) for one in found.steps if one.taken]
    if not taken:
        return ()
    has_cost = any(step.cost is not None for step, _ in taken)
    rows = tuple(
        (
            str(number),
            change_words(one.option) + (" (look back)" if step.is_look_back else ""),
            two_digits(step.hours.mean),
            "\n".join(figure_parts(turned(one.pair.difference))),
            two_digits(found.hours_saved(one.pair)),
            *(_money(found, step, one) if has_cost else ()),
            SHOWS[one.pair.verdict],
        )
        for number, (step, one) in enumerate(taken, 1)
    )
    money = (
        Column("cost", note="to install more"),
        Column("h for\nmoney", note="hours saved a year for each unit of it"),
    )
    columns = (
        Column(""),
        *words("change"),
        Column("h before", note="cut off a sensor and year, the wait for a first way included"),
        Column("h saved", note="of these, with bounds"),
        Column("h saved\nin all", note="a year, over all sensors"),
        *(money if has_cost else ()),
        Column("that is", is_text=True),
    )
    why = found.stopped_because
    note = "" if why == REACHED else f"It ends here: {why}."
    title = "What goes first" if found.removes else "What each further change adds"
    return titled(title, note, Table(columns, rows))


def _money(found: Reinforcement, step: Step, one: Confirmed) -> tuple[str, str]:
    if step.cost is None:
        return "", ""
    per = two_digits(found.hours_saved(one.pair) / step.cost) if step.cost > 0 else ""
    return f"{step.cost:g}", per


def _tried(found: Reinforcement, number: int, step: Step) -> Block:
    """All that was played for one change."""
    rows = tuple(
        (
            Text(change_words(one.option), Tone.STRONG if one is step.taken else Tone.PLAIN),
            _place(one.option),
            f"{one.screened_h:.2g}",
            "\n".join(figure_parts(turned(one.pair.difference))),
            SHOWS[one.pair.verdict],
        )
        for one in step.confirmed
    )
    columns = (
        *words("change", "where"),
        Column("screen", note="h saved a sensor and year, as it looks in states drawn at random"),
        Column("h saved", note="the same in lifetimes, with bounds"),
        Column("that is", is_text=True),
    )
    n = max(one.pair.n_buildings for one in step.confirmed)
    note = (
        f"The best of the screen, played in {counted(n, 'possible building')}; all bounds of this "
        f"page hold together at 95 % ({100 * found.level_share:.4g} % each)."
    )
    what = "look back" if step.is_look_back else f"change {number}"
    return titled(f"Tried for {what}", note, Table(columns, rows))


def _place(option: Option) -> str:
    place = option.after.place if option.after and option.move is not Move.MAINS else None
    return "" if place is None else f"{visible(place.level)} {place.x_m:g}, {place.y_m:g}"


def _made_by(found: Reinforcement) -> Text:
    from_grid = "" if found.removes else f"{counted(found.n_places, 'place')}, "
    tried = [one.option.kind for step in found.steps for one in step.confirmed]
    outages = " Site outages count, since gateways are among what changes." * (
        Kind.GATEWAY in tried
    )
    others = " Not tried: a standby gateway, rounds that renew cells (compare --if plays them)."
    return Text(
        f"Seed {found.seed}, {from_grid}{counted(found.n_options, 'option')} on a screen of states "
        "drawn by how often each thing is away; each change is confirmed on lifetimes that nobody "
        f"chose on.{outages} Sensors stay where they are. What the screen passed over may be as "
        f"good.{'' if found.removes else others}",
        Tone.QUIET,
    )
