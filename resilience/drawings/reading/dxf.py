"""A DXF drawing of one level as lines in metres, blocks unfolded, each with what its layer means.

Reads what the DXF reference calls LINE, LWPOLYLINE, POLYLINE, ARC, CIRCLE and ELLIPSE, and INSERT
with blocks in blocks; everything else is counted and left out.
"""

import logging
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from resilience.building.text.entries import shown
from resilience.drawings.account import Account
from resilience.drawings.layers import (
    Meaning,
    NothingKnownError,
    key_of,
    meanings_of,
    read_meanings,
    table_rows,
    tell_meanings,
)
from resilience.drawings.plan import (
    DAMAGE,
    Point,
    Scale,
    Stated,
    Stroke,
    checked_file,
    counted_off,
    damage_told,
    library,
    scale_of,
)
from resilience.errors import UsageError

if TYPE_CHECKING:
    from ezdxf.document import Drawing

UNIT_CODES = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}  # header variable $INSUNITS
LINES = ("LINE", "LWPOLYLINE", "POLYLINE", "ARC", "CIRCLE", "ELLIPSE")
CHORDS = 8  # to a quarter of a circle: 9 cm off on a radius of 20 m, and alike for both faces
DEEPEST = 20
FARTHEST = 1e9  # beyond, the drawing's numbers are no places


@dataclass(frozen=True, slots=True)
class _Line:
    """A line as drawn: its layer, the symbol it is part of, the centre it turns about."""

    points: tuple[Point, ...]
    closed: bool
    layer: str
    symbol: int
    centre: Point | None


@dataclass(slots=True)
class _Unfolding:
    """The lines of a drawing while its blocks are unfolded, and how many things there were."""

    file: str
    account: Account
    n_things: int = 0
    n_symbols: int = 0

    def lines(
        self, entities: Iterable[Any], layer: str = "0", symbol: int = 0, depth: int = 0
    ) -> Iterator[_Line]:
        """Yield every line; what a block has on layer 0 is on the layer of its reference."""
        for entity in entities:
            self.n_things += 1
            counted_off(self.n_things, self.file)
            kind = entity.dxftype()
            own = entity.dxf.get("layer", "0")
            own = layer if own == "0" else own
            if kind == "INSERT":
                yield from self._inserted(entity, own, symbol, depth)
            elif kind in LINES:
                line = _line(entity, own, symbol)
                if line:
                    yield line
                else:
                    self.account.leave_out(kind, "it has no length, or is no flat line")
            elif kind not in ("ATTDEF", "ATTRIB", "SEQEND", "VIEWPORT"):
                self.account.leave_out(kind, "not a kind of line that is read")

    def _inserted(self, entity: Any, layer: str, symbol: int, depth: int) -> Iterator[_Line]:
        if depth >= DEEPEST:
            self.account.leave_out("INSERT", f"blocks in blocks more than {DEEPEST} deep")
            return
        if entity.block() is None or entity.block().block.is_xref:
            self.account.leave_out("INSERT", "its block is in another file, or missing")
            return
        counted_off(self.n_things + entity.mcount, self.file)
        for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
            self.n_symbols += depth == 0
            number = self.n_symbols if depth == 0 else symbol
            try:
                inside = list(one.virtual_entities())
            except DAMAGE:
                self.account.leave_out("INSERT", "its block cannot be unfolded")
                continue
            yield from self.lines(inside, layer, number, depth + 1)


def _line(entity: Any, layer: str, symbol: int) -> _Line | None:
    """Return an entity as corners on the plan; None if it has none that can be used."""
    from ezdxf.path import make_path

    try:
        path = make_path(entity)
        points = [(point.x, point.y) for point in path.approximate(CHORDS)]
        centre = None
        if entity.dxftype() in ("ARC", "ELLIPSE"):
            at = entity.dxf.center
            if entity.dxftype() == "ARC":
                at = entity.ocs().to_wcs(at)
            centre = (at.x, at.y)
    except DAMAGE:
        return None
    if not all(abs(value) < FARTHEST for point in points for value in point):  # NaN is refused too
        return None
    if len(set(points)) < 2:
        return None
    closed = len(points) > 2 and points[0] == points[-1]
    return _Line(tuple(points[:-1] if closed else points), closed, layer, symbol, centre)


