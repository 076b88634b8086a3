"""Whether the order of layouts survives where what nobody stated is otherwise than assumed.

Each uncertain default goes to both ends of its range, one at a time, and then all of them anywhere
in their ranges together. All of that plays the same lifetimes.
"""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace

from resilience.assumptions.catalogue import LOW, Setting, settings
from resilience.building.settings import LearntValue
from resilience.building.site import Site
from resilience.draws import element_key, stream, uniform
from resilience.errors import InputError, UsageError
from resilience.lifetime.engines import COMPILED
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED, Undertaking
from resilience.montecarlo.several import Several
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.pairs import Verdict, pair_of, ranked_by
from resilience.ranking.settling import pair_level_share
from resilience.ranking.variation import Case, Claim, Survival, Variation, Varied

WORSE = Verdict.WORSE
OWN_HISTORY = "own history (learnt.yaml)"
FIRST_TRIED = ("upkeep", "hazards", "batteries", "models", "changes", "routing")
Under = Callable[[Mapping[str, float]], Site]  # the site, if other defaults held


@dataclass(frozen=True, slots=True)
class Effort:
    """How much is played.

    Parameters
    ----------
    n_lifetimes : int
        Of each layout in each variant. [-]
    n_draws : int
        Draws of all defaults together. [-]
    seconds : float
        Time after which nothing more begins. [s]
    workers : int
        Threads; 1 plays in one beside the caller's. [-]
    engine : str
        Which plays. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    n_lifetimes: int = 128
    n_draws: int = 20
    seconds: float = 120.0
    workers: int = 1
    engine: str = COMPILED
    clock: Callable[[], float] = field(default=time.monotonic)


@dataclass(frozen=True, slots=True)
class Variant:
    """What is to be played: an end of a setting's range, or a draw over all ranges.

    Parameters
    ----------
    key : str
        Of the setting; empty for a draw. [-]
    at : int
        0 for the low end and 1 for the high one, or the number of the draw. [-]
    values : mapping of str to float
        Defaults that are otherwise. [unit]
    """

    key: str
    at: int
    values: Mapping[str, float]

    @property
    def name(self) -> tuple[str, int]:
        """What tells variants apart."""
        return self.key, self.at


Watch = Callable[[int, int, Variant], None]  # variants before it, all variants, and the present one


def nobody(n_before: int, n_all: int, variant: Variant) -> None:
    """Tell nobody."""


def varied(
    comparison: Comparison, under: Under, effort: Effort | None = None, watch: Watch = nobody
) -> Variation:
    """Put the order of layouts to the test of other defaults.

    An interrupt or the end of the time leaves what is known by then; the rest is not tested.

    Parameters
    ----------
    comparison : Comparison
        The order under the defaults as they are. [-]
    under : callable
        Gives the site under other defaults; what it states itself stays. [-]
    effort : Effort or None
        How much is played; None takes the default. [-]
    watch : callable
        Told which variant comes next. [-]

    Raises
    ------
    UsageError
        There is one layout only.
    """
    if len(comparison.placed) < 2:
        raise UsageError("there is one layout, so there is no order that other defaults could turn")
    trial = _Trial(comparison, under, effort or Effort(), watch)
    return trial.outcome(trial.run())


def claim_of(comparison: Comparison) -> Claim:
    """Return what is said of the order, to be put to the test.

    Parameters
    ----------
    comparison : Comparison
        At least two layouts in order. [-]
    """
    names = tuple(placed.layout.name for placed in comparison.placed)
    split = comparison.widest_split
    if split is None:
        return Claim(names[:1], names[1:2], False)
    return Claim(names[: split.n_better], names[split.n_better :], True)


def drawn_values(settings: Sequence[Setting], seed: int, draw: int) -> dict[str, float]:
    """Values of one draw over all ranges, each setting by itself.

    Parameters
    ----------
    settings : sequence of Setting
        Which. [-]
    seed, draw : int
        Seed of the study, and number of the draw from 0. [-]
    """
    return {
        one.key: one.value_at(uniform(stream(seed, draw, element_key("default", one.key, "")), 0))
        for one in settings
    }


def open_settings(site: Site) -> tuple[Setting, ...]:
    """Return every number that nobody is sure of, in the order of the catalogue.

    What was learnt at the site lies within the bounds that its own history left. Of a learnt
    duration the median is varied, and the 90 % point goes with it.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    learnt = {one.key: one for one in (site.learnt.values if site.learnt else ())}
    found = []
    for one in settings():
        known = learnt.get(one.key)
        if known is None and one.is_uncertain:
            found.append(one)
        elif known is not None and one.name != "p90_h":
            found.append(_as_learnt(one, known))
    return tuple(found)


def _as_learnt(setting: Setting, known: LearntValue) -> Setting:
    return replace(
        setting,
        default=known.value,
        low=known.low,
        high=known.high,
        source=OWN_HISTORY,
        confidence=LOW,
    )


def _chapter(setting: Setting) -> int:
    """Place of a setting's chapter among those tried, the last of them for any other."""
    name = setting.key.partition(".")[0]
    return FIRST_TRIED.index(name) if name in FIRST_TRIED else len(FIRST_TRIED)


