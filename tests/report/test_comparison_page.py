import re
from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.settings import Duration
from resilience.building.site import Layout
from resilience.building.structure import Building, Change, Door, Obstacle
from resilience.montecarlo.running import INTERRUPTED
from resilience.ranking.comparison import ranked
from resilience.ranking.pairs import Verdict
from resilience.report.answers.opening import not_reached, opening
from resilience.report.answers.ranking import comparison_page

GOLDEN = Path(__file__).parent.parent / "golden"
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
        float(one) for one in re.findall(r"-?\d+\.?\d*(?= h,| while| as| from| .the)", why)
    )
    assert total == pytest.approx(40.5)
    assert sum(parts) == pytest.approx(total)
    assert "31.0 while R1 is away" in why
    assert "12.5 as paths turn out weaker than predicted" in why


def test_a_reason_for_the_other_layout_is_told_with_its_sign(site_of, study_of):
    site = site_of({"a": "G1 R1 S1", "b": "G1 R2 S1"})
    spread = [-5.0, 0.0, 2.5, 2.5] * 60
    a = study_of(site.layout("a"), [50 + x for x in spread], {("hardware", "R1"): 12000})
    b = study_of(site.layout("b"), [10 - x for x in spread], {("link_blockage", "R2~S1"): 2400})
    why = opening(ranked(site, (a, b)))[2]
    assert why.startswith("Why: of these 40.0 h, 50.0 while R1 is away, -10.0 (the other way) ")
    assert "while path R2 to S1 is blocked" in why


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
    spread = [-5.0, 0.0, 2.5, 2.5] * 60
    blame = {("obstacle", "R1"): 30 * 240, ("obstacle", "V1"): 15 * 240, ("hardware", "R1"): 1200}
    a = study_of(site.layout("a"), [50 + x for x in spread], blame)
    b = study_of(site.layout("b"), [10 - x for x in spread], {("hardware", "R1"): 2400})
    comparison = ranked(site, (a, b))
    why = opening(comparison)[2]
    assert why.startswith(
        "Why: of these 40.0 h, 30.0 while door R1 is shut, 15.0 while van V1 stands there, -5.0 "
        "(the other way) while R1 is away"
    )
    page = " ".join(shown(comparison_page(comparison)).split())
    assert "door R1 is shut" in page


def test_a_clear_winner_is_named_with_how_much_and_how_surely(clear_case):
    assert clear_case.pairs[0].verdict is Verdict.BETTER
    text = opening(clear_case)[1]
    assert text.startswith("Layout b is better than a.")
    assert "in 120 of 120 possible buildings" in text


def test_where_the_runner_up_is_alike_the_nearest_beaten_layout_is_named_with_its_reason(
    site_of, study_of
):
    site = site_of({"a": "G1 S1", "b": "G1 R1 S1", "c": "G1 R2 S1"})
    hours = {"a": [2.0, 3.0] * 120, "b": [2.1, 3.0] * 120, "c": [50.0, 30.0, 41.0] * 80}
    studies = [
        study_of(site.layout(name), values, {("hardware", f"R-{name}"): sum(values)})
        for name, values in hours.items()
    ]
    (further,) = [one for one in opening(ranked(site, studies)) if "better than" in one]
    assert further.startswith("Layout a is better than c, by 37.8 h")
    assert "while R-c is away" in further


def test_what_cannot_be_called_says_so_and_what_would_help(site_of, study_of):
    comparison = two_layouts(site_of, study_of, *EVEN)
    assert comparison.pairs[0].verdict is Verdict.TOO_CLOSE
    text = opening(comparison)[1]
    assert text.startswith("Too close to call")
    assert "more and" in text
    assert "measured links" in text


def test_no_fewer_lifetimes_are_advised_than_a_verdict_needs(site_of, study_of):
    """Eight lifetimes in four buildings: `pairs` calls nothing below 30 buildings, 60 lifetimes."""
    comparison = two_layouts(site_of, study_of, [40.0, 41.0] * 4, [3.0, 4.0, 2.0, 3.0] * 2)
    text = opening(comparison)[1]
    assert "yet (too few buildings)" in text
    (advised,) = re.findall(r"About (\d+) lifetimes", text)
    assert int(advised) >= 60


def test_layouts_without_any_silence_are_given_an_upper_bound(site_of, study_of):
    comparison = two_layouts(site_of, study_of, [0.0] * 80, [0.0] * 80)
    text = " ".join(opening(comparison))
    assert "0 h (at most" in text
    assert "No sensor of a was ever cut off." in text


def test_sensors_never_reached_come_before_everything_else(site_of, study_of, shown):
    comparison = two_layouts(
        site_of, study_of, [9.0, 8.0] * 40, [3.0, 4.0] * 40, not_reached_ms=[0, 0, 0, 5]
    )
    assert not_reached(comparison)[0] == (
        "In layout b S1 had no way to a gateway at hand-over, in 20 of 80 lifetimes."
    )
    assert shown(comparison_page(comparison)).startswith("! In layout b S1 had no way")


def test_an_interrupted_study_is_marked_so_in_its_first_line(site_of, study_of, shown):
    site = site_of({"a": "G1 S1"})
    study = study_of(site.layout("a"), [1.0, 2.0] * 4, {("layout", ""): 12.0})
    page = shown(comparison_page(ranked(site, [replace(study, stopped_because=INTERRUPTED)])))
    assert page.startswith("! Interrupted")


def test_notes_of_the_site_follow_the_opening(clear_case, shown):
    site = replace(clear_case.site, notes=("Nobody measured \x1b[31mthis\x1b[0m.",))
    page = shown(comparison_page(replace(clear_case, site=site)))
    assert "- Nobody measured \\x1b[31mthis" in page
    assert page.index("It stopped because") < page.index("About this site")
    assert page.index("About this site") < page.index("Ranking by")


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


def test_the_page_says_the_same_without_colour(clear_case, shown):
    coloured = shown(comparison_page(clear_case), color_system="truecolor")
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    lines = [line.rstrip() for line in bare.splitlines()]
    assert lines == shown(comparison_page(clear_case)).splitlines()
