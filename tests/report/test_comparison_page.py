import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.settings import Duration
from resilience.building.site import Layout
from resilience.building.structure import Building, Change, Door, Obstacle
from resilience.building.upkeep import Prices
from resilience.lifetime.tally import DrainSums
from resilience.montecarlo.runs.running import INTERRUPTED
from resilience.ranking.comparison import ranked
from resilience.ranking.pairs import Verdict
from resilience.report.comparing.opening import opening
from resilience.report.comparing.ranking import comparison_page
from resilience.report.comparing.remarks import copies, incomplete, rare_losses

GOLDEN = Path(__file__).parent.parent / "golden"
DRAWS = {"S1": 200_000, "S2": 50_000, "S3": 50_000}  # nA
EVEN = ([20.0, 20.0, 40.0, 40.0] * 20, [36.0, 36.0, 21.0, 21.0] * 20)  # 30 h and 28.5 h
JARGON = ("bonferroni", "etx", "p95", "orphan", "student", "quantile", "percentile", "prr", "mttf")


def words(comparison) -> list[str]:
    told = " ".join(opening(comparison)).split()
    return [word for word in told if any(letter.isalnum() for letter in word)]


def two_layouts(site_of, study_of, a_hours, b_hours, **columns):
    site = site_of({"a": "G1 S1", "b": "G1 R1 S1"})
    studies = [
        study_of(site.layout(name), hours, {("hardware", "R9"): sum(hours)}, **columns)
        for name, hours in (("a", a_hours), ("b", b_hours))
    ]
    return ranked(site, studies)


def test_the_page_reads_as_agreed(clear_case, shown):
    """Compare with the page as it was read and approved; figures are those of the case."""
    golden = (GOLDEN / "comparison.txt").read_text(encoding="utf-8")
    assert shown(comparison_page(clear_case)) == golden


def test_the_conclusion_is_short_and_free_of_jargon(clear_case, site_of, study_of):
    even = two_layouts(site_of, study_of, *EVEN)
    nothing = two_layouts(site_of, study_of, [0.0] * 80, [0.0] * 80)
    for comparison in (clear_case, even, nothing):
        told = words(comparison)
        assert len(told) <= 150
        assert not [word for word in told if any(bad in word.lower() for bad in JARGON)]


def test_the_reasons_add_up_to_the_difference_as_shown(clear_case):
    """The case is built so: 53 h less 12.5 h are 40.5 h, of which 31 h are R1's."""
    (why,) = [paragraph for paragraph in opening(clear_case) if paragraph.startswith("Why")]
    total, *parts = (
        float(one) for one in re.findall(r"-?\d+\.?\d*(?= h | while| for| all| .the)", why)
    )
    assert total == pytest.approx(40.5)
    assert sum(parts) == pytest.approx(total)
    assert "31.0 while R1 is away" in why
    assert "12.5 for paths weaker than predicted" in why


def test_a_reason_for_the_other_layout_is_told_with_its_sign(site_of, study_of):
    site = site_of({"a": "G1 R1 S1", "b": "G1 R2 S1"})
    spread = [-5.0, 0.0, 2.5, 2.5] * 120
    a = study_of(site.layout("a"), [50 + x for x in spread], {("hardware", "R1"): 24000})
    b = study_of(site.layout("b"), [10 - x for x in spread], {("link_blockage", "R2~S1"): 4800})
    why = opening(ranked(site, (a, b)))[1]
    assert why.startswith(
        "Why: of the 40.0 h between b and a, 50.0 while R1 is away, -10.0 (the other way) while "
        "path R2 to S1 is blocked"
    )


def test_a_door_that_shuts_is_named_as_a_door_beside_a_device_of_the_same_id(
    site_of, study_of, shown
):
    change = Change(20.0, 52.0, Duration("fixed", mean_h=12.0))
    building = Building(
        (),
        doors=(Door("R1", "W1", 0.0, 1.0, 2.0, "steel_door", change),),
        obstacles=(Obstacle("V1", "van", "L1", *[1.0] * 4, 0.0, 2.0, 0.0, change),),
    )
    site = replace(site_of({"a": "G1 R1 S1", "b": "G1 S1"}), building=building)
    spread = [-5.0, 0.0, 2.5, 2.5] * 120
    blame = {("obstacle", "R1"): 30 * 480, ("obstacle", "V1"): 15 * 480, ("hardware", "R1"): 2400}
    a = study_of(site.layout("a"), [50 + x for x in spread], blame)
    b = study_of(site.layout("b"), [10 - x for x in spread], {("hardware", "R1"): 4800})
    comparison = ranked(site, (a, b))
    why = opening(comparison)[1]
    assert why.startswith(
        "Why: of the 40.0 h between b and a, 30.0 while door R1 is shut, 15.0 while van V1 stands "
        "there, -5.0 (the other way) while R1 is away"
    )
    page = " ".join(shown(comparison_page(comparison)).split())
    assert "door R1 14 h" not in page
    assert "is shut" in page


