"""Everything that can go wrong in a way a person can mend.

ResilienceError
├── InputError       a site folder holds mistakes: every one of them, with place and way out
├── UsageError       a request that makes no sense (an unknown layout, a negative count)
├── RunError         a run folder that cannot be used or written; what is finished stays
└── KeyCollisionError     two elements of one site hash to the same key: rename one
"""

from dataclasses import dataclass


class ResilienceError(Exception):
    """The base of all errors that the terminal shows without a traceback."""


class UsageError(ResilienceError):
    """A request that cannot be met: the message says what would be."""


class RunError(ResilienceError):
    """A run folder that cannot be used: the message says why, and how to go on."""


class KeyCollisionError(ResilienceError):
    """Two elements share a draw key, so that they would share their fate."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake in an input file: where it stands, what was found, what was wanted.

    Parameters
    ----------
    where : str
        File, line and key or column, as in ``layouts/b/devices.csv, line 14, column y_m``. [-]
    found : str
        What stands there, quoted as text. [-]
    wanted : str
        What was expected, or what to do. [-]
    """

    where: str
    found: str
    wanted: str

    def __str__(self) -> str:
        return f"{self.where}: found {self.found}; {self.wanted}"


class InputError(ResilienceError):
    """A site folder that cannot be used; carries every fault found in it.

    Parameters
    ----------
    faults : tuple of Fault
        All mistakes, in the order of files and lines. [-]
    """

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))
