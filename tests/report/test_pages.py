"""Pages as values: nothing is dropped or filled in on the way."""

import pytest

from resilience.report.pages import (
    ALWAYS,
    GAP,
    NOT_SURVEYED,
    Alert,
    Bullets,
    Column,
    Heading,
    Page,
    Table,
    Text,
    Tone,
    cautions,
    figures,
    page,
    titled,
    words,
)

COLUMNS = (*words("layout"), *figures("hours"))


def test_a_row_with_a_cell_too_few_or_too_many_is_refused():
    for row in (("a",), ("a", "1", "2")):
        with pytest.raises(ValueError, match="cell for each column"):
            Table(COLUMNS, (("a", "1"), row))


def test_a_gap_is_no_row():
    assert Table(COLUMNS, (("a", "1"), GAP, ("b", "2"))).rows[1] == GAP


def test_empty_groups_vanish_and_all_else_keeps_its_order():
    first, second = Text("one"), Alert("two")
    assert page((), first, [], [second, first], ()) == Page(((first,), (second, first)))
    assert page() == Page(())


def test_a_title_without_a_note_has_no_empty_line():
    table = Table(COLUMNS, ())
    assert titled("Ranking", "", table) == (Heading("Ranking"), table)
    assert titled("Ranking", "by hours", table)[1] == Text("by hours", Tone.QUIET)


def test_words_begin_at_the_left_and_figures_end_at_the_right():
    assert (Column("layout", is_text=True), Column("hours", is_text=False)) == COLUMNS


@pytest.mark.parametrize("is_surveyed", [True, False])
def test_every_answer_warns_of_safety_and_predictions_of_themselves(is_surveyed):
    told = cautions(is_surveyed)
    assert told.text.endswith(ALWAYS)
    assert told.text.startswith(NOT_SURVEYED) is not is_surveyed
    assert "life-safety" in told.text


def test_a_page_without_blocks_and_one_with_an_empty_table_can_be_shown(shown):
    assert shown(page()).strip() == ""
    told = shown(page(titled("Ranking", "", Table(COLUMNS, ())), Bullets("Notes", ("one",))))
    assert "layout" in told
    assert " - one" in told
