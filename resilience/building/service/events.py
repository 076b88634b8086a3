"""What happened on sites in service, as values: who was watched for what, and what struck."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from resilience.building.text.entries import Mark
from resilience.units import HOURS_PER_YEAR

FAILURES = ("hardware", "gateway_hardware")  # what wears and is mended by a visit
STRIKES = ("removed", "device_mute", "zone_water")  # what is mended, too, and knows no age
OF_ZONES = ("zone_works", "zone_water", "zone_interference", "zone_heat", "lasting_change")
OF_MODELS = ("software_release",)
LINK, CIRCUIT = "link_blockage", "circuit_outage"
OUTAGES = (  # what ends by itself, at a rate and with a duration of its own
    *("gateway_outage", "mains_outage", LINK),
    *(cause for cause in OF_ZONES if cause not in STRIKES),
    *OF_MODELS,
)
OF_GATEWAYS = ("gateway_hardware", "gateway_outage")
FLAT = "battery"
# Of which thing each cause that strikes no single device is counted.
COUNTED_BY = {LINK: "link", CIRCUIT: "circuit"} | {
    **dict.fromkeys(OF_ZONES, "zone"),
    **dict.fromkeys(OF_MODELS, "model"),
}
S_PER_H = 3600


class What(StrEnum):
    """What a row of a logbook tells."""

    WATCHED = "watched"
    FAILURE = "failure"
    OUTAGE = "outage"
    REPAIR = "repair"
    CELLS = "cells"


@dataclass(frozen=True, slots=True)
class Moment:
    """When something was, as exactly as somebody wrote it down.

    Parameters
    ----------
    earliest, latest : datetime
        The day from its first to its last moment where no time of day is known, else equal. [-]
    """

    earliest: datetime
    latest: datetime


@dataclass(frozen=True, slots=True)
class Lasted:
    """How long something took, as far as it is known.

    Parameters
    ----------
    least_h, most_h : float
        Bounds; equal where it is known, the upper one infinite where it had not ended. [h]
    """

    least_h: float
    most_h: float

    @property
    def has_ended(self) -> bool:
        """Whether the end was seen."""
        return self.most_h != float("inf")

    @property
    def likely_h(self) -> float:
        """Middle of the bounds; the lower one where the end was not seen."""
        return (self.least_h + self.most_h) / 2 if self.has_ended else self.least_h


@dataclass(frozen=True, slots=True)
class Strike:
    """One failure or outage.

    Parameters
    ----------
    cause : str
        Name of the cause. [-]
    site, group, device : str
        Where, and whom; empty where nobody said. [-]
    at : Moment
        When it struck. [-]
    lasted : Lasted or None
        Until it was mended or over; None where nobody wrote that down. [-]
    mark : Mark
        Where it stands. [-]
    """

    cause: str
    site: str
    group: str
    device: str
    at: Moment
    lasted: Lasted | None
    mark: Mark


@dataclass(frozen=True, slots=True)
class Watch:
    """Devices or links that somebody watched for some causes over a time.

    Parameters
    ----------
    causes : tuple of str
        What would have been noted had it struck. [-]
    site, group, device : str
        Where, and whom; a device only where it is a single one. [-]
    n_watched : int
        How many they are. [-]
    over : Moment
        First and last moment. [-]
    new_since : datetime or None
        When they were new; None where nobody knows. [-]
    mark : Mark
        Where it stands. [-]
    strikes : tuple of Strike
        What struck them, in order of time. [-]
    """

    causes: tuple[str, ...]
    site: str
    group: str
    device: str
    n_watched: int
    over: Moment
    new_since: datetime | None
    mark: Mark
    strikes: tuple[Strike, ...] = ()

    @property
    def each_h(self) -> float:
        """Time over which each of them was watched."""
        return hours_between(self.over.earliest, self.over.latest)

    @property
    def watched_years(self) -> float:
        """Time over which they were watched, added up."""
        return self.n_watched * self.each_h / HOURS_PER_YEAR

    def of_cause(self, cause: str) -> tuple[Strike, ...]:
        """What struck them by one cause."""
        return tuple(one for one in self.strikes if one.cause == cause)


@dataclass(frozen=True, slots=True)
class Took:
    """One repair or one set of cells, of which only the time matters.

    Parameters
    ----------
    of : str
        Cause of the repair, or group of devices that load their cells alike. [-]
    lasted : Lasted
        From alarm to mended, or from new to flat. [-]
    """

    of: str
    lasted: Lasted


@dataclass(frozen=True, slots=True)
class History:
    """Everything that the tables tell.

    Parameters
    ----------
    files : tuple of str
        Their names. [-]
    n_sites : int
        Sites that they tell of. [-]
    watches : tuple of Watch
        Who was watched, with what struck them. [-]
    repairs, cells : tuple of Took
        Visits of which only the time is told, and sets of cells. [-]
    notes : tuple of str
        What the reader wants the user to know. [-]
    """

    files: tuple[str, ...]
    n_sites: int
    watches: tuple[Watch, ...]
    repairs: tuple[Took, ...]
    cells: tuple[Took, ...]
    notes: tuple[str, ...] = ()


def hours_between(first: datetime, last: datetime) -> float:
    """Hours from one moment to another."""
    return (last - first).total_seconds() / S_PER_H
