"""One possible building: a field over places, offsets in common, and what a measurement leaves."""

import math
from dataclasses import replace

import numba
import numpy as np
import pytest
from scipy.stats import kstwobign, multivariate_normal

from resilience import draws
from resilience.assumptions.constructions import Construction
from resilience.building.site import Calibration, Correction, GivenLink
from resilience.building.structure import Shaft, Wall
from resilience.compiling import bind, compiler
from resilience.connectivity.links import link_table
from resilience.connectivity.luck import strengths
from resilience.connectivity.luck.prospect import FIELD_KEY, N_WAVES, prospect
from resilience.connectivity.luck.strengths import draw_waves, field_at

SEED = 4
N_DRAWS = 2500
LOUD = {"transmit_dbm": 30.0}  # so that no pair is too far apart to be listed
FIELD_ALONE = {"direction_difference_db": 0.0, "distance_power_spread": 0.0}
STILL = FIELD_ALONE | {"shadowing_drawn_db": 0.0, "shadowing_undrawn_db": 0.0}


def shifts_db(site, layout, n_draws=N_DRAWS, seed=SEED):
    """What buildings add to the prediction: shape (draws, 2 directions) by id of the link."""
    table = link_table(site, layout)
    ready = prospect(table)
    drawn = np.array([ready.strengths_cdbm(seed, draw) for draw in range(n_draws)])
    shifts = drawn / 100 - table.rssi_dbm
    return {id: shifts[:, row] for row, id in enumerate(table.link_ids)}


def strengths_cdbm(table, draw, seed=SEED):
    """Strengths there and back in one building, by id of the link."""
    drawn = prospect(table).strengths_cdbm(seed, draw).tolist()
    return dict(zip(table.link_ids, drawn, strict=True))


def is_within(values, expected):
    """Whether the mean of independent values is within four standard errors of theory."""
    return abs(np.mean(values) - expected) < 4 * np.std(values, ddof=1) / math.sqrt(len(values))


def has_spread(values, expected):
    return is_within((values - np.mean(values)) ** 2, expected**2)


def are_correlated(one, other, expected):
    product = (one - one.mean()) * (other - other.mean()) / (one.std() * other.std())
    return is_within(product, expected)


@pytest.fixture(scope="module")
def field():
    """Values of the field over building draws at points metres apart, shape (draws, points)."""
    points = ((0, 0, 0), (1, 0, 0), (0, 3, 0), (0, 0, 6), (6, 6, 6), (0, 40, 0), (-9, 0, 2))
    waves, values = np.zeros((N_WAVES, 4)), np.zeros((N_DRAWS, len(points)))
    for draw in range(N_DRAWS):
        draw_waves(SEED, draw, FIELD_KEY, 6.0, waves)
        values[draw] = [field_at(waves, *point) for point in points]
    return values


@pytest.mark.parametrize("point", range(7))
def test_the_field_is_standard_normal_at_every_place(field, point):
    """Random Fourier features tend to a Gaussian field (Rahimi and Recht 2007)."""
    values = field[:, point]
    assert is_within(values, 0.0)
    assert has_spread(values, 1.0)
    ordered = np.array([0.5 * math.erfc(-value / math.sqrt(2)) for value in np.sort(values)])
    steps = np.arange(1, N_DRAWS + 1) / N_DRAWS
    distance = max(np.max(steps - ordered), np.max(ordered - steps + 1 / N_DRAWS))
    assert distance * math.sqrt(N_DRAWS) < kstwobign.isf(0.001)  # Kolmogorov and Smirnov


@pytest.mark.parametrize(
    ("point", "apart_m"), [(1, 1.0), (2, 3.0), (3, 6.0), (4, 6 * 3**0.5), (5, 40.0), (6, 85**0.5)]
)
def test_the_field_decorrelates_exponentially_with_distance(field, point, apart_m):
    """Gudmundson 1991, correlation exp(-d / d0); d0 = 6 m is 3GPP TR 38.901's indoor office."""
    assert are_correlated(field[:, 0], field[:, point], np.exp(-apart_m / 6.0))


