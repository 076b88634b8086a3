"""Whether a site is sound: every mistake at once, or what was read."""

import typer

from resilience.errors import InputError
from resilience.terminal.options import DEFAULT_SEED, Json, SiteFolder
from resilience.terminal.statuses import BAD_INPUT


def check(site: SiteFolder, json: Json = False) -> None:
    """Read a site and list every mistake in it, or tell what was read."""
    from resilience.building.files.folder import read_site
    from resilience.building.files.policies import read_policy
    from resilience.building.service.places import read_places
    from resilience.connectivity.links import site_table
    from resilience.report.answers.checking import (
        Looked,
        check_json,
        check_page,
        faults_json,
        faults_of,
    )
    from resilience.terminal.runs.engine import tell_of_many_paths
    from resilience.terminal.runs.progress import PREDICTING, doing
    from resilience.terminal.screen import show, show_json

    try:
        found = read_site(site)
        read_policy(site, found)
        read_places(site, found)
    except InputError as error:
        if json:
            show_json(faults_json(error.faults))
        raise
    tell_of_many_paths(found)
    with doing(PREDICTING):
        paths = site_table(found)
        tables = [paths.of(layout) for layout in found.layouts]
    with doing("drawing possible buildings"):
        looked = [Looked.at(table, DEFAULT_SEED) for table in tables]
    if json:
        show_json(check_json(found, looked))
    else:
        show(check_page(found, looked))
    if faults_of(looked):
        raise typer.Exit(BAD_INPUT)
