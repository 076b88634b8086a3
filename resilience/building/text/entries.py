"""Text at a place in a file: read as a name, a number or a switch, every mistake collected.

A reader never stops at a mistake: it records a fault, goes on with a stand-in, and the faults are
raised together when everything has been read.
"""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from types import MappingProxyType

from resilience.errors import Fault, InputError

MOST_SHOWN = 60  # characters of a hostile text that a message repeats
MOST_FAULTS = 200  # told of one file; the rest is counted
MOST_COMPARED = 1000  # known words; beyond, only a difference of case is noticed
MOST_NAMED = 16  # names in one message
MOST_ID = 64
ON = ("on", "true", "yes")
OFF = ("off", "false", "no")
OTHER_SCALE = "are these millimetres (divide by 1000) or inches (divide by 39.37)?"
Assumed = Mapping[str, float]  # what stands for defaults of the catalogue, by key
NOTHING: Assumed = MappingProxyType({})
UNITS = {
    "m": "metres",
    "h": "hours",
    "1/year": "times per year",
    "share/year": "a share per year",
    "-": "a number",
}

_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


def shown(text: str) -> str:
    """Return text that is safe to print: control and invisible characters escaped, shortened."""
    short = text if len(text) <= MOST_SHOWN else text[: MOST_SHOWN - 3] + "..."
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode("ascii")
        for c in short
    )


def quoted(text: str) -> str:
    """Return the text as a message shows it, in quotes, or the word nothing."""
    return f'"{shown(text)}"' if text else "nothing"


def alternatives(word: str, known: Iterable[str]) -> str:
    """Return a way out of a misspelt word: the nearest known one, or the first few."""
    by_folded = {name.casefold(): name for name in known}
    folded = word.casefold()[:100]
    few = by_folded if len(by_folded) <= MOST_COMPARED else by_folded.keys() & {folded}
    near = get_close_matches(folded, few, n=1)
    if near:
        return f"did you mean {shown(by_folded[near[0]])}?"
    names = list(by_folded.values())
    return f"known are {listed(names)}" if names else "there is none"


def listed(names: list[str]) -> str:
    """Return names as a message lists them, many of them counted."""
    rest = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(shown(name) for name in names[:MOST_NAMED]) + rest


@dataclass(frozen=True, slots=True)
class Mark:
    """Where something stands.

    Parameters
    ----------
    file : str
        Path below the site folder. [-]
    line : int
        Line, from 1; 0 for the file as a whole. [-]
    item : str
        Key or column, as in ``column x_m``; empty for the whole line. [-]
    """

    file: str
    line: int = 0
    item: str = ""

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        return ", ".join(part for part in (self.file, line, self.item) if part)


class Findings:
    """Everything a reader found: faults, notes that the user should see first, settings stated.

    Parameters
    ----------
    assumed : mapping of str to float
        What stands for the catalogue's defaults, by key. [unit]
    """

    def __init__(self, assumed: Assumed = NOTHING) -> None:
        self.assumed = assumed
        self.stated: set[str] = set()  # keys of the catalogue, and whole sections that are off
        self._faults: dict[tuple[Mark, Fault], None] = {}
        self._files: dict[str, int] = {}
        self._notes: dict[str, None] = {}

    def opened(self, file: str) -> None:
        """Remember that reading a file began: faults are told in this order."""
        self._files.setdefault(file, 0)

    def fault(self, mark: Mark, found: str, wanted: str) -> None:
        """Record one mistake, once; beyond the most that one file may have it is only counted."""
        told = mark, Fault(str(mark), found, wanted)
        if told in self._faults:  # a table that several layouts share
            return
        count = self._files[mark.file] = self._files.get(mark.file, 0) + 1
        if count <= MOST_FAULTS:
            self._faults[told] = None

    def unknown(self, mark: Mark, word: str, known: Iterable[str], wanted: str) -> None:
        """Record a word that is none of the known ones, with the way out of a misspelt one."""
        is_told = self._files.get(mark.file, 0) < MOST_FAULTS
        way_out = alternatives(word, known) if is_told else ""
        self.fault(mark, quoted(word), f"expected {wanted}; {way_out}")

    def note(self, sentence: str) -> None:
        """Record one sentence, once."""
        self._notes[sentence] = None

    @property
    def notes(self) -> tuple[str, ...]:
        """All notes, in the order in which they were made."""
        return tuple(self._notes)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """All faults, in the order of files as they were read, then of lines."""
        order = {file: position for position, file in enumerate(self._files)}
        ordered = sorted(self._faults, key=lambda entry: (order[entry[0].file], entry[0].line))
        told = [fault for _, fault in ordered]
        for file, count in self._files.items():
            if count > MOST_FAULTS:
                more = f"{count - MOST_FAULTS} more mistakes"
                told.append(Fault(file, more, "mend those above first"))
        return tuple(told)

    def raise_if_any(self) -> None:
        """Raise one InputError that carries every fault, if there is one."""
        if self._faults:
            raise InputError(self.faults)


