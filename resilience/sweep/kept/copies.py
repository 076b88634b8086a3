"""Tables of a run once more, as workbooks and as Parquet: made of its CSV, value by value."""

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from enum import StrEnum
from pathlib import Path

from resilience.drawings.plan import library
from resilience.sweep.kept.results import (
    FAILURES,
    LAYOUTS,
    SENSORS,
    SITES,
    TEXTS,
    WHOLE,
    YES_OR_NO,
    Cell,
    folder_name,
    write_whole,
)

EXTRA = "tables"
TYPES = {str: "string", int: "int64", bool: "bool_", float: "float64"}  # as pyarrow calls them


class Kind(StrEnum):
    """What tables can be copied to, as their names end."""

    XLSX = "xlsx"
    PARQUET = "parquet"


def refuse_missing(kinds: Iterable[Kind]) -> None:
    """Raise UsageError, with the way to it, where a library is missing that writes such tables.

    Parameters
    ----------
    kinds : iterable of Kind
        What is wanted. [-]
    """
    for kind in kinds:
        library({Kind.XLSX: "openpyxl", Kind.PARQUET: "pyarrow.parquet"}[kind], EXTRA)


def copy_tables(folder: Path, ids: Iterable[str], kinds: Sequence[Kind]) -> None:
    """Write each table of a run beside its CSV.

    Parameters
    ----------
    folder : Path
        The run folder. [-]
    ids : iterable of str
        Sites that have a score. [-]
    kinds : sequence of Kind
        What to write. [-]
    """
    if not kinds:
        return
    sensors = (folder / "sites" / folder_name(id) / SENSORS for id in ids)
    for path in (*(folder / name for name in (SITES, LAYOUTS, FAILURES)), *sensors):
        columns, rows = _read(path)
        for kind in kinds:
            write_whole(path.with_suffix(f".{kind}"), WRITERS[kind](columns, rows))


def _read(path: Path) -> tuple[list[str], list[list[Cell]]]:
    with path.open(encoding="utf-8", newline="") as stream:
        columns, *rows = csv.reader(stream)
    kinds = [_type(name) for name in columns]
    return columns, [[_value(*one) for one in zip(row, kinds, strict=True)] for row in rows]


def _type(column: str) -> type:
    if column in TEXTS:
        return str
    if column in YES_OR_NO:
        return bool
    return int if column in WHOLE else float


def _value(cell: str, kind: type) -> Cell:
    if not cell:
        return None
    value: Cell = cell == str(True) if kind is bool else kind(cell)
    return value


def _workbook(columns: list[str], rows: list[list[Cell]]) -> bytes:
    openpyxl = library("openpyxl", EXTRA)
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    lines: list[Sequence[Cell]] = [columns, *rows]
    for row in lines:
        # Numbers are handed over as text, since of them the library writes 16 digits only, and
        # their kind is stated, since it takes some text for errors or formulas.
        texts = [repr(one) if isinstance(one, float) else one for one in row]
        cells = [openpyxl.cell.WriteOnlyCell(sheet, text) for text in texts]
        for cell, value in zip(cells, row, strict=True):
            if isinstance(value, str | float):
                cell.data_type = "s" if isinstance(value, str) else "n"
        sheet.append(cells)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def _parquet(columns: list[str], rows: list[list[Cell]]) -> bytes:
    pyarrow, parquet = library("pyarrow", EXTRA), library("pyarrow.parquet", EXTRA)
    arrays = [
        pyarrow.array([row[k] for row in rows], getattr(pyarrow, TYPES[_type(name)])())
        for k, name in enumerate(columns)
    ]
    content = io.BytesIO()
    parquet.write_table(pyarrow.table(arrays, names=columns), content)
    return content.getvalue()


WRITERS: dict[Kind, Callable[[list[str], list[list[Cell]]], bytes]] = {
    Kind.XLSX: _workbook,
    Kind.PARQUET: _parquet,
}
