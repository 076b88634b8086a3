"""The whole way from a drawing to a site folder, or to another level of one."""

import shlex
from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

from resilience.building.files.layouts import device_columns
from resilience.building.structure import Building, Level
from resilience.building.text.drafts import draft_of, write
from resilience.building.text.entries import Findings, listed, shown
from resilience.drawings.account import Account
from resilience.drawings.adopting.folders import (
    DEVICES,
    TABLES,
    Adoption,
    Work,
    drawn_in,
    is_site,
    rows_of,
    written,
)
from resilience.drawings.adopting.levels import (
    level_named,
    stacked,
    taken_out,
    without_doubles,
    without_levels,
)
from resilience.drawings.adopting.pages import joined_table, table
from resilience.drawings.adopting.parts import parts_of
from resilience.drawings.layers import NothingKnownError, with_outcome
from resilience.drawings.plan import Ids, Stated, checked_file, file_stem
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
from resilience.errors import UsageError

DRAWN = (".dxf", ".ifc", ".geojson", ".json", ".csv")
PICTURES = (".png", ".jpg", ".jpeg", ".pdf")
ADVICE = {
    ".dwg": "save it as DXF",
    ".rvt": "export it as IFC",
    ".tif": "save it as PNG",
    ".tiff": "save it as PNG",
    ".svg": "save it as DXF, or as a PNG picture",
}


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
    work = Work(source, folder, stated, not is_old, old)
    if suffix in PICTURES:
        return _adopt_picture(work, points, page)
    if suffix == ".csv" and "x_px" in _first_line(source):
        return _adopt_places(work)
    return _adopt_drawing(work, suffix)


def _first_line(source: Path) -> str:
    with source.open("rb") as stream:
        return stream.readline(1000).decode("utf-8", "replace")


def _adopt_drawing(work: Work, suffix: str) -> Adoption:
    try:
        drawn, rows = _read(work, suffix, work.ids)
        if work.stated.replace:
            _make_room([level.id for level in drawn.levels], work)
            drawn, rows = _read(work, suffix, work.ids)
            drawn = without_doubles(drawn, work.old)
    except NothingKnownError as error:
        raise _to_be_corrected(error, work) from error
    if not (drawn.walls or drawn.pillars or drawn.shafts or drawn.openings):
        raise UsageError(f"{shown(work.source.name)}: no wall, pillar, shaft or opening was found")
    _check_levels(drawn.levels, work)
    files: dict[str, str | bytes] = {}
    if rows:
        file = _table_file(drawn.levels[0].id, rows)
        files[file] = table(with_outcome(rows, work.account))
    return written(work, drawn, files)


def _table_file(level: str, rows: list[list[str]]) -> str:
    return f"{TABLES}/{file_stem(level)}-{rows[0][0]}s.csv"


def _to_be_corrected(error: NothingKnownError, work: Work) -> UsageError:
    """Write the table of layers nevertheless, and return the error that says how to go on."""
    file = _table_file(work.stated.level, error.rows)
    with draft_of(work.target) as draft:
        write(draft, file, table(with_outcome(error.rows, work.account)))
    paths = [shlex.quote(str(path)) for path in (work.source, work.target, work.target / file)]
    return UsageError(
        f"{error}. A table of its layers was written: say in column becomes of {paths[2]} what "
        "each is (unknown_wall, doors, windows, pillars, shaft, outline, or a construction of "
        "resilience defaults constructions), then: resilience adopt "
        f"{paths[0]} {paths[1]} --table {paths[2]}"
    )


def _make_room(names: Collection[str], work: Work) -> None:
    """Take the levels out that the drawing takes the place of; UsageError if there is none."""
    there = {level.id for level in work.old.levels}
    folded = {name.casefold() for name in names}
    replaced = {name for name in there if name.casefold() in folded}
    if not replaced:
        level_named(work.old, next(iter(names)), shown(str(work.target)))
    whole = work.old
    work.old = without_levels(whole, replaced, with_bodies=False)
    work.gone = taken_out(whole, work.old)
    work.account = Account()


