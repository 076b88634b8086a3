"""The whole way from a drawing to a site folder, or to another level of one."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from resilience.assumptions.constructions import CONSTRUCTIONS
from resilience.building.files.drafts import draft_of, write
from resilience.building.files.layouts import device_columns, sensor_columns
from resilience.building.parts import WALLS
from resilience.building.structure import Building, Level
from resilience.building.text.entries import Findings, shown
from resilience.drawings.adopting.folders import drawn_in, is_site, rows_of
from resilience.drawings.adopting.pages import (
    DEVICE_COLUMNS,
    joined_table,
    readme,
    site_page,
    table,
    wall_row,
    with_parts,
)
from resilience.drawings.adopting.parts import joined_shafts, parts_of
from resilience.drawings.plan import (
    Account,
    Ids,
    Stated,
    checked_file,
    file_stem,
    usual_m,
)
from resilience.drawings.reading.dxf import read_dxf
from resilience.drawings.reading.flat import read_geojson, read_walls
from resilience.drawings.reading.ifc import read_ifc
from resilience.drawings.reading.pictures import (
    FORMATS,
    Backdrop,
    Spot,
    backdrop_of,
    page_picture,
    read_backdrop,
    read_places,
    size_of,
    sound_picture,
)
from resilience.errors import InputError, UsageError

DEVICES = "layouts/first/devices.csv"
DRAWN = (".dxf", ".ifc", ".geojson", ".json", ".csv")
PICTURES = (".png", ".jpg", ".jpeg", ".pdf")
ADVICE = {
    ".dwg": "save it as DXF",
    ".rvt": "export it as IFC",
    ".tif": "save it as PNG",
    ".tiff": "save it as PNG",
    ".svg": "save it as DXF, or as a PNG picture",
}


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

    @property
    def counts(self) -> dict[str, int]:
        """How many parts of each kind were added."""
        kinds = ("walls", "doors", "windows", "pillars", "shafts", "openings")
        counts = {"levels": len(self.drawn.levels)}
        counts |= {kind: len(getattr(self.drawn, kind)) for kind in kinds}
        return counts | {"devices": len(self.devices)}

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
class _Work:
    """One drawing on its way into a folder."""

    source: Path
    target: Path
    stated: Stated
    is_new: bool
    old: Building
    account: Account = field(default_factory=Account)

    @property
    def constructions(self) -> list[str]:
        """Constructions that something can be made of here."""
        return sorted({*CONSTRUCTIONS, *(name for name, _ in self.old.constructions)})

    @property
    def ids(self) -> Ids:
        """Ids that are taken."""
        old = self.old
        kinds = (old.levels, old.walls, old.doors, old.windows, old.pillars, old.shafts)
        parts = [
            part for kind in (*kinds, old.openings, old.plates, old.obstacles) for part in kind
        ]
        return Ids(part.id for part in parts)


def adopt(
    source: Path,
    folder: Path,
    stated: Stated,
    points: Sequence[str] = (),
    page: int | None = None,
) -> Adoption:
    """Read a drawing into a site folder, new or with other levels; nothing is half written.

    Parameters
    ----------
    source : Path
        DXF, IFC, GeoJSON, a table of walls, a picture, a PDF, or a table of places in pixels. [-]
    folder : Path
        The site folder; missing, empty or a site. [-]
    stated : Stated
        What the user says of the drawing. [-]
    points : sequence of str
        For a picture, two points such as ``120,880=0,0``; a PDF can wait for them. [-]
    page : int or None
        Page of a PDF, counted from 1; None takes the only one. [-]
    """
    suffix = source.suffix.casefold()
    if suffix not in (*DRAWN, *PICTURES):
        known = f"expected one of {', '.join((*DRAWN, *PICTURES))}"
        raise UsageError(f"{shown(source.name)} cannot be read: {ADVICE.get(suffix, known)}")
    if points and suffix not in PICTURES:
        raise UsageError("--point gives the scale of a picture; a drawing has its own")
    if page is not None and suffix != ".pdf":
        raise UsageError("--page chooses a page of a PDF")
    checked_file(source)
    is_old = is_site(folder)
    old = drawn_in(folder) if is_old else Building(())
    work = _Work(source, folder, stated, not is_old, old)
    if suffix in PICTURES:
        return _adopt_picture(work, points, page)
    if suffix == ".csv" and "x_px" in _first_line(source):
        return _adopt_places(work)
    return _adopt_drawing(work, suffix)


def _first_line(source: Path) -> str:
    with source.open("rb") as stream:
        return stream.readline(1000).decode("utf-8", "replace")


def _adopt_drawing(work: _Work, suffix: str) -> Adoption:
    drawn, rows = _read(work, suffix)
    if not (drawn.walls or drawn.pillars or drawn.shafts or drawn.openings):
        raise UsageError(f"{shown(work.source.name)}: no wall, pillar, shaft or opening was found")
    _check_levels(drawn.levels, work)
    files: dict[str, str | bytes] = {}
    if rows:
        noun = rows[0][0]
        files[f"drawings/{file_stem(drawn.levels[0].id)}-{noun}s.csv"] = table(rows)
    return _written(work, drawn, files)


def _read(work: _Work, suffix: str) -> tuple[Building, list[list[str]]]:
    """Return what a drawing holds, and the table of what its names became."""
    source, account, known = work.source, work.account, work.constructions
    if suffix == ".ifc":
        return read_ifc(source, work.stated, known, account, work.ids)
    rows: list[list[str]] = []
    if suffix == ".dxf":
        strokes, rows = read_dxf(source, work.stated, known, account)
    elif suffix == ".csv":
        strokes = read_walls(source, work.stated, known, account)
    else:
        strokes = read_geojson(source, work.stated, known, account)
    levels = _stacked([stroke.level for stroke in strokes], work)
    drawn = parts_of(strokes, levels, work.ids, account, as_drawn=suffix != ".dxf")
    if work.is_new and len(levels) == 1:  # the only level's outline is the building's
        outline = drawn.levels[0].outline
        drawn = replace(drawn, outline=outline, levels=(replace(drawn.levels[0], outline=()),))
    return drawn, rows


def _stacked(names: Sequence[str], work: _Work) -> list[Level]:
    """Return new levels in the order of their names, on top of what is there."""
    height_m = work.stated.height_m or usual_m("level_height_m")
    slab_m = usual_m("slab_depth_m")
    tops_m = [level.floor_m + level.height_m + slab_m for level in work.old.levels]
    floor_m = max(tops_m, default=0.0) if work.stated.floor_m is None else work.stated.floor_m
    levels = []
    for name in dict.fromkeys(names):
        levels.append(Level(name, round(floor_m, 3), height_m, "unknown_slab"))
        floor_m += height_m + slab_m
    work.account.note(
        f"Heights are not in a plan: {height_m:g} m from floor to ceiling"
        + (f", {slab_m:g} m of slab between levels" if len(levels) > 1 or tops_m else "")
        + f"; the floor of {levels[0].id} is at {levels[0].floor_m:g} m."
    )
    return levels


def _check_levels(levels: Sequence[Level], work: _Work) -> None:
    there = {level.id.casefold(): shown(level.id) for level in work.old.levels}
    for level in levels:
        name = there.get(level.id.casefold())
        if name:
            raise UsageError(
                f"{shown(str(work.target))} has a level {name} already: name another with "
                "--level, or adopt the drawing into a new folder"
            )


def _adopt_picture(work: _Work, points: Sequence[str], page: int | None) -> Adoption:
    stem = f"backdrops/{file_stem(work.stated.level)}"
    backdrop = _scale(work, points, f"{stem}.csv")
    if _is_pdf(work):
        suffix = ".png"
        content, size_px = page_picture(work.source, page, work.account)
    else:
        suffix, size_px = sound_picture(work.source, work.account)
        content = work.source.read_bytes()
    if backdrop:
        backdrop.check_within(size_px)
    scale = {f"{stem}.csv": table(backdrop.rows())} if backdrop else {}
    is_drawn = work.stated.level in [level.id for level in work.old.levels]
    levels = [] if is_drawn else _stacked([work.stated.level], work)
    _check_levels(levels, work)
    made = _written(work, Building(tuple(levels)), {f"{stem}{suffix}": content, **scale})
    return made if scale else replace(made, unscaled=f"{stem}{suffix}")


def _is_pdf(work: _Work) -> bool:
    return work.source.suffix.casefold() == ".pdf"


def _scale(work: _Work, points: Sequence[str], file: str) -> Backdrop | None:
    """Return the scale; None for a PDF whose pixels nobody could count before."""
    if _is_pdf(work) and not points:
        if (work.target / file).exists():
            raise UsageError(
                f"the picture behind level {work.stated.level} has its scale already: to put "
                "another in its place, give the two --point of that one too"
            )
        return None
    backdrop = backdrop_of(points)
    work.account.note(
        f"A pixel is {1000 * backdrop.m_per_px:.4g} mm wide, and the picture is turned by "
        f"{backdrop.turned_deg:.1f} degrees. Two points cannot show whether it is stretched or "
        "skewed: measure a third length in it."
    )
    return backdrop


def _adopt_places(work: _Work) -> Adoption:
    level = work.stated.level
    file = f"backdrops/{file_stem(level)}.csv"
    if work.is_new or not (work.target / file).is_file():
        raise UsageError(
            f"there is no picture behind level {level} whose scale is known: adopt it first, with "
            "two --point"
        )
    pictures = [(work.target / file).with_suffix(suffix) for suffix in FORMATS.values()]
    backdrop = read_backdrop(work.target / file, file)
    spots = read_places(work.source, backdrop, size_of(pictures))
    findings = Findings()
    there = rows_of(work.target, DEVICES, device_columns(True), findings)
    findings.raise_if_any()
    taken = {row.entries["id"].text.casefold() for row in there if row.has("id")}
    twice = [spot.id for spot in spots if spot.id.casefold() in taken]
    if twice:
        raise UsageError(f"{DEVICES} has {', '.join(map(shown, twice[:16]))} already")
    rows = [_device_row(spot, level) for spot in spots]
    text = joined_table(there, rows, device_columns(True))
    return _written(work, Building(()), {DEVICES: text}, [spot.id for spot in spots])


def _device_row(spot: Spot, level: str) -> dict[str, str]:
    place = {"x_m": f"{spot.x_m:.10g}", "y_m": f"{spot.y_m:.10g}"}
    note = {"note": spot.note} if spot.note else {}
    return {"id": spot.id, "kind": spot.kind, "level": level, **place, **note}


def _written(
    work: _Work, drawn: Building, files: dict[str, str | bytes], devices: Sequence[str] = ()
) -> Adoption:
    """Write the folder, read it back, and put it in place."""
    target, account = work.target, work.account
    drawn, grown = joined_shafts(work.old, drawn)
    texts: dict[str, str | bytes] = dict(files)
    if work.is_new:
        texts = {"README.md": readme(target.name), DEVICES: table([DEVICE_COLUMNS]), **texts}
    if drawn.levels or grown:
        page = site_page(target.name) if work.is_new else _page(target)
        texts["site.yaml"] = with_parts(page, drawn, grown)
    if drawn.walls:
        there = rows_of(target, WALLS.table, WALLS.columns, Findings())
        texts[WALLS.table] = joined_table(there, map(wall_row, drawn.walls), WALLS.columns)
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
    assert len(found.walls) == len(work.old.walls) + len(drawn.walls)
    added = tuple(sorted(texts))
    carried = tuple(shaft.id for shaft in grown)
    done = (target, work.is_new, drawn, tuple(devices), account, added)
    return Adoption(*done, grown=carried, wanting=_wanting(target))


def _wanting(target: Path) -> tuple[str, ...]:
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
