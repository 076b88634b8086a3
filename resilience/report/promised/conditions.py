"""On which defaults a promise hangs: the sentences, and the tables that show it."""

from collections.abc import Iterator

from resilience.assumptions.catalogue import Setting
from resilience.montecarlo.runs.running import REACHED
from resilience.montecarlo.splitting.runs import RareFigure
from resilience.policy.hanging.conditions import Hanging, Holds, Limit, Shown, Side
from resilience.policy.rare import OverRates
from resilience.report.comparing.naming import plain_name, plain_value
from resilience.report.pages import Block, Column, Row, Table, Text, Tone, titled, words
from resilience.report.words import at_least, at_most, counted, listed, span, two_digits, visible

UNTRIED = (
    "Other failure rates were not tried: all of this holds under the assumed rates. "
    "--over-defaults tries them."
)
MOST_NAMED = 3
LONG_H = 72.0  # from which on hours are told as days, too


def untried_words(hanging: Hanging | None) -> str:
    """Say that other defaults were not tried, where they were not; else nothing.

    Parameters
    ----------
    hanging : Hanging or None
        What other defaults show; None if nobody asked. [-]
    """
    if hanging is None:
        return UNTRIED
    return "" if hanging.layouts else f"Other defaults were not tried: {hanging.stopped_because}."


def rates_words(found: OverRates | None) -> str:
    """Return what a rare share is over the range of the failure rates, or that nobody tried.

    Parameters
    ----------
    found : OverRates or None
        What splitting says at both ends; None where it was not tested. [-]
    """
    if found is None:
        return "Over the range of the rates: not tested (--over-defaults)."
    low, high = (_end_words(one) for one in (found.low, found.high))
    n = counted(len(found.rates), "rate")
    return f"Over the range of {n} that the site does not state: all low {low}; all high {high}."


def _end_words(found: RareFigure | None) -> str:
    if found is None:
        return "not told (too few runs came to it)"
    share = found.estimate
    bounds = f"{at_least(100 * share.low)} to {at_most(100 * share.high)}"
    return f"{two_digits(100 * share.mean)} of 100 ({bounds})"


def hanging_words(hanging: Hanging, layout: str) -> str:
    """Return whether the promise of a layout holds under other defaults, and up to which values.

    Parameters
    ----------
    hanging : Hanging
        What other defaults show. [-]
    layout : str
        Name of one that was tried. [-]
    """
    name = visible(layout)
    told = [f"{name} under other defaults: {_holds_words(hanging, layout)}"]
    limits = hanging.limits_of(layout)
    clauses = [clause for limit in limits for clause in _clauses(limit)]
    if clauses:
        told.append(f"Kept while {listed(clauses)}, one at a time.")
    if whole := [plain_name(limit.setting) for limit in limits if limit.is_everywhere]:
        told.append(f"No value within its range breaks it of {listed(whole)}.")
    return " ".join(told)


def _holds_words(hanging: Hanging, layout: str) -> str:
    """Never more than the bounds show."""
    holds, broken = hanging.holds(layout), hanging.ends(layout, Shown.BROKEN)
    if holds is Holds.YES:
        ends = counted(len(hanging.tried), "uncertain default")
        return (
            f"it holds at both ends of the range of {ends}, one at a time, and in "
            f"{counted(hanging.n_draws, 'draw')} of all of them together."
        )
    told = []
    if broken:
        places = [_where(setting, value) for setting, value, _ in broken]
        told.append(f"broken where {listed(places, MOST_NAMED)}.")
    told += _draws_words(hanging, layout)
    if not broken:
        told.insert(0, "no single default is shown to break it.")
    if unclear := hanging.ends(layout, Shown.UNDECIDED):
        places = [_where(setting, value) for setting, value, _ in unclear]
        told.append(f"Open where {listed(places, MOST_NAMED)}.")
    if n := len(hanging.ends(layout, Shown.NOT_TESTED)):
        ends = counted(n, "end of a range", "ends of ranges")
        told.append(f"Not tested to the end: {ends}, for {hanging.stopped_because}.")
    return " ".join(told)


def _draws_words(hanging: Hanging, layout: str) -> list[str]:
    kept, broken = (hanging.n_drawn(layout, one) for one in (Shown.KEPT, Shown.BROKEN))
    if not kept + broken:
        return []
    n = hanging.n_draws - hanging.n_drawn(layout, Shown.NOT_TESTED)
    return [
        f"Of {counted(n, 'draw')} of all defaults together it is kept in {kept} and broken in "
        f"{broken}."
    ]


