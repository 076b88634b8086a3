"""A first site folder from six answers."""

import shlex
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json

QUESTIONS: dict[str, tuple[str, type]] = {
    "name": ("Name of the site", str),
    "levels": ("Number of levels", int),
    "length_m": ("Length of the building [m]", float),
    "width_m": ("Width of the building [m]", float),
    "sensors_per_level": ("Sensors on each level", int),
    "gateway": ("Gateway at the corner or the centre of the lowest level", str),
}


def new(  # noqa: PLR0913, PLR0917 - one parameter an option
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Missing or empty.")],
    name: Annotated[str | None, typer.Option(help="Name of the site.")] = None,
    levels: Annotated[int | None, typer.Option(help="Number of levels, 1 to 100.")] = None,
    length_m: Annotated[float | None, typer.Option(help="Length of the building [m].")] = None,
    width_m: Annotated[float | None, typer.Option(help="Width of the building [m].")] = None,
    sensors_per_level: Annotated[int | None, typer.Option(help="Sensors on each level.")] = None,
    gateway: Annotated[str | None, typer.Option(help="corner or centre.")] = None,
    json: Json = False,
) -> None:
    """Write a commented site folder from six answers; asks for those that are missing."""
    given = {
        "name": name,
        "levels": levels,
        "length_m": length_m,
        "width_m": width_m,
        "sensors_per_level": sensors_per_level,
        "gateway": gateway,
    }
    answers = _answered(given)
    from resilience.building.files.template import Answers, new_site

    written = new_site(folder, Answers(*answers))
    files = sorted(
        path.relative_to(written).as_posix() for path in written.rglob("*") if path.is_file()
    )
    from resilience.terminal.screen import show, show_json

    if json:
        show_json({"format": 1, "folder": str(written), "files": files})
        return
    from resilience.report.pages import Bullets, Command, Text, page

    place = shlex.quote(str(folder))
    show(
        page(
            Bullets(f"Written to {written}", tuple(files)),
            [
                Text("Every place in it is invented. Put in the real ones, then:"),
                Command(f"resilience check {place}"),
                Command(f"resilience compare {place}"),
            ],
        )
    )


def _answered(given: dict[str, Any]) -> list[Any]:
    """Return all answers, the missing ones asked for where somebody can answer."""
    missing = [question for question, answer in given.items() if answer is None]
    if missing and not sys.stdin.isatty():
        options = ", ".join(f"--{question.replace('_', '-')}" for question in missing)
        raise UsageError(f"these answers are missing, and nobody is there to ask: {options}")
    for question in missing:
        text, kind = QUESTIONS[question]
        given[question] = typer.prompt(text, type=kind, err=True)
    return list(given.values())
