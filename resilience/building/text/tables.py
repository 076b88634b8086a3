"""A CSV file as records: columns checked, ids kept as text, either kind of decimal sign.

A line that starts with ``#`` is a comment. A column that is not known is a mistake, as it may be a
misspelt one, unless its name starts with ``#`` or a comment names it: then it is left out.
"""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from resilience.building.text.complaints import SAVE_TABLE
from resilience.building.text.documents import file_text
from resilience.building.text.entries import Entry, Findings, Mark, TableRow, listed, quoted

MOST_BYTES = 10_000_000
COMMENT = "#"

Row = tuple[int, list[str]]  # the line on which it starts, and its fields


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns of one kind of table.

    Parameters
    ----------
    needed : tuple of str
        Columns without which it cannot be read. [-]
    optional : tuple of str
        Columns that may be left out. [-]
    """

    needed: tuple[str, ...]
    optional: tuple[str, ...] = ()

    @property
    def known(self) -> tuple[str, ...]:
        """All of them, needed ones first."""
        return self.needed + self.optional


@dataclass(frozen=True, slots=True)
class Parsed:
    """The text of a table, taken apart.

    Parameters
    ----------
    delimiter : str
        What stands between fields. [-]
    rows : list of (int, list of str)
        Line on which each row starts, and its fields; the header is the first. [-]
    comments : dict of int to str
        Comments by their line. [-]
    """

    delimiter: str
    rows: list[Row]
    comments: dict[int, str]


def read_table(
    path: Path, file: str, columns: Columns, findings: Findings
) -> list[TableRow] | None:
    """Return the rows of a CSV file as records, those with a wrong number of fields left out.

    None, and a fault, stand for a file that cannot be read or lacks a column.

    Parameters
    ----------
    path : Path
        The file. [-]
    file : str
        Its name in messages. [-]
    columns : Columns
        What its header may say. [-]
    findings : Findings
        Where faults go. [-]
    """
    text = file_text(path, file, MOST_BYTES, findings)
    if text is None:
        return None
    if not text.strip():
        wanted = f"expected a header: {', '.join(columns.needed)}"
        findings.fault(Mark(file), "an empty file", wanted)
        return None
    parsed = _parsed(text, file, columns, findings)
    if not parsed.rows:
        if parsed.comments:
            wanted = f"expected a header: {', '.join(columns.needed)}"
            findings.fault(Mark(file), "nothing but comments", wanted)
        return None
    line, names = parsed.rows[0]
    if len(names) == 1 and "\t" in names[0]:
        findings.fault(Mark(file, line), "columns separated by tabs", SAVE_TABLE)
        return None
    header = _header(parsed, file, columns, findings)
    if not set(columns.needed) <= set(header):
        return None
    _tell_switched_off(parsed, file, findings)
    records = (
        _record(row, header, parsed.delimiter, Mark(file, line), findings)
        for line, row in parsed.rows[1:]
    )
    return [record for record in records if record]


def _parsed(text: str, file: str, columns: Columns, findings: Findings) -> Parsed:
    """Take a text apart; blank rows are skipped."""
    head_line, head = _head(text, columns)
    parsed = Parsed(";" if head.count(";") > head.count(",") else ",", [], {})
    before = 0  # lines that were read when the present row began

    def lines() -> Iterator[str]:
        for line, found in enumerate(io.StringIO(text, newline=""), 1):
            # What starts with # inside a field in quotes is no comment.
            if line == before + 1 and line != head_line and _is_comment(found):
                parsed.comments[line] = found
                yield "\n"
            else:
                yield found

    reader = csv.reader(lines(), delimiter=parsed.delimiter, strict=True)
    while True:
        before = reader.line_num
        try:
            fields = next(reader, None)
        except csv.Error as error:
            wanted = "expected fields whose quotes are closed"
            findings.fault(Mark(file, before + 1), f"unreadable text ({error})", wanted)
            return parsed
        if fields is None:
            return parsed
        stripped = [entry.strip() for entry in fields]
        if any(stripped):
            parsed.rows.append((before + 1, stripped))


def _is_comment(line: str) -> bool:
    return line.lstrip().startswith(COMMENT)


def _head(text: str, columns: Columns) -> tuple[int, str]:
    """Return the line of the header and its number; its own first column may start with #."""
    for line, found in enumerate(io.StringIO(text, newline=""), 1):
        names = {name.strip(' "\t\r\n') for name in re.split("[,;]", found)}
        if found.strip() and (not _is_comment(found) or names >= set(columns.needed)):
            return line, found
    return 0, ""


def _tell_switched_off(parsed: Parsed, file: str, findings: Findings) -> None:
    """Tell of comments that look like rows, lest somebody takes them for read."""
    n_fields = len(parsed.rows[0][1])
    lines = [
        str(line)
        for line, found in parsed.comments.items()
        if found.count(parsed.delimiter) == n_fields - 1
    ]
    if lines:
        which = "line" if len(lines) == 1 else "lines"
        findings.note(f"{file}, {which} {listed(lines)}: left out as a comment, for the leading #.")


def _header(parsed: Parsed, file: str, columns: Columns, findings: Findings) -> list[str]:
    """Return the names of the columns, empty for those that are left out."""
    line, names = parsed.rows[0]
    header, own = [], []
    for position, name in enumerate(names):
        mark = Mark(file, line, f"column {position + 1}")
        if name not in columns.known and _is_own(name, parsed.comments):
            own.append(name)
            header.append("")
            continue
        if name in names[:position]:
            findings.fault(mark, f"{quoted(name)} again", "expected each column once")
        elif name not in columns.known:
            unused = [column for column in columns.known if column not in names]
            findings.unknown(mark, name, unused, "a known column, or # before a name of your own")
        header.append(name)
    for column in columns.needed:
        if column not in names:
            findings.fault(Mark(file, line, f"column {column}"), "no such column", "add it")
    if own:
        which = "column" if len(own) == 1 else "columns"
        findings.note(f"{file}: {which} {listed(own)} left out, as # asks for.")
    return header


def _is_own(name: str, comments: dict[int, str]) -> bool:
    """Whether a column is the user's own: marked so itself, or named in a comment."""
    word = rf"(?<!\w){re.escape(name)}(?!\w)"
    return name.startswith(COMMENT) or (
        name != "" and any(re.search(word, found) for found in comments.values())
    )


def _record(
    row: list[str], header: list[str], delimiter: str, mark: Mark, findings: Findings
) -> TableRow | None:
    if len(row) != len(header):
        wanted = f"expected {len(header)}, as in the header"
        if delimiter == "," and len(row) > len(header):
            wanted += "; a decimal comma needs semicolons between the fields, or write 4.2"
        findings.fault(mark, f"{len(row)} fields", wanted)
        return None
    entries = {
        name: Entry(text, Mark(mark.file, mark.line, f"column {name}"), True, delimiter == ";")
        for name, text in zip(header, row, strict=True)
        if name and text
    }
    return TableRow(mark, "column ", entries, findings)
