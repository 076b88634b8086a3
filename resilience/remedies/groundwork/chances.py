"""How often each thing is away, and states of all of them drawn by that: 64 states a word.

A screen only: things are away independently of each other and of how long, each for its share of
time in the long run. What is told afterwards rests on lifetimes.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience import draws
from resilience.building.site import Site
from resilience.connectivity.luck.buildings import streams_in_buildings
from resilience.connectivity.luck.routes import spares_in_buildings
from resilience.connectivity.swing import level_shares
from resilience.connectivity.table import Floats, Ints, LinkTable
from resilience.draws import element_key
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Cells, Element, Mended, Scripted
from resilience.hazards.laws import Law
from resilience.hazards.table import hazard_table
from resilience.units import MS_PER_H, MS_PER_YEAR

Words = NDArray[np.uint64]

BITS = 64
PLACES = 24  # binary places of a share
ALL = np.uint64(draws.MASK)
LINKS_AT_ONCE = 512

mix: Any = draws.mix  # products of 64-bit words wrap by themselves


@dataclass(frozen=True, slots=True)
class States:
    """Which devices are up and which links are open in many states, one bit a state.

    Parameters
    ----------
    table : LinkTable
        Devices and links, in the order of the arrays. [-]
    up : Words
        Shape (devices, words). [-]
    is_open : Words
        Shape (links, words): usable, as far as both ends are up. [-]
    """

    table: LinkTable
    up: Words
    is_open: Words


def words(seed: int, n_words: int, names: Iterable[str], shares: Floats) -> Words:
    """Words each bit of which is 1 with a share, shape (names, words).

    Parameters
    ----------
    seed : int
        Seed of the states. [-]
    n_words : int
        How many words. [-]
    names : iterable of str
        What the bits are drawn for. [-]
    shares : Floats
        Shape (names, words) or (names, 1). [-]
    """
    keys = np.array([element_key("screen", name, "state") for name in names], np.uint64)
    starts = streams_in_buildings(seed, n_words, keys).T
    wanted = np.floor(np.clip(shares, 0.0, 1.0) * 2**PLACES + 0.5).astype(np.uint64)
    wanted = np.broadcast_to(wanted, starts.shape)
    found = np.zeros(starts.shape, np.uint64)
    for place in range(PLACES):
        # MODELS.md, "states in the long run": "or" with fair bits gives (1 + p) / 2, "and" p / 2.
        fair = mix(starts + np.uint64((place + 1) * draws.GOLDEN & draws.MASK))
        is_one = (wanted >> np.uint64(place)) & np.uint64(1) == 1
        found = np.where(is_one, found | fair, found & fair)
    return np.where(wanted >> np.uint64(PLACES) == 1, ALL, found)


def states_of(
    site: Site, table: LinkTable, carried: Mapping[str, float], seed: int, n_words: int
) -> States:
    """Draw states of a layout: a possible building for each word, 64 states in it.

    Parameters
    ----------
    site : Site
        States hazards and upkeep. [-]
    table : LinkTable
        The layout's links. [-]
    carried : mapping of str to float
        Sensors whose readings each device passes on; none where it is not named. [-]
    seed : int
        Seed of the states and of the buildings. [-]
    n_words : int
        Words, one for each possible building. [-]
    """
    hazards = hazard_table(site, table)
    place = {id: row for row, id in enumerate(table.ids)}
    place |= {id: row for row, id in enumerate(table.link_ids)}
    up = np.full((len(table.ids), n_words), ALL)
    spare_cdb = spares_in_buildings(table, seed, n_words).T
    risks = _Risks(site)
    alone: dict[int, list[Element]] = {}
    shared: list[Element] = []
    for one in (*hazards.elements, *(cells.death for cells in hazards.cells)):
        if one.effect in (Effect.CUT, Effect.LOSS) and len(one.targets) == 1:
            alone.setdefault(place[one.targets[0]], []).append(one)
        elif one.effect in (Effect.DOWN, Effect.CUT, Effect.LOSS):
            shared.append(one)
    cells_share = {
        one.device: risks.flat_share(one, carried.get(one.device, 0.0)) for one in hazards.cells
    }
    shares = np.array([_share_of(one, cells_share, risks) for one in shared])
    away = words(seed, n_words, ("|".join(one.name) for one in shared), shares[:, None])
    is_open = _alone_open(table, spare_cdb, (alone, risks, site.radio.swing_db), seed)
    for element, gone in zip(shared, away, strict=True):
        rows = np.array([place[target] for target in element.targets], np.int64)
        if element.effect is Effect.DOWN:
            up[rows] &= ~gone
        else:
            loads = np.array([element.loads[target] for target in element.targets])
            closes = element.effect is Effect.CUT or spare_cdb[rows] < loads[:, None]
            is_open[rows] &= ~np.where(closes, gone, np.uint64(0))
    return States(table, up, is_open)


def _share_of(one: Element, cells_share: Mapping[str, float], risks: "_Risks") -> float:
    if one.cause == "battery":
        return cells_share[one.id]
    return risks.away_share(one)


def _alone_open(
    table: LinkTable,
    spare_cdb: Ints,
    what: "tuple[Mapping[int, list[Element]], _Risks, float]",
    seed: int,
) -> Words:
    """Links open as far as their swing and what strikes them alone let them be."""
    alone, risks, swing_db = what
    levels, shares = level_shares(swing_db)
    above = np.append(shares[::-1].cumsum()[::-1], 0.0)  # chance of a level from each one on

    def chance(left_cdb: Ints) -> Floats:
        found: Floats = above[np.clip(-left_cdb - levels[0], 0, len(levels))]
        return found

    n_links, n_words = spare_cdb.shape
    found = np.zeros((n_links, n_words), np.uint64)
    for first in range(0, n_links, LINKS_AT_ONCE):
        rows = range(first, min(first + LINKS_AT_ONCE, n_links))
        spare = spare_cdb[first : first + LINKS_AT_ONCE]
        calm = chance(spare)
        open_share = calm.copy()
        for row in rows:
            for one in alone.get(row, ()):
                is_cut = one.effect is Effect.CUT
                left = 0.0 if is_cut else chance(spare[row - first] - one.amount)
                lost = risks.away_share(one) * (calm[row - first] - left)
                open_share[row - first] -= lost
        names = [table.link_ids[row] for row in rows]
        found[first : first + LINKS_AT_ONCE] = words(
            seed, n_words, names, np.maximum(0.0, open_share)
        )
    return found


class _Risks:
    """Shares of time for which things are away."""

    def __init__(self, site: Site) -> None:
        upkeep = site.upkeep
        self._horizon_ms = site.horizon_years * MS_PER_YEAR
        response = upkeep.response
        wait_h = getattr(upkeep, "alarm_h", 0.0) or 0.0
        if response is not None:
            wait_h += response.mean_h or response.median_h or 0.0
        self._wait_ms = wait_h * MS_PER_H
        self._known: dict[tuple[object, ...], float] = {}

    def away_share(self, element: Element) -> float:
        """Share of time for which an element is away, in the long run or over the horizon."""
        clock = element.clock
        if isinstance(clock, Scripted):
            away_ms = sum(end - start for start, end in clock.away_ms)
            return min(1.0, away_ms / self._horizon_ms)
        key = (clock.strikes, clock.repair if isinstance(clock, Mended) else clock.lasts)
        if key not in self._known:
            self._known[key] = self._alternating(clock.strikes, key[1], isinstance(clock, Mended))
        share = self._known[key]
        if clock.reach is not None:
            share *= clock.reach.share
        within = None if isinstance(clock, Mended) else clock.within
        if within is not None and within.rows:
            start, end, before = within.rows[-1]
            share *= min(1.0, (before + end - start) / max(1, end))
        return share

    def _alternating(self, strikes: Law, lasts: Law, is_mended: bool) -> float:
        at_risk_ms, away_ms = mean_of(strikes), mean_of(lasts)
        if is_mended:
            away_ms += self._wait_ms
        if math.isinf(at_risk_ms):
            return 0.0
        if math.isinf(away_ms):  # away for good: on average from its strike to the end
            ratio = self._horizon_ms / at_risk_ms
            return 1 - (1 - math.exp(-ratio)) / ratio
        return away_ms / (at_risk_ms + away_ms)

    def flat_share(self, cells: Cells, carried: float) -> float:
        """Share of time for which cells are flat, if they always carry so many sensors."""
        drain_na = cells.leaf_na + cells.self_na + cells.forwarding_na * carried
        life_ms = cells.mean_charge_na_ms / max(1.0, drain_na)
        away_ms = mean_of(cells.repair) + self._wait_ms
        if math.isinf(away_ms):
            return max(0.0, 1 - life_ms / self._horizon_ms)
        return away_ms / (life_ms + away_ms) if life_ms < self._horizon_ms else 0.0


def mean_of(law: Law) -> float:
    """Mean of a law; infinite for one that never comes.

    Parameters
    ----------
    law : Law
        Of a duration. [ms]
    """
    # MODELS.md, "Weibull" and "lognormal".
    if law.shape == draws.NEVER:
        return math.inf
    if law.shape == draws.WEIBULL:
        return law.scale * math.gamma(1 + 1 / law.slope)
    if law.shape == draws.LOGNORMAL:
        return law.scale * math.exp(law.slope**2 / 2)
    return law.scale
