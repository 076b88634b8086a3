"""The link table as a value: who can hear whom, at mean shadowing, with everything calm."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

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


@dataclass(frozen=True, slots=True)
class Heard:
    """One direction of a link, from sender to receiver.

    Parameters
    ----------
    rssi_dbm : float
        Mean strength; where only a reception ratio was measured, what it stands for. [dBm]
    prr_measured : float or None
        Measured reception ratio; None where it follows from the strength. [-]
    floor_dbm : float
        Weakest strength at which the receiver keeps a link. [dBm]
    """

    rssi_dbm: float
    prr_measured: float | None
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
        """Reception ratio of one direction with everything calm.

        Parameters
        ----------
        heard : Heard
            The direction. [-]
        """
        if heard.prr_measured is not None:
            return prr_units(heard.prr_measured)
        return self.curve.prr(cdb_from_db(heard.rssi_dbm))

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
        return min(
            heard.rssi_dbm - usable_from_dbm(heard.floor_dbm, self.radio, self.routing)
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
