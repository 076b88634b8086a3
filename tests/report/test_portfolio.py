"""What ``portfolio`` tells of sites whose figures are made up."""

from dataclasses import replace

import pytest

from resilience.montecarlo.runs.running import OUT_OF_TIME, REACHED
from resilience.policy.judgement import Verdict
from resilience.ranking.many.portfolio import Failure, Portfolio, Since
from resilience.ranking.many.sites import Evidence, Figure, LayoutScore, Risk, SiteScore, placed
from resilience.report.binding.html import html
from resilience.report.many.overview import overview
from resilience.report.many.portfolio import portfolio_page
from resilience.report.pages import Bullets, Command, Table, Text


def layout(hours, breach=None, verdict=None, name="only"):
    return LayoutScore(
        name=name,
        lifetimes=512,
        hours=Figure(hours, 0.9 * hours, 1.1 * hours),
        outage_hours=1.0,
        breach=None if breach is None else Figure(breach, breach, breach),
        verdict=verdict,
        worst_sensor="S7",
        sensor=Figure(0.02, 0.01, 0.03),
        not_as_drawn_share=0.0,
        visits_per_month=0.5,
        worked_h_per_month=2.0,
        hangs_on="R1",
        happens="cells flat 0.2 times a year",
        hangs_on_share=0.84,
        sensors=(),
    )


def site(id, *layouts, links=0):
    evidence = Evidence(links, 30, 120, 160)
    return SiteScore(id, id.title(), "as if new", "own", False, evidence, layouts)


@pytest.fixture
def known():
    """Of sites in the order given, ranked by hours."""

    def of(*scores, failures=(), not_reached=(), why=REACHED):
        places = placed([score.risk(Risk.HOURS) for score in scores])
        ranked = tuple((place, scores[place.position]) for place in places)
        return Portfolio("top", Risk.HOURS, ranked, (), failures, not_reached, 512, 7, why)

    return of


def parts_of(page, kind):
    return [part for block in page.blocks for part in block if isinstance(part, kind)]


def texts_of(page):
    return " ".join(part.text for part in parts_of(page, Text))


def test_a_site_is_taken_to_have_the_layout_that_keeps_its_promise():
    cheap, safe = layout(1, 0.5, Verdict.BROKEN, "cheap"), layout(3, 0.01, Verdict.KEPT, "safe")
    both = site("a", cheap, safe)
    assert both.best(Risk.HOURS).name == "safe"
    assert both.risk(Risk.HOURS) == safe.hours
    assert both.verdict is Verdict.KEPT
    assert site("a", cheap).verdict is Verdict.BROKEN


def test_the_worst_sites_deserve_a_visit_and_the_page_says_why(known):
    calm = [site(f"calm-{k}", layout(1 + k / 10), links=3) for k in range(7)]
    page = portfolio_page(known(*calm, site("storm", layout(120))), "results/x", "page.html")
    (worth,) = parts_of(page, Bullets)
    (sentence,) = worth.sentences
    assert sentence == (
        "storm: 120 (108 to 132) h cut off a sensor and year; 84 % of what it loses hangs on R1 "
        "(cells flat 0.2 times a year); no link is measured, so measure first."
    )


def test_what_keeps_all_of_them_from_being_sure_is_said_once(known):
    calm = [site(f"calm-{k}", layout(1 + k / 10), links=3) for k in range(7)]
    storms = [site("storm", layout(120)), site("gale", layout(60))]
    page = portfolio_page(known(*calm, *storms), "x", "page.html")
    (worth,) = parts_of(page, Bullets)
    assert [one.partition(":")[0] for one in worth.sentences] == ["storm", "gale"]
    assert not any("measure" in one for one in worth.sentences)
    assert "No link of any of these is measured, so measure first." in texts_of(page)


def test_that_no_site_stands_out_is_said_on_both_pages(known):
    found = known(*[site(f"s{k}", layout(0.001)) for k in range(8)])
    page = portfolio_page(found, "x", "page.html")
    assert not parts_of(page, Bullets)
    assert "No site stands out so far" in texts_of(page)
    assert "No site stands out so far" in html(overview(found, "x", {}))


def test_a_broken_promise_deserves_a_visit_wherever_the_site_stands(known):
    sites = [site(f"s{k}", layout(10 - k, 0.01, Verdict.KEPT)) for k in range(8)]
    sites[-1] = site("s7", layout(3, 0.62, Verdict.BROKEN))
    found = known(*sites)
    assert "s7" in [score.id for score in found.worth_a_visit]
    (worth,) = parts_of(portfolio_page(found, "x", "page.html"), Bullets)
    assert "the promise is broken in 62 % of lifetimes" in worth.sentences[-1]


def test_visits_of_all_sites_add_up(known):
    found = known(*[site(f"s{k}", layout(k)) for k in range(8)])
    assert found.visits_per_month == 4.0
    assert "4 visits a month, which take 16 working hours" in texts_of(
        portfolio_page(found, "x", "page.html")
    )


def test_hours_of_work_are_told_only_where_every_site_tells_them_from_waiting(known):
    waits = replace(layout(1), worked_h_per_month=None)
    found = known(*[site(f"s{k}", layout(k)) for k in range(7)], site("s7", waits))
    assert found.worked_h_per_month is None
    page = texts_of(portfolio_page(found, "x", "page.html"))
    assert "4 visits a month." in page
    assert "working hours" not in page


