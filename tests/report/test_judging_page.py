"""The page of a judgement, from lifetimes made by hand."""

from collections import Counter
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from resilience.building.service.policy import Lost, Policy, Start
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.splitting.runs import RareFigure
from resilience.policy.bounds import watch_of
from resilience.policy.judgement import Verdict
from resilience.policy.judging import judged
from resilience.policy.rare import OverRates
from resilience.report.promised.judging import judgement_page

N = 256
ORDER = np.random.default_rng(1).permutation(N)
POLICY = Policy(24.0, 0.95, max_orphans=0)
BREAKS = Counter({("hardware", "R1"): 75, ("radio draw", ""): 25})


class Undertaken:
    """What is played, without anything that could be."""

    engine = "made up"

    def __init__(self, site):
        self.site, self.layouts = site, site.layouts

    def stage(self, layout, table):
        return layout, table


@pytest.fixture
def judge(site_of, study_of, monkeypatch):
    """Return a judge of layouts by the share of 256 buildings that break it for two days."""

    def told(policy=POLICY, **shares):
        site = site_of(dict.fromkeys(shares, "G1 R1 S1 S2"))
        columns = [f"most_orphans_beyond_{place}" for place in range(7)]
        columns += [f"most_dark_beyond_{place}" for place in range(7)]
        columns += [f"most_silent_beyond_{place}" for place in range(7)]

        def play(_):
            lost = {name: (np.repeat(ORDER, 2) < share * N) * 1 for name, share in shares.items()}
            studies = [
                study_of(layout, [0] * 2 * N, {}, **dict.fromkeys(columns, lost[layout.name]))
                for layout in site.layouts
            ]
            return [replace(one, watch=watch_of(policy)) for one in studies]

        nowhere = SimpleNamespace(of=lambda _: None)
        monkeypatch.setattr("resilience.policy.judging.site_table", lambda *_: nowhere)
        monkeypatch.setattr("resilience.policy.judging.excess_ms", lambda *_: BREAKS)
        return judged(Undertaken(site), policy, play)

    return told


def test_the_first_lines_say_promise_verdict_bound_and_what_breaks_it(judge, shown):
    page = " ".join(shown(judgement_page(judge(a=0.5, b=0.0, c=0.04))).split())
    assert page.startswith(
        "Promise: never more than 0 of 2 sensors cut off at once (working, but with no way to a "
        "gateway) for longer than 24 h, kept over 1 years with a probability of 95 %"
    )
    assert "a breaks it: at least 4" in page
    assert "of 100 lifetimes do, and only 5 may. It depends on the survey" in page
    assert "What breaks it: R1 (fails), 75 %." in page
    assert "b keeps it: at most 2." in page
    assert "c is undecided: " in page
    assert "As an owner would see it, silent for any reason with site outages: 50 of 100" in page
    assert "Other failure rates were not tried: all of this holds under the assumed rates." in page


def test_layouts_of_which_the_same_is_to_be_told_share_a_sentence(judge, shown):
    page = " ".join(shown(judgement_page(judge(a=0.5, b=0.0, c=0.0, d=0.5))).split())
    assert "b and c keep it, each: at most" in page
    assert "a and d break it, each: at least" in page


def test_lifetimes_without_a_break_say_how_many_would_do(judge, shown):
    """A miss of 1 in 80 at 0.99 takes 437 buildings at least; looks are at 384 and at 576."""
    assert 0.99**437 < 1 / 80 < 0.99**436
    strict = replace(POLICY, kept_with_probability=0.99)
    page = " ".join(shown(judgement_page(judge(strict, a=0.0))).split())
    assert "None of 512 lifetimes did; 1152 without a break would show that it is kept." in page


def test_what_could_be_promised_is_told_by_duration_for_every_layout(judge, shown):
    lines = shown(judgement_page(judge(a=0.5, b=0.0))).splitlines()
    rows = [line.split() for line in lines if line.split()[:1] in (["24"], ["72"], ["1440"])]
    assert rows == [["24", "<", "1", "(0)", "0"], ["72", "0", "0"], ["1440", "0", "0"]]


@pytest.mark.parametrize(
    ("policy", "words"),
    [
        (
            Policy(24.0, 0.95, max_orphans=0, count=Lost.DARK),
            "dark at once (failed, or with no way",
        ),
        (Policy(24.0, 0.95, max_orphans=0, start=Start.FIRST_ROUTE), "each from its first way on"),
        (Policy(100.0, 0.95, max_orphans=0), "for longer than 100 h (4.2 days)"),
        (Policy(24.0, 0.95, max_orphan_share=0.6), "never more than 1 of 2 sensors"),
        (Policy(0.01, 0.95, max_orphans=0), "to move to another parent"),
        (Policy(24.0, 0.95, max_orphans=2), "This promise cannot be broken"),
    ],
)
def test_a_promise_is_told_as_it_counts(judge, shown, policy, words):
    assert words in " ".join(shown(judgement_page(judge(policy, a=0.0))).split())


@pytest.mark.parametrize(
    ("verdict", "says"),
    [(Verdict.KEPT, "a keeps it by splitting"), (Verdict.UNDECIDED, "a is undecided by splitting")],
)
def test_a_verdict_by_splitting_says_how_it_was_made_and_what_it_rests_on(
    judge, shown, verdict, says
):
    rare_policy = replace(POLICY, kept_with_probability=0.9999)
    found = judge(rare_policy, a=0.0)
    share = Estimate(2.5e-5, 1.23e-5, 3.78e-5, 0.95, "by hand")
    rare = RareFigure(share, 1e-6, 64, 9_000, 40_000, 32, (30, 5))
    one = replace(found.judged[0], rare=rare, verdict=verdict)
    page = " ".join(shown(judgement_page(replace(found, judged=(one,)))).split())
    assert (
        f"{says}: 0.0025 of 100 lifetimes (0.0012 to 0.0038) break it under the assumed rates, and "
        "0.01 may (95 % interval of 32 independent runs, no bound of finite samples). "
        "Over the range of the rates: not tested (--over-defaults)." in page
    )
    assert "by splitting, under the assumed rates" in page


def test_a_rare_figure_stands_beside_its_range_over_the_rates(judge, shown):
    found = judge(replace(POLICY, kept_with_probability=0.9999), a=0.0)
    share, high = (Estimate(m, m / 2, 2 * m, 0.95, "by hand") for m in (1e-5, 4e-4))
    runs = 1e-6, 64, 9_000, 40_000, 32, (30, 5)
    rare, at_high = (RareFigure(one, *runs) for one in (share, high))
    rates = OverRates(None, at_high, ("hazards.hardware.per_year",))
    one = replace(found.judged[0], rare=rare, verdict=Verdict.KEPT, over_rates=rates)
    page = " ".join(shown(judgement_page(replace(found, judged=(one,)))).split())
    assert (
        "Over the range of 1 rate that the site does not state: all low not told (too few runs "
        "came to it); all high 0.04 of 100 (0.020 to 0.080)." in page
    )
