"""The result depends on the number of lifetimes, never on who played them or when it stopped."""

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.errors import UsageError
from resilience.montecarlo.runs.running import (
    INTERRUPTED,
    OUT_OF_TIME,
    REACHED,
    Budget,
    Undertaking,
    played,
)
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import studies
from resilience.montecarlo.telling import study_json
from resilience.ranking.comparison import ranked
from resilience.ranking.pairs import Verdict


@pytest.fixture(scope="module")
def undertaking(site):
    return Undertaking(site, site.layouts, seed=7, count_site_outages=False)


def as_values(tally):
    rows = tally.rows.tolist()
    return (tally.first, rows, tally.sensors, dict(tally.blame_ms), dict(tally.began))


def as_bytes(found):
    return json.dumps([study_json(study) for study in found], allow_nan=False).encode()


@pytest.fixture(scope="module")
def of_20(undertaking):
    return as_bytes(studies(undertaking, Budget(20)))


@pytest.mark.parametrize("workers", [2, 3])
def test_any_number_of_workers_gives_the_same_bytes(undertaking, of_20, workers):
    assert as_bytes(studies(undertaking, Budget(20), workers=workers)) == of_20


def test_any_order_of_devices_gives_the_same_bytes(undertaking, of_20):
    turned = tuple(replace(one, devices=one.devices[::-1]) for one in undertaking.layouts)
    assert as_bytes(studies(replace(undertaking, layouts=turned), Budget(20))) == of_20


def test_a_layout_fares_alike_whatever_it_is_compared_with(undertaking, of_20):
    (alone,) = studies(replace(undertaking, layouts=undertaking.layouts[1:]), Budget(20))
    assert json.loads(as_bytes([alone]))[0] == json.loads(of_20)[1]


def test_a_longer_study_extends_a_shorter_one(undertaking):
    short, long = (played(undertaking, Budget(n)).tallies[0].rows.tolist() for n in (10, 20))
    assert long[:10] == short


def test_another_seed_gives_other_lifetimes(undertaking):
    rows = [
        played(replace(undertaking, seed=seed), Budget(4)).tallies[0].rows.tolist()
        for seed in (7, 8)
    ]
    assert rows[0] != rows[1]


@pytest.mark.parametrize(("asked", "played_in_all"), [(1, 2), (2, 2), (3, 4), (11, 12)])
def test_lifetimes_are_rounded_up_to_whole_buildings(undertaking, workshop, asked, played_in_all):
    found = played(undertaking, Budget(asked))
    assert [tally.n_lifetimes for tally in found.tallies] == [played_in_all] * 2
    assert found.stopped_because == REACHED


def test_progress_counts_the_lifetimes_of_all_layouts(undertaking, workshop):
    """Told first when the layouts are ready, then piece by piece: 1, 2, 4 and 3 building draws."""
    told = []
    played(undertaking, Budget(20), progress=lambda done, to_do: told.append((done, to_do)))
    assert told == [(done, 40) for done in (0, 2, 4, 8, 12, 20, 28, 34, 40)]


def interrupting(lifetimes):
    """Progress that stands for a person who presses Ctrl-C after so many lifetimes."""

    def told(done, to_do):
        if done >= lifetimes:
            raise KeyboardInterrupt

    return told


@pytest.mark.parametrize(("done", "reached"), [(4, 2), (8, 2), (12, 6), (20, 6), (28, 14)])
def test_an_interrupted_study_keeps_what_all_layouts_have_reached_and_says_so(
    undertaking, workshop, done, reached
):
    found = played(undertaking, Budget(100), progress=interrupting(done))
    assert found.stopped_because == INTERRUPTED
    whole = played(undertaking, Budget(reached)).tallies
    assert [as_values(one) for one in found.tallies] == [as_values(one) for one in whole]


def test_workers_that_are_interrupted_keep_what_all_layouts_have_reached(undertaking, workshop):
    """A round of two workers is two building draws of each layout: eight lifetimes in all."""
    found = played(undertaking, Budget(100), workers=2, progress=interrupting(8))
    assert found.stopped_because == INTERRUPTED
    assert [tally.n_lifetimes for tally in found.tallies] == [4, 4]


@pytest.mark.parametrize("done", [0, 2])
def test_an_interrupt_before_anything_is_complete_is_passed_on(undertaking, workshop, done):
    with pytest.raises(KeyboardInterrupt):
        played(undertaking, Budget(100), progress=interrupting(done))


