"""The links of a site: predicted through what is drawn, overridden by what is measured."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from resilience.building.settings import DeviceModel, Radio
from resilience.building.site import Device, GivenLink, Kind, Layout, Place, Site
from resilience.connectivity.prediction import Courses, courses
from resilience.connectivity.reach import CUT_DB, Reach, reach_of
from resilience.connectivity.reception import reception_curve
from resilience.connectivity.table import (
    Flags,
    Floats,
    Heard,
    Ints,
    Link,
    LinkTable,
    usable_from_dbm,
)
from resilience.units import db_from_cdb

__all__ = [
    "CUT_DB",
    "Heard",
    "Link",
    "LinkTable",
    "SiteTable",
    "link_table",
    "links",
    "site_table",
    "usable_from_dbm",
]

CERTAIN_PRR = 0.999  # no measurement tells more than that from 1

Pair = tuple[int, int]  # rows of two devices in order of their ids, the lesser first
Rows = tuple[GivenLink, GivenLink]  # what was measured there and back
Hung = tuple[str, Kind, Place | None, DeviceModel]  # what of a device bears on its links


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
    return site_table(site, (layout,)).of(layout)


@dataclass(frozen=True, eq=False)
class SiteTable:
    """Every path between devices that hang together in some layout, each predicted once.

    A device that hangs at two places, or is another model elsewhere, stands here twice.

    Parameters
    ----------
    site : Site
        Building, radio and routing. [-]
    reach : Reach
        The devices. [-]
    row : dict of int by Hung
        Row of each device. [-]
    is_together : Flags
        Shape (devices, devices): whether a pair is in some layout. [-]
    paths : Courses
        Paths that something may be heard over, and all that are measured in some layout, in order
        of their ends. [-]
    is_heard : Flags
        Shape (paths,): whether a path is a link as predicted. [-]
    """

    site: Site
    reach: Reach
    row: dict[Hung, int]
    is_together: Flags
    paths: Courses
    is_heard: Flags

    def of(self, layout: Layout) -> LinkTable:
        """Return the links of one layout.

        Parameters
        ----------
        layout : Layout
            One of those that the table was made of, or some of its devices; any links may be
            measured that are so in one of them. [-]

        Raises
        ------
        ValueError
            The layout has a pair of devices that none of those has.
        """
        layout = replace(layout, devices=_in_order(layout.devices))
        here = self._places(layout)
        told = _measured(self, layout)
        is_kept = self.is_heard.copy()
        is_kept[told.paths], is_kept[told.in_vain] = True, False
        (rows,) = np.nonzero(is_kept & (here[self.paths.ends] >= 0).all(axis=1))
        taken, places = self.paths.taken(rows), np.searchsorted(rows, told.paths)
        is_measured = np.zeros(len(rows), np.bool_)
        is_measured[places] = True
        rssi_dbm, heard_dbm = taken.strengths_dbm.copy(), taken.strengths_dbm.copy()
        rssi_dbm[places], heard_dbm[places] = np.moveaxis(told.strengths_dbm, 2, 0)
        return LinkTable(
            layout,
            self.site.radio,
            self.site.routing,
            self.site.building,
            self.site.calibration,
            here[taken.ends],
            taken.distance_m,
            taken.open_loss_db,
            rssi_dbm,
            heard_dbm,
            self.reach.floor_dbm[taken.ends[:, ::-1]],
            is_measured,
            np.where(is_measured, self.site.radio.survey_spread_db, math.nan),
            taken.strengths_dbm,
            taken.correction_db,
            taken.hindrances,
        )

    def path(self, ends: Ints) -> Ints:
        """Rows of paths.

        Parameters
        ----------
        ends : Ints
            Shape (paths, 2): rows of their devices. [-]
        """
        return np.searchsorted(_keys(self.reach, self.paths.ends), _keys(self.reach, ends))

    def _places(self, layout: Layout) -> Ints:
        """Row in a layout of each device of the site; -1 for one that it has not."""
        rows = [self.row.get(_hung(device), -1) for device in layout.devices]
        if -1 in rows or not self.is_together[np.ix_(rows, rows)].all():
            raise ValueError(f"layout {layout.name} joins devices that no layout of the site has")
        here = np.full(len(self.reach.devices), -1, np.int64)
        here[rows] = np.arange(len(rows))
        return here


def site_table(site: Site, layouts: Sequence[Layout] | None = None) -> SiteTable:
    """Predict every pair of devices of some layouts once.

    Parameters
    ----------
    site : Site
        Building, radio and routing. [-]
    layouts : sequence of Layout or None
        These; None takes all of the site's. [-]
    """
    layouts = site.layouts if layouts is None else layouts
    devices = _in_order({_hung(one): one for layout in layouts for one in layout.devices}.values())
    row = {_hung(device): n for n, device in enumerate(devices)}
    is_in = np.zeros((len(layouts), len(devices)), np.float32)
    for n, layout in enumerate(layouts):
        is_in[n, [row[_hung(device)] for device in layout.devices]] = 1
    reach, is_together = reach_of(site, devices), is_in.T @ is_in > 0
    tried = {pair for layout in layouts for pair in _given(layout, row)}
    paths, is_heard = _paths(reach, is_together, np.array(sorted(tried), np.int64).reshape(-1, 2))
    return SiteTable(site, reach, row, is_together, paths, is_heard)


def _paths(reach: Reach, is_together: Flags, tried: Ints) -> tuple[Courses, Flags]:
    """Every path that is measured or that something may be heard over, and whether it is."""
    is_placed = reach.is_placed[tried].all(axis=1)
    unplaced, tried = tried[~is_placed], tried[is_placed]
    ends, spare_db = np.zeros((0, 2), np.int64), np.zeros(0)
    if reach.site.radio.predict:
        ends, spare_db = reach.pairs(is_together)
    far = tried[~np.isin(_keys(reach, tried), _keys(reach, ends))]
    ends = np.concatenate((ends, far))
    spare_db = np.concatenate((spare_db, np.full(len(far), -math.inf)))
    order = np.argsort(_keys(reach, ends))
    ends, spare_db = ends[order], spare_db[order]
    keys = _keys(reach, ends)
    wanted_db = np.where(np.isin(keys, _keys(reach, tried)), math.inf, spare_db)
    found = courses(reach, ends, wanted_db)
    spare_db = spare_db[np.searchsorted(keys, _keys(reach, found.ends))]
    is_heard = (found.strengths_dbm > reach.least_dbm[found.ends[:, ::-1]]).any(axis=1)
    is_heard &= found.hindrances.total_db <= spare_db
    if len(unplaced):
        found = found.with_unplaced(unplaced)
        order = np.argsort(_keys(reach, found.ends))
        found = found.taken(order)
        is_heard = np.append(is_heard, np.zeros(len(unplaced), np.bool_))[order]
    return found, is_heard


def _keys(reach: Reach, ends: Ints) -> Ints:
    """One number for each pair, in their order."""
    return ends[:, 0] * len(reach.devices) + ends[:, 1]


def _in_order(devices: Iterable[Device]) -> tuple[Device, ...]:
    return tuple(sorted(devices, key=attrgetter("id")))


def _hung(device: Device) -> Hung:
    return device.id, device.kind, device.place, device.model


def _given(layout: Layout, row: Mapping[Hung, int]) -> dict[Pair, Rows]:
    """What was measured between devices that may link; a missing direction takes the other's."""
    rows = {device.id: row[_hung(device)] for device in layout.devices}
    gateways = {rows[device.id] for device in layout.gateways}
    heard = {
        (rows[link.a], rows[link.b]): link
        for link in layout.links
        if link.prr is not None or link.rssi_dbm is not None
    }
    return {
        (a, b): (heard.get((a, b)) or heard[b, a], heard.get((b, a)) or heard[a, b])
        for a, b in sorted({(min(pair), max(pair)) for pair in heard})
        if not (a in gateways and b in gateways)
    }


