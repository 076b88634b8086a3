"""Where a portfolio is kept, and what its manifest says."""

import hashlib
import json
import platform
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from resilience.errors import UsageError
from resilience.montecarlo.runs.folders import run_folder, safe_name
from resilience.terminal.runs.keeping import RESULTS

if TYPE_CHECKING:
    from resilience.sweep.crew import Where
    from resilience.sweep.running import Outcome, Plan

FORMAT = 1


def run_digest() -> str:
    """Digest of a ledger that holds many studies, each of which has a digest of its own."""
    return f"portfolio {FORMAT}"


def portfolio_folder(
    keep: Path | None,
    top: Path,
    asked: tuple[object, ...],
    is_fresh: bool,
    since: Path | None = None,
) -> Path:
    """Return the run folder: the one that was named, or one below ``results``.

    An earlier run that is gone on from stays as it is, so that the two can be compared.

    Parameters
    ----------
    keep : Path or None
        As it was named. [-]
    top : Path
        The portfolio. [-]
    asked : tuple
        What tells runs of the same portfolio apart. [-]
    is_fresh : bool
        Whether to start over beside what is there. [-]
    since : Path or None
        Folder of an earlier run that is gone on from. [-]

    Raises
    ------
    UsageError
        Both were named, and are the same.
    """
    whole = top.resolve()
    digest = hashlib.sha256(json.dumps([str(whole), *asked]).encode()).hexdigest()[:8]
    base = keep or RESULTS / f"{safe_name(whole.name)}-portfolio-{digest}"
    place = run_folder(base, is_fresh)
    if since is None or place.resolve() != since.resolve():
        return place
    if keep is not None:
        raise UsageError(f"{since} stays as it is: name another folder with --keep, or add --fresh")
    return run_folder(base, is_fresh=True)


def facts(plan: "Plan", where: "Where", outcome: "Outcome | None") -> dict[str, object]:
    """Return what made a run, and how it ended.

    Parameters
    ----------
    plan : Plan
        What was to be done. [-]
    where : Where
        By which processes. [-]
    outcome : Outcome or None
        None while it is under way. [-]
    """
    import resilience
    from resilience.draws import STREAM_VERSION
    from resilience.montecarlo.runs.manifest import code_digest

    found = outcome.found if outcome else []
    return {
        "format": FORMAT,
        "version": resilience.__version__,
        "stream_version": STREAM_VERSION,
        "code": code_digest(),
        "seed": plan.terms.seed,
        "engine": plan.terms.engine,
        "lifetimes": plan.whole_lifetimes,
        "ranked_by": plan.by.value,
        "policy": str(plan.terms.policy) if plan.terms.policy else None,
        "python": platform.python_version(),
        "numpy": version("numpy"),
        "distributed": version("distributed"),
        "platform": platform.platform(),
        "workers": where.workers,
        "scheduler": where.scheduler,
        "written": datetime.now(UTC).isoformat(timespec="seconds"),
        "stopped_because": outcome.stopped_because if outcome else None,
        "sites": {one.id: one.digest for one in found},
        "files": {one.id: one.files for one in found},
        "promises": {one.id: one.promise for one in found},
        "without_an_answer": _without_an_answer(outcome) if outcome else [],
        "since": str(plan.since.folder) if plan.since else None,
        "taken_over": outcome.taken_over if outcome else [],
    }


def _without_an_answer(outcome: "Outcome") -> list[str]:
    return [*(one.id for one in outcome.failures), *outcome.not_reached]
