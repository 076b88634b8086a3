"""Reception and link cost against IEEE 802.15.4, RFC 6551 and independent quadrature."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from resilience.connectivity.reception import (
    FULL,
    HIGH_CDBM,
    LOW_CDBM,
    bit_error_share,
    frame_reception_share,
    link_cost,
    momentary_curve,
    prr_units,
    reception_curve,
)
from resilience.connectivity.swing import levels_cdb


def ratio(decibels):
    return np.array([10 ** (decibels / 10)])


@pytest.fixture(scope="module")
def quiet(radio):
    return reception_curve(replace(radio, environment="quiet"))


@pytest.fixture(scope="module")
def busy(radio):
    return reception_curve(replace(radio, environment="busy"))


# IEEE 802.15.4-2006 Annex E, 2.4 GHz equation (from memory), evaluated with 40 digits; the same as
# 8/15 of the symbol errors of non-coherent detection of 16 orthogonal signals at Es/N0 = 20 s.
@pytest.mark.parametrize(
    ("snr_db", "errors", "prr_20", "prr_50", "prr_127"),
    [
        (-6, 1.222103788e-01, 1e-9, 0, 0),
        (-5, 7.517156409e-02, 3.714e-6, 0, 0),
        (-4, 3.916345993e-02, 0.001674641, 1.15e-7, 0),
        (-2, 5.196999567e-03, 0.434444033, 0.124404071, 0.005022036),
        (-1, 1.148943716e-03, 0.831988483, 0.631383584, 0.310988941),
        (-0.5, 4.588647352e-04, 0.929196349, 0.832278617, 0.627310550),
        (0, 1.615266879e-04, 0.974484800, 0.937427466, 0.848636470),
        (1, 1.291186626e-05, 0.997936221, 0.994848535, 0.986967132),
        (2, 5.131392089e-07, 0.999917901, 0.999794765, 0.999478786),
        (3, 8.597191275e-09, 0.999998624, 0.999996561, 0.999991265),
        (4, 4.927505058e-11, 0.999999992, 0.999999980, 0.999999950),
    ],
)
def test_bit_errors_and_frames_are_those_of_802_15_4(snr_db, errors, prr_20, prr_50, prr_127):
    assert bit_error_share(ratio(snr_db))[0] == pytest.approx(errors, rel=2e-9)
    for octets, expected in ((20, prr_20), (50, prr_50), (127, prr_127)):
        found = frame_reception_share(ratio(snr_db), octets)[0]
        assert found == pytest.approx(expected, abs=1e-9)


def test_half_of_the_bits_are_wrong_without_a_signal():
    """Limit of the equation at s = 0: the alternating sum is 15."""
    assert bit_error_share(np.zeros(1))[0] == 0.5


@pytest.mark.parametrize(("snr_db", "errors"), [(-20, 0.483668998555591), (-10, 0.322050677845264)])
def test_bit_errors_at_weak_signals_agree_with_mpmath(snr_db, errors):
    """mpmath with 40 digits."""
    assert bit_error_share(ratio(snr_db))[0] == pytest.approx(errors, rel=1e-12)


def test_bit_errors_at_strong_signals_tend_to_four_exp_minus_ten_s():
    """8 dB with mpmath, 40 digits; the limit 4 exp(-10 s) is approached from below."""
    snr = ratio(8)
    assert bit_error_share(snr)[0] == pytest.approx(1.58464026672e-27, rel=1e-11)
    assert bit_error_share(snr)[0] < 4 * math.exp(-10 * snr[0])


def test_bit_errors_fall_strictly_with_the_signal():
    errors = bit_error_share(10 ** (np.arange(-30, 8, 0.01) / 10))
    assert (np.diff(errors) < 0).all()


# The same equation inverted with 40 digits: dB at which 1, 10, 50, 90 and 99 % of frames arrive.
@pytest.mark.parametrize(
    ("octets", "points_db"),
    [
        (20, (-3.59531, -2.86339, -1.86259, -0.68892, 0.40350)),
        (50, (-2.65571, -2.07632, -1.24644, -0.22620, 0.75958)),
        (127, (-1.89580, -1.41672, -0.70795, 0.19444, 1.09239)),
    ],
)
def test_a_link_without_fading_goes_from_dead_to_good_within_4_db(octets, points_db):
    for share, point_db in zip((0.01, 0.10, 0.50, 0.90, 0.99), points_db, strict=True):
        found = frame_reception_share(ratio(point_db), octets)[0]
        assert found == pytest.approx(share, abs=2e-5)


def test_the_curve_reaches_095_where_the_environment_says(radio, quiet):
    """To a hundredth of a dB, with what others send left out: that adds losses of its own."""
    calm = reception_curve(replace(radio, busy_interference_share=0.0))
    for curve, at_95_cdbm in ((quiet, -8800), (calm, -7500)):
        assert curve.prr(at_95_cdbm) >= 0.95 * FULL > curve.prr(at_95_cdbm - 1)


def frame_share(snr):
    """Frames of 50 octets, by the equation above."""
    if snr > 30:  # fewer than one wrong bit in 10^129
        return 1.0
    terms = [(-1) ** k * math.comb(16, k) * math.exp(20 * snr / k) for k in range(2, 17)]
    return (1 - math.fsum(terms) * math.exp(-20 * snr) / 30) ** 400


def rayleigh_mean(snr_db):
    """Mean over the fading: scipy's adaptive quadrature over the power."""
    mean = 10 ** (snr_db / 10)
    return integrate.quad(
        lambda power: math.exp(-power) * frame_share(mean * power),
        0,
        60,
        points=[min(30, 1 / mean), min(40, 2 / mean)],
        limit=200,
    )[0]


