"""Text at a place: numbers, names, words and switches at the edges of what they may be."""

import difflib
import math
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.building.text.entries import (
    Entry,
    Findings,
    Mark,
    Span,
    TableRow,
    Unique,
    alternatives,
    id_problem,
    listed,
    quoted,
    shown,
)
from resilience.errors import InputError

HERE = Mark("t.csv", 3, "column x")
GATE = settings(max_examples=200, deadline=None, derandomize=True)


def told(text, limits, **how):
    """Return what a text is as a number, and the complaint about it."""
    findings = Findings()
    value = Entry(text, HERE, **how).number(limits, findings)
    return value, [str(fault) for fault in findings.faults]


@pytest.mark.parametrize(
    ("text", "value"),
    [("5", 5), ("+5", 5), ("-0.5", -0.5), (".5", 0.5), ("5.", 5), ("5e-1", 0.5), ("05", 5)],
)
def test_a_number_is_read_however_it_is_written(text, value):
    assert told(text, Span()) == (value, [])


@pytest.mark.parametrize(
    "text",
    [
        *("", "-", ".", "e5", "5e", "1e", "0x10", "1_000", "1 000", "5 m", "5m", "½", "five"),
        *("nan", "inf", "-inf", "Infinity", "1e309", "-1e309", "--5", "5-", "5.5.5", "\uff15"),
        *("\u0665", "\u22125", "5\u00a0", "5%", "=5", "5;", "1/2", "true"),
    ],
)
def test_what_is_no_number_is_told_as_it_stands(text):
    """Other scripts' digits (U+FF15, U+0665) and the minus sign U+2212 are no ASCII numbers."""
    value, faults = told(text, Span("m"))
    assert value is None
    assert faults == [f"t.csv, line 3, column x: found {quoted(text)}; expected metres"]


@pytest.mark.parametrize(
    ("text", "is_read"),
    [
        *(("4,25", True), ("-4,25", True), (",5", True), ("4.25", True)),
        *(("4,2,5", False), ("1.234,5", False), ("1,234.5", False)),
    ],
)
def test_a_file_with_semicolons_reads_either_sign_but_no_thousands(text, is_read):
    value, faults = told(text, Span("m"), decimal_comma=True)
    assert (value is not None, len(faults)) == (is_read, not is_read)
    if is_read:
        assert value == float(text.replace(",", "."))


@pytest.mark.parametrize(
    ("text", "hint"),
    [("4,25", ", with a decimal point"), ("4,2,5", ", at least 0"), ("a,b", ", at least 0")],
)
def test_a_decimal_comma_elsewhere_is_answered_with_the_point(text, hint):
    _, (fault,) = told(text, Span("h", least=0))
    assert fault == f't.csv, line 3, column x: found "{text}"; expected hours{hint}'


def test_a_number_in_quotes_is_answered_with_taking_them_away():
    _, (fault,) = told("5", Span("h", least=0, above=True), plain=False)
    assert fault.endswith('found "5"; expected hours, above 0, without quotes')


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (Span(), "expected a number"),
        (Span("m"), "expected metres"),
        (Span("h", most=3), "expected hours, at most 3"),
        (Span("1/year", least=0), "expected times per year, at least 0"),
        (
            Span("dBm", least=-130, most=20),
            "expected a number in dBm, at least -130 and at most 20",
        ),
        (Span("h", least=0, above=True, whole=True), "expected a whole number, above 0"),
    ],
)
def test_what_is_wanted_names_unit_and_bounds(limits, words):
    assert limits.wanted == words


@pytest.mark.parametrize("above", [False, True])
def test_the_least_value_itself_is_refused_only_where_it_has_to_be_above(above):
    limits = Span(least=0, most=1, above=above)
    inside = [math.nextafter(0, 1), math.nextafter(1, 0), 1.0]
    assert all(limits.allow(value) for value in inside)
    assert limits.allow(0.0) is not above
    outside = [math.nextafter(0, -1), math.nextafter(1, 2), math.inf, -math.inf, math.nan]
    assert not any(limits.allow(value) for value in outside)


@pytest.mark.parametrize(("value", "is_whole"), [(3.0, True), (3.5, False), (1e300, True)])
def test_a_whole_number_has_no_fraction(value, is_whole):
    assert Span(whole=True).allow(value) is is_whole


@pytest.mark.parametrize(
    ("unit", "value", "is_asked"),
    [("m", "10001", True), ("m", "-10001", True), ("h", "10001", False), ("m", "-1", False)],
)
def test_only_lengths_beyond_the_limit_are_asked_about_as_millimetres(unit, value, is_asked):
    _, (fault,) = told(value, Span(unit, least=0, most=10_000))
    assert ("are these millimetres" in fault) is is_asked