def test_a_clear_winner_is_named_with_how_much_and_how_surely(clear_case):
    assert clear_case.pairs[0].verdict is Verdict.BETTER
    text = opening(clear_case)[0]
    assert text.startswith("Better: b (with R2). A sensor in service is cut off")
    assert "against 53" in text
    assert "at least 36 h less" in text
    assert "leaving aside what is rarer than 1 in" in text


def test_the_split_that_matters_comes_before_the_tie_at_the_top(site_of, study_of):
    """a and b share R5 and are alike; c and d lack it and lose 1,600 h."""
    site = site_of({"a": "G1 R5 S1", "b": "G1 R5 R6 S1", "c": "G1 R7 S1", "d": "G1 S1"})
    hours = {"a": [20.0, 22.0], "b": [20.1, 22.0], "c": [1600.0, 1620.0], "d": [1601.0, 1640.0]}
    studies = [
        study_of(site.layout(name), values * 480, {("hardware", f"R-{name}"): sum(values) * 480})
        for name, values in hours.items()
    ]
    head, why, among, *_ = opening(ranked(site, studies))
    assert head.startswith("Better: a and b (with R5).")
    assert "21" in head
    assert "against 1,610 to 1,620 h with c and d" in head.replace("1,610.0", "1,610")
    assert "while R-c is away" in why
    assert among.startswith("a and b are alike, within ")


def test_copies_are_said_to_be_the_same(site_of, study_of):
    site = site_of({"a": "G1 S1", "copy": "G1 S1"})
    hours = [20.0, 40.0, 7.0, 0.0] * 240
    studies = [study_of(layout, hours, {("hardware", "S1"): 9.0}) for layout in site.layouts]
    (pair,) = ranked(site, studies).pairs
    assert (pair.difference.mean, pair.verdict) == (0.0, Verdict.SAME)
    text = opening(ranked(site, studies))[0]
    assert text.startswith("a and copy are the same in every lifetime played.")


def test_copies_are_named_whatever_was_played(site_of, study_of):
    site = site_of({"a": "G1 R1 S1", "again": "G1 R1 S1", "other": "G1 S1"})
    studies = [study_of(one, [1.0, 2.0], {("layout", ""): 3.0}) for one in site.layouts]
    (told,) = copies(ranked(site, studies))
    assert told == "a and again are copies: the same devices at the same places."


def test_what_seems_to_make_the_difference_is_named_as_not_shown(site_of, study_of):
    """Eight building draws call nothing: 20 h with R5 against 40 h without."""
    site = site_of({"a": "G1 R5 S1", "b": "G1 R5 R6 S1", "c": "G1 R7 S1"})
    hours = {"a": 20.0, "b": 21.0, "c": 40.0}
    studies = [
        study_of(site.layout(name), [value] * 16, {("hardware", "R9"): 16 * value})
        for name, value in hours.items()
    ]
    head = opening(ranked(site, studies))[0]
    assert "too close to call on so few lifetimes" in head
    assert "It looks as if R5 made the difference, 20 to 21 h with against 40 h without" in head
    assert "that is not shown yet" in head


def test_what_cannot_be_called_says_so_and_what_would_help(site_of, study_of):
    comparison = two_layouts(site_of, study_of, *EVEN)
    assert comparison.pairs[0].verdict is Verdict.TOO_CLOSE
    text = opening(comparison)[0]
    assert text.startswith("b and a are too close to call: 2 h less (-18 to 22).")
    assert "measured links" in text


def test_a_handful_of_lifetimes_calls_nothing(site_of, study_of):
    comparison = two_layouts(site_of, study_of, [40.0, 41.0] * 4, [3.0, 4.0, 2.0, 3.0] * 2)
    assert "too close to call on so few lifetimes" in opening(comparison)[0]


