"""Two layouts on the same luck: the paired difference, what it proves, and what it is made of."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from resilience.hazards.causes import described
from resilience.lifetime.record import LAYOUT, RADIO_DRAW, Holder
from resilience.montecarlo.estimates import SHARE, Estimate, Floats, Limits
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.sequences import PILOT_UNITS, betting_sequence
from resilience.montecarlo.study import Study
from resilience.units import HOURS_PER_YEAR

DIFFERENCE = Limits(-float(HOURS_PER_YEAR), float(HOURS_PER_YEAR))

# A difference smaller than either of these would change nobody's decision.
INDIFFERENCE_H = 0.5
INDIFFERENCE_SHARE = 0.05

# What a verdict that settles a pair may leave aside: what is rarer than 1 in so many buildings.
LEAST_ASIDE = 20

Subject = tuple[str, str]  # id, and what it does as a pattern: a door may have a device's id


class RankedBy(StrEnum):
    """Which hours decide."""

    SERVICE = "orphan hours in service per sensor-year"
    ALL = "orphan hours, those before a first route included, per sensor-year"

    def hours(self, study: Study) -> Floats:
        """These hours of each building draw, shape (buildings,)."""
        if self is RankedBy.SERVICE:
            return study.service_hours_per_building
        return study.hours_per_sensor_year("orphan_ms")

    def estimate(self, study: Study) -> Estimate:
        """Their mean."""
        return study.service_hours if self is RankedBy.SERVICE else study.orphan_hours

    def blame(self, study: Study) -> Mapping[Holder, float]:
        """What held them; it adds up to the mean."""
        return study.service_blame_hours if self is RankedBy.SERVICE else study.blame_hours


def ranked_by(found: Sequence[Study]) -> RankedBy:
    """Hours in service, unless layouts differ more before sensors have their first route.

    Decided from the first building draws, which count for no bound.

    Parameters
    ----------
    found : sequence of Study
        One for each layout. [-]
    """
    pilots = [
        (study.service_hours_per_building, study.hours_per_sensor_year("not_reached_ms"))
        for study in found
    ]
    means = np.array([[hours[:PILOT_UNITS].mean() for hours in pilot] for pilot in pilots])
    in_service, before = np.ptp(means, axis=0)
    return RankedBy.ALL if before > in_service else RankedBy.SERVICE


class Verdict(StrEnum):
    """What a pair shows of its first layout."""

    BETTER = "better"
    WORSE = "worse"
    ALIKE = "alike"
    NEARLY_ALIKE = "alike in most buildings"
    SAME = "the same"
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
    ranked_by : RankedBy
        Which hours are compared. [-]
    difference : Estimate
        Hours, first minus second; simultaneous over all pairs. [h/year]
    dark_difference : Estimate
        The same of dark hours. [h/year]
    verdict : Verdict
        What that shows of the first. [-]
    leaves_aside : int
        What is rarer than one in so many possible buildings could still turn the verdict; 0 where
        nothing could. [-]
    reasons : tuple of Reason
        Parts that add up to the difference, the largest first. [-]
    fewer_orphan_share : float
        Share of building draws in which the first has fewer of these hours. [-]
    n_buildings : int
        Building draws that it rests on; fewer than played where one was dropped. [-]
    """

    first: str
    second: str
    ranked_by: RankedBy
    difference: Estimate
    dark_difference: Estimate
    verdict: Verdict
    leaves_aside: int
    reasons: tuple[Reason, ...]
    fewer_orphan_share: float
    n_buildings: int

    @property
    def is_settled(self) -> bool:
        """Whether more lifetimes are not needed to tell the two apart."""
        is_told = self.verdict not in {Verdict.TOO_CLOSE, Verdict.NEARLY_ALIKE}
        return is_told and (not self.leaves_aside or self.leaves_aside >= LEAST_ASIDE)

    def to_json(self) -> dict[str, object]:
        """Return the pair under stable keys."""
        return {
            "layouts": [self.first, self.second],
            "difference": self.difference.mean,
            "low": self.difference.low,
            "high": self.difference.high,
            "dark_difference": self.dark_difference.to_json(),
            "verdict": self.verdict.value,
            "leaves_aside_what_is_rarer_than_one_in": self.leaves_aside or None,
            "building_draws": self.n_buildings,
            "fewer_orphan_hours_in_share_of_buildings": self.fewer_orphan_share,
            "reasons": [
                {"subject": reason.subject, "causes": list(reason.causes), "hours": reason.hours}
                for reason in self.reasons
            ],
        }


