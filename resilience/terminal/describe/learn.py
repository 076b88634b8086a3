"""What happened on own sites updates rates, lives and durations."""

from pathlib import Path
from typing import Annotated

import typer

from resilience.errors import UsageError
from resilience.terminal.options import Json, SiteFolder


def learn(
    site: SiteFolder,
    history: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="TABLE",
            help="A table of what happened; may be repeated.",
            show_default="history.csv of the site",
        ),
    ] = None,
    write: Annotated[
        bool, typer.Option("--write", help="Keep what was learnt in learnt.yaml of the site.")
    ] = False,
    json: Json = False,
) -> None:
    """Show what own history says of rates and durations; with --write, use it from now on."""
    from datetime import datetime

    from resilience.building.files.folder import read_site
    from resilience.building.service.logbook import HISTORY_FILE, Own, read_history
    from resilience.hazards.learning.learning import learn as learnt_from
    from resilience.report.answers.learning import learning_page
    from resilience.terminal.runs.progress import doing
    from resilience.terminal.screen import show, show_json

    found = read_site(site, use_learnt=False)
    devices = [device for layout in found.layouts for device in layout.devices]
    own = Own(found.name, {device.id: device.kind for device in devices})
    mine = site / HISTORY_FILE
    if not history and not mine.is_file():
        raise UsageError(
            f"{site} has no {HISTORY_FILE}: write one (README, From your own history), or name "
            "tables with --history"
        )
    files = [
        (path, own if path.resolve() == mine.resolve() else None) for path in history or [mine]
    ]
    today = datetime.combine(datetime.now().date(), datetime.min.time())
    told = read_history(files, today)
    with doing("learning from what happened"):
        lessons = learnt_from(found, told)
    written = None
    if write:
        if lessons.learnt is None:
            raise UsageError("Nothing was written: the history bears on no setting.")
        from resilience.building.service.learnt import write_learnt

        written = write_learnt(site, lessons.learnt)
    if json:
        show_json({**lessons.to_json(), "written": None if written is None else str(written)})
    else:
        show(learning_page(lessons, written))