def test_layouts_without_any_silence_are_not_called_sound(site_of, study_of):
    comparison = two_layouts(site_of, study_of, [0.0] * 80, [0.0] * 80)
    text = opening(comparison)[0]
    assert text.startswith("With no layout was a sensor in service ever cut off")
    assert "What is rarer was not seen" in text
    few = opening(two_layouts(site_of, study_of, [0.0] * 2, [0.0] * 2))[0]
    assert few.endswith("which is too little to tell anything: more --seconds will.")


def test_the_first_screen_says_what_a_layout_hangs_on_and_how_often(site_of, study_of, shown):
    """Of 20 h 15 h are R1's: 12 h flat, 3 h failed; struck 240 and 48 times in 480 years."""
    site = site_of({"a": "G1 R1 S1"})
    blame = {("battery", "R1"): 12 * 480, ("hardware", "R1"): 3 * 480, ("swing", "G1~S1"): 5 * 480}
    study = study_of(site.layout("a"), [19.0, 21.0] * 240, blame)
    struck = Counter({("battery", "R1"): 240, ("hardware", "R1"): 48})
    study = replace(study, tally=replace(study.tally, struck=struck))
    comparison = ranked(site, [study])
    hangs = next(one for one in opening(comparison) if one.startswith("What a hangs on"))
    assert "on R1 (cells flat 0.5 times a year, fails 0.1 times a year)" in hangs
    row = next(line for line in shown(comparison_page(comparison)).splitlines() if " 75 " in line)
    assert row.split()[:4] == ["a", "R1", "15", "75"]


def test_hours_that_are_the_gateways_own_are_told(site_of, study_of):
    """2 h cut off in service beside 100 h in which no gateway is up."""
    site = site_of({"a": "G1 S1"})
    hours = [1.0, 3.0] * 40
    study = study_of(site.layout("a"), hours, {("layout", ""): 160.0}, cut_off_ms=[360_000_000])
    told = " ".join(opening(ranked(site, [study])))
    assert "Of 102 h that a sensor of a is silent a year for any reason, 100 are the gate" in told


def test_a_layout_that_does_not_come_up_as_drawn_is_told_before_everything_else(
    site_of, study_of, shown
):
    comparison = two_layouts(
        site_of,
        study_of,
        [9.0, 8.0] * 40,
        [3.0, 4.0] * 40,
        not_reached_ms=[0, 0, 0, 5],
        unreached=[0, 0, 0, 1],
    )
    assert incomplete(comparison)[0] == (
        "Layout b does not come up as drawn in 20 of 40 possible buildings: some sensor never "
        "finds a way to a gateway (first S1)."
    )
    assert shown(comparison_page(comparison)).startswith("! Layout b does not come up as drawn")


def test_rare_large_losses_are_told_apart(site_of, study_of):
    """One of 208 building draws behind the pilot loses 3,000 h."""
    hours = [2.0, 3.0] * 240
    hours[200] = hours[201] = 3000.0
    site = site_of({"a": "G1 S1"})
    comparison = ranked(site, [study_of(site.layout("a"), hours, {("layout", ""): 7195.0})])
    (told,) = rare_losses(comparison)
    assert told.startswith("With a 1 of 208 possible buildings lose more than 20 h")
    assert "(up to 3,000 h; at most " in told


def test_bounds_of_a_layout_that_lost_nothing_are_said_to_show_no_more(site_of, study_of):
    """None of 208 building draws behind the pilot: 1.4 % could be so in 1 of 20 such studies."""
    site = site_of({"a": "G1 S1"})
    (told,) = rare_losses(ranked(site, [study_of(site.layout("a"), [0.0] * 480, {})]))
    found = re.fullmatch(r"With a no loss was seen: .* up to (\S+) % .* nothing is lost\.", told)
    assert 100 * (1 - 0.05 ** (1 / 208)) < float(found[1]) < 5


def test_cells_that_go_first_are_told_with_what_the_horizon_cannot_see(site_of, study_of, shown):
    """2,400 mAh at 0.05 and 0.2 mA last 66 and 16 months; the horizon is a year."""
    site = site_of({"a": "G1 S1 S2 S3"})
    drains = {id: DrainSums(2, 2 * na, na, na) for id, na in DRAWS.items()}
    study = study_of(site.layout("a"), [1.0, 2.0] * 40, {("layout", ""): 120.0})
    study = replace(
        study, tally=replace(study.tally, drains=drains), usable_mah=dict.fromkeys(DRAWS, 2400.0)
    )
    page = shown(comparison_page(ranked(site, [study])))
    assert "S1          16  16 to 16  a sensor that others lean on" in page
    assert "The horizon of 1 years is too short" in page


