"""The best proposal written down as a layout folder beside the others."""

from pathlib import Path

from resilience.building.site import Kind, Layout
from resilience.building.text.drafts import draft_of, write
from resilience.errors import UsageError
from resilience.remedies.outset.proposals import Outset
from resilience.remedies.reinforcing.folders import (
    refuse_name,
    row_of,
    still_valid,
    table_of,
    text_of,
)


def write_proposal(folder: Path, name: str, found: Outset) -> Path:
    """Write the best proposal, and return its folder; it reads back as it was judged.

    Rows of sensors, and of a gateway that stays, are kept as they stand.

    Parameters
    ----------
    folder : Path
        Of the site. [-]
    name : str
        Of the new layout; nothing of that name is there yet. [-]
    found : Outset
        What was found. [-]

    Raises
    ------
    UsageError
        No layout keeps the promise, the name is taken, or nothing can be written there.
    """
    refuse_name(folder, name)
    if not found.proposals:
        raise UsageError("no layout was shown to keep the promise, so none is written")
    layout = found.proposals[0].layout
    target, source = folder / "layouts" / name, folder / "layouts" / found.start.name
    columns, rows = table_of(source / "devices.csv")
    rows = _rows(rows, found.start, layout)
    with draft_of(target) as draft:
        write(draft, "devices.csv", text_of(columns, rows))
        links = source / "links.csv"
        if links.exists():
            columns, measured = table_of(links)
            kept = still_valid(measured, found.start, layout)
            write(draft, "links.csv", text_of(columns, kept))
    return target


def _rows(rows: list[dict[str, str]], start: Layout, layout: Layout) -> list[dict[str, str]]:
    """Rows of what stays as it was, then of what is new."""
    before = {one.id: one for one in start.devices}
    ids = {one.id for one in layout.devices}
    kept = [row for row in rows if row["id"] in ids]
    new = [
        one for one in layout.devices if one.kind is not Kind.SENSOR and before.get(one.id) != one
    ]
    return [*kept, *(row_of(one, is_new=True) for one in new)]
