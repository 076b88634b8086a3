"""How devices wear and how cells spread: Weibull lives, of which many have not ended."""

import math
from dataclasses import dataclass

import numpy as np

from resilience.building.settings import EarlyFailure
from resilience.hazards.learning.evidence import Lives, Strikes
from resilience.hazards.learning.planes import MARGIN, Floats, Plane, plane
from resilience.hazards.learning.rates import Gamma
from resilience.units import HOURS_PER_YEAR

ANY_RATE = (math.log(1e-6), math.log(1e4))  # where a rate a year may lie, as a logarithm
N_SHARES = 200
N_SLOPES = 4000
MOST = 600.0  # logarithm of a cumulated hazard
ANY_SPREAD = (math.log(0.005), math.log(3.0))  # where a spread may lie, as a logarithm
WIDE = 5.0  # standard deviations of what was believed


@dataclass(frozen=True, slots=True)
class Factor:
    """What is believed of something above 0: a lognormal law.

    Parameters
    ----------
    middle : float
        Its median. [unit]
    spread : float
        Standard deviation of its logarithm; 0 holds it still. [-]
    """

    middle: float
    spread: float

    @classmethod
    def within(cls, middle: float, span: tuple[float, float]) -> "Factor":
        """Return a belief that reaches as far as the farther end of a range, with 95 %.

        Parameters
        ----------
        middle : float
            What the site states. [unit]
        span : (float, float)
            Plausible range of the catalogue. [unit]
        """
        farther = max(math.log(span[1] / middle), math.log(middle / span[0]))
        return cls(middle, farther / MARGIN)

    @property
    def box(self) -> tuple[float, float]:
        """Where its logarithm may lie."""
        middle, width = math.log(self.middle), WIDE * self.spread
        return middle - width, middle + width

    def density(self, logarithm: Floats) -> Floats:
        """Log density of a logarithm, up to a constant."""
        if self.spread == 0:
            return np.zeros_like(logarithm)
        return -0.5 * ((logarithm - math.log(self.middle)) / self.spread) ** 2


@dataclass(frozen=True, slots=True)
class Wear:
    """What a history holds of failures.

    Parameters
    ----------
    lives : Lives
        Of devices of known age. [-]
    ageless : Strikes
        Of devices of unknown age: they count for the rate alone. [-]
    early : EarlyFailure or None
        Weak devices that the site assumes beside those that wear. [-]
    """

    lives: Lives
    ageless: Strikes
    early: EarlyFailure | None = None


def worn(
    seen: Wear, rate: Gamma | None, slope: Factor, box: tuple[float, float] | None = None
) -> Plane:
    """Return what is believed of rate and slope, x and y, both as logarithms.

    The rate is that of a mean life, per year.

    Parameters
    ----------
    seen : Wear
        What happened. [-]
    rate : Gamma or None
        What was believed of the rate; None: nothing. [-]
    slope : Factor
        What was believed of the slope; it holds still where no failure has an age. [-]
    box : (float, float) or None
        Where the logarithm of the rate may lie. [-]
    """
    held = slope if seen.lives.failed_h else Factor(slope.middle, 0.0)

    def density(log_rate: Floats, log_slope: Floats) -> Floats:
        before = held.density(log_slope)
        if rate is not None:
            # The law of the rate as one of its logarithm: one power of the rate more.
            before = before + rate.shape * log_rate - rate.years * np.exp(log_rate)
        return before + likelihood(seen, log_rate, log_slope)

    return plane(density, box or ANY_RATE, held.box)


def likelihood(seen: Wear, log_rate: Floats, log_slope: Floats) -> Floats:
    """Log likelihood of Weibull lives that are seen from some age on and may not have ended.

    Parameters
    ----------
    seen : Wear
        What happened. [-]
    log_rate : Floats
        Logarithm of 8766 h over the mean life. [-]
    log_slope : Floats
        Logarithm of the Weibull slope. [-]
    """
    # MODELS.md, "lives from history"
    slope = np.exp(log_slope)
    log_scale = math.log(HOURS_PER_YEAR) - log_rate - _log_gamma(1 + 1 / slope)
    told = seen.ageless.n * log_rate - seen.ageless.at_risk_years * np.exp(log_rate)
    told = told + 0.0 * slope
    for (begun_h, ended_h), n in seen.lives.spans_h.items():
        told = told - n * (_hazard(ended_h, log_scale, slope) - _hazard(begun_h, log_scale, slope))
    for age_h in seen.lives.failed_h:
        wear = log_slope - log_scale + (slope - 1) * (math.log(age_h) - log_scale)
        early_per_h = _early_per_h(seen.early, age_h)
        told = told + (np.logaddexp(wear, math.log(early_per_h)) if early_per_h > 0 else wear)
    return told


