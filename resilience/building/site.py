"""A site as a value: devices, candidate layouts of the same sensors, and what the owner stated."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from resilience.assumptions.catalogue import section
from resilience.building.models import BatteryProfile, DeviceModel
from resilience.building.parts import ZONE_RATES
from resilience.building.settings import UNTITLED, Circuit, Hazards, Learnt, Radio, Routing, Titles
from resilience.building.stated.restating import restated
from resilience.building.stated.standing import AS_NEW, Standing
from resilience.building.stated.zones import with_zones
from resilience.building.structure import Building
from resilience.building.text.entries import alternatives
from resilience.building.upkeep import ALWAYS, NO_PRICES, Prices, Upkeep, WorkingHours
from resilience.errors import UsageError


class Kind(StrEnum):
    """What a device is for; a gateway collects, a sensor measures, a repeater only forwards."""

    GATEWAY = "gateway"
    SENSOR = "sensor"
    REPEATER = "repeater"


class Supply(StrEnum):
    """What feeds a device."""

    MAINS = "mains"
    BATTERY = "battery"


UNDRAWN = "site"  # level, zone and circuit of what has no place


@dataclass(frozen=True, slots=True)
class Place:
    """Where a device hangs.

    Parameters
    ----------
    level : str
        Id of the level. [-]
    x_m, y_m : float
        Position on the plan. [m]
    height_m : float
        Height above that level's floor. [m]
    """

    level: str
    x_m: float
    y_m: float
    height_m: float


@dataclass(frozen=True, slots=True)
class Device:
    """One device of a layout.

    Parameters
    ----------
    id : str
        Unique in the layout, without regard to case. [-]
    kind : Kind
        Gateway, sensor or repeater. [-]
    place : Place or None
        Where it hangs; None where only given links exist. [-]
    model : DeviceModel
        Its data sheet. [-]
    battery : BatteryProfile or None
        What feeds it; None on mains. [-]
    standby : bool
        A gateway that serves only while no other gateway is up. [-]
    note : str
        Free text, only shown. [-]
    batch, circuit, zone : str
        Delivery, supply circuit and zone it belongs to; empty where nobody said. [-]
    model_name : str
        Name of its model in ``site.yaml``. [-]
    by_month_c : tuple of float
        Temperature where it hangs, from January on; empty where nobody said, 20 C. [C]
    """

    id: str
    kind: Kind
    place: Place | None
    model: DeviceModel
    battery: BatteryProfile | None
    standby: bool = False
    note: str = ""
    batch: str = ""
    circuit: str = ""
    zone: str = ""
    model_name: str = "standard"
    by_month_c: tuple[float, ...] = ()

    @property
    def supply(self) -> Supply:
        """Mains where there is no battery."""
        return Supply.MAINS if self.battery is None else Supply.BATTERY

    @property
    def circuit_id(self) -> str:
        """Circuit that feeds it: the one it names, else that of its level; empty on cells.

        That of a gateway is empty, too, unless its row names one: its supply is part of its
        outages.
        """
        if self.supply is Supply.BATTERY:
            return ""
        if self.circuit or self.kind is Kind.GATEWAY:
            return self.circuit
        return self.place.level if self.place else UNDRAWN

    @property
    def zone_id(self) -> str:
        """Zone it stands in: the one it names, else its level."""
        return self.zone or (self.place.level if self.place else UNDRAWN)


class Share(StrEnum):
    """What a measured reception ratio is a share of: frames that arrived, or that came back too."""

    ONE_WAY = "one_way"
    ACKNOWLEDGED = "acknowledged"


@dataclass(frozen=True, slots=True)
class GivenLink:
    """A measured link, from ``a`` to ``b``.

    Parameters
    ----------
    a, b : str
        Ids of the sending and the receiving device. [-]
    prr : float or None
        Share of frames that arrived at ``b``, worked out if acknowledged ones were counted; 0 means
        tried and not heard, None not measured. [-]
    rssi_dbm : float or None
        Mean strength at ``b``; None not measured. [dBm]
    changed : tuple of str
        Ids of the doors and obstacles that were changed while it was measured. [-]
    measured_h : float or None
        How long it was averaged over; None for a spot reading. [h]
    share : Share
        What was counted to find the ratio. [-]
    """

    a: str
    b: str
    prr: float | None
    rssi_dbm: float | None
    changed: tuple[str, ...] = ()
    measured_h: float | None = None
    share: Share = Share.ONE_WAY


@dataclass(frozen=True, slots=True)
class Correction:
    """What measured links say that one assumption of the prediction is off by.

    Parameters
    ----------
    offset : float
        To be added to what is assumed. [dB, or dB per decade of distance]
    spread : float
        How unsure that is, one standard deviation; never 0. [dB, or dB per decade]
    n_links : int
        Measured links that the assumption touches. [-]
    """

    offset: float
    spread: float
    n_links: int


@dataclass(frozen=True, slots=True)
class Calibration:
    """Corrections fitted to the measured links of this building.

    Parameters
    ----------
    distance : Correction or None
        Of the loss per decade of distance from 1 m; None where no link bears on it. [dB/decade]
    constructions : tuple of (str, Correction)
        By name of the construction, per crossing; only those that measured links meet. [dB]
    residual_db : float
        Spread of the measured links about the corrected prediction. [dB]
    n_links : int
        Measured links that the fit rests on. [-]
    constant : Correction or None
        What every path loses, whatever stands in it: the usual devices at both ends. [dB]
    models : tuple of (str, Correction)
        What each device of a model loses beside its half of the constant, by name. [dB]
    """

    distance: Correction | None
    constructions: tuple[tuple[str, Correction], ...]
    residual_db: float
    n_links: int
    constant: Correction | None = None
    models: tuple[tuple[str, Correction], ...] = ()

    def device_loss_db(self, model_name: str) -> float:
        """What a device of a model loses at its end of any path, beside its data sheet.

        Parameters
        ----------
        model_name : str
            Name of the model. [-]
        """
        half_db = self.constant.offset / 2 if self.constant else 0.0
        return half_db + sum(one.offset for name, one in self.models if name == model_name)


@dataclass(frozen=True, slots=True)
class Layout:
    """Gateways, sensors and repeaters at places, with the links measured for them.

    Parameters
    ----------
    name : str
        Folder name of the layout. [-]
    devices : tuple of Device
        In order of their ids by code point, whatever the order in the file. [-]
    links : tuple of GivenLink
        Measured links between these devices, one entry per direction, sorted. [-]
    """

    name: str
    devices: tuple[Device, ...]
    links: tuple[GivenLink, ...]

    def of_kind(self, kind: Kind) -> tuple[Device, ...]:
        """Return the devices of one kind, in order of id."""
        return tuple(device for device in self.devices if device.kind is kind)

    @property
    def sensors(self) -> tuple[Device, ...]:
        """The sensors, in order of id."""
        return self.of_kind(Kind.SENSOR)

    @property
    def gateways(self) -> tuple[Device, ...]:
        """The gateways, in order of id."""
        return self.of_kind(Kind.GATEWAY)


def outages_matter(layouts: Sequence[Layout]) -> bool:
    """Whether layouts differ in gateways, their places, supplies, circuits or standby.

    Only then are site outages part of the difference, and counted by default.

    Parameters
    ----------
    layouts : sequence of Layout
        What is compared. [-]
    """
    gateways = {
        tuple(
            (one.id, one.place, one.supply, one.circuit_id, one.standby) for one in layout.gateways
        )
        for layout in layouts
    }
    return len(gateways) > 1


@dataclass(frozen=True, slots=True)
class Site:
    """A building with candidate layouts of the same sensors.

    Parameters
    ----------
    name : str
        Title of the site, as its file gives it. [-]
    horizon_years : float
        Length of one lifetime, from where it begins. [years]
    hand_over : date
        What lifetimes count from where nothing has served yet. [-]
    building : Building
        What is drawn; without walls links are predicted by the site-general model. [-]
    radio, routing, hazards, upkeep
        What the site states, defaults filled in. [-]
    layouts : tuple of Layout
        Candidates, in order of name. [-]
    calibration : Calibration or None
        What measurements corrected; None before anybody calibrated. [-]
    learnt : Learnt or None
        What own history says; it is in ``hazards`` and ``upkeep`` already. [-]
    working_hours : WorkingHours
        When somebody can travel and work. [-]
    circuits : tuple of (str, Circuit)
        Supply circuits that section ``circuits`` states, by id. [-]
    standing : Standing
        How its devices stand on the day that lifetimes begin; as if new where nobody said. [-]
    prices : Prices
        What parts and work cost, as far as anybody stated it. [-]
    notes : tuple of str
        What the reader wants the user to know first: assumptions made, heights filled in. [-]
    titles : Titles
        What stands on papers. [-]
    stated : tuple of str
        Keys of the catalogue that its folder states, of some device or thing at least, and whole
        sections that it switches off. Sites that state the same defaults are equal. [-]
    """

    name: str
    horizon_years: float
    hand_over: date
    building: Building
    radio: Radio
    routing: Routing
    hazards: Hazards
    upkeep: Upkeep
    layouts: tuple[Layout, ...]
    calibration: Calibration | None = None
    learnt: Learnt | None = None
    working_hours: WorkingHours = ALWAYS
    circuits: tuple[tuple[str, Circuit], ...] = ()
    standing: Standing = AS_NEW
    prices: Prices = NO_PRICES
    notes: tuple[str, ...] = ()
    titles: Titles = UNTITLED
    stated: tuple[str, ...] = field(default=(), compare=False)

    @property
    def begins(self) -> date:
        """Day on which lifetimes begin: hand-over, or that on which devices stood as they do."""
        return self.standing.today or self.hand_over

    def states(self, key: str) -> bool:
        """Whether the folder says something of a setting, own history included.

        It does as well where it states another in the place of that one.

        Parameters
        ----------
        key : str
            Of the catalogue. [-]
        """
        path, _, name = key.rpartition(".")
        told = {*self.stated, *(one.key for one in (self.learnt.values if self.learnt else ()))}
        instead = {one.key for one in section(path) if one.instead_of == name}
        return not told.isdisjoint({key, path, *instead})

    def with_setting(self, key: str, value: float | str | bool) -> "Site":
        """Return the same site with one setting changed, as if its folder had stated that.

        Settings of radio, routing, hazards and upkeep, and ``horizon_years``, can be changed. What
        is built into devices and drawings while a folder is read is to be changed there.

        Parameters
        ----------
        key : str
            Dotted path as in ``site.yaml``, such as ``radio.swing_db``. [-]
        value : float, str or bool
            The new value; a whole hazard or repair is True or False, on or off. [unit]

        Raises
        ------
        UsageError
            The key is unknown, or the value is none for it.
        """
        name = key.partition(".")[0]
        changed = replace(self, **{name: restated(getattr(self, name, None), key, value)})
        if name == "hazards":  # a rate of 0 is none, unless a zone has one of its own
            here = with_zones(changed.hazards, self.building.zones, frozenset(ZONE_RATES))
            changed = replace(changed, hazards=here)
        homeless = [one.id for layout in self.layouts for one in layout.devices if not one.place]
        if key == "radio.predict" and changed.radio.predict and homeless:
            raise UsageError(
                f"{key}: found on; expected a place of every device, of {homeless[0]} too"
            )
        return changed

    def layout(self, name: str) -> Layout:
        """Return the layout of that name; UsageError if there is none."""
        for layout in self.layouts:
            if layout.name == name:
                return layout
        names = [layout.name for layout in self.layouts]
        way_out = alternatives(name, names)
        near = f"; {way_out}" if way_out.startswith("did") else ""
        raise UsageError(f"{self.name} has no layout {name!r}; it has {', '.join(names)}{near}")
