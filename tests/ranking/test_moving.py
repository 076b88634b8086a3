"""What has moved between two runs, by rules that can be worked out by hand."""

from dataclasses import replace

import pytest

from resilience.policy.judgement import Verdict
from resilience.ranking.many.moving import Cause, Grounds, Known, Move, Presence, moved
from resilience.ranking.many.sites import Evidence, Figure, LayoutScore, Risk, SiteScore

GROUNDS = Grounds("digest", "files", "promise", "program", 3)


def known(low: float, mean: float, high: float, grounds: Grounds = GROUNDS, **more) -> Known:
    figures = {"hours": Figure(mean, low, high), "sensor": Figure(0.1, 0.0, 0.2), "breach": None}
    rest = {"outage_hours": 0.0, "verdict": None, "worst_sensor": "S1", "not_as_drawn_share": 0.0}
    rest |= {"visits_per_month": 0.0, "worked_h_per_month": None, "hangs_on": "", "happens": ""}
    layout = LayoutScore("a", 16, hangs_on_share=0.0, sensors=(), **{**rest, **figures, **more})
    return Known(
        SiteScore("x", "X", "as if new", "own", False, Evidence(0, 0, 0, 0), (layout,)), grounds
    )


def movement(now: Known, then: Known):
    (found,) = moved({"x": now}, {"x": then}, (frozenset(), frozenset()), Risk.HOURS)
    return found


OTHER_SITE = replace(GROUNDS, digest="another", files="others")


@pytest.mark.parametrize(
    ("bounds", "move"),
    [
        ((7.0, 8.0, 9.0), Move.MORE),
        ((0.0, 1.0, 2.9), Move.LESS),
        ((6.0, 8.0, 9.0), Move.NOISE),  # 6 is the bound then: they meet
        ((0.0, 1.0, 3.0), Move.NOISE),
        ((0.0, 5.0, 9.0), Move.SAME),
    ],
)
def test_only_bounds_that_do_not_meet_show_that_a_figure_has_moved(bounds, move):
    found = movement(known(*bounds, OTHER_SITE), known(3.0, 5.0, 6.0))
    assert found.move(Risk.HOURS) is move
    assert found.is_beyond_noise == (move in (Move.MORE, Move.LESS))
    assert found.move(Risk.BREACH) is None
    assert found.to_json()["moves"] == {"hours": move, "sensor": "same"}


def test_on_the_same_grounds_nothing_has_moved_whatever_luck_shows():
    found = movement(known(7.0, 8.0, 9.0), known(3.0, 5.0, 6.0))
    assert (found.causes, found.move(Risk.HOURS)) == ((), Move.NOISE)


@pytest.mark.parametrize(
    ("grounds", "causes"),
    [
        ({"digest": "other", "files": "other"}, [Cause.SITE]),
        ({"digest": "other", "promise": "other"}, [Cause.PROMISE]),
        ({"digest": "other", "program": "other"}, [Cause.PROGRAM]),
        ({"digest": "other", "seed": 4}, [Cause.SEED]),
        ({"digest": "other", "files": "o", "program": "o"}, [Cause.SITE, Cause.PROGRAM]),
        ({"files": "other"}, []),  # a remark
        ({"promise": "other"}, [Cause.PROMISE]),  # judged otherwise, on the same lifetimes
        ({"program": "other"}, []),  # which plays the same
    ],
)
def test_a_cause_is_what_differs_of_that_on_which_lifetimes_and_verdicts_rest(grounds, causes):
    found = movement(known(0, 1, 2, replace(GROUNDS, **grounds)), known(0, 1, 2))
    assert list(found.causes) == causes


def test_sites_that_come_go_or_fail_are_told_apart():
    one, none = known(0, 1, 2), frozenset[str]()
    found = moved(
        {"a": one, "b": one}, {"a": one, "c": one, "d": one}, (frozenset("d"), none), Risk.HOURS
    )
    assert {each.id: each.presence for each in found} == {
        "a": Presence.BOTH,
        "b": Presence.NEW,
        "c": Presence.GONE,
        "d": Presence.NO_ANSWER,
    }
    (back,) = moved({"e": one}, {}, (none, frozenset("e")), Risk.HOURS)
    assert (back.presence, back.move(Risk.HOURS)) == (Presence.NO_ANSWER_THEN, None)


def test_another_verdict_is_told_where_both_runs_judge():
    kept, broken = (known(0, 1, 2, verdict=one) for one in (Verdict.KEPT, Verdict.BROKEN))
    assert movement(kept, broken).has_another_verdict
    assert not movement(kept, kept).has_another_verdict
    assert not movement(kept, known(0, 1, 2)).has_another_verdict
