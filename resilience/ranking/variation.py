"""What other defaults show of an order of layouts, as values."""

from dataclasses import dataclass
from enum import StrEnum

from resilience.assumptions.catalogue import Setting
from resilience.montecarlo.estimates import LEVEL, SHARE, Estimate
from resilience.montecarlo.runs.running import REACHED
from resilience.ranking.pairs import Pair

EXACT = "exact binomial interval (Clopper and Pearson 1934)"


class Survival(StrEnum):
    """What a variant shows of the order."""

    HELD = "held"
    TURNED = "turned"
    OPEN = "open"  # alike or too close: it neither confirms nor refutes
    UNMOVED = "unmoved"  # nothing that is played hangs on it
    IMPOSSIBLE = "impossible"  # the site has no room for it
    NOT_TESTED = "not tested"


@dataclass(frozen=True, slots=True)
class Claim:
    """The order that is put to the test: of groups, or of the first two where none is shown.

    Parameters
    ----------
    better, worse : tuple of str
        Layouts, in order. [-]
    is_shown : bool
        Whether every one of the better ones was shown to be better than each of the others. [-]
    """

    better: tuple[str, ...]
    worse: tuple[str, ...]
    is_shown: bool


@dataclass(frozen=True, slots=True)
class Case:
    """A site under other defaults.

    Parameters
    ----------
    survival : Survival
        What it shows. [-]
    pair : Pair or None
        The best of the better ones against the best of the others, as they were placed under the
        stated defaults; None where nothing was played. [-]
    first : str
        Which layout has fewest hours, shown or not; empty where nothing was played. [-]
    why : str
        Why it cannot be; empty where it can. [-]
    leaves_aside : int
        What is rarer than one in so many possible buildings could still turn what it shows of some
        pair; 0 where nothing could. [-]
    """

    survival: Survival
    pair: Pair | None = None
    first: str = ""
    why: str = ""
    leaves_aside: int = 0

    @property
    def gap_h(self) -> float | None:
        """Hours that the other has more; None where nothing was played."""
        return None if self.pair is None else -self.pair.difference.mean + 0.0

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        pair = self.pair
        return {
            "shows": self.survival.value,
            "first": self.first or None,
            "difference": pair and pair.difference.to_json(),
            "leaves_aside_what_is_rarer_than_one_in": self.leaves_aside or None,
            "why_impossible": self.why or None,
        }


NOT_TESTED = Case(Survival.NOT_TESTED)


@dataclass(frozen=True, slots=True)
class Varied:
    """One default at both ends of its range.

    Parameters
    ----------
    setting : Setting
        Which. [-]
    low, high : Case
        What its ends show. [-]
    """

    setting: Setting
    low: Case
    high: Case

    @property
    def ends(self) -> tuple[tuple[float, Case], tuple[float, Case]]:
        """Values of both ends with what they show. [unit]."""
        return (self.setting.value_at(0.0), self.low), (self.setting.value_at(1.0), self.high)

    def moves_h(self, usual: Case) -> float:
        """How far it moves the gap at most; 0 where nothing was played.

        Parameters
        ----------
        usual : Case
            As assumed, on the same lifetimes. [-]
        """
        gaps = [case.gap_h for case in (self.low, self.high)]
        usual_h = usual.gap_h or 0.0
        return max((abs(gap_h - usual_h) for gap_h in gaps if gap_h is not None), default=0.0)


