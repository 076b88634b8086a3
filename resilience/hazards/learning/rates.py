"""How often something strikes: a gamma law, moved by counts and time at risk."""

import math
from dataclasses import dataclass

from resilience.hazards.learning.evidence import Strikes
from resilience.hazards.learning.planes import AT_95


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
        Plausible range of the catalogue; only how far it reaches counts, as a ratio. [1/year]
    """
    shape = shape_of(span_per_year[1] / span_per_year[0], AT_95)
    return Gamma(shape, shape / per_year)


def shape_of(ratio: float, shares: tuple[float, float]) -> float:
    """Shape of the gamma law of which two quantiles stand in a given ratio.

    Parameters
    ----------
    ratio : float
        Upper quantile over lower one, above 1. [-]
    shares : (float, float)
        What lies below the lower and the upper one. [-]
    """
    from scipy.special import gammaincinv

    # MODELS.md, "rate from history": the ratio falls as the shape grows.
    low, high = 0.05, 1e6
    for _ in range(100):
        middle = math.sqrt(low * high)
        reached = gammaincinv(middle, shares[1]) / gammaincinv(middle, shares[0])
        low, high = (middle, high) if reached > ratio else (low, middle)
    return high


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
