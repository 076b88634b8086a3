"""What a site states about radio, routing and hazards, after defaults are filled in.

Field names equal the keys of the catalogue in ``assumptions``; a test holds the two together.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from resilience.building.timetable import ANY_TIME, Timetable


@dataclass(frozen=True, slots=True)
class Radio:
    """Section ``radio``; every field is explained in the catalogue under its own name."""

    predict: bool
    environment: str
    frequency_mhz: float
    quiet_95_dbm: float
    busy_95_dbm: float
    frame_octets: int
    quiet_disturbed_share: float
    busy_disturbed_share: float
    interference_db: float
    swing_db: float
    swing_holds_h: float
    direction_difference_db: float
    shadowing_drawn_db: float
    shadowing_undrawn_db: float
    decorrelation_m: float
    shadowing_shared: float
    survey_spread_db: float
    survey_settled_db: float
    device_spread_db: float
    distance_power: float
    distance_power_spread: float
    floor_loss_db: float
    obstacle_most_db: float
    swing_mesh_share: float = 0.0
    swing_device_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Heights:
    """What section ``building`` says of heights that are left blank elsewhere."""

    level_height_m: float
    slab_depth_m: float
    gateway_height_m: float
    repeater_height_m: float
    sensor_height_m: float


@dataclass(frozen=True, slots=True)
class Routing:
    """Section ``routing``; every field is explained in the catalogue under its own name."""

    objective: str
    hysteresis: int
    look_around_h: float
    min_prr: float
    backups: int
    rejoin_short_h: float
    rejoin_long_h: float
    reformation_h: float
    standby_switch_h: float


@dataclass(frozen=True, slots=True)
class Duration:
    """How long something lasts: one of three shapes.

    Parameters
    ----------
    distribution : str
        ``lognormal``, ``exponential`` or ``fixed``. [-]
    median_h, p90_h : float or None
        Median and 90 % point, for the lognormal. [h]
    mean_h : float or None
        Mean, for the other two. [h]
    """

    distribution: str
    median_h: float | None = None
    p90_h: float | None = None
    mean_h: float | None = None

    def __post_init__(self) -> None:
        if self.distribution == "lognormal":
            if self.median_h is None or self.p90_h is None:
                raise ValueError("a lognormal duration needs median_h and p90_h")
            if not 0 < self.median_h <= self.p90_h:
                raise ValueError(f"p90_h {self.p90_h:g} is below median_h {self.median_h:g}")
        elif self.mean_h is None or not self.mean_h > 0:
            raise ValueError(f"a duration that is {self.distribution} needs mean_h above 0")


@dataclass(frozen=True, slots=True)
class Hardware:
    """A device's own failures: Weibull with its mean, mended by the upkeep."""

    mttf_h: float
    shape: float


@dataclass(frozen=True, slots=True)
class EarlyFailure:
    """The weak share of new devices."""

    share: float
    mean_h: float


@dataclass(frozen=True, slots=True)
class Battery:
    """Spread of usable charge between sets of cells, and what those of one batch share of it."""

    spread: float
    batch_share: float = 0.8