@GATE
@given(text=st.text(max_size=80))
def test_whatever_is_shown_can_be_printed(text):
    assert shown(text).isprintable()
    assert quoted(text).isprintable()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("plain été 号", "plain été 号"),
        ("a\tb\n", "a\\tb\\n"),
        ("\x1b[31m", "\\x1b[31m"),
        ("\u202eevil", "\\u202eevil"),  # right-to-left override
        ("\u200f\u200b", "\\u200f\\u200b"),  # right-to-left mark, zero-width space
        ("\U000e0041", "\\U000e0041"),  # a tag character
        ("\udcff", "\\udcff"),  # an undecodable byte of a file name
        ("<b>&=cmd()", "<b>&=cmd()"),
        ("x" * 60, "x" * 60),
        ("x" * 61, "x" * 57 + "..."),
    ],
)
def test_hostile_text_is_shown_as_text(text, expected):
    assert shown(text) == expected


def test_nothing_is_called_nothing():
    assert quoted("") == "nothing"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "expected an id"),
        ("x" * 64, ""),
        ("x" * 65, "expected an id of at most 64 characters"),
        ("a b", ""),
        ("=1+1", ""),
        ("<script>", ""),
        ("a\tb", "expected an id without control or invisible characters"),
        ("a\u200fb", "expected an id without control or invisible characters"),
        ("a\u00adb", "expected an id without control or invisible characters"),  # soft hyphen
        ("a~b", "expected an id without ~, / or \\"),
        ("a/b", "expected an id without ~, / or \\"),
        ("a\\b", "expected an id without ~, / or \\"),
        (".", "expected an id of more than dots"),
        ("..", "expected an id of more than dots"),
        (". .", "expected an id of more than dots"),
        (".a", ""),
    ],
)
def test_an_id_is_visible_short_and_no_path(text, problem):
    assert id_problem(text) == problem
    findings = Findings()
    assert Entry(text, HERE).name(findings) == (None if problem else text)
    assert [fault.wanted for fault in findings.faults] == [problem] * bool(problem)


@GATE
@given(text=st.text(max_size=70))
def test_no_id_that_is_accepted_holds_a_character_that_unicode_calls_invisible(text):
    """General categories C (controls, formats) and Z but the plain blank: Unicode, chapter 4.5."""
    if not id_problem(text):
        assert all(c == " " or unicodedata.category(c)[0] not in "CZ" for c in text)
        assert 0 < len(text) <= 64


def test_the_nearest_known_word_is_the_one_that_the_standard_library_finds_nearest():
    known = ["brick_120", "concrete_200", "glass_10", "stud_wall"]
    for word in ("brick_12", "concret", "glas_10", "studwall", "Brick_120"):
        (near,) = difflib.get_close_matches(word.casefold(), known, n=1)
        assert alternatives(word, known) == f"did you mean {near}?"
    assert alternatives("zzz", known) == "known are brick_120, concrete_200, glass_10, stud_wall"
    assert alternatives("zzz", []) == "there is none"


def test_a_known_word_in_another_case_is_found_with_its_own_case():
    assert alternatives("ground", ["Ground", "upper"]) == "did you mean Ground?"


@pytest.mark.parametrize(("n", "word", "is_near"), [(1000, "s99x", True), (1001, "s99x", False)])
def test_among_more_than_a_thousand_words_only_the_case_is_looked_at(n, word, is_near):
    known = [f"S{number}" for number in range(n)]
    assert alternatives(word, known).startswith("did you mean S99") is is_near
    assert alternatives("s7", known) == "did you mean S7?"
    if not is_near:
        assert alternatives(word, known).startswith("known are S0, S1, ")


@pytest.mark.parametrize(("n", "rest"), [(16, ""), (17, " and 1 more"), (100, " and 84 more")])
def test_sixteen_names_are_listed_and_the_rest_counted(n, rest):
    names = [f"n{number}" for number in range(n)]
    assert listed(names) == ", ".join(names[:16]) + rest


@pytest.mark.parametrize(
    ("word", "state"),
    [
        *(("on", True), ("ON", True), ("True", True), ("yes", True)),
        *(("off", False), ("No", False), ("false", False)),
        *(("1", None), ("0", None), ("", None), ("y", None), ("on ", None)),
    ],
)
def test_a_switch_is_on_or_off_in_three_words_each(word, state):
    findings = Findings()
    assert Entry(word, HERE).switch(findings) is state
    assert [str(fault) for fault in findings.faults] == [
        f"t.csv, line 3, column x: found {quoted(word)}; expected on or off"
    ] * (state is None)