@pytest.fixture(scope="module")
def shadowed(small_site):
    """Shadowing alone, over links that touch, run side by side, cross and lie far apart."""
    places = [
        (0.0, 0.0),
        (5.0, 0.0),
        (10.0, 0.0),
        (0.0, 1.0),
        (5.0, 1.0),
        (200.0, 0.0),
        (205.0, 0.0),
    ]
    devices = [small_site.device(f"s{n}", *place, **LOUD) for n, place in enumerate(places)]
    layout = small_site.layout("a", *devices)
    site = small_site(layout, radio=FIELD_ALONE)
    return {id: shift[:, 0] for id, shift in shifts_db(site, layout).items()}


@pytest.mark.parametrize("link", ["s0~s1", "s0~s2", "s3~s4", "s0~s6"])
def test_shadowing_has_the_spread_that_the_setting_says_at_any_length(shadowed, link):
    """ITU-R P.1238, shadow fading of offices: 10 dB where no wall is drawn (from memory)."""
    assert is_within(shadowed[link], 0.0)
    assert has_spread(shadowed[link], 10.0)


@pytest.mark.parametrize(
    ("one", "other", "between_ends_m"),
    [
        ("s0~s1", "s1~s2", (5, 10, 0, 5)),  # share an end
        ("s0~s1", "s0~s2", (0, 10, 5, 5)),  # a way and its first part
        ("s0~s1", "s3~s4", (1, 26**0.5, 26**0.5, 1)),  # side by side
        ("s0~s1", "s5~s6", (200, 205, 195, 200)),  # far apart
        ("s1~s3", "s0~s4", (5, 1, 1, 5)),  # crossing
    ],
)
def test_links_share_as_much_as_the_places_of_their_ends(shadowed, one, other, between_ends_m):
    """A third of the variance belongs to the field: the sum of two ends, brought to variance 1.

    The correlation follows by hand from exp(-d / 6 m) between the four ends.
    """
    lengths_m = {"s0~s1": 5, "s1~s2": 5, "s0~s2": 10, "s3~s4": 5, "s5~s6": 5}
    lengths_m |= dict.fromkeys(("s1~s3", "s0~s4"), 26**0.5)
    alike = [1 + math.exp(-lengths_m[link] / 6) for link in (one, other)]
    expected = (
        0.33 * sum(math.exp(-d_m / 6) for d_m in between_ends_m) / (2 * math.prod(alike) ** 0.5)
    )
    assert are_correlated(shadowed[one], shadowed[other], expected)


def test_no_two_links_are_more_alike_than_was_ever_measured(shadowed):
    """Agrawal and Patwari 2009: link-to-link correlation up to 0.33."""
    error = 1 / math.sqrt(N_DRAWS)
    largest = np.triu(np.corrcoef(list(shadowed.values())), k=1).max()
    assert 0.33 - 4 * error < largest < 0.33 + 4 * error


def test_the_same_places_have_the_same_luck_whatever_hangs_there_and_elsewhere(small_site):
    device = small_site.device
    here, there = (3.0, 4.0), (9.0, 1.0)
    one = small_site.layout("a", device("s1", *here), device("s2", *there))
    other = small_site.layout(
        "b",
        device("s9", *here),
        device("s3", *there),
        device("g1", 5.0, 5.0),
        device("r4", 0.0, 0.0),
    )
    site = small_site(one, other)
    for draw in range(50):
        (first,) = strengths_cdbm(link_table(site, one), draw).values()
        second = strengths_cdbm(link_table(site, other), draw)["s3~s9"]
        assert first == second[::-1]  # ids turn the link round


def test_another_seed_and_another_draw_are_other_buildings(small_site):
    layout = small_site.layout(
        "a", small_site.device("s1", 0.0, 0.0), small_site.device("s2", 9.0, 0.0)
    )
    table = link_table(small_site(layout), layout)
    drawn = [strengths_cdbm(table, draw, seed)["s1~s2"] for seed in (1, 2) for draw in range(20)]
    assert len({tuple(strengths) for strengths in drawn}) == 40


