"""Knife edges against ITU-R P.526, Fresnel integrals and exact diffraction."""

import cmath
import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import erfc, fresnel

from resilience.connectivity.losses.edges import double_edge_db, single_edge_db
from resilience.connectivity.losses.slabs import MOST_DB

WAVELENGTH_M = 299_792_458.0 / 2.44e9


def exact_single_db(nu):
    """P.526, Fresnel integrals of scipy: -20 log10(|1 - C - S + j (C - S)| / 2)."""
    s, c = fresnel(nu)
    return -20 * math.log10(math.hypot(1 - c - s, c - s) / 2)


def by_nu_db(nu):
    """The product's loss where the two spans make nu equal to the height."""
    return single_edge_db(nu, 4.0, 4.0, 1.0)


def exact_double_db(heights_m, spans_m):
    """Fresnel-Kirchhoff integral over the openings above both edges, small angles.

    The inner one is a complementary error function, the outer one runs along a turned contour from
    the edge that stands higher.
    """
    (low, high), (before, between, after) = heights_m, spans_m
    if low > high:
        low, high, before, after = high, low, after, before
    wave = 2j * math.pi / WAVELENGTH_M
    first = 1 / before + 1 / between
    rest = 1 / between + 1 / after - 1 / (between**2 * first)
    turn = cmath.exp(-0.25j * math.pi)

    def field(step_m):
        at_m = high + step_m * turn
        inner = erfc(cmath.sqrt(wave / 2 * first) * (low - at_m / (between * first))) / 2
        return inner * cmath.exp(-wave / 2 * rest * at_m**2) * turn

    end_m = 12 / math.sqrt(math.pi / WAVELENGTH_M * rest) + 6 * abs(high)
    parts = [quad(lambda x, p=p: p(field(x)), 0, end_m, limit=500)[0] for p in (np.real, np.imag)]
    free = cmath.sqrt(2 * math.pi / (wave * rest))
    return -20 * math.log10(math.hypot(*parts) / abs(free))


# nu, exact and approximate loss in dB: P.526 section 4.1 (formulas from memory), worked with
# Fresnel integrals and quadrature.
@pytest.mark.parametrize(
    ("nu", "exact_db", "approximate_db"),
    [
        (-1, -1.0010, 0),
        (-0.78, -0.0111, 0.0040),
        (-0.7, 0.4659, 0.5361),
        (-0.5, 1.8586, 1.9592),
        (0, 6.0206, 6.0329),
        (0.5, 10.2338, 10.2878),
        (1, 13.8641, 13.9257),
        (1.5, 16.7773, 16.7844),
        (2, 19.0910, 19.0429),
        (2.4, 20.6182, 20.5393),
        (3, 22.5218, 22.4160),
        (4, 25.0030, 24.8813),
        (5, 26.9362, 26.8136),
        (10, 32.9535, 32.8554),
    ],
)
def test_one_edge_costs_the_approximation_of_p526(nu, exact_db, approximate_db):
    assert by_nu_db(nu) == pytest.approx(approximate_db, abs=6e-5)
    assert exact_single_db(nu) == pytest.approx(exact_db, abs=6e-5)


def test_the_approximation_stays_within_an_eighth_of_a_db_of_the_fresnel_integrals():
    """Between -0.1232 dB at nu = 4.57 and +0.1033 dB at nu = -0.55, as worked for P.526."""
    nus = np.arange(-0.78, 10, 0.01)
    errors_db = np.array([by_nu_db(nu) - exact_single_db(nu) for nu in nus])
    assert errors_db.min() == pytest.approx(-0.1232, abs=6e-5)
    assert nus[errors_db.argmin()] == pytest.approx(4.57, abs=0.006)
    assert errors_db.max() == pytest.approx(0.1033, abs=6e-5)
    assert nus[errors_db.argmax()] == pytest.approx(-0.55, abs=0.006)


# Worked geometries at 2.44 GHz: height, spans, nu, exact and approximate loss.
@pytest.mark.parametrize(
    ("edge_m", "nu", "exact_db", "approximate_db"),
    [
        ((0.5, 5, 5), 1.27585, 15.5552, 15.5895),
        ((1, 5, 5), 2.55170, 21.1382, 21.0505),
        ((0.3, 2, 8), 0.95689, 13.5799, 13.6444),
        ((1, 10, 20), 1.56259, 17.0964, 17.0958),
    ],
)
def test_one_edge_costs_what_the_worked_geometries_say(edge_m, nu, exact_db, approximate_db):
    found_db = single_edge_db(*edge_m, WAVELENGTH_M)
    assert found_db == pytest.approx(approximate_db, abs=6e-5)
    assert found_db == pytest.approx(by_nu_db(nu), abs=6e-5)
    assert exact_single_db(nu) == pytest.approx(exact_db, abs=2e-4)  # nu is printed to five digits


