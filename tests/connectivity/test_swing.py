"""The swing of links against the normal law, and what it makes of measured ratios."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from resilience.building.site import Kind
from resilience.connectivity.air import Air
from resilience.connectivity.links import link_table
from resilience.connectivity.reception import FULL
from resilience.connectivity.swing import N_LEVELS, level_shares, levels_cdb, parted_cdb
from resilience.draws import element_key, level_place, phase_ms, stream
from resilience.lifetime.mesh import GivenPath, Luck, Mesh, MeshDevice, MeshLink
from resilience.lifetime.reference.levels import Levels

SWING_DB, HOLDS_MS = 1.8, 4 * 3_600_000
# Outputs 0 to 4 of SplitMix64 for seed 1234567, as its reference implementation prints them (from
# memory; the task "Pseudo-random numbers/Splitmix64" of Rosetta Code lists the same five).
SPLITMIX64 = (
    6457827717110365317,
    3203168211198807973,
    9817491932198370423,
    4593380528125082431,
    16408922859458223821,
)


def levels_db(start: int, n_holds: int) -> np.ndarray:
    """Levels of the first holds of a stream."""
    places = [level_place(start, hold) for hold in range(n_holds)]
    return levels_cdb(SWING_DB)[places] / 100


def own_stream(link: str) -> int:
    return stream(11, 0, element_key("link", link, "swing"))


def test_levels_are_the_middles_of_4096_equal_shares_of_a_normal_law():
    shares = (np.arange(4096) + 0.5) / 4096
    expected = np.floor(100 * SWING_DB * stats.norm.ppf(shares) + 0.5)
    assert np.array_equal(levels_cdb(SWING_DB), expected)


def test_levels_keep_the_spread_that_is_stated():
    """The ends of the law beyond 3.7 spreads are missing: 0.03 % of it."""
    assert levels_cdb(SWING_DB).std() == pytest.approx(100 * SWING_DB, rel=3e-4)
    assert levels_cdb(SWING_DB).mean() == 0.0


def test_without_a_spread_all_levels_are_calm():
    assert not levels_cdb(0.0).any()


def test_each_level_is_as_likely_as_the_normal_law_says():
    """Its step of 0.01 dB holds so much of the law, to one place of the table."""
    steps_cdb, shares = level_shares(SWING_DB)
    edges = np.append(steps_cdb - 0.5, steps_cdb[-1] + 0.5) / (100 * SWING_DB)
    assert shares.sum() == 1.0
    assert np.abs(shares - np.diff(stats.norm.cdf(edges))).max() < 1 / N_LEVELS


@pytest.mark.parametrize("hold", range(4))
def test_a_level_is_the_top_12_bits_of_the_draw_after_the_phase(hold):
    assert level_place(1234567, hold) == SPLITMIX64[hold + 1] >> 52


@pytest.mark.parametrize("holds_ms", [1, 4, HOLDS_MS])
def test_a_phase_is_the_first_draws_share_of_a_hold(holds_ms):
    assert phase_ms(1234567, holds_ms) == SPLITMIX64[0] * holds_ms >> 64


def test_levels_of_a_link_follow_the_normal_law():
    """Kolmogorov and Smirnov over 20,000 holds, chi-square over 64 equal shares."""
    start = own_stream("a~b")
    assert stats.kstest(levels_db(start, 20_000) / SWING_DB, "norm").pvalue > 1e-4
    shares = np.array([level_place(start, hold) >> 6 for hold in range(20_000)])
    assert stats.chisquare(np.bincount(shares, minlength=64)).pvalue > 1e-4


@pytest.mark.parametrize("apart_holds", [0.0, 0.1, 0.5, 0.9, 1.0, 1.5, 3.0])
def test_levels_are_alike_for_the_share_of_a_hold_that_two_moments_share(apart_holds):
    """Slots of one length from a random phase: rho = max(0, 1 - t / holds) (Papoulis, from memory).

    One pair of moments a link, so that the products are independent.
    """
    moments_ms = (10 * HOLDS_MS, round((10 + apart_holds) * HOLDS_MS))
    pairs = []
    for n in range(10_000):
        start = own_stream(f"a~b{n}")
        phase = phase_ms(start, HOLDS_MS)
        pairs.append([level_place(start, (ms + phase) // HOLDS_MS) for ms in moments_ms])
    one, other = levels_cdb(SWING_DB)[np.array(pairs).T] / (100 * SWING_DB)
    products = one * other
    error = products.std(ddof=1) / math.sqrt(products.size)
    assert abs(products.mean() - max(0.0, 1 - apart_holds)) < 4 * error


def test_phases_of_links_fill_a_hold_evenly():
    phases = [phase_ms(own_stream(f"a~b{n}"), HOLDS_MS) for n in range(10_000)]
    assert stats.kstest(np.array(phases) / HOLDS_MS, "uniform").pvalue > 1e-4


def test_levels_of_two_links_are_unlinked():
    one, other = levels_db(own_stream("a~b"), 20_000), levels_db(own_stream("a~c"), 20_000)
    assert abs(np.corrcoef(one, other)[0, 1]) < 4 / math.sqrt(one.size)


@pytest.fixture(scope="module")
def air_of(radio, routing):
    return lambda environment: Air.of(replace(radio, environment=environment), routing)


@pytest.mark.parametrize("spare_db", [-1.0, 0.0, 0.5, 1.8, 4.0])
def test_a_link_is_unusable_for_the_share_of_time_that_the_normal_law_says(air_of, spare_db):
    """A level below minus the spare closes it; 20,000 independent holds."""
    air = air_of("quiet")
    calm_cdbm = np.full((1, 2), air.least_cdbm + round(100 * spare_db))
    (spare_cdb,) = air.spare_cdb(calm_cdbm, calm_cdbm, np.full((1, 2), -13_000))
    closed = levels_db(own_stream("a~b"), 20_000) < -spare_cdb / 100
    expected = stats.norm.cdf(-spare_db / SWING_DB)
    assert abs(closed.mean() - expected) < 4 * math.sqrt(expected * (1 - expected) / closed.size)


@pytest.mark.parametrize("environment", ["quiet", "busy"])
@pytest.mark.parametrize(("prr", "rssi_dbm"), [(0.35, None), (0.6, None), (0.6, -80), (0.9, -95)])
def test_the_mean_of_a_measured_link_over_many_holds_is_what_was_measured(
    small_site, air_of, environment, prr, rssi_dbm
):
    """Reception of each hold by the curve of the moment, 20,000 holds; also where both were told.

    Strengths are told to 0.01 dB, over which a ratio moves by at most 0.001.
    """
    site = small_site.linked(f"g1~s1={prr}", radio={"environment": environment})
    (layout,) = site.layouts
    layout = replace(layout, links=tuple(replace(one, rssi_dbm=rssi_dbm) for one in layout.links))
    (link,) = link_table(site, layout).links
    assert rssi_dbm in (None, link.there.rssi_dbm)
    curve, heard_cdbm = air_of(environment).curve, round(100 * link.there.heard_dbm)
    places = [level_place(own_stream(link.id), hold) for hold in range(20_000)]
    ratios = np.array([curve.prr(heard_cdbm + level) for level in levels_cdb(SWING_DB)[places]])
    error = ratios.std(ddof=1) / math.sqrt(ratios.size)
    assert abs(ratios.mean() / FULL - prr) < 4 * error / FULL + 0.001


MESH_SHARE, DEVICE_SHARE = 0.25, 0.3


def summed_db(links: list[str], n: int, apart_ms: int = 0) -> np.ndarray:
    """Levels of links in n lifetimes at one moment, worked out here: own, mesh and two ends."""
    own_cdb, mesh_cdb, device_cdb = parted_cdb(SWING_DB, MESH_SHARE, DEVICE_SHARE)
    moment_ms = 10 * HOLDS_MS + apart_ms

    def part(lifetime: int, kind: str, id: str, table: np.ndarray) -> int:
        start = stream(11, lifetime, element_key(kind, id, "swing"))
        return table[level_place(start, (moment_ms + phase_ms(start, HOLDS_MS)) // HOLDS_MS)]

    return np.array(
        [
            [
                part(lifetime, "link", link, own_cdb)
                + part(lifetime, "mesh", "", mesh_cdb)
                + sum(part(lifetime, "device", end, device_cdb) for end in link.split("~"))
                for link in links
            ]
            for lifetime in range(n)
        ]
    ).T / (100 * SWING_DB)


def test_common_parts_leave_a_link_its_spread_and_tie_links_together_by_their_shares():
    """Variances of independent parts add up: links apart share m, two of one device m + d / 2.

    Correlations within four standard errors, (1 - rho^2) / sqrt(n) (from memory).
    """
    n = 8000
    levels = summed_db(["a~b", "a~c", "d~e"], n)
    assert levels.var(axis=1) == pytest.approx([1, 1, 1], abs=4 * math.sqrt(2 / n))
    found = np.corrcoef(levels)
    for pair, expected in (((0, 1), MESH_SHARE + DEVICE_SHARE / 2), ((0, 2), MESH_SHARE)):
        assert abs(found[pair] - expected) < 4 * (1 - expected**2) / math.sqrt(n)
    assert stats.kstest(levels[0], "norm").pvalue > 1e-4


def test_the_reference_engine_adds_up_the_same_parts(small_site):
    shares = {"swing_mesh_share": MESH_SHARE, "swing_device_share": DEVICE_SHARE}
    site = small_site.linked("g1~s1=0.9", radio=shares)
    air = Air.of(site.radio, site.routing)
    links = ["a~b", "a~c", "d~e"]
    devices = tuple(MeshDevice(id, Kind.SENSOR) for id in "abcde")
    mesh = Mesh(
        devices,
        tuple(MeshLink(id, *id.split("~"), GivenPath(128)) for id in links),
        frozenset(),
        air,
    )
    found = [
        [Levels(mesh, Luck(11, n)).level_cdb(mesh.link[id], 10 * HOLDS_MS) for n in range(50)]
        for id in links
    ]
    assert np.allclose(np.array(found) / (100 * SWING_DB), summed_db(links, 50), atol=1e-12)


def test_without_shares_a_link_has_one_part_as_ever():
    (own,) = parted_cdb(SWING_DB, 0.0, 0.0)
    assert np.array_equal(own, levels_cdb(SWING_DB))


def test_the_range_of_a_link_is_the_sum_of_those_of_its_parts(small_site):
    """Two devices at its ends; 3.49 spreads is the quantile in the middle of the last of 4,096."""
    shares = {"swing_mesh_share": MESH_SHARE, "swing_device_share": DEVICE_SHARE}
    radio = small_site(small_site.layout("a", links="g1~s1=1"), radio=shares).radio
    air = Air.of(radio, small_site.linked("g1~s1=1").routing)
    roots = (math.sqrt(0.45), math.sqrt(0.25), 2 * math.sqrt(0.15))
    farthest = stats.norm.ppf(1 - 0.5 / 4096)
    assert air.best_cdb == -air.worst_cdb
    assert air.best_cdb == pytest.approx(100 * SWING_DB * farthest * sum(roots), abs=2)