def moved_by(small_site, move_m, **radio):
    """Shifts before and after one of three devices moves; 0 is the middle of a 0.1 m step."""
    device = small_site.device
    found = []
    for x_m in (0.0 - move_m / 2, 0.0 + move_m / 2):
        devices = (device("s1", x_m, 0.0), device("s2", 8.0, 0.0), device("s3", 0.0, 8.0))
        layout = small_site.layout("a", *devices)
        found.append(shifts_db(small_site(layout, radio=radio), layout, n_draws=400))
    return found


def test_what_moves_by_two_centimetres_keeps_its_luck(small_site):
    """The part of the two places alone and the direction difference stay, to the rounding."""
    before, after = moved_by(small_site, 0.02, shadowing_shared=0.0, distance_power_spread=0.0)
    for link, shift in before.items():
        assert np.abs(after[link] - shift).max() < 0.011  # strengths are whole 0.01 dB


def test_the_field_hardly_changes_over_two_centimetres(small_site):
    """Its structure function: Var = 0.33 x 10^2 x (2 - 2 exp(-d / 6)) / (2 (1 + exp(-8 / 6)))."""
    before, after = moved_by(small_site, 0.02, **FIELD_ALONE)
    assert np.array_equal(before["s2~s3"], after["s2~s3"])
    variance = 33 * (1 - math.exp(-0.02 / 6)) / (1 + math.exp(-8 / 6))
    change_db = (after["s1~s2"] - before["s1~s2"])[:, 0]
    assert is_within(change_db**2, variance)


def test_what_moves_by_two_metres_gets_other_links_and_changes_no_others(small_site):
    before, after = moved_by(small_site, 2.0)
    assert np.array_equal(before["s2~s3"], after["s2~s3"])
    for link in ("s1~s2", "s1~s3"):
        assert np.abs(before[link] - after[link]).std() > 5.0


@pytest.fixture(scope="module")
def walled_site(small_site):
    """A hall with two concrete walls across it, and pairs through one, both and none of them."""
    walls = tuple(
        Wall(f"w{n}", "L1", x, -99.0, x, 99.0, "concrete_200") for n, x in ((1, 2.0), (2, 6.0))
    )
    building = replace(small_site.open_plan, walls=walls)
    places = {"s1": (0, 0), "s2": (4, 0), "s3": (0, 50), "s4": (4, 50), "s5": (8, 0), "s6": (4, 3)}
    layout = small_site.layout(
        "a", *(small_site.device(id, float(x), float(y), **LOUD) for id, (x, y) in places.items())
    )
    return small_site(layout, building=building, radio=STILL)


@pytest.fixture(scope="module")
def walled(walled_site):
    return shifts_db(walled_site, walled_site.layouts[0], 600)


def test_a_construction_has_one_offset_for_all_links_through_it(walled):
    """Elementary: the same wall type was built by the same people; strengths are whole 0.01 dB."""
    through_one = walled["s1~s2"]
    assert np.abs(walled["s3~s4"] - through_one).max() < 0.011
    assert np.abs(walled["s2~s5"] - through_one).max() < 0.011
    assert np.abs(walled["s1~s5"] - 2 * through_one).max() < 0.021
    assert np.abs(walled["s2~s6"]).max() < 0.0051  # nothing in the way


def test_a_constructions_offset_has_the_spread_that_the_catalogue_says(walled):
    """concrete_200 states 3 dB; its loss is more than four of them, so nothing is cut off."""
    assert is_within(walled["s1~s2"][:, 0], 0.0)
    assert has_spread(walled["s1~s2"][:, 0], 3.0)


