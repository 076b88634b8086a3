"""A verdict put to the test of other defaults, and the values of them at which it stops holding.

First what was told by splitting, under other rates. Then a few lifetimes of everything, which show
what breaks the promise badly. Then the defaults that matter most, with the values up to which it is
kept, and then the rest as far as time goes. But for splitting all of it plays the same lifetimes.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import replace

from resilience.assumptions.catalogue import Setting
from resilience.building.site import Site
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.montecarlo.assumed.several import Several
from resilience.montecarlo.assumed.variants import (
    NO_SUCH_SITE,
    Alternatives,
    Effort,
    Under,
    Variant,
    Watch,
    nobody,
    variants_of,
)
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED, Undertaking
from resilience.montecarlo.sequences import BETTING
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import Study
from resilience.policy.bounds import broken_share, most_beyond, watch_of
from resilience.policy.hanging.conditions import (
    UNSEEN,
    ByLayout,
    Hanging,
    Seen,
    Shown,
    Tried,
)
from resilience.policy.hanging.crossing import HALVINGS, KEPT_LEVEL, Search
from resilience.policy.hanging.rates import over_rates
from resilience.policy.judgement import Judged, Judgement, Verdict
from resilience.policy.rare import OverRates
from resilience.units import ms_from_h

ALWAYS = ("upkeep.repair.median_h", "hazards.hardware.per_year")  # what an owner can agree on
MOST_LIMITS = 6  # defaults of which it is told up to which value the promise is kept
FIRST_LIFETIMES = 16  # at each end of a range: enough to see what breaks a promise badly
ENOUGH = 12.8  # breaks that would be allowed in the building draws that a verdict may take
LEAST_BUILDINGS = 256  # which tell 30 of 100 from 40
UNSURE = "it is open whether any layout keeps the promise"

Place = tuple[str, float]  # key and value of a default, or a draw of all of them
Asked = tuple[Variant, Collection[str]]  # what is to be played, and of which layouts


def over_defaults(
    judgement: Judgement, under: Under, effort: Effort | None = None, watch: Watch = nobody
) -> Hanging:
    """Put the verdicts of layouts that keep a promise to the test of other defaults.

    Where all break it, all are tried, for what would keep it; where that is open, none is. An
    interrupt or the end of the time leaves what is known by then; the rest is not tested.

    Parameters
    ----------
    judgement : Judgement
        What is shown under the defaults as they are. [-]
    under : callable
        Gives the site under other defaults; what it states itself stays. [-]
    effort : Effort or None
        How much is played; None takes the default. [-]
    watch : callable
        Told which variant comes next. [-]
    """
    trial = _Trial(judgement, under, effort or Effort(), watch)
    return trial.outcome(trial.run())


def lifetimes_for(kept_with_probability: float, most: int) -> int:
    """Lifetimes that a verdict under other defaults may take.

    Parameters
    ----------
    kept_with_probability : float
        With which a promise has to be kept. [-]
    most : int
        Never more. [-]
    """
    n_buildings = max(LEAST_BUILDINGS, math.ceil(ENOUGH / (1 - kept_with_probability)))
    return min(most, LIFETIMES_PER_BUILDING * n_buildings)


class _Trial:
    """Variants of one site, and what they have shown so far."""

    def __init__(self, judgement: Judgement, under: Under, effort: Effort, watch: Watch) -> None:
        self._judgement, self._effort, self._watch = judgement, effort, watch
        self._usual = {one.layout: _as_judged(one) for one in judgement.judged}
        self._layouts = _worth_trying(judgement.judged)
        self._others = Alternatives(judgement.site, under)
        self._n = lifetimes_for(judgement.policy.kept_with_probability, effort.n_lifetimes)
        self._deadline = effort.clock() + effort.seconds
        self._settings: tuple[Setting, ...] = ()
        self._variants: list[Variant] = []
        self._seen: dict[Place, dict[str, Seen]] = {}
        self._searches: list[Search] = []
        self._rare: dict[str, OverRates] = {}

    def run(self) -> str:
        """Play until all is done, time is over or somebody interrupts; say which."""
        try:
            for layout, shares in over_rates(self._judgement, self._others, self._effort):
                self._rare[layout] = shares
            if not self._layouts:
                return UNSURE
            self._settings = self._others.unstated()
            seed, n_draws = self._judgement.longest.seed, self._effort.n_draws
            self._variants = list(variants_of(self._settings, n_draws, seed))
            ends = [one for one in self._variants if one.key]
            self._try(ends, min(FIRST_LIFETIMES, self._n))
            for key in self._chosen():
                self._search(key)
            self._try([one for one in self._variants if not one.key], self._n)
            self._try(sorted(ends, key=self._doubt), self._n)
        except KeyboardInterrupt:
            return INTERRUPTED
        return OUT_OF_TIME if self._is_over() else REACHED

    def outcome(self, stopped_because: str) -> Hanging:
        """Return all that is known.

        Parameters
        ----------
        stopped_because : str
            Why nothing more was tried. [-]
        """
        found = (
            Tried(one, *(self._final((one.key, one.value_at(at))) for at in (0, 1)))
            for one in self._settings
        )
        n_draws = self._effort.n_draws
        return Hanging(
            self._usual,
            self._layouts,
            tuple(one for one in found if one.is_moved),
            tuple(self._final(("", draw)) for draw in range(n_draws)),
            tuple(search.limit() for search in self._searches if search.is_over),
            self._n,
            n_draws,
            stopped_because,
            self._rare,
        )

    def _is_over(self) -> bool:
        return self._effort.clock() >= self._deadline

    def _final(self, place: Place) -> ByLayout:
        """What a variant shows; one that was not played to the end is not tested."""
        found = {layout: self._at(place, layout) for layout in self._layouts}
        return {
            layout: replace(seen, shown=Shown.NOT_TESTED) if self._is_open(seen) else seen
            for layout, seen in found.items()
        }

    def _at(self, place: Place, layout: str) -> Seen:
        return self._seen.get(place, {}).get(layout, UNSEEN)

    def _is_open(self, seen: Seen, n_lifetimes: int | None = None) -> bool:
        """Whether more lifetimes are to be played before something counts as shown, or as open."""
        n = self._n if n_lifetimes is None else n_lifetimes
        is_unsure = seen.shown in {Shown.UNDECIDED, Shown.NOT_TESTED}
        return is_unsure and seen.is_moved and seen.n_lifetimes < n

    def _doubt(self, variant: Variant) -> float:
        """Order of variants: those first that come nearest to turning what is shown as assumed."""
        found = (self._at(_place(variant), layout).broken for layout in self._layouts)
        shares = [one.mean for one in found if one is not None]
        return min(shares, default=1.0) if self._is_lost else -max(shares, default=0.0)

    @property
    def _is_lost(self) -> bool:
        """Whether every layout that is tried breaks the promise as assumed."""
        return all(self._usual[layout].shown is Shown.BROKEN for layout in self._layouts)

    def _chosen(self) -> list[str]:
        """Keys of defaults of which it is told up to which value the promise is kept."""
        may_break = 1 - self._judgement.policy.kept_with_probability
        moving = [one for one in self._variants if one.key and self._is_moved(_place(one))]
        moving.sort(key=self._doubt)
        least = may_break if self._is_lost else -may_break
        turning = [one.key for one in moving if self._doubt(one) < least]
        always = [one.key for one in moving if one.key in ALWAYS]
        return list(dict.fromkeys([*always, *turning]))[:MOST_LIMITS]

    def _is_moved(self, place: Place) -> bool:
        return any(seen.is_moved for seen in self._seen.get(place, {}).values())

    def _search(self, key: str) -> None:
        """Find the values of one default up to which each layout keeps the promise."""
        self._try([one for one in self._variants if one.key == key], self._n)
        (setting,) = (one for one in self._settings if one.key == key)
        searches = []
        for layout in self._layouts:
            low, high = (self._final((key, setting.value_at(at)))[layout] for at in (0, 1))
            searches.append(Search(setting, layout, self._usual[layout], (low, high)))
        self._searches += searches  # one that time cuts short is not told
        while not self._is_over():
            asked: dict[float, set[str]] = {}
            for search in searches:
                for value in search.asked():
                    asked.setdefault(value, set()).add(search.layout)
            if not asked:
                return
            probes = [(Variant(key, -1, {key: value}), asked[value]) for value in asked]
            self._play(probes, self._n)
            self._learn(searches)

    def _learn(self, searches: Sequence[Search]) -> None:
        """Tell searches what the values that they asked for have shown."""
        for search in searches:
            for value in list(search.asked()):
                seen = self._at((search.setting.key, value), search.layout)
                if not self._is_open(seen):
                    search.learn(value, seen)

    def _try(self, variants: Iterable[Variant], n_lifetimes: int) -> None:
        self._play([(one, self._layouts) for one in variants], n_lifetimes)

    def _play(self, asked: Sequence[Asked], n_lifetimes: int) -> None:
        """Play what nothing is sure of yet, as far as there is time."""
        if not asked or self._is_over():
            return
        base, effort = self._judgement.longest, self._effort
        undertaking = Undertaking(
            self._judgement.site,
            tuple(self._judgement.site.layout(name) for name in self._layouts),
            base.seed,
            base.count_site_outages,
            effort.engine,
            watch=watch_of(self._judgement.policy),
        )
        several = Several(undertaking, n_lifetimes, effort.workers, self._is_over, self._are_sure)
        with closing(several.told((), self._sites(asked, n_lifetimes))) as told:
            for one in told:
                if one.is_alike:
                    self._note(one.name, self._layouts, None)
                for study in one.studies:
                    self._seen.setdefault(one.name, {})[study.layout] = self._of(study)

    def _sites(self, asked: Sequence[Asked], n_lifetimes: int) -> Iterator[tuple[Place, Site]]:
        """Sites that have to be played; of the others it is noted what they show."""
        for n_before, (variant, layouts) in enumerate(asked):
            place = _place(variant)
            wanted = [one for one in layouts if self._is_open(self._at(place, one), n_lifetimes)]
            if not wanted:
                continue
            self._watch(n_before, len(asked), variant)
            try:
                site = self._others.of(variant.values)
            except NO_SUCH_SITE:
                self._note(place, layouts, Seen(Shown.IMPOSSIBLE, is_moved=False))
                continue
            if self._others.is_same(site):
                self._note(place, layouts, None)
            else:
                yield place, replace(site, layouts=tuple(map(site.layout, wanted)))

    def _note(self, place: Place, layouts: Iterable[str], seen: Seen | None) -> None:
        """Note what was not played; None is all that is shown as assumed."""
        for layout in layouts:
            as_assumed = replace(self._usual[layout], is_moved=False)
            self._seen.setdefault(place, {}).setdefault(layout, seen or as_assumed)

    def _are_sure(self, found: Sequence[Study]) -> Ruling:
        shown = [self._of(study).shown for study in found]
        sure = [place for place, one in enumerate(shown) if one is not Shown.UNDECIDED]
        return Ruling(SETTLED if len(sure) == len(found) else "", frozenset(sure))

    def _of(self, study: Study) -> Seen:
        """What lifetimes show of one layout.

        A promise holds everywhere only if it does at each place by itself, so such bounds need no
        allowance for many variants; one broken somewhere was looked for everywhere, so those do.
        """
        policy, n = self._judgement.policy, study.n_lifetimes
        max_count, may_break = (
            policy.max_count(len(study.sensors)),
            1 - policy.kept_with_probability,
        )
        if max_count >= len(study.sensors):
            return Seen(Shown.KEPT, Estimate(0.0, 0.0, 0.0, KEPT_LEVEL, BETTING), n)
        most = most_beyond(study, policy.count.value, ms_from_h(policy.longer_than_h))
        broken = broken_share(most, max_count, KEPT_LEVEL)
        if broken.high <= may_break:
            return Seen(Shown.KEPT, broken, n)
        if broken.low > may_break:
            n_tests = (len(self._variants) + 2 * HALVINGS * MOST_LIMITS) * len(self._layouts)
            stricter = broken_share(most, max_count, 1 - 2 * (1 - LEVEL) / n_tests)
            if stricter.low > may_break:
                return Seen(Shown.BROKEN, stricter, n)
        return Seen(Shown.UNDECIDED, broken, n)


def _place(variant: Variant) -> Place:
    return variant.key, variant.values[variant.key] if variant.key else variant.at


def _as_judged(one: Judged) -> Seen:
    return Seen(Shown(one.verdict.value), one.broken, one.study.n_lifetimes)


def _worth_trying(judged: Sequence[Judged]) -> tuple[str, ...]:
    """Layouts that keep the promise; all where all break it, and none where that is open."""
    if found := tuple(one.layout for one in judged if one.verdict is Verdict.KEPT):
        return found
    is_lost = all(one.verdict is Verdict.BROKEN for one in judged)
    return tuple(one.layout for one in judged if is_lost)
