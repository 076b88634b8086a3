"""What has moved between two runs of a portfolio."""

from pathlib import Path


def tell_moves(run: Path, since: Path, is_json: bool) -> None:
    """Show what has moved between two runs, site by site.

    Parameters
    ----------
    run, since : Path
        Folders of the later and of the earlier one. [-]
    is_json : bool
        Whether as one JSON document. [-]
    """
    from resilience.ranking.many.moving import moved
    from resilience.report.many.moving import moving_page
    from resilience.sweep.kept.earlier import Run
    from resilience.terminal.screen import show, show_json

    now, then = Run.read(run), Run.read(since)
    failed = (now.without_an_answer, then.without_an_answer)
    movements = moved(now.sites, then.sites, failed, now.by)
    if is_json:
        told = [one.to_json() for one in movements]
        show_json({"format": 1, "run": str(run), "since": str(since), "sites": told})
    else:
        show(moving_page(movements, str(run), str(since)))