@pytest.fixture(scope="module")
def lined(small_site):
    """Shifts of a path through a lined shaft that is too wide to go round."""

    def shifts(loss_db, spread_db):
        outline = ((2.0, -99.0), (6.0, -99.0), (6.0, 99.0), (2.0, 99.0))
        building = replace(
            small_site.open_plan,
            shafts=(Shaft("S1", "L1", "L1", outline, "lined"),),
            constructions=(
                *small_site.open_plan.constructions,
                ("lined", Construction(loss_db=loss_db, spread_db=spread_db)),
            ),
        )
        layout = small_site.layout(
            "a", small_site.device("s1", 0.0, 0.0, **LOUD), small_site.device("s2", 9.0, 0.0)
        )
        site = small_site(layout, building=building, radio=STILL)
        return shifts_db(site, layout, 600)["s1~s2"][:, 0]

    return shifts


def test_a_lining_that_is_crossed_twice_is_off_twice(lined):
    """Two sides of 9 dB, off by the same 1.5 dB each: 3 dB together."""
    shift = lined(9.0, 1.5)
    assert is_within(shift, 0.0)
    assert has_spread(shift, 2 * 1.5)


def test_neither_side_of_a_lining_strengthens_a_signal(lined):
    """3 dB a side, off by 5 dB: P(offset < -3 dB) of a normal law gives back both, 6 dB."""
    shift = lined(3.0, 5.0)
    assert shift.max() == pytest.approx(6.0, abs=0.0051)
    assert is_within(shift > 5.99, 0.5 * math.erfc(3 / (5 * math.sqrt(2))))


def test_a_loss_that_is_held_at_its_limit_has_no_luck_of_its_lining(lined):
    """Two sides of 20 dB are held at ``obstacle_most_db``, 25 dB; strengths are whole 0.01 dB."""
    assert np.abs(lined(20.0, 3.0)).max() < 0.0051


def test_no_construction_ever_strengthens_a_signal(small_site):
    thin = ("thin", Construction(loss_db=1.0, spread_db=5.0))
    walls = (Wall("w1", "L1", 2.0, -9.0, 2.0, 9.0, "thin"),)
    constructions = (*small_site.open_plan.constructions, thin)
    building = replace(small_site.undrawn, walls=walls, constructions=constructions)
    layout = small_site.layout(
        "a", small_site.device("s1", 0.0, 0.0), small_site.device("s2", 4.0, 0.0)
    )
    shift = shifts_db(small_site(layout, building=building, radio=STILL), layout, 400)["s1~s2"][
        :, 0
    ]
    assert shift.max() == pytest.approx(1.0, abs=0.0051)
    # P(offset < -1 dB) of a normal law with spread 5 dB
    assert is_within(shift > 0.99, 0.5 * math.erfc(1 / (5 * math.sqrt(2))))


def test_the_distance_exponent_is_one_draw_for_the_whole_building(small_site):
    """N log10(d) of ITU-R P.1238: over 100 m an offset of N weighs twice as much as over 10 m."""
    devices = [small_site.device(f"s{n}", x, 0.0, **LOUD) for n, x in enumerate((0.0, 10.0, 100.0))]
    layout = small_site.layout("a", *devices)
    site = small_site(layout, radio=STILL | {"distance_power_spread": 2.0})
    shift = shifts_db(site, layout, 600)
    assert has_spread(shift["s0~s1"][:, 0], 2.0)
    assert np.abs(shift["s0~s2"] - 2 * shift["s0~s1"]).max() < 0.016


@pytest.fixture(scope="module")
def surveyed(small_site):
    """Shifts in buildings that a survey has corrected, two walls in the way and one hall alone."""
    walls = (
        Wall("w1", "L1", 2.0, -99.0, 2.0, 99.0, "concrete_200"),
        Wall("w2", "L1", 6.0, -99.0, 6.0, 99.0, "brick_250"),
    )
    building = replace(small_site.open_plan, walls=walls)
    places = {"s1": (0, 0), "s2": (4, 0), "s3": (8, 0), "s4": (4, 100)}
    devices = (small_site.device(id, float(x), float(y), **LOUD) for id, (x, y) in places.items())
    layout = small_site.layout("a", *devices)
    layout = replace(layout, links=(GivenLink("s2", "s3", None, -70.0),))

    def shifts(residual_db=5.0, **radio):
        known = Calibration(
            Correction(1.0, 0.5, 12), (("concrete_200", Correction(4.0, 1.2, 8)),), residual_db, 12
        )
        site = small_site(layout, building=building, radio=radio)
        return shifts_db(replace(site, calibration=known), layout, 1200)

    return shifts


