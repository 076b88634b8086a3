"""The tables of ``compare``: the order, the pairs, the worst sensors."""

import math

from resilience.building.site import Kind
from resilience.building.structure import Building
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.running import INTERRUPTED
from resilience.ranking.comparison import Comparison, Placed
from resilience.ranking.pairs import Pair, Verdict
from resilience.report.answers.opening import not_reached, opening, subject_words
from resilience.report.pages import (
    GAP,
    Alert,
    Block,
    Bullets,
    Column,
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
from resilience.report.words import counted, figure_parts, rounded, visible

WORST_SENSORS = 5
TOP_REASONS = 3

VERDICT_MARKS = {
    Verdict.BETTER: "< ",
    Verdict.WORSE: "> ",
    Verdict.ALIKE: "= ",
    Verdict.TOO_CLOSE: "? ",
    Verdict.MIXED: "! ",
}


def comparison_page(comparison: Comparison) -> Page:
    """Return everything that ``compare`` tells, the conclusion first.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    interrupted = "Interrupted: what follows rests on the lifetimes that were complete."
    is_cut = comparison.leader.stopped_because == INTERRUPTED
    notes = comparison.site.notes
    return page(
        Alert(interrupted) if is_cut else (),
        [Alert(sentence) for sentence in not_reached(comparison)],
        *(Text(paragraph) for paragraph in opening(comparison)),
        Bullets("About this site", notes) if notes else (),
        _ranking(comparison),
        _pairs(comparison),
        _sensors(comparison),
        _made_by(comparison),
        cautions(is_surveyed=not comparison.site.radio.predict),
    )


def two_lines(estimate: Estimate, scale: float = 1.0) -> str:
    """Figure with its bounds below it.

    Parameters
    ----------
    estimate : Estimate
        The figure. [unit]
    scale : float
        Factor, 100 to show a share as a percentage. [-]
    """
    return "\n".join(figure_parts(estimate, scale))


def _ranking(comparison: Comparison) -> Block:
    leader = comparison.leader
    is_counted = leader.count_site_outages
    left_out = "with no gateway up too" if is_counted else "times with no gateway up left out"
    columns = (
        Column("rank", note="equal ranks are not told apart"),
        Column("layout\ngateways +\nrepeaters", is_text=True),
        Column(
            "orphan h",
            note=f"works, but has no way to a gateway: hours per sensor and year, {left_out}",
        ),
        Column(
            "orphan h\nless outages" if is_counted else "orphan h\n+ outages",
            note=f"the same, those times {'left out' if is_counted else 'counted'}",
        ),
        Column("dark h", note="silent for any reason"),
        Column("hops mean\nlargest", note="radio steps to the gateway"),
        Column("moves\nper year", note="changes of parent"),
        Column("orphans\nmean most\n95 % point", note="the most at once in a lifetime"),
    )
    rows = [_ranking_row(one, is_counted, leader.n_lifetimes) for one in comparison.placed]
    return titled("Ranking by orphan hours", "", Table(columns, tuple(rows)))


def _ranking_row(placed: Placed, is_counted: bool, n_most: int) -> Row:
    study, layout = placed.study, placed.layout
    other = study.orphan_hours_without_outages if is_counted else study.orphan_hours_with_outages
    devices = f"{len(layout.gateways)} + {len(layout.of_kind(Kind.REPEATER))}"
    if study.n_lifetimes < n_most:  # dropped once it was shown to be worse
        devices += f", {study.n_lifetimes} lifetimes"
    return (
        str(placed.rank),
        f"{visible(layout.name)}\n{devices}",
        two_lines(study.orphan_hours),
        two_lines(other),
        two_lines(study.dark_hours),
        f"{_hops(study.hop_depth)}\n{study.deepest}",
        two_lines(study.reparentings_per_year),
        f"{figure_parts(study.most_orphans)[0]}\n{study.most_orphans_p95.mean:g}",
    )


def _hops(depth: Estimate) -> str:
    """Mean hop depth; nobody decides by more than two decimals of it."""
    return "none" if math.isnan(depth.mean) else f"{depth.mean:.2f}"


def _methods(comparison: Comparison) -> str:
    """How the bounds were made, each way once."""
    ways: dict[str, None] = {}
    for placed in comparison.placed:
        for estimate in (placed.study.orphan_hours, placed.study.dark_hours):
            ways[estimate.method] = None
    return "; ".join(ways)


def _pairs(comparison: Comparison) -> Block:
    if not comparison.pairs:
        return ()
    rows = []
    for pair in comparison.pairs:
        ahead = f"{round(pair.fewer_orphan_share * pair.n_buildings)} of {pair.n_buildings}"
        names = f"{visible(pair.first)}\nminus {visible(pair.second)}"
        reasons = _reasons(pair, comparison.site.building)
        rows.append((names, two_lines(pair.difference), _verdict(pair), ahead, reasons))
    columns = (
        Column("layouts", is_text=True),
        Column(
            "difference\nh per sensor-year",
            note="orphan hours of the first less those of the second on the same luck: below 0 the "
            "first is better",
        ),
        Column("verdict", is_text=True),
        Column("ahead in\nbuildings"),
        Column("reasons, h", is_text=True, note="they add up; the largest are named"),
    )
    return titled("Layout against layout", "", Table(columns, tuple(rows)))


def _verdict(pair: Pair) -> Text:
    tone = Tone.GOOD if pair.verdict is Verdict.BETTER else Tone.PLAIN
    return Text(f"{VERDICT_MARKS[pair.verdict]}{pair.verdict.value}", tone)


def _reasons(pair: Pair, building: Building) -> str:
    """Return the largest reasons, and the rest, adding up to the difference as shown."""
    best = figure_parts(pair.difference)[0]
    places = len(best.partition(".")[2])
    named = [one for one in pair.reasons[:TOP_REASONS] if round(one.hours, places)]
    lines = [f"{_signed(one.hours, places)} {subject_words(one, building)}" for one in named]
    rest = float(best.replace(",", "")) - sum(round(one.hours, places) for one in named)
    if round(rest, places):
        lines.append(f"{_signed(rest, places)} all else")
    return "\n".join(lines) or "none"


def _signed(hours: float, places: int) -> str:
    text = rounded(hours, places)
    return text if text.startswith("-") else f"+{text}"


def _sensors(comparison: Comparison) -> Block:
    rows: list[Row] = []
    for placed in comparison.placed:
        worst = sorted(
            placed.study.sensor_figures,
            key=lambda one: (-one.orphan_share.mean, -one.dark_share.mean),
        )
        for position, sensor in enumerate(worst[:WORST_SENSORS]):
            shares = (sensor.orphan_share, sensor.dark_share, sensor.down_share)
            name = "" if position else placed.layout.name
            rows.append((name, sensor.id, *(_percent(share) for share in shares)))
        rows.append(GAP)
    columns = (
        *words("layout", "sensor"),
        *figures("orphan, % of time", "dark, % of time", "down itself, % of time"),
    )
    return titled("Sensors most often orphaned", "", Table(columns, tuple(rows[:-1])))


def _percent(share: Estimate) -> str:
    best, bounds = figure_parts(share, 100)
    return f"{best} ({bounds})"


def _made_by(comparison: Comparison) -> Block:
    """What made these figures, and the order if hand-over had found the unreached sensors."""
    leader = comparison.leader
    told = [
        f"Seed {leader.seed}, {counted(leader.n_lifetimes, 'lifetime')} of each layout in "
        f"{counted(leader.n_buildings, 'possible building')}; a layout shown to be worse plays no "
        f"further. Bounds: {100 * LEVEL:.0f} %, each by itself ({_methods(comparison)})"
        f"{_level_of_pairs(comparison)}."
    ]
    order = comparison.order_once_reached
    if order != tuple(placed.layout.name for placed in comparison.placed):
        names = ", ".join(visible(name) for name in order)
        told.insert(0, f"Without the hours of sensors never reached the order is {names}.")
    return tuple(Text(sentence, Tone.QUIET) for sentence in told)


def _level_of_pairs(comparison: Comparison) -> str:
    n_pairs = len(comparison.pairs)
    if n_pairs < 2:
        return ""
    each = 100 * comparison.pairs[0].difference.level_share
    return f"; all {n_pairs} pairs together {100 * LEVEL:.0f} %, so each {each:.4g} %"
