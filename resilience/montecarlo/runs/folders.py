"""Run folders: what they are called, and that one run at a time uses one."""

import re
import sqlite3
import unicodedata
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from resilience.errors import RunError

LONGEST_NAME = 40
LOCK_FILE = "in-use.sqlite"


def safe_name(text: str) -> str:
    """Name of a folder: letters a to z, digits and hyphens, whatever the text holds.

    Parameters
    ----------
    text : str
        Any text. [-]
    """
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub("[^a-z0-9]+", "-", letters)[:LONGEST_NAME].strip("-") or "site"


def run_folder(base: Path, is_fresh: bool) -> Path:
    """Last of ``base``, ``base-2``, ``base-3`` and so on that exists, or the one after it.

    Parameters
    ----------
    base : Path
        The first of them; itself where none exists. [-]
    is_fresh : bool
        Whether the one after it is wanted. [-]
    """
    last, after, number = base, base, 1
    try:
        while after.exists():
            number += 1
            last, after = after, base.with_name(f"{base.name}-{number}")
    except OSError as error:
        raise RunError(
            f"{base} cannot be reached ({error.strerror}); choose another folder with --keep, or "
            "--no-keep"
        ) from error
    return after if is_fresh else last


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep every other run out of a folder; a run that is killed lets go of it.

    Parameters
    ----------
    folder : Path
        The run folder; made if it is missing. [-]

    Raises
    ------
    RunError
        Another run uses it, or it cannot be written.
    """
    # The lock is a database's, since the system takes that back from whoever dies, everywhere.
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = sqlite3.connect(folder / LOCK_FILE, timeout=0.0, isolation_level=None)
    except (OSError, sqlite3.Error) as error:
        raise RunError(f"the run cannot be kept in {folder} ({error})") from error
    with closing(lock):
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            is_busy = getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_BUSY
            why = "another run is under way there" if is_busy else str(error)
            way_out = "wait for it, or choose another folder with --keep"
            raise RunError(f"the run cannot be kept in {folder} ({why}); {way_out}") from error
        yield
