"""What ``compare`` tells: the conclusion, the order, and what each layout hangs on."""

import math
from collections.abc import Iterator, Sequence

from resilience.building.site import Kind
from resilience.hazards.causes import SERVICE, counted_columns
from resilience.hazards.upkeep import calls_of
from resilience.montecarlo.estimates import LEVEL, TOO_FEW
from resilience.montecarlo.runs.running import INTERRUPTED
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison, Placed
from resilience.ranking.pairs import Pair, RankedBy, Verdict
from resilience.ranking.seldom.order import SeldomOrder
from resilience.ranking.variation import Variation
from resilience.remedies.supposing.whatifs import WhatIfs
from resilience.report.comparing.costs import costs_table
from resilience.report.comparing.dependence import dependences, first_cells
from resilience.report.comparing.opening import opening, reason_words
from resilience.report.comparing.remarks import (
    copies,
    incomplete,
    rare_losses,
    seldom_rows,
    seldom_words,
)
from resilience.report.comparing.supposing import whatifs_block
from resilience.report.comparing.survival import survival_tables
from resilience.report.evidence import played_evidence
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Column,
    Page,
    Row,
    Span,
    Spans,
    Table,
    Text,
    Tone,
    cautions,
    figures,
    page,
    titled,
    words,
)
from resilience.report.words import (
    counted,
    figure_parts,
    per_year,
    rounded,
    turned,
    two_digits,
    two_lines,
    visible,
)

TOP_REASONS = 3
TOP_THINGS = 3
FIRST_CELLS = 2
LEAST_SHARE = 0.05  # of a layout's hours, below which a thing is not in the table
MONTHS_PER_YEAR = 12

MARKS = {
    Verdict.BETTER: "< ",
    Verdict.WORSE: "> ",
    Verdict.ALIKE: "= ",
    Verdict.NEARLY_ALIKE: "= ",
    Verdict.SAME: "= ",
    Verdict.TOO_CLOSE: "? ",
    Verdict.MIXED: "! ",
}
OPPOSITE = {Verdict.BETTER: Verdict.WORSE, Verdict.WORSE: Verdict.BETTER}


def comparison_page(
    comparison: Comparison,
    with_all_pairs: bool = False,
    variation: Variation | None = None,
    what_ifs: WhatIfs | None = None,
    seldom: SeldomOrder | None = None,
) -> Page:
    """Return everything that ``compare`` tells, the conclusion first.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    with_all_pairs : bool
        Whether every two layouts are set against each other. [-]
    variation : Variation or None
        What other defaults show of the order; None if nobody asked. [-]
    what_ifs : WhatIfs or None
        What would come of changes; None if nobody asked. [-]
    seldom : SeldomOrder or None
        Hours by splitting of layouts that lost next to nothing; None where there is none. [-]
    """
    interrupted = "Interrupted: what follows rests on the lifetimes that were complete."
    notes, rare = comparison.site.notes, (*rare_losses(comparison), *seldom_words(seldom))
    return page(
        Alert(interrupted) if comparison.leader.stopped_because == INTERRUPTED else (),
        [Alert(sentence) for sentence in incomplete(comparison)],
        *(Text(sentence) for sentence in copies(comparison)),
        *(Text(paragraph) for paragraph in opening(comparison, variation)),
        whatifs_block(what_ifs, comparison.ranked_by),
        _ranking(comparison, seldom),
        _spans(comparison),
        *survival_tables(variation),
        _things(comparison),
        silence_table(comparison),
        years_table(comparison),
        costs_table(comparison),
        _cells(comparison),
        _pairs(comparison) if with_all_pairs else (),
        Bullets("Rare, large losses", rare) if rare else (),
        Bullets("About this site", notes) if notes else (),
        [made_by(comparison), Text(played_evidence(comparison.site), Tone.QUIET)],
        cautions(is_surveyed=not comparison.site.radio.predict),
    )


def _spans(comparison: Comparison) -> Block:
    """Hours cut off as a picture, where there are bounds to be seen."""
    found = [(placed, comparison.hours(placed.study)) for placed in comparison.placed]
    if len(found) == 1 or any(hours.method == TOO_FEW for _, hours in found):
        return ()
    rows = (
        Span(placed.layout.name, hours.mean, hours.low, hours.high, two_digits(hours.mean))
        for placed, hours in found
    )
    return (Spans("Cut off, h a sensor and year, with bounds, from 0", tuple(rows)),)


