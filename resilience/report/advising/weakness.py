"""What ``weakest`` tells: the first lines, and what stands behind them."""

from resilience.montecarlo.estimates import LEVEL
from resilience.montecarlo.runs.running import INTERRUPTED
from resilience.remedies.fragile.bottlenecks import SinglePoint
from resilience.remedies.fragile.importance import LEAST_ABSENCES, Importance
from resilience.remedies.weakest import Weakness
from resilience.report.advising.helping import (
    help_for_cells,
    help_for_culprit,
    help_for_hub,
    help_for_pair,
    help_for_point,
)
from resilience.report.advising.opening import name_of, opening
from resilience.report.advising.walking import survey_block
from resilience.report.comparing.dependence import happens_words
from resilience.report.evidence import evidence
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
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
from resilience.report.words import changing_thing, counted, figure_parts, two_digits, visible

MOST_ROWS = 6
LEAST_SHARE = 0.01  # of all hours, below which a thing has no row
PAIRS = "Worse together than apart"
HELP = Column("what would help", is_text=True)


def weakness_page(weakness: Weakness, with_whole_survey: bool = False) -> Page:
    """Return everything that ``weakest`` tells.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    with_whole_survey : bool
        Whether all that is worth measuring is listed, and not only what tells most. [-]
    """
    site, study = weakness.comparison.site, weakness.study
    is_cut = study.stopped_because == INTERRUPTED
    interrupted = "Interrupted: what follows rests on the lifetimes that were complete."
    return page(
        Alert(interrupted) if is_cut else (),
        *(Text(paragraph) for paragraph in opening(weakness)),
        _which(weakness),
        *helping_blocks(weakness),
        _cells(weakness),
        survey_block(weakness, with_whole_survey),
        Bullets("About this site", site.notes) if site.notes else (),
        [_made_by(weakness), Text(evidence(site), Tone.QUIET)],
        cautions(is_surveyed=not site.radio.predict),
    )


def helping_blocks(weakness: Weakness) -> tuple[Block, ...]:
    """Return what is weak in a layout, each row with what would help.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    """
    made = (_culprits, _points, _lonely, _pairs, _hubs)
    return tuple(make(weakness) for make in made)


def _which(weakness: Weakness) -> Block:
    """Which layout this is of, and how to see another."""
    comparison = weakness.comparison
    if len(comparison.placed) == 1:
        return ()
    rank = next(one.rank for one in comparison.placed if one.layout.name == weakness.layout.name)
    n = len(comparison.placed)
    return (
        Text(
            f"This is {visible(weakness.layout.name)}, rank {rank} of "
            f"{counted(n, 'layout')} (resilience compare); --layout names another.",
            Tone.QUIET,
        ),
    )


def _culprits(weakness: Weakness) -> Block:
    building = weakness.comparison.site.building
    told = [one for one in weakness.culprits if one.share.mean >= LEAST_SHARE and one.hours]
    rows = tuple(
        (
            name_of(weakness, one),
            two_digits(one.hours),
            "\n".join(figure_parts(one.share, 100)),
            _important(one.importance),
            happens_words(weakness.study, one.by_holder, building),
            help_for_culprit(weakness, one),
        )
        for one in told[:MOST_ROWS]
    )
    columns = (
        *words("hangs on"),
        Column("h", note="cut off a sensor and year, as far as it is the cause"),
        Column("%", note="of all such hours of the layout, with bounds"),
        Column(
            "more\ncut off",
            note="other sensors cut off while it is away, less those while it is not; "
            f"rare: away fewer than {LEAST_ABSENCES} times in the lifetimes told",
        ),
        *words("what happens to it"),
        HELP,
    )
    return titled("What its hours hang on", "", Table(columns, rows)) if rows else ()


def _important(seen: Importance | None) -> str:
    if seen is None:
        return ""
    return "rare" if seen.sensors is None else "\n".join(figure_parts(seen.sensors))


def _points(weakness: Weakness) -> Block:
    found = weakness.bottlenecks
    rows = tuple(
        (
            _point_name(weakness, one),
            f"{len(one.as_drawn)}",
            two_digits(one.mean_sensors),
            "\n".join(figure_parts(one.building_share, 100)),
            help_for_point(weakness, one),
        )
        for one in found.points[:MOST_ROWS]
    )
    columns = (
        *words("alone cuts off"),
        Column("sensors\nas drawn"),
        Column("in\nbuildings", note="sensors, mean over possible buildings"),
        Column("% of\nbuildings", note="possible buildings in which it cuts off any"),
        HELP,
    )
    n_more = len(found.points) - len(rows)
    more = f" {counted(n_more, 'other does', 'others do')} so more seldom." if n_more > 0 else ""
    note = (
        f"With all else up and calm, in {found.n_buildings} possible buildings, drawn as compare "
        f"draws them.{more}"
    )
    return titled("Single points of failure", note, Table(columns, rows)) if rows else ()


