"""Sources without layers: a GeoJSON in metres, and a table of walls."""

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from resilience.building.text.entries import Findings, Span, shown
from resilience.building.text.tables import Columns, read_table
from resilience.drawings.account import Account
from resilience.drawings.layers import FILLED, HOLES, OPEN
from resilience.drawings.plan import (
    MOST_M,
    Point,
    Stated,
    Stroke,
    checked_file,
    counted_off,
    safe_id,
    scale_of,
)
from resilience.drawings.words import OUTLINE, UNKNOWN_WALL
from resilience.errors import UsageError

WHAT = {"wall": "", "door": "doors", "window": "windows", "pillar": "pillars"}
WHAT |= {"shaft": "shaft", "opening": "opening", "outline": OUTLINE}
WALLS = Columns(
    ("x1_m", "y1_m", "x2_m", "y2_m"),
    ("id", "level", "construction", "height_m"),
)
ANYWHERE = Span("m", least=-1e9, most=1e9)
HIGH = Span("m", least=0, most=MOST_M, above=True)


@dataclass(frozen=True, slots=True)
class _Source:
    """What is known while a source without layers is read."""

    file: str
    stated: Stated
    constructions: Collection[str]
    account: Account

    def level(self, name: object) -> str:
        """Return the level that something says it is on, the stated one where it says none."""
        return safe_id(str(name)) if name not in (None, "") else self.stated.level

    def made_of(self, name: object, otherwise: str) -> str:
        """Return a construction that exists."""
        if name in (None, ""):
            return otherwise
        if str(name) in self.constructions:
            return str(name)
        taken = otherwise or UNKNOWN_WALL
        self.account.note(f"Construction {shown(str(name))} is not known; taken as {taken}.")
        return taken


def read_geojson(
    path: Path, stated: Stated, constructions: Collection[str], account: Account
) -> list[Stroke]:
    """Return the lines and areas of a GeoJSON whose coordinates are lengths, in metres.

    Parameters
    ----------
    path : Path
        The file. [-]
    stated : Stated
        What the user says of it. [-]
    constructions : collection of str
        Those that exist. [-]
    account : Account
        Where it is told what was left out. [-]
    """
    source = _Source(path.name, stated, constructions, account)
    lines = list(_lines_of(_document(path), source))
    points = [point for line in lines for point in line.points]
    if points and not stated.unit and all(abs(x) <= 180 and abs(y) <= 90 for x, y in points):
        spans = [max(side) - min(side) for side in zip(*points, strict=True)]
        if max(spans) < 1:
            raise UsageError(
                f"{shown(path.name)} seems to hold degrees: project it to metres first"
            )
    return _in_metres(lines, source)


def _document(path: Path) -> dict[str, Any]:
    name = shown(path.name)
    try:
        whole = json.loads(checked_file(path).read_bytes())
    except (ValueError, RecursionError) as error:
        raise UsageError(f"{name} is not JSON: {shown(str(error))}") from error
    if not isinstance(whole, dict) or whole.get("type") not in ("FeatureCollection", "Feature"):
        raise UsageError(f"{name} is not a GeoJSON: expected a FeatureCollection")
    return whole


def _lines_of(whole: dict[str, Any], source: _Source) -> Iterator[Stroke]:
    features = whole.get("features", []) if whole["type"] == "FeatureCollection" else [whole]
    if not isinstance(features, list):
        raise UsageError(f"{shown(source.file)}: expected a list of features")
    counted_off(len(features), source.file)
    n_corners = 0
    for feature in features:
        entries = feature if isinstance(feature, dict) else {}
        shape, said = entries.get("geometry"), entries.get("properties")
        if not isinstance(shape, dict):
            source.account.leave_out("feature", "it has no geometry")
            continue
        for line in _feature(shape, said if isinstance(said, dict) else {}, source):
            n_corners += len(line.points)
            counted_off(n_corners, source.file)
            yield line


def _feature(shape: dict[str, Any], said: dict[str, Any], source: _Source) -> Iterator[Stroke]:
    kind, found = str(shape.get("type")), shape.get("coordinates")
    many = found if kind.startswith("Multi") and isinstance(found, list) else [found]
    kind = kind.removeprefix("Multi")
    what = str(said.get("what") or ("wall" if kind == "LineString" else ""))
    if kind not in ("LineString", "Polygon") or what not in WHAT:
        why = f"expected a line or an area whose what is one of {', '.join(WHAT)}"
        source.account.leave_out(f"{kind} {what}".strip(), why)
        return
    becomes = WHAT[what]
    made_of = source.made_of(said.get("construction"), FILLED.get(becomes, UNKNOWN_WALL))
    made_of = "" if becomes in HOLES and made_of == OPEN else made_of
    for one in many:
        points = _corners(one[0] if kind == "Polygon" and isinstance(one, list) and one else one)
        if len(points) < 2:
            source.account.leave_out(kind, "its coordinates are no places")
            continue
        closed = len(points) > 2 and points[0] == points[-1]
        yield Stroke(
            points[:-1] if closed else points,
            closed,
            source.level(said.get("level")),
            becomes or made_of,
            made_of if becomes in FILLED else "",
            str(said.get("id") or ""),
        )


def _corners(found: object) -> tuple[Point, ...]:
    """Return coordinates as points; none if any of them is no place."""
    points = []
    for one in found if isinstance(found, list) else ():
        numbers = one[:2] if isinstance(one, list) else []
        if len(numbers) < 2 or not all(isinstance(number, int | float) for number in numbers):
            return ()
        if not all(abs(number) <= 1e9 for number in numbers):  # NaN is refused too
            return ()
        points.append((float(numbers[0]), float(numbers[1])))
    return tuple(points)


def _in_metres(lines: Sequence[Stroke], source: _Source) -> list[Stroke]:
    points = (point for line in lines for point in line.points)
    scale = scale_of(points, "m", source.stated, source.file)
    return [
        Stroke(
            tuple(scale.metres(point) for point in line.points),
            line.closed,
            line.level,
            line.becomes,
            line.construction,
            line.id,
            line.height_m,
        )
        for line in lines
    ]


def read_walls(
    path: Path, stated: Stated, constructions: Collection[str], account: Account
) -> list[Stroke]:
    """Return the walls of a table with the columns of ``walls.csv``, most of them optional.

    Parameters
    ----------
    path : Path
        The table. [-]
    stated : Stated
        What the user says of it. [-]
    constructions : collection of str
        Those that exist. [-]
    account : Account
        Where it is told what was assumed. [-]
    """
    source, findings = _Source(path.name, stated, constructions, account), Findings()
    lines = []
    for row in read_table(checked_file(path), shown(path.name), WALLS, findings) or []:
        x1, y1, x2, y2 = (row.number(key, ANYWHERE) or 0.0 for key in WALLS.needed)
        said = {key: entry.text for key, entry in row.entries.items()}
        made_of = source.made_of(said.get("construction"), UNKNOWN_WALL)
        height_m = row.number("height_m", HIGH) if row.has("height_m") else None
        level, name = source.level(said.get("level")), said.get("id", "")
        ends = ((x1, y1), (x2, y2))
        lines.append(Stroke(ends, False, level, made_of, "", name, height_m))
    findings.raise_if_any()
    return _in_metres(lines, source)
