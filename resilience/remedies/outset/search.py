"""The search: a screen orders layouts, short plays pick some, fresh lifetimes judge them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from resilience.building.service.policy import ROUNDING, Policy
from resilience.building.site import Kind, Layout, Site, outages_matter
from resilience.draws import DEFAULT_SEED
from resilience.errors import UsageError
from resilience.montecarlo.estimates import LEVEL
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, Budget, Undertaking
from resilience.montecarlo.stopping import SETTLED, Question, Ruling
from resilience.montecarlo.study import Study, studies
from resilience.policy.bounds import breaks, per_building, watch_of
from resilience.policy.judgement import Verdict
from resilience.policy.judging import Judging, verdict_of
from resilience.remedies.outset.allowed import Allowed
from resilience.remedies.outset.field import N_WORDS, Field, Look
from resilience.remedies.outset.groups import Groups, Key, is_priced, sorts_of
from resilience.remedies.outset.proposals import Outset, Proposal, Searched
from resilience.remedies.reinforcing.confirming import Effort
from resilience.units import HOURS_PER_YEAR

MOST_DEVICES = 10
MOST_LIFETIMES = 20_000  # of a layout that is judged, as ``judge`` does
EFFORT = Effort(n_lifetimes=MOST_LIFETIMES, n_words=N_WORDS)
N_LEADING = 8  # layouts of a group that larger groups begin with
N_AT_ONCE = 4  # layouts of a group that are played side by side
MOST_BATCHES = 4  # of them, as long as one is not surely broken
MOST_JUDGED = 8  # layouts that share the miss of all bounds
N_PROPOSED = 3  # layouts shown to keep the promise, after which nothing more is judged
MOST_PILOTS = 1024  # lifetimes of a short play; what is surely kept or broken ends before
PROOF = 4.0  # standard errors, about, by which a bound at all looks lies beside a share
SHARE_PILOTS = 0.2  # of the time that is left, for short plays side by side
SHARE_JUDGING = 0.4  # the same for one layout that is judged
LEAST_LIFETIMES = 64  # of a layout that is judged; what had no more time is not told of

FOUND = "whatever is left costs as much or more"
ENOUGH = "enough layouts that keep the promise were found"
UNREACHABLE = "more sensors have no way from any place than may be lost"
TOO_MANY_JUDGED = "as many layouts were judged as the bounds allow for"
NOTHING_LEFT = "no layout of so many devices is left to look at"


def from_sensors(  # noqa: PLR0913, PLR0917 - sensors and places, a promise, and how it is played
    site: Site,
    start: Layout,
    allowed: Allowed,
    policy: Policy,
    devices: int = MOST_DEVICES,
    seed: int = DEFAULT_SEED,
    effort: Effort = EFFORT,
) -> Outset:
    """Look for the cheapest gateways and repeaters with which sensors keep a promise.

    Parameters
    ----------
    site : Site
        Building, hazards, upkeep, prices. [-]
    start : Layout
        The layout whose sensors are asked for. [-]
    allowed : Allowed
        What could hang. [-]
    policy : Policy
        What is to be kept. [-]
    devices : int
        Gateways and repeaters at most. [-]
    seed : int
        Of what is drawn, from 0. [-]
    effort : Effort
        How much is played. [-]

    Raises
    ------
    UsageError
        The policy makes no sense for the site, or the budget or seed does not.
    """
    policy.check(len(start.sensors), site.horizon_years * HOURS_PER_YEAR)
    if devices < 1:
        raise UsageError(f"a budget of {devices} devices leaves no room for a gateway")
    if seed < 0:
        raise UsageError(f"the seed is {seed}; it must be 0 or above")
    return _Course(site, (start, allowed), policy, (devices, seed, effort)).whole()


@dataclass(frozen=True, slots=True)
class _Seen:
    """A layout of a group, and how it looks."""

    ids: frozenset[str]
    look: Look


@dataclass(frozen=True, slots=True)
class _Short:
    """What a short play of a layout has shown: how often the promise breaks, and how surely."""

    seen: _Seen
    share: float
    error: float
    n_lifetimes: int
    is_broken: bool


class _Course:
    """Groups of layouts gone through, the cheapest first."""

    def __init__(
        self,
        site: Site,
        what: tuple[Layout, Allowed],
        policy: Policy,
        how: tuple[int, int, Effort],
    ) -> None:
        self._site, self._policy = site, policy
        self._start, self._allowed = what
        most, self._seed, self._effort = how
        self._device = {one.id: one for one in self._allowed.could}
        self._by_money = is_priced(self._allowed, site.prices)
        self._groups = Groups(sorts_of(self._allowed, site.prices), most)
        # Only if layouts that could be found differ in what makes them do site outages count.
        made = [self._allowed.made(one.id, [one]) for one in self._allowed.gateways]
        self._counts = outages_matter(made)
        self._judging = Judging(policy)
        self._may_break = 1 - policy.kept_with_probability
        self._leading: dict[Key, list[frozenset[str]]] = {}
        self._judged: list[Proposal] = []
        self._searched: list[Searched] = []
        self._n_asked, self._seconds_each = 0, 0.0
        self._deadline = self._effort.clock() + self._effort.seconds

    def whole(self) -> Outset:
        """Search until something is found, or time or possibilities are used up."""
        how = (self._seed, self._counts, self._effort.n_words)
        field = Field(self._site, self._allowed, self._policy, *how)
        deaf = field.out_of_reach()
        if len(deaf) > self._policy.max_count(len(self._start.sensors)):
            why = UNREACHABLE
        else:
            try:
                why = self._through(field)
            except KeyboardInterrupt:
                why = INTERRUPTED
        head = (self._site, self._start, self._policy, self._allowed)
        found = (tuple(self._judged), tuple(self._searched), deaf)
        shown = (self._by_money, self._counts, 1 - (1 - LEVEL) / MOST_JUDGED)
        return Outset(*head, *found, *shown, self._seed, why)

    def _through(self, field: Field) -> str:
        for key in self._groups:
            kept = self._kept()
            if kept and self._groups.cost(key) > kept[0].cost:
                return FOUND
            if self._is_over():
                return OUT_OF_TIME
            if (why := self._looked_at(key, field)) is not None:
                return why
        return FOUND if self._kept() else NOTHING_LEFT

    def _kept(self) -> list[Proposal]:
        return [one for one in self._judged if one.verdict is Verdict.KEPT]

    def _looked_at(self, key: Key, field: Field) -> str | None:
        """Look through a group; say why the search ends with it, if it does."""
        seen = []
        for ids in sorted(self._groups.members(key, self._leading), key=sorted):
            if self._is_over():
                return OUT_OF_TIME
            seen.append(_Seen(ids, field.look(ids)))
        seen.sort(key=lambda one: (one.look, sorted(one.ids)))
        self._leading[key] = [one.ids for one in seen[:N_LEADING]]
        reaching = [one for one in seen if one.look.reaches]
        why, shorts = self._played_through(key, reaching)
        kept = {frozenset(device.id for device in one.added) for one in self._kept()}
        n_open = sum(not one.is_broken and one.seen.ids not in kept for one in shorts)
        self._searched.append(
            Searched(
                self._groups.n_of(key, Kind.GATEWAY),
                self._groups.n_of(key, Kind.REPEATER),
                self._groups.cost(key),
                self._groups.n_possible(key),
                len(seen),
                len(reaching),
                len(shorts),
                n_open,
                min((one.share for one in shorts), default=None),
            )
        )
        return why

    def _played_through(self, key: Key, reaching: list[_Seen]) -> tuple[str | None, list[_Short]]:
        """Play the best of a group in short, and judge what could be shown to keep the promise."""
        shorts: list[_Short] = []
        for first in range(0, min(len(reaching), N_AT_ONCE * MOST_BATCHES), N_AT_ONCE):
            batch = reaching[first : first + N_AT_ONCE]
            found = self._piloted(batch)
            shorts += [self._short(one, study) for one, study in zip(batch, found, strict=True)]
            hopeful = [one for one in shorts[first:] if self._could_be_shown(one)]
            for one in sorted(hopeful, key=lambda one: (one.share, one.error)):
                if (why := self._judge(key, one.seen)) is not None:
                    return why, shorts
            if self._is_over():
                return OUT_OF_TIME, shorts
            if self._kept() or all(one.is_broken for one in shorts[first:]):
                break
        return None, shorts

    def _short(self, seen: _Seen, study: Study) -> _Short:
        broken = per_building(breaks(study.tally, self._policy, len(study.sensors)))
        error = float(broken.std()) / math.sqrt(len(broken))
        is_broken = self._judging.verdict(study, 1) is Verdict.BROKEN
        return _Short(seen, float(broken.mean()), error, study.n_lifetimes, is_broken)

    def _could_be_shown(self, one: _Short) -> bool:
        """Whether a judgement would show that it keeps the promise, if its short play is right."""
        left_s = SHARE_JUDGING * self._left_s()
        n = max(one.n_lifetimes, min(self._effort.n_lifetimes, left_s / self._seconds_each))
        error = one.error * math.sqrt(one.n_lifetimes / n)
        return one.share + PROOF * error <= self._may_break + ROUNDING

    def _piloted(self, batch: Sequence[_Seen]) -> tuple[Study, ...]:
        """Play some layouts side by side until each is surely broken or kept, or for a while."""
        layouts = tuple(self._made(one.ids, f"{n}") for n, one in enumerate(batch))
        n, began_s = min(MOST_PILOTS, self._effort.n_lifetimes), self._effort.clock()
        budget = (n, SHARE_PILOTS * self._left_s())
        found = self._studies(layouts, self._seed + 1, *budget, self._judging)
        took_s = self._effort.clock() - began_s
        self._seconds_each = max(1e-9, took_s / sum(one.n_lifetimes for one in found))
        return found

    def _judge(self, key: Key, seen: _Seen) -> str | None:
        """Judge a layout on lifetimes of its own; say why the search ends with it, if it does."""
        self._n_asked += 1
        layout = self._made(seen.ids, f"proposal {self._n_asked}")

        def ask(found: Sequence[Study]) -> Ruling:
            is_open = self._judging.verdict(found[0], MOST_JUDGED) is Verdict.UNDECIDED
            return Ruling("" if is_open else SETTLED)

        seed = self._seed + 1 + self._n_asked  # nobody has chosen on these
        budget = (self._effort.n_lifetimes, SHARE_JUDGING * self._left_s())
        (study,) = self._studies((layout,), seed, *budget, ask)
        bounds = self._judging.bounds(study, MOST_JUDGED)
        broken = bounds.estimate(self._policy.max_count(len(study.sensors)))
        verdict = verdict_of(broken, self._policy)
        if verdict is not Verdict.UNDECIDED or study.n_lifetimes >= LEAST_LIFETIMES:
            what = (layout, tuple(self._device[id] for id in sorted(seen.ids)))
            cost = self._groups.cost(key)
            self._judged.append(Proposal(*what, cost, broken, verdict, study.n_lifetimes))
        if len(self._kept()) == N_PROPOSED:
            return ENOUGH
        if self._is_over():
            return OUT_OF_TIME
        return TOO_MANY_JUDGED if self._n_asked == MOST_JUDGED else None

    def _studies(
        self,
        layouts: tuple[Layout, ...],
        seed: int,
        n_lifetimes: int,
        seconds: float,
        question: Question[Study],
    ) -> tuple[Study, ...]:
        site = replace(self._site, layouts=layouts)
        how = (self._effort.engine, None, watch_of(self._policy))
        undertaking = Undertaking(site, layouts, seed, self._counts, *how)
        budget = Budget(n_lifetimes, seconds, self._effort.clock)
        found = studies(undertaking, budget, question, self._effort.workers)
        if found[0].stopped_because == INTERRUPTED:
            raise KeyboardInterrupt
        return found

    def _made(self, ids: frozenset[str], name: str) -> Layout:
        return self._allowed.made(name, (self._device[id] for id in sorted(ids)))

    def _left_s(self) -> float:
        return max(0.0, self._deadline - self._effort.clock())

    def _is_over(self) -> bool:
        return self._effort.clock() > self._deadline
