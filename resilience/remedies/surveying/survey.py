"""What to measure first, for a layout, or for the choice between it and another."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.connectivity.table import Floats, LinkTable
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.pairs import DIFFERENCE, RankedBy
from resilience.remedies.fragile.importance import even_units
from resilience.remedies.surveying.information import (
    Information,
    basis,
    informations,
    knowable_share,
    shuffled,
)
from resilience.remedies.surveying.unknowns import Told, Unknown, told_of
from resilience.units import MS_PER_H, MS_PER_YEAR

LEAST_BUILDINGS = 64
LEAST_EVEN = 8.0  # buildings that make the variance, if they all made as much
MOST_BUILDINGS = 2000  # more would make the answer no better, and take long


@dataclass(frozen=True, slots=True)
class Stop:
    """Something worth measuring.

    Parameters
    ----------
    unknown : Unknown
        What it is, and what will probably be found. [-]
    told_share : float
        Part that it tells of all that a survey could tell of the outcome. [-]
    saves_h : float
        Hours per sensor-year that choosing after it saves on average; 0 without a choice. [h/year]
    is_shown : bool
        Whether that is more than chance. [-]
    """

    unknown: Unknown
    told_share: float
    saves_h: float
    is_shown: bool

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        expected = self.unknown.expected
        return {
            "kind": self.unknown.kind.value,
            "id": self.unknown.id,
            "levels": list(self.unknown.levels),
            "expected": expected and asdict(expected),
            "share_of_what_a_survey_could_tell": self.told_share,
            "saves_hours_per_sensor_year": self.saves_h,
            "more_than_chance": self.is_shown,
        }


@dataclass(frozen=True, slots=True)
class Survey:
    """What a survey would tell.

    Parameters
    ----------
    rival : str
        The other layout, where the outcome is the difference from it; empty where it is the hours
        of the layout itself. [-]
    knowable_share : float
        Part of the variance of the outcome between lifetimes that a survey of everything would
        remove. [-]
    stops : tuple of Stop
        All that was looked at, what tells most first, what is shown before what is not. [-]
    n_buildings : int
        Building draws that it rests on; 0 where they were too few. [-]
    is_lopsided : bool
        Whether so few of them make all of the variance that nothing can be told. [-]
    """

    rival: str
    knowable_share: float
    stops: tuple[Stop, ...]
    n_buildings: int
    is_lopsided: bool = False

    @property
    def shown(self) -> tuple[Stop, ...]:
        """What tells more than chance would."""
        return tuple(one for one in self.stops if one.is_shown)

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "rival": self.rival or None,
            "share_of_variance_that_a_survey_removes": self.knowable_share,
            "building_draws": self.n_buildings,
            "measure": [one.to_json() for one in self.stops],
        }


def survey_of(comparison: Comparison, study: Study, table: LinkTable) -> Survey:
    """Say what to measure first.

    Where the layout and the best of the others are not told apart, that is what moves their
    difference most; else, or where a few buildings make all of that, what moves the hours of the
    layout itself.

    Parameters
    ----------
    comparison : Comparison
        All layouts on the same lifetimes. [-]
    study : Study
        Of the layout. [-]
    table : LinkTable
        Its links. [-]
    """
    rival = _rival(comparison, study)
    against = None if rival is None else _survey(comparison.ranked_by, study, rival, table)
    if against is None or against.is_lopsided:
        return _survey(comparison.ranked_by, study, None, table)
    return against


def _survey(by: RankedBy, study: Study, rival: Study | None, table: LinkTable) -> Survey:
    """What a survey would tell of a difference, or of the hours of one layout."""
    n_buildings = min(one.n_buildings for one in (study, rival or study))
    n_buildings = min(n_buildings, MOST_BUILDINGS)
    if n_buildings < LEAST_BUILDINGS:
        return Survey("", 0.0, (), 0)
    hours = _hours(study, by)[:n_buildings]
    if rival is not None:
        hours = hours - _hours(rival, by)[:n_buildings]
    hours = _ordinary(hours)
    outcome: Floats = hours.mean(axis=1)
    name = "" if rival is None else rival.layout
    if even_units((outcome - outcome.mean()) ** 2) < LEAST_EVEN:
        return Survey(name, 0.0, (), n_buildings, is_lopsided=True)
    told = list(told_of(table, study.seed, n_buildings))
    given = [basis(one.values_db, one.limits_db) for one in told]
    found = informations(outcome, given, shuffled(outcome, study.seed))
    stops = _stops(told, found, hours, is_choice=rival is not None)
    return Survey(name, knowable_share(*hours.T), stops, n_buildings)


def _rival(comparison: Comparison, study: Study) -> Study | None:
    """The best of the other layouts, unless it is told apart from this one."""
    others = [one.study for one in comparison.placed if one.study is not study]
    for other in others[:1]:
        names = {study.layout, other.layout}
        pair = next(one for one in comparison.pairs if {one.first, one.second} == names)
        return None if pair.is_settled else other
    return None


def _hours(study: Study, by: RankedBy) -> Floats:
    """Hours per sensor-year of each lifetime, shape (buildings, lifetimes of one)."""
    times_ms = study.tally.column("orphan_ms")
    if by is RankedBy.SERVICE:
        times_ms = times_ms - study.tally.column("not_reached_ms")
    sensor_years = len(study.sensors) * study.horizon_ms / MS_PER_YEAR
    found: Floats = times_ms.reshape(-1, LIFETIMES_PER_BUILDING) / MS_PER_H / sensor_years
    return found


def _ordinary(hours: Floats) -> Floats:
    """Hours, those that are too large for the bounds of a mean counted as these do."""
    beyond = hours_estimate(hours.mean(axis=1), DIFFERENCE).beyond
    assert beyond is not None  # there are more buildings than the pilot takes
    found: Floats = np.clip(hours, beyond.caps.least, beyond.caps.largest)
    return found


def _stops(
    told: Sequence[Told], found: Sequence[Information], hours: Floats, is_choice: bool
) -> tuple[Stop, ...]:
    """What is worth measuring, each told as a part of all that could be known."""
    of_means = float(hours.mean(axis=1).var(ddof=1))
    known = float(np.cov(hours.T, ddof=1)[0, 1])
    scale = of_means / known if known > 0 else 0.0
    stops = [
        Stop(
            one.unknown,
            min(1.0, information.explained_share * scale),
            information.saves if is_choice and information.is_shown else 0.0,
            information.is_shown and scale > 0,
        )
        for one, information in zip(told, found, strict=True)
    ]
    stops.sort(key=lambda one: (not one.is_shown, -one.told_share, one.unknown.id))
    return tuple(stops)
