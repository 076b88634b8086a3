"""The text of the files of an adopted site: new ones, and old ones with something added.

What a person wrote into ``site.yaml``, comments included, stays.
"""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from resilience.assumptions.catalogue import default
from resilience.building.parts import LEVELS, LISTED, PILLARS, SHAFTS, SPAN, WALLS, Holds, Part
from resilience.building.structure import Building, Change, Pillar, Shaft, Wall
from resilience.building.text.entries import TableRow
from resilience.building.text.tables import Columns
from resilience.building.timetable import TIMES

WIDTH = 100_000  # broken lists of corners are harder to read than long lines
DEVICE_COLUMNS = ("id", "kind", "level", "x_m", "y_m", "height_m", "note")
Row = Mapping[str, str]


def site_page(name: str) -> str:
    """Return a commented ``site.yaml`` without levels, to which what was drawn is added."""
    return SITE_PAGE.format(
        name=json.dumps(name, ensure_ascii=False),
        horizon_years=f"{default('horizon_years'):g}",
        hand_over=default("calendar.hand_over"),
    )


def readme(name: str) -> str:
    """Return the page that says what the folder holds, and what is still to be filled in."""
    title = " ".join(name.split()).replace("<", "&lt;").replace("[", "\\[")
    return README.format(name=title)


def with_parts(page: str, drawn: Building, grown: Sequence[Shaft]) -> str:
    """Return a ``site.yaml`` with what was drawn added to section ``building``.

    Parameters
    ----------
    page : str
        The file so far, free of faults. [-]
    drawn : Building
        What is new; its walls go into their own table. [-]
    grown : sequence of Shaft
        Shafts that are there already and now reach other levels. [-]
    """
    yaml, whole = _loaded(page)
    if not isinstance(whole.get("building"), CommentedMap):
        whole["building"] = CommentedMap()
    section = whole["building"]
    if drawn.outline:
        section["outline"] = _corners(drawn.outline)
    for part in LISTED:
        things = getattr(drawn, part.name)
        if things:
            if not isinstance(section.get(part.name), CommentedSeq):
                section[part.name] = CommentedSeq()
            section[part.name].fa.set_block_style()
            section[part.name].extend(_entry(part, one) for one in things)
    for shaft in grown:
        entry = next(one for one in section["shafts"] if str(one["id"]) == shaft.id)
        _respan(entry, shaft)
    return _dumped(yaml, whole)


def trimmed(page: str, rest: Building, gone: Building) -> str:
    """Return a ``site.yaml`` without what was taken out of section ``building``.

    Parameters
    ----------
    page : str
        The file so far, free of faults. [-]
    rest, gone : Building
        What stays, some of it reaching through fewer levels now, and what goes. [-]
    """
    if not gone.levels:
        return page
    yaml, whole = _loaded(page)
    section = whole["building"]
    for part in LISTED:
        dropped = {one.id for one in getattr(gone, part.name)}
        kept = {one.id: one for one in getattr(rest, part.name)}
        entries = section.get(part.name) or []
        for position in reversed(range(len(entries))):
            name = str(entries[position]["id"])
            if name in dropped:
                del entries[position]
            elif part in (PILLARS, SHAFTS) and name in kept:
                _respan(entries[position], kept[name])
            elif part is LEVELS:  # what it stood on may be gone
                entries[position].setdefault("floor_m", _number(kept[name].floor_m))
        if part.name in section and not entries:
            del section[part.name]
    return _dumped(yaml, whole)


def _respan(entry: CommentedMap, thing: Pillar | Shaft) -> None:
    named = {str(entry[key.name]) for key in SPAN if key.name in entry}
    if named != {thing.lowest, thing.highest}:
        for key in SPAN:
            entry.pop(key.name, None)
        entry.update(_span(thing))


def _span(thing: Pillar | Shaft) -> dict[str, str]:
    if thing.lowest == thing.highest:
        return {"level": thing.lowest}
    return {"lowest": thing.lowest, "highest": thing.highest}


def _loaded(page: str) -> tuple[YAML, Any]:
    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = WIDTH
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml, yaml.load(page)


def _dumped(yaml: YAML, whole: Any) -> str:
    text = io.StringIO()
    yaml.dump(whole, text)
    return text.getvalue()


def _entry(part: Part, thing: Any) -> CommentedMap:
    """Return one line of a list, its keys as the part declares them."""
    return _flow(
        **{key: value for key, value in _values(part, thing) if value not in (None, (), "")}
    )