def test_a_fault_names_file_line_and_item_as_far_as_they_are_known():
    assert str(Mark("f.csv")) == "f.csv"
    assert str(Mark("f.csv", 0, "column a")) == "f.csv, column a"
    assert str(Mark("f.csv", 2)) == "f.csv, line 2"
    assert str(Mark("f.csv", 2, "column a")) == "f.csv, line 2, column a"


def test_faults_are_told_by_file_as_it_was_opened_and_then_by_line():
    findings = Findings()
    findings.opened("a")
    findings.opened("b")
    for file, line in (("c", 1), ("b", 9), ("a", 7), ("b", 2), ("a", 0)):
        findings.fault(Mark(file, line), "x", "y")
    places = [fault.where for fault in findings.faults]
    assert places == ["a", "a, line 7", "b, line 2", "b, line 9", "c, line 1"]


@pytest.mark.parametrize(("n", "last"), [(200, "f, line 200"), (201, "f")])
def test_two_hundred_mistakes_of_a_file_are_told_and_the_rest_counted(n, last):
    findings = Findings()
    for line in range(1, n + 1):
        findings.fault(Mark("f", line), "x", "y")
    findings.fault(Mark("g", 1), "x", "y")
    with pytest.raises(InputError) as caught:
        findings.raise_if_any()
    by_file = [fault for fault in caught.value.faults if not fault.where.startswith("g")]
    assert by_file[-1].where == last
    assert (by_file[-1].found == "1 more mistakes") is (n == 201)
    assert [fault.where for fault in caught.value.faults if fault.where[0] == "g"] == ["g, line 1"]


def test_the_same_mistake_and_the_same_note_are_told_once():
    findings = Findings()
    for _ in range(3):
        findings.fault(HERE, "x", "y")
        findings.note("So it is.")
    assert (len(findings.faults), findings.notes) == (1, ("So it is.",))


def test_nothing_is_raised_where_nothing_is_wrong():
    Findings().raise_if_any()


def row(file, line, **cells):
    findings = Findings()
    mark = Mark(file, line)
    entries = {key: Entry(text, Mark(file, line, f"column {key}")) for key, text in cells.items()}
    return TableRow(mark, "column ", entries, findings), findings


@pytest.mark.parametrize(
    ("one", "other"), [("S1", "s1"), ("Straße", "STRASSE"), ("ÉTÉ", "été"), ("Σ", "ς")]
)
def test_ids_that_differ_in_case_alone_are_one_id(one, other):
    """Full case folding (Unicode, section 3.13): sharp s is ss, final sigma is sigma."""
    seen = Unique()
    first, _ = row("a.csv", 2, id=one)
    assert seen.admit(first, one)
    assert other in seen
    second, findings = row("a.csv", 5, id=other)
    assert not seen.admit(second, other)
    assert [str(fault) for fault in findings.faults] == [
        f'a.csv, line 5, column id: found "{other}"; '
        "expected an id of its own: line 2 has it already"
    ]
    third, findings = row("b.csv", 5, id=other)
    assert not seen.admit(third, other)
    assert findings.faults[0].wanted == "expected an id of its own: a.csv, line 2 has it already"


@pytest.mark.parametrize(
    ("ask", "wanted"),
    [
        (lambda r: r.number("x", Span("m")), "expected metres"),
        (lambda r: r.word("x", ["a"], "a level"), "expected a level"),
        (lambda r: r.name("x"), "expected an id"),
    ],
)
def test_what_must_be_given_and_is_blank_is_told_at_its_column(ask, wanted):
    found, findings = row("t.csv", 7, y="1")
    assert ask(found) is None
    assert [str(fault) for fault in findings.faults] == [
        f"t.csv, line 7, column x: found nothing; {wanted}"
    ]


def test_what_may_be_blank_takes_its_default_and_so_does_what_is_wrong():
    blank, findings = row("t.csv", 7)
    assert blank.number_or("x", Span(), 2.5) == 2.5
    assert blank.word("x", ["a"], "a level", "b") == "b"
    assert (blank.text("x"), blank.switch("x", True), blank.switch("x", False)) == ("", True, False)
    assert findings.faults == ()
    wrong, findings = row("t.csv", 7, x="zz")
    assert wrong.number_or("x", Span(), 2.5) == 2.5
    assert wrong.switch("x", True) is True
    assert len(findings.faults) == 2
    zero, _ = row("t.csv", 7, x="0")
    assert zero.number_or("x", Span(), 2.5) == 0
