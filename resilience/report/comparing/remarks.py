"""What has to be said of single layouts beside the order."""

import math
from collections.abc import Iterator, Sequence

from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.splitting.runs import RUNS
from resilience.ranking.comparison import Comparison, Placed
from resilience.ranking.seldom.hours import SeldomHours
from resilience.ranking.seldom.order import Against, SeldomOrder
from resilience.report.comparing.opening import MOST_NAMED
from resilience.report.pages import Row
from resilience.report.words import at_least, at_most, counted, listed, two_digits, visible

SMALL_H = 1e-4  # hours below which powers of ten are told


def copies(comparison: Comparison) -> tuple[str, ...]:
    """Return one sentence for each layout that is a copy of another.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    found: dict[object, list[str]] = {}
    for placed in comparison.placed:
        layout = placed.layout
        found.setdefault((layout.devices, layout.links), []).append(layout.name)
    return tuple(
        f"{listed(sorted(names))} are copies: the same devices at the same places."
        for names in found.values()
        if len(names) > 1
    )


def incomplete(comparison: Comparison) -> tuple[str, ...]:
    """Return one sentence for each layout that does not come up as drawn in some buildings.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    sentences = []
    for placed in comparison.placed:
        study = placed.study
        n_buildings = round(study.incomplete_share.mean * study.n_buildings)
        if n_buildings:
            sentences.append(
                f"Layout {visible(study.layout)} does not come up as drawn in {n_buildings} of "
                f"{counted(study.n_buildings, 'possible building')}: some sensor never finds a "
                f"way to a gateway (first {listed(study.not_reached, MOST_NAMED)})."
            )
    return tuple(sentences)


def rare_losses(comparison: Comparison) -> Sequence[str]:
    """Return one sentence for each layout with losses too large and rare for the bounds.

    So may be those of a layout that showed none at all.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    sentences = []
    for placed in comparison.placed:
        hours = comparison.hours(placed.study)
        beyond = hours.beyond
        if beyond is not None and beyond.n_seen:
            most = comparison.ranked_by.hours(placed.study).max()
            sentences.append(
                f"With {visible(placed.layout.name)} {beyond.n_seen} of {beyond.n_units} possible "
                f"buildings lose more than {beyond.caps.largest:,.0f} h a sensor and year (up to "
                f"{most:,.0f} h; at most {100 * beyond.share.high:.2g} % of all); bounds count "
                "each of them as that much."
            )
        elif beyond is not None and not hours.mean:
            sentences.append(
                f"With {visible(placed.layout.name)} no loss was seen: its bounds leave aside up "
                f"to {100 * beyond.share.high:.2g} % of possible buildings, and each of those may "
                "lose any number of hours. They do not show that nothing is lost."
            )
    return sentences


def dominated(comparison: Comparison) -> tuple[str, ...]:
    """Return one sentence for each layout beside which another is both better and no dearer.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    return tuple(
        f"{visible(better)} is shown to be more robust than {visible(worse)} and costs no more, "
        "neither to install nor, on average, to keep up."
        for worse, better in comparison.dominated.items()
    )


def seldom_rows(seldom: SeldomOrder | None, placed: Placed, n_columns: int) -> Iterator[Row]:
    """Yield the line below a layout's row of the ranking, where its hours were split.

    Parameters
    ----------
    seldom : SeldomOrder or None
        Hours by splitting; None where there is none. [-]
    placed : Placed
        The layout. [-]
    n_columns : int
        Of the table: rank, layout and hours first. [-]
    """
    one = seldom.of(placed.layout.name) if seldom is not None else None
    if one is not None and one.found.is_told:
        hours = f"{two_digits(one.found.estimate.mean)}\n{_interval(one.found.estimate)}"
        told = ("", "by splitting, under\nthe assumed rates", hours)
        yield (*told, *("" for _ in range(n_columns - len(told))))


def seldom_words(seldom: SeldomOrder | None) -> Iterator[str]:
    """Yield one sentence or more for each layout whose hours were split.

    Parameters
    ----------
    seldom : SeldomOrder or None
        Hours by splitting; None where there is none. [-]
    """
    for one in seldom.hours if seldom is not None else ():
        is_predicted = seldom is not None and seldom.comparison.site.radio.predict
        found = f"{_found(one)}{_holds(one, is_predicted)}{_order(seldom, one)}"
        yield f"With {visible(one.layout)} {found}"


def _interval(hours: Estimate) -> str:
    """Both ends, rounded outward, as few digits as the mean has."""
    if hours.low >= SMALL_H:
        return f"{at_least(hours.low)} to {at_most(hours.high)}"
    low, high = (
        f"{turn(value / unit) * unit:.2g}" if (unit := _unit(value)) else "0"
        for turn, value in ((math.floor, hours.low), (math.ceil, hours.high))
    )
    return f"{low} to {high}"


def _unit(value: float) -> float:
    """Place of the second digit; 0 of nothing."""
    return 10.0 ** (math.floor(math.log10(value)) - 1) if value > 0 else 0.0


def _found(one: SeldomHours) -> str:
    if not one.found.is_told:
        return (
            f"splitting came to nothing: {one.found.why_not_told}. How little is lost stays open."
        )
    hours = one.found.estimate
    level = f"{100 * hours.level_share:.4g} %"
    return (
        f"loss was seen in {one.n_seen} of {counted(one.n_plain, 'possible building')}; by "
        f"splitting a sensor is cut off for {two_digits(hours.mean)} h a year "
        f"({_interval(hours)}) under the assumed rates ({level} interval of {RUNS} independent "
        "runs, no bound of finite samples)."
    )


def _holds(one: SeldomHours, is_predicted: bool) -> str:
    """For which buildings."""
    if not one.found.is_told:
        return ""
    if not is_predicted:
        return (
            " No link is predicted: it holds for this building, within what its links leave open."
        )
    return (
        f" It holds over possible buildings, of which the runs drew {one.n_buildings:,}: a kind of "
        "building that is rarer was not seen."
    )


def _order(seldom: SeldomOrder | None, one: SeldomHours) -> str:
    """What it means for the order."""
    if seldom is None or not one.found.is_told:
        return ""
    against = seldom.against(one)
    clauses = []
    for shown in Against:
        names = [visible(name) for name, found in against.items() if found is shown]
        if names:
            word = "against" if shown is Against.TOO_CLOSE else "than"
            clauses.append(f"{shown.value} {word} {listed(names)}")
    return f" By these intervals it is {'; '.join(clauses)}." if clauses else ""