def test_a_surveyed_construction_and_distance_are_as_unsure_as_the_survey_left_them(surveyed):
    """1.2 dB instead of 3 dB, and 0.5 dB per decade instead of 2; brick_250 keeps its 3 dB.

    s2~s4 is 100 m long, two decades, with nothing in the way; s1~s2 is 4 m long, behind concrete.
    """
    still = {"shadowing_shared": 0.0, "direction_difference_db": 0.0, "survey_spread_db": 0.0}
    shift = surveyed(0.0, **still)
    assert has_spread(shift["s2~s4"][:, 0], 2 * 0.5)
    assert has_spread(shift["s1~s2"][:, 0], math.hypot(1.2, 0.5 * math.log10(4)))
    both_db = math.hypot(1.2, 3.0, 0.5 * math.log10(8))
    assert has_spread(shift["s1~s3"][:, 0], both_db)


@pytest.mark.parametrize(("residual_db", "left_db"), [(5.0, 4.0), (3.2, 3.0), (10.9, 10.48)])
def test_what_is_left_about_a_surveyed_prediction_is_its_shadowing(surveyed, residual_db, left_db):
    """By the squares of 3, 4 and 5: the survey's own 3 dB are no part of the building.

    It never falls below them, for a predicted link is not surer than a measured one.
    """
    shift = surveyed(residual_db, direction_difference_db=0.0)
    assert has_spread(shift["s2~s4"][:, 0], math.hypot(left_db, 2 * 0.5))


def test_a_measured_link_keeps_its_survey_spread_in_a_surveyed_building(surveyed):
    assert has_spread(surveyed()["s2~s3"][:, 0], 3.0)


def test_a_survey_moves_the_prediction_and_not_the_luck(small_site):
    """1 dB per decade over 10 m, the luck of the same places with it."""
    layout = small_site.layout(
        "a", small_site.device("s1", 0.0, 0.0), small_site.device("s2", 10.0, 0.0)
    )
    site = small_site(layout)
    as_documented = math.hypot(10.0, 3.0)
    known = Calibration(Correction(1.0, 2.0, 9), (), as_documented, 9)
    before, after = (link_table(one, layout) for one in (site, replace(site, calibration=known)))
    for draw in range(20):
        moved = [strengths_cdbm(one, draw)["s1~s2"][0] for one in (before, after)]
        assert moved[0] - moved[1] == pytest.approx(100, abs=1)  # strengths are whole 0.01 dB


@pytest.fixture(scope="module")
def pair(small_site):
    """Shifts of one predicted and one measured link, everything else at its default."""
    device = small_site.device
    layout = small_site.layout(
        "a", device("s1", 0.0, 0.0), device("s2", 9.0, 0.0), device("s3", 0.0, 9.0)
    )
    layout = replace(layout, links=(GivenLink("s1", "s3", None, -70.0),))
    return shifts_db(small_site(layout), layout)


def test_a_measured_link_is_narrowed_to_the_survey_spread_and_never_to_nothing(pair):
    """3 dB left of sqrt(10^2 + (2 log10 9)^2 + (2.4 / 2)^2) by the settings' definitions."""
    there, back = pair["s1~s3"].T
    assert is_within(there, 0.0)
    assert has_spread(there, 3.0)
    assert np.array_equal(there, back)
    unmeasured_db = math.sqrt(10**2 + (2 * math.log10(9)) ** 2 + 1.2**2)
    assert has_spread(pair["s1~s2"][:, 0], unmeasured_db)


def test_the_two_directions_differ_as_little_as_links_in_offices_do(pair):
    """Brun-Laguna et al. 2018: within 7 dB of each other in 99.6 % of cases."""
    there, back = pair["s1~s2"].T
    assert is_within(there - back, 0.0)
    assert has_spread(there - back, 2.4)
    assert is_within(np.abs(there - back) <= 7.0, 0.996)


