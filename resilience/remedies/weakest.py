"""What one layout hangs on: by its drawing, by its lifetimes, and by what nobody has measured."""

import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from resilience.building.site import Layout, Site
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.draws import DEFAULT_SEED, STREAM_VERSION
from resilience.hazards.causes import described
from resilience.hazards.elements import HOLDS_DEVICES, Element
from resilience.lifetime.record import Holder
from resilience.montecarlo.estimates import LEVEL, Estimate, Floats, Ints
from resilience.montecarlo.runs.running import Budget, Progress, Undertaking, no_progress
from resilience.montecarlo.study import Study, studies
from resilience.ranking.comparison import Comparison, compared
from resilience.ranking.pairs import RankedBy
from resilience.remedies.fragile.absences import Suspect, Watched, watched
from resilience.remedies.fragile.bottlenecks import Bottlenecks, bottlenecks
from resilience.remedies.fragile.importance import (
    LINEARISED,
    Importance,
    even_units,
    half_width,
    importance,
    ratio_of,
)
from resilience.remedies.fragile.loads import Draining, Hub, draining_of, hubs_of
from resilience.remedies.fragile.together import Cuts, cuts
from resilience.remedies.fragile.ways import next_hops
from resilience.remedies.surveying.survey import Survey, survey_of

if TYPE_CHECKING:
    import pandas

    from resilience.lifetime.playing import Stage

MOST_LINKS = 20  # whose importance is looked for, those that hold most hours first

Subject = tuple[str, str]  # what it is called, as a pattern, and its id


@dataclass(frozen=True, slots=True)
class Effort:
    """How many lifetimes are told, beside those that are only added up.

    Parameters
    ----------
    n_lifetimes : int
        At most; whole building draws. [-]
    seconds : float
        Time after which no further building begins. [s]
    clock : callable
        Seconds that only go up. [s]
    """

    n_lifetimes: int = 128
    seconds: float = 15.0
    clock: Callable[[], float] = field(default=time.monotonic)


@dataclass(frozen=True, slots=True)
class Culprit:
    """A thing to which orphan time is put down, or whose absence is seen to matter.

    Parameters
    ----------
    subject : Subject
        What it is, whatever takes it. [-]
    hours : float
        Orphan hours per sensor-year put down to it. [h/year]
    share : Estimate
        Part of all such hours. [-]
    by_holder : dict of Holder to float
        The same by cause. [h/year]
    importance : Importance or None
        What its absence means; None for what is never away by itself. [-]
    """

    subject: Subject
    hours: float
    share: Estimate
    by_holder: dict[Holder, float]
    importance: Importance | None

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        return {
            "id": self.subject[1],
            "hours_per_sensor_year": self.hours,
            "share": self.share.to_json(),
            "causes": [
                {"cause": cause, "id": id, "hours": hours}
                for (cause, id), hours in self.by_holder.items()
            ],
            "importance": self.importance and self.importance.to_json(),
        }


