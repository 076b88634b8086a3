"""How a site in service stands on the day that lifetimes begin: ages, cells, what is down."""

from dataclasses import dataclass
from datetime import date

from resilience.units import MS_PER_DAY


@dataclass(frozen=True, slots=True)
class InService:
    """One device that has been in service.

    Parameters
    ----------
    id : str
        Of the device, the same one wherever a layout hangs it. [-]
    since : date
        First day in service. [-]
    cells_since : date
        First day of its cells; that of the device where nobody said. [-]
    charge_left_share : float or None
        What is left of a full set; None where nobody measured it. [-]
    down_since : date or None
        Since when it is down; None where it is up. [-]
    """

    id: str
    since: date
    cells_since: date
    charge_left_share: float | None = None
    down_since: date | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """All devices that have been in service; any other starts as if new.

    Parameters
    ----------
    today : date or None
        Day on which that was so, and from which lifetimes count; None: nothing has served. [-]
    devices : tuple of InService
        In order of id. [-]
    """

    today: date | None = None
    devices: tuple[InService, ...] = ()

    def of(self, id: str) -> InService | None:
        """Return what is known of a device; None where it is as if new."""
        return next((one for one in self.devices if one.id == id), None)

    def age_ms(self, id: str) -> int:
        """Time that a device has been in service."""
        one = self.of(id)
        return 0 if one is None else self._ms_since(one.since)

    def cells_age_ms(self, id: str) -> int:
        """Time that the cells of a device have served."""
        one = self.of(id)
        return 0 if one is None else self._ms_since(one.cells_since)

    def left_share(self, id: str) -> float | None:
        """What is left of the cells of a device; None where nobody measured it."""
        one = self.of(id)
        return None if one is None else one.charge_left_share

    def is_down(self, id: str) -> bool:
        """Whether a device is down as lifetimes begin."""
        one = self.of(id)
        return one is not None and one.down_since is not None

    def _ms_since(self, day: date) -> int:
        assert self.today is not None  # nothing has served without a day on which it had
        return (self.today - day).days * MS_PER_DAY


AS_NEW = Standing()
