"""The result depends on the number of lifetimes, never on who played them or when it stopped."""

import json
from dataclasses import replace

import pytest

from resilience.errors import UsageError
from resilience.lifetime.playing import Stage
from resilience.montecarlo.running import (
    INTERRUPTED,
    OUT_OF_TIME,
    PIECE_LIFETIMES,
    REACHED,
    Budget,
    Plan,
    played,
)
from resilience.montecarlo.stopping import SETTLED, Ruling
from resilience.montecarlo.study import studies


@pytest.fixture(scope="module")
def plan(site):
    return Plan(site, site.layouts, seed=7, count_site_outages=False)


def as_bytes(found):
    return json.dumps([study.to_json() for study in found], allow_nan=False).encode()


@pytest.fixture(scope="module")
def of_20(plan):
    return as_bytes(studies(plan, Budget(20)))


@pytest.mark.parametrize("workers", [2, 3])
def test_any_number_of_workers_gives_the_same_bytes(plan, of_20, workers):
    assert as_bytes(studies(plan, Budget(20), workers=workers)) == of_20


def test_any_order_of_devices_gives_the_same_bytes(plan, of_20):
    turned = tuple(replace(one, devices=one.devices[::-1]) for one in plan.layouts)
    assert as_bytes(studies(replace(plan, layouts=turned), Budget(20))) == of_20


def test_a_layout_fares_alike_whatever_it_is_compared_with(plan, of_20):
    (alone,) = studies(replace(plan, layouts=plan.layouts[1:]), Budget(20))
    assert json.loads(as_bytes([alone]))[0] == json.loads(of_20)[1]


def test_a_longer_study_extends_a_shorter_one(plan):
    short, long = (played(plan, Budget(n)).tallies[0].rows.tolist() for n in (10, 20))
    assert long[:10] == short


def test_another_seed_gives_other_lifetimes(plan):
    rows = [played(replace(plan, seed=seed), Budget(4)).tallies[0].rows.tolist() for seed in (7, 8)]
    assert rows[0] != rows[1]


@pytest.mark.parametrize(("asked", "played_in_all"), [(1, 2), (2, 2), (3, 4), (11, 12)])
def test_lifetimes_are_rounded_up_to_whole_buildings(plan, asked, played_in_all):
    found = played(plan, Budget(asked))
    assert [tally.n_lifetimes for tally in found.tallies] == [played_in_all] * 2
    assert found.stopped_because == REACHED


def test_progress_counts_the_lifetimes_of_all_layouts(plan):
    told = []
    played(plan, Budget(20), progress=lambda done, to_do: told.append((done, to_do)))
    assert told == [(16, 40), (32, 40), (40, 40)]


def interrupting(lifetimes):
    """Progress that stands for a person who presses Ctrl-C after so many lifetimes."""

    def told(done, to_do):
        if done >= lifetimes:
            raise KeyboardInterrupt

    return told


@pytest.mark.parametrize("rounds", [1, 2])
def test_an_interrupted_study_keeps_its_complete_rounds_and_says_so(plan, rounds):
    n = rounds * PIECE_LIFETIMES
    found = played(plan, Budget(100), progress=interrupting(2 * n))  # of two layouts
    assert found.stopped_because == INTERRUPTED
    assert [tally.n_lifetimes for tally in found.tallies] == [n, n]
    assert found.tallies[0].rows.tolist() == played(plan, Budget(n)).tallies[0].rows.tolist()


def test_workers_that_are_interrupted_keep_their_complete_round(plan):
    found = played(plan, Budget(100), workers=2, progress=interrupting(1))
    assert found.stopped_because == INTERRUPTED
    assert [tally.n_lifetimes for tally in found.tallies] == [2 * PIECE_LIFETIMES] * 2


def test_an_interrupt_before_anything_is_complete_is_passed_on(plan, monkeypatch):
    def interrupted(self, first, n):
        raise KeyboardInterrupt

    monkeypatch.setattr(Stage, "tally", interrupted)
    with pytest.raises(KeyboardInterrupt):
        played(plan, Budget(100))


def ticking(*seconds):
    times = iter(seconds)
    return lambda: next(times)


def test_a_study_out_of_time_ends_at_a_look_and_says_so(plan):
    """It starts at 100 s and may take 10 s: 9.9 s after the first look, 10 s after the second."""
    found = played(plan, Budget(1000, 10.0, ticking(100.0, 109.9, 110.0)))
    assert found.stopped_because == OUT_OF_TIME
    assert [tally.n_lifetimes for tally in found.tallies] == [256, 256]


def test_a_study_plays_to_one_look_however_little_time_it_has(plan):
    found = played(plan, Budget(1000, 0.0, ticking(0.0, 5.0)))
    assert found.tallies[0].n_lifetimes == 128


def test_a_study_that_is_complete_is_not_out_of_time(plan):
    found = played(plan, Budget(PIECE_LIFETIMES, 0.0, ticking(0.0, 5.0)))
    assert found.stopped_because == REACHED


def answers(*rulings):
    """Question that gives these answers look after look, and what it was shown."""
    shown, given = [], iter(rulings)

    def question(tallies):
        shown.append([tally.n_lifetimes for tally in tallies])
        return next(given)

    return question, shown


@pytest.mark.parametrize("workers", [1, 3])
def test_a_question_is_asked_at_looks_and_at_the_end_whatever_the_workers(plan, workers):
    question, shown = answers(Ruling(), Ruling(), Ruling())
    found = played(plan, Budget(300), question, workers)
    assert shown == [[128, 128], [256, 256], [300, 300]]
    assert found.stopped_because == REACHED


def test_a_study_ends_when_its_question_is_settled_and_says_so(plan):
    question, shown = answers(Ruling(), Ruling(SETTLED))
    found = played(plan, Budget(1000), question)
    assert (found.stopped_because, len(shown)) == (SETTLED, 2)
    assert [tally.n_lifetimes for tally in found.tallies] == [256, 256]
    whole = played(plan, Budget(256))
    assert found.tallies[1].rows.tolist() == whole.tallies[1].rows.tolist()


def test_a_dropped_layout_plays_no_further_and_keeps_what_it_has(plan):
    told = []
    question, shown = answers(Ruling("", frozenset({1})), Ruling(), Ruling())
    found = played(plan, Budget(300), question, progress=lambda *both: told.append(both))
    assert shown == [[128, 128], [256, 128], [300, 128]]
    assert told[-1] == (428, 428)
    assert max(to_do for _, to_do in told) == 600
    alone = played(plan, Budget(300)).tallies
    assert found.tallies[0].rows.tolist() == alone[0].rows.tolist()
    assert found.tallies[1].rows.tolist() == alone[1].rows.tolist()[:128]


@pytest.mark.parametrize("lifetimes", [0, -3])
def test_a_budget_without_lifetimes_makes_no_sense(lifetimes):
    with pytest.raises(UsageError, match="at least 1 is needed"):
        Budget(lifetimes)