def remove_level(folder: Path, name: str) -> Adoption:
    """Take a level out of a site, with everything drawn on it; UsageError if devices hang there.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    name : str
        Id of the level. [-]
    """
    where = shown(str(folder))
    if not is_site(folder):
        raise UsageError(f"{where} holds no site, so no level can be taken out of it")
    whole = drawn_in(folder)
    level = level_named(whole, name, where)
    if len(whole.levels) == 1:
        raise UsageError(f"{level.id} is the only level of {where}: delete the folder instead")
    hanging = _hanging(folder, level.id)
    if hanging:
        raise UsageError(
            f"devices hang on level {level.id}: {listed(hanging)}; take them out of these tables, "
            "or move them, first"
        )
    rest = without_levels(whole, (level.id,), with_bodies=True)
    work = Work(folder, folder, Stated(level.id), False, rest, taken_out(whole, rest))
    return written(work, Building(()), {})


def _hanging(folder: Path, level: str) -> list[str]:
    """Return which devices are on a level, and in which table."""
    layouts = sorted(folder.glob("layouts/*/devices.csv"))
    files = [path.relative_to(folder).as_posix() for path in layouts]
    return [
        f"{row.text('id')} ({file})"
        for file in ("sensors.csv", *files)
        for row in rows_of(folder, file, device_columns(False), Findings())
        if row.text("level") == level
    ]


def _read(work: Work, suffix: str, ids: Ids) -> tuple[Building, list[list[str]]]:
    """Return what a drawing holds, and the table of what its names became."""
    source, account, known = work.source, work.account, work.constructions
    if suffix == ".ifc":
        return read_ifc(source, work.stated, known, account, ids)
    rows: list[list[str]] = []
    if suffix == ".dxf":
        strokes, rows = read_dxf(source, work.stated, known, account)
    elif suffix == ".csv":
        strokes = read_walls(source, work.stated, known, account)
    else:
        strokes = read_geojson(source, work.stated, known, account)
    # A level that is replaced keeps its name: devices hang on it.
    names = {level.id.casefold(): level.id for level in work.gone.levels}
    strokes = [replace(one, level=names.get(one.level.casefold(), one.level)) for one in strokes]
    levels = _levels([stroke.level for stroke in strokes], work)
    drawn = parts_of(strokes, levels, ids, account, as_drawn=suffix != ".dxf")
    if not work.old.levels and len(levels) == 1:  # the only level's outline is the building's
        outline = drawn.levels[0].outline
        drawn = replace(drawn, outline=outline, levels=(replace(drawn.levels[0], outline=()),))
    return drawn, rows


def _levels(names: Sequence[str], work: Work) -> list[Level]:
    return stacked(names, work.stated, work.old, work.gone, work.account)


def _check_levels(levels: Sequence[Level], work: Work) -> None:
    there = {level.id.casefold(): shown(level.id) for level in work.old.levels}
    for level in levels:
        name = there.get(level.id.casefold())
        if name:
            raise UsageError(
                f"{shown(str(work.target))} has a level {name} already: name another with "
                "--level, put the drawing in its place with --replace, or adopt it into a new "
                "folder"
            )


def _adopt_picture(work: Work, points: Sequence[str], page: int | None) -> Adoption:
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
    levels = [] if is_drawn else _levels([work.stated.level], work)
    _check_levels(levels, work)
    made = written(work, Building(tuple(levels)), {f"{stem}{suffix}": content, **scale})
    return made if scale else replace(made, unscaled=f"{stem}{suffix}")


def _is_pdf(work: Work) -> bool:
    return work.source.suffix.casefold() == ".pdf"


def _scale(work: Work, points: Sequence[str], file: str) -> Backdrop | None:
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


def _adopt_places(work: Work) -> Adoption:
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
    return written(work, Building(()), {DEVICES: text}, [spot.id for spot in spots])


def _device_row(spot: Spot, level: str) -> dict[str, str]:
    place = {"x_m": f"{spot.x_m:.10g}", "y_m": f"{spot.y_m:.10g}"}
    note = {"note": spot.note} if spot.note else {}
    return {"id": spot.id, "kind": spot.kind, "level": level, **place, **note}
