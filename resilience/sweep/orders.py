"""What one process of many is asked to do with one site, and what it answers.

All of this runs in processes that know nothing else of the portfolio: a site comes as bytes, and
tallies go back as bytes.
"""

import platform
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from resilience.connectivity.links import site_table
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.errors import RunError
from resilience.lifetime.playing import Stage
from resilience.lifetime.tally import Tally, joined
from resilience.montecarlo.runs.manifest import code_digest
from resilience.montecarlo.runs.packing import PackedPiece
from resilience.ranking.many.sites import SiteScore
from resilience.sweep.finding import Asked
from resilience.sweep.scoring import score_of

SITES_AT_HAND = 4  # that a process keeps ready to be played
FIRST_DRAWS = 4  # building draws of each layout, before it is known how long one takes
SECONDS_A_STEP = 1.0  # within which an order notices that its time is up

Span = tuple[int, int]  # first lifetime, number of lifetimes


@dataclass(frozen=True, slots=True)
class Order:
    """Lifetimes of one site to be played, and the score if that completes it.

    Parameters
    ----------
    asked : bytes
        The site, packed. [-]
    spans : tuple of Span
        What to play of every layout, in order. [-]
    seconds : float
        Time after which no further step begins. [s]
    code : str
        Digest of the sources that decide what a lifetime holds. [-]
    had : tuple of PackedPiece
        Pieces that are finished, where the site is to be scored with them. [-]
    scored_with : tuple of (int, float) or None
        Lifetimes at which the site is complete, and the level of its bounds; None asks for no
        score. [-]
    """

    asked: bytes
    spans: tuple[Span, ...]
    seconds: float
    code: str
    had: tuple[PackedPiece, ...] = ()
    scored_with: tuple[int, float] | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of an order.

    Parameters
    ----------
    pieces : tuple of PackedPiece
        What was played: equally many lifetimes of every layout. [-]
    played_s : float
        How long that took. [s]
    score : SiteScore or None
        Of the whole site, if it is complete. [-]
    """

    pieces: tuple[PackedPiece, ...]
    played_s: float
    score: SiteScore | None


def carried_out(order: Order, clock: Callable[[], float] = time.monotonic) -> Answer:
    """Carry out an order.

    Parameters
    ----------
    order : Order
        What is asked for. [-]
    clock : callable
        Seconds that only go up. [s]

    Raises
    ------
    RunError
        This process has other sources than who gave the order.
    """
    if order.code != code_digest():
        raise RunError(
            f"{platform.node()} runs another version of this program: install the same on each "
            "machine of the cluster"
        )
    asked = Asked.unpacked(order.asked)
    stages = _stages(order.asked) if order.spans else ()
    began = clock()
    pieces = tuple(_played(stages, order, lambda: clock() - began))
    played_s = clock() - began
    return Answer(pieces, played_s, _score(asked, order, pieces))


@lru_cache(SITES_AT_HAND)
def _stages(asked: bytes) -> tuple[Stage, ...]:
    """Make the layouts of a site ready to be played."""
    undertaking = Asked.unpacked(asked).undertaking
    paths = site_table(undertaking.site, undertaking.layouts)
    stages = tuple(undertaking.stage(one, paths.of(one)) for one in undertaking.layouts)
    for stage in stages:
        stage.make_ready()
    return stages


def _played(
    stages: tuple[Stage, ...], order: Order, elapsed_s: Callable[[], float]
) -> Iterator[PackedPiece]:
    """Yield one piece for each layout and span, as far as there is time; at least one step."""
    draws, has_played = FIRST_DRAWS, False
    for first, n in order.spans:
        done, parts = 0, [list[Tally]() for _ in stages]
        while done < n and not (has_played and elapsed_s() >= order.seconds):
            step, before_s = min(draws * LIFETIMES_PER_BUILDING, n - done), elapsed_s()
            for stage, played in zip(stages, parts, strict=True):
                played.append(stage.tally(first + done, step))
            done, has_played = done + step, True
            draws = _next_draws(draws, elapsed_s() - before_s)
        for stage, played in zip(stages, parts, strict=True):
            if played:
                yield PackedPiece.of(stage.layout.name, joined(played))


def _next_draws(draws: int, took_s: float) -> int:
    """Twice as many as long as that takes less than a step may."""
    fitting = int(draws * SECONDS_A_STEP / took_s) if took_s else 2 * draws
    return max(1, min(2 * draws, fitting))


def _score(asked: Asked, order: Order, pieces: tuple[PackedPiece, ...]) -> SiteScore | None:
    """Score a site, if what was finished and what was played complete it."""
    if order.scored_with is None:
        return None
    lifetimes, level_share = order.scored_with
    tallies = []
    for layout in asked.undertaking.layouts:
        known = [one for one in (*order.had, *pieces) if one.layout == layout.name]
        if sum(one.n for one in known) < lifetimes:
            return None
        tallies.append(joined(one.unpacked() for one in known))
    return score_of(asked, tuple(tallies), level_share)