def within(seconds, workshop, lifetimes=100_000):
    return Budget(lifetimes, seconds, workshop.clock)


@pytest.mark.parametrize(
    ("seconds", "lifetimes", "ended"),
    [(0, 2, 200), (60, 2, 200), (200, 2, 200), (250, 2, 300), (399, 4, 400), (401, 4, 500)],
)
def test_a_slow_study_ends_one_piece_after_its_time_at_most(
    undertaking, workshop, seconds, lifetimes, ended
):
    """A building draw of either layout takes 100 s; one of each is played whatever the time."""
    workshop.draw_s = {"a": 100.0, "b": 100.0}
    found = played(undertaking, within(seconds, workshop))
    assert found.stopped_because == OUT_OF_TIME
    assert [tally.n_lifetimes for tally in found.tallies] == [lifetimes] * 2
    assert workshop.now == 1000 + ended


COSTS = st.one_of(st.floats(1e-4, 0.1), st.floats(0.1, 50.0))


@settings(derandomize=True, deadline=None, max_examples=60)
@given(costs=st.tuples(COSTS, COSTS), overhead=st.floats(0, 0.5), seconds=st.floats(0, 20))
def test_a_time_limit_is_kept_within_a_piece_and_a_piece_within_two_seconds(
    undertaking, new_workshop, costs, overhead, seconds
):
    """Two seconds, because a doubled piece of an unlike layout may take longer than the last."""
    with pytest.MonkeyPatch.context() as patched:
        shop = new_workshop(patched)
        shop.draw_s, shop.piece_s = dict(zip("ab", costs, strict=True)), overhead
        found = played(undertaking, within(seconds, shop, 2000))
    one_draw_s = max(costs) + overhead
    must_s = sum(costs) + 2 * overhead
    assert shop.longest_s() <= max(one_draw_s, 2.0) + 1e-9
    assert shop.now - 1000 <= max(seconds, must_s) + shop.longest_s() + 1e-9
    assert found.tallies[0].n_lifetimes == found.tallies[1].n_lifetimes >= 2
    if found.stopped_because == OUT_OF_TIME:
        assert shop.now - 1000 >= seconds
    else:
        assert found.tallies[0].n_lifetimes == 2000