def test_what_all_answers_rest_on_is_told_once_and_not_in_every_row(known):
    found = known(site("a", layout(2)), site("b", layout(1), links=3))
    page = portfolio_page(found, "x", "page.html")
    same = "All of these rest on the same: 30 drawn, 120 of 160 defaults, as if new."
    assert same in texts_of(page)
    assert [row[-1] for row in parts_of(page, Table)[0].rows] == ["0 links", "3 links"]


def test_one_site_alone_tells_in_its_row_what_its_answer_rests_on(known):
    page = portfolio_page(known(site("a", layout(2))), "x", "page.html")
    (row,) = parts_of(page, Table)[0].rows
    assert row[-1] == "0 links, 30 drawn, 120 of 160 defaults, as if new"


def test_sites_without_an_answer_are_told_first(known):
    failures = (Failure("bad", "site.yaml: found x\nsite.yaml: found y", was_played=False),)
    found = known(site("a", layout(1)), failures=failures, not_reached=("b",), why=OUT_OF_TIME)
    page = portfolio_page(found, "x", "page.html")
    assert "1 site failed, 1 site not reached" in page.blocks[0][0].sentence
    table = parts_of(page, Table)[-1]
    assert table.rows == (
        ("bad", "site.yaml: found x (and 1 mistake more); see it with resilience check"),
    )


def test_what_was_taken_over_from_an_earlier_run_is_told_on_both_pages(known):
    calm = known(*(site(f"s{k}", layout(1 + k)) for k in range(4)))
    went_on = replace(calm, since=Since("results/then", ("s0", "gone since"), ("s1",)))
    told = (
        "Of 4 sites since results/then: 1 taken over, as nothing that their "
        "lifetimes rest on has changed since; 1 as they were then, with more lifetimes; "
        "2 played anew."
    )
    page = portfolio_page(went_on, "results/x y", "results/x y/portfolio.html")
    assert told in texts_of(page)
    (command,) = parts_of(page, Command)
    assert command.line == "resilience report 'results/x y' --since results/then"
    assert told in html(overview(went_on, "results/x", {}))
    assert went_on.to_json()["since"]["taken_over"] == ("s0", "gone since")
    assert "since results" not in html(overview(calm, "results/x", {}))


def test_hostile_names_are_shown_as_text(known):
    evil = replace(site("x", layout(1)), id="a\u202e\x1b[31m")
    rows = parts_of(portfolio_page(known(evil), "x", "page.html"), Table)[0].rows
    assert all(cell.isprintable() for cell in rows[0][1].splitlines())


def test_json_has_every_site_with_its_place(known):
    told = known(site("a", layout(1)), site("b", layout(9))).to_json()
    assert [(one["rank"], one["id"]) for one in told["sites"]] == [(1, "b"), (2, "a")]
    assert told["sites"][0]["layouts"][0]["hours"]["mean"] == 9
    assert SiteScore.from_json(site("a", layout(1, 0.5, Verdict.KEPT)).to_json()) == site(
        "a", layout(1, 0.5, Verdict.KEPT)
    )


def listing_of(document, title):
    pieces = (piece for chapter in document.chapters for piece in chapter.pieces)
    (found,) = (one for one in pieces if getattr(one, "title", "") == title)
    return found


def test_the_overview_lists_every_site_with_the_figures_that_json_has(known):
    promise = replace(site("b", layout(9.3, 0.25, Verdict.BROKEN), links=7), promise="shared")
    found = known(site("a", layout(1.5)), promise)
    rows = listing_of(overview(found, "x", {}), "Ranking").table.rows
    for row, told in zip(rows, found.to_json()["sites"], strict=True):
        best = told["layouts"][0]
        assert (row[0], row[3], row[5]) == (str(told["rank"]), told["id"], best["name"])
        assert row[7:10] == tuple(f"{best['hours'][one]:.2g}" for one in ("mean", "low", "high"))
    assert rows[0][10:12] == ("broken (shared)", "25")
    assert rows[1][10:12] == ("none", "")
    rests_on = listing_of(overview(found, "x", {}), "What each answer rests on").table.rows
    assert rests_on[0][:4] == ("b", "7", "30", "120")


def test_the_overview_has_a_chart_that_says_the_same(known):
    found = known(*(site(f"s{k}", layout(k)) for k in range(60)))
    page = overview(found, "x", {})
    chart = listing_of(page, "Hours cut off, of a sensor in a year")
    marks = chart.drawn.findall(".//g[@role='img']")
    assert [float(mark.get("data-value")) for mark in marks] == [59.0 - k for k in range(40)]
    assert len(listing_of(page, "Ranking").table.rows) == 60


def test_the_overview_leads_to_pages_of_sites_and_holds_no_markup_of_others(known):
    evil = replace(site("x", layout(20)), id='<svg onload="alert(1)">', title="</script>")
    text = html(overview(known(evil), "x", {evil.id: "sites/s v/report.html"}))
    assert '<a href="sites/s%20v/report.html">&lt;svg onload=&#34;alert(1)&#34;&gt;' in text
    assert "<svg onload" not in text
    assert text.count("</script>") == 1


def test_the_overview_of_a_portfolio_without_an_answer_says_what_is_wrong(known):
    failures = (Failure("bad", "site.yaml: found x", was_played=False),)
    page = overview(known(failures=failures, not_reached=("b",), why=OUT_OF_TIME), "x", {})
    assert "1 site failed, 1 site not reached" in page.chapters[0].pieces[0].sentence
    assert [row[0] for row in listing_of(page, "What is wrong").table.rows] == ["bad", "b"]
