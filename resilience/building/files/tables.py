"""A CSV file as records: columns checked, ids kept as text, either kind of decimal sign."""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from resilience.building.cells import Cell, Findings, Mark, Record, quoted
from resilience.building.files.documents import file_text

MOST_BYTES = 10_000_000


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


def read_table(path: Path, file: str, columns: Columns, findings: Findings) -> list[Record] | None:
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
    head = text.lstrip().partition("\n")[0]
    delimiter = ";" if head.count(";") > head.count(",") else ","
    rows = _rows(text, file, delimiter, findings)
    first = next(rows, None)
    if first is None:
        return None
    header = _header(first, file, columns, findings)
    if not set(columns.needed) <= set(header):
        return None
    records = (_record(row, header, delimiter, Mark(file, line), findings) for line, row in rows)
    return [record for record in records if record]


def _rows(
    text: str, file: str, delimiter: str, findings: Findings
) -> Iterator[tuple[int, list[str]]]:
    """Yield the line on which each row starts, and its fields; blank rows are skipped."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            fields = next(reader, None)
        except csv.Error as error:
            wanted = "expected fields whose quotes are closed"
            findings.fault(Mark(file, line), f"unreadable text ({error})", wanted)
            return
        if fields is None:
            return
        stripped = [entry.strip() for entry in fields]
        if any(stripped):
            yield line, stripped


def _header(
    first: tuple[int, list[str]], file: str, columns: Columns, findings: Findings
) -> list[str]:
    line, names = first
    for position, name in enumerate(names):
        if name in names[:position]:
            mark = Mark(file, line, f"column {position + 1}")
            findings.fault(mark, f"{quoted(name)} again", "expected each column once")
        elif name not in columns.known:
            unused = [column for column in columns.known if column not in names]
            mark = Mark(file, line, f"column {position + 1}")
            findings.unknown(mark, name, unused, "a known column")
    for column in columns.needed:
        if column not in names:
            findings.fault(Mark(file, line, f"column {column}"), "no such column", "add it")
    return names


def _record(
    row: list[str], header: list[str], delimiter: str, mark: Mark, findings: Findings
) -> Record | None:
    if len(row) != len(header):
        wanted = f"expected {len(header)}, as in the header"
        if delimiter == "," and len(row) > len(header):
            wanted += "; a decimal comma needs semicolons between the fields, or write 4.2"
        findings.fault(mark, f"{len(row)} fields", wanted)
        return None
    cells = {
        name: Cell(text, Mark(mark.file, mark.line, f"column {name}"), True, delimiter == ";")
        for name, text in zip(header, row, strict=True)
        if text
    }
    return Record(mark, "column ", cells, findings)
