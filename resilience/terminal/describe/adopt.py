"""A drawing becomes a site folder, or another level of one."""

import re
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json, site_folder

if TYPE_CHECKING:
    from resilience.drawings.adopting.folders import Adoption
    from resilience.report.pages import Block, Page, Part

MOST_TOLD = 24


Plan = Annotated[
    Path,
    typer.Argument(
        metavar="PLAN",
        help="DXF, IFC, GeoJSON, a CSV of walls, PNG, JPEG, PDF, or a CSV of id,x_px,y_px.",
    ),
]
Folder = Annotated[
    Path | None,
    typer.Argument(metavar="FOLDER", help="Missing, empty, or a site to add a level to."),
]
LevelName = Annotated[str, typer.Option(help="Level that the drawing shows.")]
Unit = Annotated[
    str,
    typer.Option(
        help="mm, cm, m, in or ft: unit of its numbers.", show_default="as the drawing says"
    ),
]
LayerTable = Annotated[
    Path | None,
    typer.Option(help="CSV of layer,becomes: what layers (or materials) become."),
]
Origin = Annotated[
    str,
    typer.Option(
        metavar="X,Y",
        help="Point of the drawing that becomes the site's zero, in the drawing's unit, or in "
        "the one it names: 12.5m,3m.",
    ),
]
FloorM = Annotated[
    float | None,
    typer.Option(help="Floor of the lowest level drawn [m].", show_default="on top"),
]
HeightM = Annotated[float | None, typer.Option(help="Floor to ceiling [m].")]
Below = Annotated[bool, typer.Option("--below", help="Put the level below those that are there.")]
Replace = Annotated[
    bool, typer.Option("--replace", help="Put it in the place of the level of its name.")
]
Remove = Annotated[
    str | None,
    typer.Option(metavar="LEVEL", help="Take a level out: adopt SITE --remove LEVEL."),
]
Points = Annotated[
    list[str] | None,
    typer.Option(metavar="X,Y=X,Y", help="Twice: x,y in pixels = x,y in metres."),
]
PageNumber = Annotated[
    int | None, typer.Option(metavar="N", help="Page of a PDF.", show_default="the only one")
]


def adopt(  # noqa: PLR0913, PLR0917 - one parameter an option
    plan: Plan,
    folder: Folder = None,
    level: LevelName = "ground",
    unit: Unit = "",
    table: LayerTable = None,
    origin: Origin = "0,0",
    floor_m: FloorM = None,
    below: Below = False,
    replace: Replace = False,
    remove: Remove = None,
    height_m: HeightM = None,
    point: Points = None,
    page: PageNumber = None,
    json: Json = False,
) -> None:
    """Read a drawing into a site folder; tells what was read, left out and assumed."""
    from resilience.drawings.adopting.adopt import adopt as adopted
    from resilience.drawings.adopting.adopt import remove_level
    from resilience.drawings.plan import Stated
    from resilience.terminal.screen import show, show_json

    if remove is not None:
        if folder is not None:
            raise UsageError("--remove needs no drawing: resilience adopt SITE --remove LEVEL")
        made = remove_level(site_folder(plan), remove)
    elif folder is None:
        raise UsageError(f"say where to: resilience adopt {shlex.quote(str(plan))} FOLDER")
    else:
        zero, zero_unit = _place(origin)
        stated = Stated(
            level, unit, zero, zero_unit, floor_m, height_m, table, below=below, replace=replace
        )
        made = adopted(plan, site_folder(folder), stated, point or (), page)
    if json:
        show_json(made.to_json())
    else:
        show(_page(made, level))


def _place(text: str) -> tuple[tuple[float, float], str]:
    """Return two numbers and the unit that they name; none where they name none."""
    found = re.fullmatch(r"\s*([^,a-z]+)([a-z]*)\s*,\s*([^,a-z]+)([a-z]*)\s*", text)
    wanted = "--origin takes two numbers, such as 0,0, or with their unit 12.5m,3m"
    if not found or (found[2] and found[4] and found[2] != found[4]):
        raise UsageError(wanted)
    try:
        return (float(found[1]), float(found[3])), found[4] or found[2]
    except ValueError as error:
        raise UsageError(wanted) from error


