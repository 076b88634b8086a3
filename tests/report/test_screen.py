"""What a page looks like on a terminal, checked against lines written by hand."""

import re

import pytest

from resilience.report.pages import (
    GAP,
    Alert,
    Bullets,
    Column,
    Command,
    Heading,
    Page,
    Table,
    Text,
    Tone,
    figures,
    page,
    words,
)
from resilience.report.screen import screen_lines, wrapped


def lines(of: Page, width: int = 100) -> list[str]:
    return ["".join(text.text for text in line).rstrip() for line in screen_lines(of, width)]


def test_blocks_are_parted_by_a_gap_and_what_stands_together_is_not():
    told = page(Alert("Nobody hears S1."), [Heading("Next"), Text("Look.")], (), Command("go 1"))
    assert lines(told) == ["! Nobody hears S1.", "", "Next", "Look.", "", "  go 1"]


def test_bullets_hang_below_their_first_letter():
    told = page(Bullets("Notes", ("one two three", "four")))
    assert lines(told, 12) == ["Notes", " - one two", "   three", " - four"]


def test_words_stand_at_the_left_and_figures_at_the_right_with_heads_on_the_rule():
    columns = (*words("who"), *figures("load\nkg"))
    table = Table(columns, (("ann", "5"), GAP, ("bo", "1,250")))
    assert lines(page(table)) == [
        "       load",
        " who     kg",
        " ──────────",
        " ann      5",
        "",
        " bo   1,250",
    ]


def test_notes_of_columns_follow_their_table_below_each_other():
    columns = (Column("hops\nmean", note="radio steps to the gateway"), *figures("n"))
    told = lines(page(Table(columns, (("2", "3"),))), 24)
    assert told[-4:] == [
        "",
        " hops mean  radio steps",
        "            to the",
        "            gateway",
    ]


def test_a_cell_breaks_at_blanks_and_figures_stay_whole_while_there_is_room():
    columns = (*words("what"), *figures("h"))
    table = Table(columns, (("path from R1 to S5 is blocked", "12.35 to 12.65"),))
    assert lines(page(table), 34)[2:] == [
        " path from R1 to    12.35 to 12.65",
        " S5 is blocked",
    ]


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_no_word_is_broken_while_all_of_them_fit(width):
    sentence = "seldom unforeseeable interruptions elsewhere"
    columns = (*words("one", "two"), *figures("three"))
    told = " ".join(lines(page(Table(columns, ((sentence, sentence, "5,000"),))), width))
    assert set(sentence.split()) <= set(told.split())


def test_bounds_and_numbers_with_their_unit_stay_on_one_line():
    assert wrapped("it is 12.5 (9.0 to 16.1)", 17) == ["it is 12.5", "(9.0 to 16.1)"]
    assert wrapped("for 0.016 % of it", 11) == ["for 0.016 %", "of it"]
    assert wrapped("lasts 4.5 days here", 10) == ["lasts", "4.5 days", "here"]
    assert wrapped("from here to there", 12) == ["from here to", "there"]  # a word may end it
    assert wrapped("-1,600 to -400", 8) == ["-1,600", "to -400"]  # where there is no room


def test_figures_give_way_at_their_bounds_before_any_word_is_broken():
    columns = (*words("layout"), *figures("share"))
    table = Table(columns, (("two-near-the-gateway", "0.016 (0.000 to 0.068)"),))
    name, bounds = "two-near-the-gateway", "(0.000 to 0.068)"
    assert lines(page(table), 40)[2:] == [f" {name}{'0.016':>19}", f"{bounds:>40}"]


def test_a_word_without_room_is_broken_at_its_seams():
    assert wrapped("see results/north-wing/site.yaml", 12) == [
        "see",
        "results/",
        "north-wing/",
        "site.yaml",
    ]


def test_a_word_without_seams_and_without_room_is_broken_all_the_same():
    assert wrapped("w" * 11, 4) == ["wwww", "wwww", "www"]


@pytest.mark.parametrize("width", [40, 80, 100])
def test_no_line_but_a_command_is_wider_than_the_terminal(width):
    wide = "\u4e2d" * 70  # each takes two columns
    table = Table(words("a", "b"), ((wide, "x" * 150),))
    for line in screen_lines(page(Text(wide), Bullets(wide, (wide,)), table), width):
        text = "".join(one.text for one in line)
        assert len(text) + text.count("\u4e2d") <= width


def test_a_command_stays_whole_so_that_it_can_be_copied():
    command = "resilience check " + "a-very-long-folder/" * 8
    assert lines(page(Command(command)), 40) == [f"  {command}"]


def test_a_part_says_nothing_of_colours_and_a_hostile_text_is_shown_as_text():
    hostile = "[bold]x[/]\x1b[31m\u202e\t"
    (line,) = screen_lines(page(Text(hostile, Tone.ALERT)), 100)
    assert line == (Text("[bold]x[/]\\x1b[31m\\u202e\\t", Tone.ALERT),)


def test_a_row_has_a_cell_for_each_column():
    with pytest.raises(ValueError, match="a cell for each column"):
        Table(words("a", "b"), (("only one",),))


def test_least_widths_line_up_tables_below_each_other():
    narrow = Table((Column("k", is_text=True, least_width=6), *figures("v")), (("a", "1"),))
    assert re.match(r" a {7}1$", lines(page(narrow))[2])
