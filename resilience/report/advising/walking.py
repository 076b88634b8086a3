"""What to measure first, as a list to walk by: level by level, with the value to expect."""

from resilience.remedies.surveying.survey import Stop, Survey
from resilience.remedies.surveying.unknowns import PATHS_MEASURED, Kind
from resilience.remedies.weakest import Weakness
from resilience.report.pages import Block, Column, Command, Part, Row, Table, Text, titled, words
from resilience.report.words import counted, two_digits, visible

MOST_STOPS = 6  # so that all of it stays below ten lines
TITLE = "What to measure first"


def survey_block(weakness: Weakness, with_all: bool) -> Block:
    """Return what to measure first.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    with_all : bool
        Whether everything that tells more than chance is listed. [-]
    """
    survey = weakness.survey
    if not survey.n_buildings:
        return titled(TITLE, "", Text("So few possible buildings were played that none can tell."))
    shown = survey.shown if with_all else survey.shown[:MOST_STOPS]
    if not shown:
        note = "" if survey.is_lopsided else _note(weakness, survey)
        return titled(TITLE, note, Text(_nothing(survey)))
    order = {level.id: n for n, level in enumerate(weakness.comparison.site.building.levels)}
    walked = sorted(shown, key=lambda one: (_place(one, order), -one.told_share, one.unknown.id))
    has_choice = bool(survey.rival)
    columns = (
        *words("level", "measure"),
        Column("expect", is_text=True, note="the weaker way; one standard deviation"),
        Column("tells %", note="of all that a survey could tell; parts may overlap"),
        *((Column("saves, h", note="on average, by choosing after it"),) if has_choice else ()),
    )
    parts: list[Part] = [Table(columns, tuple(_row(one, has_choice) for one in walked))]
    n_more = len(survey.shown) - len(shown)
    if n_more:
        parts += [Text(f"{counted(n_more, 'other is', 'others are')} listed by"), _command()]
    return titled(TITLE, _note(weakness, survey), *parts)


def _command() -> Command:
    return Command("resilience weakest SITE --survey")


def _note(weakness: Weakness, survey: Survey) -> str:
    of = f"hours of {visible(weakness.layout.name)}"
    if survey.rival:
        of = f"difference from {visible(survey.rival)}"
    share = f"{100 * survey.knowable_share:.0f}"
    return (
        f"Of the variance of the {of} between lifetimes, {share} % is the building's, which a "
        "survey of everything would remove; the rest is chance."
    )


def _nothing(survey: Survey) -> str:
    if survey.is_lopsided:
        return (
            f"A few of {counted(survey.n_buildings, 'possible building')} make nearly all of the "
            "variance: what these have in common cannot be told. More lifetimes may."
        )
    return (
        f"No single measurement tells more than chance would in "
        f"{counted(survey.n_buildings, 'possible building')}: more lifetimes may show which do."
    )


def _place(one: Stop, order: dict[str, int]) -> tuple[int, ...]:
    """Levels from the lowest up; what is not on one level comes last."""
    levels = tuple(order.get(level, 0) for level in one.unknown.levels)
    return levels or (len(order) + 1,)


def _row(one: Stop, has_choice: bool) -> Row:
    saves = (two_digits(one.saves_h),) if has_choice else ()
    level = " to ".join(visible(level) for level in one.unknown.levels) or "any"
    return (level, measured_words(one), _expect(one), f"{100 * one.told_share:.0f}", *saves)


def measured_words(one: Stop) -> str:
    """Return what is to be measured.

    Parameters
    ----------
    one : Stop
        Something worth measuring. [-]
    """
    match one.unknown.kind:
        case Kind.LINK:
            return f"{visible(one.unknown.id).replace('~', ' to ')}"
        case Kind.CONSTRUCTION:
            return f"{PATHS_MEASURED} paths through {visible(one.unknown.id)}, then calibrate"
        case _:
            return "paths of all lengths, then calibrate"


def _expect(one: Stop) -> str:
    found = one.unknown.expected
    if found is None:
        return ""
    low, high = found.low_prr, found.high_prr
    return (
        f"{found.rssi_dbm:.0f} dBm ± {found.spread_db:.0f}, PRR {found.prr:.2f} "
        f"({low:.2f} to {high:.2f})"
    )
