"""The first lines for every verdict, one layout, five layouts, and names that are no friends."""

from dataclasses import replace

import pytest

from resilience.montecarlo.estimates import LEVEL, TOO_FEW, Estimate
from resilience.montecarlo.runs.running import OUT_OF_TIME
from resilience.ranking.comparison import Comparison, ranked
from resilience.ranking.pairs import Pair, RankedBy, Verdict
from resilience.report.comparing.opening import opening
from resilience.report.comparing.ranking import comparison_page
from resilience.report.comparing.remarks import copies, incomplete, rare_losses

STEADY = [0, 1, 2, 1] * 60


def bounds(mean: float, low: float, high: float, method: str = "by hand") -> Estimate:
    return Estimate(mean, low, high, LEVEL, method)


@pytest.fixture
def judged(site_of, study_of):
    """Two layouts, a before b, with a verdict that is given."""

    def made(verdict: Verdict, difference: Estimate, aside: int = 0, **changes) -> Comparison:
        site = site_of({"a": "G1 S1", "b": "G1 S1"})
        studies = [
            study_of(site.layout(name), [hours + x for x in STEADY], {("hardware", "S1"): hours})
            for name, hours in (("a", 10.0), ("b", 12.0))
        ]
        found = ranked(site, studies)
        pair = Pair(
            *("a", "b", RankedBy.SERVICE, difference, difference, verdict, aside, (), 0.5, 120)
        )
        return replace(found, pairs=(pair,), **changes)

    return made


@pytest.mark.parametrize(
    ("verdict", "difference", "told"),
    [
        (Verdict.SAME, bounds(0, 0, 0), "a and b are the same in every lifetime played."),
        (
            Verdict.ALIKE,
            bounds(-0.1, -0.312, 0.24),  # a bound is never rounded down
            "a and b are alike, within 0.32 h: choose by what else counts.",
        ),
        (
            Verdict.NEARLY_ALIKE,
            bounds(0.1, -2, 2),
            "a and b are alike, except perhaps in 1 of 20 possible buildings: choose by what else "
            "counts.",
        ),
        (
            Verdict.MIXED,
            bounds(-4, -6, -2),
            "a cuts fewer sensors off than b, yet they are silent for longer in all: decide which "
            "counts.",
        ),
        (
            Verdict.TOO_CLOSE,
            bounds(-2, -3, 1),
            "a and b are too close to call: 2.0 h less (-1.0 to 3.0). About 500 lifetimes, or "
            "measured links, may tell.",
        ),
        (
            Verdict.TOO_CLOSE,
            bounds(-0.1, -40, 40),
            "a and b are too close to call: 0.1 h less (-40.0 to 40.0). More lifetimes would "
            "hardly help; measured links might.",
        ),
        (
            Verdict.TOO_CLOSE,
            bounds(-2, -9, 9, TOO_FEW),
            "a and b are too close to call on so few lifetimes.",
        ),
    ],
)
def test_each_verdict_has_its_sentence(judged, verdict, difference, told):
    assert opening(judged(verdict, difference))[0].startswith(told)


def test_what_a_verdict_leaves_aside_follows_it(judged):
    told = opening(judged(Verdict.ALIKE, bounds(0, -0.4, 0.4), aside=33))[0]
    assert "within 0.4 h, leaving aside what is rarer than 1 in 33 possible buildings: " in told


def test_hop_depth_is_named_where_it_made_the_order(judged):
    told = opening(judged(Verdict.ALIKE, bounds(0, -0.4, 0.4), is_ordered_by_depth=True))[0]
    assert "The one with shorter routes stands first." in told


def test_one_layout_is_not_ranked_and_one_building_is_singular(site_of, study_of, shown):
    site = site_of({"only": "G1 S1"})
    alone = ranked(site, [study_of(site.layout("only"), [1.0, 1.0], {("hardware", "S1"): 2})])
    told = opening(alone)
    assert told[0].startswith("There is one layout, only, so nothing is ranked.")
    assert told[-1].endswith(": 2 lifetimes in 1 possible building.")
    page = shown(comparison_page(alone, with_all_pairs=True))
    for word in ("rank", "shown to be", "Layout against layout", "difference", "--vary"):
        assert word not in page.replace("nothing is ranked", "")


def test_five_layouts_are_all_ranked_and_three_of_a_side_are_named(site_of, study_of, shown):
    site = site_of(dict.fromkeys("abcde", "G1 S1"))
    studies = [
        study_of(site.layout(name), [10.0 * k + x for x in STEADY], {("hardware", "S1"): 2400 * k})
        for k, name in enumerate("abcde")
    ]
    found = ranked(site, studies)
    head = opening(found)[0]
    assert head.startswith("Better: a. A sensor in service is cut off")
    assert "against 11.0 to 41.0 h with b, c, d and 1 more: at least " in head
    page = shown(comparison_page(found))
    ranks = [line.split()[:2] for line in page.splitlines() if line[:6].strip().isdigit()]
    assert ranks == [[str(n), name] for n, name in enumerate("abcde", 1)]
    assert copies(found) == ("a, b, c, d and e are copies: the same devices at the same places.",)
    assert "those of 10 differences together (99.5 % each)" in " ".join(page.split())


def test_time_that_ran_out_is_told_as_such(judged):
    found = judged(Verdict.TOO_CLOSE, bounds(-2, -3, 1))
    cut = [
        replace(one, study=replace(one.study, stopped_because=OUT_OF_TIME)) for one in found.placed
    ]
    last = opening(replace(found, placed=tuple(cut)))[-1]
    assert last.startswith(
        "It stopped because the time allowed was used up before the question was settled: "
    )


def test_a_wait_for_a_first_way_is_named_where_it_decides(site_of, study_of):
    """All 40 h of a are before its first route; b has none."""
    site = site_of({"a": "G1 S1", "b": "G1 R1 S1"})
    wait_ms = [40 * 3_600_000]
    a = study_of(site.layout("a"), [40.0] * 240, {("layout", ""): 9600}, not_reached_ms=wait_ms)
    b = study_of(site.layout("b"), [0.0] * 240, {})
    found = ranked(site, [a, b])
    assert found.ranked_by is RankedBy.ALL
    assert "A sensor, its wait for a first way included, is cut off" in opening(found)[0]


@pytest.mark.parametrize("name", ["\x1b[2Jx", "x\u202ey", "a\nb", "<b>x</b>", "[red]x[/red]"])
def test_hostile_layout_names_stay_text_in_every_sentence(site_of, study_of, shown, name):
    site = site_of({name: "G1 S1", "z": "G1 S1"})
    studies = [
        study_of(
            layout,
            [10.0 + 40 * (layout.name == "z") + x for x in STEADY],
            {("hardware", "S1"): 1.0},
            unreached=[1, 0],
            not_reached_ms=[5, 0],
        )
        for layout in site.layouts
    ]
    found = ranked(site, studies)
    told = " ".join((*opening(found), *copies(found), *incomplete(found), *rare_losses(found)))
    page = shown(comparison_page(found, with_all_pairs=True))
    for text in (told, page.replace("\n", " ")):
        assert not any(ord(one) < 32 or one == "\u202e" for one in text)
    if name.isprintable():
        assert name in told
