"""A folder is written whole or not at all: a draft is filled, read back, and put in place."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from resilience.building.text.entries import shown
from resilience.errors import UsageError


@contextmanager
def draft_of(target: Path) -> Iterator[Path]:
    """Give a copy of a folder to work on; it takes the folder's place if all goes well.

    Parameters
    ----------
    target : Path
        The folder; missing, empty, or filled with what the draft starts from. [-]
    """
    draft = aside = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name[:32]}-", dir=target.parent))
        draft.chmod(0o755)
        is_filled = target.is_dir() and any(target.iterdir())
        if is_filled:
            shutil.copytree(target, draft, symlinks=True, dirs_exist_ok=True)
        yield draft
        if is_filled:  # one that has filled meanwhile stays as it is
            aside = Path(tempfile.mkdtemp(prefix=f".{target.name[:32]}-", dir=target.parent))
            os.replace(target, aside)
        _take_place(draft, target, aside)
    except OSError as error:
        reason = error.strerror or error
        raise UsageError(f"{shown(str(target))} cannot be written: {reason}") from error
    finally:
        for left in (draft, aside):
            if left is not None:
                shutil.rmtree(left, ignore_errors=True)


def _take_place(draft: Path, target: Path, aside: Path | None) -> None:
    try:
        os.replace(draft, target)
    except OSError:
        if aside is not None:
            os.replace(aside, target)
        raise


def write(draft: Path, file: str, content: str | bytes) -> None:
    """Write a file below a draft, its folders too.

    Parameters
    ----------
    draft : Path
        The folder. [-]
    file : str
        Path below it. [-]
    content : str or bytes
        What it shall hold. [-]
    """
    path = draft / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
