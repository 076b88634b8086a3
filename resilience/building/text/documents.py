"""A YAML file as a tree of marked nodes, built from the parser's events.

Anchors, aliases, tags, duplicate keys and deep nesting are refused as the events arrive, so that no
file can make the reader recurse or grow beyond its own size.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from resilience.building.text.complaints import undecoded, unparsed
from resilience.building.text.entries import (
    Entry,
    Findings,
    Mark,
    TableRow,
    quoted,
    shown,
    switch_state,
)

MOST_BYTES = 2_000_000
MOST_DEPTH = 16
NOTHING = ("", "~", "null", "Null", "NULL")


@dataclass(frozen=True, slots=True)
class Listing:
    """A YAML sequence and where it starts."""

    mark: Mark
    items: tuple["Node", ...]


@dataclass(frozen=True, slots=True)
class Mapping:
    """A YAML mapping and where it starts; keys are text."""

    mark: Mark
    entries: dict[str, "Node"]

    @property
    def prefix(self) -> str:
        """What precedes a key of this mapping in messages."""
        return f"{self.mark.item}." if self.mark.item else "key "


Node = Entry | Listing | Mapping


@dataclass(slots=True)
class _Open:
    """A collection that is still being read."""

    mark: Mark
    entries: dict[str, Node] | None = None
    items: list[Node] = field(default_factory=list)
    key: str | None = None

    def closed(self) -> Listing | Mapping:
        """The finished node."""
        if self.entries is None:
            return Listing(self.mark, tuple(self.items))
        return Mapping(self.mark, self.entries)


class _UnusableError(Exception):
    """The document breaks a rule that makes reading on pointless."""

    def __init__(self, line: int, found: str, wanted: str) -> None:
        self.line, self.found, self.wanted = line, found, wanted
        super().__init__(wanted)


def file_text(path: Path, file: str, most_bytes: int, findings: Findings) -> str | None:
    """Return the text of a file of the site; a fault and None if it has none.

    Parameters
    ----------
    path : Path
        The file. [-]
    file : str
        Its name in messages. [-]
    most_bytes : int
        Size beyond which it is refused unread. [bytes]
    findings : Findings
        Where faults go. [-]
    """
    mark = Mark(file)
    findings.opened(file)
    try:
        if not path.is_file():
            findings.fault(mark, "no such file", "expected a file")
            return None
        with path.open("rb") as stream:
            raw = stream.read(most_bytes + 1)
    except OSError as error:
        findings.fault(mark, error.strerror or "an error", "expected a file that can be read")
        return None
    if len(raw) > most_bytes:
        findings.fault(mark, "a huge file", f"expected at most {most_bytes / 1e6:g} MB")
        return None
    complaint = undecoded(raw, path.suffix.casefold() == ".csv")
    if complaint:
        line, found, wanted = complaint
        findings.fault(Mark(file, line), found, wanted)
        return None
    return raw.decode("utf-8-sig")


def read_document(path: Path, file: str, findings: Findings, wanted: str = "") -> Mapping | None:
    """Return the mapping that a YAML file holds; faults and None if it holds none.

    Parameters
    ----------
    path : Path
        The file. [-]
    file : str
        Its name in messages. [-]
    findings : Findings
        Where faults go. [-]
    wanted : str
        What to do about a file that cannot be read; empty goes by what is wrong with it. [-]
    """
    text = file_text(path, file, MOST_BYTES, findings)
    if text is None:
        return None
    try:
        root = _tree(YAML(typ="safe", pure=True).parse(text), file, findings)
    except _UnusableError as problem:
        findings.fault(Mark(file, problem.line), problem.found, problem.wanted)
        return None
    except (MarkedYAMLError, ReaderError) as error:
        line, told, way_out = unparsed(error, text)
        findings.fault(Mark(file, line), told, wanted or way_out)
        return None
    # Beside its own errors the parser lets a bad \U escape or a stray indicator surface as these.
    except (YAMLError, ValueError, LookupError, ArithmeticError, AssertionError) as error:
        findings.fault(
            Mark(file), shown(f"unreadable text ({error})"), wanted or "expected YAML 1.2"
        )
        return None
    if root is None or (isinstance(root, Entry) and root.text in NOTHING):
        findings.fault(Mark(file), "nothing", "expected keys and values, the first format: 1")
        return None
    return mapping(root, findings)


def _tree(events: Iterator[Event], file: str, findings: Findings) -> Node | None:
    root: Node | None = None
    stack: list[_Open] = []
    n_documents = 0
    for event in events:
        line = event.start_mark.line + 1
        if isinstance(event, DocumentStartEvent):
            n_documents += 1
            if n_documents > 1:
                raise _UnusableError(line, "a second document", "expected one document a file")
            continue
        node = _opened_or_closed(event, stack, file)
        if node is None:
            continue
        if not stack:
            root = node
        else:
            _put(stack[-1], node, line, findings)
    return root


def _opened_or_closed(event: Event, stack: list[_Open], file: str) -> Node | None:
    """Return the node that the event completes, if it completes one."""
    line = event.start_mark.line + 1
    if isinstance(event, NodeEvent):
        _refuse_cleverness(event, line)
        mark = Mark(file, line, _item(stack[-1]) if stack else "")
        if isinstance(event, ScalarEvent):
            plain = event.style is None
            return Entry(str(event.value).strip(), mark, plain)
        if len(stack) >= MOST_DEPTH:
            raise _UnusableError(line, "deep nesting", f"expected at most {MOST_DEPTH} levels")
        is_mapping = isinstance(event, MappingStartEvent)
        if stack and stack[-1].entries is not None and stack[-1].key is None:
            raise _UnusableError(line, "a key that is a list or mapping", "expected a word as key")
        stack.append(_Open(mark, {} if is_mapping else None))
        return None
    if type(event).__name__ in ("MappingEndEvent", "SequenceEndEvent"):
        return stack.pop().closed()
    return None


def _refuse_cleverness(event: NodeEvent, line: int) -> None:
    if isinstance(event, AliasEvent) or event.anchor:
        raise _UnusableError(
            line, f'an anchor or alias "{shown(str(event.anchor))}"', "write it out"
        )
    if isinstance(event, ScalarEvent | SequenceStartEvent | MappingStartEvent) and event.tag:
        raise _UnusableError(line, f'a tag "{shown(str(event.tag))}"', "expected plain values")


def _item(parent: _Open) -> str:
    """How messages call the node that comes next in an open collection."""
    if parent.entries is None:
        return f"{parent.mark.item}[{len(parent.items) + 1}]"
    if parent.key is None:
        return parent.mark.item
    return (
        f"{parent.mark.item}.{shown(parent.key)}"
        if parent.mark.item
        else (f"key {shown(parent.key)}")
    )


def _put(parent: _Open, node: Node, line: int, findings: Findings) -> None:
    if parent.entries is None:
        parent.items.append(node)
    elif parent.key is None:
        assert isinstance(node, Entry)  # anything else was refused when it opened
        parent.key = node.text
        if node.text in parent.entries:
            mark = Mark(parent.mark.file, line, _item(parent))
            findings.fault(mark, "the same key again", "expected each key once")
    else:
        parent.entries.setdefault(parent.key, node)
        parent.key = None


def described(node: Node) -> str:
    """What kind of node stands there, as a message says it."""
    if isinstance(node, Entry):
        return "nothing" if is_nothing(node) else quoted(node.text)
    return "a list" if isinstance(node, Listing) else "a mapping"


def is_nothing(node: Node | None) -> bool:
    """Whether a key is missing or was left without a value."""
    return node is None or (isinstance(node, Entry) and node.plain and node.text in NOTHING)


def is_off(node: Node | None) -> bool:
    """Whether something is switched off; ``off`` and ``false`` alike."""
    return isinstance(node, Entry) and switch_state(node.text) is False


def mapping(node: Node | None, findings: Findings) -> Mapping | None:
    """Return the node if it is a mapping; None without a fault if nothing stands there."""
    if node is None or isinstance(node, Mapping):
        return node
    if not is_nothing(node):
        findings.fault(node.mark, described(node), "expected keys and values")
    return None


def listing(node: Node | None, findings: Findings) -> tuple[Node, ...]:
    """Return the items of a list; none without a fault if nothing stands there."""
    if isinstance(node, Listing):
        return node.items
    if node is not None and not is_nothing(node):
        findings.fault(node.mark, described(node), "expected a list")
    return ()


def known_keys(found: Mapping, known: Iterable[str], findings: Findings) -> None:
    """Record a fault with a suggestion for every key that is not known."""
    names = list(known)
    for key, node in found.entries.items():
        if key not in names:
            mark = Mark(node.mark.file, node.mark.line, found.prefix + shown(key))
            findings.unknown(mark, key, names, "a known key")


def record(
    found: Mapping, keys: Iterable[str], findings: Findings, nested: tuple[str, ...] = ()
) -> TableRow:
    """Return the single values of a mapping as a record, unknown keys told.

    Parameters
    ----------
    found : Mapping
        What stands in the file. [-]
    keys : iterable of str
        Keys that hold single values. [-]
    findings : Findings
        Where faults go. [-]
    nested : tuple of str
        Further keys, which hold lists or mappings and are read elsewhere. [-]
    """
    names = list(keys)
    known_keys(found, (*names, *nested), findings)
    entries = {}
    for key in names:
        node = found.entries.get(key)
        if isinstance(node, Entry):
            if not is_nothing(node):
                entries[key] = node
        elif node is not None:
            findings.fault(node.mark, described(node), "expected a single value")
    return TableRow(found.mark, found.prefix, entries, findings)
