"""Where a run is kept, so that the same command goes on where an earlier one ended."""

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from resilience.errors import RunError, UsageError
from resilience.montecarlo.runs.folders import run_folder, safe_name

if TYPE_CHECKING:
    from resilience.montecarlo.runs.running import Undertaking
    from resilience.montecarlo.study import Study

RESULTS = Path("results")


@dataclass(frozen=True, slots=True)
class Keeping:
    """What was asked for.

    Parameters
    ----------
    folder : Path or None
        The run folder; None takes one below ``results``. [-]
    is_off : bool
        Whether nothing is kept. [-]
    is_fresh : bool
        Whether to start over beside what is there. [-]
    """

    folder: Path | None
    is_off: bool
    is_fresh: bool

    def __post_init__(self) -> None:
        if self.is_off and (self.folder or self.is_fresh):
            raise UsageError("--no-keep keeps nothing, so --keep and --fresh make no sense with it")


@dataclass(frozen=True, slots=True)
class Run:
    """A run under way.

    Parameters
    ----------
    undertaking : Undertaking
        What is played, with its ledger. [-]
    facts : mapping
        What else its manifest says. [-]
    began : float
        When it began, by the monotonic clock. [s]
    """

    undertaking: "Undertaking"
    facts: Mapping[str, object] = field(default_factory=dict)
    began: float = field(default_factory=time.monotonic)

    def end(self, study: "Study") -> None:
        """Add to the manifest how the run ended.

        Parameters
        ----------
        study : Study
            Of any layout. [-]
        """
        from resilience.montecarlo.runs.manifest import write_manifest

        if self.undertaking.ledger is None:
            return
        before = self.facts["wall_seconds"]
        assert isinstance(before, int | float)
        outcome = {
            "ended": _now(),
            "wall_seconds": round(before + time.monotonic() - self.began, 3),
            "lifetimes": study.n_lifetimes,
            "stopped_because": study.stopped_because,
        }
        write_manifest(self.undertaking.ledger.folder, self.undertaking, {**self.facts, **outcome})


@contextmanager
def kept(
    undertaking: "Undertaking", keeping: Keeping, options: Mapping[str, object], is_quiet: bool
) -> Iterator[Run]:
    """Keep a run in its folder while it is under way, and tell where.

    Parameters
    ----------
    undertaking : Undertaking
        What is played. [-]
    keeping : Keeping
        What was asked for. [-]
    options : mapping
        Options of the command, for the manifest. [-]
    is_quiet : bool
        Whether to tell nothing. [-]
    """
    from resilience.montecarlo.runs.manifest import digest_of, open_run, write_manifest
    from resilience.terminal.screen import tell

    if keeping.is_off:
        yield Run(undertaking)
        return
    base = (
        keeping.folder
        or RESULTS / f"{safe_name(undertaking.site.name)}-{digest_of(undertaking)[:8]}"
    )
    folder = run_folder(base, keeping.is_fresh)
    _refuse_another_site(folder, undertaking.site.name)
    with open_run(folder, undertaking) as ledger:
        facts = _facts(folder, undertaking, options)
        write_manifest(folder, undertaking, facts)
        n_found = sum(ledger.n_lifetimes(layout.name) for layout in undertaking.layouts)
        if not is_quiet:
            tell(f"Kept in {folder}" + (f"; {n_found} lifetimes found finished." * (n_found > 0)))
        yield Run(replace(undertaking, ledger=ledger), facts)


def _refuse_another_site(folder: Path, site: str) -> None:
    """Raise RunError if a folder keeps a run of another site."""
    from resilience.montecarlo.runs.manifest import FILE, read_manifest

    if not (folder / FILE).is_file():
        return
    inputs = read_manifest(folder).get("inputs")
    name = inputs.get("name") if isinstance(inputs, dict) else None
    if isinstance(name, str) and name != site:
        raise RunError(
            f"{folder} keeps a run of {name}, and this is {site}: name another folder with --keep, "
            "or leave --keep out, and each site takes its own below results"
        )


def _facts(
    folder: Path, undertaking: "Undertaking", options: Mapping[str, object]
) -> dict[str, object]:
    """What a manifest says beside the inputs; an earlier one gives the first start."""
    import platform
    from importlib.metadata import PackageNotFoundError, version

    from resilience.montecarlo.runs.manifest import FILE, read_manifest

    try:
        numba: str | None = version("numba")
    except PackageNotFoundError:
        numba = None
    earlier = read_manifest(folder) if (folder / FILE).exists() else {}
    return {
        "python": platform.python_version(),
        "numpy": version("numpy"),
        "numba": numba,
        "platform": platform.platform(),
        "engine": undertaking.engine,
        "options": dict(options),
        "started": earlier.get("started", _now()),
        "ended": None,
        "wall_seconds": earlier.get("wall_seconds", 0),
        "lifetimes": None,
        "stopped_because": None,
    }


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
