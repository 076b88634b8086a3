"""Options that several verbs share."""

import os
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from resilience.draws import DEFAULT_SEED

DEFAULT_LIFETIMES = 2000
DEFAULT_SECONDS = 60.0


class Engine(StrEnum):
    """The two engines, by the names that ``lifetime.engines`` knows them by."""

    COMPILED = "compiled"
    REFERENCE = "reference"


def site_folder(named: Path) -> Path:
    """Return the site folder that a path names, by itself or by its main file."""
    from resilience.building.files.naming import folder_of

    return folder_of(named)


SiteFolder = Annotated[
    Path,
    typer.Argument(
        metavar="SITE", help="The site folder, or the site.yaml in it.", callback=site_folder
    ),
]
Json = Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")]
Seed = Annotated[int, typer.Option(min=0, help="Same seed, same lifetimes.")]
Lifetimes = Annotated[int, typer.Option(min=1, help="Lifetimes of each layout.")]
Seconds = Annotated[
    float, typer.Option(min=0.0, help="Time after which no further round of lifetimes begins.")
]
Workers = Annotated[
    int | None,
    typer.Option(min=1, help="Threads.", show_default="cores this process may use"),
]
EngineChoice = Annotated[
    Engine, typer.Option("--engine", help="Both give the same answer; reference is slow.")
]
Keep = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER",
        help="Run folder; the same command goes on from there.",
        show_default="below results",
    ),
]
NoKeep = Annotated[bool, typer.Option("--no-keep", help="Keep nothing.")]
Fresh = Annotated[bool, typer.Option("--fresh", help="Start over, in a new run folder.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress on standard error.")]

__all__ = ["DEFAULT_SEED", "allowed_cores"]


def allowed_cores() -> int:
    """Cores that this process may use, which can be fewer than the machine has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
