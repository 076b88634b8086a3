"""Where answers go: pages and JSON to standard output, everything else to standard error."""

import json
import math
import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING, TextIO

from resilience import __version__

if TYPE_CHECKING:
    from rich.console import Console

    from resilience.report.pages import Page

WIDTH = 100


def console(stream: TextIO) -> "Console":
    """Console that shows text as it stands, at most 100 columns wide.

    Parameters
    ----------
    stream : TextIO
        Standard output or standard error. [-]
    """
    from rich.console import Console

    if hasattr(stream, "reconfigure"):
        stream.reconfigure(errors="backslashreplace")  # a name may not fit the terminal's letters
    made = Console(file=stream, markup=False, emoji=False, highlight=False)
    made.width = min(WIDTH, made.width) if stream.isatty() else WIDTH
    return made


def show(page: "Page") -> None:
    """Show an answer."""
    from resilience.report.screen import Screen

    console(sys.stdout).print(Screen(page), crop=False)


def show_json(document: Mapping[str, object]) -> None:
    """Show an answer as one JSON document, with this version and without NaN or Infinity.

    Parameters
    ----------
    document : mapping
        The answer under stable keys. [-]
    """
    whole = finite({"format": document.get("format", 1), "version": __version__, **document})
    sys.stdout.write(json.dumps(whole, indent=2, allow_nan=False) + "\n")


def finite(value: object) -> object:
    """Value with null in the place of every number that JSON cannot hold."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [finite(one) for one in value]
    return value


def tell(sentence: str) -> None:
    """Say something beside the answer; never wrapped, so that each line stays one line."""
    from resilience.report.words import visible

    console(sys.stderr).print(visible(sentence), soft_wrap=True)
