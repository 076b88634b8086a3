"""From signal strength to reception ratio, and from reception ratios to the cost of a link."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio
from resilience.connectivity.swing import level_shares

Floats = NDArray[np.float64]

FULL = 1 << 16  # a reception ratio of 1, in the units of every table
LOW_CDBM, HIGH_CDBM = -13_000, -1_000
COST_PER_TRANSMISSION = 128  # RFC 6551: the ETX object counts 1/128 transmission

STEP_DB = 0.01  # grid of the averages over fading, the table's own
DEEPEST_FADE_DB, HIGHEST_PEAK_DB = -70.0, 14.0  # a Rayleigh fade leaves them once in ten million
LOWEST_SNR_DB, HIGHEST_SNR_DB = -60.0, 100.0  # below nothing arrives, above everything


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
    """Reception ratio by strength: at a moment, or averaged over the swing of a link.

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
        reached = self.first_at(prr_units(prr_share))
        return min(reached, self.first_at(prr_units(0.999)) + 1000, HIGH_CDBM)

    def first_at(self, prr: int) -> int:
        """Least strength of the table at which a reception ratio is reached. [0.01 dBm].

        Parameters
        ----------
        prr : int
            Reception ratio in units of 2^-16. [-]
        """
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


def momentary_curve(radio: Radio) -> ReceptionCurve:
    """Reception by the strength of a moment: fast fading and interference alone.

    Parameters
    ----------
    radio : Radio
        Environment, its 95 % point, interference, frame length, swing. [-]
    """
    return _curves(*_stated(radio))[0]


def reception_curve(radio: Radio) -> ReceptionCurve:
    """Reception averaged over the swing, by the strength without it: what somebody measures.

    Without interference it is 0.95 exactly at the strength that the environment states.

    Parameters
    ----------
    radio : Radio
        Environment, its 95 % point, interference, frame length, swing. [-]
    """
    return _curves(*_stated(radio))[1]


def _stated(radio: Radio) -> tuple[int, int, float, float, int]:
    """What the curves depend on: 95 % point, octets, swing, interference and its rise."""
    is_quiet = radio.environment == "quiet"
    at_95_dbm = radio.quiet_95_dbm if is_quiet else radio.busy_95_dbm
    share = radio.quiet_disturbed_share if is_quiet else radio.busy_disturbed_share
    rise_cdb = round(100 * radio.interference_db)
    return round(100 * at_95_dbm), radio.frame_octets, radio.swing_db, share, rise_cdb


@lru_cache(maxsize=64)
def _curves(
    at_95_cdbm: int, octets: int, swing_db: float, interference_share: float, rise_cdb: int
) -> tuple[ReceptionCurve, ReceptionCurve]:
    # MODELS.md, "interference": for a share of the time the noise stands higher, so reception at a
    # moment is a mixture of one curve at two strengths.
    lowest, faded = _faded(octets)
    offsets, weights = level_shares(swing_db)
    swung = np.convolve(faded, weights[::-1], mode="same")
    reached = int(np.searchsorted(swung[: faded.size - offsets[-1]], 0.95))
    noise = at_95_cdbm - (lowest + reached)  # from a place in ``faded`` to a strength
    wanted = np.arange(LOW_CDBM, HIGH_CDBM + 1) - noise - lowest

    def mixed(shares: Floats) -> ReceptionCurve:
        calm = shares[np.clip(wanted, 0, shares.size - 1)]
        disturbed = shares[np.clip(wanted - rise_cdb, 0, shares.size - 1)]
        means = (1 - interference_share) * calm + interference_share * disturbed
        table = np.maximum.accumulate(np.floor(means * FULL + 0.5).astype(np.int64))
        table.flags.writeable = False
        return ReceptionCurve(table)

    swung[faded.size - offsets[-1] :] = 1.0  # the grid ends there, reception is full long before
    return mixed(faded), mixed(swung)


@lru_cache(maxsize=8)
def _faded(octets: int) -> tuple[int, Floats]:
    """Reception by mean signal to noise under Rayleigh fading, on the grid; its first, in cdB.

    Channel hopping sees all of the fading: power is exponential about its mean.
    """
    n_fades = round((HIGHEST_PEAK_DB - DEEPEST_FADE_DB) / STEP_DB) + 1
    power = 10 ** ((DEEPEST_FADE_DB + STEP_DB * np.arange(n_fades)) / 10)
    rayleigh = power * np.exp(-power)  # of the power in dB; the factor ln(10)/10 is in the sum
    n_snr = round((HIGHEST_SNR_DB - LOWEST_SNR_DB) / STEP_DB) + 1
    lowest_db = LOWEST_SNR_DB + DEEPEST_FADE_DB
    snr_db = lowest_db + STEP_DB * np.arange(n_snr + n_fades - 1)
    shares = frame_reception_share(10 ** (snr_db / 10), octets)
    # The same sum as a direct correlation, in a hundredth of its time.
    size = 1 << (shares.size + n_fades).bit_length()
    spectrum = np.fft.rfft(shares, size) * np.conj(np.fft.rfft(rayleigh / rayleigh.sum(), size))
    means = np.fft.irfft(spectrum, size)[:n_snr]
    return round(100 * LOWEST_SNR_DB), np.clip(means, 0.0, 1.0)
