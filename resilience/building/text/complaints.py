"""What a parser or a decoder finds wrong, in words that lead out of it."""

import re

from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.reader import ReaderError

from resilience.building.text.entries import quoted, shown

Complaint = tuple[int, str, str]  # line, what was found, what to do

SAVE_TABLE = (
    "expected text saved as UTF-8: in the spreadsheet choose File, Save As, and the type CSV UTF-8 "
    "(or the type Text CSV with the character set Unicode (UTF-8))"
)
SAVE_TEXT = "expected text saved as UTF-8: in the editor choose Save As and the encoding UTF-8"
PACKED = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # how workbooks begin, packed or of the older kind
MARKS = (b"\xff\xfe", b"\xfe\xff")  # how text in UTF-16 begins
INDENT = (
    "expected as many blanks before it as before the keys that it belongs with, or the key of its "
    "section above it, such as building:"
)


def undecoded(raw: bytes, is_table: bool) -> Complaint | None:
    """Return what keeps bytes from being text in UTF-8; None if nothing does.

    Parameters
    ----------
    raw : bytes
        Of the whole file. [-]
    is_table : bool
        Whether a spreadsheet wrote it, as far as anybody can tell. [-]
    """
    wanted = SAVE_TABLE if is_table else SAVE_TEXT
    if raw.startswith(PACKED):
        return 0, "a workbook of a spreadsheet, or another packed file", wanted
    if raw.startswith(MARKS):
        return 0, "text in another encoding (UTF-16)", wanted
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        byte = raw[error.start : error.start + 1]
        letter = byte.decode("cp1252", "ignore")
        meant = f', perhaps "{letter}" in the encoding Windows-1252' if letter.isalpha() else ""
        return line, f"the byte 0x{byte.hex()}{meant}", wanted
    if "\0" in text:
        return text.count("\n", 0, text.index("\0")) + 1, "binary data", wanted
    return None


def unparsed(error: MarkedYAMLError | ReaderError, text: str) -> Complaint:
    """Return what a YAML parser could not read, and what to do about it.

    Parameters
    ----------
    error : MarkedYAMLError or ReaderError
        What the parser says. [-]
    text : str
        Of the file. [-]
    """
    if isinstance(error, ReaderError):
        line = text.count("\n", 0, error.position) + 1
        found = f"the character {quoted(chr(error.character))}"
        return line, found, "expected none that is invisible"
    problem = str(error.problem or "unreadable text")
    at = error.problem_mark.line if error.problem_mark else -1
    began = error.context_mark.line if error.context_mark else at
    lines = text.splitlines()
    here = lines[at] if 0 <= at < len(lines) else ""
    if "'\\t'" in problem or "\t" in re.match(r"\s*", here)[0]:  # type: ignore[index]
        wanted = "expected blanks: indent with spaces, two for each step, never with the tab key"
        return at + 1, "a tab", wanted
    if "mapping values" in problem:
        return _second_value(at, lines)
    if "expected <block end>" in problem:
        return at + 1, f"{quoted(here.strip())} indented unlike the lines above it", INDENT
    if "could not find expected ':'" in problem:
        return began + 1, quoted(_line(lines, began)), "expected key: value, with a colon"
    if "expected ',' or" in problem:
        return began + 1, "a bracket that is not closed", "expected as many ] and } as [ and {"
    if "end of stream" in problem and "quoted" in str(error.context):
        return began + 1, "a quotation mark that is not closed", "expected another at its end"
    if "cannot start any token" in problem:
        return at + 1, quoted(here.strip()), f"{problem.removeprefix('found ')}: put it in quotes"
    return at + 1, shown(problem.removeprefix("found ")), "expected YAML 1.2"


def _second_value(at: int, lines: list[str]) -> Complaint:
    """Tell of a colon where no key can stand: in a value, or below a key that has one."""
    here = _line(lines, at)
    if re.match(r"[^:]+:\s+[^:]+:(\s|$)", here):
        return at + 1, quoted(here), 'a value with ": " in it has to be put in quotes'
    above = next((line for line in reversed(lines[:at]) if line.strip()), "").strip()
    wanted = (
        f"{quoted(above)} above it has its value already; expected a key of its own, such as "
        "building: with nothing behind the colon, between the two, or no blanks before it"
    )
    return at + 1, f"{quoted(here)} indented", wanted


def _line(lines: list[str], at: int) -> str:
    return lines[at].strip() if 0 <= at < len(lines) else ""
