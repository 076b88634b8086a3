"""One paper as a value: a chapter to be printed, and the same as a table."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from resilience.connectivity.trees import CalmTree
from resilience.report.binding.document import Chapter
from resilience.report.showing.facts import Shown, Within

TO_WRITE = "______"
TO_TICK = "[  ]"


@dataclass(frozen=True, slots=True)
class Job:
    """What papers are made of.

    Parameters
    ----------
    shown : Shown
        Everything that was found of the site. [-]
    within : Within
        The layout that is installed. [-]
    tree : CalmTree
        Who passes readings to whom with everything calm. [-]
    """

    shown: Shown
    within: Within
    tree: CalmTree


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper.

    Parameters
    ----------
    chapter : Chapter
        What is printed. [-]
    tables : mapping of str to str
        Comma-separated text by the name of its file. [-]
    """

    chapter: Chapter
    tables: Mapping[str, str] = field(default_factory=dict)
