"""How often something strikes: a gamma law, moved by counts and time at risk."""

import math
from dataclasses import dataclass

from resilience.hazards.learning.evidence import Strikes
from resilience.hazards.learning.planes import AT_95

LEAST_SHAPE = 0.5  # Jeffreys' law of a Poisson rate: less would claim to know that it is tiny
MOST_SHAPE = 1e6


@dataclass(frozen=True, slots=True)
class Gamma:
    """What is believed of a rate.

    Parameters
    ----------
    shape : float
        As if so many strikes had been seen. [-]
    years : float
        In so much time at risk. [years]
    """

    shape: float
    years: float

    @property
    def mean_per_year(self) -> float:
        """Strikes expected in a year at risk."""
        return self.shape / self.years

    def quantile_per_year(self, share: float) -> float:
        """Rate that such a share of the belief lies below.

        Parameters
        ----------
        share : float
            Between 0 and 1. [-]
        """
        from scipy.special import gammaincinv

        return float(gammaincinv(self.shape, share)) / self.years

    @property
    def bounds_per_year(self) -> tuple[float, float]:
        """Bounds that hold 95 %."""
        low, high = (self.quantile_per_year(share) for share in AT_95)
        return low, high

    def updated(self, seen: Strikes) -> "Gamma":
        """What is believed after something was seen.

        Parameters
        ----------
        seen : Strikes
            Counts and time at risk. [-]
        """
        # MODELS.md, "rate from history"
        return Gamma(self.shape + seen.n, self.years + seen.at_risk_years)


def believed(per_year: float, span_per_year: tuple[float, float]) -> Gamma:
    """Return what is believed of a rate before anything was seen.

    Parameters
    ----------
    per_year : float
        What the site states: the mean. [1/year]
    span_per_year : (float, float)
        Plausible range of the catalogue: neither end is less likely than bounds leave out. [1/year]
    """
    # MODELS.md, "rate from history": the law narrows about its mean as the shape grows.
    low, high = LEAST_SHAPE, MOST_SHAPE
    for _ in range(100):
        middle = math.sqrt(low * high)
        bounds = Gamma(middle, middle / per_year).bounds_per_year
        holds = bounds[0] <= span_per_year[0] and bounds[1] >= span_per_year[1]
        low, high = (middle, high) if holds else (low, middle)
    return Gamma(low, low / per_year)


def seen_alone_per_year(seen: Strikes) -> tuple[float, float]:
    """Bounds of a rate by what was seen alone, whatever was believed before.

    Parameters
    ----------
    seen : Strikes
        Counts and time at risk. [-]
    """
    from scipy.special import gammaincinv

    # MODELS.md, "rate seen alone"
    low = float(gammaincinv(seen.n, AT_95[0])) if seen.n else 0.0
    high = float(gammaincinv(seen.n + 1, AT_95[1]))
    return low / seen.at_risk_years, high / seen.at_risk_years
