"""What has to be said of single layouts beside the order."""

from collections.abc import Sequence

from resilience.ranking.comparison import Comparison
from resilience.report.comparing.opening import MOST_NAMED
from resilience.report.words import counted, listed, visible


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
