"""Lifetimes of all layouts played until it is sure which of them keep a promise."""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import replace
from functools import partial

from resilience.building.service.policy import Policy
from resilience.building.site import Site
from resilience.connectivity.links import site_table
from resilience.draws import DEFAULT_SEED
from resilience.lifetime.playing import Stage
from resilience.lifetime.record import Holder
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.runs.running import (
    INTERRUPTED,
    Budget,
    Progress,
    Undertaking,
    no_progress,
)
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import Play, Study, studies
from resilience.policy.bounds import Bounds, watch_of
from resilience.policy.breaking import MOST_TOLD, excess_ms, shares_of
from resilience.policy.cautions import cautions_of
from resilience.policy.frontier import frontier
from resilience.policy.judgement import Judged, Judgement, Verdict
from resilience.policy.rare import (
    LEFT,
    LEFT_AFTER,
    Splitting,
    broken_rarely,
    is_left_to_splitting,
)
from resilience.units import HOURS_PER_YEAR, ms_from_h


def never() -> bool:
    """It is never too late."""
    return False


def verdict_of(broken: Estimate, policy: Policy) -> Verdict:
    """What bounds show of a promise.

    Parameters
    ----------
    broken : Estimate
        Share of lifetimes that break it. [-]
    policy : Policy
        What is promised. [-]
    """
    may_break = 1 - policy.kept_with_probability
    is_kept, is_broken = broken.high <= may_break, broken.low > may_break
    if is_kept == is_broken:
        return Verdict.UNDECIDED
    return Verdict.KEPT if is_kept else Verdict.BROKEN


class Judging:
    """Question of a judgement, asked at every look: whether each verdict is sure.

    A layout of which it is sure plays no further.

    Parameters
    ----------
    policy : Policy
        What is promised. [-]
    is_left : bool
        Whether what stays open is judged in another way afterwards. [-]
    """

    def __init__(self, policy: Policy, is_left: bool = False) -> None:
        self._policy, self._is_left = policy, is_left

    def bounds(self, study: Study, n_layouts: int) -> Bounds:
        """Bounds of every promise of one layout.

        Parameters
        ----------
        study : Study
            Its lifetimes. [-]
        n_layouts : int
            Layouts that are judged together. [-]
        """
        own_ms = ms_from_h(self._policy.longer_than_h)
        return Bounds(study, self._policy.count.value, own_ms, n_layouts)

    def __call__(self, found: Sequence[Study]) -> Ruling:
        """Look at what every layout has shown.

        Parameters
        ----------
        found : sequence of Study
            One for each layout. [-]
        """
        verdicts = [self.verdict(study, len(found)) for study in found]
        sure = [place for place, one in enumerate(verdicts) if one is not Verdict.UNDECIDED]
        is_over = self._is_left and max(one.n_buildings for one in found) >= LEFT_AFTER
        ends_because = SETTLED if len(sure) == len(found) else LEFT if is_over else ""
        return Ruling(ends_because, frozenset(sure))

    def verdict(self, study: Study, n_layouts: int) -> Verdict:
        """What the policy's own duration shows by itself; other durations come at the end.

        They can only make it surer, and take most of the time.

        Parameters
        ----------
        study : Study
            Lifetimes of one layout. [-]
        n_layouts : int
            Layouts that are judged together. [-]
        """
        max_count = self._policy.max_count(len(study.sensors))
        if max_count >= len(study.sensors):
            return Verdict.KEPT
        bounds = self.bounds(study, n_layouts)
        lows, highs = bounds.of_duration(bounds.own_ms)
        may_break = 1 - self._policy.kept_with_probability
        if highs[max_count] <= may_break:
            return Verdict.KEPT
        return Verdict.BROKEN if lows[max_count] > may_break else Verdict.UNDECIDED


NO_HURRY = Splitting(lambda _: lambda: math.inf)


