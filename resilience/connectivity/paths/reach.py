"""Who could hear whom if nothing stood between them, worked out for all pairs at once."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio, Routing
from resilience.building.site import Calibration, Device, Kind, Site
from resilience.connectivity.losses.distance import free_space_loss_db, site_general_loss_db
from resilience.connectivity.reception import reception_curve
from resilience.connectivity.shapes.crossings import point_of
from resilience.connectivity.shapes.faces import Floats, Ints
from resilience.units import db_from_cdb

# A pair so far below usable at mean shadowing is left out. It is three times the widest default
# spread (10 dB, no wall drawn), so chance would lift fewer than two in a thousand of the pairs that
# lie exactly at the cut, and fewer of those beyond.
CUT_DB = 30.0
SLACK_DB = 1e-6  # the last word is with the exact sum, link by link
FREE_SPACE_PER_DECADE_DB = 20.0

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """The devices of a layout, as arrays in order of their ids.

    Parameters
    ----------
    site : Site
        Building and radio. [-]
    devices : sequence of Device
        In order of their ids. [-]
    points_m : Floats
        Shape (devices, 3); not a number for a device that nobody placed. [m]
    levels : list of int
        Place of each device's level in the order of levels; -1 where nobody placed it. [-]
    power_dbm, gain_dbi : Floats
        Transmit power, and antenna less mounting and what a calibration found devices to lose.
        [dBm, dBi]
    floor_dbm, least_dbm : Floats
        Receiver's floor, and weakest strength that is kept. [dBm]
    is_gateway : Flags
        Gateways never link to each other: none relays for another. [-]
    """

    site: Site
    devices: Sequence[Device]
    points_m: Floats
    levels: list[int]
    power_dbm: Floats
    gain_dbi: Floats
    floor_dbm: Floats
    least_dbm: Floats
    is_gateway: Flags

    @property
    def is_placed(self) -> Flags:
        """Whether somebody placed each device."""
        return ~np.isnan(self.points_m[:, 0])

    def strengths_dbm(self, ends: Ints, loss_db: Floats) -> Floats:
        """Strengths there and back over many paths, shape (paths, 2).

        Parameters
        ----------
        ends : Ints
            Shape (paths, 2): rows of the two devices. [-]
        loss_db : Floats
            Shape (paths,): loss, hindrances included. [dB]
        """
        a, b = ends.T
        gain_dbi = self.gain_dbi[a] + self.gain_dbi[b]
        return (self.power_dbm[ends] + gain_dbi[:, None]) - loss_db[:, None]

    def pairs(self, is_together: Flags) -> tuple[Ints, Floats]:
        """Pairs in reach of each other in the open, and the loss that each can still take.

        Parameters
        ----------
        is_together : Flags
            Shape (devices, devices): whether a pair is of interest. [-]
        """
        found = list(self._rows(is_together)) or [(np.zeros((0, 2), np.int64), np.zeros(0))]
        ends, spare_db = zip(*found, strict=True)
        return np.concatenate(ends), np.concatenate(spare_db)

    def _rows(self, is_together: Flags) -> Iterator[tuple[Ints, Floats]]:
        """Pairs of each device with those after it."""
        per_decade_db, metre_db = self._open()
        calibration = self.site.calibration
        offset_db = calibration.distance.offset if calibration and calibration.distance else 0.0
        for a in range(len(self.devices) - 1):
            after = slice(a + 1, None)
            length_m = np.sqrt(((self.points_m[after] - self.points_m[a]) ** 2).sum(axis=1))
            loss_db = metre_db + per_decade_db * np.log10(np.maximum(length_m, 0.1))
            loss_db += offset_db * np.log10(np.maximum(length_m, 1.0))
            there_db = self.power_dbm[a] - self.least_dbm[after]
            back_db = self.power_dbm[after] - self.least_dbm[a]
            gain_dbi = self.gain_dbi[a] + self.gain_dbi[after]
            spare_db = np.maximum(there_db, back_db) + gain_dbi - loss_db + SLACK_DB
            is_near = spare_db > 0  # never so for one that nobody placed
            is_near &= ~(self.is_gateway[a] & self.is_gateway[after])
            is_near &= is_together[a, after]
            (near,) = np.nonzero(is_near)
            yield np.column_stack((np.full(len(near), a), near + a + 1)), spare_db[near]

    def _open(self) -> tuple[float, float]:
        """Loss of the open path per decade of distance, and over the first metre."""
        radio = self.site.radio
        if self.site.building.is_drawn:
            return FREE_SPACE_PER_DECADE_DB, free_space_loss_db(1.0, radio.frequency_mhz)
        metre_db = site_general_loss_db(1.0, radio.frequency_mhz, radio.distance_power)
        return radio.distance_power, metre_db


def reach_of(site: Site, devices: Sequence[Device]) -> Reach:
    """Return the devices of a layout as arrays.

    Parameters
    ----------
    site : Site
        Building and radio. [-]
    devices : sequence of Device
        In order of their ids. [-]
    """
    nowhere = (np.nan, np.nan, np.nan)
    models = [device.model for device in devices]
    usable_dbm = {
        floor_dbm: usable_from_dbm(floor_dbm, site.radio, site.routing)
        for floor_dbm in {model.receive_floor_dbm for model in models}
    }
    order = [level.id for level in site.building.levels]
    levels = [-1 if device.place is None else order.index(device.place.level) for device in devices]
    points_m = [
        nowhere if device.place is None else point_of(site.building, device.place)
        for device in devices
    ]
    return Reach(
        site,
        devices,
        np.array(points_m, np.float64).reshape(-1, 3),
        levels,
        np.array([model.transmit_dbm for model in models]),
        np.array([model.antenna_dbi - model.mounting_loss_db for model in models])
        - device_loss_db(site.calibration, devices),
        np.array([model.receive_floor_dbm for model in models]),
        np.array([usable_dbm[model.receive_floor_dbm] - CUT_DB for model in models]),
        np.array([device.kind is Kind.GATEWAY for device in devices], np.bool_),
    )


def device_loss_db(calibration: Calibration | None, devices: Sequence[Device]) -> Floats:
    """What a calibration found each device to lose beside its data sheet.

    Parameters
    ----------
    calibration : Calibration or None
        What measurements corrected. [-]
    devices : sequence of Device
        The devices. [-]
    """
    if calibration is None:
        return np.zeros(len(devices))
    return np.array([calibration.device_loss_db(device.model_name) for device in devices])


def usable_from_dbm(floor_dbm: float, radio: Radio, routing: Routing) -> float:
    """Weakest mean strength at which one direction is still usable.

    Parameters
    ----------
    floor_dbm : float
        Receiver's floor. [dBm]
    radio, routing
        Reception curve and least reception ratio. [-]
    """
    return max(floor_dbm, db_from_cdb(reception_curve(radio).rssi_cdbm(routing.min_prr)))
