"""The links of a site: predicted through what is drawn, overridden by what is measured."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter

import numpy as np

from resilience.building.site import Device, Layout, Site
from resilience.connectivity.paths.measured import Pair, Rows, Told, given, told
from resilience.connectivity.paths.prediction import Courses, courses
from resilience.connectivity.paths.reach import CUT_DB, Reach, reach_of, usable_from_dbm
from resilience.connectivity.rows import Heard, Link
from resilience.connectivity.table import Flags, Ints, LinkTable

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
    row : dict of int by Device
        Row of each device, by what of it bears on its links. [-]
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
    row: dict[Device, int]
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
        known = self._told(layout)
        is_kept = self.is_heard.copy()
        is_kept[known.paths], is_kept[known.in_vain] = True, False
        (rows,) = np.nonzero(is_kept & (here[self.paths.ends] >= 0).all(axis=1))
        taken, places = self.paths.taken(rows), np.searchsorted(rows, known.paths)
        is_measured, spread_db = np.zeros(len(rows), np.bool_), np.full(len(rows), math.nan)
        is_measured[places], spread_db[places] = True, known.spread_db
        rssi_dbm, heard_dbm = taken.strengths_dbm.copy(), taken.strengths_dbm.copy()
        rssi_dbm[places], heard_dbm[places] = np.moveaxis(known.strengths_dbm, 2, 0)
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
            spread_db,
            taken.strengths_dbm,
            taken.correction_db,
            taken.hindrances,
        )

    def _told(self, layout: Layout) -> Told:
        """What the measurements of one layout say of its paths."""
        measured = _measured(layout, self.row)
        ends = np.array(list(measured), np.int64).reshape(-1, 2)
        paths = np.searchsorted(_keys(self.reach, self.paths.ends), _keys(self.reach, ends))
        by_path = dict(zip(paths.tolist(), measured.values(), strict=True))
        return told(self.site, self.paths.hindrances, by_path)

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
    tried = {pair for layout in layouts for pair in _measured(layout, row)}
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


def _hung(device: Device) -> Device:
    """Return what of a device bears on its links."""
    bare = replace(device, battery=None, by_month_c=(), standby=False)
    return replace(bare, note="", batch="", circuit="", zone="")


def _measured(layout: Layout, row: Mapping[Device, int]) -> dict[Pair, Rows]:
    return given(layout, {device.id: row[_hung(device)] for device in layout.devices})
