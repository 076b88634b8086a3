"""The link table of a layout: who can hear whom, at mean shadowing, with everything calm."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from resilience.building.settings import Radio, Routing
from resilience.building.site import Device, GivenLink, Kind, Layout, Place, Site
from resilience.building.structure import Building
from resilience.connectivity.losses.distance import (
    floor_penetration_db,
    free_space_loss_db,
    site_general_loss_db,
)
from resilience.connectivity.reception import (
    COST_PER_TRANSMISSION,
    FULL,
    ReceptionCurve,
    link_cost,
    prr_units,
    reception_curve,
)
from resilience.connectivity.shapes.crossings import (
    Drawing,
    Hindrance,
    drawing,
    hindrances,
    path_between,
)
from resilience.units import cdb_from_db, db_from_cdb

if TYPE_CHECKING:
    import pandas

# A pair so far below usable at mean shadowing is left out. It is three times the widest default
# spread (10 dB, no wall drawn), so chance would lift fewer than two in a thousand of the pairs that
# lie exactly at the cut, and fewer of those beyond.
CUT_DB = 30.0


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
    hindrances : tuple of Hindrance
        What stands in the way, from a to b. [-]
    there, back : Heard
        From a to b, and from b to a. [-]
    measured : bool
        Whether a measurement overrides the prediction. [-]
    """

    id: str
    a: str
    b: str
    distance_m: float | None
    open_loss_db: float | None
    hindrances: tuple[Hindrance, ...]
    there: Heard
    back: Heard
    measured: bool


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
    """

    layout: Layout
    radio: Radio
    routing: Routing
    building: Building
    links: tuple[Link, ...]

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
    either direction, is no link.

    Parameters
    ----------
    site : Site
        Building, radio and routing. [-]
    layout : Layout
        Devices and measured links. [-]
    """
    given = {
        (link.a, link.b): link
        for link in layout.links
        if link.prr is not None or link.rssi_dbm is not None
    }
    drawn = drawing(site.building, site.radio)
    found = []
    devices = sorted(layout.devices, key=lambda device: device.id)
    for position, a in enumerate(devices):
        for b in devices[position + 1 :]:
            if a.kind is Kind.GATEWAY and b.kind is Kind.GATEWAY:
                continue
            there, back = given.get((a.id, b.id)), given.get((b.id, a.id))
            either = there or back
            if either is not None:
                link = _measured(site, drawn, (a, b), (there or either, back or either))
            else:
                link = _within_reach(site, drawn, a, b)
            if link is not None:
                found.append(link)
    return LinkTable(layout, site.radio, site.routing, site.building, tuple(found))


def _measured(
    site: Site,
    drawn: Drawing,
    ends: tuple[Device, Device],
    given: tuple[GivenLink, GivenLink],
) -> Link | None:
    """Link as measured; None where one direction was tried and not heard."""
    a, b = ends
    there, back = given
    if there.prr == 0 or back.prr == 0:
        return None
    open_db = _open_loss_db(site, a.place, b.place)
    return Link(
        f"{a.id}~{b.id}",
        a.id,
        b.id,
        distance_m=_distance_m(site, a.place, b.place),
        open_loss_db=open_db,
        hindrances=() if open_db is None else _in_the_way(drawn, a.place, b.place),
        there=_given_strength(there, b, site.radio),
        back=_given_strength(back, a, site.radio),
        measured=True,
    )


def _within_reach(site: Site, drawn: Drawing, a: Device, b: Device) -> Link | None:
    """Link as predicted; None beyond the cut, or where nothing is predicted."""
    open_db = _open_loss_db(site, a.place, b.place)
    if open_db is None or not _is_kept(site, a, b, open_db):
        return None
    in_the_way = _in_the_way(drawn, a.place, b.place)
    loss_db = open_db + sum(hindrance.loss_db for hindrance in in_the_way)
    if not _is_kept(site, a, b, loss_db):
        return None
    return Link(
        f"{a.id}~{b.id}",
        a.id,
        b.id,
        distance_m=_distance_m(site, a.place, b.place),
        open_loss_db=open_db,
        hindrances=in_the_way,
        there=_predicted_strength(a, b, loss_db),
        back=_predicted_strength(b, a, loss_db),
        measured=False,
    )


def _is_kept(site: Site, a: Device, b: Device, loss_db: float) -> bool:
    """Whether the better direction is within the cut at that loss."""
    return any(
        heard.rssi_dbm > usable_from_dbm(heard.floor_dbm, site.radio, site.routing) - CUT_DB
        for heard in (_predicted_strength(a, b, loss_db), _predicted_strength(b, a, loss_db))
    )


def _predicted_strength(sender: Device, receiver: Device, loss_db: float) -> Heard:
    ends = sender.model, receiver.model
    gain_db = sum(model.antenna_dbi - model.mounting_loss_db for model in ends)
    rssi_dbm = sender.model.transmit_dbm + gain_db - loss_db
    return Heard(rssi_dbm, None, receiver.model.receive_floor_dbm)


def _given_strength(given: GivenLink, receiver: Device, radio: Radio) -> Heard:
    rssi_dbm = given.rssi_dbm
    if rssi_dbm is None:
        rssi_dbm = db_from_cdb(reception_curve(radio).rssi_cdbm(given.prr or 0.0))
    return Heard(rssi_dbm, given.prr, receiver.model.receive_floor_dbm)


def _distance_m(site: Site, a: Place | None, b: Place | None) -> float | None:
    if a is None or b is None:
        return None
    return path_between(site.building, a, b).length_m


def _open_loss_db(site: Site, a: Place | None, b: Place | None) -> float | None:
    """Free space where walls are drawn, else the site-general model; None: no prediction."""
    if a is None or b is None or not site.radio.predict:
        return None
    radio, length_m = site.radio, path_between(site.building, a, b).length_m
    if site.building.is_drawn:
        return free_space_loss_db(length_m, radio.frequency_mhz)
    ids = [level.id for level in site.building.levels]
    n_floors = abs(ids.index(a.level) - ids.index(b.level))
    floors_db = floor_penetration_db(n_floors, radio.floor_loss_db)
    return site_general_loss_db(length_m, radio.frequency_mhz, radio.distance_power, floors_db)


def _in_the_way(drawn: Drawing, a: Place | None, b: Place | None) -> tuple[Hindrance, ...]:
    """Hindrances where walls are drawn; else the exponent and the floor loss stand for them."""
    if a is None or b is None or not drawn.building.is_drawn:
        return ()
    return hindrances(drawn, a, b)
