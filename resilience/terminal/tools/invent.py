"""Invented portfolios, for trials and benchmarks."""

from pathlib import Path
from typing import Annotated

import typer

from resilience.terminal.options import DEFAULT_SEED, Quiet, Seed

Target = Annotated[Path, typer.Argument(metavar="FOLDER", help="Missing or empty.")]
Sites = Annotated[int, typer.Option(min=1, help="How many.")]


def invent(
    folder: Target = Path("invented-portfolio"),
    sites: Sites = 12,
    seed: Seed = DEFAULT_SEED,
    quiet: Quiet = False,
) -> None:
    """Write a portfolio of invented sites: several kinds, sizes and ages of buildings."""
    from resilience.sweep.inventing.portfolios import invent as write_sites
    from resilience.terminal.runs.progress import steps
    from resilience.terminal.screen import tell

    with steps("sites", quiet) as report:
        write_sites(folder, sites, seed, lambda done: report(done, sites, "writing"))
    if not quiet:
        tell(f"{sites} invented sites are in {folder}; resilience portfolio {folder} scores them.")
