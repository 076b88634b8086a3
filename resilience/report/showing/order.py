"""Layouts beside each other: their order, the promise, where the silent hours go."""

import math
from collections.abc import Iterator

from resilience.montecarlo.estimates import TOO_FEW, Estimate
from resilience.policy.judgement import Judged, Judgement
from resilience.ranking.comparison import Placed
from resilience.report.binding.document import Chapter, Listing, Piece, listed_block
from resilience.report.charts.steps import Axes, Curve, Dot, steps
from resilience.report.charts.whiskers import Whisker, whiskers
from resilience.report.comparing.ranking import shown_of, silence_table
from resilience.report.pages import Bullets, Column, Row, Table, Text, words
from resilience.report.promised.judging import frontier_table, verdicts_table
from resilience.report.showing.conclusion import promise_sentences
from resilience.report.showing.facts import Shown, bound_cells, n_repeaters
from resilience.report.words import figure, listed, turned, visible

LEAST_SHARE = 1e-9


def whisker(label: str, estimate: Estimate, what: str, scale: float = 1.0) -> Whisker:
    """Row of a chart for a figure, without bounds where so few lifetimes prove nothing.

    Parameters
    ----------
    label : str
        What it is of. [-]
    estimate : Estimate
        The figure. [unit]
    what : str
        What it counts, with its unit. [-]
    scale : float
        Factor, 100 to show a share as a percentage. [-]
    """
    has_bounds = estimate.method != TOO_FEW
    mean, low, high = (scale * one for one in (estimate.mean, estimate.low, estimate.high))
    shown = figure(estimate, scale)
    if not has_bounds:
        low = high = mean
    return Whisker(label, mean, low, high, shown, f"{visible(label)}: {shown} {what}")


def order_chapter(shown: Shown) -> Chapter:
    """Chapter of the order of the layouts.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    comparison = shown.comparison
    what = "hours a year that a sensor is cut off: it works but has no way to a gateway"
    rows = [
        whisker(f"{one.rank}. {one.layout.name}", comparison.hours(one.study), "h a year")
        for one in comparison.placed
    ]
    chart = whiskers("Layouts by hours cut off", "hours cut off, of a sensor in a year", rows)
    lead = Text(
        f"By {what}. Layouts of one rank are not told apart; a dot is the best value, the "
        "line through it says how far chance in the lifetimes played can reach."
    )
    return Chapter(
        "Which layout",
        (lead, chart, _ranking(shown), *_at_once(shown), *listed_block(silence_table(comparison))),
    )


def _ranking(shown: Shown) -> Listing:
    columns = (
        Column("rank", note="equal ranks are not told apart"),
        *words("layout"),
        Column("gateways"),
        Column("repeaters"),
        Column("cut off, h", note="of a sensor in a year"),
        Column("at least", note="what chance in the lifetimes played leaves open, at 95 %"),
        Column("at most"),
        Column("more than\nrank 1, h", note="on the same luck, with bounds for all at once"),
        Column("from"),
        Column("to"),
        Column("shown to be", is_text=True, note="against the layout in the first row"),
        Column(
            "not as\ndrawn, %", note="possible buildings in which some sensor never finds a way"
        ),
        Column("hops", note="radio steps to the gateway, mean over time"),
        Column("most\nhops"),
        Column("lifetimes"),
    )
    rows = tuple(_row(shown, one) for one in shown.comparison.placed)
    return Listing("Ranking", Table(columns, rows))


def _row(shown: Shown, placed: Placed) -> Row:
    comparison, study, layout = shown.comparison, placed.study, placed.layout
    pair = None
    if study is not comparison.leader:
        pair = comparison.pair(comparison.leader.layout, layout.name)
    depth = study.mean_hop_depth
    more = ("", "", "") if pair is None else bound_cells(turned(pair.difference))
    return (
        str(placed.rank),
        layout.name,
        str(len(layout.gateways)),
        str(n_repeaters(placed)),
        *bound_cells(comparison.hours(study)),
        *more,
        "" if pair is None else shown_of(pair),
        bound_cells(study.incomplete_share, 100)[0],
        "" if math.isnan(depth) else f"{depth:.2f}",
        str(study.deepest),
        str(study.n_lifetimes),
    )


def _at_once(shown: Shown) -> list[Piece]:
    """How many sensors are cut off at once, against the share of the time."""
    curves = []
    for one in shown.layouts:
        most = max(one.retold.at_once_share, default=0)
        dots = [
            Dot(
                n,
                100 * share,
                f"{visible(one.name)}: {n} or more at once {100 * share:.2g} % of the time",
            )
            for n in range(1, most + 1)
            if (share := one.retold.above_share(n)) > LEAST_SHARE
        ]
        curves.append(Curve(one.name, tuple(dots)))
    told_from = _told_from(shown)
    if not any(curve.dots for curve in curves):
        return [Text(f"No sensor was ever cut off in the lifetimes told. {told_from}")]
    never = [visible(curve.name) for curve in curves if not curve.dots]
    nobody = f" With {listed(never)} nobody was ever cut off in them." if never else ""
    across = "so many sensors or more cut off at once"
    axes = Axes(across, "% of the time", up_is_log=True, note=f"{told_from}{nobody}")
    return [steps("How many sensors at once", axes, curves)]


def _told_from(shown: Shown) -> str:
    """What the curves rest on: said once for all layouts of which it is the same."""
    names: dict[str, list[str]] = {}
    for one in shown.layouts:
        names.setdefault(one.told_from, []).append(one.name)
    if len(names) == 1:
        return next(iter(names))
    return " ".join(f"{listed(some, most=len(some))}: {told}" for told, some in names.items())


def promise_chapter(shown: Shown) -> tuple[Chapter, ...]:
    """Chapter of the promise, if there is one.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    judgement = shown.judgement
    if judgement is None:
        return ()
    pieces: list[Piece] = [Text(one) for one in promise_sentences(shown)]
    if judgement.cautions:
        pieces.append(Bullets("Before you sign", judgement.cautions))
    pieces += listed_block(verdicts_table(judgement))
    pieces += _frontier(judgement)
    pieces += listed_block(frontier_table(judgement))
    return (Chapter("The promise", tuple(pieces)),)


def _frontier(judgement: Judgement) -> list[Piece]:
    n_sensors = len(judgement.judged[0].study.sensors)
    curves = [Curve(one.layout, tuple(_promises(one))) for one in judgement.judged]
    if not any(curve.dots for curve in curves):
        return []
    axes = Axes(
        "for longer than so many hours",
        "sensors lost at once",
        across_is_log=True,
        up_most=float(n_sensors),
        note="Full signs: a promise of so many, or of more, is shown to hold. Open signs: one of "
        "so many, or of fewer, is shown to be broken. In between these lifetimes do not tell.",
    )
    return [steps("What could be promised, by duration", axes, curves)]


def _promises(one: Judged) -> Iterator[Dot]:
    """Yield for each duration what is shown to hold, and what is shown to be broken."""
    name = visible(one.layout)
    for step in one.frontier:
        span_words = f"for longer than {step.longer_than_h:g} h"
        if step.promised is not None:
            told = f"{name}: never more than {step.promised} lost at once {span_words} holds"
            yield Dot(step.longer_than_h, float(step.promised), told)
        if step.refuted is not None:
            told = f"{name}: never more than {step.refuted} lost at once {span_words} is broken"
            yield Dot(step.longer_than_h, float(step.refuted), told, is_open=True)
