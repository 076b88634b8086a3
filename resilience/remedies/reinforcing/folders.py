"""A layout that was found, written down as a folder beside the others."""

import csv
import io
from collections.abc import Iterable, Mapping
from pathlib import Path

from resilience.building.site import Device, Layout, Supply
from resilience.building.text.drafts import draft_of, write
from resilience.building.text.entries import id_problem
from resilience.errors import UsageError
from resilience.remedies.reinforcing.options import Move
from resilience.remedies.reinforcing.proposal import Reinforcement

Rows = list[dict[str, str]]

PLACED = ("id", "kind", "level", "x_m", "y_m", "height_m")


def refuse_name(folder: Path, name: str) -> None:
    """Refuse a name that no new layout can have.

    Parameters
    ----------
    folder : Path
        Of the site. [-]
    name : str
        Of the layout. [-]

    Raises
    ------
    UsageError
        It is taken, or cannot be the name of a folder.
    """
    if problem := id_problem(name):
        raise UsageError(f"--write {name!r}: {problem}")
    parent = folder / "layouts"
    taken = {one.name.casefold(): one.name for one in parent.iterdir()} if parent.is_dir() else {}
    if (other := taken.get(name.casefold())) is not None:
        raise UsageError(
            f"--write {name!r}: layouts/{other} is there already and stays as it is; take another "
            "name"
        )


def write_layout(folder: Path, name: str, found: Reinforcement) -> Path:
    """Write the layout that was found, and return its folder; it reads back as it was played.

    Rows of the layout it began with are kept as they stand but for what was changed.

    Parameters
    ----------
    folder : Path
        Of the site. [-]
    name : str
        Of the new layout; nothing of that name is there yet. [-]
    found : Reinforcement
        What was found. [-]

    Raises
    ------
    UsageError
        Nothing was found, the name is taken, or nothing can be written there.
    """
    refuse_name(folder, name)
    if not found.taken:
        raise UsageError("nothing was found that would be worth a layout of its own")
    target, source = folder / "layouts" / name, folder / "layouts" / found.start.name
    columns, rows = table_of(source / "devices.csv")
    rows = _changed(rows, found)
    with draft_of(target) as draft:
        write(draft, "devices.csv", text_of(columns, rows))
        links = source / "links.csv"
        if links.exists():
            columns, measured = table_of(links)
            write(
                draft,
                "links.csv",
                text_of(columns, still_valid(measured, found.start, found.layout)),
            )
    return target


def table_of(path: Path) -> tuple[list[str], Rows]:
    """Columns and rows of a table that has been read without a fault; comments are left out.

    Parameters
    ----------
    path : Path
        The file. [-]
    """
    text = path.read_text(encoding="utf-8-sig")
    lines = [one for one in text.splitlines() if one.strip() and not one.lstrip().startswith("#")]
    head = lines[0]
    delimiter = ";" if head.count(";") > head.count(",") else ","
    reader = csv.DictReader(io.StringIO("\n".join(lines)), delimiter=delimiter)
    columns = [one.strip() for one in reader.fieldnames or ()]
    rows = [
        {key.strip(): _plain((value or "").strip(), delimiter) for key, value in row.items() if key}
        for row in reader
    ]
    return columns, rows


def _plain(value: str, delimiter: str) -> str:
    """A field as it stands in a table with commas: a decimal comma becomes a point."""
    if delimiter == ";" and value.replace(",", "", 1).lstrip("+-").isdigit():
        return value.replace(",", ".")
    return value


def _changed(rows: Rows, found: Reinforcement) -> Rows:
    """Rows of the devices after all changes, those that were there in their order."""
    changed: dict[str, dict[str, str] | None] = {}
    for one in found.taken:
        option = one.option
        if option.after is None or option.move is Move.MAINS:
            change = None if option.after is None else {"supply": Supply.MAINS.value, "battery": ""}
        else:
            change = row_of(option.after, is_new=option.move is Move.ADD)
        known = changed.get(option.device)
        changed[option.device] = {**known, **change} if known and change else change
    kept = [
        row | (changed.pop(row["id"]) or {}) if row["id"] in changed else row
        for row in rows
        if changed.get(row["id"], row) is not None
    ]
    return [*kept, *(row for row in changed.values() if row is not None)]


def row_of(device: Device, is_new: bool) -> dict[str, str]:
    """Fields of a device in a table of devices.

    Parameters
    ----------
    device : Device
        At a place. [-]
    is_new : bool
        Whether it had no row before. [-]
    """
    place = device.place
    assert place is not None  # whatever goes somewhere goes to a place
    where = (place.level, *(f"{one:.10g}" for one in (place.x_m, place.y_m, place.height_m)))
    row = dict(zip(PLACED, (device.id, device.kind.value, *where), strict=True))
    if not is_new:
        return row | {"zone": ""}  # the drawn one, as it was played
    return row | {"model": device.model_name, "supply": device.supply.value, "note": device.note}


def _all_columns(columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> list[str]:
    told = dict.fromkeys(columns)
    for row in rows:
        told |= dict.fromkeys(key for key, value in row.items() if value)
    return list(told)


def still_valid(rows: Rows, start: Layout, layout: Layout) -> Rows:
    """Rows of measured links between devices that are there and hang where they hung.

    Parameters
    ----------
    rows : list of dict
        Of a table of links. [-]
    start, layout : Layout
        Before and after. [-]
    """
    before = {one.id: one.place for one in start.devices}
    same = {one.id for one in layout.devices if before.get(one.id) == one.place}
    return [row for row in rows if {row["a"], row["b"]} <= same]


def text_of(columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> str:
    """Text of a table, with the columns that are needed.

    Parameters
    ----------
    columns : iterable of str
        In order; others that hold anything follow. [-]
    rows : iterable of mapping
        Fields by column. [-]
    """
    rows = list(rows)
    columns = _all_columns(columns, rows)
    stream = io.StringIO()
    writer = csv.DictWriter(stream, columns, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()