@dataclass(frozen=True, slots=True)
class Span:
    """What a number may be.

    Parameters
    ----------
    unit : str
        Unit in which it is written. [-]
    least, most : float or None
        Hard limits; None is no limit. [unit]
    above : bool
        Whether the least value itself is refused. [-]
    whole : bool
        Whether only whole numbers are accepted. [-]
    """

    unit: str = "-"
    least: float | None = None
    most: float | None = None
    above: bool = False
    whole: bool = False

    def allow(self, value: float) -> bool:
        """Whether the value is finite, within the limits, and whole if it must be."""
        if not math.isfinite(value) or (self.whole and value != round(value)):
            return False
        if self.most is not None and value > self.most:
            return False
        if self.least is None:
            return True
        return value > self.least if self.above else value >= self.least

    def is_far_beyond(self, value: float) -> bool:
        """Whether it is a length so large that it was perhaps not written in metres."""
        return self.unit == "m" and self.most is not None and abs(value) > self.most

    @property
    def noun(self) -> str:
        """What kind of number it is, in words."""
        return "a whole number" if self.whole else UNITS.get(self.unit, f"a number in {self.unit}")

    @property
    def wanted(self) -> str:
        """What was expected, in words."""
        bounds = []
        if self.least is not None:
            bounds.append(f"{'above' if self.above else 'at least'} {self.least:g}")
        if self.most is not None:
            bounds.append(f"at most {self.most:g}")
        return f"expected {self.noun}{', ' if bounds else ''}{' and '.join(bounds)}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One value as text, where it stands, and how it was written.

    Parameters
    ----------
    text : str
        What stands there, without surrounding blanks. [-]
    mark : Mark
        Its place. [-]
    plain : bool
        False for a text in quotes of a YAML file, which is never a number. [-]
    decimal_comma : bool
        Whether the file writes numbers with a decimal comma. [-]
    """

    text: str
    mark: Mark
    plain: bool = True
    decimal_comma: bool = False

    def number(self, limits: Span, findings: Findings) -> float | None:
        """Return the value as a number within limits; a fault and None if it is not one."""
        text = self.text.replace(",", ".") if self.decimal_comma else self.text
        wanted = limits.wanted
        if self.plain and _NUMBER.fullmatch(text):
            value = float(text)
            if limits.allow(value):
                return value
            if limits.is_far_beyond(value):
                wanted += f"; {OTHER_SCALE}"
        elif not self.plain:
            wanted += ", without quotes"
        elif not self.decimal_comma and _NUMBER.fullmatch(text.replace(",", ".", 1)):
            wanted = f"expected {limits.noun}, with a decimal point"
        findings.fault(self.mark, quoted(self.text), wanted)
        return None

    @property
    def is_number(self) -> bool:
        """Whether a number stands there, whatever it may be."""
        return self.plain and _NUMBER.fullmatch(self.text) is not None

    def word(self, known: Iterable[str], findings: Findings, noun: str) -> str | None:
        """Return the value if it is one of the known words; a fault with a suggestion if not."""
        names = list(known)
        if self.text in names:
            return self.text
        findings.unknown(self.mark, self.text, names, noun)
        return None

    def switch(self, findings: Findings) -> bool | None:
        """Return whether it is switched on; a fault and None if it is neither on nor off."""
        state = switch_state(self.text)
        if state is None:
            findings.fault(self.mark, quoted(self.text), "expected on or off")
        return state

    def free_text(self, findings: Findings) -> str:
        """Return text for people; a fault if it holds control or invisible characters."""
        if not self.text.isprintable():
            wanted = "expected text without control or invisible characters"
            findings.fault(self.mark, quoted(self.text), wanted)
        return self.text

    def name(self, findings: Findings) -> str | None:
        """Return the value if it can serve as an id; a fault and None if not."""
        problem = id_problem(self.text)
        if problem:
            findings.fault(self.mark, quoted(self.text), problem)
            return None
        return self.text


def switch_state(text: str) -> bool | None:
    """Whether a word means on or off; None if it means neither."""
    folded = text.casefold()
    return True if folded in ON else False if folded in OFF else None


def id_problem(text: str) -> str:
    """What keeps a text from being an id, as a wish; empty if nothing does."""
    if not text:
        return "expected an id"
    if len(text) > MOST_ID:
        return f"expected an id of at most {MOST_ID} characters"
    if not text.isprintable():
        return "expected an id without control or invisible characters"
    if "~" in text or "/" in text or "\\" in text:
        return "expected an id without ~, / or \\"
    return "" if text.strip(". ") else "expected an id of more than dots"


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row of a table or one mapping of a document: entries by key, empty ones left out.

    Parameters
    ----------
    mark : Mark
        Where the row or mapping stands. [-]
    prefix : str
        What precedes a key in messages, as in ``column`` with a blank. [-]
    entries : dict of str to Entry
        What is filled in. [-]
    findings : Findings
        Where faults go. [-]
    """

    mark: Mark
    prefix: str
    entries: dict[str, Entry]
    findings: Findings

    def place(self, key: str) -> Mark:
        """Where the key stands, or where it would stand."""
        entry = self.entries.get(key)
        return entry.mark if entry else Mark(self.mark.file, self.mark.line, self.prefix + key)

    def fault(self, key: str, wanted: str) -> None:
        """Record that what stands at a key is not what was wanted."""
        entry = self.entries.get(key)
        self.findings.fault(self.place(key), quoted(entry.text if entry else ""), wanted)

    def has(self, key: str) -> bool:
        """Whether the key is filled in."""
        return key in self.entries

    def number(self, key: str, limits: Span) -> float | None:
        """Return a number that must be given; a fault and None if it is missing or wrong."""
        if key not in self.entries:
            self.fault(key, limits.wanted)
            return None
        return self.entries[key].number(limits, self.findings)

    def number_or(self, key: str, limits: Span, default: float) -> float:
        """Return a number that may be left out; the default also stands in for a faulty one."""
        value = self.number(key, limits) if key in self.entries else None
        return default if value is None else value

    def word(self, key: str, known: Iterable[str], noun: str, default: str = "") -> str | None:
        """Return one of the known words, the default if it is left out and there is one."""
        if key in self.entries:
            return self.entries[key].word(known, self.findings, noun)
        if default:
            return default
        self.fault(key, f"expected {noun}")
        return None

    def name(self, key: str = "id") -> str | None:
        """Return an id that must be given; a fault and None if it is missing or unusable."""
        if key not in self.entries:
            self.fault(key, "expected an id")
            return None
        return self.entries[key].name(self.findings)

    def text(self, key: str) -> str:
        """Return free text, empty where nothing is said."""
        return self.entries[key].free_text(self.findings) if key in self.entries else ""

    def switch(self, key: str, default: bool) -> bool:
        """Return whether it is switched on; the default where nothing or nonsense is said."""
        state = self.entries[key].switch(self.findings) if key in self.entries else None
        return default if state is None else state


class Unique:
    """Ids seen so far, unique without regard to case."""

    def __init__(self) -> None:
        self._seen: dict[str, Mark] = {}

    def __contains__(self, name: str) -> bool:
        return name.casefold() in self._seen

    def admit(self, record: TableRow, name: str, key: str = "id") -> bool:
        """Whether the id is new; a fault that names the earlier place if it is not."""
        earlier = self._seen.setdefault(name.casefold(), record.place(key))
        if earlier == record.place(key):
            return True
        where = f"line {earlier.line}"
        if earlier.file != record.mark.file:
            where = f"{earlier.file}, {where}"
        record.fault(key, f"expected an id of its own: {where} has it already")
        return False
