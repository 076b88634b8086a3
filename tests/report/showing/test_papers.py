"""Papers: what is handed over says what the site and its lifetimes say, and can be filled in."""

import csv
import io
from dataclasses import replace

import pytest

from resilience.building.files.folder import read_site
from resilience.building.settings import Titles
from resilience.connectivity.links import links
from resilience.connectivity.trees import SwitchedOff
from resilience.report.binding.html import html
from resilience.report.papers.sparing import shelf_for
from resilience.report.papers.switching import sentence
from resilience.report.papers.whole import TABLES, layout_of, papers
from resilience.report.showing.conclusion import promise_sentences

STRENGTH_DBM = -71.5


@pytest.fixture(scope="module")
def handed(house_shown):
    return papers(house_shown, layout_of(house_shown, "with-relay"))


def rows_of(handed, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(handed.tables[f"{name}.csv"])))


def test_each_table_that_is_promised_is_written(handed):
    assert set(handed.tables) == {f"{name}.csv" for name in TABLES}


def test_what_to_buy_and_to_hang_is_what_is_installed(handed, house_shown):
    devices = layout_of(house_shown, "with-relay").placed.layout.devices
    assert sum(int(row["pieces"]) for row in rows_of(handed, "buy")) == len(devices) == 6
    hung = {row["device"].lstrip("'"): row for row in rows_of(handed, "mounting")}
    assert set(hung) == {one.id for one in devices}
    assert (hung["R1"]["level"], hung["R1"]["x, m"], hung["R1"]["y, m"]) == ("loft", "36", "4")


def test_a_survey_sheet_that_was_partly_filled_in_is_read_as_measured_links(handed, house):
    """Of all rows two are filled in; the site reads them, and leaves the others out."""
    sheet = rows_of(handed, "survey")
    assert len(sheet) > 4
    for row in sheet[:2]:
        row["rssi_dbm"] = str(STRENGTH_DBM)
    text = io.StringIO()
    writer = csv.DictWriter(text, sheet[0].keys())
    writer.writeheader()
    writer.writerows(sheet)
    target = house / "links.csv"
    target.write_text(text.getvalue(), encoding="utf-8")
    try:
        site = read_site(house)
    finally:
        target.unlink()
    read = {(one.a, one.b): one.rssi_dbm for one in site.layout("with-relay").links}
    assert read == {(row["a"], row["b"]): STRENGTH_DBM for row in sheet[:2]}
    assert f"links.csv: {len(sheet) - 2} rows in which nothing was measured were left out." in (
        site.notes
    )


def test_what_to_expect_is_what_links_are_predicted_to_be(handed, house):
    table = links(read_site(house), "with-relay")
    strengths = {}
    for link in table.links:
        strengths[link.a, link.b] = (link.there.rssi_dbm, link.there.floor_dbm)
        strengths[link.b, link.a] = (link.back.rssi_dbm, link.back.floor_dbm)
    for row in rows_of(handed, "survey"):
        rssi_dbm, floor_dbm = strengths[row["a"], row["b"]]
        assert float(row["#expect_dbm"]) == pytest.approx(rssi_dbm, abs=0.51)
        assert float(row["#accept_from_dbm"]) == pytest.approx(floor_dbm + 10, abs=0.51)
        assert float(row["#from_dbm"]) < float(row["#expect_dbm"]) < float(row["#to_dbm"])


def test_a_walk_goes_from_the_lowest_level_up(handed):
    levels = [row["#level"] for row in rows_of(handed, "survey")]
    assert levels == sorted(levels)  # ground, then loft
    assert set(levels) >= {"ground"}


def test_a_switch_off_test_is_told_as_somebody_would_say_it():
    off = SwitchedOff("R1", ("S4", "S9"), (("S2", "R1", "S7"),))
    assert sentence(off) == "Switch off R1: S4 and S9 go silent, S2 moves to S7."
    assert sentence(SwitchedOff("S1", (), ())) == "Switch off S1: nobody moves."


def test_client_and_author_stand_on_the_papers_and_empty_fields_where_nobody_said(house_shown):
    named = Titles("Brook & Sons <mill>", "C", "A. Writer")
    comparison = replace(house_shown.comparison, site=replace(house_shown.site, titles=named))
    shown = replace(house_shown, comparison=comparison)
    page = html(papers(shown, layout_of(shown, None)).document)
    assert "Client: Brook &amp; Sons &lt;mill&gt;. Drawings: C. Author: A. Writer." in page
    page = html(papers(house_shown, layout_of(house_shown, None)).document)
    assert "Client: ______. Drawings: ______. Author: ______." in page


def test_the_promise_of_a_layout_is_told_of_that_layout_alone(house_shown):
    promised, *told = promise_sentences(house_shown)
    names = [one.layout for one in house_shown.judgement.judged]
    assert len(told) == len(names) == 2
    for name, sentence_of_it in zip(names, told, strict=True):
        assert promise_sentences(house_shown, name) == (promised, sentence_of_it)


def test_site_yaml_takes_the_titles_and_they_move_no_lifetime(house, house_shown):
    from resilience.montecarlo.runs.manifest import digest_of
    from resilience.montecarlo.runs.running import Undertaking

    plain = read_site(house)
    text = (house / "site.yaml").read_text(encoding="utf-8")
    try:
        named = f"{text}client: Brook\ndrawing_revision: 7\nauthor: A. Writer\n"
        (house / "site.yaml").write_text(named, encoding="utf-8")
        site = read_site(house)
    finally:
        (house / "site.yaml").write_text(text, encoding="utf-8")
    assert site.titles == Titles("Brook", "7", "A. Writer")
    assert digest_of(Undertaking.whole(site, 1)) == digest_of(Undertaking.whole(plain, 1))


@pytest.mark.parametrize(
    ("on_order", "kept"),
    [  # cumulative Poisson, any table: 0.9048 and 0.9953; 0.9197 and 0.9810; 0.9161 and 0.9513
        (0.1, 2),
        (1.0, 4),
        (10.0, 16),
    ],
)
def test_a_shelf_serves_95_of_100_calls_at_once(on_order, kept):
    """A call waits if all of the stock is on order: P(X >= S), X Poisson (Palm's theorem).

    Feeney and Sherbrooke, "The (S-1, S) inventory policy under compound Poisson demand" (1966),
    from memory; the tables' values, too.
    """
    assert shelf_for(on_order * 8766 / 480, 480) == kept


def test_the_spare_plan_tells_what_the_lifetimes_used_up(handed, house_shown):
    within = layout_of(house_shown, "with-relay")
    used = within.study.tally.column("cells").sum() / within.study.n_lifetimes
    rows = {row["part"]: row for row in rows_of(handed, "spares")}
    assert float(rows["set of cells"]["used a year"]) == pytest.approx(used, rel=0.01)
    assert rows["gateway"]["on the shelf"] == "0"
    assert int(rows["sensor or repeater"]["on the shelf"]) >= 1