@dataclass(frozen=True, slots=True)
class Blockage:
    """Something that stands in the way of one link for a while."""

    per_year: float | None
    quiet_per_year: float
    busy_per_year: float
    loss_db: float
    lasts: Duration
    when: Timetable = ANY_TIME

    def rate_per_year(self, environment: str) -> float:
        """Times a year at risk: as stated, else as the environment has it.

        Parameters
        ----------
        environment : str
            ``quiet`` or ``busy``. [-]
        """
        if self.per_year is not None:
            return self.per_year
        return self.quiet_per_year if environment == "quiet" else self.busy_per_year


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Drawn doors and obstacles that change: what they leave of the blockages nobody drew."""

    blockage_share: float


@dataclass(frozen=True, slots=True)
class GatewayOutage:
    """A gateway without supply, backhaul or computer for a while."""

    per_year: float
    lasts: Duration


@dataclass(frozen=True, slots=True)
class MainsOutage:
    """A sensor or repeater on mains without its supply for a while."""

    per_year: float
    lasts: Duration


@dataclass(frozen=True, slots=True)
class CircuitOutage:
    """What part of the losses of mains takes a whole circuit."""

    share: float


@dataclass(frozen=True, slots=True)
class CommonCause:
    """What part of hardware failures takes all devices of a model."""

    beta: float


@dataclass(frozen=True, slots=True)
class SoftwareRelease:
    """A faulty release that reaches the devices of a model, all at once or in turn."""

    per_year: float
    share: float
    staged_h: float
    lasts: Duration


@dataclass(frozen=True, slots=True)
class ZoneWorks:
    """Building works that take a share of the devices in a zone."""

    per_year: float
    share: float
    lasts: Duration


@dataclass(frozen=True, slots=True)
class ZoneWater:
    """Water that kills a share of the devices in a zone."""

    per_year: float
    share: float


@dataclass(frozen=True, slots=True)
class ZoneLoss:
    """Something that weakens every link with an end in a zone."""

    per_year: float
    loss_db: float
    lasts: Duration
    when: Timetable = ANY_TIME


@dataclass(frozen=True, slots=True)
class BusyHours:
    """People who weaken every link a little while they are about."""

    loss_db: float
    when: Timetable


@dataclass(frozen=True, slots=True)
class Removed:
    """People who take a device away, more often where they reach it."""

    reach_per_year: float
    high_per_year: float
    reach_m: float


@dataclass(frozen=True, slots=True)
class DeviceMute:
    """A sensor that relays and does not measure."""

    per_year: float


@dataclass(frozen=True, slots=True)
class Hazards:
    """Section ``hazards``: None is a hazard that is switched off, or was not asked for."""

    hardware: Hardware | None
    early_failure: EarlyFailure | None
    battery: Battery | None
    link_blockage: Blockage | None
    obstacles: Obstacles | None
    gateway_outage: GatewayOutage | None
    mains_outage: MainsOutage | None
    gateway_hardware: Hardware | None
    circuit_outage: CircuitOutage | None
    common_cause: CommonCause | None
    software_release: SoftwareRelease | None
    zone_works: ZoneWorks | None
    zone_water: ZoneWater | None
    zone_interference: ZoneLoss | None
    zone_heat: ZoneLoss | None
    lasting_change: ZoneLoss | None
    busy_hours: BusyHours | None
    removed: Removed | None
    device_mute: DeviceMute | None


@dataclass(frozen=True, slots=True)
class Circuit:
    """One entry of section ``circuits``.

    Parameters
    ----------
    backup_h : float
        How long what hangs on it runs on without supply. [h]
    per_year : float or None
        Losses of its supply a year; None as ``hazards`` has it. [1/year]
    lasts : Duration or None
        How long they last; None as ``hazards.mains_outage`` has it. [h]
    """

    backup_h: float = 0.0
    per_year: float | None = None
    lasts: Duration | None = None


@dataclass(frozen=True, slots=True)
class LearntValue:
    """What own history says of one setting.

    Parameters
    ----------
    key : str
        Path of the setting, as in ``hazards.hardware.per_year``. [-]
    value : float
        What takes the place of what the site states. [unit]
    low, high : float
        Bounds that hold it in 95 of 100 cases. [unit]
    n_events : int
        Events that it rests on. [-]
    at_risk_years : float
        Time in which they could happen; 0 for durations and cells. [years]
    """

    key: str
    value: float
    low: float
    high: float
    n_events: int
    at_risk_years: float


@dataclass(frozen=True, slots=True)
class Learnt:
    """What own history says, setting by setting.

    Parameters
    ----------
    values : tuple of LearntValue
        In order of key. [-]
    """

    values: tuple[LearntValue, ...]

    def assuming(self, assumed: Mapping[str, float]) -> "Learnt":
        """Return the same where some values are otherwise; a 90 % point goes with its median.

        Parameters
        ----------
        assumed : mapping of str to float
            Other values, by key. [unit]
        """
        factors = {
            one.key.replace(".median_h", ".p90_h"): assumed[one.key] / one.value
            for one in self.values
            if one.key in assumed
        }
        found = [
            replace(one, value=assumed.get(one.key, one.value * factors.get(one.key, 1.0)))
            for one in self.values
        ]
        return Learnt(tuple(found))

    def of(self, section: str) -> dict[str, float]:
        """Return the values of one section of the catalogue, by key.

        Parameters
        ----------
        section : str
            Its path, as in ``hazards.hardware``. [-]
        """
        return {
            one.key.rpartition(".")[2]: one.value
            for one in self.values
            if one.key.rpartition(".")[0] == section
        }


@dataclass(frozen=True, slots=True)
class Titles:
    """What stands on papers and in lists of sites, and in nothing that is played.

    Parameters
    ----------
    client, drawing_revision, author : str
        For whom, by which state of the drawings, by whom; empty where nobody said. [-]
    tags : str
        Words by which an owner of many sites picks some, with commas between. [-]
    """

    client: str = ""
    drawing_revision: str = ""
    author: str = ""
    tags: str = ""

    @property
    def each_tag(self) -> tuple[str, ...]:
        """Tags one by one, in their order."""
        return tuple(tag for one in self.tags.split(",") if (tag := one.strip()))


UNTITLED = Titles()