@pytest.mark.parametrize(
    ("before_m", "after_m", "zone_m", "most_of_it_m"),
    [(5, 5, 0.5542, 0.3325), (15, 15, 0.9599, 0.5760), (2, 8, 0.4434, 0.2660)],
)
def test_a_path_that_clears_sixty_hundredths_of_the_first_zone_is_open(
    before_m, after_m, zone_m, most_of_it_m
):
    """First Fresnel radius sqrt(lambda d1 d2 / (d1 + d2)); P.526 calls 0.6 of it clear."""
    radius_m = math.sqrt(WAVELENGTH_M * before_m * after_m / (before_m + after_m))
    assert (radius_m, 0.6 * radius_m) == pytest.approx((zone_m, most_of_it_m), abs=6e-5)
    assert single_edge_db(-most_of_it_m, before_m, after_m, WAVELENGTH_M) == 0
    assert single_edge_db(zone_m, before_m, after_m, WAVELENGTH_M) == pytest.approx(
        by_nu_db(math.sqrt(2)), abs=1e-3
    )


def test_grazing_an_edge_costs_6_db_and_not_nothing():
    """Half of the wave front is hidden: half of the field (P.526, approximate: 6.03)."""
    assert single_edge_db(0, 5, 5, WAVELENGTH_M) == pytest.approx(6.0206, abs=0.02)


def test_an_edge_far_below_the_path_costs_nothing_where_the_formula_would_say_a_gain():
    """The approximation falls without limit (about -6 dB at nu = -2), the exact one to -1.4."""
    assert 6.9 + 20 * math.log10(math.hypot(-2.1, 1) - 2.1) == pytest.approx(-6, abs=0.05)
    least_db = min(exact_single_db(nu) for nu in np.arange(-3, 0, 0.001))
    assert least_db == pytest.approx(-1.3686, abs=1e-4)
    assert by_nu_db(-2) == 0
    assert by_nu_db(-1e9) == 0


def test_a_higher_edge_never_costs_less():
    for pair in pairwise(by_nu_db(nu) for nu in np.arange(-2, 20, 0.01)):
        assert pair[0] <= pair[1]


@pytest.mark.parametrize(
    ("height_m", "before_m", "after_m", "loss_db"),
    [
        (0.5, 0, 5, MOST_DB),
        (0.5, 5, 0, MOST_DB),
        (0.5, 0, 0, MOST_DB),
        (1e9, 5, 5, MOST_DB),
        (-0.5, 0, 5, 0),
        (-1e9, 5, 5, 0),
    ],
)
def test_an_edge_at_the_antenna_or_out_of_all_measure_hides_all_or_nothing(
    height_m, before_m, after_m, loss_db
):
    """Limits of P.526: nu grows without bound."""
    assert single_edge_db(height_m, before_m, after_m, WAVELENGTH_M) == pytest.approx(
        loss_db, abs=1
    )


def test_at_small_angles_one_edge_agrees_with_the_exact_half_plane_and_errs_upwards_at_wide_ones():
    """Sommerfeld's half-plane, plane wave, mean power of the two polarisations."""

    def sommerfeld_db(height_m, after_m):
        reach = math.sqrt(2 * 2 * math.pi / WAVELENGTH_M * math.hypot(after_m, height_m))
        there, lit = math.pi + math.atan2(after_m, -height_m), math.pi / 2

        def part(angle):
            s, c = fresnel(reach * math.cos(angle / 2) * math.sqrt(2 / math.pi))
            return (
                cmath.exp(-0.5j * reach**2 * math.cos(angle))
                * (0.5 + c + 1j * (0.5 + s))
                / (1 + 1j)
            )

        direct, mirrored = part(there - lit), part(there + lit)
        power = (abs(direct - mirrored) ** 2 + abs(direct + mirrored) ** 2) / 2
        return -10 * math.log10(power)

    for height_m, after_m in [(0.5, 10), (0.5, 2), (0.3, 1)]:  # 3 to 17 degrees
        found_db = single_edge_db(height_m, 1e9, after_m, WAVELENGTH_M)
        assert found_db == pytest.approx(sommerfeld_db(height_m, after_m), abs=0.25)
    for height_m, after_m in [(0.3, 0.3), (1, 1), (1, 0.3), (0.3, 0.1)]:  # 45 to 73 degrees
        surplus_db = single_edge_db(height_m, 1e9, after_m, WAVELENGTH_M) - sommerfeld_db(
            height_m, after_m
        )
        assert 1 < surplus_db < 6


