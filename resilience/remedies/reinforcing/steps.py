"""Change after change: a screen proposes, full lifetimes on the same luck confirm."""

from collections.abc import Sequence
from dataclasses import replace

from resilience.building.service.places import CandidatePlace
from resilience.building.site import Device, Kind, Layout, Site, outages_matter
from resilience.draws import DEFAULT_SEED
from resilience.errors import UsageError
from resilience.lifetime.playing import Stage
from resilience.montecarlo.costs import installation
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import INTERRUPTED, OUT_OF_TIME, REACHED
from resilience.ranking.pairs import INDIFFERENCE_H, INDIFFERENCE_SHARE, Pair, Verdict
from resilience.remedies.groundwork.spots import NO_PLACE, free, grid, hung
from resilience.remedies.reinforcing.confirming import BY, LEAST_LIFETIMES, Effort, Tried, tried
from resilience.remedies.reinforcing.options import Move, Option, options, removals
from resilience.remedies.reinforcing.proposal import Confirmed, Reinforcement, Step
from resilience.remedies.reinforcing.screening import Screen, Screened

LEAST_CONFIRMED = 2
PILOT_LIFETIMES = 16  # that tell how long one takes
SHARE_PLAYED = 0.7  # of the time for a change; the rest is for the screen
NOTHING_HELPS = "nothing that was looked at helps"
NOTHING_SPARE = "nothing is left that could go"
NO_GAIN = "the best of what was tried changes nothing that counts"
LOSES = "whatever goes next is missed"


def reinforce(  # noqa: PLR0913, PLR0917 - as ``weakest``, with a budget and places
    site: Site,
    layout: str | None = None,
    devices: int = 2,
    places: Sequence[CandidatePlace] | None = None,
    seed: int = DEFAULT_SEED,
    effort: Effort | None = None,
) -> Reinforcement:
    """Say which few changes of a layout buy most: devices added, moved, or on mains.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : str or None
        Name of one of its layouts; None only where there is one. [-]
    devices : int
        Changes at most, one after the other. [-]
    places : sequence of CandidatePlace or None
        Where devices could hang; None takes a grid inside the building. [-]
    seed : int
        Of what is drawn, from 0. [-]
    effort : Effort or None
        How much is played; None takes the default. [-]

    Raises
    ------
    UsageError
        There is no such layout, or no place for a device.
    """
    start, asked = _layout_of(site, layout), effort or Effort()
    _check(devices, seed)
    spots, forbidden = _spots(site, start, places)
    could = [hung(site, start, one) for one in spots]
    course = _Course(site, start, could, (seed, devices, asked))
    return course.whole(len(forbidden))


def leave_out(
    site: Site,
    layout: str | None = None,
    devices: int = 2,
    seed: int = DEFAULT_SEED,
    effort: Effort | None = None,
) -> Reinforcement:
    """Say which repeaters or gateways of a layout could be left out, losing least.

    Parameters
    ----------
    site : Site
        The site. [-]
    layout : str or None
        Name of one of its layouts; None only where there is one. [-]
    devices : int
        How many at most, one after the other. [-]
    seed : int
        Of what is drawn, from 0. [-]
    effort : Effort or None
        How much is played; None takes the default. [-]

    Raises
    ------
    UsageError
        There is no such layout, or nothing in it that could go.
    """
    start, asked = _layout_of(site, layout), effort or Effort()
    _check(devices, seed)
    if not any(removals(start)):
        raise UsageError(f"{start.name} has no repeater and no second gateway that could go")
    return _Course(site, start, [], (seed, devices, asked), removes=True).whole(0)


def _layout_of(site: Site, layout: str | None) -> Layout:
    if layout is None and len(site.layouts) > 1:
        names = ", ".join(one.name for one in site.layouts)
        raise UsageError(f"which layout is to be reinforced? --layout names one of {names}")
    return site.layouts[0] if layout is None else site.layout(layout)


def _check(devices: int, seed: int) -> None:
    if devices < 1:
        raise UsageError(f"a budget of {devices} devices adds nothing; at least 1 is needed")
    if seed < 0:
        raise UsageError(f"the seed is {seed}; it must be 0 or above")


