"""What the README of a demo site tells people to expect, held against the simulation."""

import re

from resilience.montecarlo.runs.running import Budget
from resilience.ranking.comparison import Comparison, compare
from resilience.ranking.pairs import Pair, Verdict

GATE_LIFETIMES, SOAK_LIFETIMES = 2000, 6000  # 2000: the most that compare plays unasked
BEATS = re.compile(r"(\S+) beats (\S+); the difference comes mostly while (\S+) is away\.")
AS_GOOD = re.compile(r"(\S+) and (\S+) lose the same to within (\d+) h per sensor and year\.")


def expectations(text: str) -> list[str]:
    """Sentences that follow ``Expected:``, each on a line of its own."""
    return re.findall(r"^Expected: (.+)$", text, re.MULTILINE)


def share_put_down_to(pair: Pair, subject: str) -> float:
    """Part of a difference that is put down to one device or path."""
    hours = sum(reason.hours for reason in pair.reasons if reason.subject == subject)
    return hours / pair.difference.mean


def check(sentence: str, found: Comparison) -> None:
    """Fail unless the comparison bears the sentence out."""
    if beats := BEATS.fullmatch(sentence):
        better, worse, subject = beats.groups()
        pair = found.pair(better, worse)
        assert pair.verdict is Verdict.BETTER, sentence
        assert share_put_down_to(pair, subject) > 0.5, sentence
        return
    as_good = AS_GOOD.fullmatch(sentence)
    assert as_good, f"no test can read this: {sentence}"
    first, second, hours = as_good.groups()
    pair = next(one for one in found.pairs if {one.first, one.second} == {first, second})
    assert -float(hours) < pair.difference.low, sentence
    assert pair.difference.high < float(hours), sentence


def test_a_demo_site_shows_what_its_readme_says(demo, readme, is_soak, site_name):
    sentences = expectations(readme(site_name))
    assert sentences
    lifetimes = SOAK_LIFETIMES if is_soak else GATE_LIFETIMES
    found = compare(demo(site_name), budget=Budget(lifetimes, seconds=3600))
    assert found.leader.n_lifetimes <= lifetimes
    for sentence in sentences:
        check(sentence, found)


def test_what_to_expect_is_said_of_layouts_that_exist(demo, readme, site_name):
    names = {layout.name for layout in demo(site_name).layouts}
    for sentence in expectations(readme(site_name)):
        read = BEATS.fullmatch(sentence) or AS_GOOD.fullmatch(sentence)
        assert set(read.groups()[:2]) <= names