@dataclass(frozen=True, slots=True)
class Weakness:
    """What a layout hangs on.

    Parameters
    ----------
    comparison : Comparison
        All layouts of the site, on the same lifetimes. [-]
    layout : Layout
        The one that is looked at. [-]
    study : Study
        Its lifetimes. [-]
    bottlenecks : Bottlenecks
        Single points of failure. [-]
    cuts : Cuts
        What has to be lost together. [-]
    culprits : tuple of Culprit
        Things by the hours put down to them, the heaviest first. [-]
    elements : dict of Holder to Importance
        The same cause by cause, of everything that was looked for. [-]
    hubs : tuple of Hub
        Sensors that carry more than repeaters do. [-]
    cells : tuple of Draining
        Cells, those that go first in front. [-]
    carried : dict of str to float
        Sensors behind each device that have a route, mean over time; itself left out. [-]
    survey : Survey
        What to measure first. [-]
    next_hops : dict of str to str
        Neighbour through which each device's cheapest way leads, as drawn. [-]
    n_watched : int
        Lifetimes told. [-]
    """

    comparison: Comparison
    layout: Layout
    study: Study
    bottlenecks: Bottlenecks
    cuts: Cuts
    culprits: tuple[Culprit, ...]
    elements: dict[Holder, Importance]
    hubs: tuple[Hub, ...]
    cells: tuple[Draining, ...]
    carried: dict[str, float]
    survey: Survey
    next_hops: dict[str, str]
    n_watched: int

    @property
    def ranked_by(self) -> RankedBy:
        """Which hours are split."""
        return self.comparison.ranked_by

    @property
    def hours(self) -> Estimate:
        """All hours that are split."""
        return self.ranked_by.estimate(self.study)

    def to_json(self) -> dict[str, object]:
        """Return everything under stable keys."""
        study, found = self.study, self.bottlenecks
        return {
            "format": 1,
            "stream_version": STREAM_VERSION,
            "site": self.comparison.site.name,
            "layout": self.layout.name,
            "seed": study.seed,
            "lifetimes": study.n_lifetimes,
            "lifetimes_told": self.n_watched,
            "level": LEVEL,
            "stopped_because": study.stopped_because,
            "split_by": self.ranked_by.value,
            "hours_per_sensor_year": self.hours.to_json(),
            "site_outages_counted": study.count_site_outages,
            "single_points": [one.to_json() for one in found.points],
            "possible_buildings": found.n_buildings,
            "one_parent": [one.to_json() for one in found.lonely],
            "least_cut_sets": {id: list(ids) for id, ids in self.cuts.least.items()},
            "pairs_looked_for": self.cuts.is_known,
            "worse_together": [one.to_json() for one in self.cuts.pairs],
            "things": [one.to_json() for one in self.culprits],
            "elements": [
                {"cause": cause, "id": id, **one.to_json()}
                for (cause, id), one in self.elements.items()
            ],
            "hubs": [one.to_json() for one in self.hubs],
            "cells": [one.to_json() for one in self.cells],
            "survey": self.survey.to_json(),
        }

    def to_frame(self) -> "pandas.DataFrame":
        """Return one row per thing, the heaviest first."""
        import pandas

        return pandas.DataFrame(
            [
                {
                    "thing": one.subject[1],
                    "hours_per_sensor_year": one.hours,
                    "share": one.share.mean,
                    "share_low": one.share.low,
                    "share_high": one.share.high,
                    "more_sensors_cut_off_while_away": (
                        one.importance.sensors.mean
                        if one.importance and one.importance.sensors
                        else None
                    ),
                }
                for one in self.culprits
            ]
        )


def weakest(  # noqa: PLR0913, PLR0917 - as ``compare``, and which layout
    site: Site,
    layout: str | None = None,
    seed: int = DEFAULT_SEED,
    budget: Budget | None = None,
    workers: int = 1,
    progress: Progress = no_progress,
) -> Weakness:
    """Say what a layout hangs on, after comparing it with the others on the same lifetimes.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : str or None
        Name of one of its layouts; None takes the one placed first. [-]
    seed : int
        Seed, from 0. [-]
    budget : Budget or None
        When to stop; None takes the default. [-]
    workers : int
        Threads; 1 plays in the caller's. [-]
    progress : callable
        Told the lifetimes done and to do, over all layouts. [-]

    Raises
    ------
    UsageError
        The site has no layout of that name, or the seed is negative.
    """
    if layout is not None:
        site.layout(layout)
    undertaking = Undertaking.whole(site, seed)
    play = partial(studies, undertaking, budget or Budget(), workers=workers, progress=progress)
    return weakness_of(undertaking, compared(site, play), layout)


def weakness_of(
    undertaking: Undertaking,
    comparison: Comparison,
    layout: str | None = None,
    effort: Effort | None = None,
) -> Weakness:
    """Say what a layout hangs on, once its lifetimes are played.

    Parameters
    ----------
    undertaking : Undertaking
        What was played. [-]
    comparison : Comparison
        What that showed. [-]
    layout : str or None
        Name of the layout; None takes the one placed first. [-]
    effort : Effort or None
        How many lifetimes are told; None takes the default. [-]
    """
    site, asked = undertaking.site, effort or Effort()
    placed = next(one for one in comparison.placed if layout is None or one.layout.name == layout)
    study, table = placed.study, link_table(site, placed.layout)
    stage = undertaking.stage(placed.layout, table)
    blame = comparison.ranked_by.blame(study)
    suspects = _suspects(stage, blame)
    deadline = asked.clock() + asked.seconds
    each = [one for group in suspects.values() for one in _one_by_one(group)]
    seen = watched(
        stage,
        dict.fromkeys((*suspects.values(), *each)),
        min(asked.n_lifetimes, study.n_lifetimes),
        lambda: asked.clock() > deadline,
    )
    n_sensors = len(study.sensors)
    important = {
        one: importance(told, seen, n_sensors - len(one.own & set(study.sensors)))
        for one, told in seen.seen.items()
    }
    culprits = _culprits(comparison.ranked_by, study, blame, suspects, seen, important)
    return Weakness(
        comparison,
        placed.layout,
        study,
        bottlenecks(site, table, undertaking.seed),
        cuts(table),
        culprits,
        {one.elements[0]: important[one] for one in sorted(each, key=lambda one: one.elements)},
        hubs_of(placed.layout, seen.carried),
        draining_of(site, placed.layout, study, seen.carried),
        seen.carried,
        survey_of(comparison, study, table),
        next_hops(table),
        LIFETIMES_PER_BUILDING * seen.n_buildings,
    )


