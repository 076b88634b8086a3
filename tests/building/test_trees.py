"""Documents as trees and tables as records, held against the parsers of general use.

YAML is compared with ruamel's own loader (its base loader keeps scalars as text), CSV with the
``csv`` module of Python, both fed the same bytes.
"""

import csv
import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from resilience.building.text.documents import (
    MOST_BYTES,
    Listing,
    Mapping,
    described,
    file_text,
    is_nothing,
    is_off,
    known_keys,
    listing,
    mapping,
    read_document,
    record,
)
from resilience.building.text.entries import Findings, Mark, Span
from resilience.building.text.tables import MOST_BYTES as MOST_TABLE_BYTES
from resilience.building.text.tables import Columns, read_table

GATE = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture
def document(tmp_path):
    """Read a text as a document; gives the mapping and the faults as lines."""

    def read(text, name="d.yaml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        findings = Findings()
        found = read_document(path, name, findings)
        return found, [str(fault) for fault in findings.faults]

    return read


@pytest.fixture
def table(tmp_path):
    """Read a text as a table of columns a, b and c, of which a is needed."""

    def read(text, columns=Columns(("a",), ("b", "c"))):  # noqa: B008 - a frozen value
        path = tmp_path / "t.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        findings = Findings()
        rows = read_table(path, "t.csv", columns, findings)
        return rows, [str(fault) for fault in findings.faults]

    return read


def plain(node):
    """Return a tree as dictionaries, lists and text."""
    if isinstance(node, Mapping):
        return {key: plain(value) for key, value in node.entries.items()}
    return [plain(one) for one in node.items] if isinstance(node, Listing) else node.text


KEYS = st.text("abcdefgh_", min_size=1, max_size=6)
# Not the question mark: of ?0 in brackets ruamel writes what it does not read.
VISIBLE = st.characters(
    categories=("L", "N", "P", "S"), include_characters=" ", exclude_characters="?"
)
SCALARS = st.text(VISIBLE, max_size=8).filter(lambda text: text == text.strip())
TREES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=12,
)


@GATE
@given(tree=st.dictionaries(KEYS, TREES, min_size=1, max_size=4), flow=st.booleans())
def test_a_tree_that_a_general_library_writes_is_read_as_it_was(document, tree, flow):
    stream = io.StringIO()
    writer = YAML()
    writer.default_flow_style = flow
    writer.dump(tree, stream)
    found, faults = document(stream.getvalue())
    assert faults == []
    assert plain(found) == tree


def test_every_node_knows_its_line_and_is_called_by_its_path(document):
    text = "a:\n  b: 1\n  c:\n    - x\n    - {d: 2}\n    - [3, 4]\ne: {f: {g: 5}}\n"
    found, _ = document(text)
    marks = {}

    def walk(node):
        marks[node.mark.item] = node.mark.line
        inside = node.items if isinstance(node, Listing) else ()
        for one in node.entries.values() if isinstance(node, Mapping) else inside:
            walk(one)

    walk(found)
    assert marks == {
        "": 1,
        "key a": 2,
        "key a.b": 2,
        "key a.c": 4,
        "key a.c[1]": 4,
        "key a.c[2]": 5,
        "key a.c[2].d": 5,
        "key a.c[3]": 6,
        "key a.c[3][1]": 6,
        "key a.c[3][2]": 6,
        "key e": 7,
        "key e.f": 7,
        "key e.f.g": 7,
    }


@pytest.mark.parametrize(("depth", "is_read"), [(16, True), (17, False)])
def test_sixteen_levels_are_read_and_a_seventeenth_is_deep(document, depth, is_read):
    """The mapping at the top is the first level."""
    found, faults = document("a: " + "[" * (depth - 1) + "]" * (depth - 1) + "\n")
    assert (found is not None) is is_read
    wanted = "d.yaml, line 1: found deep nesting; expected at most 16 levels"
    assert faults == [wanted] * (not is_read)


@pytest.mark.parametrize(("extra", "is_read"), [(0, True), (1, False)])
def test_two_megabytes_are_read_and_one_byte_more_is_huge(tmp_path, extra, is_read):
    path, findings = tmp_path / "d.yaml", Findings()
    path.write_bytes(b"#" * (2_000_000 + extra))
    assert (file_text(path, "d.yaml", MOST_BYTES, findings) is not None) is is_read
    wanted = "d.yaml: found a huge file; expected at most 2 MB"
    assert [str(fault) for fault in findings.faults] == [wanted] * (not is_read)


