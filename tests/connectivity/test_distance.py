"""The open path against ITU-R P.525 and P.1238."""

import pytest

from resilience.connectivity.losses.distance import (
    floor_penetration_db,
    free_space_loss_db,
    site_general_loss_db,
)


# ITU-R P.525, point-to-point equation, c = 299 792 458 m/s.
@pytest.mark.parametrize(
    ("frequency_mhz", "losses_db"),
    [
        (2400.0, (40.0520, 49.5944, 60.0520, 69.5944, 74.0314, 80.0520)),
        (2405.0, (40.0701, 49.6125, 60.0701, 69.6125, 74.0495, 80.0701)),
        (2440.0, (40.1956, 49.7380, 60.1956, 69.7380, 74.1750, 80.1956)),
        (2450.0, (40.2311, 49.7735, 60.2311, 69.7735, 74.2105, 80.2311)),
        (2480.0, (40.3368, 49.8792, 60.3368, 69.8792, 74.3162, 80.3368)),
    ],
)
def test_free_space_loss_is_that_of_p525(frequency_mhz, losses_db):
    found = [free_space_loss_db(metres, frequency_mhz) for metres in (1, 3, 10, 30, 50, 100)]
    assert found == pytest.approx(losses_db, abs=6e-5)


def test_free_space_loss_of_the_package_pycraf_is_met():
    """pycraf 2.1.0, conversions.free_space_loss: -60.1955797 dB for 10 m at 2.44 GHz (a gain)."""
    assert free_space_loss_db(10, 2440) == pytest.approx(60.1955797, abs=1e-7)


def test_free_space_loss_spreads_by_a_quarter_of_a_db_over_the_channels():
    """20 log10(2480 / 2405), channels 11 and 26 of IEEE 802.15.4."""
    spread_db = free_space_loss_db(10, 2480) - free_space_loss_db(10, 2405)
    assert spread_db == pytest.approx(0.2667, abs=5e-5)


# ITU-R P.1238, versions up to -9, with office (30, 14 dB) and residential (28, 10 dB) coefficients
# at 2.4 GHz (from memory); 2440 MHz.
@pytest.mark.parametrize(
    ("metres", "office", "office_floor", "home", "home_floor"),
    [
        (1, 39.7478, 53.7478, 39.7478, 49.7478),
        (5, 60.7169, 74.7169, 59.3190, 69.3190),
        (10, 69.7478, 83.7478, 67.7478, 77.7478),
        (20, 78.7787, 92.7787, 76.1766, 86.1766),
        (30, 84.0614, 98.0614, 81.1072, 91.1072),
        (50, 90.7169, 104.7169, 87.3190, 97.3190),
    ],
)
def test_site_general_loss_is_that_of_p1238(metres, office, office_floor, home, home_floor):
    def loss_db(power, first_db, n_floors):
        floors_db = floor_penetration_db(n_floors, first_db)
        return site_general_loss_db(metres, 2440, power, floors_db)

    assert loss_db(30, 14, 0) == pytest.approx(office, abs=6e-5)
    assert loss_db(30, 14, 1) == pytest.approx(office_floor, abs=6e-5)
    assert loss_db(28, 10, 0) == pytest.approx(home, abs=6e-5)
    assert loss_db(28, 10, 1) == pytest.approx(home_floor, abs=6e-5)


@pytest.mark.parametrize(("metres", "loss_db"), [(10, 69.6042), (30, 83.9179)])
def test_site_general_loss_at_2400_mhz_is_that_of_p1238(metres, loss_db):
    assert site_general_loss_db(metres, 2400, 30) == pytest.approx(loss_db, abs=6e-5)


@pytest.mark.parametrize(("n_floors", "loss_db"), [(0, 0), (1, 4), (2, 8), (3, 12)])
def test_further_floors_cost_the_4_db_of_the_residential_2_ghz_row(n_floors, loss_db):
    """P.1238 Table 3: 4 n dB for residences at 1.8 to 2 GHz."""
    assert floor_penetration_db(n_floors, 4.0) == loss_db


@pytest.mark.parametrize(("n_floors", "loss_db"), [(0, 0), (1, 15), (2, 19), (3, 23)])
def test_further_floors_cost_the_4_db_of_the_office_2_ghz_row_too(n_floors, loss_db):
    """P.1238 Table 3: 15 + 4 (n - 1) dB for offices at 1.8 to 2 GHz (from memory)."""
    assert floor_penetration_db(n_floors, 15.0) == loss_db


def test_rounded_constant_of_p1238_lies_half_a_db_below_free_space_at_one_metre():
    """-28 in the place of -27.5522."""
    gap_db = free_space_loss_db(1, 2440) - site_general_loss_db(1, 2440, 30)
    assert gap_db == pytest.approx(0.4478, abs=5e-5)


def test_distances_too_short_for_a_model_are_lengthened():
    """P.1238 holds from 1 m on; 0.1 m is about one wavelength (0.123 m)."""
    assert site_general_loss_db(0.2, 2440, 30) == site_general_loss_db(1, 2440, 30)
    assert free_space_loss_db(0, 2440) == free_space_loss_db(0.1, 2440)
    assert free_space_loss_db(0.1, 2440) == pytest.approx(20.1956, abs=5e-5)