def subject_of(holder: Holder) -> Subject:
    """What is away, whatever took it.

    Parameters
    ----------
    holder : Holder
        Cause and id. [-]
    """
    return described(holder[0]).thing, holder[1]


def _suspects(stage: "Stage", blame: Mapping[Holder, float]) -> dict[Subject, Suspect]:
    """What is looked for: all that holds devices, and of all else what holds most hours."""
    found: dict[Subject, list[Element]] = defaultdict(list)
    on_links: dict[Subject, list[Element]] = defaultdict(list)
    deaths = (one.death for one in stage.hazards.cells)
    for element in (*stage.hazards.elements, *deaths):
        kind = found if element.effect in HOLDS_DEVICES else on_links
        kind[subject_of(element.name)].append(element)
    hours: dict[Subject, float] = defaultdict(float)
    for holder, value in blame.items():
        hours[subject_of(holder)] += value
    heaviest = sorted(on_links, key=lambda one: (-hours[one], one))
    for subject in heaviest[:MOST_LINKS]:
        if hours[subject]:
            found[subject] += on_links[subject]
    return {subject: _suspect(elements) for subject, elements in sorted(found.items())}


def _suspect(elements: list[Element]) -> Suspect:
    own = {target for one in elements if one.effect in HOLDS_DEVICES for target in one.targets}
    return Suspect(tuple(sorted(one.name for one in elements)), frozenset(own))


def _one_by_one(group: Suspect) -> Iterator[Suspect]:
    """Yield each cause of a thing by itself."""
    for name in group.elements:
        yield Suspect((name,), group.own)


def _culprits(  # noqa: PLR0913, PLR0917 - all that is known of each
    by: RankedBy,
    study: Study,
    blame: Mapping[Holder, float],
    suspects: Mapping[Subject, Suspect],
    seen: Watched,
    important: Mapping[Suspect, Importance],
) -> tuple[Culprit, ...]:
    """Put blame and importance together, thing by thing."""
    told_ms = dict(seen.blame_ms)
    if by is RankedBy.ALL:
        for holder, early_ms in seen.early_ms.items():
            told_ms[holder] = told_ms.get(holder, 0) + early_ms
    held: dict[Subject, dict[Holder, float]] = defaultdict(dict)
    for holder, hours in blame.items():
        held[subject_of(holder)][holder] = hours
    total_h = sum(blame.values())
    nothing = np.zeros(seen.n_buildings, np.int64)
    all_ms = sum(told_ms.values(), nothing)
    found = []
    for subject in sorted({*held, *suspects}):
        by_holder = held.get(subject, {})
        hours = sum(by_holder.values())
        own_ms = sum((told_ms.get(holder, nothing) for holder in by_holder), nothing)
        share = _share(hours / total_h if total_h else 0.0, own_ms, all_ms, study, by.hours(study))
        suspect = suspects.get(subject)
        found.append(
            Culprit(subject, hours, share, by_holder, important[suspect] if suspect else None)
        )
    return tuple(sorted(found, key=lambda one: (-one.hours, -_sensors(one), one.subject)))


def _sensors(one: Culprit) -> float:
    """How many sensors its absence cuts off; 0 where nobody knows."""
    return one.importance.sensors.mean if one.importance and one.importance.sensors else 0.0


def _share(share: float, own_ms: Ints, all_ms: Ints, study: Study, hours: Floats) -> Estimate:
    """Part of all hours, bounded by how it differs between the buildings that were told.

    Where a few buildings hold most of the hours, these few decide what the share is.
    """
    half, n_even = 1.0, even_units(hours)
    if n_even > 1:
        moves = ratio_of(own_ms, all_ms)[1] if all_ms.any() else np.zeros(2)
        never_seen = 1 - ((1 - LEVEL) / 2) ** (1 / n_even)
        half = max(half_width(moves, study.n_buildings), never_seen)
    return Estimate(share, max(0.0, share - half), min(1.0, share + half), LEVEL, LINEARISED)