def _ranking(comparison: Comparison, seldom: SeldomOrder | None) -> Block:
    leader = comparison.leader
    is_in_service = comparison.ranked_by is RankedBy.SERVICE
    hours_note = "a sensor works but has no way to a gateway, hours a sensor and year; " + (
        "after its first way" if is_in_service else "its wait for a first way included"
    )
    columns: tuple[Column, ...] = (
        Column("rank", note="equal ranks are not told apart"),
        Column("layout\ngateways + repeaters", is_text=True),
        Column("cut off, h", note=hours_note),
        Column("more than\nrank 1, h", note="on the same luck, with bounds for all at once"),
        Column("shown to be", is_text=True, note="against the layout in the first row"),
        Column(
            "not as\ndrawn, %",
            note="possible buildings in which some sensor never finds a way",
        ),
        Column("hops\nlargest", note="radio steps to the gateway, mean over time"),
    )
    rows = []
    for placed in comparison.placed:
        is_first = placed.study is leader
        pair = None if is_first else comparison.pair(leader.layout, placed.layout.name)
        rows += [_ranking_row(comparison, placed, pair), *seldom_rows(seldom, placed, len(columns))]
    if len(rows) == 1:
        kept = (1, 2, 5, 6)
        columns = tuple(columns[at] for at in kept)
        rows = [tuple(row[at] for at in kept) for row in rows]
    return titled(_ranking_title(comparison), "", Table(columns, tuple(rows)))


def _ranking_title(comparison: Comparison) -> str:
    if len(comparison.placed) == 1:
        return "The layout"
    if comparison.ranked_by is RankedBy.SERVICE:
        return "Ranking by hours cut off in service"
    return "Ranking by hours cut off, the wait for a first way included: there layouts differ most"


def _ranking_row(comparison: Comparison, placed: Placed, pair: Pair | None) -> Row:
    study, layout = placed.study, placed.layout
    devices = f"{len(layout.gateways)} + {len(layout.of_kind(Kind.REPEATER))}"
    if study.n_lifetimes < comparison.leader.n_lifetimes:  # dropped once shown to be worse
        devices += f", {study.n_lifetimes} lifetimes"
    return (
        str(placed.rank),
        f"{visible(layout.name)}\n{devices}",
        two_lines(comparison.hours(study)),
        "" if pair is None else two_lines(turned(pair.difference)),
        "" if pair is None else shown_of(pair),
        two_lines(study.incomplete_share, 100),
        f"{_hops(study.mean_hop_depth)}\n{study.deepest}",
    )


def shown_of(pair: Pair) -> Text:
    """What a pair shows of its second layout.

    Parameters
    ----------
    pair : Pair
        The better placed layout and another. [-]
    """
    verdict = OPPOSITE.get(pair.verdict, pair.verdict)
    word = "more cut off,\nless silent" if verdict is Verdict.MIXED else verdict.value
    aside = f"\nbut for 1 in {pair.leaves_aside}" if pair.leaves_aside else ""
    tone = Tone.GOOD if verdict in OPPOSITE else Tone.PLAIN
    return Text(f"{MARKS[verdict]}{word}{aside}", tone)


def _hops(depth: float) -> str:
    """Mean hop depth; nobody decides by more than two decimals of it."""
    return "none" if math.isnan(depth) else f"{depth:.2f}"


def _things(comparison: Comparison) -> Block:
    """The devices, paths, doors and obstacles on which each layout hangs."""
    rows: list[Row] = []
    for placed in comparison.placed:
        study = placed.study
        blame = comparison.ranked_by.blame(study)
        found = dependences(study, blame, comparison.site.building)
        for position, one in enumerate(found[:TOP_THINGS]):
            if one.share >= LEAST_SHARE or not position:
                name = "" if position else placed.layout.name
                share = f"{100 * one.share:.0f}"
                rows.append((name, one.name, two_digits(one.hours), share, one.happens))
    columns = (
        *words("layout", "hangs on"),
        Column("h", note="cut off a sensor and year while it is away, as far as it is the cause"),
        Column("%", note="of all such hours of the layout"),
        Column("what happens to it", is_text=True),
    )
    return titled("What it hangs on", "", Table(columns, tuple(rows))) if rows else ()


def silence_table(comparison: Comparison) -> Block:
    """Where the hours go for which a sensor is silent, layout by layout.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    rows = []
    for placed in comparison.placed:
        silent = placed.study.silent_hours
        parts = (silent.itself, silent.no_gateway, silent.before_first_route, silent.in_service)
        shown = (two_digits(hours) for hours in (silent.total, *parts))
        rows.append((placed.layout.name, *shown))
    columns = (
        *words("layout"),
        Column("silent, h", note="a sensor and year, for any reason; the columns behind add up"),
        *figures(
            "itself\nfailed", "no gateway\nup", "before its\nfirst way", "cut off\nin service"
        ),
    )
    is_counted = comparison.leader.count_site_outages
    where = "in the ranking" if len(comparison.placed) > 1 else "as cut off"
    note = (
        "Layouts differ in gateways, so time with no gateway up counts as cut off in the ranking."
        if is_counted
        else f"Time with no gateway up does not count {where}."
    )
    return titled("Where silent hours go", note, Table(columns, tuple(rows)))


def years_table(comparison: Comparison) -> Block:
    """A typical year of each layout, batteries only where they can go flat.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    causes = [
        (column, cause)
        for column, cause in counted_columns().items()
        if (column != "battery_deaths" or comparison.site.hazards.battery is not None)
        and (column != SERVICE.column or comparison.site.upkeep.rounds is not None)
    ]
    has_calls = calls_of(comparison.site) is not None
    names = [column for column, _ in causes]
    rows = [_year(placed.study, names, has_calls) for placed in comparison.placed]
    columns = (
        *words("layout"),
        *figures(*((cause.nouns or f"{cause.noun}s").replace(" ", "\n", 1) for _, cause in causes)),
        *figures("repair\nvisits"),
        *(figures("in vain", "hours\nworked") if has_calls else ()),
        Column("moves", note="changes of parent, of all devices together"),
        Column("most cut off\nat once", note="sensors: mean over lifetimes, and in 95 % at most"),
    )
    return titled("A typical year, as simulated", "", Table(columns, tuple(rows)))