def _where(setting: Setting, value: float) -> str:
    return f"{plain_name(setting)} is {_value(setting, value)} ({setting.default:g} assumed)"


def _value(setting: Setting, value: float) -> str:
    days = f" ({span(value)})" if setting.unit == "h" and value >= LONG_H else ""
    return f"{plain_value(setting, value)}{days}"


def _clauses(limit: Limit) -> Iterator[str]:
    """Yield what has to be true of one default, as one clause; none if all of its range will do."""
    if limit.low is None or limit.high is None or limit.is_everywhere:
        return
    parts = []
    if not limit.low.is_whole:
        parts.append(f"at least {_value(limit.setting, limit.low.kept_to)}")
    if not limit.high.is_whole:
        parts.append(f"at most {_value(limit.setting, limit.high.kept_to)}")
    yield f"{plain_name(limit.setting)} is {' and '.join(parts)}"


def hanging_tables(hanging: Hanging | None) -> tuple[Block, ...]:
    """Return what was found of every default that matters.

    Parameters
    ----------
    hanging : Hanging or None
        What other defaults show; None if nobody asked. [-]
    """
    if hanging is None:
        return ()
    return tuple(table for table in (_limits(hanging), _ends(hanging)) if table)


def _limits(hanging: Hanging) -> Block:
    columns = (
        *words("default", "layout", "assumed"),
        Column("kept from", is_text=True, note="least value that is shown to keep it"),
        Column("kept to", is_text=True, note="largest value that is shown to keep it"),
        Column("broken\nbeyond", is_text=True, note="nearest value that is shown to break it"),
    )
    note = (
        f"The defaults that matter most, one at a time, on up to {hanging.n_lifetimes} lifetimes "
        "each: values that were played and whose bound decides (95 % for each line by itself). "
        "Between them it is taken to go one way; beyond what is kept, these lifetimes do not tell."
    )
    rows = tuple(map(_limit_row, hanging.limits))
    return titled("On which defaults it hangs", note, Table(columns, rows)) if rows else ()


def _limit_row(limit: Limit) -> Row:
    setting = limit.setting
    head = (
        f"{plain_name(setting).removeprefix('the ')}\n{setting.key}",
        visible(limit.layout),
        _value(setting, float(setting.default or 0)),
    )
    if limit.low is None or limit.high is None:
        return (*head, "nowhere", "nowhere", "")
    sides = [_side(setting, side) for side in (limit.low, limit.high)]
    beyond = [
        _value(setting, side.broken_from)
        for side in (limit.low, limit.high)
        if side.broken_from is not None
    ]
    return (*head, *sides, "\n".join(beyond))


def _side(setting: Setting, side: Side) -> str:
    return _value(setting, side.kept_to) + (", its end" if side.is_whole else "")


def _ends(hanging: Hanging) -> Block:
    """Ends of ranges that break the promise, or where that is open."""
    rows: list[Row] = []
    for layout in hanging.layouts:
        for shown in (Shown.BROKEN, Shown.UNDECIDED):
            for setting, value, seen in hanging.ends(layout, shown):
                tone = Tone.ALERT if shown is Shown.BROKEN else Tone.PLAIN
                bounds = ""
                if seen.broken is not None:
                    low, high = 100 * seen.broken.low, 100 * seen.broken.high
                    bounds = f"{at_least(low)} to {at_most(high)}"
                name = f"{plain_name(setting).removeprefix('the ')}\n{setting.key}"
                told = _value(setting, value)
                rows.append((name, visible(layout), told, Text(shown.value, tone), bounds))
    columns = (
        *words("default", "layout", "where it is", "promise"),
        Column("breaks it,\n%", note="bounds of lifetimes that break it there"),
    )
    n_kept = sum(len(hanging.ends(layout, Shown.KEPT)) for layout in hanging.layouts)
    missing = f" It ended as {hanging.stopped_because}." * (hanging.stopped_because != REACHED)
    note = (
        "Ends of ranges that are not shown to keep it; "
        f"{counted(n_kept, 'other')} {'is' if n_kept == 1 else 'are'}.{missing}"
    )
    table = Table(columns, tuple(rows))
    return titled("Where other defaults break it", note, table) if rows else ()
