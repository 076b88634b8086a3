"""Each what-if against the site as it is, on the same lifetimes."""

import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace

from resilience.building.site import Layout, outages_matter
from resilience.errors import UsageError
from resilience.montecarlo.assumed.several import Several
from resilience.montecarlo.estimates import LEVEL, Estimate, Floats
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED, Undertaking
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.pairs import DIFFERENCE, Pair, RankedBy, pair_of
from resilience.remedies.supposing.grammar import Supposition


@dataclass(frozen=True, slots=True)
class Effort:
    """How much is played.

    Parameters
    ----------
    n_lifetimes : int
        Of each what-if, and of each layout as it is. [-]
    seconds : float
        Time after which nothing more begins. [s]
    workers : int
        Threads. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    n_lifetimes: int = 512
    seconds: float = 60.0
    workers: int = 1
    clock: Callable[[], float] = field(default=time.monotonic)


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What came of one supposition.

    Parameters
    ----------
    supposed : Supposition
        What was supposed. [-]
    layout : str
        Of which layout. [-]
    pair : Pair or None
        As it would be, against as it is; None where that was not reached. [-]
    silent : Estimate or None
        Hours for which a sensor is silent for any reason, as it would be less as it is. [h/year]
    is_alike : bool
        Whether nothing that lost hours rest on differs, so that nothing was played. [-]
    """

    supposed: Supposition
    layout: str
    pair: Pair | None = None
    silent: Estimate | None = None
    is_alike: bool = False

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        pair = self.pair
        return {
            "what_if": self.supposed.text,
            "layout": self.layout,
            "reached": pair is not None,
            "difference": pair and pair.difference.to_json(),
            "silent_difference": self.silent and self.silent.to_json(),
            "verdict": pair and pair.verdict.value,
            "leaves_aside_what_is_rarer_than_one_in": pair and (pair.leaves_aside or None),
            "building_draws": pair and pair.n_buildings,
            "nothing_differs": self.is_alike,
        }


@dataclass(frozen=True, slots=True)
class WhatIfs:
    """All what-ifs of a site.

    Parameters
    ----------
    found : tuple of WhatIf
        In the order in which they were asked. [-]
    level_share : float
        Level of each, so that all hold together. [-]
    stopped_because : str
        Why no more were played. [-]
    """

    found: tuple[WhatIf, ...]
    level_share: float
    stopped_because: str

    def to_json(self) -> list[dict[str, object]]:
        """Return them under stable keys."""
        return [one.to_json() for one in self.found]


def whatifs(
    undertaking: Undertaking,
    comparison: Comparison,
    supposed: Sequence[Supposition],
    effort: Effort | None = None,
) -> WhatIfs:
    """Play each what-if on the lifetimes of the site as it is, and compare.

    Each is supposed of the layout that it names, else of the best placed one that has room for it.

    Parameters
    ----------
    undertaking : Undertaking
        What was compared. [-]
    comparison : Comparison
        The order of layouts. [-]
    supposed : sequence of Supposition
        At least one. [-]
    effort : Effort or None
        How much is played; None takes the default. [-]
    """
    asked = effort or Effort()
    deadline = asked.clock() + asked.seconds
    layouts = [_layout_for(one, comparison) for one in supposed]
    level_share = 1 - (1 - LEVEL) / len(supposed)
    groups: dict[str, list[int]] = defaultdict(list)
    for place, layout in enumerate(layouts):
        groups[layout.name].append(place)
    found: dict[int, WhatIf] = {}
    why = REACHED
    try:
        for name, places in groups.items():
            group = {place: supposed[place] for place in places}
            layout = comparison.site.layout(name)
            several = (undertaking, layout, asked, lambda: asked.clock() > deadline)
            found.update(_played(several, group, level_share, comparison.ranked_by))
    except KeyboardInterrupt:
        why = INTERRUPTED
    if len(found) < len(supposed) and why == REACHED:
        why = OUT_OF_TIME
    told = (
        found.get(place, WhatIf(one, layouts[place].name)) for place, one in enumerate(supposed)
    )
    return WhatIfs(tuple(told), level_share, why)


def _layout_for(one: Supposition, comparison: Comparison) -> Layout:
    """Return the layout of which a what-if is meant."""
    if one.layout:
        return comparison.site.layout(one.layout)
    for placed in comparison.placed:
        try:
            one.made(comparison.site, placed.layout)
        except UsageError:
            continue
        return placed.layout
    raise UsageError(f"what if {one.text!r}: no layout has room for it")


Play = tuple[Undertaking, Layout, Effort, Callable[[], bool]]


def _played(
    how: Play, group: Mapping[int, Supposition], level_share: float, by: RankedBy
) -> Iterator[tuple[int, WhatIf]]:
    """Yield what came of each supposition of one layout, as soon as it is known."""
    undertaking, layout, effort, is_over = how
    site = undertaking.site
    made = {place: one.made(site, layout) for place, one in group.items()}
    counts = undertaking.count_site_outages or outages_matter(
        [layout, *(one.layouts[0] for one in made.values())]
    )
    alone = replace(
        undertaking,
        site=replace(site, layouts=(layout,)),
        layouts=(layout,),
        count_site_outages=counts,
        ledger=None,
    )
    several = Several(alone, effort.n_lifetimes, effort.workers, is_over)
    first = several.first()
    if first is None:
        return
    with closing(several.told(first, made.items())) as told:
        for one in told:
            pair, silent = _against(one.studies[0], first[0], level_share, by)
            supposed = group[one.name]
            yield one.name, WhatIf(supposed, layout.name, pair, silent, one.is_alike)


def _against(
    would_be: Study, as_is: Study, level_share: float, by: RankedBy
) -> tuple[Pair, Estimate]:
    """As it would be less as it is."""
    pair = pair_of(would_be, as_is, level_share, by)
    hours = _silent(would_be) - _silent(as_is)
    return pair, hours_estimate(hours, DIFFERENCE, level_share)


def _silent(study: Study) -> Floats:
    """Hours for which a sensor is silent for any reason, by building draw."""
    dark = study.hours_per_sensor_year("dark_ms")
    if study.count_site_outages:
        return dark
    return dark + study.hours_per_sensor_year("cut_off_ms")
