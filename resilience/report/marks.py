"""What all screens share: two colours, plain tables, cautions.

The colours are sky blue and orange of the set of Okabe and Ito (2008), which the colour-blind can
tell apart; whatever they say is also said by a word or a sign.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich import box
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.measure import Measurement
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from resilience.report.words import visible

SKY_BLUE, ORANGE = "#56B4E9", "#E69F00"
HEAD = f"bold {SKY_BLUE}"
ALERT = f"bold {ORANGE}"
QUIET = "dim"

NOT_SURVEYED = "Links are predicted, not surveyed: measure before you promise."
ALWAYS = (
    "Not for fire, gas, medical or other life-safety signalling.",
    "Radio limits, electrical work, lithium cells, work at height and old building fabric follow "
    "local codes and licensed practice.",
)


def plain(text: str, style: str = "") -> Text:
    """Return text that is shown as it stands, whatever it holds."""
    return Text(visible(text), style=style)


def heading(title: str, note: str = "") -> Group:
    """Title of a table and, below it, how its figures were made.

    Parameters
    ----------
    title : str
        What is shown. [-]
    note : str
        Levels and methods; may be empty. [-]
    """
    return Group(plain(title, HEAD), *([plain(note, QUIET)] if note else []))


def table(columns: Sequence[str], texts: int | Sequence[int] = 1) -> Table:
    """Empty table: text columns to the left, figures to the right, long words folded.

    Parameters
    ----------
    columns : sequence of str
        Heads, each with its unit. [-]
    texts : int or sequence of int
        Number of leading text columns, or the positions of all of them. [-]
    """
    left = range(texts) if isinstance(texts, int) else texts
    made = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    for position, head in enumerate(columns):
        made.add_column(
            Text(head),
            justify="left" if position in left else "right",
            overflow="fold",
            vertical="top",
        )
    return made


def add_row(made: Table, cells: Iterable[str | Text], style: str = "") -> None:
    """Add a row, texts shown as they stand."""
    made.add_row(*(cell if isinstance(cell, Text) else _cell(cell) for cell in cells), style=style)


def _cell(cell: str) -> "Text | Word":
    return Word(cell) if cell.isascii() and cell.isprintable() and " " not in cell else _lines(cell)


@dataclass(frozen=True, slots=True)
class Word:
    """A cell of one word, which is most of them: put where it belongs without a search for breaks.

    Parameters
    ----------
    text : str
        Printable ASCII without a space; may be empty. [-]
    """

    text: str

    def __rich_measure__(self, _console: Console, _options: ConsoleOptions) -> Measurement:
        return Measurement(len(self.text), len(self.text))

    def __rich_console__(self, _console: Console, options: ConsoleOptions) -> RenderResult:
        if len(self.text) > options.max_width:
            yield Text(self.text)
        elif options.justify == "right":
            yield Segment(self.text.rjust(options.max_width) + "\n")
        else:
            yield Segment(self.text + "\n")


def _lines(cell: str) -> Text:
    """Return a cell whose own line breaks are kept; everything else is escaped."""
    return Text("\n".join(visible(line) for line in cell.split("\n")))


def bullets(title: str, sentences: Sequence[str], style: str = HEAD) -> Group:
    """Title and one indented paragraph a sentence."""
    items = [_bullet(plain(sentence)) for sentence in sentences]
    return Group(plain(title, style), *items)


def _bullet(sentence: Text) -> Table:
    made = Table.grid(padding=(0, 1, 0, 0))
    made.add_column(width=2)
    made.add_column(overflow="fold")
    made.add_row(Text(" -"), sentence)
    return made


def alert(sentence: str) -> Text:
    """Sentence that comes before all others, marked by a sign as well as by colour."""
    return plain(f"! {sentence}", ALERT)


def cautions(is_surveyed: bool) -> Group:
    """Return what every answer ends with.

    Parameters
    ----------
    is_surveyed : bool
        Whether every link is measured. [-]
    """
    told = ALWAYS if is_surveyed else (NOT_SURVEYED, *ALWAYS)
    return bullets("Cautions", told)


def spaced(parts: Sequence[RenderableType]) -> Group:
    """Parts of a page with an empty line between them."""
    return Group(*[one for part in parts for one in (part, Text(""))][:-1])