def swung_mean(snr_db):
    """Mean over a swing of 1.8 dB as well: Gauss-Hermite nodes."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    means = [rayleigh_mean(snr_db + 1.8 * node) for node in nodes]
    return float(np.dot(weights, means) / weights.sum())


# The quadrature gives 0.95 at 12.12095 dB; of hundredths the next one counts.
AT_95_DB = 12.13


def test_both_curves_agree_with_independent_quadrature(radio, quiet):
    assert swung_mean(12.12095) == pytest.approx(0.95, abs=1e-7)
    momentary = momentary_curve(replace(radio, environment="quiet"))
    for rssi_dbm in (-107, -103, -101, -95, -83, -68):
        snr_db = AT_95_DB + rssi_dbm + 88
        # Half a unit is rounding.
        assert abs(momentary.prr(100 * rssi_dbm) - FULL * rayleigh_mean(snr_db)) < 0.6
        # The levels end at 3.7 spreads, which takes 0.04 % off their variance.
        assert abs(quiet.prr(100 * rssi_dbm) - FULL * swung_mean(snr_db)) < 0.8


@pytest.mark.parametrize("environment", ["quiet", "busy"])
@pytest.mark.parametrize("swing_db", [0.8, 1.8, 2.5])
def test_the_averaged_curve_is_the_mean_of_the_momentary_one_over_the_levels(
    radio, environment, swing_db
):
    """Both are rounded to a unit; away from the ends of the table, where each is held."""
    stated = replace(radio, environment=environment, swing_db=swing_db)
    momentary, averaged = momentary_curve(stated), reception_curve(stated)
    for rssi_cdbm in range(LOW_CDBM + 1000, HIGH_CDBM - 1000, 97):
        mean = momentary.table[rssi_cdbm + levels_cdb(swing_db) - LOW_CDBM].mean()
        assert abs(averaged.prr(rssi_cdbm) - mean) <= 1.0


def test_without_swing_the_averaged_curve_is_the_momentary_one(radio):
    """scipy's quadrature over the fading alone gives 0.95 at 11.76936 dB."""
    still = replace(radio, environment="quiet", swing_db=0.0)
    assert np.array_equal(reception_curve(still).table, momentary_curve(still).table)
    assert rayleigh_mean(11.76936) == pytest.approx(0.95, abs=1e-7)
    assert abs(reception_curve(still).prr(-10_300) - FULL * rayleigh_mean(11.77 - 15)) < 0.6


def test_swing_lifts_the_mean_far_below_the_95_percent_point(radio, quiet):
    still = reception_curve(replace(radio, environment="quiet", swing_db=0.0))
    assert quiet.prr(-10_300) > still.prr(-10_300)


@pytest.mark.parametrize("rssi_dbm", [-90, -75, -60, -50, -40])
def test_interference_raises_the_noise_for_a_share_of_the_time(busy, radio, rssi_dbm):
    """A twentieth of the time 32 dB more, by quadrature."""
    snr_db = AT_95_DB + rssi_dbm + 75
    expected = 0.95 * swung_mean(snr_db) + 0.05 * swung_mean(snr_db - 32)
    assert abs(busy.prr(100 * rssi_dbm) - FULL * expected) < 0.8


def test_where_others_drown_everything_their_share_of_the_frames_is_lost(radio):
    """The curve levels off at 1 - share, however strong the signal is."""
    drowned = replace(radio, interference_db=100.0)
    for curve in (momentary_curve(drowned), reception_curve(drowned)):
        assert curve.prr(-2000) == round(0.95 * FULL)
        assert curve.prr(-3500) == pytest.approx(0.95 * FULL, rel=1e-3)


def test_losses_fall_tenfold_for_each_10_db_as_under_rayleigh_fading(quiet):
    """Diversity order 1 (textbook): at strong signals 1 - PRR goes as 1 / mean power."""
    missed = [FULL - quiet.prr(rssi_cdbm) for rssi_cdbm in (-7500, -6500)]
    assert missed[0] / missed[1] == pytest.approx(10, rel=0.02)


