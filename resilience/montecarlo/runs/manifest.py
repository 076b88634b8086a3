"""What made a run: its inputs in full, versions, and the digest that tells runs apart."""

import dataclasses
import hashlib
import json
import os
from collections.abc import Mapping
from datetime import date
from enum import Enum
from functools import cache
from pathlib import Path

import resilience
from resilience.building.settings import UNTITLED
from resilience.building.upkeep import NO_PRICES
from resilience.draws import STREAM_VERSION
from resilience.errors import RunError
from resilience.montecarlo.runs.ledger import FILE as LEDGER_FILE
from resilience.montecarlo.runs.ledger import START_OVER, Ledger
from resilience.montecarlo.runs.running import Undertaking

FILE = "manifest.json"
FORMAT = 1
PLAYING = ("units.py", "assumptions", "building", "connectivity", "hazards", "lifetime")


def identity(undertaking: Undertaking) -> dict[str, object]:
    """Everything that decides what the lifetimes of a run hold.

    The engine is not part of it: both tell the same story.

    Parameters
    ----------
    undertaking : Undertaking
        What is played. [-]
    """
    # What things cost and are called changes no lifetime.
    site = dataclasses.replace(
        undertaking.site, layouts=undertaking.layouts, titles=UNTITLED, prices=NO_PRICES
    )
    return {
        "version": resilience.__version__,
        "stream_version": STREAM_VERSION,
        "code": code_digest(),
        "seed": undertaking.seed,
        "site_outages_counted": undertaking.count_site_outages,
        "watch": _plain(undertaking.watch),
        "inputs": _plain(site),
    }


def digest_of(undertaking: Undertaking) -> str:
    """Digest that two plans share only if their lifetimes are the same.

    Parameters
    ----------
    undertaking : Undertaking
        What is played. [-]
    """
    text = json.dumps(identity(undertaking), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


@cache
def code_digest() -> str:
    """Digest of the sources that decide what a lifetime holds: versions are bumped too late."""
    package = Path(resilience.__file__).parent
    total = hashlib.sha256()
    for name in PLAYING:
        top = package / name
        for path in sorted(top.rglob("*.py")) if top.is_dir() else [top]:
            total.update(path.relative_to(package).as_posix().encode())
            total.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return total.hexdigest()[:16]


def _plain(value: object) -> object:
    """Value as JSON can hold it, field by field."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {one.name: _plain(getattr(value, one.name)) for one in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value


def open_run(folder: Path, undertaking: Undertaking) -> Ledger:
    """Open the ledger of a run folder, or begin one in a folder that is missing or empty.

    Parameters
    ----------
    folder : Path
        The run folder. [-]
    undertaking : Undertaking
        What is played. [-]

    Raises
    ------
    RunError
        The folder is of another run or holds something else, or it cannot be used.
    """
    try:
        names = {path.name for path in folder.iterdir()} if folder.exists() else set()
    except OSError as error:
        raise RunError(
            f"the run folder {folder} cannot be read ({error.strerror}); choose another with --keep"
        ) from error
    # The manifest is written when the ledger has its first page, so this one lost its ledger.
    is_lost = LEDGER_FILE not in names or not (folder / LEDGER_FILE).stat().st_size
    if names and is_lost and (FILE in names or LEDGER_FILE not in names):
        what = "has lost its ledger" if FILE in names else "holds other things than a run"
        raise RunError(f"{folder} {what}; {START_OVER}, or choose another folder with --keep")
    if FILE in names:
        _check(folder, identity(undertaking))
    return Ledger.open(folder, digest_of(undertaking))


def _check(folder: Path, expected: Mapping[str, object]) -> None:
    """Raise RunError that names what differs if a manifest is not of this run."""
    found = read_manifest(folder)
    if found.get("format") != FORMAT:
        raise RunError(
            f"the run in {folder} is of format {found.get('format')!r}, and this version writes "
            f"format {FORMAT}; {START_OVER}"
        )
    differing = [key for key, value in expected.items() if found.get(key) != value]
    if differing:
        names = {
            "code": "sources of the program",
            "inputs": "site or layouts",
            "watch": "duration, start or per_sensor of the promise",
        }
        what = ", ".join(names.get(key, key.replace("_", " ")) for key in differing)
        raise RunError(
            f"the run in {folder} differs from this one in {what}, and runs are not mixed; "
            f"{START_OVER}"
        )


def read_manifest(folder: Path) -> dict[str, object]:
    """Return the manifest of a run.

    Parameters
    ----------
    folder : Path
        The run folder. [-]

    Raises
    ------
    RunError
        It is damaged or cannot be read.
    """
    try:
        found = json.loads((folder / FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise RunError(f"{folder / FILE} is damaged ({error}); {START_OVER}") from error
    if not isinstance(found, dict):
        raise RunError(f"{folder / FILE} is damaged (no JSON object); {START_OVER}")
    return found


def write_manifest(folder: Path, undertaking: Undertaking, facts: Mapping[str, object]) -> None:
    """Write the manifest of a run, whole or not at all.

    Parameters
    ----------
    folder : Path
        The run folder. [-]
    undertaking : Undertaking
        What is played. [-]
    facts : mapping
        What else is known of the run: versions, options, times, outcome. [-]

    Raises
    ------
    RunError
        It cannot be written.
    """
    whole = {"format": FORMAT, "digest": digest_of(undertaking), **facts, **identity(undertaking)}
    draft = folder / f"{FILE}.{os.getpid()}"
    try:
        draft.write_text(json.dumps(whole, indent=1) + "\n", encoding="utf-8")
        draft.replace(folder / FILE)
    except OSError as error:
        raise RunError(
            f"{folder / FILE} cannot be written ({error.strerror}); the lifetimes that are "
            "finished stay. Make room or give access and ask again, or say --no-keep"
        ) from error
