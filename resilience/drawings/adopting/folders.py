"""A site folder that drawings are adopted into: what it holds, and what is written to it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.files.layouts import device_columns, sensor_columns
from resilience.building.parts import LISTED, OBSTACLES, WALLS
from resilience.building.sections.changes import habits_of
from resilience.building.sections.drawn import Sources, building_of
from resilience.building.sections.levels import heights_of
from resilience.building.stated.sections import routing_of
from resilience.building.structure import Building
from resilience.building.text.documents import mapping, read_document
from resilience.building.text.drafts import draft_of, write
from resilience.building.text.entries import Findings, Mark, TableRow, id_problem, shown
from resilience.building.text.tables import Columns, read_table
from resilience.drawings.account import Account
from resilience.drawings.adopting.pages import (
    DEVICE_COLUMNS,
    joined_table,
    readme,
    site_page,
    table,
    trimmed,
    wall_row,
    with_parts,
)
from resilience.drawings.adopting.parts import joined_shafts
from resilience.drawings.plan import Ids, Stated
from resilience.errors import InputError, UsageError

DEVICES = "layouts/first/devices.csv"
NOTHING = Building(())
TABLES = "drawings"  # folder of what each layer or material becomes


@dataclass(frozen=True, slots=True)
class Adoption:
    """What an adopted drawing brought to a site folder.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    is_new : bool
        Whether it was made for this drawing. [-]
    drawn : Building
        What was added. [-]
    devices : tuple of str
        Ids of devices whose places were read off a picture. [-]
    account : Account
        What was left out and what was assumed. [-]
    files : tuple of str
        Files that were written or changed, below the folder. [-]
    unscaled : str
        One of them, a picture whose two points are still to be read off; empty for none. [-]
    grown : tuple of str
        Shafts that were there and now reach a level that was added. [-]
    wanting : tuple of str
        Kinds of devices that are still to be filled in: gateways, sensors. [-]
    gone : Building
        What was taken out, or replaced. [-]
    """

    folder: Path
    is_new: bool
    drawn: Building
    devices: tuple[str, ...]
    account: Account
    files: tuple[str, ...]
    unscaled: str = ""
    grown: tuple[str, ...] = ()
    wanting: tuple[str, ...] = ("gateways", "sensors")
    gone: Building = NOTHING

    @property
    def counts(self) -> dict[str, int]:
        """How many parts of each kind were added."""
        return counts_of(self.drawn) | {"devices": len(self.devices)}

    @property
    def size_m(self) -> tuple[float, float] | None:
        """Extent of the added walls and outlines on the plan; None if there are none."""
        points = [end for w in self.drawn.walls for end in ((w.x1_m, w.y1_m), (w.x2_m, w.y2_m))]
        points += [corner for level in self.drawn.levels for corner in level.outline]
        if not points:
            return None
        width_m, depth_m = (max(side) - min(side) for side in zip(*points, strict=True))
        return (round(width_m, 2), round(depth_m, 2))

    def to_json(self) -> dict[str, object]:
        """The same as JSON, under stable keys."""
        return {
            "format": 1,
            "folder": str(self.folder),
            "new": self.is_new,
            "levels": [level.id for level in self.drawn.levels],
            "counts": self.counts,
            "size_m": self.size_m,
            "gone": {
                "levels": [one.id for one in self.gone.levels],
                "counts": counts_of(self.gone),
            },
            "layers": self.account.to_json(),
            "left_out": [
                {"what": what, "why": why, "count": n}
                for (what, why), n in self.account.left_out.items()
            ],
            "notes": list(self.account.notes),
            "files": list(self.files),
            "unscaled": self.unscaled,
            "grown": list(self.grown),
        }


@dataclass(slots=True)
class Work:
    """One drawing on its way into a folder.

    Parameters
    ----------
    source, target : Path
        The drawing and the site folder. [-]
    stated : Stated
        What the user says. [-]
    is_new : bool
        Whether there was no site. [-]
    old : Building
        What is drawn there and stays. [-]
    gone : Building
        What the drawing takes the place of. [-]
    account : Account
        What became of the drawing. [-]
    """

    source: Path
    target: Path
    stated: Stated
    is_new: bool
    old: Building
    gone: Building = NOTHING
    account: Account = field(default_factory=Account)

    @property
    def constructions(self) -> list[str]:
        """Constructions that something can be made of here."""
        return sorted({*CONSTRUCTIONS, *(name for name, _ in self.old.constructions)})

    @property
    def ids(self) -> Ids:
        """Ids that are taken."""
        return Ids(ids_in(self.old))


def ids_in(building: Building) -> set[str]:
    """Ids of everything drawn."""
    kinds = (WALLS, *LISTED)
    return {one.id for part in kinds for one in getattr(building, part.name)}


def counts_of(building: Building) -> dict[str, int]:
    """How many parts of each kind a drawing can bring are in a building."""
    kinds = ("levels", "walls", "doors", "windows", "pillars", "shafts", "openings")
    return {kind: len(getattr(building, kind)) for kind in kinds}


def is_site(target: Path) -> bool:
    """Whether a folder holds a site already; UsageError if it can neither hold nor become one."""
    name = shown(str(target))
    if id_problem(target.name):
        raise UsageError(f"{name} cannot be the name of a site folder; name it from outside")
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise UsageError(f"{name} exists and is not a folder")
    if not target.is_dir() or not any(target.iterdir()):
        return False
    if all(path.name == TABLES for path in target.iterdir()):
        return False  # tables of layers that were written to be corrected
    if not (target / "site.yaml").is_file():
        raise UsageError(
            f"{name} exists, is not empty and holds no site.yaml: name a folder that is missing or "
            "empty, or a site to add to"
        )
    return True


def drawn_in(folder: Path) -> Building:
    """Return what is drawn in a site folder; InputError with every mistake in the drawing.

    Parameters
    ----------
    folder : Path
        It need not have devices yet. [-]
    """
    findings = Findings()
    whole = read_document(folder / "site.yaml", "site.yaml", findings)
    findings.raise_if_any()
    entries = whole.entries if whole else {}
    found = {key: mapping(entries.get(key), findings) for key in ("building", "changes", "routing")}
    sources = Sources(
        found["building"],
        rows_of(folder, WALLS.table, WALLS.columns, findings),
        rows_of(folder, OBSTACLES.table, OBSTACLES.columns, findings),
        heights_of(found["building"], findings),
        habits_of(found["changes"], findings),
        routing_of(found["routing"], findings).rejoin_long_h,
    )
    building = building_of(sources, findings)
    findings.raise_if_any()
    return building


def rows_of(folder: Path, file: str, columns: Columns, findings: Findings) -> list[TableRow]:
    """Return the rows of a table of a site; none if there is no such table.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    file : str
        Path of the table below it. [-]
    columns : Columns
        What its header may say. [-]
    findings : Findings
        Where faults go. [-]
    """
    path = folder / file
    if not path.exists():
        return []
    if path.is_symlink():
        findings.fault(Mark(file), "a link to another place", "expected a file of the site")
        return []
    return read_table(path, file, columns, findings) or []


def written(
    work: Work, drawn: Building, files: dict[str, str | bytes], devices: Sequence[str] = ()
) -> Adoption:
    """Write the folder, read it back, and put it in place.

    Parameters
    ----------
    work : Work
        Where it goes, and what stays there. [-]
    drawn : Building
        What is new. [-]
    files : dict of str to str or bytes
        Further files by their path below the folder. [-]
    devices : sequence of str
        Ids of devices that one of them brings. [-]
    """
    target, account = work.target, work.account
    drawn, grown = joined_shafts(work.old, drawn)
    texts: dict[str, str | bytes] = dict(files)
    if work.is_new:
        texts = {"README.md": readme(target.name), DEVICES: table([DEVICE_COLUMNS]), **texts}
    if drawn.levels or grown or work.gone.levels:
        page = site_page(target.name) if work.is_new else _page(target)
        texts["site.yaml"] = with_parts(trimmed(page, work.old, work.gone), drawn, grown)
    for part, rows in ((WALLS, [wall_row(wall) for wall in drawn.walls]), (OBSTACLES, [])):
        there = rows_of(target, part.table, part.columns, Findings())
        gone = {one.id for one in getattr(work.gone, part.name)}
        kept = [row for row in there if row.entries["id"].text not in gone]
        if rows or len(kept) < len(there):
            texts[part.table] = joined_table(kept, rows, part.columns)
    with draft_of(target) as draft:
        for file, content in texts.items():
            write(draft, file, content)
        try:
            found = drawn_in(draft)
        except InputError as error:
            told = "; ".join(str(fault) for fault in error.faults[:5])
            raise UsageError(
                f"what is drawn does not fit into {shown(str(target))}: {told}; nothing was written"
            ) from error
    assert ids_in(found) == ids_in(work.old) | ids_in(drawn)
    carried = tuple(shaft.id for shaft in grown)
    done = (target, work.is_new, drawn, tuple(devices), account, tuple(sorted(texts)))
    return Adoption(*done, grown=carried, wanting=wanting(target), gone=work.gone)


def wanting(target: Path) -> tuple[str, ...]:
    """Return which kinds of devices no layout has yet."""
    sensors = rows_of(target, "sensors.csv", sensor_columns(True), Findings())
    kinds = {"sensor"} if sensors else set()
    for path in target.glob("layouts/*/devices.csv"):
        file = path.relative_to(target).as_posix()
        rows = rows_of(target, file, device_columns(True), Findings())
        kinds |= {row.text("kind") for row in rows}
    return tuple(f"{kind}s" for kind in ("gateway", "sensor") if kind not in kinds)


def _page(target: Path) -> str:
    return (target / "site.yaml").read_text(encoding="utf-8-sig")