def test_ten_megabytes_of_table_are_read_and_one_byte_more_is_huge(table):
    start = "a\n1\n#"
    rows, faults = table(start + "x" * (MOST_TABLE_BYTES - len(start)))
    assert ([row.text("a") for row in rows], faults) == (["1"], [])
    rows, faults = table(start + "x" * (MOST_TABLE_BYTES - len(start) + 1))
    assert (rows, faults) == (
        None,
        ["t.csv: found a huge file; expected at most 10 MB"],
    )


@pytest.mark.parametrize("text", ["", "~", "null", "Null", "NULL"])
def test_what_yaml_calls_null_is_nothing_and_in_quotes_it_is_text(document, text):
    """YAML 1.2.2, section 10.3.2: null, Null, NULL, ~ and the empty scalar."""
    found, _ = document(f"a: {text}\nb: '{text}'\n")
    assert is_nothing(found.entries["a"])
    assert not is_nothing(found.entries["b"])
    assert described(found.entries["a"]) == "nothing"


@pytest.mark.parametrize("text", ["nULL", "none", "nil", "-", "0", "false"])
def test_other_words_are_not_nothing(document, text):
    found, _ = document(f"a: {text}\n" if text != "-" else "a: '-'\n")
    assert not is_nothing(found.entries["a"])


def test_only_what_is_switched_off_is_off(document):
    found, _ = document("a: off\nb: on\nc: [off]\nd:\n")
    assert [is_off(found.entries.get(key)) for key in "abcde"] == [True, *[False] * 4]


def test_a_node_of_another_shape_is_told_as_what_it_is(document):
    found, _ = document("one: 5\nmany: [1]\nkeyed: {a: 1}\nblank:\n")
    nodes = found.entries
    findings = Findings()
    assert mapping(nodes["one"], findings) is mapping(nodes["many"], findings) is None
    assert listing(nodes["one"], findings) == listing(nodes["keyed"], findings) == ()
    record(found, ("one", "many", "keyed", "blank"), findings)
    assert [str(fault) for fault in findings.faults] == [
        'd.yaml, line 1, key one: found "5"; expected keys and values',
        'd.yaml, line 1, key one: found "5"; expected a list',
        "d.yaml, line 2, key many: found a list; expected keys and values",
        "d.yaml, line 2, key many: found a list; expected a single value",
        "d.yaml, line 3, key keyed: found a mapping; expected a list",
        "d.yaml, line 3, key keyed: found a mapping; expected a single value",
    ]
    silent = Findings()
    assert mapping(None, silent) is mapping(nodes["blank"], silent) is None
    assert listing(None, silent) == listing(nodes["blank"], silent) == ()
    assert mapping(nodes["keyed"], silent).entries["a"].text == "1"
    assert silent.faults == ()


def test_an_unknown_key_is_told_by_its_path_with_the_nearest_known(document):
    found, _ = document("top: {colour: red, size: 1}\n")
    findings = Findings()
    known_keys(found.entries["top"], ("color", "size"), findings)
    assert [str(fault) for fault in findings.faults] == [
        'd.yaml, line 1, key top.colour: found "colour"; expected a known key; did you mean color?'
    ]


@pytest.mark.parametrize("text", ["a: 1\nb: 2\na: 3\n", "{a: 1, b: 2, 'a': 3}\n"])
def test_of_the_same_key_twice_the_first_stays_and_the_second_is_told(document, text):
    found, (fault,) = document(text)
    assert found.entries["a"].text == "1"
    assert fault.endswith("key a: found the same key again; expected each key once")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a: &x 1\n", 'line 1: found an anchor or alias "x"; write it out'),
        ("a: {b: &x [1]}\n", 'line 1: found an anchor or alias "x"; write it out'),
        ("a: 1\nb: *x\n", 'line 2: found an anchor or alias "x"; write it out'),
        ("a: !!str 1\n", 'line 1: found a tag "tag:yaml.org,2002:str"; expected plain values'),
        ("a: !own [1]\n", 'line 1: found a tag "!own"; expected plain values'),
        ("a: 1\n...\n---\nb: 2\n", "line 3: found a second document; expected one document a"),
        ("{a: 1}: b\n", "line 1: found a key that is a list or mapping; expected a word as key"),
        ("? [a]\n: b\n", "line 1: found a key that is a list or mapping; expected a word as key"),
    ],
)
def test_what_is_clever_in_yaml_is_refused_with_its_line(document, text, told):
    found, (fault,) = document(text)
    assert found is None
    assert fault.startswith(f"d.yaml, {told}")