class _Trial:
    """Variants of one site: those still to be played, and what the others have shown."""

    def __init__(self, comparison: Comparison, under: Under, effort: Effort, watch: Watch) -> None:
        self._site, self._under, self._effort, self._watch = comparison.site, under, effort, watch
        self._open = open_settings(self._site)
        self._seed = comparison.leader.seed
        self._counted = comparison.leader.count_site_outages
        self._claim = claim_of(comparison)
        self._cases: dict[tuple[str, int], Case] = {}
        self._usual = Case(Survival.NOT_TESTED)
        self._deadline = effort.clock() + effort.seconds
        self._settings: tuple[Setting, ...] = ()  # those that something hangs on, by their sections
        self._n_variants = 1

    def run(self) -> str:
        """Play until all is done, time is over or somebody interrupts; say which."""
        try:
            self._settings = tuple(self._unstated())
            variants = list(self._variants())
            self._n_variants = max(1, len(variants))
            self._play(variants)
        except KeyboardInterrupt:
            return INTERRUPTED
        return REACHED if len(self._cases) == len(variants) else OUT_OF_TIME

    def _play(self, variants: Sequence[Variant]) -> None:
        effort, site = self._effort, self._site
        undertaking = Undertaking(site, site.layouts, self._seed, self._counted, effort.engine)
        several = Several(undertaking, effort.n_lifetimes, effort.workers, self._is_over)
        first = several.first()
        if first is None:
            return
        self._usual = self._case(first)
        with closing(several.told(first, self._sites(variants))) as told:
            for one in told:
                unmoved = Case(Survival.UNMOVED) if one.name[0] else self._usual
                self._cases[one.name] = unmoved if one.is_alike else self._case(one.studies)

    def outcome(self, stopped_because: str) -> Variation:
        """Return all that is known.

        Parameters
        ----------
        stopped_because : str
            Why nothing more was tested. [-]
        """
        untested = Case(Survival.NOT_TESTED)
        tried = [
            Varied(one, *(self._cases.get((one.key, at), untested) for at in (0, 1)))
            for one in self._settings
        ]
        nothing = {Survival.UNMOVED}
        moved = [one for one in tried if {one.low.survival, one.high.survival} != nothing]
        keys = {one.setting.key for one in moved}
        return Variation(
            self._claim,
            self._usual,
            tuple(sorted(moved, key=lambda one: -one.moves_h(self._usual))),
            tuple(one for one in self._open if one.key not in keys),
            tuple(case for (key, _), case in sorted(self._cases.items()) if not key),
            self._effort.n_lifetimes,
            self._effort.n_draws,
            stopped_because,
        )

    def _is_over(self) -> bool:
        return self._effort.clock() >= self._deadline

    def _unstated(self) -> Iterator[Setting]:
        """Settings of sections in which something changes the site, upkeep and rates first.

        Nobody has published rates, so they come before all else if time should run out.
        """
        sections = dict.fromkeys(one.section for one in self._open)
        moving = {name for name in sections if self._moves(name)}
        found = [one for one in self._open if one.section in moving]
        yield from sorted(found, key=_chapter)

    def _moves(self, section: str) -> bool:
        """Whether the site is another with all of a section at one end: one reading for many."""
        ones = [one for one in self._open if one.section == section]
        for share in (0.0, 1.0):
            try:
                site = self._under({one.key: one.value_at(share) for one in ones})
            except (InputError, UsageError):
                return True
            if not self._is_same(site):
                return True
        return False

    def _is_same(self, site: Site) -> bool:
        return replace(site, notes=()) == replace(self._site, notes=())

    def _variants(self) -> Iterator[Variant]:
        for one in self._settings:
            for at in (0, 1):
                yield Variant(one.key, at, {one.key: one.value_at(at)})
        for draw in range(self._effort.n_draws):
            yield Variant("", draw, drawn_values(self._settings, self._seed, draw))

    def _sites(self, variants: Sequence[Variant]) -> Iterator[tuple[tuple[str, int], Site]]:
        """Sites that have to be played; of the others it is noted what they show."""
        for n_before, variant in enumerate(variants):
            self._watch(n_before, len(variants), variant)
            try:
                site = self._under(variant.values)
            except (InputError, UsageError) as error:
                why = str(error.faults[0]) if isinstance(error, InputError) else str(error)
                self._cases[variant.name] = Case(Survival.IMPOSSIBLE, why=why)
                continue
            if variant.key and self._is_same(site):
                self._cases[variant.name] = Case(Survival.UNMOVED)
            else:
                yield variant.name, site

    def _case(self, studies: Sequence[Study]) -> Case:
        """What a site shows of the order.

        An order is held only if each pair holds by itself, so those bounds need no allowance for
        many variants; one that turns somewhere was looked for everywhere, so those do.
        """
        by, of = ranked_by(studies), {study.layout: study for study in studies}
        level_share = pair_level_share(len(studies))
        stricter = 1 - (1 - level_share) / self._n_variants
        claim = self._claim
        ends = [(of[first], of[second]) for first in claim.better for second in claim.worse]
        pairs = [pair_of(*two, level_share, by) for two in ends]
        worse = [two for two, pair in zip(ends, pairs, strict=True) if pair.verdict is WORSE]
        survival = Survival.OPEN
        if all(pair.verdict is Verdict.BETTER for pair in pairs):
            survival = Survival.HELD
        elif any(pair_of(*two, stricter, by).verdict is WORSE for two in worse):
            survival, pairs[0] = Survival.TURNED, pair_of(*ends[0], stricter, by)
        least = min(studies, key=lambda study: (float(by.hours(study).mean()), study.layout))
        aside = [pair.leaves_aside for pair in pairs if pair.leaves_aside]
        is_told = survival in {Survival.HELD, Survival.TURNED}
        return Case(survival, pairs[0], least.layout, "", min(aside, default=0) * is_told)
