"""Two runs of many sites side by side: what has moved, because of what, and whether beyond noise.

Bounds of a run hold for all its layouts at once. Figures of a site whose bounds do not meet can
therefore be told apart for all sites at once, at twice the miss of one run.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from resilience.montecarlo.estimates import LEVEL
from resilience.policy.judgement import Verdict
from resilience.ranking.many.sites import Figure, LayoutScore, Risk, SiteScore

LEVEL_OF_TWO = 1 - 2 * (1 - LEVEL)  # at which the bounds of two runs hold together


class Cause(StrEnum):
    """What differs of that on which the figures of a site rest."""

    SITE = "site"  # its files
    PROMISE = "promise"
    PROGRAM = "program"
    SEED = "seed"


class Move(StrEnum):
    """How a figure of now stands to that of then."""

    SAME = "same"  # to the last digit
    NOISE = "within noise"
    MORE = "more"
    LESS = "less"


class Presence(StrEnum):
    """In which of two runs a site has a score."""

    BOTH = "both"
    NEW = "new"
    GONE = "gone"
    NO_ANSWER = "no answer now"
    NO_ANSWER_THEN = "no answer then"


@dataclass(frozen=True, slots=True)
class Grounds:
    """What the figures of a site rest on, as digests.

    Parameters
    ----------
    digest : str
        Of all that its lifetimes rest on, program and seed included. [-]
    files, promise, program : str
        Of the files of the site, of what is promised, and of the program. [-]
    seed : int
        Of the study. [-]
    """

    digest: str
    files: str
    promise: str
    program: str
    seed: int

    def causes(self, then: "Grounds") -> tuple[Cause, ...]:
        """Return what differs from an earlier run, in so far as it decides what is played.

        Parameters
        ----------
        then : Grounds
            Of the same site in the earlier run. [-]
        """
        causes = {
            Cause.SITE: self.files != then.files,
            Cause.PROMISE: self.promise != then.promise,
            Cause.PROGRAM: self.program != then.program,
            Cause.SEED: self.seed != then.seed,
        }
        if self.digest == then.digest:  # files differ in words alone, the program in what it shows
            causes = {Cause.PROMISE: causes[Cause.PROMISE]}
        return tuple(cause for cause, differs in causes.items() if differs)


@dataclass(frozen=True, slots=True)
class Known:
    """What a run knows of a site.

    Parameters
    ----------
    score : SiteScore
        Its score. [-]
    grounds : Grounds
        What that rests on. [-]
    """

    score: SiteScore
    grounds: Grounds


@dataclass(frozen=True, slots=True)
class Movement:
    """One site in two runs; figures are of the layout that it is taken to have in each.

    Parameters
    ----------
    id : str
        The site. [-]
    presence : Presence
        In which of them it has a score. [-]
    by : Risk
        By what its layout is chosen. [-]
    now, then : Known or None
        What each run knows of it. [-]
    """

    id: str
    presence: Presence
    by: Risk
    now: Known | None = None
    then: Known | None = None

    @property
    def causes(self) -> tuple[Cause, ...]:
        """What differs of that on which its figures rest; nothing for a site of one run only."""
        return self.now.grounds.causes(self.then.grounds) if self.now and self.then else ()

    @property
    def layouts(self) -> tuple[LayoutScore | None, LayoutScore | None]:
        """Its layout now and then."""
        now, then = (one.score.best(self.by) if one else None for one in (self.now, self.then))
        return now, then

    @property
    def verdicts(self) -> tuple[Verdict | None, Verdict | None]:
        """Whether its promise is kept, now and then."""
        now, then = (one.score.verdict if one else None for one in (self.now, self.then))
        return now, then

    def move(self, by: Risk) -> Move | None:
        """Return how a figure of now stands to that of then; None where one of them is missing.

        Parameters
        ----------
        by : Risk
            Which figure. [-]
        """
        figures = [one.figure(by) if one else None for one in self.layouts]
        if figures[0] is None or figures[1] is None:
            return None
        found = _move(figures[0], figures[1])
        # On the same grounds the true value is the same, whatever more lifetimes or luck show.
        return found if self.causes or found is Move.SAME else Move.NOISE

    @property
    def has_another_verdict(self) -> bool:
        """Whether both runs judge it, each in its way."""
        now, then = self.verdicts
        return None not in (now, then) and now is not then

    @property
    def moves(self) -> dict[Risk, Move]:
        """How each figure that both runs have stands."""
        return {by: move for by in Risk if (move := self.move(by)) is not None}

    @property
    def is_beyond_noise(self) -> bool:
        """Whether some figure is shown to have moved."""
        return bool({Move.MORE, Move.LESS} & set(self.moves.values()))

    def to_json(self) -> dict[str, Any]:
        """Return everything under stable keys."""
        (now, then), (verdict, verdict_then) = self.layouts, self.verdicts
        return {
            "id": self.id,
            "presence": self.presence.value,
            "because_of": list(self.causes),
            "moves": dict(self.moves),
            "now": _told(now, verdict),
            "then": _told(then, verdict_then),
        }


def _move(now: Figure, then: Figure) -> Move:
    if now.mean == then.mean:
        return Move.SAME
    if now.low > then.high:
        return Move.MORE
    return Move.LESS if now.high < then.low else Move.NOISE


def _told(layout: LayoutScore | None, verdict: Verdict | None) -> dict[str, Any] | None:
    if layout is None:
        return None
    figures = {by.value: layout.figure(by) for by in Risk}
    told = {name: asdict(one) if one else None for name, one in figures.items()}
    return {"layout": layout.name, "lifetimes": layout.lifetimes, "verdict": verdict, **told}


def moved(
    now: Mapping[str, Known],
    then: Mapping[str, Known],
    without_an_answer: tuple[frozenset[str], frozenset[str]],
    by: Risk,
) -> tuple[Movement, ...]:
    """Set two runs side by side, site by site, in order of id.

    Parameters
    ----------
    now, then : mapping of str to Known
        Sites that have a score, by id. [-]
    without_an_answer : (frozenset of str, frozenset of str)
        Other sites that were there, now and then. [-]
    by : Risk
        By what the layout of a site is chosen. [-]
    """
    failed, failed_then = without_an_answer

    def presence(id: str) -> Presence:
        if id in now and id in then:
            return Presence.BOTH
        if id in now:
            return Presence.NO_ANSWER_THEN if id in failed_then else Presence.NEW
        return Presence.NO_ANSWER if id in failed else Presence.GONE

    return tuple(
        Movement(id, presence(id), by, now.get(id), then.get(id)) for id in sorted({*now, *then})
    )
