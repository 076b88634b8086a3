"""From signal strength to reception ratio, and from reception ratios to the cost of a link."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio

Floats = NDArray[np.float64]

FULL = 1 << 16  # a reception ratio of 1, in the units of every table
LOW_CDBM, HIGH_CDBM = -13_000, -1_000
COST_PER_TRANSMISSION = 128  # RFC 6551: the ETX object counts 1/128 transmission

STEP_DB = 0.01  # grid of the averages over fading, the table's own
DEEPEST_FADE_DB, HIGHEST_PEAK_DB = -70.0, 14.0  # a Rayleigh fade leaves them once in ten million


def bit_error_share(snr: Floats) -> Floats:
    """Share of wrong bits of the 2.4 GHz O-QPSK physical layer.

    Parameters
    ----------
    snr : ndarray
        Signal to noise and interference in the 2 MHz band, as a ratio of powers, at least 0. [-]
    """
    # MODELS.md, "bit errors": (8/15) (1/16) sum over k = 2..16 of (-1)^k C(16, k) exp(20 s (1/k-1))
    total = np.zeros_like(snr)
    for k in range(2, 17):
        total += (-1) ** k * math.comb(16, k) * np.exp(20 * snr * (1 / k - 1))
    return np.clip(total / 30, 0.0, 0.5)


def frame_reception_share(snr: Floats, octets: int) -> Floats:
    """Share of frames without a wrong bit, bits failing independently.

    Parameters
    ----------
    snr : ndarray
        Signal to noise and interference, as a ratio of powers. [-]
    octets : int
        Length of the frame. [octets]
    """
    return np.exp(8 * octets * np.log1p(-bit_error_share(snr)))


@dataclass(frozen=True, slots=True, eq=False)
class ReceptionCurve:
    """Mean reception ratio by mean strength, fading and slow variation averaged in.

    Parameters
    ----------
    table : ndarray of int64, shape (12001,)
        Reception ratio in units of 2^-16 at each hundredth of a dBm from -130 to -10 dBm, never
        falling; read-only. [2^-16]
    """

    table: NDArray[np.int64]

    def prr(self, rssi_cdbm: int) -> int:
        """Mean reception ratio at a mean strength; beyond the table that of its end.

        Parameters
        ----------
        rssi_cdbm : int
            Mean strength. [0.01 dBm]
        """
        return int(self.table[min(max(rssi_cdbm, LOW_CDBM), HIGH_CDBM) - LOW_CDBM])

    def rssi_cdbm(self, prr_share: float) -> int:
        """Least mean strength at which the reception ratio is reached.

        No measurement tells 0.9999 from 1, so the answer is at most 10 dB above the 99.9 % point;
        a measured 1 becomes exactly that.

        Parameters
        ----------
        prr_share : float
            Reception ratio, 0 to 1. [-]
        """
        reached = self._first_at(prr_units(prr_share))
        return min(reached, self._first_at(prr_units(0.999)) + 1000, HIGH_CDBM)

    def _first_at(self, prr: int) -> int:
        return LOW_CDBM + int(np.searchsorted(self.table, prr))


def prr_units(prr_share: float) -> int:
    """Reception ratio in units of 2^-16, nearest.

    Parameters
    ----------
    prr_share : float
        Reception ratio, 0 to 1. [-]
    """
    if not 0 <= prr_share <= 1:
        raise ValueError(f"a reception ratio of {prr_share:g} is not between 0 and 1")
    return math.floor(prr_share * FULL + 0.5)


def link_cost(prr_there: int, prr_back: int) -> int:
    """Expected transmissions x 128 of a link, exactly rounded: floor(128 / (p q) + 1/2).

    Parameters
    ----------
    prr_there, prr_back : int
        Reception ratios of the two directions, above 0. [2^-16]
    """
    both = prr_there * prr_back
    if not both > 0:
        raise ValueError("a link on which nothing arrives has no cost")
    return (2 * COST_PER_TRANSMISSION * FULL * FULL + both) // (2 * both)


def reception_curve(radio: Radio) -> ReceptionCurve:
    """Reception curve of a site: 0.95 exactly at the strength that its environment states.

    Parameters
    ----------
    radio : Radio
        Environment, the two 95 % points, frame length, slow variation. [-]
    """
    at_95_dbm = radio.quiet_95_dbm if radio.environment == "quiet" else radio.busy_95_dbm
    return _curve(round(100 * at_95_dbm), radio.frame_octets, radio.slow_variation_db)


@lru_cache(maxsize=64)
def _curve(at_95_cdbm: int, octets: int, slow_db: float) -> ReceptionCurve:
    first_db, density = fading_density(slow_db)

    def mean_at(snr_db: float) -> float:
        fades_db = first_db + STEP_DB * np.arange(density.size)
        shares = frame_reception_share(10 ** ((snr_db + fades_db) / 10), octets)
        return float(shares @ density)

    # The effective noise lies so far below the stated strength that the mean is 0.95 there.
    low_db, high_db = -50.0, 200.0
    while high_db - low_db > 1e-9:
        middle_db = (low_db + high_db) / 2
        low_db, high_db = (
            (low_db, middle_db) if mean_at(middle_db) >= 0.95 else (middle_db, high_db)
        )
    lowest_db = high_db + (LOW_CDBM - at_95_cdbm) * STEP_DB + first_db
    n_strengths = HIGH_CDBM - LOW_CDBM + 1
    snr_db = lowest_db + STEP_DB * np.arange(n_strengths + density.size - 1)
    shares = frame_reception_share(10 ** (snr_db / 10), octets)
    means = np.correlate(shares, density, mode="valid")
    table = np.maximum.accumulate(np.floor(means * FULL + 0.5).astype(np.int64))
    table.flags.writeable = False
    return ReceptionCurve(table)


def fading_density(slow_db: float) -> tuple[float, Floats]:
    """Weights of fading plus slow variation on a grid of ``STEP_DB``, and its first value.

    Channel hopping sees all of the Rayleigh fading (power exponential about its mean, in dB skewed
    towards fades); the slow variation is normal in dB and is added to it.

    Parameters
    ----------
    slow_db : float
        Standard deviation of the slow variation. [dB]
    """
    n_fades = round((HIGHEST_PEAK_DB - DEEPEST_FADE_DB) / STEP_DB) + 1
    power = 10 ** ((DEEPEST_FADE_DB + STEP_DB * np.arange(n_fades)) / 10)
    rayleigh = power * np.exp(-power)  # of the power in dB; the factor ln(10)/10 is in the sum
    n_side = math.ceil(8 * slow_db / STEP_DB)
    offsets_db = STEP_DB * np.arange(-n_side, n_side + 1)
    slow = np.exp(-0.5 * (offsets_db / max(slow_db, 1e-9)) ** 2)
    density = np.convolve(rayleigh, slow)
    return DEEPEST_FADE_DB - n_side * STEP_DB, density / density.sum()
