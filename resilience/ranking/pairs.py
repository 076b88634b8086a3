"""Two layouts on the same luck: the paired difference, what it proves, and what it is made of."""

from collections import defaultdict
from dataclasses import dataclass
from enum import StrEnum

from resilience.hazards.causes import described
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.montecarlo.estimates import Estimate, Floats, Limits
from resilience.montecarlo.sequences import asymptotic_sequence, is_informative
from resilience.montecarlo.stopping import FIRST_LOOKS
from resilience.montecarlo.study import Study
from resilience.units import HOURS_PER_YEAR

DIFFERENCE = Limits(-float(HOURS_PER_YEAR), float(HOURS_PER_YEAR))

# A difference smaller than either of these would change nobody's decision.
INDIFFERENCE_H = 0.5
INDIFFERENCE_SHARE = 0.05

Subject = tuple[str, str]  # id, and what it does as a pattern: a door may have a device's id


class Verdict(StrEnum):
    """What a pair shows of its first layout."""

    BETTER = "better"
    WORSE = "worse"
    ALIKE = "alike"
    TOO_CLOSE = "too close to call"
    MIXED = "fewer orphan hours, more dark hours"


@dataclass(frozen=True, slots=True)
class Reason:
    """Part of a difference: orphan hours put down to one thing or to the layout itself.

    Parameters
    ----------
    subject : str
        Id of the device, link, door or obstacle; ``layout`` or ``radio draw``. [-]
    causes : tuple of str
        Hazards that took it away, the heaviest first. [-]
    first_hours, second_hours : float
        Orphan hours per sensor-year put down to it in each layout. [h/year]
    """

    subject: str
    causes: tuple[str, ...]
    first_hours: float
    second_hours: float

    @property
    def hours(self) -> float:
        """Part of the difference, first minus second."""
        return self.first_hours - self.second_hours


@dataclass(frozen=True, slots=True)
class Pair:
    """Two layouts compared.

    Parameters
    ----------
    first, second : str
        Names of the layouts. [-]
    difference : Estimate
        Orphan hours per sensor-year, first minus second; simultaneous over all pairs. [h/year]
    dark_difference : Estimate
        The same of dark hours. [h/year]
    verdict : Verdict
        What that shows of the first. [-]
    reasons : tuple of Reason
        Parts that add up to the difference, the largest first. [-]
    fewer_orphan_share : float
        Share of building draws in which the first has fewer orphan hours. [-]
    n_buildings : int
        Building draws that it rests on; fewer than played where one was dropped. [-]
    """

    first: str
    second: str
    difference: Estimate
    dark_difference: Estimate
    verdict: Verdict
    reasons: tuple[Reason, ...]
    fewer_orphan_share: float
    n_buildings: int

    @property
    def is_settled(self) -> bool:
        """Whether more lifetimes are not needed to tell the two apart."""
        return self.verdict is not Verdict.TOO_CLOSE

    def to_json(self) -> dict[str, object]:
        """Return the pair under stable keys."""
        return {
            "layouts": [self.first, self.second],
            "difference": self.difference.mean,
            "low": self.difference.low,
            "high": self.difference.high,
            "dark_difference": self.dark_difference.to_json(),
            "verdict": self.verdict.value,
            "building_draws": self.n_buildings,
            "fewer_orphan_hours_in_share_of_buildings": self.fewer_orphan_share,
            "reasons": [
                {"subject": reason.subject, "causes": list(reason.causes), "hours": reason.hours}
                for reason in self.reasons
            ],
        }


def pair_of(first: Study, second: Study, level_share: float) -> Pair:
    """Compare two layouts that played the same lifetimes.

    Parameters
    ----------
    first, second : Study
        The two, with equal seed, horizon, sensors and number of lifetimes. [-]
    level_share : float
        Two-sided level of this pair's bound. [-]
    """
    orphan = first.hours_per_sensor_year("orphan_ms") - second.hours_per_sensor_year("orphan_ms")
    dark = first.hours_per_sensor_year("dark_ms") - second.hours_per_sensor_year("dark_ms")
    difference = asymptotic_sequence(orphan, DIFFERENCE, level_share)
    dark_difference = asymptotic_sequence(dark, DIFFERENCE, level_share)
    better = min(first.orphan_hours.mean, second.orphan_hours.mean)
    verdict = _verdict(difference, orphan, max(INDIFFERENCE_H, INDIFFERENCE_SHARE * better))
    if verdict is Verdict.BETTER and dark_difference.low > 0:
        verdict = Verdict.MIXED
    fewer_share = float((orphan < 0).mean())
    reasons = reasons_of(first, second)
    return Pair(
        first.layout,
        second.layout,
        difference,
        dark_difference,
        verdict,
        reasons,
        fewer_share,
        first.n_buildings,
    )


def _verdict(difference: Estimate, values: Floats, indifference_h: float) -> Verdict:
    if len(values) < FIRST_LOOKS[0]:  # cut short by time: bounds of so few are not to be trusted
        return Verdict.TOO_CLOSE
    if -indifference_h <= difference.low and difference.high <= indifference_h:
        return Verdict.ALIKE
    if not is_informative(values):
        return Verdict.TOO_CLOSE
    if difference.high < 0:
        return Verdict.BETTER
    return Verdict.WORSE if difference.low > 0 else Verdict.TOO_CLOSE


def reasons_of(first: Study, second: Study) -> tuple[Reason, ...]:
    """Split the difference of two layouts by what held the orphan hours.

    Parameters
    ----------
    first, second : Study
        The two. [-]
    """
    sides = (_by_subject(first), _by_subject(second))
    weight: dict[Subject, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for study in (first, second):
        for (cause, id), hours in study.blame_hours.items():
            weight[_subject((cause, id))][cause] += hours
    reasons = [
        Reason(
            subject[0],
            tuple(sorted(weight[subject], key=lambda cause: -weight[subject][cause])),
            sides[0].get(subject, 0.0),
            sides[1].get(subject, 0.0),
        )
        for subject in sorted(weight)
    ]
    return tuple(sorted(reasons, key=lambda reason: -abs(reason.hours)))


def _by_subject(study: Study) -> dict[Subject, float]:
    hours: dict[Subject, float] = defaultdict(float)
    for holder, value in study.blame_hours.items():
        hours[_subject(holder)] += value
    return hours


def _subject(holder: Holder) -> Subject:
    """What is away, whatever took it; causes that are called alike are one reason."""
    cause, id = holder
    return (cause if holder in (LAYOUT, RADIO_DRAW) else id, described(cause).reason)