def test_an_interrupted_study_is_marked_so_in_its_first_line(site_of, study_of, shown):
    site = site_of({"a": "G1 S1"})
    study = study_of(site.layout("a"), [1.0, 2.0] * 4, {("layout", ""): 12.0})
    page = shown(comparison_page(ranked(site, [replace(study, stopped_because=INTERRUPTED)])))
    assert page.startswith("! Interrupted")


def test_all_pairs_are_shown_on_request(clear_case, shown):
    assert "Layout against layout" not in shown(comparison_page(clear_case))
    page = shown(comparison_page(clear_case, with_all_pairs=True))
    assert "-31.0 R1 away" in page


def test_notes_of_the_site_follow_the_figures(clear_case, shown):
    site = replace(clear_case.site, notes=("Nobody measured \x1b[31mthis\x1b[0m.",))
    page = shown(comparison_page(replace(clear_case, site=site)))
    assert "- Nobody measured \\x1b[31mthis" in page
    assert page.index("Ranking by") < page.index("About this site") < page.index("safety")


def test_hostile_names_are_text_and_the_page_stays_100_columns_wide(site_of, study_of, shown):
    site = site_of({"a": "G1 S1", "b": "G1 R1 S1"})
    names = ("[bold red]x[/] {0} :smile: \u202e\x1b]0;t\x07", "w" * 64)
    studies = []
    layouts = []
    for name, layout, hours in zip(names, site.layouts, ([9.0, 8.0], [3.0, 4.0]), strict=True):
        renamed = Layout(name, layout.devices, ())
        layouts.append(renamed)
        blame = {("hardware", "[link=x]R[/link]"): sum(hours) * 40}
        studies.append(study_of(renamed, hours * 40, blame))
    comparison = ranked(replace(site, layouts=tuple(layouts)), studies)
    page = shown(comparison_page(comparison))
    flat = re.sub(r"\s", "", page)
    assert "[boldred]x[/]{0}:smile:\\u202e\\x1b]0;t\\x07" in flat
    assert "[link=x]R[/link]" in flat
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f\u202a-\u202e\u2066-\u2069]", page)
    assert max(len(line) for line in page.splitlines()) <= 100


def test_colours_come_from_the_set_of_okabe_and_ito(clear_case, shown):
    """Okabe and Ito 2008: sky blue 86, 180, 233; orange 230, 159, 0 (from memory)."""
    coloured = shown(comparison_page(clear_case), color_system="truecolor")
    used = set(re.findall(r"38;2;(\d+;\d+;\d+)", coloured))
    assert used
    assert used <= {"86;180;233", "230;159;0"}
    assert not re.findall(r"\x1b\[(?:\d+;)*3[0-7]m", coloured)


def test_the_page_says_the_same_without_colour_and_without_a_picture(clear_case, shown):
    coloured = shown(comparison_page(clear_case), color_system="truecolor")
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    lines = [line.rstrip() for line in bare.splitlines()]
    at = lines.index("Cut off, h a sensor and year, with bounds, from 0")
    picture = lines[at : lines.index("", at) + 1]
    assert len(picture) == 2 + len(clear_case.placed)
    assert all("●" in line for line in picture[1:-1])
    assert (
        lines[:at] + lines[at + len(picture) :] == shown(comparison_page(clear_case)).splitlines()
    )


def test_where_prices_are_stated_the_page_says_what_layouts_cost(clear_case, shown):
    """Installed: a has two devices and a gateway, b a device more; 4 visits in each year."""
    assert "What it costs" not in shown(comparison_page(clear_case))
    prices = Prices("EUR", device=80, gateway=400, visit=150)
    priced = replace(clear_case, site=replace(clear_case.site, prices=prices))
    page = shown(comparison_page(priced))
    table = page[page.index("What it costs") :]
    assert re.search(r"a +560 +600", table), table
    assert re.search(r"b +640 +600", table), table
    assert "to install, EUR" in table


def test_layouts_tell_their_costs_and_counts_as_json(clear_case):
    prices = Prices("EUR", device=80, gateway=400, visit=150)
    priced = replace(clear_case, site=replace(clear_case.site, prices=prices)).to_json()
    by_name = {layout["name"]: layout for layout in priced["layouts"]}
    assert by_name["a"]["installation"]["cost"] == 560
    assert by_name["b"]["upkeep"]["cost"]["mean"] == 600
    assert by_name["b"]["upkeep"]["counts"]["visits"]["mean"] == 4
    assert clear_case.to_json()["layouts"][0]["upkeep"]["cost"] is None
