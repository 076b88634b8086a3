"""Figures of a study that are more than one number."""

from dataclasses import dataclass

from resilience.montecarlo.estimates import LEVEL, Estimate, Floats, Limits
from resilience.montecarlo.sequences import capped_sequence
from resilience.units import HOURS_PER_YEAR

PER_SENSOR_YEAR = Limits(0.0, float(HOURS_PER_YEAR))
ROOM_H = 20.0  # hours per sensor-year that bounds always count in full


def hours_estimate(
    hours: Floats, limits: Limits = PER_SENSOR_YEAR, level_share: float = LEVEL
) -> Estimate:
    """Mean of hours per sensor-year, or of their differences, rare large ones told apart.

    Parameters
    ----------
    hours : Floats
        One value per building draw, in order of play, shape (buildings,). [h/year]
    limits : Limits
        Least and largest possible value. [h/year]
    level_share : float
        Two-sided level over all looks together. [-]
    """
    return capped_sequence(hours, limits, ROOM_H, level_share)


@dataclass(frozen=True, slots=True)
class SensorFigures:
    """How one sensor fares: shares of the horizon.

    Parameters
    ----------
    id : str
        The sensor. [-]
    orphan_share, dark_share, down_share : Estimate
        Up without a route; silent for any reason of its own or its route's; failed itself. [-]
    """

    id: str
    orphan_share: Estimate
    dark_share: Estimate
    down_share: Estimate


@dataclass(frozen=True, slots=True)
class TypicalYear:
    """Mean numbers of what happens in a year of the whole layout.

    Parameters
    ----------
    strikes : dict of str to float
        Strikes that are counted, by their column of a lifetime's row. [1/year]
    visits, fruitless, cells : float
        Repair visits; those that mended nothing; sets of cells put in. [1/year]
    worked_h : float
        What visits to sensors and repeaters took, in working hours. [h/year]
    """

    strikes: dict[str, float]
    visits: float
    fruitless: float
    cells: float
    worked_h: float


@dataclass(frozen=True, slots=True)
class CellLife:
    """How long average cells of a device last, at what it drew on average in a lifetime.

    Parameters
    ----------
    mean_months, least_months, most_months : float
        Over lifetimes. [month]
    """

    mean_months: float
    least_months: float
    most_months: float

    def to_json(self) -> dict[str, float]:
        """Return mean, least and most."""
        return {"mean": self.mean_months, "least": self.least_months, "most": self.most_months}


@dataclass(frozen=True, slots=True)
class SilentHours:
    """Mean hours for which a sensor is silent, by why; they add up.

    Parameters
    ----------
    itself : float
        Failed, flat or not measuring. [h/year]
    no_gateway : float
        Up while no gateway serves. [h/year]
    before_first_route, in_service : float
        Up without a route though some gateway serves. [h/year]
    """

    itself: float
    no_gateway: float
    before_first_route: float
    in_service: float

    @property
    def total(self) -> float:
        """For any reason."""
        return self.itself + self.no_gateway + self.before_first_route + self.in_service
