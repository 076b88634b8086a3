"""The link table as a value: who can hear whom, at mean shadowing, with everything calm."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio, Routing
from resilience.building.site import Calibration, Layout
from resilience.building.structure import Building
from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    FULL,
    ReceptionCurve,
    link_cost,
    prr_units,
    reception_curve,
)
from resilience.connectivity.shapes.crossings import Hindrance
from resilience.units import cdb_from_db, db_from_cdb

if TYPE_CHECKING:
    import pandas

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Heard:
    """One direction of a link, from sender to receiver.

    Parameters
    ----------
    rssi_dbm : float
        Calm strength; where only a reception ratio was measured, what it stands for. [dBm]
    heard_dbm : float
        Strength that stands for its reception ratio: another only where both were measured. [dBm]
    floor_dbm : float
        Weakest strength at which the receiver keeps a link. [dBm]
    """

    rssi_dbm: float
    heard_dbm: float
    floor_dbm: float


@dataclass(frozen=True, slots=True)
class Link:
    """Two devices that hear each other, or nearly.

    Parameters
    ----------
    id : str
        The two ids joined by ``~``, the lesser by code point first. [-]
    a, b : str
        Ids of the devices, a before b by code point. [-]
    distance_m : float or None
        Between the devices; None where one has no place. [m]
    open_loss_db : float or None
        Loss of the path before hindrances; None where nothing is predicted. [dB]
    hindrances : sequence of Hindrance
        What stands in the way, from a to b. [-]
    there, back : Heard
        From a to b, and from b to a. [-]
    measured : bool
        Whether a measurement overrides the prediction. [-]
    predicted_dbm : (float, float) or None
        Strengths there and back as predicted; None where nothing is predicted. [dBm]
    correction_db : float
        What the calibration added to the predicted loss as drawn. [dB]
    """

    id: str
    a: str
    b: str
    distance_m: float | None
    open_loss_db: float | None
    hindrances: Sequence[Hindrance]
    there: Heard
    back: Heard
    measured: bool
    predicted_dbm: tuple[float, float] | None = None
    correction_db: float = 0.0


@dataclass(frozen=True, slots=True)
class LinkTable:
    """Every link of a layout that is measured, or predicted within ``CUT_DB`` of usable.

    Parameters
    ----------
    layout : Layout
        Whose links these are. [-]
    radio, routing, building
        What the site states. [-]
    links : tuple of Link
        In order of (a, b). [-]
    calibration : Calibration or None
        What has corrected the predicted ones; None before anybody calibrated. [-]
    """

    layout: Layout
    radio: Radio
    routing: Routing
    building: Building
    links: tuple[Link, ...]
    calibration: Calibration | None = None

    @property
    def curve(self) -> ReceptionCurve:
        """Reception curve of the site."""
        return reception_curve(self.radio)

    def calm_prr(self, heard: Heard) -> int:
        """Reception ratio of one direction with nothing in the way, averaged over its swing.

        Parameters
        ----------
        heard : Heard
            The direction. [-]
        """
        return self.curve.prr(cdb_from_db(heard.heard_dbm))

    def is_usable(self, link: Link) -> bool:
        """Whether both directions reach the receiver's floor and the least reception ratio.

        Parameters
        ----------
        link : Link
            The link. [-]
        """
        return all(
            heard.rssi_dbm >= heard.floor_dbm
            and self.calm_prr(heard) >= prr_units(self.routing.min_prr)
            for heard in (link.there, link.back)
        )

    def cost(self, link: Link) -> int | None:
        """Cost of a link in 1/128 transmission, or 128 per hop; None where it is not usable.

        Parameters
        ----------
        link : Link
            The link. [-]
        """
        if not self.is_usable(link):
            return None
        if self.routing.objective == "hops":
            return COST_PER_TRANSMISSION
        return link_cost(self.calm_prr(link.there), self.calm_prr(link.back))

    def margin_db(self, link: Link) -> float:
        """Loss that the weaker direction can still take before the link stops being usable.

        Parameters
        ----------
        link : Link
            The link. [-]
        """
        least_dbm = db_from_cdb(self.curve.rssi_cdbm(self.routing.min_prr))
        return min(
            min(heard.rssi_dbm - heard.floor_dbm, heard.heard_dbm - least_dbm)
            for heard in (link.there, link.back)
        )

    def usable_neighbours(self, device_id: str) -> tuple[str, ...]:
        """Devices at the other ends of usable links, in order of id.

        Parameters
        ----------
        device_id : str
            Id of the device. [-]
        """
        return tuple(
            sorted(
                link.b if link.a == device_id else link.a
                for link in self.links
                if device_id in (link.a, link.b) and self.is_usable(link)
            )
        )

    def calm_cdbm(self) -> Ints:
        """Calm strengths at mean shadowing, there and back, shape (links, 2). [cdBm]."""
        return self._in_hundredths("rssi_dbm")

    def shift_cdb(self) -> Ints:
        """From a strength to the one that stands for its reception, shape (links, 2). [cdB]."""
        return self._in_hundredths("heard_dbm") - self.calm_cdbm()

    def floor_cdbm(self) -> Ints:
        """Weakest strengths at which the receivers keep a link, shape (links, 2). [cdBm]."""
        return self._in_hundredths("floor_dbm")

    def ends_of(self) -> list[tuple[str, str, str]]:
        """Id of each link and of its two ends."""
        return [(link.id, link.a, link.b) for link in self.links]

    def _in_hundredths(self, name: str) -> Ints:
        values = [(getattr(link.there, name), getattr(link.back, name)) for link in self.links]
        return np.array([[cdb_from_db(one) for one in row] for row in values], np.int64).reshape(
            -1, 2
        )

    def to_json(self) -> dict[str, object]:
        """Return every link of the table under stable keys."""
        return {
            "format": 1,
            "layout": self.layout.name,
            "links": [
                {
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
                    "prr": [self.calm_prr(link.there) / FULL, self.calm_prr(link.back) / FULL],
                    "cost": self.cost(link),
                    "margin_db": self.margin_db(link),
                    "usable": self.is_usable(link),
                    "measured": link.measured,
                    "predicted_dbm": link.predicted_dbm and list(link.predicted_dbm),
                    "correction_db": link.correction_db,
                }
                for link in self.links
            ],
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per link, without what stands in its way."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "a": link.a,
                    "b": link.b,
                    "distance_m": link.distance_m,
                    "rssi_there_dbm": link.there.rssi_dbm,
                    "rssi_back_dbm": link.back.rssi_dbm,
                    "cost": self.cost(link),
                    "margin_db": self.margin_db(link),
                    "usable": self.is_usable(link),
                    "measured": link.measured,
                }
                for link in self.links
            ]
        )


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