def _page(made: "Adoption", level: str) -> "Page":
    """What was read, left out and why, assumed, written, and what is still to be filled in."""
    from resilience.report.pages import Bullets, page

    left_out = [f"{n} x {what}: {why}" for (what, why), n in made.account.elsewhere.items()]
    if len(left_out) > MOST_TOLD:
        left_out[MOST_TOLD:] = [f"{len(left_out) - MOST_TOLD} more kinds; --json lists all"]
    told = {
        "Left out": left_out,
        "Assumed, and to be looked through": made.account.notes,
        f"Written in {made.folder}": made.files,
    }
    lists = [Bullets(title, tuple(sentences)) for title, sentences in told.items() if sentences]
    return page(_head(made), _layers(made), *lists, _next_steps(made, level))


def _layers(made: "Adoption") -> "Block":
    """What each layer gave and lost, those first that gave or lost most."""
    from resilience.report.pages import Column, Table, Text, titled, words

    account = made.account
    if not account.things:
        return ()
    order = sorted(
        account.things,
        key=lambda layer: (layer not in account.gave, -account.things[layer], layer),
    )
    rows = tuple(
        (
            layer,
            str(account.things[layer]),
            account.gave_words(layer) or "nothing",
            account.lost_words(layer),
        )
        for layer in order[:MOST_TOLD]
    )
    columns = (*words("layer"), Column("lines"), *words("gave", "lost or left out"))
    more = len(order) - MOST_TOLD
    rest = [Text(f"{more} more layers; the table in drawings/ lists all.")] if more > 0 else []
    return titled("What each layer gave", "", Table(columns, rows), *rest)


def _next_steps(made: "Adoption", level: str) -> "list[Part]":
    from resilience.drawings.adopting.folders import DEVICES
    from resilience.report.pages import Command, Text

    folder = shlex.quote(str(made.folder))
    if not made.unscaled:
        task = f"Fill in {' and '.join(made.wanting)} in {DEVICES}, then:"
        return [Text(task if made.wanting else "Next:"), Command(f"resilience check {folder}")]
    picture = shlex.quote(str(made.folder / made.unscaled))
    where = f"{picture} {folder} --level {shlex.quote(level)}"
    return [
        Text(
            f"Read two points far apart off {picture}, in pixels from its upper left corner, and "
            "tie them to metres:"
        ),
        Command(f"resilience adopt {where} --point X,Y=X,Y --point X,Y=X,Y"),
    ]


def _head(made: "Adoption") -> "list[Part]":
    from resilience.drawings.adopting.folders import counts_of
    from resilience.report.pages import Text
    from resilience.report.words import counted, listed

    found = [counted(n, noun.removesuffix("s")) for noun, n in made.counts.items() if n]
    verb = "Made" if made.is_new else "Added to"
    lines = []
    if made.gone.levels:
        gone = [counted(n, noun.removesuffix("s")) for noun, n in counts_of(made.gone).items() if n]
        names = listed([level.id for level in made.gone.levels])
        lines.append(f"Taken out of {made.folder}: level {names}, in all {listed(gone)}.")
    if found or not made.gone.levels:
        lines.append(f"{verb} {made.folder}: {listed(found) if found else 'a picture'}.")
    if made.grown:
        shafts = counted(len(made.grown), "shaft")
        lines.append(f"Carried on from the levels that were there: {shafts}, {listed(made.grown)}.")
    if made.size_m:
        width_m, depth_m = made.size_m
        level = shlex.quote(made.drawn.levels[0].id) if made.drawn.levels else "LEVEL"
        where = shlex.quote(str(made.folder))
        undo = (
            "delete the folder"
            if made.is_new
            else f"take the level out again (resilience adopt {where} --remove {level})"
        )
        lines.append(
            f"What was drawn measures {width_m:g} by {depth_m:g} m, by the middle of its walls. If "
            f"that is not the size of the building, {undo} and state the unit (--unit)."
        )
    return [Text(line) for line in lines]