def random_double_edges():
    """Two edges 0.1 to 10 m apart, ends 0.5 to 20 m away; half of the pairs equally high."""
    rng = np.random.default_rng(526)
    for n in range(400):
        before_m, after_m = np.exp(rng.uniform(math.log(0.5), math.log(20), 2))
        between_m = math.exp(rng.uniform(math.log(0.1), math.log(10)))
        heights_m = rng.uniform(-0.5, 1.0, 2) if n % 2 else np.full(2, rng.uniform(-0.3, 0.8))
        yield tuple(heights_m), (before_m, between_m, after_m)


def test_two_edges_cost_what_the_diffraction_integral_says_within_three_db():
    """Fresnel-Kirchhoff double integral, scipy's quadrature; typical error below 0.7 dB."""
    errors_db = np.array(
        [
            double_edge_db(heights_m, spans_m, WAVELENGTH_M) - exact_double_db(heights_m, spans_m)
            for heights_m, spans_m in random_double_edges()
        ]
    )
    assert math.sqrt(np.mean(errors_db**2)) < 0.7
    assert np.all(abs(errors_db) < 3)


def test_the_diffraction_integral_itself_is_one_edge_where_the_other_is_far_below():
    """Consistency of the oracle with the Fresnel integrals."""
    nu = 0.5 * math.sqrt(2 / WAVELENGTH_M * (1 / 8 + 1 / 5))
    assert exact_double_db((-5.0, 0.5), (5, 3, 5)) == pytest.approx(exact_single_db(nu), abs=0.1)


def test_two_edges_in_one_place_are_one_edge():
    """Where the edges meet the second costs nothing, within the 0.06 dB of the approximation."""
    for height_m in (-0.2, 0.0, 0.5, 2.0):
        one_db = single_edge_db(height_m, 4, 6, WAVELENGTH_M)
        for apart_m in (0.0, 1e-9):
            both_db = double_edge_db((height_m, height_m), (4, apart_m, 6), WAVELENGTH_M)
            assert both_db == pytest.approx(one_db, abs=0.06)


def test_the_order_of_two_edges_does_not_matter():
    """Reciprocity: the path back meets them the other way round."""
    for heights_m, spans_m in random_double_edges():
        there_db = double_edge_db(heights_m, spans_m, WAVELENGTH_M)
        back_db = double_edge_db(heights_m[::-1], spans_m[::-1], WAVELENGTH_M)
        assert there_db == pytest.approx(back_db, abs=1e-9)


def test_two_edges_cost_at_least_the_one_that_stands_further_into_the_path():
    for heights_m, (before_m, between_m, after_m) in random_double_edges():
        both_db = double_edge_db(heights_m, (before_m, between_m, after_m), WAVELENGTH_M)
        first_db = single_edge_db(heights_m[0], before_m, between_m + after_m, WAVELENGTH_M)
        second_db = single_edge_db(heights_m[1], before_m + between_m, after_m, WAVELENGTH_M)
        assert both_db >= max(first_db, second_db)


@pytest.mark.parametrize(
    ("heights_m", "spans_m", "loss_db"),
    [
        ((-1.0, -1.0), (5, 0.3, 5), 0),
        ((-1.0, -1.0), (0, 0, 0), 0),
        ((0.5, 0.5), (0, 0.3, 5), MOST_DB),
        ((0.5, -9.0), (5, 0.3, 0), single_edge_db(0.5, 5, 0.3, WAVELENGTH_M)),
        ((1e9, 1e9), (5, 0.3, 5), MOST_DB),
    ],
)
def test_two_edges_at_an_antenna_or_out_of_all_measure_stay_finite(heights_m, spans_m, loss_db):
    found_db = double_edge_db(heights_m, spans_m, WAVELENGTH_M)
    assert found_db == pytest.approx(loss_db, abs=0.01)