def test_the_curve_never_falls_and_is_held_at_its_ends(quiet):
    assert (np.diff(quiet.table) >= 0).all()
    assert quiet.table.size == HIGH_CDBM - LOW_CDBM + 1
    assert quiet.prr(-20_000) == quiet.prr(LOW_CDBM)
    assert quiet.prr(500) == quiet.prr(HIGH_CDBM) == FULL


def test_minus_98_dbm_is_accepted_in_a_quiet_band(quiet, routing):
    """Common practice. Past -100 dBm a link is too weak: there the receiver's floor stops it."""
    assert quiet.prr(-9800) >= prr_units(routing.min_prr)


def test_reception_is_at_least_085_above_minus_87_dbm_in_a_quiet_band(quiet):
    """Srinivasan and Levis 2006, 'RSSI is under-appreciated' (abstract)."""
    assert quiet.prr(-8700) >= 0.85 * FULL


def test_the_radio_meets_its_standard_in_a_quiet_band(quiet):
    """IEEE 802.15.4-2011 section 10.3.4 asks for -85 dBm or better, without fading, 1 % lost.

    The curve has less than 5 % lost there with fading; without, the same noise lies 15 dB below
    the strength, and 0.41 dB would do.
    """
    assert quiet.prr(-8500) > 0.94 * FULL
    assert frame_reception_share(ratio(AT_95_DB + 3), 20)[0] > 0.99


@settings(derandomize=True, deadline=None)
@given(share=st.floats(0.001, 0.9985))
def test_the_inverse_is_the_least_strength_that_reaches_a_ratio(quiet, share):
    rssi_cdbm = quiet.rssi_cdbm(share)
    assert quiet.prr(rssi_cdbm) >= prr_units(share) > quiet.prr(rssi_cdbm - 1)


def test_a_measured_one_becomes_the_999_point_plus_10_db(quiet, busy):
    for curve in (quiet, busy):
        assert curve.rssi_cdbm(1.0) == curve.rssi_cdbm(0.999) + 1000


def test_the_inverse_stays_inside_the_table_when_the_band_is_hopeless(radio):
    hopeless = reception_curve(replace(radio, environment="busy", busy_95_dbm=-30.0))
    assert hopeless.rssi_cdbm(1.0) == HIGH_CDBM


# RFC 6551 section 4.3.2: the ETX object is ETX x 128, rounded; 3.569 becomes 457.
@pytest.mark.parametrize(
    ("etx", "cost"), [(1, 128), (1.25, 160), (1.5, 192), (2, 256), (3, 384), (3.569, 457), (4, 512)]
)
def test_cost_is_the_etx_of_rfc_6551(etx, cost):
    assert link_cost(prr_units(1 / etx), FULL) == cost
    assert link_cost(FULL, prr_units(1 / etx)) == cost


# De Couto et al. 2003, ETX = 1 / (df dr): 1.1111, 1.2346, 1.3889, 1.5873, 2, 2.2222.
@pytest.mark.parametrize(
    ("there", "back", "etx"),
    [
        (0.9, 1.0, 1.111111111),
        (0.9, 0.9, 1.234567901),
        (0.8, 0.9, 1.388888889),
        (0.7, 0.9, 1.587301587),
        (0.5, 1.0, 2.0),
        (0.5, 0.9, 2.222222222),
    ],
)
def test_cost_counts_both_directions_as_de_couto_does(there, back, etx):
    assert link_cost(prr_units(there), prr_units(back)) == round(128 * etx)


def test_cost_of_the_rfc_8180_example_is_four_thirds():
    """RFC 8180 section 5.1.2: 75 of 100 acknowledged is ETX 4/3, so 170.67 of 128ths."""
    assert link_cost(prr_units(0.75), FULL) == 171


def test_a_half_each_way_is_the_last_link_that_rfc_6719_allows():
    """RFC 6719 section 5, MAX_LINK_METRIC 512: four expected transmissions."""
    assert link_cost(FULL // 2, FULL // 2) == 512
    assert link_cost(FULL // 2, FULL // 2 - 200) > 512


@settings(derandomize=True)
@given(st.integers(1, FULL), st.integers(1, FULL))
def test_cost_is_rounded_exactly_in_integers(there, back):
    """floor(x + 1/2) <= x + 1/2 < floor(x + 1/2) + 1, multiplied out."""
    cost, both = link_cost(there, back), there * back
    assert (2 * cost - 1) * both <= 256 * FULL * FULL < (2 * cost + 1) * both


@pytest.mark.parametrize(("there", "back"), [(0, FULL), (FULL, 0)])
def test_a_link_on_which_nothing_arrives_has_no_cost(there, back):
    with pytest.raises(ValueError, match="no cost"):
        link_cost(there, back)


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan])
def test_a_share_outside_0_to_1_is_refused(share):
    with pytest.raises(ValueError, match="not between"):
        prr_units(share)