class _Told(NamedTuple):
    """What the measurements of a layout say of its paths.

    Parameters
    ----------
    paths : list of int
        Rows of the paths that are links, in order. [-]
    strengths_dbm : Floats
        Shape (paths, 2, 2): there and back, strength and what stands for reception. [dBm]
    in_vain : list of int
        Rows of the paths that were tried and not heard. [-]
    """

    paths: list[int]
    strengths_dbm: Floats
    in_vain: list[int]


def _measured(table: SiteTable, layout: Layout) -> _Told:
    """What the measurements of one layout say of its paths as drawn."""
    given, radio = _given(layout, table.row), table.site.radio
    paths = table.path(np.array(list(given), np.int64).reshape(-1, 2)).tolist()
    found, in_vain = {}, []
    for path, rows in zip(paths, given.values(), strict=True):
        told = _told(table, path, rows)
        if any(row.prr == 0 for row, _ in told):
            in_vain.append(path)
        elif told:
            found[path] = [_as_drawn(*told[way], radio) for way in (0, -1)]
    strengths_dbm = np.array(list(found.values()), np.float64).reshape(-1, 2, 2)
    return _Told(list(found), strengths_dbm, in_vain)


def _told(table: SiteTable, path: int, rows: Rows) -> tuple[tuple[GivenLink, float], ...]:
    """What was measured there and back, each with what something changed took from it then.

    What was not heard through something that was changed says nothing of the path as drawn.
    """
    if not any(row.changed for row in rows):
        return tuple((row, 0.0) for row in rows)
    changing = table.site.building.changing
    standing = {one.id for one in table.paths.hindrances.of(path)} & changing.keys()
    told = []
    for row in rows:
        taken_db = sum((changing[id].adds_db for id in row.changed if id in standing), 0.0)
        if row.prr != 0 or taken_db == 0:
            told.append((row, taken_db))
    return tuple(told)


def _as_drawn(given: GivenLink, taken_db: float, radio: Radio) -> tuple[float, float]:
    """One direction as it would have been measured with everything as drawn, in dBm.

    First its strength, then the strength that stands for its reception ratio.
    """
    curve, prr = reception_curve(radio), given.prr
    heard_dbm = given.rssi_dbm if prr is None else db_from_cdb(curve.rssi_cdbm(prr))
    rssi_dbm = heard_dbm if given.rssi_dbm is None else given.rssi_dbm
    assert heard_dbm is not None  # one of the two was measured
    assert rssi_dbm is not None
    if prr is not None and prr >= CERTAIN_PRR and given.rssi_dbm is not None:
        certain_dbm = db_from_cdb(curve.rssi_cdbm(CERTAIN_PRR))
        heard_dbm = max(rssi_dbm, certain_dbm)  # that all arrived does not bound it from above
    return rssi_dbm + taken_db, heard_dbm + taken_db
