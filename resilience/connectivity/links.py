"""The link table of a layout: predicted through what is drawn, overridden by what is measured."""

import math
from collections.abc import Iterator, Mapping
from operator import attrgetter

import numpy as np

from resilience.building.settings import Radio
from resilience.building.site import Device, GivenLink, Layout, Site
from resilience.connectivity.prediction import Course, courses
from resilience.connectivity.reach import CUT_DB, Pair, Reach, reach_of
from resilience.connectivity.reception import reception_curve
from resilience.connectivity.table import Heard, Link, LinkTable, usable_from_dbm
from resilience.units import db_from_cdb

__all__ = ["CUT_DB", "Heard", "Link", "LinkTable", "link_table", "links", "usable_from_dbm"]

CERTAIN_PRR = 0.999  # no measurement tells more than that from 1

Rows = tuple[GivenLink, GivenLink]  # what was measured there and back


def links(site: Site, layout: Layout | str) -> LinkTable:
    """Who hears whom in one layout of a site.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : Layout or str
        One of its layouts, or its name. [-]

    Raises
    ------
    UsageError
        The site has no layout of that name.
    """
    return link_table(site, site.layout(layout) if isinstance(layout, str) else layout)


def link_table(site: Site, layout: Layout) -> LinkTable:
    """Every link of a layout that is measured, or predicted within ``CUT_DB`` of usable.

    Gateways never link to each other: none relays for another. A measured reception ratio of 0, in
    either direction, is no link, unless something in the way was changed while it was measured.

    Parameters
    ----------
    site : Site
        Building, radio and routing. [-]
    layout : Layout
        Devices and measured links. [-]
    """
    reach = reach_of(site, sorted(layout.devices, key=lambda device: device.id))
    given = _given(layout, reach)
    found = [_link(reach, pair, course, given.get(pair)) for pair, course in _courses(reach, given)]
    found += [
        _link(reach, pair, Course(), rows)
        for pair, rows in given.items()
        if not reach.is_placed(pair)
    ]
    kept = sorted((link for link in found if link), key=attrgetter("a", "b"))
    return LinkTable(layout, site.radio, site.routing, site.building, tuple(kept), site.calibration)


def _given(layout: Layout, reach: Reach) -> dict[Pair, Rows]:
    """What was measured between devices that may link; a missing direction takes the other's."""
    rows = {device.id: row for row, device in enumerate(reach.devices)}
    heard = {
        (rows[link.a], rows[link.b]): link
        for link in layout.links
        if link.prr is not None or link.rssi_dbm is not None
    }
    return {
        (a, b): (heard.get((a, b)) or heard[b, a], heard.get((b, a)) or heard[a, b])
        for a, b in sorted({(min(pair), max(pair)) for pair in heard})
        if not (reach.is_gateway[a] and reach.is_gateway[b])
    }


def _courses(reach: Reach, given: Mapping[Pair, Rows]) -> Iterator[tuple[Pair, Course]]:
    """Every measured path, and every other that something may be heard over."""
    measured = [pair for pair in given if reach.is_placed(pair)]
    ends, spare_db = np.array(measured, np.int64).reshape(-1, 2), np.full(len(measured), math.inf)
    if reach.site.radio.predict:
        others, others_db = reach.pairs(given)
        ends, spare_db = np.concatenate((ends, others)), np.concatenate((spare_db, others_db))
    return courses(reach, ends, spare_db)


def _link(reach: Reach, pair: Pair, course: Course, rows: Rows | None) -> Link | None:
    """Link as measured, else as predicted; None beyond the cut, or where it was tried in vain."""
    a, b = reach.devices[pair[0]], reach.devices[pair[1]]
    told = () if rows is None else _told(reach.site, course, rows)
    if told:
        if any(row.prr == 0 for row, _ in told):
            return None
        there = _as_drawn(*told[0], b, reach.site.radio)
        back = _as_drawn(*told[-1], a, reach.site.radio)
    else:
        if course.strengths_dbm is None:
            return None
        there_dbm, back_dbm = course.strengths_dbm
        if there_dbm <= reach.least_dbm[pair[1]] and back_dbm <= reach.least_dbm[pair[0]]:
            return None
        there = Heard(there_dbm, there_dbm, b.model.receive_floor_dbm)
        back = Heard(back_dbm, back_dbm, a.model.receive_floor_dbm)
    return Link(
        f"{a.id}~{b.id}",
        a.id,
        b.id,
        course.distance_m,
        course.open_loss_db,
        course.hindrances,
        there,
        back,
        bool(told),
        course.strengths_dbm,
        course.correction_db,
    )


def _told(site: Site, course: Course, rows: Rows) -> tuple[tuple[GivenLink, float], ...]:
    """What was measured there and back, each with what something changed took from it then.

    What was not heard through something that was changed says nothing of the path as drawn.
    """
    changing = site.building.changing
    standing = {one.id for one in course.hindrances} & changing.keys()
    told = []
    for row in rows:
        taken_db = sum((changing[id].adds_db for id in row.changed if id in standing), 0.0)
        if row.prr != 0 or taken_db == 0:
            told.append((row, taken_db))
    return tuple(told)


def _as_drawn(given: GivenLink, taken_db: float, receiver: Device, radio: Radio) -> Heard:
    """One direction as it would have been measured with everything as drawn."""
    curve, prr = reception_curve(radio), given.prr
    heard_dbm = given.rssi_dbm if prr is None else db_from_cdb(curve.rssi_cdbm(prr))
    rssi_dbm = heard_dbm if given.rssi_dbm is None else given.rssi_dbm
    assert heard_dbm is not None  # one of the two was measured
    assert rssi_dbm is not None
    if prr is not None and prr >= CERTAIN_PRR and given.rssi_dbm is not None:
        certain_dbm = db_from_cdb(curve.rssi_cdbm(CERTAIN_PRR))
        heard_dbm = max(rssi_dbm, certain_dbm)  # that all arrived does not bound it from above
    floor_dbm = receiver.model.receive_floor_dbm
    return Heard(rssi_dbm + taken_db, heard_dbm + taken_db, floor_dbm)