def test_compiled_draws_give_the_same_strengths_to_the_hundredth(walled_site):
    ready = prospect(link_table(walled_site, walled_site.layouts[0]))
    unsigned = {draws.unsigned: numba.njit(lambda n: np.uint64(n))}  # noqa: PLW0108 - no type
    compiled = bind((draws, strengths), compiler(None), unsigned)["draw_strengths"]
    assert len(ready.lots.construction_keys) == 1
    for draw in range(20):
        found = np.zeros((len(ready.lots.ends), 2), np.int64)
        compiled(SEED, draw, ready.lots, found)
        assert np.array_equal(found, ready.strengths_cdbm(SEED, draw))


@pytest.fixture(scope="module")
def three_nodes(small_site):
    """Shifts of the three links of three nodes in a row, 5 m apart, shared shadowing on and off.

    In units of its spread, shape (draws, links): first hop, second hop, the direct link.
    """
    places = {"s1": 0.0, "s2": 5.0, "s3": 10.0}
    layout = small_site.layout(
        "a", *(small_site.device(id, x, 0.0, **LOUD) for id, x in places.items())
    )
    found = []
    for shared in (0.33, 0.0):
        site = small_site(layout, radio=FIELD_ALONE | {"shadowing_shared": shared})
        shift = shifts_db(site, layout, 5000)
        found.append(np.stack([shift[id][:, 0] / 10 for id in ("s1~s2", "s2~s3", "s1~s3")], axis=1))
    return found


HOP, DIRECT = 2.0, 1.1  # margins in spreads: the direct link has 30 log10(2) = 9 dB less
# Correlations of the three links by the sum of the field at their ends, as above.
AS_DESIGNED = np.array([[1, 0.2367, 0.2600], [0.2367, 1, 0.2600], [0.2600, 0.2600, 1]])


def route_failures(shift):
    """Draws in which neither the direct link nor the two hops together carry anything."""
    return (shift[:, 2] < -DIRECT) & ((shift[:, 0] < -HOP) | (shift[:, 1] < -HOP))


def route_failure_share(correlation):
    """The same from scipy's multivariate normal law."""
    turned = np.diag([-1.0, -1.0, 1.0])
    both_hops = multivariate_normal.cdf([HOP, HOP, -DIRECT], cov=turned @ correlation @ turned)
    return multivariate_normal.cdf([-DIRECT], cov=[[1.0]]) - both_hops


def test_three_links_fail_together_several_times_as_often_with_shared_shadowing(three_nodes):
    """All three of one neighbourhood 1 spread below the mean, against scipy's normal law."""
    for shift, correlation in zip(three_nodes, (AS_DESIGNED, np.eye(3)), strict=True):
        expected = multivariate_normal.cdf([-1.0, -1.0, -1.0], cov=correlation)
        assert is_within((shift < -1).all(axis=1), expected)
    shared, alone = ((shift < -1).all(axis=1).mean() for shift in three_nodes)
    assert shared > 2 * alone


def test_a_three_node_route_fails_about_twice_as_often_with_shared_shadowing(three_nodes):
    """Agrawal and Patwari 2009 (abstract): independence underestimates it twice or more.

    Their margins are not given there. Here, with a margin of 2 spreads on each hop, scipy's normal
    law gives a ratio of 2.18 at 5 m between the nodes; at 10 m it would be 1.92, and with a margin
    of 1 spread only 1.24. So the published factor is met for links planned with a good margin and
    close together, and not for weak ones.
    """
    shares = []
    for shift, correlation in zip(three_nodes, (AS_DESIGNED, np.eye(3)), strict=True):
        expected = route_failure_share(correlation)
        assert is_within(route_failures(shift), expected)
        shares.append(expected)
    assert shares[0] / shares[1] == pytest.approx(2.18, abs=0.01)
    errors = route_failures(three_nodes[0]).astype(float) - route_failures(three_nodes[1])
    assert errors.mean() > 0
    assert is_within(errors, shares[0] - shares[1])
