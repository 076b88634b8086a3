"""Whether a site is sound: every mistake at once, or what was read."""

from resilience.errors import InputError
from resilience.terminal.options import Json, SiteFolder


def check(site: SiteFolder, json: Json = False) -> None:
    """Read a site and list every mistake in it, or tell what was read."""
    from resilience.building.files.folder import read_site
    from resilience.connectivity.links import site_table
    from resilience.report.answers.checking import check_json, check_page, faults_json
    from resilience.terminal.runs.progress import PREDICTING, doing
    from resilience.terminal.screen import show, show_json

    try:
        found = read_site(site)
    except InputError as error:
        if json:
            show_json(faults_json(error.faults))
        raise
    with doing(PREDICTING):
        paths = site_table(found)
        tables = [paths.of(layout) for layout in found.layouts]
    if json:
        show_json(check_json(found, tables))
    else:
        show(check_page(found, tables))
