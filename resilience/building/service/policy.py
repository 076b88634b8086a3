"""What somebody promises: at most so many sensors lost at once, for no longer than so long."""

import math
from dataclasses import dataclass
from enum import StrEnum

from resilience.errors import UsageError

ROUNDING = 1e-9  # 0.1 of 30 sensors are 3, whatever binary fractions make of it


class Lost(StrEnum):
    """Which sensors a policy counts."""

    ORPHANS = "orphans"
    DARK = "dark"


class Start(StrEnum):
    """From when on a sensor counts."""

    HAND_OVER = "hand_over"
    FIRST_ROUTE = "first_route"


@dataclass(frozen=True, slots=True)
class Policy:
    """A promise: never more than so many sensors lost at once for longer than a duration.

    Parameters
    ----------
    longer_than_h : float
        Duration that an excess may last; only what lasts strictly longer breaks the promise. [h]
    kept_with_probability : float
        With which the promise has to be kept over the whole horizon, between 0 and 1. [-]
    max_orphans : int or None
        So many sensors may be lost at once. [-]
    max_orphan_share : float or None
        The same as a share of the sensors of a layout; exactly one of both is stated. [-]
    count : Lost
        Which sensors are lost. [-]
    start : Start
        From when on a sensor counts. [-]
    per_sensor : bool
        Whether each of the sensors has to be lost for longer than the duration by itself; else an
        excess goes on as one returns and another is lost. [-]

    Raises
    ------
    UsageError
        The policy contradicts itself, or a number is out of its range.
    """

    longer_than_h: float
    kept_with_probability: float
    max_orphans: int | None = None
    max_orphan_share: float | None = None
    count: Lost = Lost.ORPHANS
    start: Start = Start.HAND_OVER
    per_sensor: bool = False

    def __post_init__(self) -> None:
        if (self.max_orphans is None) == (self.max_orphan_share is None):
            raise UsageError("a policy states either max_orphans or max_orphan_share")
        if not 0 < self.kept_with_probability < 1:
            raise UsageError(
                f"kept with {self.kept_with_probability:g}: expected a probability above 0 and "
                "below 1, as nothing is certain"
            )
        if not 0 <= self.longer_than_h < math.inf:
            raise UsageError(f"longer than {self.longer_than_h:g} h: expected 0 or more hours")
        if self.max_orphans is not None and self.max_orphans < 0:
            raise UsageError(f"at most {self.max_orphans} orphans: expected 0 or more")
        if self.max_orphan_share is not None and not 0 <= self.max_orphan_share <= 1:
            raise UsageError(f"a share of {self.max_orphan_share:g}: expected 0 to 1")

    def max_count(self, n_sensors: int) -> int:
        """Sensors that may be lost at once; a share is rounded down.

        Parameters
        ----------
        n_sensors : int
            Sensors of the layout. [-]
        """
        if self.max_orphans is not None:
            return self.max_orphans
        assert self.max_orphan_share is not None
        return math.floor(self.max_orphan_share * n_sensors + ROUNDING)

    def check(self, n_sensors: int, horizon_h: float) -> None:
        """Raise UsageError if the policy makes no sense for a site.

        Parameters
        ----------
        n_sensors : int
            Its sensors. [-]
        horizon_h : float
            How long its lifetimes are. [h]
        """
        if self.max_orphans is not None and self.max_orphans > n_sensors:
            raise UsageError(
                f"at most {self.max_orphans} orphans: expected at most {n_sensors}, as there are "
                "no more sensors"
            )
        if self.longer_than_h >= horizon_h:
            raise UsageError(
                f"longer than {self.longer_than_h:g} h: expected less than the horizon of "
                f"{horizon_h:g} h, which nothing outlasts"
            )

    def to_json(self) -> dict[str, object]:
        """Return the policy under the keys of its file."""
        most: dict[str, object] = {"max_orphans": self.max_orphans}
        if self.max_orphans is None:
            most = {"max_orphan_share": self.max_orphan_share}
        return {
            **most,
            "longer_than_h": self.longer_than_h,
            "kept_with_probability": self.kept_with_probability,
            "count": self.count.value,
            "per_sensor": self.per_sensor,
            "from": self.start.value,
        }
