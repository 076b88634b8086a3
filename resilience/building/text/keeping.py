"""A file is written whole or not at all: beside its place, looked at, and only then put into it."""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from resilience.errors import UsageError


def write_whole(target: Path, text: str, refuse: Callable[[Path], None]) -> None:
    """Write a file; UsageError says why it could not be, and what was there before stays.

    Parameters
    ----------
    target : Path
        Where it goes, into a folder that exists. [-]
    text : str
        What it shall hold. [-]
    refuse : callable
        Looks at the draft and raises if it does not read back as it should. [-]
    """
    draft: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
        draft = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        refuse(draft)
        draft.chmod(0o644)
        os.replace(draft, target)
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}") from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)