def pair_of(first: Study, second: Study, level_share: float, by: RankedBy) -> Pair:
    """Compare two layouts that played the same lifetimes.

    Parameters
    ----------
    first, second : Study
        The two, with equal seed, horizon, sensors and number of lifetimes. [-]
    level_share : float
        Two-sided level of this pair's bound. [-]
    by : RankedBy
        Which hours are compared. [-]
    """
    hours = by.hours(first) - by.hours(second)
    dark = first.hours_per_sensor_year("dark_ms") - second.hours_per_sensor_year("dark_ms")
    difference = hours_estimate(hours, DIFFERENCE, level_share)
    dark_difference = hours_estimate(dark, DIFFERENCE, level_share)
    better = min(float(by.hours(study).mean()) for study in (first, second))
    indifference_h = max(INDIFFERENCE_H, INDIFFERENCE_SHARE * better)
    verdict = _verdict(difference, hours, indifference_h)
    if verdict is Verdict.BETTER and dark_difference.low > 0:
        verdict = Verdict.MIXED
    return Pair(
        first.layout,
        second.layout,
        by,
        difference,
        dark_difference,
        verdict,
        _leaves_aside(verdict, difference, indifference_h),
        reasons_of(by.blame(first), by.blame(second)),
        float((hours < 0).mean()),
        first.n_buildings,
    )


def _verdict(difference: Estimate, hours: Floats, indifference_h: float) -> Verdict:
    if not hours.any() and _is_rare(hours != 0, difference.level_share):
        return Verdict.SAME
    if abs(difference.mean) <= indifference_h:
        if max(-difference.low, difference.high) <= indifference_h:
            return Verdict.ALIKE
        if difference.low <= 0 <= difference.high and _is_rare(
            abs(hours) > indifference_h, difference.level_share
        ):
            return Verdict.NEARLY_ALIKE
    if difference.high < 0:
        return Verdict.BETTER
    return Verdict.WORSE if difference.low > 0 else Verdict.TOO_CLOSE


def _is_rare(is_so: NDArray[np.bool_], level_share: float) -> bool:
    """Whether so few possible buildings are so, at this level and at every look."""
    share = betting_sequence(is_so.astype(np.float64), SHARE, level_share)
    return share.high <= 1 / LEAST_ASIDE


def _leaves_aside(verdict: Verdict, difference: Estimate, indifference_h: float) -> int:
    """One in how many possible buildings could still turn a verdict; 0 if none can."""
    beyond = difference.beyond
    if beyond is None or verdict in {Verdict.TOO_CLOSE, Verdict.SAME}:
        return 0
    most_h = beyond.share.high * DIFFERENCE.largest  # if all of them spoke against it
    room_h = {
        Verdict.BETTER: -difference.high,
        Verdict.MIXED: -difference.high,
        Verdict.WORSE: difference.low,
    }.get(verdict, indifference_h - max(-difference.low, difference.high))
    return int(1 / beyond.share.high) if most_h > room_h else 0


def reasons_of(first: Mapping[Holder, float], second: Mapping[Holder, float]) -> tuple[Reason, ...]:
    """Split the difference of two layouts by what held the hours.

    Parameters
    ----------
    first, second : mapping of Holder to float
        Hours per sensor-year of each by what held them. [h/year]
    """
    hours: dict[Subject, list[float]] = defaultdict(lambda: [0.0, 0.0])
    weight: dict[Subject, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for side, blame in enumerate((first, second)):
        for holder, value in blame.items():
            hours[_subject(holder)][side] += value
            weight[_subject(holder)][holder[0]] += value
    reasons = [
        Reason(
            subject[0],
            tuple(sorted(weight[subject], key=lambda cause: -weight[subject][cause])),
            *hours[subject],
        )
        for subject in sorted(weight)
    ]
    return tuple(sorted(reasons, key=lambda reason: -abs(reason.hours)))


def _subject(holder: Holder) -> Subject:
    """What is away, whatever took it; causes that are called alike are one reason."""
    cause, id = holder
    return (cause if holder in (LAYOUT, RADIO_DRAW) else id, described(cause).reason)
