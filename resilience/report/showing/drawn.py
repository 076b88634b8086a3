"""A layout as pictures of the building: what carries, who is silent, where all ways meet."""

from resilience.building.site import Device, Kind
from resilience.connectivity.rows import Link
from resilience.montecarlo.figures import SensorFigures
from resilience.report.answers.plan import figures_of, ways_of, what_words, where_words
from resilience.report.binding.document import Piece
from resilience.report.drawing.marks import Figure, Mark, hole_of
from resilience.report.drawing.strokes import CARRYING, Installed, Stroke, Weight, carrying
from resilience.report.pages import Alert, Heading, Text
from resilience.report.showing.facts import Within
from resilience.report.words import counted, figure, listed, visible

MOST_PARENTS, MOST_SOLES = 3, 6
LEAST_SHARE = min(CARRYING.values())  # below which a link carries next to nothing


def pictures(within: Within) -> tuple[Piece, ...]:
    """Plans and section of one layout.

    Parameters
    ----------
    within : Within
        The layout. [-]
    """
    figures = figures_of(_installed(within))
    lead = Text(
        "Lines say how often a link carries: for which share of the time one of its ends passes "
        f"its readings to the other. {within.told_from} A sensor's sign is the more open, the more "
        "of the time it is silent for any reason."
    )
    return (
        Heading("Where it hangs, and who carries"),
        lead,
        *(Alert(sentence) for sentence in _soles(within)),
        *(_named(one, within.name) for one in figures),
    )


def _named(figure: Figure, layout: str) -> Figure:
    """Picture whose title says of which layout it is."""
    title = f"{figure.title}, layout {visible(layout)}"
    return Figure(title, figure.about, figure.width, figure.height, figure.drawn, figure.notes)


def _soles(within: Within) -> list[str]:
    """What is said of devices that all ways of some sensors lead through."""
    n_sensors = len(within.study.sensors)
    told = [
        f"All ways of {listed(behind) if len(behind) < n_sensors else 'all sensors'} lead through "
        f"{visible(id)} (corners round its sign): without it they are silent."
        for id, behind in list(within.soles.items())[:MOST_SOLES]
    ]
    n_more = len(within.soles) - MOST_SOLES
    return [*told, f"So it is with {counted(n_more, 'more device')}."] if n_more > 0 else told


def _installed(within: Within) -> Installed:
    links = within.links
    strokes = tuple(_stroke(link, share) for link, share in within.carrying(LEAST_SHARE))
    figures = {one.id: one for one in within.study.sensor_figures}
    ways = ways_of(links)
    marks = tuple(
        _mark(within, one, figures.get(one.id), ways.get(one.id, "")) for one in links.devices
    )
    return Installed(links.building, marks, strokes)


def _stroke(link: Link, share: float) -> Stroke:
    """Line of a link; what it is, the page tells from the table of links that carry."""
    weight, label = carrying(share) or Weight.SELDOM, f"{100 * share:.0f}"
    return Stroke(link.id, link.a, link.b, weight, link.measured, label, told="")


def _mark(within: Within, device: Device, found: SensorFigures | None, ways: str) -> Mark:
    parents = [
        f"{visible(parent)} {100 * share:.0f} %"
        for parent, share in within.parents_of(device.id)[:MOST_PARENTS]
        if share >= LEAST_SHARE
    ]
    told = [f"{device.id}, {what_words(device)}{where_words(device)}"]
    if found is not None:
        told.append(
            f"silent {figure(found.dark_share, 100)} % of the time, cut off "
            f"{figure(found.orphan_share, 100)} %"
        )
    if parents:
        told.append(f"sends to {', '.join(parents)} of the time")
    behind = within.soles.get(device.id)
    if behind:
        told.append(f"all ways of {listed(behind)} lead through it")
    standby = device.kind is Kind.GATEWAY and device.standby
    hole = hole_of(found.dark_share.mean) if found else 0.0
    return Mark(
        device.id,
        device.kind,
        device.place,
        "; ".join(told),
        ways,
        standby,
        is_sole=bool(behind),
        hole=hole,
    )
