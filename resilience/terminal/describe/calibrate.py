"""Measurements correct the prediction."""

from typing import Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json, SiteFolder


def calibrate(
    site: SiteFolder,
    write: Annotated[
        bool,
        typer.Option("--write", help="Keep the corrections in calibration.yaml of the site."),
    ] = False,
    json: Json = False,
) -> None:
    """Show what measured links say about the prediction; with --write, correct it from now on."""
    from resilience.building.files.folder import read_site
    from resilience.connectivity.surveys.calibration import calibrate as calibrated
    from resilience.report.answers.calibration import calibration_page
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.screen import show, show_json

    found = read_site(site)
    with doing("comparing measured links with predicted ones"):
        survey = calibrated(found)
    written = None
    if write:
        if survey.calibration is None:
            raise UsageError(f"Nothing was written: {survey.why_not}.")
        from resilience.building.files.calibrations import write_calibration

        written = write_calibration(site, survey.calibration)
    if json:
        show_json({**survey.to_json(), "written": None if written is None else str(written)})
    else:
        show(calibration_page(survey, written))
