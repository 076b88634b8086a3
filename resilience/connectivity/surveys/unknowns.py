"""What measurements may correct, and which of it the readings can tell."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean

import numpy as np

from resilience.building.site import Site
from resilience.connectivity.links import Link
from resilience.connectivity.surveys.fitting import Fit
from resilience.connectivity.surveys.likelihood import Floats

FREE_SPACE_PER_DECADE = 20.0
# What is left nearly as unsure as it was before the survey has not been told by the survey.
MOST_LEFT_SHARE = 0.9


class Assumption(StrEnum):
    """What kind of assumption it is."""

    DISTANCE = "distance"
    CONSTANT = "constant"
    MODEL = "model"
    CONSTRUCTION = "construction"


@dataclass(frozen=True, slots=True)
class Unknown:
    """One assumption that measurements may correct.

    Parameters
    ----------
    kind : Assumption
        What kind it is. [-]
    name : str
        Of the construction or of the device model; else that of its kind. [-]
    assumed : float
        Loss of one crossing as predicted, on average over the links, or loss per decade of
        distance from 1 m; 0 for what devices may lose beside their data sheets. [dB]
    spread : float
        How unsure that is before the survey, one standard deviation. [dB]
    """

    kind: Assumption
    name: str
    assumed: float
    spread: float

    def met(self, link: Link, models: Sequence[str] = ()) -> float:
        """How often a link meets it: crossings, decades of distance beyond 1 m, or devices.

        Parameters
        ----------
        link : Link
            The link, placed at both ends. [-]
        models : sequence of str
            Names of the models of its two devices. [-]
        """
        match self.kind:
            case Assumption.DISTANCE:
                assert link.distance_m is not None  # only placed devices have predictions
                return math.log10(max(1.0, link.distance_m))
            case Assumption.CONSTANT:
                return 1
            case Assumption.MODEL:
                return models.count(self.name)
        return sum(one.times for one in link.hindrances if one.construction == self.name)

    @property
    def label(self) -> str:
        """Return what it is called among others."""
        match self.kind:
            case Assumption.CONSTANT:
                return "a loss of all devices"
            case Assumption.MODEL:
                return f"a loss of model {self.name}"
        return self.name


def unknowns(
    site: Site, links: Sequence[Link], ends: Sequence[Sequence[str]] = ()
) -> tuple[Unknown, ...]:
    """Distance first, then devices, then every construction in the way of any link, by name.

    Parameters
    ----------
    site : Site
        What is assumed. [-]
    links : sequence of Link
        Measured and predicted links, as predicted. [-]
    ends : sequence of sequence of str
        Names of the device models at the ends of each measured link. [-]
    """
    losses_db: dict[str, list[float]] = defaultdict(list)
    for one in (one for link in links for one in link.hindrances):
        if one.times:
            losses_db[one.construction].append(one.loss_db / one.times)
    per_decade = FREE_SPACE_PER_DECADE if site.building.is_drawn else site.radio.distance_power
    known = dict(site.building.constructions)
    return (
        Unknown(Assumption.DISTANCE, "distance", per_decade, site.radio.distance_power_spread),
        *_devices(site.radio.device_spread_db, ends),
        *(
            Unknown(Assumption.CONSTRUCTION, name, fmean(losses_db[name]), known[name].spread_db)
            for name in sorted(losses_db.keys() & known.keys())
            if known[name].spread_db > 0 or known[name].loss_db != 0  # an open doorway is no guess
        ),
    )


def _devices(spread_db: float, ends: Sequence[Sequence[str]]) -> Iterator[Unknown]:
    """What all paths lose at their two ends, and how far rarer models differ from the usual one."""
    yield Unknown(Assumption.CONSTANT, "constant", 0.0, 2 * spread_db)
    counts = Counter(sorted(name for names in ends for name in names))
    for name, _ in sorted(counts.most_common()[1:]):
        yield Unknown(Assumption.MODEL, name, 0.0, spread_db)


def untold(found: Sequence[Unknown], met: Floats, fit: Fit) -> tuple[str, ...]:
    """Why the readings cannot tell each unknown by itself, in words; empty where they can.

    Parameters
    ----------
    found : sequence of Unknown
        The unknowns. [-]
    met : Floats
        Shape (readings, unknowns): how often each reading meets each of them. [-]
    fit : Fit
        What the readings say of them. [-]
    """
    return tuple(_why_not(found, met, fit, column) for column in range(len(found)))


def _why_not(found: Sequence[Unknown], met: Floats, fit: Fit, column: int) -> str:
    own, one = met[:, column], found[column]
    if not own.any():
        is_distance = one.kind is Assumption.DISTANCE
        return "no measured link is longer than 1 m" if is_distance else "no measured link meets it"
    others = [place for place in range(len(found)) if place != column]
    twins = [place for place in others if _are_proportional(own, met[:, place])]
    if twins:
        names = " and ".join(found[place].label for place in twins)
        told = (
            f"every measured link meets it together with {names}, in the same measure, so only "
            "their sum is known"
        )
        if all(np.array_equal(own, met[:, place]) for place in twins):
            together_db = sum(fit.offset[place] for place in (column, *twins))
            told += f": {together_db:+.1f} dB beside what is assumed"
        return told
    if fit.spread[column] > MOST_LEFT_SHARE * one.spread:
        return "the measured links leave it as unsure as it was"
    return ""


def _are_proportional(one: Floats, other: Floats) -> bool:
    """Whether two columns, neither of them empty, differ by a factor alone."""
    if not other.any():
        return False
    cosine = one @ other / np.sqrt((one @ one) * (other @ other))
    return bool(cosine > 1 - 1e-9)