def judged(
    undertaking: Undertaking,
    policy: Policy,
    play: Play,
    is_late: Callable[[], bool] = never,
    splitting: Splitting = NO_HURRY,
) -> Judgement:
    """Judge the layouts of an undertaking on lifetimes, whoever plays them.

    Parameters
    ----------
    undertaking : Undertaking
        What is played, with the watch of the policy. [-]
    policy : Policy
        What is promised. [-]
    play : callable
        Gives a study of each layout, in their order. [-]
    is_late : callable
        Whether no more lifetimes are to be told once more for what breaks the promise. [-]
    splitting : Splitting
        How long a promise may be split that is too rare for plain lifetimes. [-]
    """
    is_left = is_left_to_splitting(policy, undertaking.engine)
    judging, site = Judging(policy, is_left), undertaking.site
    found = play(judging)
    told = []
    for study in found:
        bounds = judging.bounds(study, len(found))
        broken = bounds.estimate(policy.max_count(len(study.sensors)))
        steps = frontier(bounds, policy.kept_with_probability)
        told.append(Judged(study, policy, verdict_of(broken, policy), broken, steps))
    if is_left and found[0].stopped_because != INTERRUPTED:
        told = [_split(one, undertaking, splitting) for one in told]
    whole = Judgement(site, policy, tuple(told), cautions_of(site, policy, found))
    return replace(whole, judged=tuple(_explained(whole, undertaking, is_late)))


def _split(one: Judged, undertaking: Undertaking, splitting: Splitting) -> Judged:
    """Judge by splitting what plain lifetimes have left open."""
    if one.verdict is not Verdict.UNDECIDED:
        return one

    def is_sure(broken: Estimate) -> bool:
        return verdict_of(broken, one.policy) is not Verdict.UNDECIDED

    rare = broken_rarely(undertaking, one.policy, one.study, splitting, is_sure)
    if rare is None:
        return one
    if not rare.is_told:
        return replace(one, why_not_split=rare.why_not_told)
    return replace(one, rare=rare, verdict=verdict_of(rare.estimate, one.policy))


def _explained(
    judgement: Judgement, undertaking: Undertaking, is_late: Callable[[], bool]
) -> Iterator[Judged]:
    """Yield what is said of each layout, with what breaks the promise as far as there is time.

    Layouts take turns, so that each is told of before any is told of in full.
    """
    numbers = {one.layout: one.breaking[:MOST_TOLD] for one in judgement.judged}
    stages = _stages(undertaking, {layout for layout in numbers if numbers[layout]})
    told: Counter[str] = Counter()
    parts: dict[str, Counter[Holder]] = {layout: Counter() for layout in numbers}
    for turn in range(MOST_TOLD):
        for layout, stage in stages.items():
            if turn < len(numbers[layout]) and not is_late():
                parts[layout] += excess_ms(stage, numbers[layout][turn], judgement.policy)
                told[layout] += 1
    for one in judgement.judged:
        yield replace(one, breaks=shares_of(parts[one.layout]), n_told=told[one.layout])


def _stages(undertaking: Undertaking, names: Set[str]) -> dict[str, Stage]:
    """Make some layouts ready to be played once more."""
    layouts = tuple(layout for layout in undertaking.layouts if layout.name in names)
    if not layouts:
        return {}
    paths = site_table(undertaking.site, layouts)
    return {layout.name: undertaking.stage(layout, paths.of(layout)) for layout in layouts}


def judge(  # noqa: PLR0913, PLR0917 - a site's promise, and how lifetimes are played
    site: Site,
    policy: Policy,
    seed: int = DEFAULT_SEED,
    budget: Budget | None = None,
    workers: int = 1,
    progress: Progress = no_progress,
) -> Judgement:
    """Judge which layouts of a site keep a policy, on the same lifetimes.

    Parameters
    ----------
    site : Site
        The site. [-]
    policy : Policy
        What is promised. [-]
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
        The seed is negative, or the policy makes no sense for the site.
    """
    policy.check(len(site.layouts[0].sensors), site.horizon_years * HOURS_PER_YEAR)
    undertaking, budget = Undertaking.whole(site, seed, watch_of(policy)), budget or Budget()
    play = partial(studies, undertaking, budget, workers=workers, progress=progress)
    splitting = Splitting.within(budget, len(site.layouts))
    return judged(undertaking, policy, play, splitting=splitting)
