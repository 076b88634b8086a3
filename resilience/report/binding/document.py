"""A document as a value: chapters of parts, pictures among them."""

from collections.abc import Iterator
from dataclasses import dataclass

from resilience.report.drawing.marks import Figure
from resilience.report.pages import Block, Heading, Part, Table, Text, Tone


@dataclass(frozen=True, slots=True)
class Listing:
    """A table with its title, that can be sorted and taken along.

    Parameters
    ----------
    title : str
        What it lists; unique in a document. [-]
    table : Table
        The figures. [-]
    note : str
        What is said of all of it; may be empty. [-]
    is_folded : bool
        Whether it is shown only when it is asked for. [-]
    """

    title: str
    table: Table
    note: str = ""
    is_folded: bool = False


@dataclass(frozen=True, slots=True)
class Links:
    """Other pages that stand below the same folder.

    Parameters
    ----------
    title : str
        What they have in common. [-]
    pages : tuple of (str, str)
        What each is of, and where it is from here. [-]
    """

    title: str
    pages: tuple[tuple[str, str], ...]


Piece = Part | Figure | Listing | Links


@dataclass(frozen=True, slots=True)
class Chapter:
    """A part of a document that stands in its contents.

    Parameters
    ----------
    title : str
        What it is about; unique in a document. [-]
    pieces : tuple of Piece
        In order. [-]
    starts_page : bool
        Whether it starts a new page in print. [-]
    """

    title: str
    pieces: tuple[Piece, ...]
    starts_page: bool = False


@dataclass(frozen=True, slots=True)
class Document:
    """Everything that is bound into one file.

    Parameters
    ----------
    kind : str
        Which of our documents it is; marks what may be written over. [-]
    title : str
        What it is of. [-]
    lead : tuple of str
        What comes first, one paragraph an entry. [-]
    chapters : tuple of Chapter
        In order. [-]
    stamp, caution : str
        What stands below each picture and on each printed page, and what all ends with. [-]
    """

    kind: str
    title: str
    lead: tuple[str, ...]
    chapters: tuple[Chapter, ...]
    stamp: str
    caution: str


def listed_block(block: Block, name: str = "") -> Iterator[Piece]:
    """Yield the parts of a block, its table as a listing under the heading above it.

    Parameters
    ----------
    block : Block
        As an answer on a terminal has it. [-]
    name : str
        What is added to the title, where a document has several such blocks. [-]
    """
    title, notes = name, []
    for part in block:
        if isinstance(part, Heading):
            title = f"{part.title}{f': {name}' if name else ''}"
        elif isinstance(part, Text) and part.tone is Tone.QUIET:
            notes.append(part.text)
        elif isinstance(part, Table):
            yield Listing(title, part, " ".join(notes))
        else:
            yield part