def test_pieces_grow_by_doubling_and_then_take_a_second(undertaking, workshop):
    """4 ms a building draw: 1, 2, 4 ... draws, cut at 64, 128, 256 and so on; 250 at most."""
    workshop.draw_s = {"a": 4e-3, "b": 2e-3}
    played(undertaking, within(600, workshop, 10_000))
    sizes = [n // 2 for name, _, n in workshop.pieces if name == "a"]
    assert sizes[:11] == [1, 2, 4, 8, 16, 32, 1, 64, 128, 128, 192]
    assert max(sizes) == 250
    assert len(sizes) < 40


def test_pieces_shrink_where_a_site_turns_slow(undertaking, workshop):
    workshop.draw_s = {"a": 0.01, "b": 0.01}

    def slower(done, to_do):
        if done >= 1000:
            workshop.draw_s = {"a": 0.1, "b": 0.1}

    played(undertaking, within(600, workshop, 2000), progress=slower)
    late = [n // 2 for _, first, n in workshop.pieces if first > 1000]
    assert max(late) == 10


def test_a_slow_first_piece_does_not_hold_later_ones_down(undertaking, workshop):
    """The first one waits for a compiler."""
    workshop.draw_s = {"a": 60.0, "b": 1e-3}

    def compiled(done, to_do):
        if done:
            workshop.draw_s["a"] = 1e-3

    played(undertaking, within(600, workshop, 2000), progress=compiled)
    assert [n // 2 for name, _, n in workshop.pieces if name == "a"][:5] == [1, 1, 2, 4, 8]


def test_the_last_round_is_no_longer_than_there_is_time_for(undertaking, workshop):
    """Half a second would be left after whole rounds of two seconds: both layouts use it."""
    workshop.draw_s = {"a": 0.01, "b": 0.01}
    found = played(undertaking, within(10.5, workshop))
    assert found.stopped_because == OUT_OF_TIME
    assert 10.5 <= workshop.now - 1000 <= 10.53
    assert sum(n for *_, n in workshop.pieces) - 2 * found.tallies[0].n_lifetimes <= 2


@pytest.mark.parametrize("workers", [2, 3])
def test_workers_begin_nothing_once_time_is_over(undertaking, workshop, workers):
    """All that are under way finish; each building draw ends the time allowed."""
    workshop.draw_s = {"a": 100.0, "b": 100.0}
    found = played(undertaking, within(250, workshop), workers=workers)
    assert found.stopped_because == OUT_OF_TIME
    assert found.tallies[0].n_lifetimes == found.tallies[1].n_lifetimes >= 2
    assert len(workshop.pieces) <= 3 + 2 * workers


def test_equal_numbers_of_lifetimes_give_equal_figures_whatever_ended_the_study(
    undertaking, workshop
):
    workshop.draw_s = {"a": 0.07, "b": 0.05}
    cut = played(undertaking, within(7.3, workshop))
    n = cut.tallies[0].n_lifetimes
    assert cut.stopped_because == OUT_OF_TIME
    assert n not in (128, 256)
    whole = played(undertaking, Budget(n)).tallies
    assert [as_values(one) for one in cut.tallies] == [as_values(one) for one in whole]


def test_a_study_that_is_complete_is_not_out_of_time(undertaking, workshop):
    found = played(undertaking, within(0.0, workshop, 2))
    assert found.stopped_because == REACHED


@pytest.mark.parametrize("lifetimes", [2, 4, 10])
def test_a_study_that_ends_before_its_first_look_calls_nothing(undertaking, workshop, lifetimes):
    """Its bounds are honest: they hold the mean and are never of no width."""
    workshop.draw_s = {"a": 1.0, "b": 1.0}
    found = studies(undertaking, within(lifetimes - 0.5, workshop))
    assert [study.n_lifetimes for study in found] == [lifetimes] * 2
    comparison = ranked(undertaking.site, found)
    assert [pair.verdict for pair in comparison.pairs] == [Verdict.TOO_CLOSE]
    for study in found:
        for figure in (study.orphan_hours, study.dark_hours, study.hop_depth):
            assert figure.low <= figure.mean <= figure.high
            assert figure.low < figure.high
    json.dumps(comparison.to_json(), allow_nan=False)


def answers(*rulings):
    """Question that gives these answers look after look, and what it was shown."""
    shown, given = [], iter(rulings)

    def question(tallies):
        shown.append([tally.n_lifetimes for tally in tallies])
        return next(given)

    return question, shown


@pytest.mark.parametrize("workers", [1, 3])
def test_a_question_is_asked_at_looks_and_at_the_end_whatever_the_workers(
    undertaking, workshop, workers
):
    question, shown = answers(Ruling(), Ruling(), Ruling())
    found = played(undertaking, Budget(300), question, workers)
    assert shown == [[128, 128], [256, 256], [300, 300]]
    assert found.stopped_because == REACHED


def test_a_study_ends_when_its_question_is_settled_and_says_so(undertaking, workshop):
    question, shown = answers(Ruling(), Ruling(SETTLED))
    found = played(undertaking, Budget(1000), question)
    assert (found.stopped_because, len(shown)) == (SETTLED, 2)
    assert [tally.n_lifetimes for tally in found.tallies] == [256, 256]
    assert as_values(found.tallies[1]) == as_values(played(undertaking, Budget(256)).tallies[1])


def test_a_dropped_layout_plays_no_further_and_keeps_what_it_has(undertaking, workshop):
    told = []
    question, shown = answers(Ruling("", frozenset({1})), Ruling(), Ruling())
    found = played(undertaking, Budget(300), question, progress=lambda *both: told.append(both))
    assert shown == [[128, 128], [256, 128], [300, 128]]
    assert told[-1] == (428, 428)
    assert max(to_do for _, to_do in told) == 600
    assert as_values(found.tallies[0]) == as_values(played(undertaking, Budget(300)).tallies[0])
    assert as_values(found.tallies[1]) == as_values(played(undertaking, Budget(128)).tallies[1])


def test_a_dropped_layout_keeps_its_own_number_when_time_ends_the_rest(undertaking, workshop):
    """64 building draws of both are 16 s; the other 9 s are 72 draws of one."""
    workshop.draw_s = {"a": 0.125, "b": 0.125}
    question, _ = answers(Ruling("", frozenset({1})), Ruling())
    found = played(undertaking, within(25.0, workshop), question)
    assert found.stopped_because == OUT_OF_TIME
    assert [tally.n_lifetimes for tally in found.tallies] == [2 * (64 + 72), 128]


@pytest.mark.parametrize("lifetimes", [0, -3])
def test_a_budget_without_lifetimes_makes_no_sense(lifetimes):
    with pytest.raises(UsageError, match="at least 1 is needed"):
        Budget(lifetimes)