def _values(part: Part, thing: Any) -> Iterator[tuple[str, Any]]:
    """Yield what stands at each key of a part; None where nothing does."""
    span = _span(thing) if isinstance(thing, Pillar | Shaft) else {}
    change = getattr(thing, "change", None)
    for key in part.keys:
        value = getattr(thing, key.name, None)
        if span and key in SPAN:
            value = span.get(key.name)
        elif key.name == "lining":
            value = value or "open"
        elif key.holds is Holds.HABIT and change:
            value = _habit(change, key.name)
        yield key.name, value


def _habit(change: Change, name: str) -> Any:
    """Return what stands at one key of how something changes; None where nothing has to."""
    if name in TIMES:
        return None if change.when.is_always else getattr(change.when, name)
    if change.is_fixed and name != "adds_db":  # rate and duration follow from the timetable
        return None
    return getattr(change, name, getattr(change.lasts, name, None))


def _flow(**entries: Any) -> CommentedMap:
    made = CommentedMap()
    for key, value in entries.items():
        if isinstance(value, tuple):
            made[key] = _corners(value)
        else:
            made[key] = _number(value) if isinstance(value, float) else value
    made.fa.set_flow_style()
    return made


def _corners(outline: tuple[tuple[float, ...], ...]) -> CommentedSeq:
    made = CommentedSeq()
    for corner in outline:
        pair = CommentedSeq(_number(value) for value in corner)
        pair.fa.set_flow_style()
        made.append(pair)
    made.fa.set_flow_style()
    return made


def _number(value: float) -> float | int:
    near = round(value, 3)
    return int(near) if near == int(near) else near


def wall_row(wall: Wall) -> Row:
    """Return a wall as a row of ``walls.csv``."""
    values = {key: value for key, value in _values(WALLS, wall) if value is not None}
    return {
        key: f"{value:.10g}" if isinstance(value, float) else value for key, value in values.items()
    }


def joined_table(old: Iterable[TableRow], rows: Iterable[Row], columns: Columns) -> str:
    """Return a table of what stood there and what is new, with commas and decimal points.

    Parameters
    ----------
    old : iterable of TableRow
        Rows as read. [-]
    rows : iterable of dict
        New rows by column. [-]
    columns : Columns
        Needed columns are always written, others where a row uses them. [-]
    """
    every = [*({key: _plain(row, key) for key in row.entries} for row in old), *rows]
    used = {key for row in every for key in row}
    head = [key for key in columns.known if key in columns.needed or key in used]
    return table([head, *([row.get(key, "") for key in head] for row in every)])


def _plain(row: TableRow, key: str) -> str:
    entry = row.entries[key]
    is_number = key.endswith(("_m", "_db", "_px"))
    return entry.text.replace(",", ".") if entry.decimal_comma and is_number else entry.text


def table(rows: Iterable[Sequence[str]]) -> str:
    """Return rows as CSV."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


SITE_PAGE = """\
# A site adopted from drawings. A line that begins with # is a comment. A key that is left out keeps
# its documented default; `resilience defaults` lists every one with its source.
format: 1
name: {name}

# Length of one simulated lifetime, from hand-over.
horizon_years: {horizon_years}

# What was drawn, in metres: x to the right, y up on the plan. Walls stand in walls.csv. Heights,
# slabs and what things are made of are often not in a drawing: look them through.
building:
  levels: []

# How crowded the band is: quiet, or busy (many access points). Busy is the cautious choice.
radio:
  environment: busy

# What the dates of a told lifetime count from.
calendar:
  hand_over: {hand_over}
"""

README = """\
# {name}

Adopted from drawings, not surveyed. What the drawings do not say was assumed; correct it here:

- `site.yaml` holds levels, doors, windows, pillars, shafts and openings, `walls.csv` the walls.
- `layouts/first/devices.csv` is still to be filled in: gateways, sensors and repeaters with their
  places in metres. A column `supply` says `battery` or `mains`; blank means mains for a gateway and
  battery for all others. Copy its folder for another layout of the same sensors.
- `drawings/` holds what each layer or material became. Correct a table and adopt the drawing into
  a new folder with `--table` to have it read again, or with `--replace` into this one.
- `backdrops/` holds plans as pictures, each with the two points that give its scale.

## Cautions

- Links are predicted, not surveyed. Measure before you promise.
- Not for fire, gas, medical or other life-safety signalling.
- Radio limits, electrical work, lithium cells, work at height and old building fabric follow local
  codes and licensed practice.
"""
