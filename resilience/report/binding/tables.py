"""A table as the text of a spreadsheet."""

import csv
import io
from collections.abc import Sequence

from resilience.report.pages import Table, Text
from resilience.report.words import unreckoned, visible


def csv_of(table: Table) -> str:
    """Table as comma-separated text.

    A text that a spreadsheet would run as a formula has an apostrophe before it.

    Parameters
    ----------
    table : Table
        The figures; gaps between rows are left out. [-]
    """
    rows = [[column.head for column in table.columns]]
    rows += [[_plain(cell) for cell in row] for row in table.rows if row]
    return csv_text([[_harmless(" ".join(cell.split("\n"))) for cell in row] for row in rows])


def csv_text(rows: Sequence[Sequence[str]]) -> str:
    """Rows as comma-separated text, each cell as it stands.

    Parameters
    ----------
    rows : sequence of sequences of str
        The head first. [-]
    """
    made = io.StringIO()
    csv.writer(made, lineterminator="\n").writerows(rows)
    return made.getvalue()


def _plain(cell: str | Text) -> str:
    return cell.text if isinstance(cell, Text) else cell


def _harmless(cell: str) -> str:
    shown = visible(cell)
    return shown if _is_number(shown) else unreckoned(shown)


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", ""))
    except ValueError:
        return False
    return True