@dataclass(frozen=True, slots=True)
class Variation:
    """The order of layouts under other defaults.

    Parameters
    ----------
    claim : Claim
        What was put to the test. [-]
    usual : Case
        As assumed, on the lifetimes of the variants. [-]
    varied : tuple of Varied
        Uncertain defaults of which something hangs, those first that move the gap most. [-]
    unmoved : tuple of Setting
        Those that the site states, or of which nothing hangs here. [-]
    sample : tuple of Case
        All of them drawn together, each draw with what it shows. [-]
    n_lifetimes : int
        Lifetimes of each layout in each variant. [-]
    n_draws : int
        How many draws were asked for. [-]
    stopped_because : str
        Why nothing more was tested. [-]
    """

    claim: Claim
    usual: Case
    varied: tuple[Varied, ...]
    unmoved: tuple[Setting, ...]
    sample: tuple[Case, ...]
    n_lifetimes: int
    n_draws: int
    stopped_because: str

    def ends(self, survival: Survival) -> list[tuple[Setting, float, Case]]:
        """Return the ends of ranges that show this, in order.

        Parameters
        ----------
        survival : Survival
            What they show. [-]
        """
        return [
            (one.setting, value, case)
            for one in self.varied
            for value, case in one.ends
            if case.survival is survival
        ]

    def n_drawn(self, survival: Survival) -> int:
        """Return how many draws show this.

        Parameters
        ----------
        survival : Survival
            What they show. [-]
        """
        return sum(case.survival is survival for case in self.sample)

    @property
    def n_played(self) -> int:
        """Draws that were played."""
        return len(self.sample) - self.n_drawn(Survival.IMPOSSIBLE)

    def share(self, survival: Survival) -> Estimate:
        """Return the share of the ranges that shows this, from the draws.

        Parameters
        ----------
        survival : Survival
            What they show. [-]
        """
        return binomial_share(self.n_drawn(survival), self.n_played)

    def first_share(self, layout: str) -> Estimate:
        """Return the share of the ranges in which a layout has fewest hours, shown or not.

        Parameters
        ----------
        layout : str
            Its name. [-]
        """
        return binomial_share(sum(case.first == layout for case in self.sample), self.n_played)

    @property
    def survival(self) -> Survival:
        """What all of it shows: held only if every end and every draw that can be held."""
        cases = [*self.sample, *(case for one in self.varied for _, case in one.ends)]
        shown = {case.survival for case in cases} - {Survival.UNMOVED, Survival.IMPOSSIBLE}
        if shown <= {Survival.NOT_TESTED} and self.stopped_because != REACHED:
            return Survival.NOT_TESTED
        if not self.claim.is_shown:
            return Survival.OPEN
        if Survival.TURNED in shown:
            return Survival.TURNED
        return Survival.HELD if shown <= {Survival.HELD} else Survival.OPEN

    @property
    def leaves_aside(self) -> int:
        """What is rarer than one in so many possible buildings could turn something; 0 if none."""
        cases = [*self.sample, *(case for one in self.varied for _, case in one.ends)]
        return min((case.leaves_aside for case in cases if case.leaves_aside), default=0)

    def to_json(self) -> dict[str, object]:
        """Return it under stable keys."""
        names = [*self.claim.better, *self.claim.worse]
        return {
            "order": self.survival.value,
            "better": list(self.claim.better),
            "worse": list(self.claim.worse),
            "order_shown": self.claim.is_shown,
            "lifetimes": self.n_lifetimes,
            "stopped_because": self.stopped_because,
            "as_assumed": self.usual.to_json(),
            "defaults": [self._one_json(one) for one in self.varied],
            "without_bearing": [setting.key for setting in self.unmoved],
            "sample": {
                "draws": self.n_played,
                "draws_asked_for": self.n_draws,
                "shows": {
                    one.value: {"draws": self.n_drawn(one), **self.share(one).to_json()}
                    for one in (Survival.HELD, Survival.TURNED, Survival.OPEN)
                },
                "fewest_hours": {name: self.first_share(name).to_json() for name in names},
            },
        }

    def _one_json(self, one: Varied) -> dict[str, object]:
        low, high = ({"value": value, **case.to_json()} for value, case in one.ends)
        return {
            "key": one.setting.key,
            "unit": one.setting.unit,
            "default": one.setting.default,
            "low": low,
            "high": high,
            "moves_hours": one.moves_h(self.usual),
        }


def binomial_share(n_seen: int, n: int) -> Estimate:
    """Share of independent draws that show something, with its exact interval.

    Parameters
    ----------
    n_seen, n : int
        Draws that show it, of so many. [-]
    """
    # MODELS.md, "binomial interval": Clopper and Pearson 1934.
    from scipy.stats import binomtest

    if not n:
        return Estimate(float("nan"), SHARE.least, SHARE.largest, LEVEL, EXACT)
    found = binomtest(n_seen, n).proportion_ci(LEVEL, "exact")
    return Estimate(n_seen / n, float(found.low), float(found.high), LEVEL, EXACT)
