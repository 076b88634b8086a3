"""Whether the order of layouts survives where what nobody stated is otherwise than assumed.

Each uncertain default goes to both ends of its range, one at a time, and then all of them anywhere
in their ranges together. All of that plays the same lifetimes.
"""

from collections.abc import Iterator, Sequence
from contextlib import closing

from resilience.assumptions.catalogue import Setting
from resilience.building.site import Site
from resilience.errors import UsageError
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
    why_not,
)
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED, Undertaking
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.pairs import Verdict, pair_of, ranked_by
from resilience.ranking.settling import pair_level_share
from resilience.ranking.variation import Case, Claim, Survival, Variation, Varied

WORSE = Verdict.WORSE


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


class _Trial:
    """Variants of one site: those still to be played, and what the others have shown."""

    def __init__(self, comparison: Comparison, under: Under, effort: Effort, watch: Watch) -> None:
        self._site, self._effort, self._watch = comparison.site, effort, watch
        self._others = Alternatives(comparison.site, under)
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
            self._settings = self._others.unstated()
            variants = list(variants_of(self._settings, self._effort.n_draws, self._seed))
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
            tuple(one for one in self._others.open if one.key not in keys),
            tuple(case for (key, _), case in sorted(self._cases.items()) if not key),
            self._effort.n_lifetimes,
            self._effort.n_draws,
            stopped_because,
        )

    def _is_over(self) -> bool:
        return self._effort.clock() >= self._deadline

    def _sites(self, variants: Sequence[Variant]) -> Iterator[tuple[tuple[str, int], Site]]:
        """Sites that have to be played; of the others it is noted what they show."""
        for n_before, variant in enumerate(variants):
            self._watch(n_before, len(variants), variant)
            try:
                site = self._others.of(variant.values)
            except NO_SUCH_SITE as error:
                self._cases[variant.name] = Case(Survival.IMPOSSIBLE, why=why_not(error))
                continue
            if variant.key and self._others.is_same(site):
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
