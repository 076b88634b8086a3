"""When the order of layouts is clear: every pair settled, and what is beaten plays no further."""

from collections.abc import Sequence
from itertools import combinations

from resilience.montecarlo.estimates import LEVEL
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import Study
from resilience.ranking.pairs import Pair, RankedBy, Verdict, pair_of, ranked_by


def pair_level_share(n_layouts: int) -> float:
    """Level of one pair so that all pairs, fixed at the start, hold together (Bonferroni).

    Parameters
    ----------
    n_layouts : int
        Layouts at the start, dropped ones included. [-]
    """
    return 1 - (1 - LEVEL) / max(1, n_layouts * (n_layouts - 1) // 2)


class Settling:
    """Question of a comparison, asked at every look, whether the order is clear.

    A layout that is shown to be worse than the leader is dropped; its pairs stay as they were. One
    layout alone asks nothing, and plays what it is given.
    """

    def __init__(self) -> None:
        self._when_dropped: dict[int, dict[str, Study]] = {}  # by lifetimes, then layout

    def __call__(self, found: Sequence[Study]) -> Ruling:
        """Look at what every layout has shown.

        Parameters
        ----------
        found : sequence of Study
            One for each layout, dropped ones included. [-]
        """
        level_share = pair_level_share(len(found))
        n = max(study.n_lifetimes for study in found)
        playing = [study for study in found if study.n_lifetimes == n]
        by = ranked_by(found)
        playing.sort(key=lambda study: (by.hours(study).mean(), study.layout))
        pairs = [pair_of(*two, level_share, by) for two in combinations(playing, 2)]
        beaten = {
            pair.second
            for pair in pairs
            if pair.first == playing[0].layout
            and pair.verdict is Verdict.BETTER
            and pair.is_settled
        }
        if beaten:
            self._when_dropped[n] = {study.layout: study for study in playing}
        dropped = frozenset(k for k, study in enumerate(found) if study.layout in beaten)
        is_clear = len(found) > 1 and all(pair.is_settled for pair in pairs)
        return Ruling(SETTLED if is_clear else "", dropped)

    def pair(self, first: Study, second: Study, level_share: float, by: RankedBy) -> Pair:
        """Pair of two layouts; where one was dropped, as it was when both still played.

        Parameters
        ----------
        first, second : Study
            The two. [-]
        level_share : float
            Two-sided level of this pair's bound. [-]
        by : RankedBy
            Which hours are compared. [-]
        """
        if first.n_lifetimes != second.n_lifetimes:
            both = self._when_dropped[min(first.n_lifetimes, second.n_lifetimes)]
            first, second = both[first.layout], both[second.layout]
        return pair_of(first, second, level_share, by)