def _point_name(weakness: Weakness, one: SinglePoint) -> str:
    building = weakness.comparison.site.building
    kinds = {device.id: device.kind for device in weakness.layout.devices}
    match one.kind.value:
        case "device":
            return f"{kinds[one.id].value} {visible(one.id)}"
        case "link":
            return f"path {visible(one.id).replace('~', ' to ')}"
        case "circuit":
            return f"circuit {visible(one.id)}"
        case _:
            return changing_thing(building, one.id)[0]


def _lonely(weakness: Weakness) -> Block:
    rows = tuple(
        (
            one.sensor,
            one.parent or "nobody",
            "\n".join(figure_parts(one.building_share, 100)),
            f"a second device within reach of {visible(one.sensor)}",
        )
        for one in weakness.bottlenecks.lonely[:MOST_ROWS]
    )
    columns = (
        *words("sensor", "hears only"),
        Column("% of\nbuildings", note="possible buildings in which it hears fewer than two"),
        HELP,
    )
    n_more = len(weakness.bottlenecks.lonely) - len(rows)
    note = f"{counted(n_more, 'other sensor')} as well (--json names all)." * (n_more > 0)
    return titled("One usable parent", note, Table(columns, rows)) if rows else ()


def _pairs(weakness: Weakness) -> Block:
    if not weakness.cuts.is_known:
        return titled(PAIRS, "", Text("Not looked for: there are too many devices and links."))
    pairs = weakness.cuts.pairs
    rows = tuple(
        (
            f"{visible(one.first)} and {visible(one.second)}",
            str(len(one.only_together)),
            help_for_pair(weakness, one),
        )
        for one in pairs[:MOST_ROWS]
    )
    columns = (
        *words("both away"),
        Column("cut off", note="sensors, as drawn, that the loss of one of the two leaves a way"),
        HELP,
    )
    n_more = len(pairs) - len(rows)
    note = f"{counted(n_more, 'other pair')} as well (--json names all)." * (n_more > 0)
    return titled(PAIRS, note, Table(columns, rows)) if rows else ()


def _hubs(weakness: Weakness) -> Block:
    rows = tuple(
        (
            one.sensor,
            f"{one.carried:.1f}",
            "" if one.by_repeaters is None else f"{one.by_repeaters:.1f}",
            help_for_hub(weakness, one),
        )
        for one in weakness.hubs[:MOST_ROWS]
    )
    columns = (
        *words("sensor"),
        Column("carries", note="sensors whose readings it passes on, mean over time"),
        Column("a repeater", note="the same of repeaters, on average"),
        HELP,
    )
    return titled("Sensors that became hubs", "", Table(columns, rows)) if rows else ()


def _cells(weakness: Weakness) -> Block:
    rows = tuple(
        (
            one.device,
            f"{one.year:.1f}",
            f"{one.life.least_months / 12:.1f} to {one.life.most_months / 12:.1f}",
            f"{one.carried:.1f}",
            f"{100 * one.passing_share:.0f}",
            help_for_cells(weakness, one),
        )
        for one in weakness.cells[:MOST_ROWS]
    )
    columns = (
        *words("device"),
        Column("year", note="after hand-over in which average cells are flat, at the mean draw"),
        Column("range", note="over lifetimes"),
        Column("carries", note="sensors whose readings it passes on, mean over time"),
        Column("% for\nothers", note="part of what it draws that this takes"),
        HELP,
    )
    return titled("Cells that go first", "", Table(columns, rows)) if rows else ()


def _made_by(weakness: Weakness) -> Text:
    study = weakness.study
    return Text(
        f"Seed {study.seed}, {counted(study.n_lifetimes, 'lifetime')}, of which "
        f"{weakness.n_watched} were told event by event: bounds of shares and of what is cut off "
        f"meanwhile rest on these, at {100 * LEVEL:.0f} %, each by itself, and hold for large "
        "samples only (ratio of sums); they decide nothing. Shares of buildings have bounds that "
        "hold for any number.",
        Tone.QUIET,
    )