def _year(study: Study, columns: Sequence[str], has_calls: bool) -> Row:
    year = study.typical_year
    counts = (*(year.strikes[column] for column in columns), year.visits)
    if has_calls:
        counts = (*counts, year.fruitless, year.worked_h)
    most = f"{study.most_orphans.mean:.2g} / {study.most_orphans_p95.mean:g}"
    moves = study.reparentings_per_year.mean
    return (study.layout, *map(per_year, (*counts, moves)), most)


def _cells(comparison: Comparison) -> Block:
    """The cells that go first, and whether the horizon is long enough to see them go."""
    rows: list[Row] = []
    for placed in comparison.placed:
        found = first_cells(placed.study, placed.layout, FIRST_CELLS)
        for position, one in enumerate(found):
            life = one.life
            rows.append(
                (
                    "" if position else placed.layout.name,
                    one.device,
                    f"{life.mean_months:.0f}",
                    f"{life.least_months:.0f} to {life.most_months:.0f}",
                    "a sensor that others lean on" if one.is_hub else "",
                )
            )
    if not rows:
        return ()
    columns = (
        *words("layout", "device"),
        Column("months", note="of average cells at the mean draw, in their coldest month"),
        Column("range", note="over lifetimes"),
        *words(""),
    )
    return titled("Cells that go first", _unseen_cells(comparison), Table(columns, tuple(rows)))


def _unseen_cells(comparison: Comparison) -> str:
    years = comparison.site.horizon_years
    first_months = min(
        life.mean_months
        for placed in comparison.placed
        for life in placed.study.cell_lives.values()
    )
    if first_months <= MONTHS_PER_YEAR * years:
        return ""
    return (
        f"The horizon of {years:g} years is too short to see them go: what a change of cells "
        "does to the layouts is hardly part of these figures."
    )


def _pairs(comparison: Comparison) -> Block:
    if not comparison.pairs:
        return ()
    rows = []
    for pair in comparison.pairs:
        ahead = f"{round(pair.fewer_orphan_share * pair.n_buildings)} of {pair.n_buildings}"
        names = f"{visible(pair.first)}\nminus {visible(pair.second)}"
        aside = f"\nbut for 1 in {pair.leaves_aside}" if pair.leaves_aside else ""
        verdict = f"{MARKS[pair.verdict]}{pair.verdict.value}{aside}"
        reasons = "\n".join(_reasons(pair, comparison))
        rows.append((names, two_lines(pair.difference), verdict, ahead, reasons))
    columns = (
        Column("layouts", is_text=True),
        Column("difference, h", note="below 0 the first is better"),
        Column("the first is", is_text=True),
        Column("ahead in\nbuildings", note="in which the first has fewer hours"),
        Column("reasons, h", is_text=True, note="they add up to the difference"),
    )
    return titled("Layout against layout", "", Table(columns, tuple(rows)))


def _reasons(pair: Pair, comparison: Comparison) -> Iterator[str]:
    """Yield the largest reasons, and the rest, adding up to the difference as shown."""
    best = figure_parts(pair.difference)[0]
    places = len(best.partition(".")[2])
    named = [one for one in pair.reasons[:TOP_REASONS] if round(one.hours, places)]
    for one in named:
        yield f"{_signed(one.hours, places)} {reason_words(one, comparison.site.building)}"
    rest = float(best.replace(",", "")) - sum(round(one.hours, places) for one in named)
    if round(rest, places):
        yield f"{_signed(rest, places)} all else"
    elif not named:
        yield "none"


def _signed(hours: float, places: int) -> str:
    text = rounded(hours, places)
    return text if text.startswith("-") else f"+{text}"


def made_by(comparison: Comparison) -> Text:
    """What made these figures.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    leader, n_pairs = comparison.leader, len(comparison.pairs)
    levels = f"Bounds are at {100 * LEVEL:.0f} %, those of single layouts each by itself"
    if n_pairs:
        one = 100 * comparison.pairs[0].difference.level_share
        levels += f", those of {counted(n_pairs, 'difference')} together"
        levels += f" ({one:.4g} % each)" * (n_pairs > 1)
    return Text(
        f"Seed {leader.seed}, {counted(leader.n_lifetimes, 'lifetime')} of each layout. {levels}; "
        "they hold at every look and however few lifetimes there are (betting confidence "
        f"sequences){'; a layout shown to be worse plays no further' * bool(n_pairs)}.",
        Tone.QUIET,
    )
