"""What was assumed before and what is known now, setting by setting."""

import math
from dataclasses import asdict, dataclass
from enum import StrEnum

from resilience.building.settings import Learnt, LearntValue

BARELY = 0.9  # of the width before: what is left as unsure was hardly told


class Conflict(StrEnum):
    """On which side of the listed range the history lies by itself."""

    NONE = ""
    ABOVE = "above"
    BELOW = "below"


@dataclass(frozen=True, slots=True)
class Belief:
    """A value and how sure it is.

    Parameters
    ----------
    value : float
        What to reckon with. [unit]
    low, high : float
        Bounds that hold it in 95 of 100 cases. [unit]
    """

    value: float
    low: float
    high: float

    @property
    def width(self) -> float:
        """How unsure it is: the logarithm of the upper bound over the lower one."""
        return math.log(self.high / self.low)


@dataclass(frozen=True, slots=True)
class Basis:
    """What a lesson rests on.

    Parameters
    ----------
    n_seen : int
        Events, or ends of durations and lives. [-]
    n_open : int
        Durations and lives that had not ended. [-]
    at_risk_years : float
        Time in which they could be seen, 0 for durations and cells. [years]
    """

    n_seen: int
    n_open: int = 0
    at_risk_years: float = 0.0


@dataclass(frozen=True, slots=True)
class Lesson:
    """What a history says of one setting.

    Parameters
    ----------
    key : str
        Path of the setting. [-]
    unit : str
        Of everything below. [-]
    before, after : Belief
        What the site states, and what is known with the history. [unit]
    basis : Basis
        What it rests on. [-]
    span : tuple of (float, float) or None
        Range of the catalogue. [unit]
    conflict : Conflict
        Whether the history by itself lies outside that range, beyond chance. [-]
    """

    key: str
    unit: str
    before: Belief
    after: Belief
    basis: Basis
    span: tuple[float, float] | None
    conflict: Conflict

    @property
    def is_barely_told(self) -> bool:
        """Whether it is about as unsure as before."""
        return self.after.width > BARELY * self.before.width


@dataclass(frozen=True, slots=True)
class CellLife:
    """How long cells lasted on devices that load them alike.

    Parameters
    ----------
    group : str
        Their name in the history; may be empty. [-]
    n_flat, n_open : int
        Sets that went flat, and that had not when they were last seen. [-]
    mean_years : Belief
        Mean life. [years]
    """

    group: str
    n_flat: int
    n_open: int
    mean_years: Belief


@dataclass(frozen=True, slots=True)
class Lessons:
    """Everything that a history says to a site.

    Parameters
    ----------
    site : str
        Its title. [-]
    files : tuple of str
        Tables that were read. [-]
    n_sites : int
        Sites that they tell of. [-]
    device_years : float
        Time that devices were watched, each device once. [years]
    found : tuple of Lesson
        By setting, in the order of the catalogue. [-]
    cells : tuple of CellLife
        By group. [-]
    untold : tuple of str
        What the history cannot tell, as sentences. [-]
    notes : tuple of str
        What its reader wants to be known. [-]
    """

    site: str
    files: tuple[str, ...]
    n_sites: int
    device_years: float
    found: tuple[Lesson, ...]
    cells: tuple[CellLife, ...]
    untold: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def learnt(self) -> Learnt | None:
        """What is to be kept; None if nothing was learnt."""
        if not self.found:
            return None
        values = (
            LearntValue(
                one.key,
                one.after.value,
                one.after.low,
                one.after.high,
                one.basis.n_seen,
                one.basis.at_risk_years,
            )
            for one in self.found
        )
        return Learnt(tuple(sorted(values, key=lambda one: one.key)))

    def to_json(self) -> dict[str, object]:
        """Return everything under stable keys."""
        return {
            "site": self.site,
            "histories": list(self.files),
            "n_sites": self.n_sites,
            "device_years": self.device_years,
            "learnt": [
                {**asdict(one), "conflict": one.conflict.value, "barely_told": one.is_barely_told}
                for one in self.found
            ],
            "cell_lives": [asdict(one) for one in self.cells],
            "cannot_tell": list(self.untold),
            "notes": list(self.notes),
        }
