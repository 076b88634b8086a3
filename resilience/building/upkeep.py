"""What a site states of who mends what and when, of parts and of prices.

Field names equal the keys of the catalogue in ``assumptions``; a test holds the two together.
"""

from dataclasses import dataclass

from resilience.building.settings import Duration

UNLIMITED = "unlimited"


@dataclass(frozen=True, slots=True)
class Rounds:
    """Section ``upkeep.rounds``: a crew of its own puts new cells in, device by device.

    Parameters
    ----------
    every_years : float
        Time from one round to the next, and from hand-over to the first. [years]
    older_than_years : float
        Cells of that age are renewed; 0 is no reason, or every age if there is no other. [years]
    below_charge_share : float
        Cells with less than that of their charge left are renewed; 0 is no reason. [-]
    service_h : float
        Time for which a device is off the mesh while that is done. [h]
    """

    every_years: float
    older_than_years: float
    below_charge_share: float
    service_h: float


@dataclass(frozen=True, slots=True)
class Spares:
    """Section ``upkeep.spares``: parts on the shelf, and how others are had.

    Parameters
    ----------
    devices, cells : int or str
        How many are kept, or ``unlimited``. [-]
    dead_share : float
        Share of parts that turn out dead when they are put in. [-]
    delivery : Duration
        From order to shelf. [-]
    """

    devices: int | str
    cells: int | str
    dead_share: float
    delivery: Duration


@dataclass(frozen=True, slots=True)
class Upkeep:
    """Section ``upkeep``.

    Parameters
    ----------
    repair, gateway_repair : Duration or None
        None means that nothing is ever repaired. [-]
    response : Duration or None
        What comes before a repair; None is nothing. [-]
    alarm_h : float
        Silence that opens a call; with 0 a failure does so at once, and nothing else does. [h]
    alarm_on : str
        Which silence: ``dark`` or ``down``. [-]
    crews : int or str
        How many, or ``unlimited``. [-]
    mends : str
        What one visit sees to: its ``device`` or the ``site``. [-]
    resurvey : bool
        Whether a visit to a sensor without a way works round what changed for good. [-]
    rounds : Rounds or None
        Planned rounds; None is none. [-]
    spares : Spares or None
        Parts on the shelf; None is as many as are needed, all of them sound. [-]
    """

    repair: Duration | None
    gateway_repair: Duration | None
    response: Duration | None = None
    alarm_h: float = 0.0
    alarm_on: str = "dark"
    crews: int | str = "unlimited"
    mends: str = "device"
    resurvey: bool = False
    rounds: Rounds | None = None
    spares: Spares | None = None


@dataclass(frozen=True, slots=True)
class WorkingHours:
    """When somebody can be on site, in local standard time: part of section ``calendar``.

    Parameters
    ----------
    opens_h, closes_h : float
        From and to which hour of a day. [h]
    days : tuple of int
        Days of the week, 0 is Monday. [-]
    """

    opens_h: float = 0.0
    closes_h: float = 24.0
    days: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)


ALWAYS = WorkingHours()


@dataclass(frozen=True, slots=True)
class Prices:
    """Section ``prices``; None is a price that nobody stated.

    Parameters
    ----------
    currency : str
        What prices are told in. [-]
    device, gateway, cells, visit, hour : float or None
        Of a sensor or repeater without its cells; a gateway; a set of cells; a visit; an hour of
        work. [currency]
    """

    currency: str = ""
    device: float | None = None
    gateway: float | None = None
    cells: float | None = None
    visit: float | None = None
    hour: float | None = None


NO_PRICES = Prices()
