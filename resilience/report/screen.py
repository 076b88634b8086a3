"""A page on a terminal: two colours, plain tables, words whole wherever there is room for them.

The colours are sky blue and orange of the set of Okabe and Ito (2008), which the colour-blind can
tell apart; whatever they say is also said by a word or a sign.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rich.cells import cell_len, chop_cells, set_cell_size
from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.style import Style

from resilience.report.pages import (
    Alert,
    Bullets,
    Column,
    Command,
    Heading,
    Page,
    Part,
    Row,
    Span,
    Spans,
    Table,
    Text,
    Tone,
)
from resilience.report.words import visible

SKY_BLUE, ORANGE = "#56B4E9", "#E69F00"
STYLES = {
    Tone.PLAIN: None,
    Tone.STRONG: Style(bold=True),
    Tone.GOOD: Style(bold=True, color=SKY_BLUE),
    Tone.ALERT: Style(bold=True, color=ORANGE),
    Tone.QUIET: Style(dim=True),
}
BETWEEN = "  "  # columns
LONGEST_NAME = 20  # of a column beside its note
MOST_LABEL, MOST_SPAN, LEAST_SPAN = 28, 60, 12  # letters
MOST_FACTOR = 3.0  # bounds so many times beyond the largest value end in an arrow
BULLET, INDENT = " - ", "   "
# Blanks at which a line may end: not within "3 to 5", nor before the unit of a number.
BLANK = re.compile(
    r" +(?!(?<=\d )to -?\d)(?!(?<=\d to )-?\d)(?!(?<=\d )(?:%|dB\b|h\b|days\b|min\b))"
)
LINE_END, ANY_BLANK = re.compile("\n"), re.compile(" +")
SEAM = re.compile(r"(?<=[-_/.,:;|~])")  # where a word that is too long is broken first

Line = tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Screen:
    """A page as rich shows it, as wide as the console.

    Parameters
    ----------
    page : Page
        What is shown. [-]
    """

    page: Page

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for line in screen_lines(self.page, options.max_width, console.is_terminal):
            for text in line:
                yield Segment(text.text, STYLES[text.tone])
            yield Segment.line()


def screen_lines(page: Page, width: int, with_pictures: bool = False) -> Iterator[Line]:
    """Yield the lines of a page, each as texts beside each other.

    Parameters
    ----------
    page : Page
        What is shown. [-]
    width : int
        Columns of the terminal. [-]
    with_pictures : bool
        Whether somebody looks at it, and no program reads it. [-]
    """
    told = [block for block in page.blocks if with_pictures or not isinstance(block[0], Spans)]
    for number, block in enumerate(told):
        if number:
            yield ()
        for part in block:
            yield from _part(part, width)


def _part(part: Part, width: int) -> Iterator[Line]:
    match part:
        case Text():
            yield from _paragraph(part.text, width, part.tone)
        case Heading():
            yield from _paragraph(part.title, width, Tone.GOOD)
        case Alert():
            yield from _paragraph(f"! {part.sentence}", width, Tone.ALERT)
        case Command():
            yield (Text(f"  {visible(part.line)}"),)  # whole, so that it can be copied
        case Bullets():
            yield from _paragraph(part.title, width, Tone.GOOD)
            for sentence in part.sentences:
                for number, line in enumerate(wrapped(sentence, width - len(INDENT))):
                    yield (Text(f"{INDENT if number else BULLET}{line}"),)
        case Table():
            yield from _table(part, width)
        case Spans():
            yield from _paragraph(part.title, width, Tone.GOOD)
            for line in span_lines(part.rows, width):
                yield (Text(line),)


def _paragraph(text: str, width: int, tone: Tone) -> Iterator[Line]:
    for line in wrapped(text, width):
        yield (Text(line, tone),)


def wrapped(text: str, width: int) -> list[str]:
    """Lines of a text, broken at blanks, within words only where one has no room.

    Parameters
    ----------
    text : str
        Its own line breaks are kept; what cannot be shown is shown as an escape. [-]
    width : int
        Columns, at least 2. [-]
    """
    lines = []
    for given in text.split("\n"):
        shown = visible(given)
        lines += [shown] if cell_len(shown) <= width else _broken(shown, width)
    return lines


def _broken(text: str, width: int) -> list[str]:
    lines, line = [], ""
    for word in _words(text, width):
        joined = f"{line} {word}" if line else word
        if cell_len(joined) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        *full, line = [word] if cell_len(word) <= width else _folded(word, width)
        lines += full
    return [*lines, line]


def _words(text: str, width: int) -> list[str]:
    """What stays together on a line, as far as it fits."""
    kept = [one for one in BLANK.split(text.strip()) if one]
    return [part for one in kept for part in ([one] if cell_len(one) <= width else one.split())]


def _folded(word: str, width: int) -> list[str]:
    """Pieces of a word that is too long, broken at its seams where it has any."""
    pieces = [""]
    for part in SEAM.split(word):
        for bit in chop_cells(part, width):
            if cell_len(pieces[-1] + bit) <= width:
                pieces[-1] += bit
            else:
                pieces.append(bit)
    return [piece for piece in pieces if piece]


def _table(table: Table, width: int) -> Iterator[Line]:
    heads: Row = tuple(Text(column.head, Tone.STRONG) for column in table.columns)
    rows = [[_as_text(cell) for cell in row] for row in (heads, *table.rows)]
    widths = column_widths(table.columns, rows, width - 1)
    head, *others = (_row(row, table.columns, widths, row is rows[0]) for row in rows)
    yield from head
    yield (Text(" " + "─" * (sum(widths) + len(BETWEEN) * (len(widths) - 1))),)
    for lines in others:
        yield from lines
    yield from _notes(table.columns, width)


def _notes(columns: Sequence[Column], width: int) -> Iterator[Line]:
    """What the columns hold, the heads below each other."""
    told = [(_short(column.head), column.note) for column in columns if column.note]
    indent = max((cell_len(head) for head, _ in told), default=0) + len(BETWEEN) + 1
    if told:
        yield ()
    for head, note in told:
        for number, line in enumerate(wrapped(note, width - indent)):
            before = "" if number else f" {head}"
            yield (Text(before.ljust(indent) + line, Tone.QUIET),)


def _short(head: str) -> str:
    """A head in one line, its first line where all of it is long."""
    whole = " ".join(head.split())
    return visible(whole if len(whole) <= LONGEST_NAME else head.partition("\n")[0])


def _as_text(cell: str | Text) -> Text:
    return cell if isinstance(cell, Text) else Text(cell)


def column_widths(
    columns: Sequence[Column], rows: Sequence[Sequence[Text]], room: int
) -> list[int]:
    """Width of each column: figures whole and words unbroken, as far as there is room.

    Parameters
    ----------
    columns : sequence of Column
        In order. [-]
    rows : sequence of sequences of Text
        Cells, heads among them. [-]
    room : int
        Width of the table. [-]
    """
    room -= len(BETWEEN) * (len(columns) - 1)
    cells = list(zip(*(row for row in rows if row), strict=True))
    most, kept, unbroken = (
        [_widest(column, one, seam) for column, one in zip(columns, cells, strict=True)]
        for seam in (LINE_END, BLANK, ANY_BLANK)
    )
    whole = [
        words if column.is_text else line
        for column, words, line in zip(columns, kept, most, strict=True)
    ]
    fitting = (one for one in (whole, kept) if sum(one) <= room)
    least = next(fitting, unbroken)
    spare = room - sum(least)
    for _ in range(-spare):  # the longest words are broken
        least[least.index(max(least))] -= 1
    wanting = sorted(range(len(columns)), key=lambda at: most[at] - least[at])
    for n_left, at in zip(range(len(columns), 0, -1), wanting, strict=True):
        more = max(0, min(most[at] - least[at], spare // n_left))
        least[at] += more
        spare -= more
    return least


def _widest(column: Column, cells: Iterable[Text], seam: re.Pattern[str]) -> int:
    """Width of the widest piece of a column between seams."""
    bits = (bit for cell in cells for line in cell.text.split("\n") for bit in seam.split(line))
    return max(column.least_width, *(cell_len(visible(bit)) for bit in bits), 0)


def _row(
    row: Sequence[Text], columns: Sequence[Column], widths: Sequence[int], is_head: bool
) -> Iterator[Line]:
    if not row:
        yield ()
        return
    cells = [wrapped(text.text, width) for text, width in zip(row, widths, strict=True)]
    n_lines = max(map(len, cells))
    for number in range(n_lines):
        line = [Text(" ")]
        for text, lines, column, width in zip(row, cells, columns, widths, strict=True):
            at = number - (n_lines - len(lines) if is_head else 0)  # heads stand on the rule
            told = lines[at] if 0 <= at < len(lines) else ""
            line += [Text(_filled(told, width, column.is_text), text.tone), Text(BETWEEN)]
        while not line[-1].text.strip():
            line.pop()
        yield (*line[:-1], Text(line[-1].text.rstrip(), line[-1].tone))


def _filled(text: str, width: int, is_text: bool) -> str:
    blanks = " " * (width - cell_len(text))
    return text + blanks if is_text else blanks + text


def span_lines(rows: Sequence[Span], width: int) -> Iterator[str]:
    """Yield a line for each value, all on one scale that begins at 0; none where there is no room.

    Parameters
    ----------
    rows : sequence of Span
        From the top, none below 0. [unit]
    width : int
        Columns of the terminal. [-]
    """
    labels = [visible(one.label) for one in rows]
    left = min(MOST_LABEL, max(map(cell_len, labels), default=0))
    right = max((cell_len(one.shown) for one in rows), default=0)
    room = min(MOST_SPAN, width - left - right - 5)
    most = _span_end(rows)
    if room < LEAST_SPAN or most <= 0:
        return
    for label, one in zip(labels, rows, strict=True):
        yield f" {set_cell_size(label, left)}  {_span(one, most, room)}  {one.shown}".rstrip()


def _span_end(rows: Sequence[Span]) -> float:
    """End of the scale: all bounds, unless some reach far beyond all values."""
    largest = max((one.mean for one in rows), default=0.0)
    bounds = [one.high for one in rows]
    return min(max([largest, *bounds]), MOST_FACTOR * largest)


def _span(one: Span, most: float, room: int) -> str:
    def at(value: float) -> int:
        return round((room - 1) * min(value, most) / most)

    letters = [" "] * room
    low, mean, high = at(max(0.0, one.low)), at(one.mean), at(one.high)
    letters[low : high + 1] = "─" * (high + 1 - low)
    letters[low], letters[high] = "├", "┤" if one.high <= most else ">"
    letters[mean] = "●"
    return "".join(letters)
