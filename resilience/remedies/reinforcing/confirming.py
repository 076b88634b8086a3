"""Full lifetimes of what looks best: what falls behind plays no further, the rest all the more."""

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from resilience.building.site import Layout, Site, outages_matter
from resilience.lifetime.engines import COMPILED
from resilience.montecarlo.runs.running import INTERRUPTED, REACHED, Budget, Undertaking
from resilience.montecarlo.stopping import Ruling
from resilience.montecarlo.study import Study, studies
from resilience.ranking.pairs import (
    INDIFFERENCE_H,
    INDIFFERENCE_SHARE,
    Pair,
    RankedBy,
    pair_of,
)
from resilience.remedies.reinforcing.screening import N_WORDS

BY = RankedBy.ALL  # a device more may give a sensor its first route, too
LEAST_LIFETIMES = 128  # fewer prove nothing
MOST_TIMES = 4  # as many lifetimes as asked for, of what is hard to tell apart
BEHIND = 3.0  # standard errors by which something falls behind for good
IN_DOUBT = 2.0  # standard errors within which something may be better than what leads


@dataclass(frozen=True, slots=True)
class Effort:
    """How much is looked at and played.

    Parameters
    ----------
    n_lifetimes : int
        Of each option that is confirmed, on average: those that fall behind leave theirs to the
        others. [-]
    seconds : float
        Time that all of it may take, about. [s]
    workers : int
        Threads. [-]
    engine : str
        Which plays. [-]
    n_confirmed : int
        Options confirmed for each change. [-]
    n_words : int
        Possible buildings on the screen, 64 states in each. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    n_lifetimes: int = 1024
    seconds: float = 60.0
    workers: int = 1
    engine: str = COMPILED
    n_confirmed: int = 6
    n_words: int = N_WORDS
    clock: Callable[[], float] = field(default=time.monotonic)


class Race:
    """Question asked at every look: which options are so far behind that they need play no further.

    It ends once the lifetimes asked for are played and nothing is left that may be better than what
    leads by more than the indifference (a selection with an indifference zone, as of Kim and Nelson
    2001, with plain standard errors). That only shares out lifetimes; what is claimed of an option
    rests on bounds that hold at every look.

    Parameters
    ----------
    n_lifetimes : int
        Of all layouts together, before it may end. [-]
    """

    def __init__(self, n_lifetimes: int) -> None:
        self._n_asked = n_lifetimes
        self._as_is: dict[int, Study] = {}

    def __call__(self, found: Sequence[Study]) -> Ruling:
        """Look at the layout as it is, and at what it could be.

        Parameters
        ----------
        found : sequence of Study
            The layout as it is first; those that were dropped have fewer lifetimes. [-]
        """
        as_is = found[0]
        self._as_is[as_is.n_lifetimes] = as_is
        playing = [k for k, one in enumerate(found) if k and one.n_lifetimes == as_is.n_lifetimes]
        leading = min((found[k] for k in playing), key=_mean_hours)
        behind = {k for k in playing if _apart(found[k], leading) > BEHIND}
        felt_h = max(INDIFFERENCE_H, INDIFFERENCE_SHARE * _mean_hours(leading))
        rest = set(playing) - behind
        is_clear = all(_apart(found[k], leading, felt_h) >= IN_DOUBT for k in rest)
        is_spent = sum(one.n_lifetimes for one in found) >= self._n_asked
        return Ruling(REACHED if is_spent and is_clear else "", frozenset(behind))

    def pair(self, would_be: Study, as_is: Study, level_share: float) -> Pair:
        """Compare an option with the layout as it is, on the lifetimes that both have played.

        Parameters
        ----------
        would_be, as_is : Study
            With the change and without it. [-]
        level_share : float
            Level of the bound. [-]
        """
        same = self._as_is.get(would_be.n_lifetimes, as_is)
        return pair_of(would_be, same, level_share, BY)


def _mean_hours(study: Study) -> float:
    return float(BY.hours(study).mean())


def _apart(one: Study, leading: Study, more_h: float = 0.0) -> float:
    """Standard errors by which something, with some hours more, is worse than what leads."""
    hours = BY.hours(one) - BY.hours(leading)
    error_h = float(hours.std(ddof=1)) / math.sqrt(len(hours))
    worse_h = float(hours.mean()) + more_h
    return worse_h / error_h if error_h else math.copysign(math.inf, worse_h) if worse_h else 0.0


@dataclass(frozen=True, slots=True)
class Tried:
    """Lifetimes of a layout as it is, and of what it could be.

    Parameters
    ----------
    as_is : Study
        Of the layout as it is. [-]
    would_be : tuple of Study
        In order of what was asked. [-]
    race : Race
        Knows which lifetimes both have played. [-]
    """

    as_is: Study
    would_be: tuple[Study, ...]
    race: Race


def tried(
    site: Site,
    layouts: tuple[Layout, ...],
    seed: int,
    effort: Effort,
    seconds: float,
) -> Tried | None:
    """Play a layout, and what it could be, on the same lifetimes; None where time was too short.

    Parameters
    ----------
    site : Site
        Building, hazards, upkeep. [-]
    layouts : tuple of Layout
        The layout as it is first. [-]
    seed : int
        Of lifetimes that nobody has seen before. [-]
    effort : Effort
        How much is played. [-]
    seconds : float
        Time for it. [s]
    """
    whole = replace(site, layouts=layouts)
    undertaking = Undertaking(whole, layouts, seed, outages_matter(layouts), effort.engine)
    race = Race(effort.n_lifetimes * len(layouts))
    budget = Budget(MOST_TIMES * effort.n_lifetimes, seconds, effort.clock)
    found = studies(undertaking, budget, race, effort.workers)
    if found[0].stopped_because == INTERRUPTED:
        raise KeyboardInterrupt
    if found[0].n_lifetimes < min(LEAST_LIFETIMES, effort.n_lifetimes):
        return None
    return Tried(found[0], found[1:], race)
