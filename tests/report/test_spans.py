"""Values with bounds in letters: all on one scale, and only where somebody looks."""

import math

from resilience.report.pages import Page, Span, Spans, Text
from resilience.report.screen import screen_lines, span_lines

ROWS = (Span("near", 10, 0, 20, "10"), Span("far off", 40, 30, 60, "40"))


def test_values_and_bounds_stand_where_the_scale_puts_them():
    near, far = span_lines(ROWS, 200)
    assert near.startswith(" near     ├")
    assert near.endswith("  10")
    at = len(" far off  ")
    # 60 letters from 0 to 60: the k-th letter is at k * 60 / 59.
    assert [near.index(one) - at for one in "├●┤"] == [0, round(59 / 6), round(59 / 3)]
    assert [far.index(one) - at for one in "├●┤"] == [round(59 / 2), round(59 * 2 / 3), 59]


def test_a_bound_far_beyond_all_values_ends_in_an_arrow():
    (line,) = span_lines([Span("a", 1, 0, math.inf, "1")], 80)
    assert line.rstrip("1 ").endswith(">")
    assert line.index("●") < line.index(">")


def test_lines_never_stick_out_and_are_left_out_where_there_is_no_room():
    long = [Span("x" * 90, 1, 0, 2, "1 h"), Span("\u202ey", 2, 1, 3, "2 h")]
    for width in range(8, 130):
        assert all(len(line) <= width for line in span_lines(long, width))
    assert not list(span_lines(ROWS, 20))
    assert not list(span_lines([Span("a", 0, 0, 5, "0")], 80))


def test_pictures_are_shown_to_people_and_not_to_programs():
    page = Page(((Text("before"),), (Spans("hours", ROWS),), (Text("behind"),)))
    seen, read = (
        ["".join(text.text for text in line) for line in screen_lines(page, 80, is_terminal)]
        for is_terminal in (True, False)
    )
    assert read == ["before", "", "behind"]
    assert seen[2] == "hours"
    assert "●" in seen[3]
