"""What the names in a drawing mean: a table of layers or materials, or guesses that are told.

The guesses know the words of the trade and the codes of layer standards; the table that they fill
in is written beside the site, to be corrected and handed in.
"""

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from resilience.building.text.entries import Findings, TableRow, shown
from resilience.building.text.tables import COMMENT, Columns, read_table
from resilience.drawings.account import Account
from resilience.drawings.plan import FORMULA
from resilience.drawings.words import IGNORE, OUTLINE, UNKNOWN_WALL, meaning_of
from resilience.errors import UsageError

FILLED = {  # what is made of something, and of what where nobody says
    "doors": "wooden_door",
    "windows": "unknown_glass",
    "shaft": "unknown_wall",
    "pillars": "concrete_300",
    "opening": "",
}
WORDS = (IGNORE, OUTLINE, *FILLED)
BY_THICKNESS = {  # walls that are as thick as they are drawn; the first where nothing tells
    "brick": {0.12: "brick_120", 0.25: "brick_250"},
    "concrete": {0.20: "concrete_200", 0.15: "concrete_150", 0.30: "concrete_300"},
}
OPEN = "open"
HOLES = ("shaft", "opening")  # may be made of nothing
STATED = "as the table says"
OUTCOME = ("things", "gave", "lost")  # what a drawing made of each; written, and read past
TABLE = Columns(("becomes",), ("layer", "material", "construction", "note", *OUTCOME))
MOST_NAME = 200


class NothingKnownError(UsageError):
    """No layer is known to hold a part of the building; carries the table to be corrected."""

    def __init__(self, message: str, rows: list[list[str]]) -> None:
        self.rows = rows
        super().__init__(message)


@dataclass(frozen=True, slots=True)
class Meaning:
    """What one layer or material becomes.

    Parameters
    ----------
    becomes : str
        One of ``WORDS``, or what walls are made of: a construction, or a word of ``BY_THICKNESS``.
        [-]
    construction : str
        What doors, windows, pillars and linings are made of; empty for nothing. [-]
    note : str
        How it came to that, for the person who reads the table. [-]
    """

    becomes: str
    construction: str = ""
    note: str = ""

    @property
    def is_wall(self) -> bool:
        """Whether it stands for walls."""
        return self.becomes not in WORDS


def built(made_of: str, thick_m: float) -> str:
    """Return the construction of a wall: of those that come in several thicknesses, the nearest.

    Parameters
    ----------
    made_of : str
        A construction, or a word of ``BY_THICKNESS``. [-]
    thick_m : float
        Between the two faces drawn; 0 for a single line. [m]
    """
    if made_of not in BY_THICKNESS:
        return made_of
    thicknesses = BY_THICKNESS[made_of]
    usual_m = next(iter(thicknesses))
    return thicknesses[min(thicknesses, key=lambda each_m: abs(each_m - (thick_m or usual_m)))]


def key_of(name: str) -> str:
    """Return a name of the drawing as a table holds it: visible, no formula, no comment."""
    seen = "".join(
        one if one.isprintable() else one.encode("unicode_escape", "replace").decode("ascii")
        for one in name.strip()[:MOST_NAME]
    )
    return f"'{seen}" if seen.startswith((*FORMULA, COMMENT, "'")) else seen


def guess(name: str, hidden: bool = False) -> Meaning:
    """Return what a name seems to mean; ``ignore``, with a note, if it says nothing.

    Parameters
    ----------
    name : str
        Name of a layer or material. [-]
    hidden : bool
        Whether the drawing has switched the layer off. [-]
    """
    if hidden:
        return Meaning(IGNORE, note="switched off in the drawing")
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    parts = re.findall(r"[^\W\d_]+", spaced.casefold())
    found = meaning_of(parts)
    if found:
        becomes, construction, word = found
        return Meaning(becomes, construction, f"guessed from {word}")
    return Meaning(IGNORE, note="not understood")


