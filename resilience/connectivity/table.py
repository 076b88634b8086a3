"""The link table as a value: who can hear whom, at mean shadowing, with everything calm.

It is kept in columns, one entry a link; rows are made when somebody asks for one.
"""

from collections.abc import Set
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio, Routing
from resilience.building.site import Calibration, Device, Layout
from resilience.building.structure import Building
from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    FULL,
    HIGH_CDBM,
    LOW_CDBM,
    ReceptionCurve,
    prr_units,
    reception_curve,
)
from resilience.connectivity.rows import Heard, Link, Links, link_id
from resilience.connectivity.shapes.crossings import Crossings
from resilience.units import db_from_cdb

if TYPE_CHECKING:
    import pandas

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class LinkTable:
    """Every link of a layout that is measured, or predicted within ``CUT_DB`` of usable.

    Links stand in order of (a, b), the ids of their ends; columns of shape (links, 2) hold the way
    there and the way back. All arrays are read-only.

    Parameters
    ----------
    layout : Layout
        Whose links these are. [-]
    radio, routing, building
        What the site states. [-]
    calibration : Calibration or None
        What has corrected the predicted ones; None before anybody calibrated. [-]
    ends : Ints
        Shape (links, 2): rows of the two devices, the lesser first. [-]
    distance_m, open_loss_db : Floats
        Between the devices, and loss before hindrances; not a number where unknown. [m, dB]
    rssi_dbm, heard_dbm, floor_dbm : Floats
        Shape (links, 2): as ``Heard`` tells them. [dBm]
    is_measured : Flags
        Whether a measurement overrides the prediction. [-]
    spread_db : Floats
        How unsure the measurement is; not a number where there is none. [dB]
    predicted_dbm : Floats
        Shape (links, 2): as predicted; not a number where nothing is. [dBm]
    correction_db : Floats
        What the calibration added to the predicted loss as drawn. [dB]
    hindrances : Crossings
        What stands in each way, from a to b. [-]
    """

    layout: Layout
    radio: Radio
    routing: Routing
    building: Building
    calibration: Calibration | None
    ends: Ints
    distance_m: Floats
    open_loss_db: Floats
    rssi_dbm: Floats
    heard_dbm: Floats
    floor_dbm: Floats
    is_measured: Flags
    spread_db: Floats
    predicted_dbm: Floats
    correction_db: Floats
    hindrances: Crossings

    def __post_init__(self) -> None:
        for column in self._columns().values():
            column.flags.writeable = False

    def _columns(self) -> dict[str, Any]:
        """Everything with one entry a link, hindrances excepted, by name."""
        told = {one.name: getattr(self, one.name) for one in fields(self)}
        return {name: one for name, one in told.items() if isinstance(one, np.ndarray)}

    @property
    def devices(self) -> tuple[Device, ...]:
        """The devices, in order of id."""
        return self.layout.devices

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """Ids of the devices."""
        return tuple(device.id for device in self.devices)

    @cached_property
    def link_ids(self) -> tuple[str, ...]:
        """Ids of the links."""
        return tuple(link_id(self.ids[a], self.ids[b]) for a, b in self.ends.tolist())

    @property
    def links(self) -> Links:
        """The links as rows."""
        return Links(self.link, range(len(self.ends)))

    def rows(self, rows: Ints) -> Links:
        """Return some of the links as rows.

        Parameters
        ----------
        rows : Ints
            Which, in that order. [-]
        """
        return Links(self.link, rows.tolist())

    def link(self, row: int) -> Link:
        """Return one link.

        Parameters
        ----------
        row : int
            Its row. [-]
        """
        there, back = (
            Heard(
                *(float(one[row, way]) for one in (self.rssi_dbm, self.heard_dbm, self.floor_dbm))
            )
            for way in (0, 1)
        )
        there_dbm, back_dbm = self.predicted_dbm[row].tolist()
        a, b = self.ends[row].tolist()
        return Link(
            self.link_ids[row],
            self.ids[a],
            self.ids[b],
            _known(self.distance_m[row]),
            _known(self.open_loss_db[row]),
            self.hindrances.of(row),
            there,
            back,
            bool(self.is_measured[row]),
            None if np.isnan(there_dbm) else (there_dbm, back_dbm),
            float(self.correction_db[row]),
            row,
        )

    @cached_property
    def curve(self) -> ReceptionCurve:
        """Reception curve of the site."""
        return reception_curve(self.radio)

    @cached_property
    def calm_prr(self) -> Ints:
        """Reception ratios with nothing in the way, averaged over the swing. [2^-16]."""
        heard_cdbm = np.clip(in_hundredths(self.heard_dbm), LOW_CDBM, HIGH_CDBM)
        return self.curve.table[heard_cdbm - LOW_CDBM]

    @cached_property
    def usable(self) -> Flags:
        """Whether both ways reach the receiver's floor and the least reception ratio."""
        reaches = self.rssi_dbm >= self.floor_dbm
        reaches &= self.calm_prr >= prr_units(self.routing.min_prr)
        return reaches[:, 0] & reaches[:, 1]

    @cached_property
    def costs(self) -> Ints:
        """Cost of each link in 1/128 transmission, or 128 per hop; 0 where it is not usable."""
        if self.routing.objective == "hops":
            return np.where(self.usable, COST_PER_TRANSMISSION, 0)
        both = np.where(self.usable, self.calm_prr.prod(axis=1), 1)
        costs = (2 * COST_PER_TRANSMISSION * FULL * FULL + both) // (2 * both)  # as ``link_cost``
        return np.where(self.usable, costs, 0)

    @cached_property
    def margins_db(self) -> Floats:
        """Loss that the weaker way can still take before the link stops being usable."""
        least_dbm = db_from_cdb(self.curve.rssi_cdbm(self.routing.min_prr))
        over_db = np.minimum(self.rssi_dbm - self.floor_dbm, self.heard_dbm - least_dbm)
        return np.minimum(over_db[:, 0], over_db[:, 1])

    def is_usable(self, link: Link) -> bool:
        """Whether a link of this table is usable.

        Parameters
        ----------
        link : Link
            The link. [-]
        """
        return bool(self.usable[link.row])

    def cost(self, link: Link) -> int | None:
        """Cost of a link of this table in 1/128 transmission; None where it is not usable.

        Parameters
        ----------
        link : Link
            The link. [-]
        """
        return int(self.costs[link.row]) or None

    def margin_db(self, link: Link) -> float:
        """Loss that a link of this table can still take; below 0 it is not usable.

        Parameters
        ----------
        link : Link
            The link. [-]
        """
        return float(self.margins_db[link.row])

    def usable_neighbours(self, device_id: str) -> tuple[str, ...]:
        """Devices at the other ends of usable links, in order of id.

        Parameters
        ----------
        device_id : str
            Id of the device. [-]
        """
        if device_id not in self.ids:
            return ()
        is_end = self.ends == self.ids.index(device_id)
        rows = self.ends[:, ::-1][is_end & self.usable[:, None]]
        return tuple(self.ids[row] for row in sorted(rows.tolist()))

    def calm_cdbm(self) -> Ints:
        """Calm strengths at mean shadowing, there and back, shape (links, 2). [cdBm]."""
        return in_hundredths(self.rssi_dbm)

    def shift_cdb(self) -> Ints:
        """From a strength to the one that stands for its reception, shape (links, 2). [cdB]."""
        return in_hundredths(self.heard_dbm) - self.calm_cdbm()

    def floor_cdbm(self) -> Ints:
        """Weakest strengths at which the receivers keep a link, shape (links, 2). [cdBm]."""
        return in_hundredths(self.floor_dbm)

    def without(self, ids: Set[str]) -> "LinkTable":
        """Return the table of the same layout without some of its devices.

        Parameters
        ----------
        ids : set of str
            Ids of these devices. [-]
        """
        devices = tuple(one for one in self.devices if one.id not in ids)
        links = tuple(one for one in self.layout.links if not {one.a, one.b} & ids)
        is_here = np.array([id not in ids for id in self.ids], np.bool_)
        kept = self.taken(np.flatnonzero(is_here[self.ends].all(axis=1)))
        layout = replace(self.layout, devices=devices, links=links)
        return replace(kept, layout=layout, ends=(np.cumsum(is_here) - 1)[kept.ends])

    def taken(self, rows: Ints) -> "LinkTable":
        """Return the table with some of its links only.

        Parameters
        ----------
        rows : Ints
            Which, in order. [-]
        """
        told = {name: column[rows] for name, column in self._columns().items()}
        return replace(self, hindrances=self.hindrances.taken(rows), **told)

    def to_json(self) -> dict[str, object]:
        """Return every link of the table under stable keys."""
        return {
            "format": 1,
            "layout": self.layout.name,
            "links": [self._link_json(link) for link in self.links],
        }

    def _link_json(self, link: Link) -> dict[str, object]:
        return {
            "id": link.id,
            "a": link.a,
            "b": link.b,
            "distance_m": link.distance_m,
            "open_loss_db": link.open_loss_db,
            "in_the_way": [
                {"what": one.what, "construction": one.construction, "loss_db": one.loss_db}
                for one in link.hindrances
            ],
            "rssi_dbm": [link.there.rssi_dbm, link.back.rssi_dbm],
            "prr": [prr / FULL for prr in self.calm_prr[link.row].tolist()],
            "cost": self.cost(link),
            "margin_db": self.margin_db(link),
            "usable": self.is_usable(link),
            "measured": link.measured,
            "predicted_dbm": link.predicted_dbm and list(link.predicted_dbm),
            "correction_db": link.correction_db,
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per link, without what stands in its way."""
        import pandas

        ids = np.array(self.ids, object)
        return pandas.DataFrame(
            {
                "a": ids[self.ends[:, 0]],
                "b": ids[self.ends[:, 1]],
                "distance_m": self.distance_m,
                "rssi_there_dbm": self.rssi_dbm[:, 0],
                "rssi_back_dbm": self.rssi_dbm[:, 1],
                "cost": [cost or None for cost in self.costs.tolist()],
                "margin_db": self.margins_db,
                "usable": self.usable,
                "measured": self.is_measured,
            }
        )


def _known(number: float) -> float | None:
    return None if np.isnan(number) else float(number)


def in_hundredths(decibels: Floats) -> Ints:
    """Nearest whole hundredths of many dB (or dBm), as ``units.cdb_from_db``.

    Parameters
    ----------
    decibels : Floats
        Any shape. [dB]
    """
    return np.rint(100 * decibels).astype(np.int64)
