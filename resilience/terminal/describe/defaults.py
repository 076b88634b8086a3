"""Every assumption, with its source."""

from pathlib import Path
from typing import Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json, site_folder

CONSTRUCTIONS = "constructions"


def defaults(
    section: Annotated[
        str | None,
        typer.Argument(metavar="[SECTION]", help="As in radio, hazards.hardware or constructions."),
    ] = None,
    site: Annotated[
        Path | None,
        typer.Option(
            metavar="SITE",
            help="Say too which of them this site states itself.",
            show_default=False,
            callback=lambda named: None if named is None else site_folder(named),
        ),
    ] = None,
    json: Json = False,
) -> None:
    """List what is assumed where a site says nothing, with range, source and confidence."""
    from resilience.assumptions.catalogue import settings
    from resilience.building.files.folder import read_site
    from resilience.report.answers.catalogue import (
        constructions_json,
        constructions_page,
        defaults_json,
        defaults_page,
    )
    from resilience.terminal.screen import show, show_json

    if section == CONSTRUCTIONS:
        if json:
            show_json(constructions_json())
        else:
            show(constructions_page())
        return
    chosen = [
        one for one in settings() if section is None or f"{one.key}.".startswith(f"{section}.")
    ]
    if not chosen:
        raise UsageError(_unknown(section or "", [one.key for one in settings()]))
    described = None if site is None else read_site(site)
    if json:
        show_json(defaults_json(chosen, described))
    else:
        show(defaults_page(chosen, described))


def _unknown(section: str, keys: list[str]) -> str:
    """Say which section has nearly that name, or how sections begin."""
    from resilience.building.text.entries import alternatives

    sections = dict.fromkeys(key.rpartition(".")[0] for key in keys if "." in key)
    tops = dict.fromkeys((*(name.partition(".")[0] for name in sections), CONSTRUCTIONS))
    near = alternatives(section, (*tops, *sections, *keys))
    if not near.startswith("did"):
        near = f"known are {', '.join(tops)}"
    return f"there is no section {section!r}; {near}; all of them: resilience defaults"
