"""Pages as values: what an answer says, and nothing of how it looks.

A page is blocks of parts; whoever shows one (``screen``) decides on colours, widths and signs, and
shows every text as it stands, whatever it holds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

NOT_SURVEYED = "Predicted, not surveyed: measure before you promise. "
ALWAYS = (
    "Not for fire, gas, medical or other life-safety signalling. Local codes and licensed practice "
    "hold for radio limits, electrical work, lithium cells, work at height and old building fabric."
)


class Tone(Enum):
    """How a text is meant; what it means is also said by a word or a sign."""

    PLAIN = auto()
    STRONG = auto()
    GOOD = auto()
    ALERT = auto()
    QUIET = auto()


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph, or a cell of a table.

    Parameters
    ----------
    text : str
        Its line breaks are kept in a cell. [-]
    tone : Tone
        How it is meant. [-]
    """

    text: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class Heading:
    """Title of what follows.

    Parameters
    ----------
    title : str
        What is shown. [-]
    """

    title: str


@dataclass(frozen=True, slots=True)
class Alert:
    """A sentence that a reader must not miss.

    Parameters
    ----------
    sentence : str
        In plain words, without a sign. [-]
    """

    sentence: str


@dataclass(frozen=True, slots=True)
class Command:
    """What to type next.

    Parameters
    ----------
    line : str
        Quoted for a shell. [-]
    """

    line: str


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences.

    Parameters
    ----------
    title : str
        What they have in common. [-]
    sentences : tuple of str
        One an item. [-]
    """

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Parameters
    ----------
    head : str
        With its unit; line breaks are kept. [-]
    is_text : bool
        Whether it holds words, which begin at the left, or figures, which end at the right. [-]
    note : str
        What its figures are, told once beside the table; may be empty. [-]
    least_width : int
        Letters that it has room for at least, so that tables below each other line up. [-]
    """

    head: str
    is_text: bool = False
    note: str = ""
    least_width: int = 0


Row = tuple[str | Text, ...]
GAP: Row = ()  # parts the rows before it from those behind it


@dataclass(frozen=True, slots=True)
class Table:
    """Figures in columns.

    Parameters
    ----------
    columns : tuple of Column
        In order. [-]
    rows : tuple of Row
        As many cells as columns each, or ``GAP``. [-]
    """

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        if any(row != GAP and len(row) != len(self.columns) for row in self.rows):
            raise ValueError("every row needs a cell for each column")


@dataclass(frozen=True, slots=True)
class Span:
    """A value with its bounds.

    Parameters
    ----------
    label : str
        What it is of. [-]
    mean, low, high : float
        Best value and bounds; a bound may be without end. [unit]
    shown : str
        The value in words. [-]
    """

    label: str
    mean: float
    low: float
    high: float
    shown: str


@dataclass(frozen=True, slots=True)
class Spans:
    """Values with their bounds below each other: a picture of figures that a table has as well.

    Parameters
    ----------
    title : str
        What they are, with the unit. [-]
    rows : tuple of Span
        From the top. [-]
    """

    title: str
    rows: tuple[Span, ...]


Part = Text | Heading | Alert | Command | Bullets | Table | Spans
Block = tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """An answer.

    Parameters
    ----------
    blocks : tuple of Block
        Parts that stand together, with a gap between blocks. [-]
    """

    blocks: tuple[Block, ...]


def page(*blocks: Part | Sequence[Part]) -> Page:
    """Page of parts and of groups of parts, without the empty ones.

    Parameters
    ----------
    blocks : part or sequence of parts
        In order. [-]
    """
    together = [tuple(one) if isinstance(one, Sequence) else (one,) for one in blocks]
    return Page(tuple(block for block in together if block))


def titled(title: str, note: str, *parts: Part) -> Block:
    """Parts below their title and what is said quietly of them all.

    Parameters
    ----------
    title : str
        What is shown. [-]
    note : str
        May be empty. [-]
    parts : Part
        In order. [-]
    """
    quiet = (Text(note, Tone.QUIET),) if note else ()
    return (Heading(title), *quiet, *parts)


def words(*heads: str) -> tuple[Column, ...]:
    """Columns of words under these heads."""
    return tuple(Column(head, is_text=True) for head in heads)


def figures(*heads: str) -> tuple[Column, ...]:
    """Columns of figures under these heads."""
    return tuple(Column(head) for head in heads)


def cautions(is_surveyed: bool) -> Text:
    """Return what every answer ends with.

    Parameters
    ----------
    is_surveyed : bool
        Whether every link is measured. [-]
    """
    return Text(f"{'' if is_surveyed else NOT_SURVEYED}{ALWAYS}", Tone.QUIET)
