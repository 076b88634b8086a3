"""Sites in which what nobody stated is otherwise than assumed.

Each uncertain default goes to both ends of its range, one at a time, or all of them anywhere in
their ranges together.
"""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from resilience.assumptions.catalogue import LOW, Setting, settings
from resilience.building.settings import LearntValue
from resilience.building.site import Site
from resilience.draws import element_key, stream, uniform
from resilience.errors import InputError, UsageError
from resilience.lifetime.engines import COMPILED

OWN_HISTORY = "own history (learnt.yaml)"
FIRST_TRIED = ("upkeep", "hazards", "batteries", "models", "changes", "routing")
NO_SUCH_SITE = (InputError, UsageError)  # what says that the site has no room for a value
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
    n_draws: int = 12  # those with short look-arounds cost ten times an end of a range
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


class Alternatives:
    """A site, and what it would be under other defaults.

    Parameters
    ----------
    site : Site
        As read. [-]
    under : callable
        Gives the site under other defaults; what it states itself stays. [-]
    """

    def __init__(self, site: Site, under: Under) -> None:
        self._site, self._under = site, under
        self.open = open_settings(site)

    def unstated(self) -> tuple[Setting, ...]:
        """Settings of sections in which something changes the site, upkeep and rates first.

        Nobody has published rates, so they come before all else if time should run out.
        """
        sections = dict.fromkeys(one.section for one in self.open)
        moving = {name for name in sections if self._moves(name)}
        found = [one for one in self.open if one.section in moving]
        return tuple(sorted(found, key=_chapter))

    def _moves(self, section: str) -> bool:
        """Whether the site is another with all of a section at one end: one reading for many."""
        ones = [one for one in self.open if one.section == section]
        for share in (0.0, 1.0):
            try:
                site = self.of({one.key: one.value_at(share) for one in ones})
            except NO_SUCH_SITE:
                return True
            if not self.is_same(site):
                return True
        return False

    def of(self, values: Mapping[str, float]) -> Site:
        """Return the site if other defaults held.

        Parameters
        ----------
        values : mapping of str to float
            Defaults that are otherwise. [unit]

        Raises
        ------
        InputError, UsageError
            The site has no room for them.
        """
        return self._under(values)

    def is_same(self, site: Site) -> bool:
        """Whether nothing is otherwise but what the reader has to say of it.

        Parameters
        ----------
        site : Site
            Under other defaults. [-]
        """
        return replace(site, notes=()) == replace(self._site, notes=())


def variants_of(settings: Sequence[Setting], n_draws: int, seed: int) -> Iterator[Variant]:
    """Yield both ends of each setting, and then draws of all of them.

    Parameters
    ----------
    settings : sequence of Setting
        Which. [-]
    n_draws : int
        Draws over all ranges. [-]
    seed : int
        Of the study. [-]
    """
    for one in settings:
        for at in (0, 1):
            yield Variant(one.key, at, {one.key: one.value_at(at)})
    for draw in range(n_draws):
        yield Variant("", draw, drawn_values(settings, seed, draw))


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


def why_not(error: Exception) -> str:
    """Why a site has no room for a value, in one line.

    Parameters
    ----------
    error : Exception
        One of ``NO_SUCH_SITE``. [-]
    """
    return str(error.faults[0]) if isinstance(error, InputError) else str(error)


def _chapter(setting: Setting) -> int:
    """Place of a setting's chapter among those tried, the last of them for any other."""
    name = setting.key.partition(".")[0]
    return FIRST_TRIED.index(name) if name in FIRST_TRIED else len(FIRST_TRIED)
