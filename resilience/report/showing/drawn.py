"""A layout as pictures of the building: what carries, who is silent, where all ways meet."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from resilience.building.site import Device, Kind
from resilience.connectivity.rows import Link
from resilience.montecarlo.figures import SensorFigures
from resilience.remedies.fragile.bottlenecks import Point
from resilience.report.answers.plan import (
    figures_of,
    sole_words,
    soles_of,
    ways_of,
    what_words,
    where_words,
)
from resilience.report.binding.document import Piece
from resilience.report.drawing.marks import Figure, Mark, hole_of
from resilience.report.drawing.strokes import CARRYING, Installed, Stroke, Weight, carrying
from resilience.report.legend import SOLE_PERCENT
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
        f"Single point of failure: all ways of "
        f"{listed(behind) if len(behind) < n_sensors else 'all sensors'} lead through "
        f"{visible(id)} (corners round its sign); without it they are silent."
        for id, behind in list(within.soles.items())[:MOST_SOLES]
    ]
    n_more = len(within.soles) - MOST_SOLES
    return [*told, f"So it is with {counted(n_more, 'more device')}."] if n_more > 0 else told


@dataclass(frozen=True, slots=True)
class _Points:
    """Single points of failure of a layout.

    Parameters
    ----------
    soles : dict of tuple of str by str
        As drawn: sensors whose every way leads through a device, by the device. [-]
    at_times : dict of float by str
        Share of possible buildings in which another device is one, where that is worth a mark. [-]
    paths : frozenset of str
        Links that are one as drawn. [-]
    """

    soles: Mapping[str, tuple[str, ...]]
    at_times: Mapping[str, float]
    paths: frozenset[str]

    def words(self, id: str) -> tuple[str, ...]:
        """What is told of a device; empty where it is none."""
        if id in self.soles:
            return (sole_words(self.soles[id]),)
        if id in self.at_times:
            share = f"{100 * self.at_times[id]:.2g}"
            return (f"single point of failure in {share} % of possible buildings",)
        return ()


def _points(within: Within) -> _Points:
    found = within.weakness.bottlenecks.points if within.weakness else ()
    soles = soles_of(within.links, within.routes)
    devices = [one for one in found if one.kind is Point.DEVICE and one.id not in soles]
    shares = {one.id: one.building_share.mean for one in devices}
    return _Points(
        soles,
        {id: share for id, share in shares.items() if 100 * share >= SOLE_PERCENT},
        frozenset(one.id for one in found if one.kind is Point.LINK and one.as_drawn),
    )


def _installed(within: Within) -> Installed:
    links, points = within.links, _points(within)
    strokes = tuple(
        _stroke(link, share, link.id in points.paths)
        for link, share in within.carrying(LEAST_SHARE)
    )
    figures = {one.id: one for one in within.study.sensor_figures}
    ways = ways_of(links)
    marks = tuple(
        replace(_mark(within, one, figures.get(one.id), points), ways=ways.get(one.id, ""))
        for one in links.devices
    )
    return Installed(links.building, marks, strokes)


def _stroke(link: Link, share: float, is_sole: bool) -> Stroke:
    """Line of a link; what it is, the page tells from the table of links that carry."""
    weight, label = carrying(share) or Weight.SELDOM, f"{100 * share:.0f}"
    return Stroke(link.id, link.a, link.b, weight, link.measured, label, "", is_sole=is_sole)


def _mark(within: Within, device: Device, found: SensorFigures | None, points: _Points) -> Mark:
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
    told += points.words(device.id)
    standby = device.kind is Kind.GATEWAY and device.standby
    hole = hole_of(found.dark_share.mean) if found else 0.0
    return Mark(
        device.id,
        device.kind,
        device.place,
        "; ".join(told),
        is_standby=standby,
        is_sole=device.id in points.soles,
        is_sole_at_times=device.id in points.at_times,
        hole=hole,
    )
