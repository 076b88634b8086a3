"""What own history says of rates, lives and durations: the answer of ``learn``."""

from pathlib import Path

from resilience.building.service.learnt import LEARNT_FILE
from resilience.hazards.learning.lessons import Belief, CellLife, Conflict, Lesson, Lessons
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Column,
    Page,
    Part,
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
from resilience.report.words import counted, listed, two_digits, visible

ALSO = "bounds hold the truth in 95 of 100 cases"
UNITS = {"-": "", "1/year": " a year"}
HOW = (
    "Before is what the site states, as sure as the listed range of the setting is wide; now is "
    "that and the history together. Where little was seen, little moves."
)


def learning_page(lessons: Lessons, written: Path | None = None) -> Page:
    """Return everything that ``learn`` tells.

    Parameters
    ----------
    lessons : Lessons
        What the history says. [-]
    written : Path or None
        Where it was kept; None where it was not. [-]
    """
    untold = tuple(f"{visible(one)}." for one in lessons.untold)
    return page(
        _summary(lessons),
        _settings(lessons) if lessons.found else (),
        _cells(lessons.cells) if lessons.cells else (),
        Bullets("What the history cannot tell", untold) if untold else (),
        Bullets("About the tables", tuple(map(visible, lessons.notes))) if lessons.notes else (),
        _outcome(lessons, written),
        cautions(is_surveyed=True),
    )


def _summary(lessons: Lessons) -> Block:
    """What was read, what it moves, and where it contradicts what is listed."""
    told = (
        f"{visible(lessons.site)}: {counted(lessons.n_sites, 'site')} in {listed(lessons.files)}, "
        f"{two_digits(lessons.device_years)} device-years. "
    )
    surer = [one for one in lessons.found if not one.is_barely_told]
    if surer:
        told += (
            f"{counted(len(surer), 'setting')} of {len(lessons.found)} known better than before."
        )
    elif lessons.found:
        told += "It is too little to make any setting surer than it was."
    else:
        told += "It bears on no setting."
    lines: list[Part] = [Text(told)]
    lines += [Alert(_contradiction(one)) for one in lessons.found if one.conflict]
    return tuple(lines)


def _contradiction(one: Lesson) -> str:
    assert one.span is not None
    low, high = map(two_digits, one.span)
    unit = UNITS.get(one.unit, f" {one.unit}")
    seen = counted(one.basis.n_seen, "event")
    if one.basis.at_risk_years:
        seen += f" in {two_digits(one.basis.at_risk_years)} years at risk"
    side = "above" if one.conflict is Conflict.ABOVE else "below"
    return (
        f"{one.key}: the history by itself ({seen}) lies {side} the listed range of {low} to {high}"
        f"{unit}, by more than chance. Look whether the table counts the right thing; if it does, "
        "believe it rather than the range."
    )


def _settings(lessons: Lessons) -> Block:
    columns = (
        *words("setting"),
        Column("before", note=f"as the site states it; {ALSO}"),
        Column("seen", note="failures, outages, repairs or flat cells; in brackets: not over yet"),
        Column("years\nat risk", note="added up over devices or links, less the time away"),
        Column("now", note=ALSO),
        Column("", is_text=True, note=""),
    )
    rows = tuple(_row(one) for one in lessons.found)
    return titled("Before and after", "", Table(columns, rows), Text(HOW, Tone.QUIET))


def _row(one: Lesson) -> Row:
    unit = f"\n{UNITS.get(one.unit, one.unit).strip()}"
    basis = one.basis
    seen = str(basis.n_seen) + (f"\n({basis.n_open})" if basis.n_open else "")
    years = two_digits(basis.at_risk_years) if basis.at_risk_years else ""
    told: str | Text = "hardly told" if one.is_barely_told else ""
    if one.conflict:
        told = Text(f"! {one.conflict.value}\nrange", Tone.ALERT)
    return (f"{one.key}{unit}", _two_lines(one.before), seen, years, _two_lines(one.after), told)


def _two_lines(one: Belief) -> str:
    return f"{_shown(one.value)}\n{_shown(one.low)} to {_shown(one.high)}"


def _shown(value: float) -> str:
    """Number with two digits, a last 0 among them, or all of those before the decimal point."""
    return f"{value:,.0f}" if value >= 9.95 else f"{value:#.2g}"


def _cells(cells: tuple[CellLife, ...]) -> Block:
    columns = (
        *words("group"),
        *figures("went flat", "still good"),
        Column("mean life, years", note=ALSO),
    )
    rows = tuple(
        (
            visible(one.group) or "(no group)",
            str(one.n_flat),
            str(one.n_open),
            _two_lines(one.mean_years),
        )
        for one in cells
    )
    how = (
        "Told, not used: how long cells last follows from capacity and currents in site.yaml. Hold "
        "it against the months between cells that compare tells of devices like these."
    )
    return titled("How long cells lasted", "", Table(columns, rows), Text(how, Tone.QUIET))


def _outcome(lessons: Lessons, written: Path | None) -> Text:
    if written is not None:
        return Text(
            f"Written to {written}: every answer on this site reckons with it from now on. Delete "
            "the file to undo that."
        )
    if not lessons.found:
        return Text("Nothing was written.")
    return Text(
        f"Nothing was written. --write keeps the values of column now in {LEARNT_FILE} of the "
        "site, in place of earlier ones; site.yaml stays as it is."
    )