@pytest.mark.parametrize("kind", ["read", "open"])
def test_a_file_that_cannot_be_read_is_told_with_the_systems_own_word(tmp_path, monkeypatch, kind):
    path = tmp_path / "d.yaml"
    path.write_text("a: 1\n")

    def denied(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open" if kind == "open" else "is_file", denied)
    findings = Findings()
    assert file_text(path, "d.yaml", 100, findings) is None
    assert [str(fault) for fault in findings.faults] == [
        "d.yaml: found Permission denied; expected a file that can be read"
    ]


CELLS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs"), include_characters="\n"),
    max_size=6,
).filter(lambda text: not text.startswith("#"))
ROWS = st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=6)


@GATE
@given(
    rows=ROWS,
    delimiter=st.sampled_from(",;"),
    ending=st.sampled_from(["\n", "\r\n"]),
    marked=st.booleans(),
)
def test_a_table_that_python_writes_is_read_as_python_reads_it(
    table, rows, delimiter, ending, marked
):
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter, lineterminator=ending).writerows(
        [("a", "b", "c"), *rows]
    )
    text = stream.getvalue()
    if any(line.lstrip().startswith("#") for line in text.splitlines()):
        return  # a comment here, and none to Python
    read, faults = table(("\ufeff" if marked else "") + text)
    expected = [
        {key: cell.strip() for key, cell in row.items() if cell.strip()}
        for row in csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter)
    ]
    assert faults == []
    found = [{key: entry.text for key, entry in row.entries.items()} for row in read]
    assert found == [row for row in expected if row]


def test_rows_are_told_by_the_line_on_which_they_start(table):
    text = '# by A.\n\na,b,c\n1,"two\nlines",3\n,,\n\n2,"x"\n3,,\n'
    rows, faults = table(text)
    assert [(row.mark.line, row.text("a")) for row in rows] == [(4, "1"), (9, "3")]
    assert faults == ["t.csv, line 8: found 2 fields; expected 3, as in the header"]
    assert rows[0].place("b") == Mark("t.csv", 4, "column b")
    assert rows[1].place("b") == Mark("t.csv", 9, "column b")


@pytest.mark.parametrize("text", ["a,b,c\n", "a,b,c", "a;c\n;\n ; \n", "\n\na\n\n"])
def test_a_table_of_no_rows_is_no_mistake(table, text):
    assert table(text) == ([], [])


def test_columns_come_in_any_order_and_may_be_left_out(table):
    (row,), faults = table("c;a\n3;1\n")
    assert (row.text("a"), row.has("b"), row.text("c"), faults) == ("1", False, "3", [])


@pytest.mark.parametrize(
    ("text", "value"),
    [('"a";b;c\n1,5;2;3\n', 1.5), ("a;b\n1.5;2\n", 1.5), ('a,b\n"1,5",2\n', None)],
)
def test_the_header_says_what_separates_and_so_which_decimal_sign_is_meant(table, text, value):
    (row,), faults = table(text)
    assert (row.number("a", Span()), faults) == (value, [])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("b,c\n1,2\n", ["t.csv, line 1, column a: found no such column; add it"]),
        (
            "A,b\n",
            [
                't.csv, line 1, column 1: found "A"; expected a known column, or # before a '
                "name of your own; did you mean a?",
                "t.csv, line 1, column a: found no such column; add it",
            ],
        ),
        ("a,b,b\n", ['t.csv, line 1, column 3: found "b" again; expected each column once']),
        (
            "a,\n",
            [
                "t.csv, line 1, column 2: found nothing; expected a known column, or # before a "
                "name of your own; known are b, c"
            ],
        ),
        (
            "a,b\n1,2,3\n",
            [
                "t.csv, line 2: found 3 fields; expected 2, as in the header; a decimal "
                "comma needs semicolons between the fields, or write 4.2"
            ],
        ),
        ("a;b\n1;2;3\n", ["t.csv, line 2: found 3 fields; expected 2, as in the header"]),
        ("a,b\n1\n", ["t.csv, line 2: found 1 fields; expected 2, as in the header"]),
        (
            'a,b\n1,2\n"3,4\n',
            [
                "t.csv, line 3: found unreadable text (unexpected end of data); "
                "expected fields whose quotes are closed"
            ],
        ),
        ("   \n", ["t.csv: found an empty file; expected a header: a"]),
        ("# a\n", ["t.csv: found nothing but comments; expected a header: a"]),
    ],
)
def test_what_is_wrong_with_a_table_is_told_in_full(table, text, told):
    assert table(text)[1] == told
