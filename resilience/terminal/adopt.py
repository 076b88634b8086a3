"""A drawing becomes a site folder, or another level of one."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json

if TYPE_CHECKING:
    from rich.console import Group

    from resilience.drawings.adopting.adopt import Adoption

MOST_TOLD = 24


def adopt(  # noqa: PLR0913, PLR0917 - one parameter an option
    plan: Annotated[
        Path,
        typer.Argument(
            metavar="PLAN",
            help="DXF, IFC, GeoJSON, a CSV of walls, PNG, JPEG, PDF, or a CSV of id,x_px,y_px.",
        ),
    ],
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Missing, empty, or a site to add a level to.")
    ],
    level: Annotated[str, typer.Option(help="Level that the drawing shows.")] = "ground",
    unit: Annotated[
        str,
        typer.Option(
            help="mm, cm, m, in or ft: unit of its numbers.", show_default="as the drawing says"
        ),
    ] = "",
    table: Annotated[
        Path | None,
        typer.Option(help="CSV of layer,becomes: what layers (or materials) become."),
    ] = None,
    origin: Annotated[
        str, typer.Option(metavar="X,Y", help="Point of the drawing that becomes the site's zero.")
    ] = "0,0",
    floor_m: Annotated[
        float | None,
        typer.Option(help="Floor of the lowest level drawn [m].", show_default="on top"),
    ] = None,
    height_m: Annotated[float | None, typer.Option(help="Floor to ceiling [m].")] = None,
    point: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y=X,Y", help="Twice: x,y in pixels = x,y in metres."),
    ] = None,
    page: Annotated[
        int | None, typer.Option(metavar="N", help="Page of a PDF.", show_default="the only one")
    ] = None,
    json: Json = False,
) -> None:
    """Read a drawing into a site folder; tells what was read, left out and assumed."""
    from resilience.drawings.adopting.adopt import adopt as adopted
    from resilience.drawings.plan import Stated
    from resilience.terminal.screen import show, show_json

    stated = Stated(level, unit, _pair(origin), floor_m, height_m, table)
    made = adopted(plan, folder, stated, point or (), page)
    if json:
        show_json(made.to_json())
    else:
        show(_page(made, level))


def _pair(text: str) -> tuple[float, float]:
    try:
        x, y = (float(one) for one in text.split(","))
    except ValueError as error:
        raise UsageError("--origin takes two numbers, such as 0,0") from error
    return (x, y)


def _page(made: "Adoption", level: str) -> "Group":
    """What was read, left out and why, assumed, written, and what is still to be filled in."""
    from rich.console import Group

    from resilience.report.marks import bullets, plain, spaced

    left_out = [f"{n} x {what}: {why}" for (what, why), n in made.account.left_out.items()]
    if len(left_out) > MOST_TOLD:
        left_out[MOST_TOLD:] = [f"{len(left_out) - MOST_TOLD} more kinds; --json lists all"]
    told = {
        "Left out": left_out,
        "Assumed, and to be looked through": made.account.notes,
        f"Written in {made.folder}": made.files,
    }
    next_steps = Group(*map(plain, _next_steps(made, level)))
    lists = [bullets(title, sentences) for title, sentences in told.items() if sentences]
    return spaced([_head(made), *lists, next_steps])


def _next_steps(made: "Adoption", level: str) -> list[str]:
    from resilience.drawings.adopting.adopt import DEVICES

    folder = shlex.quote(str(made.folder))
    if not made.unscaled:
        task = f"Fill in {' and '.join(made.wanting)} in {DEVICES}, then:"
        return [task if made.wanting else "Next:", f"  resilience check {folder}"]
    picture = shlex.quote(str(made.folder / made.unscaled))
    where = f"{picture} {folder} --level {shlex.quote(level)}"
    return [
        f"Read two points far apart off {picture}, in pixels from its upper left corner, and tie "
        "them to metres:",
        f"  resilience adopt {where} --point X,Y=X,Y --point X,Y=X,Y",
    ]


def _head(made: "Adoption") -> "Group":
    from rich.console import Group

    from resilience.report.marks import plain
    from resilience.report.words import counted, listed

    found = [counted(n, noun.removesuffix("s")) for noun, n in made.counts.items() if n]
    verb = "Made" if made.is_new else "Added to"
    lines = [f"{verb} {made.folder}: {listed(found) if found else 'a picture'}."]
    if made.grown:
        shafts = counted(len(made.grown), "shaft")
        lines.append(f"Carried on from the levels that were there: {shafts}, {listed(made.grown)}.")
    if made.size_m:
        width_m, depth_m = made.size_m
        undo = "delete the folder" if made.is_new else "take the level out of its files again"
        lines.append(
            f"What was drawn measures {width_m:g} by {depth_m:g} m, by the middle of its walls. If "
            f"that is not the size of the building, {undo} and state the unit (--unit)."
        )
    return Group(*(plain(line) for line in lines))
