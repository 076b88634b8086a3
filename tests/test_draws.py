"""Draws against published numbers and against what chance allows."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import special, stats

from resilience import draws

# First outputs for seed 1234567, as the reference implementation prints them (from memory; the
# task "Pseudo-random numbers/Splitmix64" of Rosetta Code lists the same five).
SPLITMIX64 = (
    6457827717110365317,
    3203168211198807973,
    9817491932198370423,
    4593380528125082431,
    16408922859458223821,
)


@pytest.mark.parametrize(("n", "published"), list(enumerate(SPLITMIX64)))
def test_a_stream_is_splitmix64(n, published):
    assert draws.mix((1234567 + (n + 1) * draws.GOLDEN) & draws.MASK) == published
    assert draws.uniform(1234567, n) == (published >> 11) / 2**53


def test_the_mix_loses_nothing():
    """Each of its steps can be undone, so no two of these collide."""
    assert len({draws.mix(n * n) for n in range(20_000)}) == 20_000
    assert draws.mix(0) == 0


def test_draws_by_key_are_unchanged():
    """Pinned for stream version 2: other numbers need another version."""
    assert draws.STREAM_VERSION == 2
    hardware = draws.element_key("device", "s1", "hardware")
    blockage = draws.element_key("link", "a~b", "link blockage")
    assert (hardware, blockage) == (4610118712460998069, 6247130844048619602)
    assert draws.stream(1, 0, hardware) == 18292472404669492399
    assert [draws.uniform(draws.stream(1, 0, hardware), n) for n in range(3)] == [
        0.8234910322250542,
        0.09782263826255133,
        0.2400295349046656,
    ]
    assert [draws.uniform(draws.stream(20250101, 7, blockage), n) for n in range(3)] == [
        0.32912061332671994,
        0.11495947308154852,
        0.33010264227787456,
    ]


def _uniforms(n_streams: int, n_draws: int) -> np.ndarray:
    """Draws of many elements, one row each."""
    starts = [
        draws.stream(11, 0, draws.element_key("device", f"s{n}", "hardware"))
        for n in range(n_streams)
    ]
    return np.array([[draws.uniform(start, n) for n in range(n_draws)] for start in starts])


def test_draws_are_uniform_along_a_stream_and_across_elements():
    """Kolmogorov and Smirnov: 100,000 draws, and the first draw alone of 20,000 elements."""
    assert stats.kstest(_uniforms(20, 5000).ravel(), "uniform").pvalue > 1e-4
    assert stats.kstest(_uniforms(20_000, 1).ravel(), "uniform").pvalue > 1e-4


def test_the_lowest_bits_are_as_even_as_the_highest():
    """Chi-square over the 16 values of the last four of 53 bits."""
    bits = (_uniforms(20, 5000).ravel() * 2**53).astype(np.int64) & 15
    assert stats.chisquare(np.bincount(bits, minlength=16)).pvalue > 1e-4


def test_the_first_draws_of_lifetimes_in_a_row_are_uniform_and_unlinked():
    key = draws.element_key("device", "s1", "hardware")
    u = np.array([draws.uniform(draws.stream(5, lifetime, key), 0) for lifetime in range(20_000)])
    assert stats.kstest(u, "uniform").pvalue > 1e-4
    assert abs(np.corrcoef(u[:-1], u[1:])[0, 1]) < 4 / math.sqrt(u.size)


def test_the_first_draws_of_seeds_in_a_row_are_uniform_and_unlinked():
    key = draws.element_key("device", "s1", "hardware")
    u = np.array([draws.uniform(draws.stream(seed, 0, key), 0) for seed in range(20_000)])
    assert stats.kstest(u, "uniform").pvalue > 1e-4
    assert abs(np.corrcoef(u[:-1], u[1:])[0, 1]) < 4 / math.sqrt(u.size)


def test_streams_of_elements_are_unlinked():
    """Correlation of two independent rows has a standard error of 1 / sqrt(n)."""
    rows = _uniforms(40, 4000)
    links = [np.corrcoef(one, other)[0, 1] for one, other in pairwise(rows)]
    assert max(map(abs, links)) < 4 / math.sqrt(rows.shape[1])
    assert abs(np.mean(links)) < 4 / math.sqrt(rows.shape[1] * len(links))


def test_pairs_of_draws_in_a_row_fill_the_square_evenly():
    u = _uniforms(20, 5000)
    cells, _, _ = np.histogram2d(u[:, :-1].ravel(), u[:, 1:].ravel(), bins=10, range=[[0, 1]] * 2)
    assert stats.chisquare(cells.ravel()).pvalue > 1e-4


def test_kind_id_and_cause_each_name_another_stream():
    names = [("device", "s1", "hardware"), ("link", "s1", "hardware")]
    names += [("device", "s2", "hardware"), ("device", "s1", "battery")]
    names += [("device", "s", "1hardware"), ("devices", "1", "hardware")]
    assert len({draws.element_key(*name) for name in names}) == len(names)


def test_the_normal_quantile_is_that_of_scipy():
    """Wichura 1988 gives AS 241 (PPND16) an accuracy of about 1 part in 10^16."""
    grid = [*np.linspace(1e-6, 1 - 1e-6, 20_001)]
    grid += [2.0**-n for n in range(1, 54)] + [1 - 2.0**-n for n in range(1, 54)]
    ours = np.array([draws.normal(float(u)) for u in grid])
    theirs = special.ndtri(grid)
    np.testing.assert_allclose(ours, theirs, rtol=2e-15, atol=1e-16)


@pytest.mark.parametrize(
    ("u", "published"),
    [
        # Wichura 1988, the values that he gives to check a port (from memory).
        (0.25, -0.6744897501960817),
        (0.001, -3.090232306167814),
        (0.975, 1.959963984540054),
    ],
)
def test_the_normal_quantile_has_its_printed_values(u, published):
    assert draws.normal(u) == pytest.approx(published, rel=4e-16)


def test_the_lowest_draw_has_a_normal_quantile_too():
    assert draws.normal(0.0) == pytest.approx(special.ndtri(2.0**-54), rel=1e-15)
    assert draws.normal(0.5) == 0.0


@pytest.mark.parametrize(
    ("duration_ms", "whole_ms"),
    [(0.0, 1), (0.49, 1), (1.49, 1), (1.5, 2), (2.5, 3), (1e300, 2**53), (math.inf, 2**53)],
)
def test_a_duration_is_whole_and_at_least_one_millisecond(duration_ms, whole_ms):
    assert draws.whole_ms(duration_ms) == whole_ms