def _spots(
    site: Site, start: Layout, places: Sequence[CandidatePlace] | None
) -> tuple[tuple[CandidatePlace, ...], tuple[CandidatePlace, ...]]:
    """Places where something could hang, and stated ones where nothing can."""
    if not site.radio.predict:
        if any(options(start, ())):  # a repeater that could be on mains
            return (), ()
        raise UsageError(NO_PLACE.format(why="links here are given, none can be predicted"))
    if places is None:
        return grid(site, start), ()
    if not places:
        raise UsageError(NO_PLACE.format(why="places.csv lists none"))
    kept, forbidden = free(site.building, places)
    if not kept:
        why = f"all {len(forbidden)} places are outside the outline, in a shaft or in a solid thing"
        raise UsageError(NO_PLACE.format(why=why))
    return kept, forbidden


class _Course:
    """A layout that is changed step by step."""

    def __init__(
        self,
        site: Site,
        start: Layout,
        could: Sequence[Device],
        how: tuple[int, int, Effort],
        removes: bool = False,
    ) -> None:
        self._site, self._start, self._could, self._removes = site, start, could, removes
        self._seed, self._n_changes, self._effort = how
        self._layout, self._steps = start, list[Step]()
        # One bound for each option confirmed, the look back included, and one for the whole.
        n_steps = self._n_changes + (not removes)
        self._level_share = 1 - (1 - LEVEL) / (n_steps * self._effort.n_confirmed + 1)
        self._seconds_each = self._timed()
        self._deadline = self._effort.clock() + self._effort.seconds
        self._why, self._n_options, self._n_deaf = REACHED, 0, 0

    def whole(self, n_forbidden: int) -> Reinforcement:
        """Go through all changes, and confirm what they come to together."""
        total = None
        try:
            for number in range(self._n_changes):
                if not self._changed(number, self._asked()):
                    break
            n_taken = sum(one.taken is not None for one in self._steps)
            if n_taken > 1 and not self._removes:
                self._look_back()
            if n_taken:
                total = self._total()
        except KeyboardInterrupt:
            self._why = INTERRUPTED
        figures = (len(self._could), n_forbidden, self._n_options, self._n_deaf)
        head = (self._site, self._start, self._layout, tuple(self._steps), total, self._seed)
        return Reinforcement(*head, self._level_share, *figures, self._why, self._removes)

    def _asked(self) -> list[Option]:
        if self._removes:
            return list(removals(self._layout))
        new = self._new()
        found = options(self._layout, self._could)
        return [one for one in found if one.move is Move.ADD or one.device not in new]

    def _new(self) -> set[str]:
        """Devices added so far."""
        before = {one.id for one in self._start.devices}
        return {one.id for one in self._layout.devices} - before

    def _changed(self, number: int, asked: list[Option]) -> bool:
        """Make the next change; False where none is worth it."""
        confirmed, hours = self._tried(number, asked)
        if not confirmed or hours is None:
            if self._why == REACHED:
                self._why = NOTHING_SPARE if self._removes else NOTHING_HELPS
            return False
        best = confirmed[0]
        taken = best if self._is_worth_it(best, hours) else None
        if taken is None:
            self._why = LOSES if self._removes else NO_GAIN
        self._take(Step(confirmed, taken, hours))
        return taken is not None

    def _look_back(self) -> None:
        """Move what was added early, if it is shown to hang better elsewhere by now."""
        new = self._new()
        found = options(self._layout, self._could)
        moves = [one for one in found if one.move is Move.MOVE and one.device in new]
        confirmed, hours = self._tried(self._n_changes, moves)
        if confirmed and hours is not None and confirmed[0].is_shown:
            self._take(Step(confirmed, confirmed[0], hours, is_look_back=True))

    def _take(self, step: Step) -> None:
        if step.taken is not None:
            made = step.taken.option.made(self._layout)
            cost = _cost(self._site, made, self._layout)
            self._layout, step = made, replace(step, cost=cost)
        self._steps.append(step)

    def _is_worth_it(self, best: Confirmed, hours: Estimate) -> bool:
        verdict, gain_h = best.pair.verdict, -best.pair.difference.mean
        felt_h = max(INDIFFERENCE_H, INDIFFERENCE_SHARE * min(hours.mean, hours.mean - gain_h))
        if self._removes:
            return verdict is not Verdict.WORSE and gain_h >= -felt_h
        is_alike = verdict in {Verdict.ALIKE, Verdict.SAME, Verdict.NEARLY_ALIKE}
        return gain_h > felt_h and not is_alike

    def _tried(
        self, number: int, asked: list[Option]
    ) -> tuple[tuple[Confirmed, ...], Estimate | None]:
        """Play what looks best of all that is asked; the best first."""
        counts = outages_matter([self._layout, *(one.made(self._layout) for one in asked)])
        how = (self._seed, counts, self._effort.n_words)
        screen = Screen(self._site, self._layout, self._could, *how)
        self._n_options += len(asked)
        self._n_deaf = max(self._n_deaf, screen.n_deaf)
        short = _shortlist(screen.best(asked), self._n_affordable(number), self._removes)
        if not short:
            return (), None
        made = tuple(one.option.made(self._layout) for one in short)
        played = self._played(number, (self._layout, *made))
        if played is None:
            return (), None
        confirmed = [
            Confirmed(one.option, one.gain_h, self._pair(played, place))
            for place, one in enumerate(short)
        ]
        # What fell behind was played less, and stays behind whatever its fewer lifetimes say.
        confirmed.sort(
            key=lambda one: (-one.pair.n_buildings, one.pair.difference.mean, one.option.device)
        )
        return tuple(confirmed), BY.estimate(played.as_is)

    def _pair(self, played: Tried, place: int) -> Pair:
        return played.race.pair(played.would_be[place], played.as_is, self._level_share)

    def _total(self) -> Pair | None:
        """All changes together, on lifetimes of their own."""
        played = self._played(self._n_changes + 1, (self._start, self._layout))
        return None if played is None else self._pair(played, 0)

    def _played(self, number: int, layouts: tuple[Layout, ...]) -> Tried | None:
        """Lifetimes of a layout, and of what it could be, that nobody has seen before."""
        least_s = LEAST_LIFETIMES * self._seconds_each * len(layouts) / self._effort.workers
        left_s = self._deadline - self._effort.clock()
        seconds = min(left_s, max(self._slot_s(number), least_s))
        seed = self._seed + 1 + number  # the screen has chosen on the seed itself
        found = tried(self._site, layouts, seed, self._effort, seconds)
        if found is None:
            self._why = OUT_OF_TIME
        return found

    def _timed(self) -> float:
        """What a lifetime of the layout takes; what is compiled first takes no time of it."""
        stage = Stage(self._site, self._start, self._seed, True, self._effort.engine)
        stage.make_ready()
        began = self._effort.clock()
        stage.tally(0, PILOT_LIFETIMES)
        return max(1e-6, (self._effort.clock() - began) / PILOT_LIFETIMES)

    def _n_affordable(self, number: int) -> int:
        """Options that there is time to confirm, two of them at least."""
        each_s = LEAST_LIFETIMES * self._seconds_each / self._effort.workers
        n = int(self._slot_s(number) / each_s) - self._effort.workers
        return min(self._effort.n_confirmed, max(LEAST_CONFIRMED, n))

    def _slot_s(self, number: int) -> float:
        """Time for the lifetimes of a change: a fair share of what is left."""
        n_left = max(1.5, self._n_changes - number + 0.5)
        return max(0.0, self._deadline - self._effort.clock()) * SHARE_PLAYED / n_left


def _shortlist(found: Sequence[Screened], n: int, removes: bool) -> list[Screened]:
    """The best of each kind of change, then the best of all."""
    helping = [one for one in found if removes or one.gain_h > 0]
    first: dict[tuple[Move, Kind], Screened] = {}
    for one in helping:
        first.setdefault((one.option.move, one.option.kind), one)
    leading = list(first.values())
    rest = [one for one in helping if one not in leading]
    return [*leading, *rest][:n]


def _cost(site: Site, made: Layout, before: Layout) -> float | None:
    """What a change costs to install more than the layout before it; None if nobody knows."""
    after, until = (installation(one, site.prices).whole_cost for one in (made, before))
    return None if after is None or until is None else after - until
