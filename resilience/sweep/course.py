"""What is still to be played of one site, and in which orders."""

import hashlib
import json
import math
from collections.abc import Iterable

from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.montecarlo.runs.ledger import Finished, Ledger
from resilience.montecarlo.runs.manifest import code_digest
from resilience.montecarlo.runs.packing import PackedPiece
from resilience.ranking.many.sites import SiteScore
from resilience.sweep.finding import Asked, Found
from resilience.sweep.orders import Answer, Order, Span

SECONDS_OF_PROBE = 4.0  # after which it is known how long the rest takes
SECONDS_A_PIECE = 20.0  # so much is lost at most if the power fails, for each process
MOST_PATIENCE = 3.0  # times that, before an order ends early


class Course:
    """One site on its way to its score.

    Pieces are of any size and may come in any order: tallies add exactly, so sizes never show.

    Parameters
    ----------
    found : Found
        The site. [-]
    ledger : Ledger
        Its finished pieces. [-]
    lifetimes : int
        Of each layout, whole building draws. [-]
    level_share : float
        Of the bounds of its score. [-]
    """

    def __init__(self, found: Found, ledger: Ledger, lifetimes: int, level_share: float) -> None:
        self.found = found
        self.lifetimes = lifetimes
        self._ledger, self._level_share = ledger, level_share
        self._declined: list[PackedPiece] = []  # by the ledger: they overlap what it holds
        self._lifetime_s = 0.0
        self._n_under_way = 0
        self._asked = ledger.note(note_of_site(found.id)) or b""

    @property
    def is_idle(self) -> bool:
        """Whether none of its orders is under way."""
        return self._n_under_way == 0

    @property
    def n_missing(self) -> int:
        """How many lifetimes of each layout are still to be played."""
        return sum(n for _, n in self._missing())

    def kept_score(self) -> SiteScore | None:
        """Return the score if an earlier run has kept it."""
        kept = self._ledger.note(self._note_of_score)
        return None if kept is None else SiteScore.from_json(json.loads(kept))

    @property
    def _note_of_score(self) -> str:
        asked = Asked.unpacked(self._asked)
        policy = asked.policy.to_json() if asked.policy else None
        told = [self.found.id, asked.promise, policy, asked.undertaking.site.titles.tags]
        rests_on = [*told, self.lifetimes, self._level_share]
        return f"score {hashlib.sha256(json.dumps(rests_on).encode()).hexdigest()}"

    def orders(self) -> list[Order]:
        """Return what is to be done next, once nothing of the site is under way."""
        missing = self._missing()
        spans: list[tuple[Span, ...]] = [tuple(missing)]
        seconds = SECONDS_OF_PROBE
        if missing and self._lifetime_s:  # it is known how long one takes
            spans = [(piece,) for span in missing for piece in self._cut(span)]
            seconds = MOST_PATIENCE * SECONDS_A_PIECE
        self._n_under_way, code = len(spans), code_digest()
        if len(spans) > 1:
            return [Order(self._asked, one, seconds, code) for one in spans]
        complete = (self.lifetimes, self._level_share)
        return [Order(self._asked, spans[0], seconds, code, tuple(self._had()), complete)]

    def _cut(self, span: Span) -> Iterable[Span]:
        """Cut lifetimes into pieces of some seconds each."""
        first, n = span
        n_pieces = max(1, round(n * self._lifetime_s / SECONDS_A_PIECE))
        longest = LIFETIMES_PER_BUILDING * math.ceil(n / n_pieces / LIFETIMES_PER_BUILDING)
        return (
            (start, min(longest, first + n - start)) for start in range(first, first + n, longest)
        )

    def _had(self) -> list[PackedPiece]:
        """All finished pieces that this study can use, of all layouts; none overlaps another."""
        usable = []
        for name in self.found.layouts:
            kept = self._ledger.packed(name, self.lifetimes)
            declined = [one for one in self._declined if one.layout == name]
            end = 0
            for one in sorted((*kept, *declined), key=lambda one: one.first):
                if end <= one.first and one.first + one.n <= self.lifetimes:
                    usable.append(one)
                    end = one.first + one.n
        return usable

    def _missing(self) -> list[Span]:
        """Return which lifetimes are lacking: of every layout the same, as they come together."""
        name = self.found.layouts[0]
        had = {one.first: one.n for one in self._had() if one.layout == name}
        pieces = Finished(had).pieces(0, self.lifetimes, self.lifetimes)
        return [(first, n) for first, n in pieces if had.get(first) != n]

    def take(self, answer: Answer) -> SiteScore | None:
        """Take what came of an order: pieces are kept from now on; return the score at the end.

        Parameters
        ----------
        answer : Answer
            Of one of its orders. [-]
        """
        self._n_under_way -= 1
        self._ledger.keep_packed(answer.pieces)
        name = self.found.layouts[0]
        kept = self._ledger.finished(name)
        self._declined += [one for one in answer.pieces if not kept.holds(one.first, one.n)]
        if n := sum(one.n for one in answer.pieces if one.layout == name):
            self._lifetime_s = answer.played_s / n
        if answer.score is not None:
            told = json.dumps(answer.score.to_json(), separators=(",", ":")).encode()
            self._ledger.keep_note(self._note_of_score, told)
        return answer.score


def note_of_site(id: str) -> str:
    """Return under which name a ledger keeps a site as it was checked.

    Parameters
    ----------
    id : str
        Its folder, below that of the portfolio. [-]
    """
    return f"site {id}"