def read_dxf(
    path: Path, stated: Stated, constructions: Collection[str], account: Account
) -> tuple[list[Stroke], list[list[str]]]:
    """Return the lines of a drawing in metres, and the table of what its layers became.

    Parameters
    ----------
    path : Path
        The drawing. [-]
    stated : Stated
        What the user says of it. [-]
    constructions : collection of str
        Those that a layer can become. [-]
    account : Account
        Where it is told what was left out. [-]
    """
    given = read_meanings(stated.table, constructions) if stated.table else None
    document = _document(checked_file(path), account)
    with damage_told(path.name):
        found = list(_Unfolding(path.name, account).lines(document.modelspace()))
        layers = list(document.layers)
        hidden = [layer.dxf.name for layer in layers if layer.is_off() or layer.is_frozen()]
    counts = Counter(line.layer for line in found)
    account.things.update({key_of(layer): n for layer, n in counts.items()})
    meanings = meanings_of(counts, given, hidden)
    tell_meanings(meanings, counts, "layer", account)
    used = [line for line in found if meanings[line.layer].becomes != "ignore"]
    if not used:
        there = ", ".join(shown(layer) for layer in sorted(counts)[:16]) or "none with lines"
        raise NothingKnownError(
            f"{shown(path.name)}: no layer is known to hold parts of a building; it has {there}",
            table_rows(meanings, "layer"),
        )
    declared = UNIT_CODES.get(document.header.get("$INSUNITS", 0), "")
    points = (point for line in used for point in line.points)
    scale = scale_of(points, declared, stated, path.name)
    strokes = [_stroke(line, meanings[line.layer], scale, stated.level) for line in used]
    return strokes, table_rows(meanings, "layer")


def _stroke(line: _Line, meaning: Meaning, scale: Scale, level: str) -> Stroke:
    return Stroke(
        tuple(scale.metres(point) for point in line.points),
        line.closed,
        level,
        meaning.becomes,
        meaning.construction,
        symbol=line.symbol,
        centre=scale.metres(line.centre) if line.centre else None,
        source=key_of(line.layer),
    )


def _document(path: Path, account: Account) -> "Drawing":
    """Return the drawing, repaired where the library can; UsageError where it cannot."""
    ezdxf = library("ezdxf", "plan")
    from ezdxf import recover

    logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # what matters is in the account
    name = shown(path.name)
    _check_ends(path)
    try:
        try:
            return ezdxf.readfile(path)
        except (ezdxf.DXFError, *DAMAGE):  # the patient reader takes three times as long
            document, repairs = recover.readfile(path)
    except (ezdxf.DXFError, OSError, EOFError, RecursionError, *DAMAGE) as error:
        raise UsageError(f"{name} cannot be read as a DXF: {shown(str(error))}") from error
    account.note(
        f"{name} is damaged and was repaired ({len(repairs.fixes)} repairs, {len(repairs.errors)} "
        "faults remain): check that nothing is missing."
    )
    return document


def _check_ends(path: Path) -> None:
    """Raise UsageError if a file is no DXF by its first words, or was cut off before its last."""
    with path.open("rb") as stream:
        head = stream.read(4096)
        stream.seek(max(0, path.stat().st_size - 512))
        tail = stream.read()
    name = shown(path.name)
    if head.startswith(b"AC10"):
        raise UsageError(f"{name} is a DWG drawing: save it as DXF")
    is_binary = head.startswith(b"AutoCAD Binary DXF")
    if not is_binary and (b"\0" in head or b"SECTION" not in head):
        raise UsageError(f"{name} is not a DXF drawing")
    if b"EOF" not in tail:
        raise UsageError(f"{name} ends in the middle: it was cut off; save or copy it again")