def meanings_of(
    names: Iterable[str], given: dict[str, Meaning] | None, hidden: Collection[str] = ()
) -> dict[str, Meaning]:
    """Return what each name of a layer becomes.

    Parameters
    ----------
    names : iterable of str
        As the drawing has them. [-]
    given : dict or None
        The user's table; None guesses. [-]
    hidden : collection of str
        Names that the drawing has switched off. [-]
    """
    if given is not None:
        unlisted = Meaning(IGNORE, note="not in the table")
        return {name: given.get(key_of(name).casefold(), unlisted) for name in names}
    found = {name: guess(name, name in hidden) for name in names}
    if "0" in found and not any(meaning.is_wall for meaning in found.values()):
        # A drawing without layers has everything on the one that every drawing has.
        found["0"] = Meaning(UNKNOWN_WALL, note="guessed: no other layer holds walls")
    return found


def read_meanings(path: Path, constructions: Collection[str]) -> dict[str, Meaning]:
    """Return the user's table, by folded name; InputError with every mistake in it.

    Parameters
    ----------
    path : Path
        CSV of ``layer`` or ``material``, ``becomes`` and, optionally, ``construction``. [-]
    constructions : collection of str
        Those that exist. [-]
    """
    findings, file = Findings(), shown(path.name)
    rows = read_table(path, file, TABLE, findings)
    given: dict[str, Meaning] = {}
    for row in rows or []:
        head = "material" if row.has("material") else "layer"
        if not row.has(head):
            row.fault(head, "expected the name of a layer or material")
            continue
        known = (*WORDS, *BY_THICKNESS, *constructions)
        becomes = row.word("becomes", known, "a construction, or a word", IGNORE)
        name = key_of(row.entries[head].text.removeprefix("'")).casefold()
        if name in given:
            row.fault(head, "expected each name once")
        given[name] = Meaning(
            becomes or IGNORE, _made_of(row, becomes or "", constructions), STATED
        )
    findings.raise_if_any()
    if not given:
        raise UsageError(f"{file} names nothing: expected layer,becomes and a row for each layer")
    return given


def _made_of(row: TableRow, becomes: str, constructions: Collection[str]) -> str:
    """Return what doors, windows, pillars or linings are made of; empty for nothing."""
    if not row.has("construction"):
        return FILLED.get(becomes, "")
    made_of = row.word("construction", constructions, "a construction") or ""
    return "" if made_of == OPEN and becomes in HOLES else made_of


def tell_meanings(
    meanings: dict[str, Meaning], lines: dict[str, int], noun: str, account: Account
) -> None:
    """Tell what was not understood, so that nothing is missed in silence.

    Parameters
    ----------
    meanings : dict of str to Meaning
        By name of the layer or material. [-]
    lines : dict of str to int
        How many things each holds. [-]
    noun : str
        ``layer`` or ``material``. [-]
    account : Account
        Where it goes. [-]
    """
    for name, meaning in meanings.items():
        if meaning.becomes == IGNORE and lines.get(name):
            is_meant = meaning.note == STATED or meaning.note.startswith("guessed")
            why = f"to be ignored, {meaning.note}" if is_meant else meaning.note
            account.leave_out(f"{noun} {key_of(name)}", why, lines[name], key_of(name))


def table_rows(meanings: dict[str, Meaning], noun: str) -> list[list[str]]:
    """Return the table of what everything became, its header first.

    Parameters
    ----------
    meanings : dict of str to Meaning
        By name of the layer or material. [-]
    noun : str
        ``layer`` or ``material``. [-]
    """
    rows = [[noun, "becomes", "construction", "note"]]
    for name, meaning in sorted(meanings.items()):
        needs = meaning.becomes in FILLED
        rows.append(
            [key_of(name), meaning.becomes, meaning.construction or OPEN * needs, meaning.note]
        )
    return rows


def with_outcome(rows: list[list[str]], account: Account) -> list[list[str]]:
    """Return the table with how many things each name held, what they gave and what was lost.

    Parameters
    ----------
    rows : list of list of str
        From ``table_rows``. [-]
    account : Account
        What became of the drawing. [-]
    """
    if not account.things:
        return rows
    told = [[*rows[0], *OUTCOME]]
    for row in rows[1:]:
        gave, lost = account.gave_words(row[0]), account.lost_words(row[0])
        told.append([*row, str(account.things[row[0]]), gave, lost])
    return told