def _hazard(age_h: float, log_scale: Floats, slope: Floats) -> Floats:
    """Cumulated hazard at an age."""
    if age_h <= 0:
        return np.zeros(())
    # Where nothing would have lived so long, more than that makes no difference.
    return np.exp(np.minimum(slope * (math.log(age_h) - log_scale), MOST))


def _early_per_h(early: EarlyFailure | None, age_h: float) -> float:
    """Hazard that weak devices add at an age, among devices of which nobody knows who is weak."""
    if early is None:
        return 0.0
    weak = early.share * math.exp(-age_h / early.mean_h)
    return weak / early.mean_h / (1 - early.share + weak)


def _log_gamma(x: Floats) -> Floats:
    from scipy.special import gammaln

    return gammaln(x)


def spread_of(
    groups: list[Lives], spread: Factor | None, box: tuple[float, float] | None = None
) -> Plane:
    """Return what is believed of the spread of cells, as a logarithm in x; y holds still.

    Groups have mean lives of their own, of which nothing is assumed.

    Parameters
    ----------
    groups : list of Lives
        Sets of cells of devices that load them alike. [-]
    spread : Factor or None
        What was believed of the coefficient of variation; None: nothing. [-]
    box : (float, float) or None
        Where its logarithm may lie. [-]
    """

    def density(log_spread: Floats, _: Floats) -> Floats:
        slope = _slope_of(log_spread)
        told = np.zeros_like(log_spread) if spread is None else spread.density(log_spread)
        for group in groups:
            told = told + likelihood_of_slope(group, slope)
        return told

    return plane(density, box or (spread.box if spread else ANY_SPREAD), (0.0, 0.0))


def _slope_of(log_spread: Floats) -> Floats:
    """Weibull slopes of many coefficients of variation, read off a fine table."""
    # MODELS.md, "cell spread"
    slope = np.geomspace(500.0, 0.3, N_SLOPES)
    square = np.expm1(_log_gamma(1 + 2 / slope) - 2 * _log_gamma(1 + 1 / slope))
    return np.exp(np.interp(log_spread, np.log(square) / 2, np.log(slope)))


def likelihood_of_slope(group: Lives, slope: Floats) -> Floats:
    """Log likelihood of a Weibull slope, whatever the scale, taken together over all scales.

    Parameters
    ----------
    group : Lives
        Lives from new; those that have not ended count by their age. [-]
    slope : Floats
        Above 0. [-]
    """
    # MODELS.md, "cell spread from history": flat in the logarithm of the scale.
    n = len(group.failed_h)
    if n == 0:
        return np.zeros_like(slope)
    longest_h = max(ended_h for _, ended_h in group.spans_h)
    told = (n - 1) * np.log(slope)
    told = told + slope * sum(math.log(age_h / longest_h) for age_h in group.failed_h)
    lived = sum(
        times * (ended_h / longest_h) ** slope for (_, ended_h), times in group.spans_h.items()
    )
    return told - n * np.log(lived)


def life_years(group: Lives, found: Plane) -> tuple[float, float, float]:
    """Mean life of the cells of a group: its median belief and bounds that hold 95 %.

    Parameters
    ----------
    group : Lives
        One of those that the spread was found from, with a set that went flat. [-]
    found : Plane
        What is believed of the spread. [-]
    """
    from scipy.special import gammaincinv

    # MODELS.md, "cell spread from history": scale^-slope is gamma distributed, at each slope.
    slope = _slope_of(found.x)
    shares = (np.arange(N_SHARES)[None, :] + 0.5) / N_SHARES
    longest_h = max(ended_h for _, ended_h in group.spans_h)
    lived = sum(n * (ended_h / longest_h) ** slope for (_, ended_h), n in group.spans_h.items())
    power = gammaincinv(len(group.failed_h), shares) / lived
    mean_h = longest_h * power ** (-1 / slope) * np.exp(_log_gamma(1 + 1 / slope))
    weights = np.broadcast_to(found.weights / N_SHARES, mean_h.shape)
    spread = Plane(found.x, np.zeros((1, N_SHARES)), weights, found.peak)
    middle = spread.quantile(mean_h, 0.5)
    low, high = spread.bounds(mean_h)
    return middle / HOURS_PER_YEAR, low / HOURS_PER_YEAR, high / HOURS_PER_YEAR
